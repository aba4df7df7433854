"""A panel van: one side view, extruded, rounded and bent. Full size, metres, from memory."""

import numpy as np

from previz.mesh import Array, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.shapes import outlines, solids
from previz.stage.vehicles.coachwork import (
    ALLOY,
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
from previz.stage.vehicles.wheels import disc_wheel

_VAN_HALF = 1.0
_VAN_AXLES = ((-1.55, 0.36), (1.72, 0.36))
_VAN_SIDE = [
    (2.60, 0.30, 0.0),
    (2.70, 0.42, 0.11),
    (2.70, 0.72, 0.11),
    (2.58, 1.08, 0.18),
    (1.92, 1.33, 0.12),
    (1.12, 2.22, 0.30),
    (0.55, 2.40, 0.60),
    (-2.60, 2.40, 0.11),
    (-2.70, 1.30, 0.50),
    (-2.70, 0.45, 0.11),
    (-2.64, 0.30, 0.0),
]


def _van_bend(points: Array) -> Array:
    x, y, z = points.T
    nose = 1 - 0.13 * smoothstep(x, 1.8, 2.9)
    lean = 1 - 0.13 * smoothstep(z, 1.0, 2.7)
    flank = 1 - 0.03 * smoothstep(z, 0.7, 0.25) + 0.012 * np.exp(-(((z - 1.12) / 0.07) ** 2))
    across = (y / _VAN_HALF) ** 2
    # Round in plan from the screen on; below it only before the wheels, or arches leave their wheels behind.
    low = smoothstep(z, 1.30, 0.95)
    bulge = 0.20 * across * ((1 - low) * smoothstep(x, 0.8, 2.5) + low * smoothstep(x, 2.02, 2.75))
    crown = 0.04 * (1 - across) * smoothstep(z, 1.0, 2.4)
    return np.stack([x - bulge, y * nose * lean * flank, z + crown], 1)


def van(colour: Colour) -> Draft:
    """A panel van with a short bonnet, 5.4 m."""
    profile = side_profile(_VAN_SIDE, [(axle, 0.42) for axle in _VAN_AXLES], 0.30)
    shell = [painted_shell(profile, 2 * _VAN_HALF, 0.09, 0.2, colour)]
    shell += _van_sides(colour) + _van_front() + _van_rear()
    draft = Draft(bend_all(shell, _van_bend))
    draft.body.append(block((4.9, 1.36, 0.55), (0.0, 0.0, 0.56), SHADOW, MATT, 0.05))
    draft.body += mirrors((1.50, 0.88, 1.42), (1.42, 1.08, 1.50), (0.14, 0.24, 0.36))
    draft.body.append(bar([(-2.2, 0.5, 0.32), (-2.66, 0.5, 0.30)], 0.04, ALLOY, SATIN))
    for x, z in _VAN_AXLES:
        draft.wheels.append(((x, 0.815, z), disc_wheel(z, 0.24, 0.235, hub=0.12, holes=10, nuts=5)))
    draft.head.append((bent_place((2.693, 0.74, 0.918), _van_bend), 0.07))
    draft.tail.append((bent_place((-2.73, 0.86, 1.08), _van_bend), 0.06))
    return draft


def _van_sides(colour: Colour) -> list[Mesh]:
    half = _VAN_HALF
    window = [(1.66, 1.42), (1.10, 2.03), (0.62, 2.06), (0.62, 1.42)]
    quarter = [(1.83, 1.40), (1.75, 1.40), (1.75, 1.48)]
    parts = side_window(outlines.rounded(window, 0.06), half, 0.014)
    parts += on_side(outlines.rounded(quarter, 0.01), half, 0.012, GLASS, GLOSSY)
    door = [(1.80, 1.36), (1.80, 0.98), (1.22, 0.80), (1.18, 0.42), (0.54, 0.42), (0.54, 2.14), (1.06, 2.12)]
    slide = [(0.44, 0.42), (0.44, 2.14), (-0.84, 2.14), (-0.84, 0.42), (0.44, 0.42)]
    parts += side_gaps([door, slide], half, _van_bend)
    parts += side_gaps([[(-0.86, 1.30), (-2.45, 1.30)]], half, _van_bend, 0.035)
    for start, end in ((1.22, -1.03), (-2.07, -2.55)):
        strip = outlines.rectangle(start - end, 0.13, 0.04, ((start + end) / 2, 0.66))
        parts += on_side(strip, half, 0.022, TRIM, SATIN)
    for axle in _VAN_AXLES:
        parts += arch_lip(axle, 0.43, 0.30, half - 0.012, TRIM, 0.026)
    for x in (0.68, -0.72):
        parts += on_side(outlines.rectangle(0.20, 0.05, 0.02, (x, 1.22)), half, 0.028, TRIM, SATIN)
    parts += on_side(outlines.rectangle(0.12, 0.05, 0.02, (1.98, 0.92)), half, 0.02, AMBER, GLOSSY)
    # A pressed field where a window might be: it catches a line of light.
    for start, end in ((0.34, -0.74), (-0.98, -2.40)):
        field = outlines.rectangle(start - end, 0.60, 0.10, ((start + end) / 2, 1.76))
        ridge = [(x, half, z) for x, z in [*field.tolist(), field[0].tolist()]]
        parts += solids.both_sides([trim_line(ridge, 0.026, colour, PAINT, _van_bend)])
    return parts


def _van_front() -> list[Mesh]:
    bumper, face = ((2.70, 0.42), (2.70, 0.72)), ((2.70, 0.72), (2.58, 1.08))
    screen = [(-0.84, 0.12), (0.84, 0.12), (0.80, 1.06), (-0.80, 1.06)]
    parts = strip_window(outlines.rounded(screen, 0.10), (1.92, 1.33), (1.12, 2.22), 0.02)
    parts += [
        on_strip(outlines.rectangle(1.80, 0.26, 0.06, (0, 0.12)), *bumper, 0.05, TRIM, SATIN),
        on_strip(outlines.rectangle(1.0, 0.10, 0.03, (0, 0.07)), *bumper, 0.06, SHADOW, MATT),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.19)), *bumper, 0.062, BLANK, SATIN),
        on_strip(outlines.rectangle(0.98, 0.20, 0.06, (0, 0.19)), *face, 0.024, TRIM, SATIN),
        gap([(2.56, 0.86, 1.09), (2.56, -0.86, 1.09)], 0.014, _van_bend),
    ]
    for k in range(3):
        slat = outlines.rectangle(0.92, 0.022, 0.008, (0, 0.13 + 0.06 * k))
        parts.append(on_strip(slat, *face, 0.036, CHROME, GLOSSY))
    lamp = outlines.rounded([(0.56, 0.06), (0.90, 0.06), (0.90, 0.33), (0.62, 0.29)], 0.05)
    sides = [
        on_strip(outlines.inset(lamp, -0.016), *face, 0.018, SHADOW, MATT),
        on_strip(lamp, *face, 0.030, (0.42, 0.43, 0.44), GLOSSY),
        on_strip(outlines.circle(0.085, at=(0.74, 0.19)), *face, 0.042, CHROME, GLOSSY),
        on_strip(outlines.circle(0.068, at=(0.74, 0.19)), *face, 0.056, CLEAR, GLOSSY),
        on_strip(outlines.circle(0.05, at=(0.74, 0.09)), *bumper, 0.064, CLEAR, GLOSSY),
        gap([(2.50, 0.80, 1.115), (1.96, 0.86, 1.318)], 0.014, _van_bend),
    ]
    wiper = [(1.93, 0.10, 1.36), (1.70, 0.62, 1.60)]
    sides.append(trim_line(wiper, 0.022, TRIM, MATT, _van_bend))
    return parts + solids.both_sides(sides)


def _van_rear() -> list[Mesh]:
    upper, lower = ((-2.60, 2.40), (-2.70, 1.30)), ((-2.70, 1.30), (-2.70, 0.45))
    lamp = outlines.rectangle(0.12, 0.46, 0.03, (0.86, 0.22))
    window = outlines.rounded([(0.12, 0.30), (0.74, 0.30), (0.78, 0.86), (0.12, 0.86)], 0.06)
    sides = [
        *strip_window(window, *upper),
        on_strip(lamp, *lower, 0.030, RED, GLOSSY),
        on_strip(outlines.rectangle(0.10, 0.10, 0.02, (0.86, 0.14)), *lower, 0.036, AMBER, GLOSSY),
        on_strip(outlines.rectangle(0.10, 0.07, 0.02, (0.86, 0.38)), *lower, 0.036, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.07, 0.11, 0.02, (0.90, 0.25)), *upper, 0.03, TRIM, SATIN),
        on_strip(outlines.rectangle(0.07, 0.11, 0.02, (0.90, 0.95)), *upper, 0.03, TRIM, SATIN),
    ]
    return [
        *solids.both_sides(sides),
        gap([(-2.605, 0.0, 2.32), (-2.70, 0.0, 1.30), (-2.70, 0.0, 0.52)], 0.016, _van_bend),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0.0, 0.36)), *lower, 0.02, BLANK, SATIN),
        on_strip(outlines.rectangle(0.20, 0.05, 0.02, (-0.14, 0.20)), *lower, 0.03, TRIM, SATIN),
        on_strip(outlines.rectangle(1.86, 0.20, 0.05, (0, 0.80)), *lower, 0.06, TRIM, SATIN),
    ]
