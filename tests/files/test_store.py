"""Baked light on disk is found again, mended when damaged and never fatal."""

import numpy as np
import pytest

from previz.files import store
from previz.files.reading import bytes_of

KEY = store.key_of("light", np.arange(3.0))


@pytest.fixture
def home(tmp_path, monkeypatch):
    monkeypatch.setenv(store.FOLDER_VARIABLE, str(tmp_path / "cache"))
    return tmp_path / "cache"


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
    (file,) = home.glob("*.npz")
    whole = file.read_bytes()
    file.write_bytes(whole[: len(whole) // 2] if damage == "half" else damage)
    assert (store.kept(KEY, work)["light"] == 7).all()
    assert work.done == 2
    assert store.kept(KEY, work) and work.done == 2  # and mended


def test_a_pickle_in_the_folder_is_not_opened(home):
    work = Work()
    home.mkdir()
    np.savez(home / f"{KEY}.npz", light=np.array([{"a": 1}], dtype=object))
    assert store.kept(KEY, work)["light"].dtype == np.float32


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
        os.utime(home / f"{key}.npz", (1000 + age, 1000 + age))
    size = (home / f"{keys[0]}.npz").stat().st_size
    monkeypatch.setattr(store, "MOST_BYTES", 2 * size)
    store.kept(keys[2], Work())
    assert {file.stem for file in home.glob("*.npz")} == set(keys[1:])


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
