"""The whole program, from a save to what its page is told; nothing is played by stand-ins."""

import io
import os
import signal
import sys
import time
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image
from running import KIT, PATIENCE, SCENE, WHOLE, Running, floor

from previz.frames import Crew


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    with Running(tmp_path_factory.mktemp("Überfahrt mit Leerzeichen"), "--size", "320") as found:
        found.listen()
        found.next_still()
        yield found


@pytest.fixture
def good(running: Running) -> Running:
    """It shows the scene as it is above, at the middle of the first shot."""
    running.wish("pass", None)
    running.saved()
    return running


def pixels(running: Running) -> np.ndarray:
    with Image.open(io.BytesIO(running.picture(running.shown["still"]))) as image:
        return np.asarray(image).astype(int)


def differs(one: np.ndarray, other: np.ndarray) -> bool:
    return bool((abs(one - other) > 8).mean() > 0.01)


def test_findings_come_first_then_a_still_then_a_clip(good: Running) -> None:
    start = len(good.told)
    good.saved("[300, -150, 45]", "[310, -150, 45]")
    good.until(lambda: good.shown["clip"])
    told = good.told[start:]
    done = [
        next(number for number, each in enumerate(told) if each[key] and each[key] != good.told[start - 1][key])
        for key in ("doing", "still", "clip")
    ]
    assert done == sorted(done)
    shown = good.shown
    assert (shown["title"], shown["shot"], shown["at"]) == (good.title, "pass", 12)
    assert [each["id"] for each in shown["shots"]] == ["pass", "away"]
    assert [each["frames"] for each in shown["shots"]] == [24, 24]
    assert shown["findings"] and all(each["shot"] in ("", "pass") for each in shown["findings"])
    assert pixels(good).shape == (180, 320, 3)
    with av.open(io.BytesIO(good.picture(shown["clip"]["name"]))) as film:
        stream = film.streams.video[0]
        assert (stream.width, stream.frames, stream.average_rate) == (320, 24, Fraction(24))


def test_a_save_of_whatever_the_picture_is_made_of_changes_the_picture(good: Running) -> None:
    before = pixels(good)
    good.saved("[300, -150, 45]", "[330, -150, 45]")
    assert differs(pixels(good), before)
    good.saved("at: [300, 300]}", "at: [200, 300]}")
    assert differs(pixels(good), before)
    good.saved()
    assert not differs(pixels(good), before)
    try:
        good.after(lambda: floor((200, 60, 60)).save(good.floor))
        assert differs(pixels(good), before)
        good.after(lambda: good.kit.write_text(KIT.replace("1-inch", "APS-C")))
    finally:
        floor((120, 120, 120)).save(good.floor)
        good.kit.write_text(KIT)
    good.until(lambda: not differs(pixels(good), before))


def test_a_fault_stands_over_the_last_good_picture_with_its_line(good: Running) -> None:
    still, line = good.shown["still"], SCENE[: SCENE.index("f_number: 5.6")].count("\n") + 1
    good.write("f_number: 5.6", "f_number: 1.2  # too much")
    (fault,) = good.until(lambda: good.shown["faults"])
    assert fault["place"] == f"line {line}"
    assert fault["message"].startswith("shots[pass].f_number: f/1.2 is wider than pocket opens")
    assert fault["source"] == "f_number: 1.2  # too much"
    assert good.shown["still"] == still and good.picture(still)
    assert good.shown["findings"]
    good.saved()
    assert good.shown["faults"] == []


def test_a_fault_that_shows_only_when_it_is_drawn_has_its_line_too(good: Running) -> None:
    line = SCENE[: SCENE.index("  ground:")].count("\n") + 1
    try:
        good.floor.write_bytes(b"no picture")
        (fault,) = good.until(lambda: good.shown["faults"])
        assert fault["place"] == f"line {line}"
        assert fault["source"] == "ground: {image: floor.png}"
        assert "floor.png" in fault["message"]
    finally:
        good.after(lambda: floor((120, 120, 120)).save(good.floor))
    assert good.shown["faults"] == []


def test_a_fault_of_the_kit_names_the_kit(good: Running) -> None:
    try:
        good.kit.write_text(KIT.replace("1-inch", "1-inhc"))
        (fault,) = good.until(lambda: good.shown["faults"])
        assert fault["place"] == "tabletop.yaml, line 2"
    finally:
        good.after(lambda: good.kit.write_text(KIT))


def test_a_scene_that_is_gone_is_told_and_seen_to_come_back(good: Running) -> None:
    good.scene.unlink()
    (fault,) = good.until(lambda: good.shown["faults"])
    assert (fault["place"], fault["source"]) == ("", "")
    assert "there is no such file" in fault["message"]
    good.saved()
    assert good.shown["faults"] == []


def test_shot_and_time_are_as_they_are_wished_for(good: Running) -> None:
    shown = good.after(lambda: good.wish("pass", 0.25))
    assert (shown["shot"], shown["at"]) == ("pass", 6)  # 0.05 s after its start, at 120 fps
    shown = good.after(lambda: good.wish("away", None))
    assert (shown["shot"], shown["at"]) == ("away", 12)
    assert all(each["shot"] in ("", "away") for each in shown["findings"])
    assert good.after(lambda: good.wish("away", 99))["at"] == 23
    # A save keeps the time that was chosen; a shot that is not there any more is not kept.
    assert good.saved("[500, 300, 20]", "[490, 300, 20]")["at"] == 23
    assert good.saved("id: away", "id: off")["shot"] == "pass"


def test_each_shot_is_shown_as_the_set_is_dressed_for_it(good: Running) -> None:
    crowded = "duration: 0.4 s\n    moved: {box: [300, 180]}"
    good.saved("duration: 0.4 s", crowded)
    before = pixels(good)
    assert not [each for each in good.shown["findings"] if "box" in each["first"]]
    shown = good.after(lambda: good.wish("away", None))
    assert [each["shot"] for each in shown["findings"] if "box" in each["first"] and each["verdict"] == "stop"] == [
        "away"
    ]
    moved = pixels(good)
    good.after(lambda: good.wish("pass", None))
    assert not differs(pixels(good), before)
    good.saved()
    good.after(lambda: good.wish("away", None))
    assert differs(pixels(good), moved)


def test_time_can_be_chosen_while_the_file_is_at_fault(good: Running) -> None:
    good.write("f_number: 5.6", "f_number: five")
    good.until(lambda: good.shown["faults"])
    shown = good.after(lambda: good.wish("pass", 0.2))
    assert shown["at"] == 0 and shown["faults"]


def test_work_that_is_left_off_leaves_no_files(good: Running) -> None:
    """What goes from process to process goes as files, some of them large, and a watch may last for hours."""
    for number in range(1, 5):
        good.write("[300, -150, 45]", f"[{300 + number}, -150, 45]")
        good.until(lambda: good.shown["doing"] in ("lighting the set", "drawing"))
        time.sleep(0.1)
    good.read()
    good.until(lambda: good.shown["doing"].startswith("clip: "))
    good.saved()
    good.until(lambda: good.shown["clip"])
    left = lambda: [path for path in good.scratch.rglob("*") if path.is_file() and path.name != "lock"]  # noqa: E731
    good.until(lambda: not left())


@pytest.mark.skipif(sys.platform != "linux", reason="processes are looked for in /proc")
@pytest.mark.parametrize("when", ["while it draws a clip"])
def test_a_process_that_ends_is_replaced(good: Running, when: str) -> None:
    if when == "at rest":
        good.until(lambda: good.shown["clip"])
    else:
        good.until(lambda: good.shown["doing"].startswith("clip"))
    killed = drawing(good)
    os.kill(killed, signal.SIGKILL)
    good.until(lambda: good.shown["clip"])
    good.saved("[300, -150, 45]", "[300, -160, 45]")
    assert good.shown["faults"] == []
    assert drawing(good) != killed


def drawing(running: Running) -> int:
    """The process that draws: the others that Python starts for it look after shared memory."""
    named = {pid: Path(f"/proc/{pid}/cmdline").read_text() for pid in running.workers()}
    (found,) = [pid for pid, command in named.items() if "spawn_main" in command]
    return found


@pytest.mark.skipif(sys.platform != "linux", reason="processes are looked for in /proc")
@pytest.mark.parametrize("when", ["while it draws", "while it starts"])
def test_ctrl_c_ends_it_and_leaves_nothing(tmp_path: Path, when: str) -> None:
    with Running(tmp_path, "--size", "320", start=WHOLE) as found:
        found.until(lambda: found.lines)
        if when != "while it starts":
            found.listen()
            found.next_still()
            found.until(lambda: found.shown["clip"] if when == "at rest" else found.shown["doing"])
        workers = found.workers()
        assert workers
        assert found.interrupt() == 0
        found.process.wait()
        end = time.monotonic() + PATIENCE
        while any(Path(f"/proc/{pid}").exists() for pid in workers) and time.monotonic() < end:
            time.sleep(0.05)
        assert not any(Path(f"/proc/{pid}").exists() for pid in workers)
        assert list(found.scratch.iterdir()) == []
        assert found.lines[-1] == "ended" and not any("Traceback" in line for line in found.lines)


def test_a_picture_file_is_written_anew_at_every_save(tmp_path: Path) -> None:
    out = tmp_path / "seen" / "picture.png"
    with Running(tmp_path, "--out", str(out), "--shot", "away", "--at", "0.2s", "--size", "320") as found:

        def after(change: Callable[[], object]) -> np.ndarray:
            before = out.read_bytes() if out.exists() else b""
            change()
            found.until(lambda: out.exists() and out.read_bytes() != before)
            with Image.open(out) as image:
                return np.asarray(image).astype(int)

        first = after(lambda: None)
        assert first.shape == (180, 320, 3)
        goes = f"{found.scene}: its picture goes to {out}, anew at every save; the first is on its way. Ctrl-C ends it"
        assert found.lines[0] == goes
        assert [line for line in found.lines if line in ("building the set", "drawing")] == [
            "building the set",
            "drawing",
        ]
        assert not any("http" in line for line in found.lines)
        moved = after(lambda: found.write("[20, -100, 45]", "[80, -100, 45]"))
        assert differs(first, moved)
        assert found.lines.count("drawing") == 1  # from then on there is something to look at
        faulty = after(lambda: found.write("f_number: 4", "f_number: four"))
        assert faulty[:8].mean() < moved[:8].mean() / 2  # dark behind the words
        assert (faulty[-8:] == moved[-8:]).all()
        assert not differs(after(lambda: found.write("[20, -100, 45]", "[80, -100, 45]")), moved)
        assert {each.name for each in out.parent.iterdir()} == {"picture.png"}
        assert found.interrupt() == 0


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["none.yaml"], "there is no such file"),
        (["scene.yaml", "--shot", "nobody"], "the scene's shots are pass, away"),
        (["scene.yaml", "--out", "picture.jpg"], "let its name end in .png"),
        (["scene.yaml", "--at", "soon"], "--at"),
    ],
)
def test_what_cannot_be_watched_is_refused_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, options: list[str], said: str
) -> None:
    from typer.testing import CliRunner

    from previz.cli import app

    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(Crew, "__init__", lambda *_, **__: pytest.fail("it began"))
    Path("scene.yaml").write_text(SCENE)
    Path("kits").mkdir()
    Path("kits/tabletop.yaml").write_text(KIT)
    floor((1, 2, 3)).save("floor.png")
    result = CliRunner().invoke(app, ["watch", *options])
    assert result.exit_code == 2
    assert said in result.stderr
