"""A piece or vehicle of a scale of its own: what is told at full size, and what is left out, is at that one.

Full-size lengths are divided by hand; scales by letters are those of NEM 010 and NMRA S-1.2, as `units` has them.
"""

import json
from pathlib import Path
from typing import Any

import pytest

from previz.errors import SceneErrors
from previz.scene import Scene, read_scene, setups_of

BASE: dict[str, Any] = {
    "title": "Two scales",
    "scale": "1:43",
    "units": "mm",
    "set": {
        "table": {"width": 2000, "depth": 1200},
        "road": {"lane": "3.5 m full size", "centre": [[-60, 300], [2060, 300]]},
    },
    "dressing": [{"id": "house", "piece": "building", "at": [900, 1000]}],
    "vehicle": {"body": "van", "speed": "60 km/h on screen"},
    "lights": [{"id": "room", "ambient": "300 lx"}],
    "cameras": {
        "phone": {
            "sensor": [9.6, 5.4],
            "lens": 6.8,
            "widest": "f/1.8",
            "smallest": "f/16",
            "nearest": 80,
            "modes": ["1080p120"],
        }
    },
    "shots": [
        {
            "id": "pass",
            "camera": "phone",
            "f_number": "f/4",
            "at": [900, -150, 60],
            "aim": [900, 300, 60],
            "focus": 450,
            "capture": {"rate": "120 fps"},
        }
    ],
}


def read(folder: Path, **otherwise: Any) -> Scene:
    file = folder / "scene.yaml"
    file.write_text(json.dumps({**BASE, **otherwise}))
    return read_scene(file)


def house(**keys: Any) -> dict[str, Any]:
    return {"dressing": [{**BASE["dressing"][0], **keys}]}


@pytest.mark.parametrize(
    ("written", "scale"),
    [("1:87", 87), ("H0", 87), ("HO", 304.8 / 3.5), ("N", 160), ("72 mm for 4.5 m", 62.5), ("1:24", 24)],
)
def test_its_scale_is_written_as_that_of_the_scene_is(written: str, scale: float, tmp_path: Path) -> None:
    scene = read(tmp_path, **house(scale=written, width="8.7 m full size", height=90))
    (piece,) = scene.dressing
    assert scene.scale_of(piece) == pytest.approx(scale)
    assert piece.width == pytest.approx(8.7 / scale)
    assert piece.height == 0.09  # on the table


def test_where_it_stands_is_told_at_the_scale_of_the_set(tmp_path: Path) -> None:
    (piece,) = read(
        tmp_path, **house(scale="1:87", at=["43 m full size", 1000], copies=2, step=["4.3 m full size", 0, 0])
    ).dressing
    assert piece.at[0] == pytest.approx(1.0) and piece.step[0] == pytest.approx(0.1)


def test_a_vehicle_looks_as_fast_as_one_of_its_own_scale(tmp_path: Path) -> None:
    """60 km/h is 16.667 m/s; the shot plays five times slower than it was filmed."""
    scene = read(tmp_path, vehicles={"far": {"body": "van", "scale": "1:87", "speed": "60 km/h on screen"}})
    assert scene.vehicles is not None and scene.vehicle is not None
    assert scene.vehicle.speed == pytest.approx(60 / 3.6 / 43 * 5)
    assert scene.vehicles["far"].speed == pytest.approx(60 / 3.6 / 87 * 5)
    assert scene.scale_of(scene.vehicles["far"]) == 87 and scene.vehicle_scale == 43


def test_a_shot_has_things_of_a_scale_of_their_own(tmp_path: Path) -> None:
    shot = {
        **BASE["shots"][0],
        "added": [{"id": "barn", "piece": "building", "scale": "1:87", "depth": "8.7 m full size", "at": [300, 1000]}],
        "moved": {"house": [500, 1000]},
        "vehicle": {"scale": "1:87", "length": "4.35 m full size"},
    }
    scene = read(tmp_path, **house(scale="1:160", width="16 m full size"), shots=[shot])
    (setup,) = setups_of(scene)
    moved, barn = setup.scene.dressing
    assert (moved.id, barn.id) == ("house", "barn")
    assert moved.width == pytest.approx(0.1) and setup.scene.scale_of(moved) == 160
    assert barn.depth == pytest.approx(0.1)
    assert setup.scene.vehicle_length == pytest.approx(0.05) and setup.scene.vehicle_scale == 87


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        ({"scale": "87"}, "is not a scale from 1:1 to 1:2000"),
        ({"scale": "1:87", "width": "500 m full size"}, "5747 mm"),  # over a table, by its own scale
        ({"piece": "flag", "width": 90, "height": 90, "scale": "1:87"}, "is not a key here"),
    ],
)
def test_what_cannot_be_is_told_by_its_line(entry: dict[str, Any], said: str, tmp_path: Path) -> None:
    with pytest.raises(SceneErrors) as caught:
        read(tmp_path, **house(**entry))
    assert said in str(caught.value)


def test_a_long_fence_is_measured_by_its_own_height(tmp_path: Path) -> None:
    """Rails of 1.2 m are 7.5 mm high at 1:160 and 27.9 mm at 1:43: 500 times that is 3.75 m, or more than the table."""
    fence = {"id": "fence", "piece": "fence", "at": [900, 1000], "length": "4 m"}
    read(tmp_path, dressing=[fence])
    with pytest.raises(SceneErrors, match="500 times its"):
        read(tmp_path, dressing=[{**fence, "scale": "1:160"}])
