"""A stage of a few glowing shapes and nothing else, so that what is measured is the lens and the drawing alone."""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from previz.frames import Look, render_frames
from previz.mesh import Material, Mesh
from previz.scene import read_scene
from previz.stage import LitGround, LitMesh, Station, VehicleModel

FAR_AWAY = np.array([0.0, -40.0, -40.0])  # the ground and the vehicle that every stage has, out of sight

SCENE = """
title: Bare
scale: 1:50
units: mm
set: {{table: {{width: 1000, depth: 1000}}}}
vehicle: {{body: van, path: [[0, 500], [1000, 500]], speed: {speed} m/s}}
lights: [{{id: room, ambient: 100 lx}}]
cameras:
  camera:
    {{sensor: [{sensor}], lens: {focal} mm, widest: f/1.0, smallest: f/22, nearest: {nearest} mm,
     modes: [{width}x{height} at 240 fps], glare: none}}
shots:
  - id: only
    camera: camera
    focal_length: {focal} mm
    f_number: {stop}
    at: [500, 0, 500]
    aim: {aim}
    focus: {focus} mm
    capture: {{rate: 24 fps, shutter: 180 deg, iso: 100}}
    duration: 0.5 s
"""


def plate(middle, width, height, glow):
    """An upright rectangle facing the camera (-y), with that radiance."""
    half = np.array([[-width, -height], [width, -height], [width, height], [-width, height]]) / 2
    corners = np.column_stack([half[:, 0], np.zeros(4), half[:, 1]]) + middle
    return solid(corners, [[0, 1, 2], [0, 2, 3]], glow)


def solid(corners, faces, glow):
    """Any triangles that glow evenly and reflect nothing."""
    count = len(corners)
    mesh = Mesh(
        vertices=np.asarray(corners, dtype=float),
        faces=np.asarray(faces),
        normals=np.tile([0.0, -1.0, 0.0], (count, 1)),
        colours=np.zeros((count, 3)),
        material=Material(two_sided=True, glow=tuple(float(channel) for channel in np.broadcast_to(glow, 3))),
    )
    return LitMesh(mesh, np.zeros((count, 3), np.float32))


def _hidden_ground():
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]]) + FAR_AWAY
    mesh = Mesh(corners, np.array([[0, 1, 2]]), np.tile([0, 0, 1.0], (3, 1)), np.ones((3, 3)), uv=np.zeros((3, 2)))
    return LitGround(mesh, np.zeros((2, 2, 3), np.uint8), np.zeros((2, 2, 3), np.float32))


def _hidden_vehicle():
    corners = np.array([[0, 0, 0], [1, 0, 0], [0, 1, 0]]) * 1e-6 + FAR_AWAY
    mesh = Mesh(corners, np.array([[0, 1, 2]]), np.tile([0, 0, 1.0], (3, 1)), np.zeros((3, 3)))
    return VehicleModel((mesh,), (), (), 0.1, 0.04, 0.05)


@dataclass(frozen=True)
class BareStage:
    """What `frames` asks of a stage, without baking."""

    still: tuple
    lamps: tuple = ()
    vehicle: VehicleModel = field(default_factory=_hidden_vehicle)
    ground: LitGround = field(default_factory=_hidden_ground)
    room: tuple = (0.0, 0.0, 0.0)
    shadow_extent: tuple = (-0.1, 0.1, -0.1, 0.1)
    others: tuple = ()
    light: float = 100.0

    def clear(self, origins, rays, reach=1.0):
        """Nothing stands before the vehicle."""
        return np.ones(len(origins), dtype=bool)

    def stations(self, distances):
        """Even light along the path."""
        wheels = [mesh for wheel in self.vehicle.wheels for mesh in (*wheel.round, *wheel.turning)]
        count = sum(len(mesh.vertices) for mesh in (*self.vehicle.body, *wheels))
        return tuple(
            Station(
                distance=distance,
                body=np.full((count, 3), self.light, np.float32),
                shadow=np.ones((2, 2, 3), np.float32),
                surround=np.zeros((4, 8, 3), np.float32),
                beam=None,
            )
            for distance in distances
        )


def bare_scene(
    folder: Path, *, sensor=(36, 24), focal=50, stop=2.8, focus=500, size=(360, 240), speed=1, aim="[500, 1000, 500]"
):
    """A camera at (0.5, 0, 0.5) m looking along +y."""
    text = SCENE.format(
        sensor=f"{sensor[0]} mm, {sensor[1]} mm", focal=focal, stop=stop, focus=focus, width=size[0], height=size[1],
        speed=speed, aim=aim, nearest=focal + 1,
    )  # fmt: skip
    path = folder / "bare.yaml"
    path.write_text(text)
    return read_scene(path)


def picture(scene, stage, *, size=(360, 240), views=256, frame=0):
    """One frame's light without noise, in shares of saturation, (h, w, 3)."""
    look = Look(size=size, views=views, frames=range(frame, frame + 1), noise=False)
    (only,) = render_frames(scene, stage, scene.shots[0], look)
    return only.linear
