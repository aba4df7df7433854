"""The ISO that `check` works out from plain shapes against the one the rendered picture is metered at.

Nothing is drawn larger than a stamp.
"""

import math
from pathlib import Path

import pytest

from previz.frames import Facts, Look, render_frames
from previz.predictions import predict
from previz.scene import Scene, read_scene
from previz.stage import Stage, build_stage

SCENES = Path(__file__).parents[2] / "scenes"
DEMOS = ("quay_lorry", "night_van", "snow_bus")

#: What the plain shapes may make of it. [stops]
MODEL_ERROR = 0.25

#: The finding that says how far off a set ISO is.
EXPOSURE = "light.exposure"


@pytest.fixture(params=DEMOS, scope="module")
def demo(request: pytest.FixtureRequest) -> tuple[Scene, Stage]:
    scene = read_scene(SCENES / f"{request.param}.yaml")
    return scene, build_stage(scene, "draft")


def facts_of(scene: Scene, stage: Stage) -> Facts:
    frames = render_frames(scene, stage, scene.shots[0], Look(size=(64, 36), views=4, frames=range(1)))
    (frame,) = frames
    return frame.facts


@pytest.fixture(scope="module")
def metered_iso(demo: tuple[Scene, Stage]) -> int:
    """What the rendered picture is metered at."""
    return facts_of(*demo).iso


def test_the_estimated_iso_is_near_the_metered_one(demo: tuple[Scene, Stage], metered_iso: int) -> None:
    scene, _ = demo
    needed = predict(scene, remedies=False).shots[0].value("iso_needed")
    estimated = needed * 2 ** scene.shots[0].capture.exposure
    assert abs(math.log2(metered_iso / estimated)) <= MODEL_ERROR


@pytest.mark.parametrize(
    "stops,verdict,said", [(0, "fine", ""), (3, "stop", "stops over:"), (-3, "stop", "stops under:")]
)
def test_what_the_picture_is_metered_at_decides_what_is_said(
    demo: tuple[Scene, Stage], metered_iso: int, stops: int, verdict: str, said: str
) -> None:
    # Set to the ISO at which the rendered picture meters as mid-grey, a shot is fine by the estimate too, for all that
    # the estimate leaves out; three stops from there it is lost.
    scene, _ = demo
    shot = scene.shots[0]
    iso = metered_iso * 2 ** (stops - shot.capture.exposure)
    capture = shot.capture.model_copy(update={"iso": round(iso), "exposure": 0.0})
    set_so = scene.model_copy(update={"shots": (shot.model_copy(update={"capture": capture}),)})
    (found,) = (each for each in predict(set_so, remedies=False).findings if each.id == EXPOSURE)
    assert found.verdict == verdict
    assert said in found.message


def test_auto_stops_at_the_ends_of_what_the_camera_has(demo: tuple[Scene, Stage]) -> None:
    scene, stage = demo
    for ends in ((50, 64), (200000, 300000)):
        cameras = {name: camera.model_copy(update={"iso": ends}) for name, camera in scene.cameras.items()}
        limited = scene.model_copy(update={"cameras": cameras})
        assert facts_of(limited, stage).iso == (ends[1] if ends[1] < 1000 else ends[0])
        said = next(finding for finding in predict(limited, remedies=False).findings if finding.id == "light.iso_range")
        assert said.verdict == "stop"
