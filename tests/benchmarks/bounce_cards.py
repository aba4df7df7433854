"""Bounce cards and flags against Mitsuba 3: the light on the ground of a bare table, card by card.

    python tests/benchmarks/bounce_cards.py

Mitsuba (scalar, path tracing) lights the same boards, table and panel, all diffuse. Compared is the illuminance
at places on the ground that see the card: ours as baked in full, and Mitsuba's as radiance over reflectance.
"""

import math
import subprocess
import sys
from pathlib import Path

import numpy as np

PLACES = np.array([[x, y] for x in (0.3, 0.5, 0.7) for y in (0.15, 0.25, 0.35)])
GREY = 0.2158605  # of #808080 (IEC 61966-2-1)
CARDS = {
    "white, leant forward": {"piece": "bounce", "tilt": "-30 deg"},
    "white, level over the table": {"piece": "bounce", "tilt": "-90 deg", "at": [500, 350, 250]},
    "red": {"piece": "bounce", "tilt": "-30 deg", "colour": "#c04030"},
    "small flag before the lamp": {"piece": "flag", "at": [500, 20, 0], "width": 120, "height": 120},
}


def scene_of(card):
    """A grey table, one panel low at the front, one card at the back."""
    from previz.scene import FileUnits, Scene

    written = {
        "title": "cards", "scale": "1:50", "units": "mm",
        "set": {"table": {"width": 1000, "depth": 500}, "ground": {"surface": "plain", "colour": "#808080"}},
        "dressing": [{"id": "c", "width": 400, "height": 250, "at": [500, 480, 20], **card}] if card else [],
        "vehicle": {"body": "van", "speed": 0, "path": [[30, 30], [60, 30]]},
        "lights": [{"id": "key", "panel": [200, 150], "at": [500, -600, 300], "aim": [500, 450, 100],
                    "output": "2000 lm"}],
        "cameras": {"c": {"sensor": "1-inch", "lens": "10 mm", "widest": "f/2", "nearest": "50 mm",
                          "modes": ["1080p60"]}},
        "shots": [{"id": "s", "camera": "c", "focal_length": "10 mm", "f_number": 4, "at": [500, -300, 100],
                   "aim": [500, 250, 0], "focus": [500, 250, 0], "capture": {"rate": "24 fps"}, "duration": "1 s"}],
    }  # fmt: skip
    return Scene.model_validate(written, context=FileUnits(0.001, 50.0))


def ours(scene):
    """Illuminance of the ground at PLACES. (n, 3) [lx]"""
    from previz.stage import build_stage

    light = build_stage(scene, "full", cache=False).ground.light
    rows, columns = light.shape[:2]
    return light[((0.5 - PLACES[:, 1]) / 0.5 * rows).astype(int), (PLACES[:, 0] * columns).astype(int)]


def theirs(path):
    """The same by Mitsuba, of what `ours` wrote there."""
    import mitsuba as mi

    mi.set_variant("scalar_rgb")  # needs nothing that a fresh machine lacks
    data = np.load(path)
    parts = {"type": "scene", "integrator": {"type": "path", "max_depth": 6, "hide_emitters": False}}
    grey = {"type": "diffuse", "reflectance": {"type": "rgb", "value": float(GREY)}}
    flat = mi.ScalarTransform4f().translate([0.5, 0.25, 0]).scale([0.5, 0.25, 1])
    parts["table"] = {"type": "rectangle", "to_world": flat, "bsdf": {"type": "twosided", "inner": grey}}
    u, v, n, centre = (data["panel"][k] for k in range(4))
    matrix = np.column_stack([*(np.append(each, 0) for each in (u, v, n)), np.append(centre, 1)])
    parts["panel"] = {
        "type": "rectangle", "to_world": mi.ScalarTransform4f(matrix.tolist()),
        "emitter": {"type": "area", "radiance": {"type": "rgb", "value": data["radiance"].tolist()}},
    }  # fmt: skip
    if "board" in data:
        u, v, n, centre = (data["board"][k] for k in range(4))
        matrix = np.column_stack([*(np.append(each, 0) for each in (u, v, n)), np.append(centre, 1)])
        paint = {"type": "diffuse", "reflectance": {"type": "rgb", "value": data["colour"].tolist()}}
        parts["board"] = {"type": "cube", "to_world": mi.ScalarTransform4f(matrix.tolist()), "bsdf": paint}
    scene = mi.load_dict(parts)
    found = []
    for number, (x, y) in enumerate(PLACES):
        sensor = mi.load_dict(
            {
                "type": "perspective", "fov": 1.0, "near_clip": 1e-4,
                "to_world": mi.ScalarTransform4f().look_at([x, y, 0.012], [x, y, 0], [0, 1, 0]),
                "film": {"type": "hdrfilm", "width": 1, "height": 1, "rfilter": {"type": "box"}},
                "sampler": {"type": "independent", "sample_count": 1 << 16, "seed": number},
            }
        )  # fmt: skip
        found.append(np.array(mi.render(scene, sensor=sensor, seed=number))[0, 0, :3])
    np.save(path.with_suffix(".npy"), np.array(found) * math.pi / GREY)


def compare(folder):
    """A row for each card: what it adds to the ground by both, and how far the whole differs."""
    from previz.layout import emitters_of, light_cards

    shown = {}
    for name, card in {"none": None, **CARDS}.items():
        scene = scene_of(card)
        panel = emitters_of(scene)[0]
        told = {
            "panel": np.array([panel.half_u, panel.half_v, panel.normal, panel.centre]), "radiance": panel.radiance
        }  # fmt: skip
        for board in light_cards(scene):
            told |= {"board": np.concatenate([board.half, board.middle[None]]), "colour": board.spec.colour}
        path = folder / "case.npz"
        np.savez(path, **told)
        subprocess.run([sys.executable, __file__, str(path)], check=True)
        shown[name] = ours(scene), np.load(path.with_suffix(".npy"))
        mine, other = (each[:, 1] for each in shown[name])
        gain = [float(np.mean(each[:, 1] - none[:, 1])) for each, none in zip(shown[name], shown["none"], strict=True)]
        off = np.abs(mine - other).max() / shown["none"][1][:, 1].mean()
        print(f"{name:28} adds {gain[0]:8.2f} lx, Mitsuba {gain[1]:8.2f}; furthest apart {off:.2%}", flush=True)


if __name__ == "__main__":
    import tempfile

    if len(sys.argv) > 1:
        theirs(Path(sys.argv[1]))
    else:
        with tempfile.TemporaryDirectory() as folder:
            compare(Path(folder))
