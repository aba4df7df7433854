"""Sets, lamps and cameras at random, as data: what the meter of `check` is measured on beside the demo scenes."""

import math
from typing import Any

import numpy as np

WIDTH, DEPTH = 1200.0, 600.0
KINDS = ("container", "building", "wall", "stone", "broadleaf", "card")
SURFACES = ("concrete", "asphalt", "snow", "grass", "sand", "earth", "wood", "plain")
BODIES = ("lorry", "van", "bus", "saloon", "tractor")


def written(number: int) -> dict[str, Any]:
    """Scene `number`, as a file would hold it."""
    rng = np.random.default_rng([2024, number])
    return shot_of(
        {
            "set": _set(rng),
            "dressing": [_piece(rng, f"p{k}") for k in range(int(rng.integers(2, 7)))],
            "vehicle": {"body": BODIES[number % len(BODIES)], "path": "road", "speed": "0.595 m/s"},
            "lights": _lights(rng),
        },
        _camera(rng),
        float(rng.uniform(9, 30)),
    )


def shot_of(parts: dict[str, Any], camera: list[float], focal_length: float) -> dict[str, Any]:
    """The whole scene of set, dressing, vehicle and lights: a shot that follows the vehicle past the table's middle.

    Mid-shot, at 1 s, a vehicle at 0.595 m/s is where its baked light is worked out: the 17th place 35 mm apart.
    """
    return {
        "title": "Metered",
        "scale": "1:50",
        "units": "mm",
        **parts,
        "cameras": {
            "c": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": 50, "modes": ["1080p120"]}
        },
        "shots": [
            {
                "id": "s", "camera": "c", "focal_length": focal_length, "f_number": 4, "at": camera, "aim": "vehicle",
                "focus": "vehicle", "capture": {"rate": "120 fps", "shutter": "180 deg"}, "playback": "24 fps",
                "start": "0.7 s", "duration": "0.6 s",
            }
        ],
    }  # fmt: skip


def _colour(rng: np.random.Generator) -> str:
    return "#" + "".join(f"{code:02x}" for code in rng.integers(40, 225, 3).tolist())


def _set(rng: np.random.Generator) -> dict[str, Any]:
    found: dict[str, Any] = {
        "table": {"width": WIDTH, "depth": DEPTH},
        "ground": {"surface": str(rng.choice(SURFACES)), "relief": float(rng.uniform(15, 50)) * (rng.uniform() < 0.3)},
        "road": {"lane": "3.5 m full size", "centre": [[-50, 300], [WIDTH + 50, float(rng.uniform(280, 320))]]},
    }
    if rng.uniform() < 0.75:
        face = {"colour": _colour(rng)}
        if rng.uniform() < 0.5:
            sky = str(rng.choice(["clear", "overcast", "dusk", "dawn", "night", "snow"]))
            face = {"painting": {"sky": sky, "horizon": 60}}
        join = str(rng.choice(["cove 40", "straight"]))
        found["backdrop"] = {"distance": 590, "height": float(rng.uniform(250, 600)), "join": join, **face}
    return found


def _piece(rng: np.random.Generator, name: str) -> dict[str, Any]:
    kind = str(rng.choice(KINDS))
    y = rng.uniform(400, 520) if rng.uniform() < 0.75 else rng.uniform(60, 170)
    keys: dict[str, Any] = {
        "wall": {"length": rng.uniform(80, 400), "height": rng.uniform(15, 140)},
        "card": {"width": rng.uniform(60, 250), "height": rng.uniform(50, 200)},
        "container": {"stack": int(rng.integers(1, 4))},
        "building": {"floors": int(rng.integers(1, 4))},
        "stone": {"size": rng.uniform(20, 90)},
        "broadleaf": {"height": rng.uniform(80, 220)},
    }[kind]
    if kind != "broadleaf":
        keys["colour"] = _colour(rng)
    at = [float(rng.uniform(80, WIDTH - 80)), float(y)]
    return {"id": name, "piece": kind, "at": at, "turn": f"{rng.uniform(-30, 30)} deg", **keys}


def _lights(rng: np.random.Generator) -> list[dict[str, Any]]:
    found = []
    for k in range(int(rng.integers(1, 4))):
        turn, far = rng.uniform(0, 2 * math.pi), rng.uniform(700, 1600)
        light = {
            "id": f"l{k}",
            "at": [WIDTH / 2 + far * math.cos(turn), DEPTH / 2 + far * math.sin(turn), float(rng.uniform(150, 1500))],
            "aim": [float(rng.uniform(400, 800)), float(rng.uniform(200, 400)), float(rng.uniform(0, 80))],
            "output": f"{10 ** rng.uniform(2.5, 4)} lm",
        }
        if rng.uniform() < 0.5:
            light["panel"] = [float(rng.uniform(100, 900)), float(rng.uniform(100, 700))]
        else:
            light |= {"spot": f"{rng.uniform(20, 80)} deg", "size": float(rng.uniform(10, 80))}
        found.append(light)
    if rng.uniform() < 0.75:
        found.append({"id": "room", "ambient": f"{10 ** rng.uniform(1, 2.5)} lx"})
    return found


def _camera(rng: np.random.Generator) -> list[float]:
    turn, far = rng.uniform(-2.6, -0.5), rng.uniform(250, 900)
    return [WIDTH / 2 + far * math.cos(turn), 300 + far * math.sin(turn), float(rng.uniform(15, 400))]
