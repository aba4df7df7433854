"""Scenes to print: one piece or forty, in millimetres or inches, from a seed."""

import json
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image, ImageDraw

from previz.scene import Scene, read_scene

KINDS = ("container", "sign", "cone", "card", "building", "lamp_post", "stone", "bush", "conifer", "sign")
SHAPES = ("disc", "triangle", "square", "board")


def scene_data(count: int, unit: str = "mm", seed: int = 0) -> dict[str, Any]:
    """A table 900 mm x 420 mm with so many pieces strewn over it, a road, a ramp, a painted backdrop with a cove."""
    rng, factor = np.random.default_rng(seed), 1.0 if unit == "mm" else 1 / 25.4

    def long(millimetres: float) -> float:
        return round(float(millimetres) * factor, 4)

    pieces = []
    for number in range(count):
        kind = KINDS[number % len(KINDS)]
        y = rng.uniform(30, 90) if rng.random() < 0.5 else rng.uniform(240, 340)
        piece: dict[str, Any] = {
            "id": f"{kind}_{number}", "piece": kind, "at": [long(rng.uniform(40, 860)), long(y)],
            "turn": f"{rng.integers(-40, 41)} deg",
        }  # fmt: skip
        if kind == "sign":
            piece |= {"shape": SHAPES[number % 4], "height": long(90)}
        if kind == "card":
            piece |= {"width": long(60 if number < 30 else 400), "height": long(50 if number < 30 else 320)}
        if kind == "card" and number < 20:
            piece["image"] = "tree.png"
        if kind == "building":
            piece |= {"width": long(70), "depth": long(40), "height": long(60)}
        pieces.append(piece)
    return {
        "title": f"{count} pieces, $x^2$ in {unit}", "scale": "1:60", "units": unit,
        "set": {
            "table": {"width": long(900), "depth": long(420)},
            "ground": {"surface": "concrete"},
            "road": {"lane": long(55), "centre": [[long(-40), long(150)], [long(940), long(165)]], "markings": "solid"},
            "backdrop": {
                "distance": long(410), "height": long(300), "join": f"cove {long(50)} {unit}",
                "painting": {"sky": "dusk", "horizon": long(50),
                             "layers": [{"shape": "hills", "height": long(120), "colour": "#404860"}]},
            },
        },
        "dressing": pieces,
        "vehicle": {"body": "van", "path": "road",
                    "launch": {"ramp": {"height": long(120), "length": long(450), "foot": long(350)}}},
        "lights": [
            {"id": "key", "panel": [long(300), long(200)], "at": [long(200), long(100), long(700)],
             "aim": [long(450), long(160), 0], "output": "3000 lm", "mains": True},
            {"id": "side", "spot": "30 deg", "at": [long(-300), long(100), long(300)],
             "aim": [long(450), long(160), 0], "output": "900 lm"},
        ],
        "cameras": {"pocket": {"sensor": "1-inch", "lens": "8.8-36.8 mm", "widest": "f/1.8", "nearest": "50 mm",
                               "modes": ["1080p120"]}},
        "shots": [{"id": "pass", "camera": "pocket", "focal_length": "16 mm", "f_number": 4,
                   "at": [long(450), long(40), long(40)], "aim": [long(450), long(160), long(30)],
                   "focus": f"{long(110)} {unit}", "capture": {"rate": "120 fps"}, "start": "0.05 s",
                   "duration": "0.2 s"}],
    }  # fmt: skip


def written(data: dict[str, Any], folder: Path) -> Path:
    """The scene's file, with the picture that cards use."""
    image = Image.new("RGBA", (300, 250), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    draw.ellipse((40, 10, 260, 150), fill=(60, 140, 60, 255))
    draw.rectangle((140, 140, 160, 249), fill=(90, 60, 30, 255))
    image.save(folder / "tree.png")
    path = folder / "scene.yaml"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


def scene_of(data: dict[str, Any], folder: Path) -> Scene:
    """The scene read."""
    return read_scene(written(data, folder))
