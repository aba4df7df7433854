"""Scenes from a seed, of any number of pieces and in any tape's unit: what the sheets of a plan are tried on."""

from pathlib import Path

import numpy as np

from previz.scene import Scene, read_scene

_KINDS = (
    "container",
    "lamp_post",
    "conifer",
    "broadleaf",
    "bush",
    "stone",
    "building",
    "sign",
    "cone",
    "wall",
    "fence",
)


def scene_text(seed: int, pieces: int, unit: str = "mm", *, launched: bool | None = None, shots: int = 1) -> str:
    """A scene in YAML: its lengths are written in the unit."""
    rng = np.random.default_rng(seed)
    one = {"mm": 1000.0, "cm": 100.0, "in": 1 / 0.0254}[unit]

    def long(metres: float) -> str:
        return f"{metres * one:.3f} {unit}"

    def place(*metres: float) -> str:
        return "[" + ", ".join(long(each) for each in metres) + "]"

    width, depth = rng.uniform(0.8, 2.4), rng.uniform(0.5, 1.2)
    scale = float(rng.choice([43, 50, 64, 87]))
    road = depth * rng.uniform(0.3, 0.5)
    launched = bool(rng.random() < 0.5) if launched is None else launched
    lines = [
        f"title: Scene {seed} with {pieces} pieces",
        f"scale: 1:{scale:g}",
        "set:",
        f"  table: {{width: {long(width)}, depth: {long(depth)}, height: {long(0.74)}}}",
        f"  road: {{lane: 3.5 m full size, centre: [{place(-0.05, road)}, {place(width + 0.05, road + 0.02)}]}}",
        f"  backdrop: {{distance: {long(depth - 0.01)}, height: {long(0.5)}, join: cove {long(0.05)}, colour: grey}}",
        "dressing:" if pieces else "dressing: []",
    ]
    for number in range(pieces):
        kind = str(rng.choice(_KINDS))
        size = f", length: {long(rng.uniform(0.05, 0.2))}" if kind in ("wall", "fence") else ""
        x, y = rng.uniform(0.05, width - 0.05), rng.uniform(road + 0.1, depth - 0.06)
        turn = f", turn: {rng.uniform(-90, 90):.1f} deg"
        lines.append(f"  - {{id: {kind}_{number}, piece: {kind}, at: {place(x, y)}{turn}{size}}}")
    ramp = f"launch: {{ramp: {{height: {long(0.12)}, length: {long(0.4)}, foot_radius: {long(0.15)}}}}}"
    lines += [
        f"vehicle: {{body: van, {ramp if launched else f'speed: {long(0.7)}/s'}}}",
        "lights:",
        f"  - {{id: key, panel: {place(0.4, 0.3)}, at: {place(rng.uniform(-0.5, width), rng.uniform(-0.6, 0.2), 0.8)}, "
        f"aim: {place(width / 2, road, 0.0)}, output: 3000 lm, diffusion: 1 stop}}",
        f"  - {{id: sun, spot: 30 deg, at: {place(*rng.uniform(-3, 3, 2), 0.6)}, aim: {place(width / 2, road, 0.0)}, "
        "output: 500 lm, mains: true}",
        "  - {id: room, ambient: 100 lx}",
        "cameras:",
        f"  one: {{sensor: 1-inch, lens: 9-37 mm, widest: f/1.8, nearest: {long(0.05)}, modes: [1080p120, 4k60], "
        f"body: {place(0.1, 0.06, 0.04)}, lens_size: {place(0.05, 0.03)}}}",
        "shots:",
    ]
    for number in range(shots):
        x, back = rng.uniform(0.2, 0.8) * width, rng.uniform(0.05, 0.6)
        lines.append(
            f"  - {{id: shot_{number + 1}, camera: one, focal_length: {rng.uniform(9, 37):.1f} mm, f_number: 4, "
            f"at: {place(x, -back, rng.uniform(0.03, 0.4))}, aim: {place(rng.uniform(0.3, 0.7) * width, road, 0.03)}, "
            f"focus: {place(width / 2, road, 0.02)}, capture: {{rate: 120 fps}}, start: 0.2 s, duration: 0.8 s}}"
        )
    return "\n".join(lines) + "\n"


def random_scene(folder: Path, seed: int, pieces: int, unit: str = "mm", **wishes: object) -> Scene:
    """The same, read."""
    file = folder / f"scene_{seed}.yaml"
    file.write_text(scene_text(seed, pieces, unit, **wishes), encoding="utf-8")  # type: ignore[arg-type]
    return read_scene(file)
