"""Processes that draw do other work as well, before there is something to draw."""

import os
import signal
import time
from functools import partial
from multiprocessing import active_children
from pathlib import Path

import pytest

from previz.errors import Fault, FileFault, MachineError, PrevizError, SceneErrors, ShotFault
from previz.frames import Crew, worker
from previz.frames import crew as crew_module
from previz.frames.sensor import Noise

FAULTS = (
    PrevizError("the tile is not there; copy it"),
    FileFault(("set", "ground", "image"), "tile.png is not there"),
    ShotFault("pass", "focus", "nothing is there", "Aim", quantity="focus_distance", value=0.1, limit=0.2),
    SceneErrors(Path("scene.yaml"), [Fault(3, "scale", "is missing")]),
)


def refused(number: int = 0) -> None:
    raise FAULTS[number]


def test_work_is_done_in_another_process_where_there_is_one():
    with Crew(1, apart=True) as crew:
        assert crew.do(os.getpid) in {process.pid for process in active_children()}
        assert crew.do(partial(Noise, 8000.0)) == Noise(8000.0)
        with pytest.raises(PrevizError, match="the tile is not there"):
            crew.do(refused)
    assert Crew(1).do(os.getpid) == os.getpid()


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
        processes = crew._processes
        assert processes is not None
        begun, queued = (processes.ask(worker.work, partial(time.sleep, 0.5)) for _ in range(2))
        while not begun.done.running():
            time.sleep(0.01)
        begun.drop()
        queued.drop()
        crew.do(os.getpid)
        assert [each.name for each in processes._folder.path.iterdir()] == ["lock"]


def test_a_process_that_is_ended_meanwhile_is_told_without_a_traceback():
    with Crew(1, apart=True) as crew:
        crew.do(os.getpid)  # it is there by now
        assert crew.whole
        for process in active_children():
            process.kill()
        with pytest.raises(MachineError, match="ended from outside"):
            crew.do(os.getpid)
        assert not crew.whole


def no_semaphores(*_: object, **__: object) -> None:
    raise PermissionError(13, "Permission denied")


def test_without_shared_memory_one_process_is_done_without_and_several_are_told(monkeypatch):
    monkeypatch.setattr("multiprocessing.synchronize.SemLock.__init__", no_semaphores)
    with Crew(1, apart=True) as crew:
        assert crew.do(os.getpid) == os.getpid()
    with pytest.raises(MachineError, match=r"cannot be had here \(Permission denied\).*--workers 1"):
        Crew(2)


@pytest.mark.skipif(not hasattr(signal, "SIGSTOP"), reason="POSIX signals")
@pytest.mark.parametrize("at_once", [True, False])
def test_a_process_that_is_stopped_is_not_waited_for_without_end(monkeypatch, at_once):
    monkeypatch.setattr(crew_module, "_TO_END", 0.5)
    monkeypatch.setattr(crew_module, "_TO_FINISH", 0.5)
    crew = Crew(2)
    crew.do(os.getpid)
    stopped = active_children()
    for process in stopped:
        os.kill(process.pid, signal.SIGSTOP)
    crew.close(at_once=at_once)
    assert not any(process.is_alive() for process in stopped)
