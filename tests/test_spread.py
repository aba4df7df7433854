"""Work over several threads: in order, whole, and loud when it fails."""

import threading

import pytest

from previz import spread as module
from previz.spread import both, spread


@pytest.mark.parametrize("threads", [1, 3])
def test_results_come_in_the_order_of_the_parts(monkeypatch, threads):
    monkeypatch.setattr(module, "workers", lambda: threads)
    assert spread(str, range(50)) == [str(k) for k in range(50)]
    assert both(lambda: "one", lambda: 2) == ("one", 2)
    assert spread(str, []) == []


@pytest.mark.parametrize("threads", [1, 2])
def test_an_error_is_raised(monkeypatch, threads):
    monkeypatch.setattr(module, "workers", lambda: threads)

    def fails(number):
        if number == 3:
            raise ValueError("three")

    with pytest.raises(ValueError, match="three"):
        spread(fails, range(5))
    with pytest.raises(ValueError, match="three"):
        both(lambda: 0, lambda: fails(3))


def test_parts_are_worked_on_at_the_same_time(monkeypatch):
    monkeypatch.setattr(module, "workers", lambda: 2)
    meeting = threading.Barrier(2, timeout=120)
    assert sorted(spread(lambda _: meeting.wait(), range(2))) == [0, 1]
