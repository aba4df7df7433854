"""Sets of two scales from a seed: a house of the set's own scale, and one of a smaller scale beside or behind it.

What a picture gives away is reckoned here by hand: a level pinhole camera, similar triangles, the thin lens.
"""

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from previz.predictions import Finding, view_of
from previz.predictions.checks.perspective import check_perspective
from previz.scene import Scene
from tests.predictions.broken_scenes import read

#: Sensor's width and height, lens and its stops: made-up numbers of the kinds people own. [mm]
CAMERAS: tuple[tuple[float, float, float, float, float], ...] = (
    (9.6, 5.4, 6.8, 1.8, 16.0),
    (13.2, 7.4, 12.0, 1.8, 11.0),
    (36.0, 20.25, 50.0, 1.8, 22.0),
)

#: From floor to floor of a house by itself, and the lowest that passes for one: what `sizes.py` has. [m]
FLOOR, LOWEST_FLOOR = 3.2, 2.4


@dataclass(frozen=True)
class Drawn:
    """A scene as data, with what was drawn for it in metres."""

    data: dict[str, Any]
    scale: float
    own: float
    eye: float
    beside: float  # where both houses stand, from the lens to their fronts
    focus: float
    focal: float
    f_number: float
    sensor: tuple[float, float]

    def foot_off(self) -> float:
        """How much lower than it ought to the foot of the one beside stands, of the picture's height."""
        image = self.focal * self.focus / (self.focus - self.focal)
        times = self.own / self.scale * LOWEST_FLOOR / FLOOR
        row, would = (image * self.eye / distance for distance in (self.beside, self.beside * times))
        return (row - would) / self.sensor[1]

    def foot_blur(self) -> float:
        """How wide the foot is blurred, of the picture's height."""
        image = self.focal * self.focus / (self.focus - self.focal)
        behind = self.focal * self.beside / (self.beside - self.focal)  # where it would be sharp
        return self.focal / self.f_number * abs(image - behind) / behind / self.sensor[1]


def drawn(seed: int, where: str = "beside") -> Drawn:
    """The set of a seed: `beside`, `behind`, or `one scale`, where both houses are of the set's."""
    rng = np.random.default_rng([seed, 15])
    scale = float(rng.choice([32, 43, 50, 64]))
    own = round(scale * float(rng.uniform(1.7, 2.4)), 1)
    wide, high, focal, widest, smallest = CAMERAS[int(rng.integers(len(CAMERAS)))]
    f_number = round(min(widest * 2 ** float(rng.uniform(0, 3)), smallest), 1)
    eye, row = float(rng.uniform(0.2, 2.4)) / scale, float(rng.uniform(500, 700))
    # The tallest lens takes in both houses from there.
    lens = -float(rng.uniform(150, 300))
    apart = 0.55 * 9000 / scale
    behind = where == "behind"
    far: dict[str, Any] = {"id": "far", "piece": "building", "floors": 2, "at": [1500 + apart, 2200 if behind else row]}
    far |= {"depth": 60}
    if where != "one scale":
        far["scale"] = f"1:{own:g}"
    near = {"id": "near", "piece": "building", "floors": 2, "depth": 60, "at": [1500 - apart, row]}
    hedge = {"id": "hedge", "piece": "hedge", "at": [1500 + apart, 2080], "length": 700}
    data: dict[str, Any] = {
        "title": f"Two scales from seed {seed}",
        "scale": f"1:{scale:g}",
        "units": "mm",
        "set": {
            "table": {"width": 3000, "depth": 2500},
            "road": {"lane": "3.5 m full size", "centre": [[-60, 250], [3060, 250]]},
        },
        "dressing": [near, far, *([hedge] if behind else [])],
        "lights": [{"id": "room", "ambient": "500 lx"}],
        "cameras": {
            "any": {"sensor": [wide, high], "lens": focal, "widest": f"f/{widest:g}", "smallest": f"f/{smallest:g}",
                    "nearest": 80, "modes": ["1080p60"]},
        },
        "shots": [
            {"id": "look", "camera": "any", "f_number": f_number, "at": [1500, lens, eye * 1000],
             "aim": [1500, 1000, eye * 1000], "focus": 250 - lens, "capture": {"rate": "60 fps"}, "duration": "0.2 s"},
        ],
    }  # fmt: skip
    front = (row - 30 - lens) / 1000
    return Drawn(data, scale, own, eye, front, (250 - lens) / 1000, focal / 1000, f_number, (wide / 1000, high / 1000))


def told(scene: Scene) -> list[Finding]:
    """What the check alone says of the first shot."""
    return check_perspective(view_of(scene, scene.shots[0])).findings


def far_house(data: dict[str, Any], folder: Path) -> Finding | None:
    """What is said of the house called far."""
    return next((each for each in told(read(data, folder)) if each.id == "perspective.far"), None)


def in_view(case: Drawn) -> bool:
    """Whether the foot of the house beside lies in the picture: its middle across, and its foot down."""
    image = case.focal * case.focus / (case.focus - case.focal)
    across, down = image * 0.55 * 9 / case.scale / case.beside, image * case.eye / case.beside
    half = 0.5 * 9 / case.own * image / case.beside
    return across + half < case.sensor[0] / 2 and down < case.sensor[1] / 2


def sure(case: Drawn) -> bool | None:
    """Whether the foot of the house beside gives it away; None where that is too near a limit to be told by hand."""
    past = case.foot_off() / max(0.005, case.foot_blur())
    return None if 1 / 1.3 < past < 1.3 or not math.isfinite(past) else past > 1
