"""What a turn does, with the clock and the files in our own hands."""

from pathlib import Path
from typing import Any

import pytest

from previz.frames import Crew
from previz.watching import Asked, Board, Inbox, Wish
from previz.watching.inbox import News
from previz.watching.looking import Looking

#: At fault, but for the names of what it is made of.
FAULTY = """\
title: Pier
scale: 1:50
units: mm
kit: kits/tabletop.yaml
set: {ground: {image: tiles/floor.png}, backdrop: {image: ../outside.png}}
vehicle: {mesh: van.glb}
dressing: [{mesh: crane.obj}, {image: /etc/hosts}, {image: //host/share.png}]
"""


class Later(Inbox):
    """Whoever waits hears of one more save."""

    def expect(self, patience: float) -> bool:
        if patience > 0:
            self.saved(2.0)
        return super().expect(0)


def looking_at(path: Path, inbox: Inbox, **asked: Any) -> tuple[Looking, Board, list[set[Path]], list[str]]:
    board, followed, said = Board(), [], []  # type: ignore[var-annotated]
    looking = Looking(Asked(path, Wish(), **asked), board, inbox, Crew(1), followed.append, None, said.append)
    return looking, board, followed, said


@pytest.fixture
def faulty(tmp_path: Path) -> Path:
    path = tmp_path / "scene.yaml"
    path.write_text(FAULTY)
    return path


def test_a_fault_is_told_only_if_nothing_more_is_saved_in_a_moment(faulty: Path) -> None:
    looking, board, _, said = looking_at(faulty, Later())
    looking.turn(News(saved=1.0))
    assert board.shown.faults == () and said == []
    looking, board, _, said = looking_at(faulty, Inbox())
    looking.turn(News(saved=1.0))
    assert board.shown.faults and said


def test_what_a_faulty_file_names_is_looked_after_but_nothing_outside_its_folder(faulty: Path) -> None:
    looking, _, followed, _ = looking_at(faulty, Inbox())
    looking.turn(News(saved=1.0))
    inside = ("scene.yaml", "kits/tabletop.yaml", "tiles/floor.png", "van.glb", "crane.obj")
    assert followed[-1] == {faulty.parent / name for name in inside}
    looking, _, followed, _ = looking_at(faulty, Inbox(), outside_files=True)
    looking.turn(News(saved=1.0))
    assert faulty.parent / "../outside.png" in followed[-1] and Path("/etc/hosts") in followed[-1]


def test_what_was_looked_after_still_is_while_the_file_cannot_be_read(faulty: Path) -> None:
    looking, _, followed, _ = looking_at(faulty, Inbox())
    looking.turn(News(saved=1.0))
    faulty.write_text("title: [")
    looking.turn(News(saved=2.0))
    assert faulty.parent / "van.glb" in followed[-1]


def test_while_there_is_something_due_nobody_waits(faulty: Path) -> None:
    looking, _, _, _ = looking_at(faulty, Inbox())
    assert looking.leisure > 0
    looking.turn(News(saved=1.0))
    assert looking.leisure > 0  # a faulty file is not tried again by itself
