"""What the benchmark films: demo scenes or sets from a seed; three sensors, still or moving, locked off or panning."""

import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from ruamel.yaml import YAML
from seeded_sets import random_set

from previz.layout.camera import camera_at
from previz.layout.motion import frame_times
from previz.scene import Scene, read_scene

SCENES = Path(__file__).parents[2] / "scenes"


@dataclass(frozen=True)
class Sensor:
    """A width and how large a disc the backdrop makes on a picture 1280 px wide."""

    name: str
    width: float  # [mm]
    disc: float  # [px]


SENSORS = {
    "phone": Sensor("phone", 9.8, 3),
    "one-inch": Sensor("one-inch", 13.2, 15),
    "large": Sensor("large", 54.0, 110),
}

#: Streaks of the vehicle over the locked-off picture while the shutter is open. [px of 1280]
STREAKS = {"still": 0.05, "moving": 10.0, "fast": 40.0}


@dataclass(frozen=True)
class Case:
    """One row of the table."""

    scene: str
    sensor: str
    motion: str
    camera: str

    @property
    def name(self) -> str:
        return f"{self.scene}, {self.sensor}, {self.motion}, {self.camera}"


def film(case: Case) -> Scene:
    """The scene of a case: the demo's, or `set-7` of that seed, with camera, stop, shutter and aim changed."""
    if case.scene.startswith("set-"):
        written = random_set(int(case.scene[4:]))
        first = _read(written)
    else:
        written = YAML(typ="safe").load((SCENES / f"{case.scene}.yaml").read_text())
        first = read_scene(SCENES / f"{case.scene}.yaml")
    shot, camera = written["shots"][0], first.shots[0].camera
    sensor, own_width = SENSORS[case.sensor], first.cameras[camera].sensor[0] * 1000
    focal = first.shots[0].focal_length * sensor.width / own_width  # the same framing
    pose = camera_at(first, first.shots[0], _mid(first))
    far = _backdrop_depth(first, pose)
    near = pose.focus_distance
    share = sensor.disc / 1280 * sensor.width / 1000
    pupil = share * (near - focal) / focal * far / abs(far - near)
    at_speed = first.shots[0].model_copy(update={"focal_length": focal})
    exposure = STREAKS[case.motion] / _pixels_a_second(first, at_speed, pose, sensor.width / 1000)
    angle = 360 * exposure * float(first.shots[0].capture.rate)
    shot["camera"] = "bench"
    f_number = max(focal / pupil, 0.5)  # a disc as large as no lens gives is a little smaller
    shot["focal_length"], shot["f_number"] = f"{focal * 1000:.4f} mm", round(f_number, 3)
    if case.motion == "fast":  # a longer exposure than the shutter can give asks for a slower rate
        shot["capture"]["rate"] = "24 fps"
        angle = 360 * exposure * 24
    shot["capture"]["shutter"] = f"{min(angle, 360):.5f} deg"
    shot["capture"]["iso"] = "auto"
    if case.camera == "panning":
        shot["aim"] = "vehicle"
    else:
        place = pose.position - pose.world_from_camera[:, 2] * near
        shot["aim"] = [f"{1000 * x:.3f} mm" for x in place]
    shot["focus"] = f"{near * 1000:.3f} mm"
    written["cameras"] = {"bench": _camera(sensor, focal, f_number)}
    written.pop("kit", None)
    return _read(written)


def _read(written: dict[str, Any]) -> Scene:
    with tempfile.TemporaryDirectory(prefix="previz-bench-") as folder:  # the demos read no files beside their own
        path = Path(folder, "bench.yaml")
        with path.open("w") as out:
            YAML().dump(written, out)
        return read_scene(path)


def _camera(sensor: Sensor, focal: float, stop: float) -> dict[str, Any]:
    return {
        "sensor": [f"{sensor.width} mm", f"{sensor.width * 9 / 16:.4f} mm"],
        "lens": f"{focal * 1000:.4f} mm",
        "widest": min(round(stop * 0.9, 3), 1.0),
        "smallest": max(round(stop * 1.1, 3), 22),
        "nearest": f"{focal * 1000 + 1:.3f} mm",
        "modes": ["1080p120", "1080p24"],
    }


def _mid(scene: Scene) -> float:
    times = frame_times(scene, scene.shots[0])
    return float(times.time(times.count // 2))


def _backdrop_depth(scene: Scene, pose: Any) -> float:
    """Along the axis to the backdrop. [m]"""
    ahead = -pose.world_from_camera[:, 2]
    return float((scene.set.backdrop.distance - pose.position[1]) / ahead[1])


def _pixels_a_second(scene: Scene, shot: Any, pose: Any, width: float) -> float:
    """How fast the vehicle crosses a picture 1280 px wide."""
    field = width * (pose.focus_distance - shot.focal_length) / shot.focal_length
    return float(np.abs(scene.vehicle.speed)) / field * 1280
