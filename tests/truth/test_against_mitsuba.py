"""The same glowing shapes through Mitsuba 3's thin lens: a renderer that shares nothing with ours."""

import subprocess
import sys
from pathlib import Path

import numpy as np
from bare import BareStage, bare_scene, picture, plate, solid

from previz.frames.sensor import exposure_gain
from previz.physics.colour import white_rgb
from previz.physics.exposure import working_f_number

SIZE = (180, 120)
FOCAL, STOP, FOCUS = 0.050, 2.8, 0.5


def shapes():
    """A floor of dark and light squares from near to far, and plates before, in and behind the plane of focus."""
    floor = []
    for i in range(-4, 5):
        for j in range(12):
            x, y = 0.5 + 0.1 * i, 0.2 + 0.1 * j
            corners = [[x, y, 0.42], [x + 0.1, y, 0.42], [x + 0.1, y + 0.1, 0.42], [x, y + 0.1, 0.42]]
            floor.append(solid(corners, [[0, 1, 2], [0, 2, 3]], 18.0 if (i + j) % 2 else 4.0))
    plates = [
        plate((0.5, 1.5, 0.6), 3.0, 1.5, (8, 10, 14)),  # backdrop
        plate((0.42, 0.35, 0.48), 0.03, 0.1, (30, 6, 5)),  # near
        plate((0.53, 0.5, 0.47), 0.06, 0.1, (10, 26, 8)),  # in focus
        plate((0.62, 0.8, 0.5), 0.08, 0.16, (8, 9, 30)),  # behind
        plate((0.45, 1.1, 0.56), 0.02, 0.02, 120.0),  # a small bright window far away
    ]
    return (*floor, *plates)


def in_mitsuba(stage, folder, spp):
    shapes, image = folder / "shapes.npz", folder / "picture.npy"
    values = {
        "focal": FOCAL, "stop": STOP, "focus": FOCUS, "sensor_width": 0.036, "size": SIZE, "spp": spp,
        "eye": (0.5, 0, 0.5), "target": (0.5, 1, 0.5), "count": len(stage.still),
    }  # fmt: skip
    for number, lit in enumerate(stage.still):
        values |= {f"vertices{number}": lit.mesh.vertices, f"faces{number}": lit.mesh.faces}
        values[f"glow{number}"] = np.array(lit.mesh.material.glow)
    np.savez(shapes, **values)
    program = Path(__file__).with_name("mitsuba_thin_lens.py")
    ran = subprocess.run([sys.executable, str(program), str(shapes), str(image)], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr[-2000:]
    return np.load(image)


def test_the_picture_agrees_with_mitsubas_thin_lens_to_40_db(tmp_path):
    stage = BareStage(shapes())
    scene = bare_scene(tmp_path, size=SIZE)
    ours = picture(scene, stage, size=SIZE, views=512)
    theirs = in_mitsuba(stage, tmp_path, spp=400)  # 49 dB; with 1024 of both 52 for twice the time
    # Both linear; ours in shares of saturation, theirs in radiance: one factor between them, from the exposure law.
    gain = exposure_gain(1 / 48, working_f_number(STOP, FOCAL / (FOCUS - FOCAL)), 100)
    ours = ours / gain * white_rgb(5600)  # before white balance
    white = 30.0  # the brightest large surface
    error = np.clip(ours, 0, white) - np.clip(theirs, 0, white)
    psnr = 10 * np.log10(white**2 / np.mean(error**2))
    assert psnr > 40, f"{psnr:.1f} dB"
