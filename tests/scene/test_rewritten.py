"""A scene read again with other values in it is the scene that its file would give with them."""

from fractions import Fraction
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
    larger = tmp_path / "larger.yaml"
    larger.write_text(LORRY.read_text().replace("kit: kits/tabletop.yaml", "").replace("units: mm", "units: cm"))
    scene = read_scene(larger)
    assert scene.tape_unit == "cm"
    assert rewritten(scene, {"shots[0].at": ["700 mm", "-150 mm", "50 mm"]}).tape_unit == "cm"


def test_a_copy_with_other_values_has_no_file_behind_it() -> None:
    scene = read_scene(LORRY)
    assert rewritten(scene.model_copy(), {}) == scene
    with pytest.raises(PrevizError, match="was made, not read"):
        rewritten(scene.model_copy(update={"lights": scene.lights[:1]}), {})


@pytest.mark.parametrize(
    "modes, rates, at_25",
    [
        (["1080p30", "1080p60", "1080p240"], {30, 60, 240}, None),
        (["1080p30", "1080p60", "1080p240", "4k30"], {8, 10, 12, 15, 16, 18, 20, 24, 25, 30, 60, 240}, "3840x2160"),
        (["1080p240", "1080p100"], {24, 25, 60, 100, 120, 240}, "1920x1080"),  # one rate more than goes without saying
        (["1080p60", {"mode": "1080p120", "crop": 1.3}], {24, 25, 60, 120}, "1920x1080"),  # of different sizes
    ],
)
def test_modes_that_list_every_rate_of_a_size_are_for_these_alone(
    modes: list[Any], rates: set[int], at_25: str | None
) -> None:
    read = read_scene(LORRY)
    name = read.shots[0].camera
    camera = rewritten(read, {f"cameras.{name}.modes": modes, "shots[0].capture.rate": "60 fps"}).cameras[name]
    able = [str(mode) for mode in camera.modes if camera.records(mode, Fraction(25))]
    assert able == [] if at_25 is None else str(camera.mode_for(Fraction(25))).startswith(at_25)
    assert camera.records(camera.modes[0], Fraction(camera.modes[0].fastest) * 1000 / 1001)
    assert set(camera.rates) >= rates
    if at_25 is None:
        assert set(camera.rates) == rates
