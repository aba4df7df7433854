"""What a check may spend on trying remedies: counted for the whole scene, however many setups it has."""

from pathlib import Path
from typing import Any

import pytest

from previz.layout import ground_heights, pieces_of
from previz.predictions import overview, predict
from previz.predictions.agreed import NOT_TRIED, agreed
from previz.predictions.looking import Looked
from previz.predictions.trying import LEAST_PATIENCE, PATIENCE, Purse
from previz.scene import Scene
from tests.predictions.broken_scenes import broken, read

BLURRED: dict[str, Any] = broken(("shots[0].capture.shutter", "90 deg"), ("shots[0].duration", "0.1 s"))


def scene_of(folder: Path, setups: int) -> Scene:
    """So many shots, each with the hut somewhere else; what is wrong in one is wrong in all."""
    shot = BLURRED["shots"][0]
    shots = [shot | {"id": f"s{n}", "moved": {"hut": [1900 + 10 * n, 720]}} for n in range(setups)]
    return read(BLURRED | {"shots": shots}, folder)


@pytest.mark.parametrize("spends", [0.5, 1.0])
def test_setups_share_one_purse(spends: float, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What one leaves, the next may spend; all together never more than there is. By hand: three setups alike."""
    given: list[float] = []
    seen: list[Looked] = []

    def tried(looked: Looked, purse: Purse) -> Any:
        seen.append(looked)
        given.append(purse.left)
        purse.pay(spends * purse.left)
        return (), ()

    monkeypatch.setattr(overview, "agreed", tried)
    predict(scene_of(tmp_path, 3))
    left = whole = Purse.after(seen).left
    expected = []
    for others in (3, 2, 1):
        expected.append(left / others)
        left -= spends * left / others
    assert given == pytest.approx(expected)
    assert spends * sum(given) <= whole + 1e-9
    assert LEAST_PATIENCE == Purse.after(seen * 4).left < Purse.after(seen[:1]).left < PATIENCE


def test_what_there_was_no_time_to_try_is_told_as_that(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A maker is not told that nothing mends an orange picture: the white balance is named, as not tried."""
    orange = broken(("lights[0].colour", "2700 K"), ("lights[1].colour", "2700 K"), ("shots[0].duration", "0.1 s"))
    for left, begins in ((0.0, NOT_TRIED), (float(PATIENCE), "Set the white balance to ")):
        monkeypatch.setattr(overview, "agreed", lambda looked, _, left=left: agreed(looked, Purse(left)))
        (white,) = [each for each in predict(read(orange, tmp_path)).findings if each.id == "light.white"]
        assert white.remedy.startswith(begins)
        assert "Set the white balance to 2700 K" in white.remedy
        # Only what was tried can be followed by a program.
        assert bool(white.changes) == (left > 0)


def test_a_way_that_there_was_no_time_for_is_not_told_twice(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What there is to do where no way holds is said only once one is known not to hold."""
    in_the_way = read(broken(("dressing[0].at", [700, 420])), tmp_path)
    monkeypatch.setattr(overview, "agreed", lambda looked, _: agreed(looked, Purse(0.0)))
    (told,) = [each for each in predict(in_the_way).findings if each.id == "set.path" and each.verdict != "fine"]
    assert told.remedy.startswith(f"{NOT_TRIED} Move {in_the_way.dressing[0].id} behind the path, ")
    assert told.remedy.count("Move ") == 1 and "no free place" not in told.remedy


def test_what_is_remembered_of_some_parts_asks_for_no_others(tmp_path: Path) -> None:
    """A set lit otherwise is remembered as the same: so no other part may have a say in it."""
    scene = scene_of(tmp_path, 2)
    for answer, parts in ((ground_heights, {"set", "vehicle"}), (pieces_of, {"set", "vehicle", "dressing"})):
        others = {name: None for name in Scene.model_fields if name not in parts | {"scale", "folder"}}
        alone, whole = answer(scene.model_copy(update=others)), answer(scene)
        assert alone is whole  # for it is remembered; and worked out without the rest:
        worked_out = answer.__wrapped__(scene.model_copy(update=others))  # type: ignore[attr-defined]
        assert repr(worked_out) == repr(whole)
