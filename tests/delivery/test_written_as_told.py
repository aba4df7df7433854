"""What a comparison tells to write into the shot reads back without an error, as the shot that its panel shows."""

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from comparisons import SCENE, comparison_of
from ruamel.yaml import YAML

from previz.delivery import Panel
from previz.predictions import CannotMatch, Framing, Predictions, match
from previz.scene import Scene, read_scene, rewritten
from tests.benchmarks.seeded_sets import random_set

DEMOS = sorted((Path(__file__).parents[2] / "scenes").glob("*.yaml"))
#: Lenses whose ends are no round numbers, modes with rates that are none, and one without a choice of stop.
ODD = {
    "phone": {"sensor": "1/1.28", "lens": "24 mm equivalent f/1.8", "nearest": "100 mm", "modes": ["4k60"]},
    "tele": {"sensor": "1/2.55", "lens": "77 mm equivalent f/2.8", "nearest": "60 mm", "modes": ["1080p at 29.97 fps"]},
    "zoom": {"sensor": "2/3-inch", "lens": "25-230 mm equivalent f/2.8-5.3", "nearest": "50 mm",
             "modes": ["1080p at 1000/3 fps", "720p60"]},
}  # fmt: skip


def as_told(scene: Scene, number: int, *framings: Framing) -> list[str]:
    """What is told of each camera that can take the shot over, each written into the scene and read."""
    told = []
    for camera in scene.cameras:
        for framing in framings:
            try:
                taken = match(scene, scene.shots[number], camera, framing)
            except CannotMatch:
                continue
            alone = scene.model_copy(update={"shots": (taken.shot,)})
            panel = Panel(camera, alone, taken.shot, (0, 0), Predictions((), (), (), ()))
            written: dict[str, Any] = YAML(typ="safe", pure=True).load(f"{{{panel.as_a_shot}}}")
            shot = rewritten(scene, {f"shots[{number}].{key}": value for key, value in written.items()}).shots[number]
            assert shot.capture.rate == taken.shot.capture.rate
            assert shot.capture.exposure_time == pytest.approx(taken.shot.capture.exposure_time)
            assert scene.mode(shot) == scene.mode(taken.shot)
            for key in ("iso", "white_balance", "exposure"):
                assert getattr(shot.capture, key) == getattr(taken.shot.capture, key)
            assert shot.focal_length == pytest.approx(taken.shot.focal_length, rel=5e-4)
            told.append(panel.as_a_shot)
    return told


@pytest.mark.parametrize("demo", DEMOS, ids=[each.stem for each in DEMOS])
def test_of_a_demo(demo: Path) -> None:
    scene = read_scene(demo, outside_files=True)
    assert sum(len(as_told(scene, number, Framing.PLACE)) for number in range(len(scene.shots))) >= len(scene.shots)


@pytest.mark.parametrize("seed", range(2))
def test_of_random_sets_with_odd_lenses_and_modes(seed: int, tmp_path: Path) -> None:
    made, rng = random_set(seed), np.random.default_rng(seed)
    made["cameras"] |= ODD
    shot = made["shots"][0]
    shot["capture"] |= {"mode": "1080p120", "rate": str(rng.choice(["60 fps", "59.94 fps", "100/3 fps"]))}
    shot["capture"] |= {"white_balance": "4300 K"} | ({"iso": 800} if seed % 2 else {"exposure": "-0.33 stops"})
    shot["capture"] |= {"shutter": str(rng.choice(["172.8 deg", "1/96.7 s", "360 deg"]))}
    if seed % 2:
        x, y, z = shot["at"]
        shot["at"] = [{"time": "0.3 s", "at": [x, y, z]}, {"time": "0.8 s", "at": [x + 40, y, z + 20]}]
        shot["focus"] = [{"time": "0.3 s", "at": 780}, {"time": "0.8 s", "at": "vehicle"}]
    path = tmp_path / "scene.yaml"
    path.write_text(json.dumps(made), encoding="utf-8")
    told = as_told(read_scene(path), 0, Framing.PLACE, Framing.LENS)
    assert any("mode: " in each for each in told)
    assert {"own", "zoom"} <= {each.split(",")[0].removeprefix("camera: ") for each in told}


def test_a_focal_length_may_be_written_as_an_end_of_the_lens_is_told(tmp_path: Path) -> None:
    """What is refused is told with the ends; either of them, written as it is told, is on the lens."""
    text = SCENE.replace("sensor: [6, 4], lens: 5 mm, widest: f/1", "sensor: 1/1.28, lens: 24 mm equivalent f/1.8")
    comparison = comparison_of(tmp_path, text, cameras=["inch", "large"])
    end = comparison.scene.cameras["stuck"].lens.shortest
    assert f"{end * 1000:.4g}" != f"{end * 1000:.6g}"
    changes = {"shots[0].camera": "stuck", "shots[0].f_number": 1.8, "shots[0].focus": "950 mm"}
    rewritten(comparison.scene, {**changes, "shots[0].focal_length": f"{end * 1000:.4g} mm"})
    with pytest.raises(Exception, match="is not on the lens of stuck"):
        rewritten(comparison.scene, {**changes, "shots[0].focal_length": f"{end * 1000 + 0.01:.4g} mm"})
