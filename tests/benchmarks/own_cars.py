"""Cars as makers model them, in 5 thousand, 200 thousand and 2 million triangles: checked, a still, a moving frame.

    python tests/benchmarks/own_cars.py FOLDER [plain] [usual] [scanned]

Writes the cars and a scene of each into FOLDER, pictures beside them, and prints processor time and the most memory of
any one process; POSIX only. The cars are made up here: a body with a livery, windows, panel lines and lamps in its
pictures, chrome, tinted glass, four wheels of rubber and alloy that are nodes of their own, and a second car in the
same file.
"""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import trimesh
from PIL import Image
from trimesh.visual import TextureVisuals
from trimesh.visual.material import PBRMaterial

SCENE = """
title: a car of the maker's own, {name}
scale: 1:43
units: mm
set:
  table: {{width: 1200, depth: 800}}
  ground: {{surface: asphalt}}
vehicle:
  {{mesh: {name}.glb, node: car, length: 105, wheels: [wheel_fl, wheel_fr, wheel_rl, wheel_rr], glow: 900 cd/m2,
   path: [[540, 300], [1140, 300]], speed: {speed}}}
dressing:
  - {{id: parked, mesh: {name}.glb, node: old_car, length: 98, at: [640, 420], turn: 172 deg, glow: 900 cd/m2}}
  - {{id: house, piece: building, at: [500, 640], floors: 2, width: 400}}
lights:
  - {{id: room, ambient: 300 lx}}
  - {{id: window, panel: [800, 500], at: [200, -500, 900], aim: [600, 300, 0], output: 5000 lm}}
cameras: {{pocket: {{sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}}}
shots:
  - {{id: pass, camera: pocket, focal_length: 20 mm, f_number: 8, at: [{at}, 60], aim: [{aim}, 300, 14], focus: {focus},
     capture: {{rate: 24 fps, shutter: 180 deg}}, start: 0 s, duration: 0.3 s}}
"""

#: Rows of the body, round it and along it, and sides of a wheel.
SIZES = {"plain": (36, 26, 24), "usual": (320, 230, 140), "scanned": (1100, 800, 340)}


def profile(x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Underside, upper side and half width along a car 4.2 m long; x from -1 at its tail to 1 at its nose."""
    upper = np.interp(x, [-1, -0.97, -0.66, -0.34, 0.12, 0.46, 0.94, 1], [0.62, 0.82, 0.9, 1.4, 1.42, 0.94, 0.74, 0.58])
    lower = np.interp(x, [-1, -0.9, 0.9, 1], [0.42, 0.2, 0.2, 0.36])
    half = np.interp(x, [-1, -0.93, -0.6, 0.6, 0.94, 1], [0.62, 0.8, 0.86, 0.86, 0.78, 0.6])
    smooth = np.hanning(max(len(x) // 16, 3) + 2)[1:-1]
    return tuple(  # type: ignore[return-value]
        np.convolve(np.pad(each, len(smooth), "edge"), smooth / smooth.sum(), "same")[len(smooth) : -len(smooth)]
        for each in (upper, lower, half)
    )


def grid(points: np.ndarray, uv: np.ndarray, material: PBRMaterial, *, flip: bool = False) -> trimesh.Trimesh:
    """A sheet of triangles over points (n, m, 3)."""
    number = np.arange(points.shape[0] * points.shape[1]).reshape(points.shape[:2])
    a, b, c, d = number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]
    faces = np.concatenate([np.stack(each, -1).reshape(-1, 3) for each in ((a, b, c), (a, c, d))])
    faces = faces[:, ::-1] if flip else faces
    made = trimesh.Trimesh(points.reshape(-1, 3), faces, process=False)
    return trimesh.Trimesh(
        made.vertices,
        faces,
        vertex_normals=made.vertex_normals,
        visual=TextureVisuals(uv=np.stack([uv[..., 0], 1 - uv[..., 1]], -1).reshape(-1, 2), material=material),
        process=False,
    )


def body(rows: int, columns: int, material: PBRMaterial) -> trimesh.Trimesh:
    """A rounded car body, x forward, z up, in metres; u runs from tail to nose, v round it from the left sill."""
    x = -np.cos(np.linspace(0, np.pi, columns))
    upper, lower, half = profile(x)
    close = np.sqrt(np.maximum(1 - np.abs(x) ** 24, 0))
    turn = np.linspace(-0.25, 0.75, rows) * 2 * np.pi
    c, s = np.cos(turn), np.sin(turn)
    across, rise = np.sign(c) * np.abs(c) ** 0.55, np.sign(s) * np.abs(s) ** 0.55
    middle, tall = (upper + lower) / 2, (upper - lower) / 2
    z = middle + tall * close * rise[:, None]
    y = half * close * across[:, None]
    y = y * (1 - 0.32 * np.clip((z - 0.85) / 0.6, 0, 1))
    points = np.stack([np.broadcast_to(2.1 * x, z.shape), y, z], -1)
    uv = np.stack(np.broadcast_arrays((x + 1) / 2, np.linspace(0, 1, rows)[:, None]), -1)
    return grid(points, uv, material)


def pictures(paint: tuple[int, int, int], size: int = 1024) -> dict[str, Image.Image]:
    """What the body's pictures show. Rows run round the body: underside, left side, roof, right side, underside."""
    v, u = np.meshgrid((np.arange(size) + 0.5) / size, (np.arange(size) + 0.5) / size, indexing="ij")
    side = np.minimum(v, 1 - v)  # 0 in the middle of the underside, 0.25 at the widest, 0.5 on the roof's ridge
    window = (side > 0.305) & (side < 0.40) & (u > 0.34) & (u < 0.66)
    window &= ~((np.abs(u - 0.5) < 0.008) & (side < 0.40))
    screen = (side >= 0.43) & (((u > 0.60) & (u < 0.70)) | ((u > 0.19) & (u < 0.31)))
    stripe = (np.abs(v - 0.5) > 0.012) & (np.abs(v - 0.5) < 0.03)
    arch = sum(np.hypot((u - at) / 0.088, (side - 0.155) / 0.085) < 1 for at in (0.195, 0.805)) > 0
    line = sum((np.abs(u - at) < 0.0018) & (side > 0.17) & (side < 0.41) for at in (0.36, 0.5, 0.64)) > 0
    lamp = (side > 0.235) & (side < 0.29) & (u > 0.965)
    tail = (side > 0.235) & (side < 0.29) & (u < 0.035)
    base = np.empty((size, size, 3), np.uint8)
    base[:] = paint
    for where, colour in (
        (stripe, (235, 232, 220)),
        (line, (12, 12, 12)),
        (side < 0.12, (20, 20, 20)),
        (arch, (8, 8, 8)),
        (window | screen, (14, 18, 20)),
        (lamp, (240, 240, 235)),
        (tail, (150, 12, 10)),
    ):
        base[where] = colour  # fmt: skip
    both = np.zeros((size, size, 3), np.uint8)
    both[..., 1] = np.where(window | screen | lamp | tail, 12, np.where((side < 0.12) | arch, 240, 70))
    height = np.where(line, -1.0, 0.0) + np.where(window | screen, -0.6, 0.0)
    ahead, down = np.gradient(height, axis=1), np.gradient(height, axis=0)
    tilt = np.stack([-ahead, down, np.full_like(height, 1.0)], -1)
    tilt /= np.linalg.norm(tilt, axis=-1, keepdims=True)
    shade = np.clip(0.45 + 3.0 * side, 0.4, 1.0)
    glow = np.zeros((size, size, 3), np.uint8)
    glow[lamp], glow[tail] = (255, 244, 220), (200, 10, 6)
    return {
        "baseColorTexture": Image.fromarray(base),
        "metallicRoughnessTexture": Image.fromarray(both),
        "normalTexture": Image.fromarray(np.round((tilt + 1) * 127.5).astype(np.uint8)),
        "occlusionTexture": Image.fromarray(np.repeat((255 * shade)[..., None], 3, axis=2).astype(np.uint8)),
        "emissiveTexture": Image.fromarray(glow),
    }


def lathe(outline: list[tuple[float, float]], sides: int, material: PBRMaterial) -> trimesh.Trimesh:
    """A solid of revolution about y, from (radius, y) pairs."""
    turn = np.linspace(0, 2 * np.pi, sides + 1)
    r, y = np.array(outline).T
    points = np.stack(np.broadcast_arrays(r * np.cos(turn)[:, None], y, r * np.sin(turn)[:, None]), -1)
    uv = np.stack(np.broadcast_arrays((turn / 2 / np.pi)[:, None], np.linspace(0, 1, len(r))), -1)
    return grid(points, uv, material)


def wheel(sides: int, outer: float) -> list[trimesh.Trimesh]:
    """A tyre, a dark well and five spokes on the `outer` side, 1 or -1, about y."""
    rubber = PBRMaterial(baseColorFactor=[0.02, 0.02, 0.02, 1.0], metallicFactor=0.0, roughnessFactor=0.85)
    alloy = PBRMaterial(baseColorFactor=[0.9, 0.91, 0.92, 1.0], metallicFactor=1.0, roughnessFactor=0.25)
    dark = PBRMaterial(baseColorFactor=[0.01, 0.01, 0.01, 1.0], metallicFactor=0.0, roughnessFactor=0.9)
    steps = max(sides // 12, 2)
    bend = np.linspace(-np.pi / 2, np.pi / 2, 2 * steps + 1)
    tread = [(0.25 + 0.06 * np.cos(a) ** 0.4, 0.095 * np.sin(a)) for a in np.clip(bend, -1.5707, 1.5707)]
    tyre = lathe([(0.21, -0.085), *tread, (0.21, 0.085)][::-1], sides, rubber)
    well = lathe([(0.215, -0.08), (0.215, 0.0), (0.0, 0.0)], sides, dark)
    well = well if outer > 0 else mirrored(well)
    spokes = []
    for k in range(5):
        blade = trimesh.creation.box((0.19, 0.03, 0.05))
        blade.apply_translation((0.115, outer * 0.055, 0))
        blade.apply_transform(trimesh.transformations.rotation_matrix(2 * np.pi * k / 5, (0, 1, 0)))
        spokes.append(blade)
    cap = trimesh.creation.cylinder(0.055, 0.05, sections=max(sides // 4, 8))
    cap.apply_transform(trimesh.transformations.rotation_matrix(np.pi / 2, (1, 0, 0)))
    cap.apply_translation((0, outer * 0.055, 0))
    star = trimesh.util.concatenate([*spokes, cap])
    star.visual = TextureVisuals(material=alloy)
    return [tyre, well, star]


def mirrored(mesh: trimesh.Trimesh) -> trimesh.Trimesh:
    """Left for right."""
    return trimesh.Trimesh(mesh.vertices * (1, -1, 1), mesh.faces[:, ::-1], visual=mesh.visual, process=False)


def chrome(sides: int) -> trimesh.Trimesh:
    """A bumper bar round the nose and one round the tail."""
    metal = PBRMaterial(baseColorFactor=[0.95, 0.95, 0.96, 1.0], metallicFactor=1.0, roughnessFactor=0.08)
    bars = []
    for end in (-1, 1):
        way = np.linspace(-1, 1, max(sides // 2, 8))
        x = end * (2.14 - 0.16 * np.abs(way) ** 4)
        middle = np.stack([x, 0.74 * way, np.full_like(way, 0.46)], -1)
        turn = np.linspace(0, 2 * np.pi, max(sides // 6, 8) + 1)
        ring = np.stack([np.cos(turn) * end, np.zeros_like(turn), np.sin(turn)], -1) * 0.055
        points = middle[:, None] + ring
        bars.append(grid(points, np.zeros((*points.shape[:2], 2)), metal, flip=end < 0))
    return trimesh.util.concatenate(bars)


def car(size: tuple[int, int, int], paint: tuple[int, int, int]) -> dict[str, list[trimesh.Trimesh]]:
    """Meshes by the node that they hang on, x forward, y left, z up."""
    rows, columns, sides = size
    skin = PBRMaterial(
        **pictures(paint), metallicFactor=1.0, roughnessFactor=1.0, emissiveFactor=[1.0, 1.0, 1.0], doubleSided=False
    )
    tint = PBRMaterial(
        baseColorFactor=[0.5, 0.8, 0.9, 0.4], metallicFactor=0.0, roughnessFactor=0.05, alphaMode="BLEND"
    )
    deflector = trimesh.creation.box((0.02, 0.7, 0.12))
    deflector.visual = TextureVisuals(material=tint)
    deflector.apply_translation((0.72, 0, 1.0))
    found = {"body": [body(rows, columns, skin), chrome(sides), deflector]}
    for name, x, y in (("fl", 1.28, 0.78), ("fr", 1.28, -0.78), ("rl", -1.28, 0.78), ("rr", -1.28, -0.78)):
        parts = wheel(sides, np.sign(y))
        for part in parts:
            part.apply_translation((x, y, 0.31))
        found[f"wheel_{name}"] = parts
    return found


def written(path: Path, size: tuple[int, int, int]) -> int:
    """Two cars in one file, one above the other node by node; returns how many triangles it has."""
    scene = trimesh.Scene()
    up = trimesh.transformations.rotation_matrix(-np.pi / 2, (1, 0, 0))  # glTF has y up
    small = tuple(max(each // 3, 12) for each in size)
    count = 0
    for prefix, name, of_size, paint, at in (
        ("", "car", size, (150, 24, 18), 0.0),
        ("old_", "old_car", small, (38, 74, 60), 4.0),
    ):
        scene.graph.update(
            frame_from="world", frame_to=name, matrix=up @ trimesh.transformations.translation_matrix([0, at, 0])
        )
        for node, meshes in car(of_size, paint).items():
            scene.graph.update(frame_from=name, frame_to=prefix + node)
            for k, mesh in enumerate(meshes):
                count += len(mesh.faces)
                scene.add_geometry(mesh, geom_name=f"{prefix}{node}_{k}", parent_node_name=prefix + node)
    path.write_bytes(trimesh.exchange.gltf.export_glb(scene, include_normals=True))
    return count


def spent(command: list[str], kept: Path) -> tuple[float, float]:
    """Processor time [s] and most memory [GB] of a command, its processes together and the largest of them."""
    program = (
        "import resource, subprocess, sys; subprocess.run(sys.argv[1:], stdout=sys.stderr); "
        "r = resource.getrusage(resource.RUSAGE_CHILDREN); print(r.ru_utime + r.ru_stime, r.ru_maxrss)"
    )
    env = {**os.environ, "PREVIZ_CACHE": str(kept)}
    said = subprocess.run(
        [sys.executable, "-c", program, *command], env=env, check=True, capture_output=True, text=True
    )
    if "--verbose" in sys.argv:
        print(said.stderr)
    seconds, most = map(float, said.stdout.split())
    return seconds, most * (1 if sys.platform == "darwin" else 1024) / 1e9


def main() -> None:
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    for name in sys.argv[2:] or SIZES:
        size = SIZES[name]
        count = written(folder / f"{name}.glb", size)
        for kind, speed, at, aim, focus in (
            ("still", "0 m/s", "640, 110", "555", 200),
            ("moving", "0.5 m/s", "690, 80", "610", 230),
        ):
            scene = folder / f"{name}_{kind}.yaml"
            scene.write_text(SCENE.format(name=name, speed=speed, at=at, aim=aim, focus=focus), encoding="utf-8")
            previz, kept = [sys.executable, "-m", "previz"], folder / f"kept_{name}"
            told = []
            if kind == "still":
                told.append(("check", spent([*previz, "check", str(scene)], kept)))
            told.append((kind, spent([*previz, "still", str(scene), "--out", str(folder / name / kind)], kept)))
            told.append(
                (f"{kind} again", spent([*previz, "still", str(scene), "--out", str(folder / name / kind)], kept))
            )
            for what, (seconds, most) in told:
                print(f"{name:8} {count:8} triangles, {what:12}: {seconds:5.1f} CPU s, {most:.2f} GB", flush=True)


if __name__ == "__main__":
    main()
