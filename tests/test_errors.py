"""What is wrong can be told wherever it is found: each error goes from process to process as it is."""

import pickle
from pathlib import Path

import pytest

from previz.errors import Fault, FileFault, MachineError, PrevizError, SceneErrors, ShotFault

ERRORS = [
    PrevizError("a fault"),
    MachineError("no disk"),
    FileFault(("dressing", 2, "mesh"), "no such file"),
    ShotFault("pass", "focus", "behind", "Turn round", quantity="focus_distance", value=-0.3, limit=0.016),
    SceneErrors(Path("a.yaml"), [Fault(4, "b", "later"), Fault(2, "a", "first"), Fault(None, "", "all of it")]),
]


def _all_of(kind: type[PrevizError]) -> set[type[PrevizError]]:
    return {kind}.union(*(_all_of(each) for each in kind.__subclasses__() if each.__module__ == "previz.errors"))


def test_every_error_is_tried_here() -> None:
    assert {type(error) for error in ERRORS} == _all_of(PrevizError)


@pytest.mark.parametrize("error", ERRORS, ids=lambda error: type(error).__name__)
def test_an_error_arrives_as_it_was_sent(error: PrevizError) -> None:
    arrived = pickle.loads(pickle.dumps(error))
    assert type(arrived) is type(error)
    assert str(arrived) == str(error)
    assert vars(arrived) == vars(error)
