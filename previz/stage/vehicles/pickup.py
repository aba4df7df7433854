"""A pickup with a crew cab and a cover over its bed: one side view, extruded, rounded and bent. Full size, metres, from
memory."""

import numpy as np

from previz.mesh import Array, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.shapes import outlines, solids
from previz.stage.vehicles.coachwork import (
    AMBER,
    BLANK,
    CHROME,
    CLEAR,
    GLOSSY,
    MATT,
    PAINT,
    RED,
    SATIN,
    SHADOW,
    TRIM,
    Colour,
    Draft,
    arch_lip,
    bar,
    bend_all,
    bent_place,
    block,
    gap,
    mirrors,
    on_side,
    on_strip,
    painted_shell,
    side_gaps,
    side_profile,
    side_window,
    strip_window,
    trim_line,
)
from previz.stage.vehicles.wheels import spoked_wheel

_HALF, _SILL = 0.98, 0.36
_AXLES = ((-1.72, 0.39), (1.80, 0.39))
_SIDE = [  # x, z, radius: from the front of the sill up, over the roof and down to the rear
    (2.66, 0.36, 0.0),
    (2.76, 0.46, 0.08),
    (2.76, 0.70, 0.08),
    (2.70, 1.06, 0.10),
    (2.52, 1.20, 0.14),
    (1.32, 1.27, 0.12),
    (0.62, 1.80, 0.30),
    (-0.10, 1.86, 0.80),
    (-0.72, 1.80, 0.16),
    (-0.90, 1.24, 0.04),
    (-2.70, 1.22, 0.05),
    (-2.76, 1.10, 0.06),
    (-2.72, 0.46, 0.08),
    (-2.66, 0.36, 0.0),
]


def _bend(points: Array) -> Array:
    """Draw in the nose a little, lean the cab's glass inwards, let the flanks swell."""
    x, y, z = points.T
    nose = 1 - 0.09 * smoothstep(x, 2.0, 2.9)
    lean = 1 - 0.20 * smoothstep(z, 1.10, 2.0)
    flank = 1 - 0.02 * smoothstep(z, 0.75, 0.30) + 0.015 * np.exp(-(((z - 1.0) / 0.08) ** 2))
    across = (y / _HALF) ** 2
    bulge = 0.13 * across * smoothstep(x, 1.0, 2.6)
    crown = 0.03 * (1 - across) * smoothstep(z, 1.15, 1.3) * (1 - 0.8 * smoothstep(x, -0.6, -1.1))
    return np.stack([x - bulge, y * nose * lean * flank, z + crown], 1)


def pickup(colour: Colour) -> Draft:
    """A pickup, 5.6 m."""
    profile = side_profile(_SIDE, [(axle, 0.45) for axle in _AXLES], _SILL)
    shell = [painted_shell(profile, 2 * _HALF, 0.06, 0.18, colour)]
    shell += _glass() + _sides(colour) + _front() + _rear() + _bed()
    draft = Draft(bend_all(shell, _bend))
    draft.body.append(block((4.9, 1.34, 0.5), (0.0, 0.0, 0.62), SHADOW, MATT, 0.05))
    draft.body += mirrors((1.00, 0.88, 1.22), (0.92, 1.07, 1.32), (0.14, 0.22, 0.24), colour, PAINT)
    draft.body.append(bar([(-2.1, 0.5, 0.36), (-2.70, 0.5, 0.36)], 0.04, CHROME, GLOSSY))
    for x, z in _AXLES:
        draft.wheels.append(((x, 0.80, z), spoked_wheel(z, 0.26, 0.255, spokes=6)))
    draft.head.append((bent_place((2.77, 0.72, 0.93), _bend), 0.06))
    draft.tail.append((bent_place((-2.779, 0.87, 0.96), _bend), 0.06))
    return draft


def _glass() -> list[Mesh]:
    front = [(1.06, 1.28), (0.54, 1.70), (0.26, 1.73), (0.26, 1.28)]
    rear = [(0.18, 1.28), (0.18, 1.73), (-0.58, 1.71), (-0.66, 1.28)]
    parts: list[Mesh] = []
    for window in (front, rear):
        parts += side_window(outlines.rounded(window, 0.05), _HALF, 0.012)
    screen = [(-0.82, 0.10), (0.82, 0.10), (0.80, 0.80), (-0.80, 0.80)]
    parts += strip_window(outlines.rounded(screen, 0.09), (1.32, 1.27), (0.62, 1.80), 0.016)
    back = [(-0.76, 0.10), (0.76, 0.10), (0.78, 0.46), (-0.78, 0.46)]
    return parts + strip_window(outlines.rounded(back, 0.07), (-0.72, 1.80), (-0.90, 1.24), 0.016)


def _sides(colour: Colour) -> list[Mesh]:
    doors = [
        [(1.10, 1.22), (1.10, 0.42), (0.22, 0.42)],
        [(0.22, 1.22), (0.22, 0.42), (-0.72, 0.42), (-0.78, 1.22)],
    ]
    parts = side_gaps(doors, _HALF, _bend, 0.012) + side_gaps([[(-0.93, 1.20), (-0.93, 0.40)]], _HALF, _bend, 0.03)
    for x in (0.36, -0.56):
        parts += on_side(outlines.rectangle(0.20, 0.04, 0.016, (x, 1.12)), _HALF, 0.024, TRIM, SATIN)
    parts += on_side(outlines.rectangle(2.5, 0.08, 0.03, (0.04, 0.42)), _HALF, 0.022, TRIM, SATIN)
    for axle in _AXLES:
        parts += arch_lip(axle, 0.46, _SILL, _HALF - 0.012, TRIM, 0.028)
    parts += on_side(outlines.rectangle(0.10, 0.045, 0.015, (2.42, 0.84)), _HALF, 0.02, AMBER, GLOSSY)
    rail = [(-0.98, _HALF - 0.035, 1.225), (-2.66, _HALF - 0.035, 1.207)]
    return parts + solids.both_sides([trim_line(rail, 0.05, TRIM, SATIN, _bend)])


def _front() -> list[Mesh]:
    bumper, face = ((2.76, 0.46), (2.76, 0.70)), ((2.76, 0.70), (2.70, 1.06))
    parts = [
        on_strip(outlines.rectangle(1.84, 0.22, 0.07, (0, 0.12)), *bumper, 0.05, CHROME, GLOSSY),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.12)), *bumper, 0.062, BLANK, SATIN),
        on_strip(outlines.rectangle(1.12, 0.30, 0.06, (0, 0.20)), *face, 0.022, CHROME, GLOSSY),
        on_strip(outlines.rectangle(1.04, 0.24, 0.04, (0, 0.20)), *face, 0.028, SHADOW, MATT),
        gap([(2.60, 0.84, 1.155), (2.60, -0.84, 1.155)], 0.012, _bend),
    ]
    for k in range(2):
        slat = outlines.rectangle(1.02, 0.03, 0.0, (0, 0.155 + 0.09 * k))
        parts.append(on_strip(slat, *face, 0.040, CHROME, GLOSSY))
    lamp = outlines.rounded([(0.60, 0.08), (0.88, 0.08), (0.88, 0.32), (0.60, 0.32)], 0.03)
    sides = [
        on_strip(outlines.inset(lamp, -0.014), *face, 0.016, SHADOW, MATT),
        on_strip(lamp, *face, 0.026, (0.30, 0.31, 0.32), GLOSSY),
        on_strip(outlines.circle(0.080, at=(0.72, 0.23)), *face, 0.038, CHROME, GLOSSY),
        on_strip(outlines.circle(0.066, at=(0.72, 0.23)), *face, 0.052, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.22, 0.05, 0.015, (0.74, 0.115)), *face, 0.040, AMBER, GLOSSY),
        gap([(2.54, 0.80, 1.19), (1.36, 0.86, 1.262)], 0.012, _bend),
        trim_line([(1.33, 0.10, 1.285), (1.12, 0.62, 1.44)], 0.02, TRIM, MATT, _bend),
    ]
    return parts + solids.both_sides(sides)


def _rear() -> list[Mesh]:
    face = ((-2.76, 1.10), (-2.72, 0.46))
    lamp = outlines.rectangle(0.13, 0.36, 0.03, (0.87, 0.16))
    sides = [
        on_strip(outlines.inset(lamp, -0.012), *face, 0.014, SHADOW, MATT),
        on_strip(lamp, *face, 0.026, RED, GLOSSY),
        on_strip(outlines.rectangle(0.11, 0.08, 0.02, (0.87, 0.27)), *face, 0.034, CLEAR, GLOSSY),
        gap([(-2.76, 0.77, 1.10), (-2.735, 0.77, 0.68)], 0.014, _bend),
    ]
    return [
        *solids.both_sides(sides),
        on_strip(outlines.rectangle(0.30, 0.06, 0.02, (0, 0.10)), *face, 0.024, TRIM, SATIN),
        gap([(-2.735, 0.77, 0.68), (-2.735, -0.77, 0.68)], 0.014, _bend),
        on_strip(outlines.rectangle(1.86, 0.20, 0.06, (0, 0.54)), *face, 0.07, CHROME, GLOSSY),
        on_strip(outlines.rectangle(0.52, 0.12, 0.01, (0, 0.54)), *face, 0.082, BLANK, SATIN),
    ]


def _bed() -> list[Mesh]:
    """The cover over the bed, with its ribs."""
    top = ((-0.90, 1.24), (-2.70, 1.22))
    parts = [on_strip(outlines.rectangle(1.70, 1.72, 0.05, (0, 0.90)), *top, 0.012, TRIM, SATIN)]
    for k in range(4):
        parts.append(on_strip(outlines.rectangle(1.66, 0.04, 0.0, (0, 0.30 + 0.40 * k)), *top, 0.022, TRIM, MATT))
    return parts
