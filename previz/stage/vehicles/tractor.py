"""A farm tractor: a bent bonnet, a glazed cab, iron between them. Full size, metres, from memory."""

import numpy as np

from previz.mesh import Array, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.shapes import outlines, solids
from previz.stage.vehicles.coachwork import (
    AMBER,
    BLANK,
    CHROME,
    CLEAR,
    GLASS,
    GLOSSY,
    MATT,
    PAINT,
    RED,
    SATIN,
    TRIM,
    Colour,
    Draft,
    bar,
    bend_all,
    bent_place,
    block,
    mirrors,
    on_side,
    on_strip,
    round_lamp,
    side_gaps,
    trim_line,
)
from previz.stage.vehicles.wheels import lugged_wheel

_HOOD_HALF = 0.38
_TRACTOR_AXLES = ((-0.92, 0.86), (1.52, 0.56))
_IRON = (0.045, 0.047, 0.050)
_WHEEL_PAINT = (0.55, 0.54, 0.50)


def _hood_bend(points: Array) -> Array:
    x, y, z = points.T
    nose = 1 - 0.22 * smoothstep(x, 0.6, 2.4)
    across = (y / _HOOD_HALF) ** 2
    bulge = 0.10 * across * smoothstep(x, 1.4, 2.2)
    crown = 0.05 * (1 - across) * smoothstep(z, 1.3, 1.6)
    return np.stack([x - bulge, y * nose, z + crown], 1)


def tractor(colour: Colour) -> Draft:
    """A farm tractor with a glazed cab, 4.2 m."""
    draft = Draft(bend_all(_hood(colour), _hood_bend))
    draft.body += _engine() + _cab(colour) + _fenders(colour) + _hitch()
    (rear, high), (front, low) = _TRACTOR_AXLES
    draft.wheels.append(((rear, 0.87, high), lugged_wheel(high, 0.50, 0.50, _WHEEL_PAINT, 17)))
    draft.wheels.append(((front, 0.82, low), lugged_wheel(low, 0.36, 0.31, _WHEEL_PAINT, 16)))
    draft.head.append((bent_place((2.195, 0.20, 1.27), _hood_bend), 0.07))
    draft.tail.append(((-1.715, 0.92, 1.56), 0.035))
    return draft


def _hood(colour: Colour) -> list[Mesh]:
    side = [
        (2.14, 0.94, 0.08),
        (2.16, 1.40, 0.10),
        (2.04, 1.58, 0.14),
        (1.6, 1.66, 0.4),
        (0.24, 1.80, 0.1),
        (0.24, 0.94, 0.08),
    ]
    outline = outlines.rounded([(x, z) for x, z, _ in side], [r for _, _, r in side])
    shell = solids.extrude(outline, 2 * _HOOD_HALF, 0.075, "y", grid=0.3)
    face = ((2.14, 0.94), (2.16, 1.40))
    parts = [
        solids.coloured(shell, colour, PAINT),
        on_strip(outlines.rectangle(0.56, 0.40, 0.05, (0, 0.24)), *face, 0.014, TRIM, MATT),
    ]
    for k in range(6):
        slat = outlines.rectangle(0.24, 0.018, 0.0, (0, 0.09 + 0.06 * k))
        parts.append(on_strip(slat, *face, 0.024, CHROME, GLOSSY))
    lamps = [
        on_strip(outlines.circle(0.085, at=(0.20, 0.33)), *face, 0.026, CHROME, GLOSSY),
        on_strip(outlines.circle(0.070, at=(0.20, 0.33)), *face, 0.040, CLEAR, GLOSSY),
    ]
    parts += solids.both_sides(lamps)
    vent = outlines.rounded([(1.95, 1.02), (1.90, 1.42), (0.95, 1.46), (1.05, 1.02)], 0.05)
    parts += on_side(vent, _HOOD_HALF, 0.012, TRIM, MATT)
    for k in range(5):
        z = 1.09 + 0.075 * k
        louvre = [(1.88, _HOOD_HALF + 0.012, z), (1.06 - 0.02 * k, _HOOD_HALF + 0.012, z)]
        parts += solids.both_sides([trim_line(louvre, 0.022, _IRON, SATIN, _hood_bend)])
    stripe = outlines.rounded([(1.92, 1.50), (1.90, 1.54), (0.34, 1.66), (0.34, 1.60)], 0.01)
    parts += on_side(stripe, _HOOD_HALF, 0.012, CHROME, PAINT)
    parts += side_gaps([[(0.62, 1.70), (0.62, 0.98)]], _HOOD_HALF, _hood_bend, 0.014)
    return parts


def _engine() -> list[Mesh]:
    stack = [
        solids.revolve([(0.06, 1.6), (0.06, 1.80), (0.085, 1.84), (0.085, 2.28), (0.05, 2.34), (0.045, 2.70)]),
        solids.tube([(1.30, 0.0, 2.68), (1.30, 0.0, 2.76), (1.24, 0.0, 2.84)], 0.046),
    ]
    middle = [
        solids.placed(solids.coloured(stack[0], TRIM, SATIN), (1.30, 0.0, 0.0)),
        solids.coloured(stack[1], CHROME, GLOSSY),
        block((1.9, 0.44, 0.42), (1.15, 0.0, 0.80), _IRON, SATIN, 0.06),
        block((1.7, 0.56, 0.52), (-0.45, 0.0, 0.86), _IRON, SATIN, 0.08),
        block((0.22, 1.30, 0.16), (1.52, 0.0, 0.56), _IRON, SATIN, 0.05),
        block((0.16, 0.40, 0.24), (1.52, 0.0, 0.66), _IRON, SATIN, 0.04),
        block((0.34, 0.50, 0.16), (2.14, 0.0, 0.80), _IRON, SATIN, 0.03),
    ]
    for k in range(8):
        middle.append(block((0.26, 0.066, 0.34), (2.32, -0.2625 + 0.075 * k, 0.78), _IRON, SATIN, 0.03))
    axle = solids.coloured(solids.cylinder(0.17, 0.60, 0.03, "y"), _IRON, SATIN)
    hub = solids.coloured(solids.cylinder(0.14, 0.22, 0.03, "y"), _IRON, SATIN)
    sides = [
        solids.placed(axle, (-0.92, 0.42, 0.86)),
        solids.placed(hub, (1.52, 0.58, 0.56)),
        block((0.62, 0.20, 0.30), (0.90, 0.26, 0.86), _IRON, SATIN, 0.05),
        bar([(0.5, 0.24, 0.74), (1.42, 0.30, 0.62)], 0.03, CHROME, SATIN),
        block((0.62, 0.30, 0.34), (0.02, 0.52, 0.72), TRIM, SATIN, 0.06),
    ]
    sides += [block((0.34, 0.26, 0.03), (0.16, 0.68, z), TRIM, SATIN, 0.01) for z in (0.44, 0.72, 1.0)]
    sides += [bar([(x, 0.74, 0.42), (x, 0.66, 1.14)], 0.016, TRIM, SATIN) for x in (0.0, 0.32)]
    return middle + solids.both_sides(sides)


def _cab_lean(points: Array) -> Array:
    x, y, z = points.T
    return np.stack([x, y * (1 - 0.06 * (z - 1.2) / 1.4) * (1 + 0.05 * smoothstep(x, 0.3, -0.6)), z], 1)


def _cab(colour: Colour) -> list[Mesh]:
    """Glass all round between dark posts, a painted roof, work lamps and a beacon."""
    half = 0.62
    corners = [(0.36, 1.14), (0.34, 1.72), (0.12, 2.56), (-1.12, 2.56), (-1.30, 1.72), (-1.16, 1.14)]
    outline = outlines.rounded(corners, 0.06)
    parts = [solids.coloured(solids.extrude(outline, 2 * half, 0.04, "y", grid=0.3), GLASS, GLOSSY)]
    posts = []
    for post in (corners[:3], corners[3:]):
        posts.append(trim_line([(x, half - 0.02, z) for x, z in post], 0.11, TRIM, SATIN, _cab_lean))
    posts.append(trim_line([(-0.48, half - 0.01, 1.16), (-0.52, half - 0.01, 2.54)], 0.09, TRIM, SATIN, _cab_lean))
    posts.append(trim_line([(0.36, half - 0.02, 1.16), (-0.04, half - 0.02, 1.16)], 0.12, TRIM, SATIN, _cab_lean))
    posts += on_side(outlines.rectangle(0.14, 0.04, 0.015, (-0.34, 1.62)), half, 0.05, CHROME, GLOSSY)[:1]
    parts += solids.both_sides(posts)
    for (x, z), wide in ((corners[1], 0.0), (corners[4], 0.12)):
        parts.append(trim_line([(x, half - 0.03, z), (x, -half + 0.03, z)], 0.07 if wide else 0.05, TRIM, SATIN))
    lower = ((0.36, 1.14), (0.34, 1.72))
    parts.append(on_strip(outlines.rectangle(1.18, 0.50, 0.02, (0, 0.25)), *lower, 0.012, TRIM, SATIN))
    parts = bend_all(parts, _cab_lean)
    roof = outlines.rounded([(0.38, 2.54), (0.36, 2.70), (0.0, 2.77), (-1.1, 2.77), (-1.34, 2.70), (-1.36, 2.54)], 0.06)
    top = solids.extrude(roof, 1.40, 0.04, "y")
    parts.append(solids.coloured(top, colour, PAINT))
    parts.append(block((1.5, 1.26, 0.05), (-0.50, 0.0, 2.545), TRIM, SATIN, 0.02))
    work = []
    for x, way in ((0.385, False), (-1.365, True)):
        work += round_lamp((x, 0.50, 2.62), 0.055, CLEAR, way)
    beacon = solids.revolve([(0.05, 0.0), (0.05, 0.10), (0.045, 0.13), (0.02, 0.15)])
    parts.append(solids.placed(solids.coloured(beacon, AMBER, GLOSSY), (-0.95, 0.0, 2.76)))
    parts += mirrors((0.26, 0.58, 2.10), (0.34, 0.92, 2.12), (0.06, 0.18, 0.28))
    return parts + work


def _fenders(colour: Colour) -> list[Mesh]:
    x, z = _TRACTOR_AXLES[0]
    outer, inner = 0.99, 0.945
    ring = outlines.arc((x, z), outer, 22.0, 158.0) + outlines.arc((x, z), inner, 158.0, 22.0)
    top = solids.placed(solids.coloured(solids.extrude(ring, 0.50, 0.018, "y"), colour, PAINT), (0.0, 0.88, 0.0))
    cheek = outlines.arc((x, z), 0.975, 22.0, 158.0)
    wall = solids.placed(solids.coloured(solids.extrude(cheek, 0.04, axis="y"), colour, PAINT), (0.0, 0.605, 0.0))
    lamp = block((0.07, 0.16, 0.10), (-1.66, 0.96, 1.56), TRIM, SATIN, 0.02)
    red = block((0.03, 0.08, 0.07), (-1.70, 0.92, 1.56), RED, GLOSSY, 0.01)
    amber = block((0.03, 0.05, 0.07), (-1.70, 1.00, 1.56), AMBER, GLOSSY, 0.01)
    return solids.both_sides([top, wall, lamp, red, amber])


def _hitch() -> list[Mesh]:
    sides = [
        bar([(-1.20, 0.28, 0.62), (-2.02, 0.42, 0.56)], 0.035, _IRON, SATIN),
        bar([(-1.25, 0.26, 1.20), (-1.60, 0.30, 1.24), (-1.75, 0.37, 0.62)], 0.025, _IRON, SATIN),
        solids.placed(solids.coloured(solids.cylinder(0.07, 0.06, 0.01, "y"), _IRON, SATIN), (-2.02, 0.43, 0.56)),
    ]
    return [
        *solids.both_sides(sides),
        block((0.30, 0.50, 0.60), (-1.34, 0.0, 0.95), _IRON, SATIN, 0.06),
        block((0.50, 0.12, 0.06), (-1.70, 0.0, 0.46), _IRON, SATIN, 0.02),
        solids.placed(solids.coloured(solids.cylinder(0.06, 0.2, 0.01, "x"), CHROME, GLOSSY), (-1.56, 0.0, 0.72)),
        bar([(-1.45, 0.0, 1.15), (-1.95, 0.0, 0.98)], 0.03, _IRON, SATIN),
        block((0.02, 0.34, 0.18), (-1.36, 0.0, 1.45), BLANK, SATIN, 0.006),
    ]
