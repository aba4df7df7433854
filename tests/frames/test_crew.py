"""Processes that draw do other work as well, before there is something to draw."""

import os
import signal
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import nullcontext
from functools import partial
from multiprocessing import active_children
from pathlib import Path
from types import SimpleNamespace

import pytest

from previz.errors import Fault, FileFault, MachineError, PrevizError, SceneErrors, ShotFault
from previz.frames import Crew, processes, worker
from previz.frames.sensor import Noise
from previz.frames.spent import Spent

FAULTS = (
    PrevizError("the tile is not there; copy it"),
    FileFault(("set", "ground", "image"), "tile.png is not there"),
    ShotFault("pass", "focus", "nothing is there", "Aim", quantity="focus_distance", value=0.1, limit=0.2),
    SceneErrors(Path("scene.yaml"), [Fault(3, "scale", "is missing")]),
)


def refused(number: int = 0) -> None:
    raise FAULTS[number]


def test_work_is_done_in_another_process_where_there_is_one():
    with Crew(1, at_once=0, apart=True) as crew:
        assert not active_children()  # it begins with its first work
        assert crew.do(os.getpid) in {process.pid for process in active_children()}
        assert crew.do(partial(Noise, 8000.0)) == Noise(8000.0)
        with pytest.raises(PrevizError, match="the tile is not there"):
            crew.do(refused)
        begun = [crew.begin(named, work) for named, work in (("a number", os.getpid), ("a fault", refused))]
        assert begun[0]() in {process.pid for process in active_children()}
        with pytest.raises(PrevizError, match="the tile is not there"):
            begun[1]()
    assert Crew(1).do(os.getpid) == Crew(1).begin("here", os.getpid)() == os.getpid()


def test_processes_begin_at_once_or_when_they_are_expected(monkeypatch):
    begun = []

    def start(hand: processes._Hand) -> None:
        begun.append(hand)
        hand.process, hand._orders = (SimpleNamespace(**dict.fromkeys(names, bool)) for names in (PROCESS, ("close",)))

    monkeypatch.setattr(processes._Hand, "start", start)
    with Crew(3, at_once=1, apart=True) as crew:
        for count, there in ((0, 1), (2, 2), (2, 2), (9, 3)):
            crew.expect(count)
            assert len(begun) == len(set(begun)) == there


def test_what_is_to_be_done_meanwhile_is_done_once_while_the_first_frames_are_drawn():
    happened: list[object] = []

    def ask(*given):
        def result():
            happened.append("taken")
            return given[-1], Spent()

        happened.append(given[-1])
        return SimpleNamespace(result=result)

    hands = SimpleNamespace(
        count=2, ask=ask, handed=lambda data: data, take_back=lambda _: None, faults_explained=nullcontext
    )
    prepared = SimpleNamespace(setup=SimpleNamespace(shot=SimpleNamespace(id="pass")), lighting=None)
    for count in (1, 3):
        happened.clear()
        crew = Crew(1)
        crew._hands = hands
        assert list(crew.frames(prepared, range(count), None, lambda: happened.append("meanwhile"))) == [*range(count)]
        assert happened.count("meanwhile") == 1
        assert happened.index("meanwhile") == min(count, hands.count)  # as soon as each has a frame to draw


#: What a stand-in for a process does: nothing, and it is not alive.
PROCESS = ("is_alive", "join", "kill")


def test_a_fault_arrives_from_another_process_with_all_its_parts():
    with Crew(1, apart=True) as crew:
        for number, fault in enumerate(FAULTS):
            with pytest.raises(type(fault)) as raised:
                crew.do(partial(refused, number))
            found = {**raised.value.__dict__}
            found.pop("__notes__", None)
            assert type(raised.value) is type(fault) and str(raised.value) == str(fault) and found == fault.__dict__


def test_what_nobody_waits_for_any_more_leaves_no_file():
    with Crew(1, apart=True) as crew:
        hands = crew._hands
        assert isinstance(hands, processes.Processes)
        begun, queued = (hands.ask("a nap", time.sleep, 0.5) for _ in range(2))
        while not begun.done.running() and not begun.done.done():  # on a busy machine it may be over before we look
            time.sleep(0.01)
        begun.drop()
        queued.drop()
        crew.do(os.getpid)
        assert [each.name for each in hands._folder.path.iterdir()] == ["lock"]


def test_a_process_that_is_ended_at_rest_is_replaced():
    with Crew(1, apart=True) as crew:
        first = crew.do(os.getpid)
        for process in active_children():
            process.kill()
        assert crew.do(os.getpid) != first
        assert crew.do(os.getpid) == crew.do(os.getpid)


def ended(how: Callable[[], object], often: int, counted: Path) -> int:
    """Ends its process so often, and then says how many there were."""
    lives = int(counted.read_text()) if counted.exists() else 0
    counted.write_text(str(lives + 1))
    if lives < often:
        how()
    return lives


def kills_itself() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


def stops_itself() -> None:
    os.kill(os.getpid(), signal.SIGSTOP)


def loses_its_graphics() -> None:
    os._exit(worker.GRAPHICS_LOST)


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="POSIX signals")
def test_work_that_a_process_ended_over_is_done_anew(tmp_path, monkeypatch):
    kill, patient = processes._Hand.kill, processes._LOOK

    def killed(hand):
        monkeypatch.setattr(processes, "_LOOK", patient)  # the next one has no beat until Python has started
        kill(hand)

    monkeypatch.setattr(processes._Hand, "kill", killed)
    with Crew(1, apart=True) as crew:
        assert crew.do(partial(ended, kills_itself, 1, tmp_path / "killed")) == 1
        monkeypatch.setattr(processes, "_LOOK", 0.1)  # a beat comes every half second
        assert crew.do(partial(ended, stops_itself, 1, tmp_path / "stopped")) == 1


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="POSIX signals")
def test_work_that_ends_every_process_is_given_up_and_named(tmp_path, monkeypatch):
    with Crew(2) as crew:
        hands = crew._hands
        assert hands is not None
        fatal = hands.ask("frame 7 of shot 'pass'", ended, kills_itself, 99, tmp_path / "killed")
        others = [hands.ask(f"frame {number}", os.getpid) for number in range(4)]
        with pytest.raises(MachineError, match=r"^frame 7 of shot 'pass': 3 processes .* killed by signal 9.*--size"):
            fatal.result()
        assert (tmp_path / "killed").read_text() == "3"
        assert all(isinstance(each.result(), int) for each in others)
        monkeypatch.setattr(processes, "_TRIES", 1)
        with pytest.raises(MachineError, match="its graphics were reset, or their memory ran out"):
            crew.do(loses_its_graphics)


def refused_by_system(*_: object, **__: object) -> None:
    raise PermissionError(13, "Permission denied")


def test_nothing_is_shared_that_the_system_would_keep(monkeypatch):
    monkeypatch.setattr("multiprocessing.synchronize.SemLock.__init__", refused_by_system)
    with Crew(2) as crew:
        assert crew.do(os.getpid) != os.getpid()


def test_without_processes_one_is_done_without_and_several_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    monkeypatch.setattr("multiprocessing.context.SpawnProcess.start", refused_by_system)
    with Crew(1, apart=True) as crew:
        assert crew.do(os.getpid) == os.getpid()
    with pytest.raises(MachineError, match=r"cannot be had here \(Permission denied\).*--workers 1"):
        Crew(2)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="POSIX signals")
@pytest.mark.parametrize("at_once", [True, False])
def test_a_process_that_is_stopped_is_not_waited_for_without_end(monkeypatch, at_once):
    monkeypatch.setattr(processes, "_TO_END", 0.5)
    monkeypatch.setattr(processes, "_TO_FINISH", 0.5)
    crew = Crew(2)
    crew.do(os.getpid)
    stopped = active_children()
    for process in stopped:
        os.kill(process.pid, signal.SIGSTOP)
    crew.close(at_once=at_once)
    assert not any(process.is_alive() for process in stopped)


def test_work_that_is_taken_up_while_all_are_let_go_is_not_waited_for():
    crew = Crew(1, apart=True)
    hands = crew._hands
    assert isinstance(hands, processes.Processes)
    free, taken = hands._free.get, threading.Event()

    def late(*given: object, **named: object) -> object:
        if threading.current_thread() is not closing:  # the one that took up work comes second
            assert taken.wait(120)
            return free()
        hand = free(*given, **named)
        taken.set()
        return hand

    closing = threading.Thread(target=crew.close, daemon=True)
    hands._free = SimpleNamespace(get=late, put=hands._free.put)  # type: ignore[assignment]
    asked = hands.ask("late work", os.getpid)
    while not asked.done.running():
        time.sleep(0.01)
    closing.start()
    closing.join(120)
    assert not closing.is_alive()
    with pytest.raises(MachineError, match="the processes that draw are ended"):
        asked.result()


def test_one_that_cannot_begin_again_is_told_and_the_rest_ends(monkeypatch):
    with Crew(1, apart=True) as crew:
        crew.do(os.getpid)
        for process in active_children():
            process.kill()
            process.join()
        with monkeypatch.context() as patched:
            patched.setattr("multiprocessing.popen_spawn_posix.Popen._launch", refused_by_system)
            with pytest.raises(MachineError, match=r"another one cannot begin \(Permission denied\).*fewer --workers"):
                crew.do(os.getpid)
        assert crew.do(os.getpid) != os.getpid()
