"""What a turn does, with the clock and the files in our own hands."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from previz.errors import PrevizError
from previz.files import digest
from previz.frames import Crew
from previz.watching import Asked, Board, Inbox, Wish
from previz.watching.drawing import Staged
from previz.watching.inbox import News
from previz.watching.looking import Looking
from tests.watching.running import KIT, SCENE, floor

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


def test_the_set_is_built_anew_only_where_it_is_another_and_then_check_comes_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []

    def predicted(scene: Any) -> Any:
        done.append("check")
        return SimpleNamespace(told=(), cautions=())

    def staged(scene: Any, *_: Any) -> Any:
        done.append("set")
        return Staged(scene, scene, SimpleNamespace(), {tmp_path / "floor.png": digest(tmp_path / "floor.png")})  # type: ignore[arg-type]

    def no_still(on: Any, take: Any, crew: Any, meanwhile: Callable[[], object]) -> Any:
        done.append("still")
        if take.shot.f_number == 8:
            meanwhile()
            assert not board.shown.faults
        raise PrevizError("no picture")

    def staged_again(before: Any, scene: Any, *_: Any) -> Any:
        return replace(before, whole=scene, scene=scene)

    stand_ins = {"predict": predicted, "staged": staged, "staged_again": staged_again, "still_of": no_still}
    for name, stands_in in stand_ins.items():
        monkeypatch.setattr(f"previz.watching.looking.{name}", stands_in)
    path = tmp_path / "scene.yaml"
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "tabletop.yaml").write_text(KIT)
    floor((120, 120, 120)).save(tmp_path / "floor.png")
    looking, board, _, _ = looking_at(path, Inbox())
    for text, wanted in (
        (SCENE, ["check", "set", "still"]),
        (SCENE.replace("f_number: 5.6", "f_number: 8"), ["still", "check"]),
        (SCENE.replace("f_number: 5.6", "f_number: 11"), ["still", "check"]),  # though there is no picture
        (SCENE.replace("[300, 300]", "[310, 300]"), ["check", "set", "still"]),
        ("another floor", ["check", "set", "still"]),
    ):
        if text == "another floor":
            floor((90, 90, 90)).save(tmp_path / "floor.png")
        else:
            path.write_text(text)
        done.clear()
        looking.turn(News(saved=1.0))
        assert done == wanted
        assert [each.message for each in board.shown.faults] == ["no picture"] and board.shown.title
