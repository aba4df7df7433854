"""The launch ramp: its sheet, bent along its line, and the block under its high end."""

from dataclasses import replace

import numpy as np

from previz.layout import RampShape, each_driven, launch_of, ramp_of
from previz.mesh import Array, Mesh
from previz.scene import Scene
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LONGEST_EDGE, Colour, subdivided

#: What its lower edge is thick at least, as tape or paper is: a sheet without would lie in the ground. [m]
_EDGE = 0.0003

#: Between the rings of a sheet's straight part. [m]
_RING = 0.020


def build_ramps(scene: Scene) -> tuple[Mesh, ...]:
    """The ramps of all that is launched, in the world frame; each takes its own vehicle's shadow."""
    return tuple(
        replace(mesh, material=replace(mesh.material, driver=number))
        for number, each in enumerate(each_driven(scene))
        for mesh in build_ramp(each)
    )


def build_ramp(scene: Scene) -> tuple[Mesh, ...]:
    """The ramp of the scene's subject in the world frame; nothing where that is not launched."""
    ramp, launch = ramp_of(scene), launch_of(scene)
    if ramp is None or launch is None:
        return ()
    cuts = np.linspace(-ramp.length, 0.0, max(int(np.ceil(ramp.length / _RING)), 1) + 1)
    tapers = np.interp(ramp.thickness, ramp.line[::-1, 1], ramp.line[::-1, 0])
    forward = np.unique(np.concatenate([cuts, ramp.line[:, 0], [tapers]]))
    top = np.maximum(ramp.height(forward), _EDGE)
    parts = [_bar(ramp, forward, np.minimum(ramp.underside(forward), top - _EDGE), top, launch.ramp.colour)]
    if ramp.block is not None:
        ends = np.linspace(*ramp.block, 4)
        # A little narrower, so that no side of it lies in one of the sheet's.
        parts.append(_bar(ramp, ends, np.full(4, ramp.block_foot), ramp.underside(ends), launch.ramp.colour, 0.96))
    return tuple(parts)


def _bar(ramp: RampShape, forward: Array, low: Array, high: Array, colour: Colour, share: float = 1.0) -> Mesh:
    """A bar across the ramp's width or that share of it, between two heights at places (n,) along the ramp. [m]"""
    half = share * ramp.width / 2
    flat = np.stack([np.tile(forward, 2), np.repeat([half, -half], len(forward))], axis=1)
    left, right = np.split(ramp.placed(flat), 2)
    corners = [np.column_stack([side, up]) for side, up in ((left, high), (right, high), (right, low), (left, low))]
    mesh = solids.loft(np.stack(corners, axis=1))
    return subdivided(solids.coloured(mesh, colour), LONGEST_EDGE)
