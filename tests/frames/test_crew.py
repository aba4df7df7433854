"""Processes that draw do other work as well, before there is something to draw."""

import os
from functools import partial
from multiprocessing import active_children

import pytest

from previz.errors import MachineError, PrevizError
from previz.frames import Crew
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
        assert crew.whole
        for process in active_children():
            process.kill()
        with pytest.raises(MachineError, match="ended from outside"):
            crew.do(os.getpid)
        assert not crew.whole
