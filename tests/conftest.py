"""What holds for all tests."""

import gc
import os
import signal
import sys
from typing import Any

import pytest

# A shell that starts the tests in the background has Ctrl-C ignored in all they start; who sends it waits for ever.
for _name in ("SIGINT", "SIGQUIT"):
    _number = getattr(signal, _name, None)
    if _number is not None and signal.getsignal(_number) is signal.SIG_IGN:
        signal.signal(_number, signal.default_int_handler if _name == "SIGINT" else signal.SIG_DFL)

# Tests start hundreds of processes, each of which would compile all of previz anew where what is compiled is not kept.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
sys.dont_write_bytecode = False

#: Programs of their own, which hold no tests; `test_benchmarks.py` loads them, once.
collect_ignore = ["benchmarks"]


@pytest.hookimpl(tryfirst=True)
def pytest_collection() -> None:
    """Seven thousand tests are found without looking for garbage among them, a fourth of what finding them took."""
    gc.disable()


def pytest_collection_finish() -> None:
    """They stay to the end, so that nobody need look at them again."""
    gc.freeze()
    gc.enable()


@pytest.fixture
def nothing_is_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is of no concern how a finding is mended, no remedy is tried, which is most of what a check costs."""
    monkeypatch.setattr("previz.predictions.trying.PATIENCE", 0)
    monkeypatch.setattr("previz.predictions.trying.LEAST_PATIENCE", 0)


@pytest.fixture
def predicted_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where command after command is asked about the same scene, it is predicted once."""
    import previz

    predict = previz.predict

    def known(scene: previz.Scene, **how: bool) -> previz.Predictions:
        told = repr((scene, how))
        if told not in _PREDICTED:
            _PREDICTED[told] = predict(scene, **how)
        return _PREDICTED[told]

    monkeypatch.setattr(previz, "predict", known)


_PREDICTED: dict[str, Any] = {}


@pytest.fixture
def drawn_here(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where it is of no concern who draws, this process does: another one would load its libraries for each picture."""
    monkeypatch.setattr("previz.frames.crew._processes", lambda *_: None)


@pytest.fixture
def nobody_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where frames are played by stand-ins, the processes that would draw them are not begun either."""
    monkeypatch.setattr("previz.frames.crew._processes", lambda *_: None)
    monkeypatch.setattr("previz.frames.crew.Crew.drawn_by", lambda _: "nobody")
