"""Wheels of vehicles, each about its own axle: pressed steel, cast, with field tyres. Full size, metres."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from previz.mesh import Mesh
from previz.stage.shapes import outlines, solids
from previz.stage.vehicles.coachwork import ALLOY, CHROME, MATT, PAINT, RUBBER, SHADOW, TRIM, Colour, WheelParts

_SIDES = 32  # of tyres and rims: a little rounder than `outlines.ROUND` asks, for they are looked at


def tyre(radius: float, width: float, bead: float, offset: float = 0.0, grooves: int = 2) -> Mesh:
    """A tyre with rounded shoulders, bulging walls and grooves around the tread."""
    half, wall = width / 2, radius - bead
    deep, wide = 0.04 * radius, 0.06 * width
    tread: list[tuple[float, float]] = []
    for k in range(grooves):
        middle = ((k + 1) / (grooves + 1) - 0.5) * 0.85 * width
        tread += [(radius, middle - wide), (radius - deep, middle), (radius, middle + wide)]
    shoulder = [
        (bead, -0.72 * half),
        (bead + 0.40 * wall, -half),
        (radius - 0.14 * wall, -0.95 * half),
        (radius, -0.82 * half),
    ]
    profile = [*shoulder, *tread, *[(r, -h) for r, h in reversed(shoulder)]]
    shape = solids.revolve(profile, _SIDES, "y", closed=True)
    return solids.placed(solids.coloured(shape, RUBBER, MATT), (0.0, offset, 0.0))


def _inner_tyre(radius: float, width: float, bead: float, offset: float) -> Mesh:
    """Of two on an axle end the one behind: only its tread is seen."""
    half = width / 2
    profile = [(bead, -0.8 * half), (radius, -0.82 * half), (radius, 0.82 * half), (bead, 0.8 * half)]
    shape = solids.revolve(profile, _SIDES, "y", closed=True)
    return solids.placed(solids.coloured(shape, RUBBER, MATT), (0.0, offset, 0.0))


def rim(bead: float, width: float, face: Sequence[tuple[float, float]], colour: Colour) -> Mesh:
    """A rim and disc: flange at the bead, then `face`, (share of bead radius, y / half width) inwards."""
    half = width / 2
    # Axis "y" lays the profile's height along −y, so the outer face is the profile's start.
    points = [(bead * r, -half * h) for r, h in reversed(face)]
    points += [(0.93 * bead, -0.74 * half), (1.02 * bead, -0.80 * half), (1.02 * bead, 0.7 * half)]
    return solids.coloured(solids.revolve(points, _SIDES, "y"), colour, PAINT)


def around(mesh: Mesh, count: int, start: float = 0.0) -> list[Mesh]:
    """Copies of `mesh` turned about the y axle."""
    return [solids.placed(mesh, pitch=start + 360.0 * k / count) for k in range(count)]


def _nut(radius: float, tall: float) -> Mesh:
    """A six-sided stub towards +y, its foot open."""
    stub = solids.extrude(outlines.circle(radius, 6), tall, axis="y", back=False)
    return solids.coloured(solids.mirrored(stub), CHROME, PAINT)


def _hand_hole(radius: float) -> Mesh:
    """A dark stub towards +y that reads as a hole in a disc."""
    stub = solids.extrude(outlines.circle(radius), 0.03, axis="y", back=False)
    return solids.coloured(solids.mirrored(stub), SHADOW, MATT)


def disc_wheel(
    radius: float,
    width: float,
    bead: float,
    colour: Colour = ALLOY,
    hub: float = 0.1,
    holes: int = 8,
    nuts: int = 8,
    twin: float = 0.0,
    grooves: int = 2,
) -> WheelParts:
    """A pressed-steel wheel: dished disc with hand holes, a ring of nuts, a hub.

    hub is how far the hub stands out, in half widths; negative dishes it inwards, as on twin tyres, where
    `twin` is the distance to the second tyre inboard. [m]
    """
    half = width / 2
    disc, top = (0.30, 0.30 + hub) if hub > 0 else (hub, hub + 0.25)
    face = [(0.90, 0.66), (0.84, disc), (0.50, disc + 0.08), (0.46, disc + 0.08), (0.30, disc + 0.10)]
    face += [(0.27, top + 0.14), (0.20, top + 0.20), (0.0, top + 0.22)]
    parts = [tyre(radius, width, bead, grooves=grooves), rim(bead, width, face, colour)]
    if twin:
        parts.append(_inner_tyre(radius, width, bead, -twin))
    hole, nut = _hand_hole(0.105 * bead), _nut(0.040 * bead, 0.05)
    hole_at = (0.0, half * (disc + 0.045), 0.67 * bead)
    nut_at = (0.0, half * (disc + 0.10), 0.385 * bead)
    turning = around(solids.placed(hole, hole_at), holes) + around(solids.placed(nut, nut_at), nuts)
    return WheelParts(radius, tuple(parts), tuple(turning))


def spoked_wheel(radius: float, width: float, bead: float, spokes: int = 10) -> WheelParts:
    """A cast wheel: slim spokes over a dark well."""
    half = width / 2
    well = rim(bead, width, [(0.90, 0.55), (0.88, 0.05), (0.0, 0.05)], (0.05, 0.05, 0.052))
    hoop = outlines.rounded(
        [
            (0.88 * bead, 0.40 * half),
            (1.03 * bead, 0.40 * half),
            (1.03 * bead, 0.76 * half),
            (0.90 * bead, 0.76 * half),
        ],
        0.02 * bead,
        1,
    )
    hoop = outlines.counter_clockwise(hoop * (1, -1))
    lip = solids.coloured(solids.revolve(hoop, _SIDES, "y", closed=True), ALLOY, PAINT)
    hub = solids.placed(
        solids.coloured(solids.cylinder(0.22 * bead, 0.35 * half, axis="y", segments=16), ALLOY, PAINT),
        (0.0, 0.42 * half, 0.0),
    )
    blade = [(-0.055, 0.12), (0.055, 0.12), (0.085, 0.93), (-0.085, 0.93)]
    spoke = solids.extrude(np.array(blade) * bead, 0.3 * half, axis="y", back=False)
    spoke = solids.mirrored(spoke)
    spoke = solids.placed(solids.coloured(spoke, ALLOY, PAINT), (0.0, 0.44 * half, 0.0))
    nut = solids.coloured(_nut(0.035 * bead, 0.03), TRIM, PAINT)
    nuts = around(solids.placed(nut, (0.0, 0.60 * half, 0.13 * bead)), 5, 36.0)
    return WheelParts(radius, (tyre(radius, width, bead), well, lip, hub), (*around(spoke, spokes), *nuts))


def mirrored_wheel(parts: WheelParts) -> WheelParts:
    """The same wheel for the right side."""
    return replace(
        parts,
        round=tuple(solids.mirrored(mesh) for mesh in parts.round),
        turning=tuple(solids.mirrored(mesh) for mesh in parts.turning),
    )


_LUG_HALF = 0.11  # half the width of a lug's top, in pitches


def lugged_wheel(radius: float, width: float, bead: float, colour: Colour, lugs: int) -> WheelParts:
    """A field tyre with slanting lugs, two rows of `lugs`, on a plain disc with a ring of nuts.

    The lugs turn, so the tyre proper is smaller than the rolling radius, which is that of their tips.
    """
    half, tall = width / 2, 0.055 * radius
    face = [(0.92, 0.62), (0.86, 0.20), (0.62, 0.02), (0.40, 0.10), (0.36, 0.34), (0.20, 0.40), (0.0, 0.42)]
    carcass = tyre(radius - tall, width, bead, grooves=0)
    hole, nut = _hand_hole(0.07 * bead), _nut(0.035 * bead, 0.06)
    nuts = around(solids.placed(nut, (0.0, 0.10 * half, 0.50 * bead)), 8)
    holes = around(solids.placed(hole, (0.0, 0.14 * half, 0.74 * bead)), 6)
    pitch = 360.0 / lugs
    left = _lug(radius, half, tall, np.radians(pitch))
    # The tip of the first lug is straight below the axle, so that the wheel stands on it.
    down = 90.0 - _LUG_HALF * pitch
    treads = around(left, lugs, down) + around(solids.mirrored(left), lugs, down + 0.5 * pitch)
    return WheelParts(radius, (carcass, rim(bead, width, face, colour)), (*treads, *nuts, *holes))


def _lug(radius: float, half: float, tall: float, pitch: float) -> Mesh:
    """A lug over the +y half of the tread: it slants back by most of a pitch and ends down the shoulder."""
    rings = []
    for across, height, turn in ((-0.04, 0.0, 0.0), (0.84, 0.0, 0.66), (0.99, -0.13, 0.78)):
        top, root = radius * (1 + height), radius * (1 + height) - 1.6 * tall
        ring = []
        for r, lead in ((root, -0.17), (top, -_LUG_HALF), (top, _LUG_HALF), (root, 0.17)):
            angle = (turn + lead) * pitch
            ring.append((r * np.cos(angle), across * half, -r * np.sin(angle)))
        rings.append(ring)
    return solids.coloured(solids.loft(rings, crease=30.0), RUBBER, MATT)
