"""Small problems at random, from a seed: a set, a vehicle that is driven or launched, a kit, wants."""

import json
from pathlib import Path
from typing import Any

import numpy as np

from previz.scene import Scene, read_scene

WIDTH, DEPTH = 2000.0, 700.0
BODIES = ("lorry", "van", "bus", "saloon", "tractor")

KITS: tuple[dict[str, Any], ...] = (
    {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": 50, "modes": ["1080p120", "4k30"]},
    {"sensor": "1/1.3-type", "lens": "6.9 mm", "widest": "f/1.8", "smallest": "f/1.8", "nearest": 120,
     "modes": [{"mode": "1080p240", "readout": "3.5 ms"}], "body": [160, 78, 9], "lens_size": [12, 2]},
    {"sensor": "full frame", "lens": "24-70 mm", "widest": "f/2.8", "nearest": 260, "modes": ["1080p120"],
     "body": [140, 100, 80], "lens_size": [85, 115]},
    {"sensor": "4/3-type", "lens": "12-40 mm", "widest": "f/2.8", "widest_at_longest": "f/4", "nearest": 170,
     "modes": ["1080p100", {"mode": "4k60", "crop": 1.2}]},
)  # fmt: skip


def written(number: int) -> dict[str, Any]:
    """Problem `number`, as a file would hold it."""
    rng = np.random.default_rng([31, number])
    names = sorted(rng.choice(len(KITS), int(rng.integers(1, 4)), replace=False).tolist())
    cameras = {f"c{each}": KITS[each] for each in names}
    first = KITS[names[0]]
    lens = str(first["lens"]).removesuffix(" mm").split("-")
    focal = float(rng.uniform(float(lens[0]), float(lens[-1])))
    at = [float(rng.uniform(1100, 1500)), float(rng.uniform(-350, 0)), float(rng.uniform(60, 160))]
    fixed = [float(rng.uniform(1200, 1400)), 320.0, float(rng.uniform(15, 45))]
    aim: Any = "vehicle" if rng.uniform() < 0.35 else fixed
    vehicle = _vehicle(rng, number)
    start = 0.15 if "launch" in vehicle else 1.36 / float(str(vehicle["speed"]).split()[0]) - 0.4
    return {
        "title": f"Problem {number}",
        "scale": "1:50",
        "units": "mm",
        "set": _set(rng),
        "dressing": [_piece(rng, k) for k in range(int(rng.integers(0, 4)))],
        "vehicle": vehicle,
        "lights": _lights(rng),
        "cameras": cameras,
        "shots": [
            {
                "id": "s", "camera": f"c{names[0]}", "focal_length": focal, "f_number": first.get("smallest", 5.6),
                "at": at, "aim": aim, "focus": _focus(rng, start), "capture": {"rate": "60 fps", "shutter": "180 deg"},
                "playback": "24 fps", "start": f"{start:.3f} s", "duration": "0.8 s",
            }
        ],
        "wants": _wants(rng),
        "may_change": {
            "launch_height": "yes", "distance": "yes" if rng.uniform() < 0.7 else "no",
            "height": "yes" if rng.uniform() < 0.4 else "no",
        },
    }  # fmt: skip


def problem(number: int, folder: Path, **changed: Any) -> Scene:
    """Problem `number`, read; with whole entries of it changed."""
    path = folder / f"problem_{number}.yaml"
    path.write_text(json.dumps(written(number) | changed), encoding="utf-8")
    return read_scene(path)


def _set(rng: np.random.Generator) -> dict[str, Any]:
    found: dict[str, Any] = {
        "table": {"width": WIDTH, "depth": DEPTH},
        "road": {"lane": "3.5 m full size", "centre": [[-60, 320], [WIDTH + 60, float(rng.uniform(280, 340))]]},
    }
    if rng.uniform() < 0.8:
        found["backdrop"] = {"distance": 690, "height": float(rng.uniform(300, 700)), "colour": "#9aa4ad"}
    return found


def _piece(rng: np.random.Generator, number: int) -> dict[str, Any]:
    at = [float(rng.uniform(800, 900)) + 350 * number, float(rng.uniform(480, 600))]
    return {"id": f"p{number}", "piece": "container", "at": at, "stack": int(rng.integers(1, 4)), "colour": "#7a5a44"}


def _vehicle(rng: np.random.Generator, number: int) -> dict[str, Any]:
    found: dict[str, Any] = {"body": BODIES[number % len(BODIES)], "path": "road"}
    if rng.uniform() < 0.6:
        return found | {"speed": f"{rng.uniform(0.4, 1.0):.2f} m/s"}
    ramp = {"height": float(rng.uniform(90, 180)), "length": 600, "foot_radius": 200, "foot": 760}
    return found | {"launch": {"ramp": ramp, "wheel_share": 0.08, "rolling": "2 %"}}


def _focus(rng: np.random.Generator, start: float) -> Any:
    return (
        str(rng.choice(["vehicle", f"vehicle at {start + 0.4:.3f} s"]))
        if rng.uniform() < 0.7
        else float(rng.uniform(300, 600))
    )


def _lights(rng: np.random.Generator) -> list[dict[str, Any]]:
    panel = [float(rng.uniform(200, 800)), float(rng.uniform(200, 500))]
    at = [float(rng.uniform(500, WIDTH)), float(rng.uniform(-400, 200)), float(rng.uniform(600, 1200))]
    key = {"id": "key", "panel": panel, "at": at, "aim": [1250, 320, 0], "output": f"{rng.uniform(2000, 12000):.0f} lm"}
    return [key | {"mains": bool(rng.uniform() < 0.3)}, {"id": "room", "ambient": f"{rng.uniform(80, 400):.0f} lx"}]


def _wants(rng: np.random.Generator) -> list[dict[str, Any]]:
    share = int(rng.integers(25, 60))
    every: list[dict[str, Any]] = [
        {"fills": f"{share} %"},
        {"sharp": str(rng.choice(["run", "mid-frame"]))},
        {"background": str(rng.choice(["soft", "sharp"]))},
        {"looks": "full size"},
        {"speed": f"{int(rng.integers(30, 50))} to {int(rng.integers(55, 90))} km/h"},
        {"lasts": f"at least {rng.uniform(1, 3):.1f} s"},
        {"iso": f"at most {int(rng.choice([400, 800, 1600, 3200]))}"},
        {"edges": "hidden"},
        {"flicker": "none"},
        {"motion_blur": "at most 10 %"},
    ]
    chosen = [every[k] for k in rng.permutation(len(every))[: int(rng.integers(2, 6))].tolist()]
    return [want | ({"must": True} if rng.uniform() < 0.35 else {}) for want in chosen]
