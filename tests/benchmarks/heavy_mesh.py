"""What a mesh of a million triangles costs beside one of twenty thousand: a still of 16 views, first and again.

    python tests/benchmarks/heavy_mesh.py

Prints processor time and the most memory of any one process; POSIX only. Each runs with a fresh cache folder.
"""

import os
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image

SCENE = """
title: a stone
scale: 1:43
units: mm
set: {table: {width: 1200, depth: 800}, ground: {surface: grass}}
vehicle: {body: van, path: [[0, 200], [1200, 200]], speed: 1 m/s}
dressing: [{id: stone, mesh: stone.glb, length: 220, at: [600, 420]}]
lights: [{id: room, ambient: 800 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 5.6, at: [600, -200, 80], aim: [600, 400, 60], focus: 500,
     capture: {rate: 120 fps}, start: 0.2 s, duration: 0.2 s}
"""

ROWS = {"20 thousand": 72, "1.3 million": 571, "2 million": 706}


def stone(rows: int) -> trimesh.Trimesh:
    """A lumpy ball with a texture, cut open along a meridian as exporters write it."""
    rng = np.random.default_rng(3)
    v, u = np.meshgrid(np.linspace(0, 1, rows), np.linspace(0, 1, 2 * rows), indexing="ij")
    slope, turn = np.pi * v, 2 * np.pi * u
    way = np.stack([np.sin(slope) * np.cos(turn), np.sin(slope) * np.sin(turn), np.cos(slope)], -1)
    waves = [(0.25 / (i + 1) ** 1.2, rng.normal(size=3) * (i + 2), rng.uniform(0, 6)) for i in range(12)]
    away = 1 + sum(size * np.sin(way @ bend + shift) for size, bend, shift in waves)
    number = np.arange(u.size).reshape(u.shape)
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    faces = np.concatenate([np.stack(each, -1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    grain = Image.fromarray(rng.integers(60, 200, (128, 256, 3), dtype=np.uint8)).resize((2048, 1024))
    material = trimesh.visual.material.PBRMaterial(baseColorTexture=grain, metallicFactor=0.0, roughnessFactor=0.9)
    look = trimesh.visual.TextureVisuals(uv=np.stack([u, 1 - v], -1).reshape(-1, 2), material=material)
    return trimesh.Trimesh((way * away[..., None]).reshape(-1, 3), faces, visual=look, process=False)


def still(folder: Path) -> tuple[float, float]:
    """Processor time [s] and most memory [GB] of a still, its processes together and the largest of them."""
    program = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, stderr=subprocess.DEVNULL, "
        "stdout=subprocess.DEVNULL); r = resource.getrusage(resource.RUSAGE_CHILDREN); "
        "print(r.ru_utime + r.ru_stime, r.ru_maxrss)"
    )
    command = [
        sys.executable,
        "-m",
        "previz",
        "still",
        str(folder / "scene.yaml"),
        "--views",
        "16",
        "--out",
        str(folder),
    ]
    env = {**os.environ, "PREVIZ_CACHE": str(folder / "kept")}
    said = subprocess.run(
        [sys.executable, "-c", program, *command], env=env, check=True, capture_output=True, text=True
    )
    spent, most = map(float, said.stdout.split())
    return spent, most * (1 if sys.platform == "darwin" else 1024) / 1e9


def main() -> None:
    for name, rows in ROWS.items():
        with tempfile.TemporaryDirectory() as home:
            folder = Path(home)
            model = stone(rows)
            model.export(folder / "stone.glb")
            (folder / "scene.yaml").write_text(SCENE, encoding="utf-8")
            first, again = still(folder), still(folder)
            print(
                f"{name:12} {len(model.faces):8} triangles: first {first[0]:5.1f} CPU s, {first[1]:.2f} GB; "
                f"again {again[0]:4.1f} CPU s, {again[1]:.2f} GB",
                flush=True,
            )


if __name__ == "__main__":
    main()
