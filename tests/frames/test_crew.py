"""Processes that draw do other work as well, before there is something to draw."""

import os
import signal
from functools import partial
from multiprocessing import active_children

import pytest

from previz.errors import MachineError, PrevizError, ShotFault
from previz.frames import Crew
from previz.frames import crew as crew_module
from previz.frames.sensor import Noise


def refused() -> None:
    raise PrevizError("the tile is not there; copy it")


def test_work_is_done_in_another_process_where_there_is_one():
    with Crew(1, apart=True) as crew:
        assert crew.do(os.getpid) in {process.pid for process in active_children()}
        assert crew.do(partial(Noise, 8000.0)) == Noise(8000.0)
        with pytest.raises(PrevizError, match="the tile is not there"):
            crew.do(refused)
    assert Crew(1).do(os.getpid) == os.getpid()


def test_a_process_that_is_ended_meanwhile_is_told_without_a_traceback():
    with Crew(1, apart=True) as crew:
        crew.do(os.getpid)  # it is there by now
        for process in active_children():
            process.kill()
        with pytest.raises(MachineError, match="ended from outside"):
            crew.do(os.getpid)


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


def faulty() -> None:
    raise ShotFault("pass", "focus", "it is behind", "Turn round", quantity="focus_distance", value=-1.0, limit=0.016)


def test_what_a_shot_cannot_do_is_told_by_its_line_wherever_it_is_found():
    with Crew(1, apart=True) as crew:
        with pytest.raises(ShotFault, match=r"pass.*it is behind\. Turn round") as found:
            crew.do(faulty)
        assert (found.value.key, found.value.value, found.value.limit) == ("focus", -1.0, 0.016)
        crew.do(os.getpid)  # and the process goes on
