"""Baked light on disk is found again, mended when damaged and never fatal."""

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from previz.files import store
from previz.files.reading import bytes_of

KEY = store.key_of("light", np.arange(3.0))


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "cache"))
    return store.cache_folder()


class Work:
    """Counts how often it is done."""

    def __init__(self):
        self.done = 0

    def __call__(self):
        self.done += 1
        return {"light": np.full((4, 3), 7.0, dtype=np.float32)}


def test_second_time_is_read_not_computed(home):
    work = Work()
    store.kept(KEY, work)
    found = store.kept(KEY, work)
    assert work.done == 1
    assert found["light"].dtype == np.float32
    assert (found["light"] == 7).all()


def test_without_cache_nothing_is_written(home):
    work = Work()
    store.kept(KEY, work, cache=False)
    assert work.done == 1
    assert not home.exists()


@pytest.mark.parametrize("damage", [b"", b"PK not a zip", "half"])
def test_a_damaged_file_is_computed_again(home, damage):
    work = Work()
    store.kept(KEY, work)
    (file,) = home.glob("*.kept")
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2] if damage == "half" else damage)
    assert (store.kept(KEY, work)["light"] == 7).all()
    assert work.done == 2
    assert store.kept(KEY, work) and work.done == 2  # and mended


def test_a_pickle_in_the_folder_is_not_opened(home):
    work = Work()
    home.mkdir(parents=True)
    np.savez(home / f"{KEY}.kept", light=np.array([{"a": 1}], dtype=object))
    assert store.kept(KEY, work)["light"].dtype == np.float32


def damaged(whole: bytes, rng: np.random.Generator) -> bytes:
    """One of the ways in which a disk or a copy spoils a file."""
    data = bytearray(whole)
    at = int(rng.integers(len(data)))
    match int(rng.integers(5)):
        case 0:
            data[at] ^= 1 << int(rng.integers(8))
        case 1:
            data[at] = (data[at] + 1 + int(rng.integers(255))) % 256
        case 2:
            del data[at:]
        case 3:
            del data[at : at + 1 + int(rng.integers(16))]
        case _:
            data[at : at + 16] = bytes(min(16, len(data) - at)) if any(data[at : at + 16]) else b"\xff"
    return bytes(data)


def test_no_damage_is_told_or_let_through(home):
    def work():
        return {"light": np.arange(60.0, dtype=np.float32).reshape(20, 3), "facts": np.frombuffer(b"{}", np.uint8)}

    store.kept(KEY, work)
    (file,) = home.glob("*.kept")
    whole, rng = file.read_bytes(), np.random.default_rng(17)
    for _ in range(1500):
        spoiled = damaged(whole, rng)
        assert spoiled != whole
        file.write_bytes(spoiled)
        found = store.kept(KEY, work)
        assert sorted(found) == ["facts", "light"]
        assert np.array_equal(found["light"], work()["light"])
        assert file.read_bytes() == whole  # made again


def test_less_of_an_array_than_was_kept_is_not_read(home):
    def work():
        return {"light": np.zeros((1000, 400), np.float32)}

    store.kept(KEY, work)
    (file,) = home.glob("*.kept")
    whole = file.read_bytes()
    file.write_bytes(whole.replace(b"(1000, 400)", b"(1000, 300)"))  # a zip's checksum is for those who read all of it
    assert file.read_bytes() != whole
    assert store.kept(KEY, work)["light"].shape == (1000, 400)


def test_a_file_under_the_name_of_another_is_not_read(home):
    other = store.key_of("other")
    store.kept(KEY, Work())
    store.kept(other, lambda: {"light": np.zeros((4, 3), np.float32)})
    (home / f"{KEY}.kept").write_bytes((home / f"{other}.kept").read_bytes())
    assert (store.kept(KEY, Work())["light"] == 7).all()


def test_a_folder_that_cannot_be_made_is_not_fatal(tmp_path, monkeypatch):
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "file" / "cache"))
    assert (store.kept(KEY, Work())["light"] == 7).all()


def test_an_error_while_computing_leaves_no_file(home):
    def fails():
        raise RuntimeError("no light")

    with pytest.raises(RuntimeError, match="no light"):
        store.kept(KEY, fails)
    assert not list(home.glob("*")) if home.exists() else True


def test_the_oldest_go_when_the_folder_is_full(home, monkeypatch):
    import os

    keys = [store.key_of(i) for i in range(3)]
    for age, key in enumerate(keys[:2]):
        store.kept(key, Work())
        os.utime(home / f"{key}.kept", (1000 + age, 1000 + age))
    size = (home / f"{keys[0]}.kept").stat().st_size
    monkeypatch.setattr(store, "MOST_KEPT", 2 * size)
    store.kept(keys[2], Work())
    assert {file.stem for file in home.glob("*.kept")} == set(keys[1:])


def test_what_is_not_ours_stays_however_full_it_is(tmp_path, home, monkeypatch):
    own = [tmp_path / "cache" / name for name in ("take 3.npz", f"{KEY}.npz", f"{KEY}.kept", "draft-plan.tmp")]
    own += [home / "notes.txt", home / "sub"]
    home.mkdir(parents=True)
    for path in own[:-1]:
        path.write_bytes(bytes(5000))
    own[-1].mkdir()
    monkeypatch.setattr(store, "MOST_KEPT", 1000)
    for name in ("a", "b", "c"):
        store.kept(store.key_of(name), Work())
        store.kept(store.key_of(name), Work())
    assert all(path.exists() for path in own)
    assert len(list(home.glob("*.kept"))) == 2  # of a few hundred bytes each, and the oldest went


def test_one_that_is_larger_than_all_that_may_be_kept_drives_nothing_out(home, monkeypatch):
    store.kept(KEY, Work())
    monkeypatch.setattr(store, "MOST_KEPT", 1000)
    found = store.kept(store.key_of("large"), lambda: {"light": np.ones(2000)})
    assert found["light"].sum() == 2000
    assert [file.stem for file in home.glob("*.kept")] == [KEY]


def test_one_that_became_too_large_goes_alone(home, monkeypatch):
    store.kept(KEY, Work())
    store.kept(store.key_of("large"), lambda: {"light": np.ones(2000)})
    monkeypatch.setattr(store, "MOST_KEPT", 1000)
    store.kept(store.key_of("another"), Work())
    assert {file.stem for file in home.glob("*.kept")} == {KEY, store.key_of("another")}


def test_the_bound_is_kept_by_those_who_only_read(home, monkeypatch):
    import os

    for age, key in enumerate(["old", "new"]):
        store.kept(key, Work())
        os.utime(home / f"{key}.kept", (1000 + age, 1000 + age))
    monkeypatch.setattr(store, "MOST_KEPT", 600)
    store._TRIMMED.clear()  # as in a new process
    work = Work()
    assert (store.kept("old", work)["light"] == 7).all()
    assert work.done == 0
    assert {file.stem for file in home.glob("*.kept")} == {"old"}


def test_keys_tell_everything_apart():
    array = np.arange(6.0)
    variants = [array, array.astype(np.float32), array.reshape(2, 3), array + 1e-9, "array", ("a", 1), ("a", 1.0)]
    keys = {store.key_of(variant) for variant in variants}
    assert len(keys) == len(variants)
    assert store.key_of("ab", "c") != store.key_of("a", "bc")


def test_files_of_what_is_kept_inside_count_outside_too(home, tmp_path):
    file = tmp_path / "a.txt"
    file.write_text("1")

    def inner():
        return {"a": np.array([int(bytes_of(file, "a test", 10))])}

    def outer():
        return {"b": store.kept_with_files("inner", inner)["a"] * 2}

    assert store.kept_with_files("outer", outer)["b"] == 2
    store.kept_with_files("other", outer)  # of an inner that is read, not made
    file.write_text("3")
    assert store.kept_with_files("outer", outer)["b"] == store.kept_with_files("other", outer)["b"] == 6


@pytest.mark.skipif(store.fcntl is None, reason="files cannot be locked here")
def test_what_another_is_at_work_on_is_come_back_to_and_not_made_twice(home):
    mine, theirs, other = Work(), Work(), Work()
    with ThreadPoolExecutor(1) as pool:
        with store._alone_at("held", 0.0) as alone:
            assert alone
            asked = pool.submit(store.kept_apiece, {"held": mine, "free": other})
            while not (home / "free.kept").exists():  # not waited for meanwhile
                assert not asked.done()
            store.kept("held", theirs)
        found = asked.result()
    assert list(found) == ["held", "free"] and (found["held"]["light"] == 7).all()
    assert (mine.done, theirs.done, other.done) == (0, 1, 1)
    assert {file.name for file in home.iterdir()} == {"held.kept", "free.kept"}


@pytest.mark.skipif(store.fcntl is None, reason="files cannot be locked here")
def test_one_who_takes_too_long_is_not_waited_for(home, monkeypatch):
    monkeypatch.setattr(store, "_PATIENCE", 0.05)
    work = Work()
    with store._alone_at("held", 0.0):
        store.kept_apiece({"held": work})
    assert work.done == 1


def test_apiece_without_a_cache_or_a_folder_for_it_all_is_computed(home, tmp_path, monkeypatch):
    work = Work()
    assert store.kept_apiece({"a": work, "b": work}, cache=False)["b"]["light"].shape == (4, 3)
    assert not home.exists()
    (tmp_path / "file").write_text("in the way")
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "file" / "cache"))
    store.kept_apiece({"a": work})
    assert work.done == 3
