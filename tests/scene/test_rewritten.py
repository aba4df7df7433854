"""A scene read again with other values in it is the scene that its file would give with them."""

from pathlib import Path
from typing import Any

import pytest

from previz.errors import PrevizError, SceneErrors
from previz.scene import read_scene, rewritten

SCENES = Path(__file__).parents[2] / "scenes"
LORRY = SCENES / "quay_lorry.yaml"

CHANGES: list[dict[str, Any]] = [
    {"shots[0].f_number": "f/8"},
    {"lights[sky].diffusion": None, "shots[pass].capture": {"rate": "60 fps", "iso": 400}},
    {"dressing[0].at": ["300 mm", "510 mm"]},
    {"set.backdrop.join": "straight", "vehicle.speed": "1 m/s"},
]


@pytest.mark.parametrize("changes", CHANGES, ids=lambda changes: next(iter(changes)))
def test_it_is_what_the_file_would_give(changes: dict[str, Any]) -> None:
    assert rewritten(read_scene(LORRY), changes) == read_scene(LORRY, changes=changes)
    assert rewritten(read_scene(LORRY), changes) != read_scene(LORRY)


def test_changes_add_up() -> None:
    once = rewritten(rewritten(read_scene(LORRY), CHANGES[0]), CHANGES[2])
    assert once == read_scene(LORRY, changes={**CHANGES[0], **CHANGES[2]})


def test_one_more_member_goes_behind_the_others() -> None:
    scene = read_scene(LORRY)
    more = rewritten(scene, {f"lights[{len(scene.lights)}]": {"id": "fill", "ambient": "30 lx"}})
    assert [light.id for light in more.lights] == [*(light.id for light in scene.lights), "fill"]
    with pytest.raises(PrevizError, match="the scene has no"):
        rewritten(scene, {f"lights[{len(scene.lights) + 1}]": {"id": "fill", "ambient": "30 lx"}})


@pytest.mark.parametrize(
    "changes,said",
    [
        ({"shots[0].f_number": "f/1.2"}, "wider than pocket opens"),
        ({"shots[0].focal_length": "80 mm"}, "not on the lens of pocket"),
        ({"vehicle.speed": "fast"}, "speed"),
        ({"lights[3]": {"id": "room", "ambient": "1 lx"}}, "is taken"),
    ],
)
def test_it_is_read_as_strictly_as_a_file(changes: dict[str, Any], said: str) -> None:
    with pytest.raises(SceneErrors, match=said):
        rewritten(read_scene(LORRY), changes)


def test_the_tape_stays_that_of_the_file(tmp_path: Path) -> None:
    inches = tmp_path / "inches.yaml"
    inches.write_text(LORRY.read_text().replace("kit: kits/tabletop.yaml", "").replace("units: mm", "units: in"))
    scene = read_scene(inches)
    assert scene.tape_unit == "in"
    assert rewritten(scene, {"shots[0].at": ["700 mm", "-150 mm", "50 mm"]}).tape_unit == "in"


def test_a_copy_with_other_values_has_no_file_behind_it() -> None:
    scene = read_scene(LORRY)
    assert rewritten(scene.model_copy(), {}) == scene
    with pytest.raises(PrevizError, match="was made, not read"):
        rewritten(scene.model_copy(update={"lights": scene.lights[:1]}), {})
