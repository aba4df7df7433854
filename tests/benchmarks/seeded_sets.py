"""Sets from a seed to film in the benchmark, so that no rule is fitted to the demos: all can be filmed as they are."""

from typing import Any

import numpy as np

_BODIES = ("lorry", "van", "bus", "saloon")


def random_set(seed: int) -> dict[str, Any]:
    """A scene as plain data; the same for the same seed. Camera, stop and shutter are the benchmark's case's to say."""
    rng = np.random.default_rng([seed, 15])
    road = float(rng.uniform(330, 420))
    body = str(rng.choice(_BODIES))
    night = rng.random() < 0.3
    sky = "night" if night else str(rng.choice(["clear", "overcast", "dusk"]))
    return {
        "title": f"Set of seed {seed}",
        "scale": "1:50",
        "units": "mm",
        "set": {
            "table": {"width": 1500, "depth": 900},
            "ground": {"surface": str(rng.choice(["asphalt", "grass", "cobbles", "snow"])), "seed": seed},
            "road": {"lane": 65, "lanes": 2, "centre": [[-60, road], [750, road + rng.uniform(-30, 30)], [1560, road]]},
            "backdrop": {
                "distance": 890, "height": 700,
                "painting": {"sky": sky, "horizon": 80},
            },
        },
        "dressing": [*_behind(rng, road), *_before(rng, road)],
        "vehicle": {"body": body, "colour": _colour(rng), "path": "road", "speed": f"{rng.uniform(0.5, 1.4):.3f} m/s"},
        "lights": [
            {"id": "key", "spot": "50 deg", "size": float(rng.uniform(30, 200)),
             "at": [float(rng.uniform(-300, 1800)), -400, float(rng.uniform(500, 1200))], "aim": [750, 450, 0],
             "output": f"{rng.uniform(300, 900) if night else rng.uniform(4000, 9000):.0f} lm"},
            {"id": "room", "ambient": "20 lx" if night else "150 lx"},
        ],
        "cameras": {"own": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": 50,
                            "modes": ["1080p120"]}},
        "shots": [{
            "id": "only", "camera": "own", "focal_length": f"{rng.uniform(14, 28):.2f} mm", "f_number": 2.8,
            "at": [float(rng.uniform(600, 900)), -float(rng.uniform(200, 450)), float(rng.uniform(60, 260))],
            "aim": "vehicle", "focus": "vehicle",
            "capture": {"rate": "120 fps", "shutter": "180 deg", "iso": "auto"}, "playback": "24 fps",
            "start": f"{600 / 1000 / 1.4:.3f} s", "duration": "0.3 s",
        }],
    }  # fmt: skip


def _colour(rng: np.random.Generator) -> str:
    return "#" + "".join(f"{int(part):02x}" for part in rng.integers(40, 220, 3))


def _behind(rng: np.random.Generator, road: float) -> list[dict[str, Any]]:
    """Houses, trees and lamp posts along the far side."""
    things: list[dict[str, Any]] = []
    for place in np.arange(150, 1400, 230):
        kind = rng.choice(["building", "container", "trees", "nothing"])
        name, at = f"far_{place:.0f}", [float(place), road + float(rng.uniform(170, 260))]
        if kind == "building":
            things.append({"id": name, "piece": "building", "at": at, "floors": int(rng.integers(1, 4)),
                           "colour": _colour(rng), "lit": 0.4, "seed": int(place)})  # fmt: skip
        elif kind == "container":
            things.append({"id": name, "piece": "container", "at": at, "stack": int(rng.integers(1, 4)),
                           "colour": _colour(rng), "seed": int(place)})  # fmt: skip
        elif kind == "trees":
            over = [[at[0] - 90, at[1] - 60], [at[0] + 90, at[1] + 60]]
            things.append({"id": name, "scatter": str(rng.choice(["conifers", "bushes"])), "over": over,
                           "count": int(rng.integers(3, 9)), "size": [40, 130], "seed": int(place)})  # fmt: skip
    things.append({"id": "lamps", "piece": "lamp_post", "along": "road", "every": 260, "first": 130, "offset": 95,
                   "height": 110, "lit": "4 lm", "light": "2700 K"})  # fmt: skip
    return things


def _before(rng: np.random.Generator, road: float) -> list[dict[str, Any]]:
    """Tufts and stones on the near side, and at times a post between camera and road."""
    near = [[300, 40], [1200, road - 110]]
    things: list[dict[str, Any]] = [
        {"id": "tufts", "scatter": "tufts", "over": near, "count": int(rng.integers(20, 80)), "size": [6, 18],
         "seed": int(rng.integers(99))},
        {"id": "stones", "scatter": "stones", "over": near, "count": int(rng.integers(5, 30)), "size": [4, 16],
         "seed": int(rng.integers(99))},
    ]  # fmt: skip
    if rng.random() < 0.5:
        things.append({"id": "sign", "piece": "sign", "at": [float(rng.uniform(700, 850)), road - 90],
                       "turn": "180 deg", "shape": str(rng.choice(["disc", "triangle"]))})  # fmt: skip
    return things
