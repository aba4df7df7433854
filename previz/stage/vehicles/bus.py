"""A single-deck bus: one side view, extruded, rounded and bent. Full size, metres, from memory."""

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
    RED,
    SATIN,
    SHADOW,
    TRIM,
    Colour,
    Draft,
    arch_lip,
    bend_all,
    bent_place,
    block,
    mirrors,
    on_side,
    on_strip,
    painted_shell,
    side_gaps,
    side_profile,
    strip_window,
    trim_line,
)
from previz.stage.vehicles.wheels import disc_wheel

_BUS_HALF = 1.25
_BUS_AXLES = ((-2.75, 0.48), (2.80, 0.48))
_BUS_SIDE = [
    (5.38, 0.32, 0.0),
    (5.50, 0.46, 0.17),
    (5.50, 1.10, 0.6),
    (5.40, 2.36, 0.5),
    (5.22, 2.90, 0.30),
    (4.90, 3.05, 0.40),
    (-5.30, 3.05, 0.25),
    (-5.50, 2.60, 0.4),
    (-5.50, 0.50, 0.17),
    (-5.42, 0.32, 0.0),
]
_BUS_WAIST, _BUS_HEAD = 1.38, 2.42  # lower and upper edge of the side windows


def _bus_bend(points: Array) -> Array:
    x, y, z = points.T
    lean = 1 - 0.07 * smoothstep(z, 1.2, 3.3)
    across = (y / _BUS_HALF) ** 2
    bulge = 0.26 * across * smoothstep(x, 4.2, 5.5) - 0.10 * across * smoothstep(x, -4.6, -5.5)
    crown = 0.06 * (1 - across) * smoothstep(z, 2.6, 3.0)
    return np.stack([x - bulge, y * lean, z + crown], 1)


def bus(colour: Colour) -> Draft:
    """A single-deck bus, 11 m, with doors on both sides: either may face the kerb."""
    profile = side_profile(_BUS_SIDE, [(axle, 0.56) for axle in _BUS_AXLES], 0.32)
    shell = [painted_shell(profile, 2 * _BUS_HALF, 0.13, 0.42, colour)]
    shell += _bus_windows() + _bus_doors() + _bus_sides(colour) + _bus_front() + _bus_rear()
    draft = Draft(bend_all(shell, _bus_bend, 0.003))
    draft.body.append(block((10.0, 1.80, 0.9), (0.0, 0.0, 0.76), SHADOW, MATT, 0.05))
    for x, length in ((3.2, 1.1), (-1.2, 2.6), (-4.0, 1.5)):
        draft.body.append(block((length, 1.7, 0.26), (x, 0.0, 3.16), (0.55, 0.55, 0.53), SATIN, 0.08))
    draft.body += mirrors((5.12, 1.00, 2.55), (5.46, 1.36, 2.16), (0.14, 0.20, 0.46))
    for x, z in _BUS_AXLES:
        twin = 0.33 if x < 0 else 0.0
        wheel = disc_wheel(z, 0.28, 0.29, hub=-0.15 if twin else 0.30, twin=twin)
        draft.wheels.append(((x, 1.06, z), wheel))
    draft.head.append((bent_place((5.55, 0.73, 0.84), _bus_bend), 0.08))
    draft.tail.append((bent_place((-5.55, 1.02, 1.02), _bus_bend), 0.07))
    return draft


def _bus_windows() -> list[Mesh]:
    half, height = _BUS_HALF, _BUS_HEAD - _BUS_WAIST
    middle = (_BUS_WAIST + _BUS_HEAD) / 2
    band = outlines.rectangle(10.05, height + 0.10, 0.12, (-0.13, middle))
    parts = on_side(band, half, 0.008, SHADOW, MATT)
    panes = [(4.88 - 0.86, 4.88)]
    panes += [(x, x + 1.44) for x in (1.94, 0.44)] + [(x, x + 1.44) for x in (-2.62, -4.12)]
    panes += [(-5.10, -4.18)]
    for start, end in panes:
        pane = outlines.rectangle(end - start, height, 0.08, ((start + end) / 2, middle))
        parts += on_side(pane, half, 0.018, GLASS, GLOSSY)
        if end - start > 1.2:
            vent = [(start + 0.05, half, middle + 0.24), (end - 0.05, half, middle + 0.24)]
            parts += solids.both_sides([trim_line(vent, 0.045, TRIM, SATIN, _bus_bend)])
    return parts


def _bus_doors() -> list[Mesh]:
    parts = []
    for rear in (2.0 + 1.42, -1.14):
        front = rear + (0.56 if rear > 0 else 1.54)
        middle = (front + rear) / 2
        leaves = 1 if rear > 0 else 2
        frame = outlines.rectangle(front - rear, 2.06, 0.06, (middle, 1.42))
        parts += on_side(frame, _BUS_HALF, 0.012, TRIM, SATIN)
        wide = (front - rear) / leaves
        for k in range(leaves):
            centre = rear + (k + 0.5) * wide
            upper = outlines.rectangle(wide - 0.09, 1.12, 0.06, (centre, 1.82))
            lower = outlines.rectangle(wide - 0.09, 0.70, 0.06, (centre, 0.84))
            for glass in (upper, lower):
                parts += on_side(glass, _BUS_HALF, 0.024, GLASS, GLOSSY)
    return parts


def _bus_sides(colour: Colour) -> list[Mesh]:
    half = _BUS_HALF
    waist = [(5.0, half, 1.24), (-5.2, half, 1.24)]
    skirt = [(2.1, half, 0.62), (-2.1, half, 0.62)]
    parts = solids.both_sides(
        [trim_line(waist, 0.05, CHROME, GLOSSY, _bus_bend), trim_line(skirt, 0.03, TRIM, SATIN, _bus_bend)]
    )
    for axle in _BUS_AXLES:
        parts += arch_lip(axle, 0.57, 0.32, half - 0.012, TRIM, 0.03)
    lines = [[(x, 1.20), (x, 0.36)] for x in (1.6, 0.45, -1.95, -3.6, -4.5)]
    parts += side_gaps([*lines, [(-3.6, 0.80), (-4.5, 0.80)], [(5.0, 2.62), (-5.2, 2.62)]], half, _bus_bend, 0.02)
    for x in (4.75, 1.9, -1.6, -4.9):
        parts += on_side(outlines.rectangle(0.13, 0.06, 0.02, (x, 0.92)), half, 0.03, AMBER, GLOSSY)
    for k in range(5):
        slat = outlines.rectangle(0.72, 0.035, 0.0, (-4.05, 0.46 + 0.06 * k))
        parts += on_side(slat, half, 0.016, SHADOW, MATT)
    return parts


def _bus_front() -> list[Mesh]:
    lower, screen, brow = (
        ((5.50, 0.46), (5.50, 1.10)),
        ((5.50, 1.10), (5.40, 2.36)),
        ((5.40, 2.36), (5.22, 2.90)),
    )
    glass = outlines.rounded([(-1.08, 0.10), (1.08, 0.10), (1.08, 1.20), (-1.08, 1.20)], 0.14)
    sign = outlines.rounded([(-0.86, 0.06), (0.86, 0.06), (0.82, 0.40), (-0.82, 0.40)], 0.07)
    bumper = outlines.rectangle(2.24, 0.26, 0.08, (0, 0.08))
    parts = strip_window(glass, *screen, 0.024)
    parts += [
        *strip_window(sign, *brow, 0.03),
        on_strip(outlines.rectangle(1.4, 0.20, 0.03, (0, 0.23)), *brow, 0.036, (0.20, 0.11, 0.02), GLOSSY),
        on_strip(bumper, *lower, 0.05, TRIM, SATIN),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.09)), *lower, 0.066, BLANK, SATIN),
        on_strip(outlines.rectangle(1.10, 0.20, 0.05, (0, 0.40)), *lower, 0.026, TRIM, MATT),
        trim_line([(5.5, 0.0, 1.22), (5.41, 0.0, 2.28)], 0.03, SHADOW, MATT, _bus_bend),
    ]
    for k in range(4):
        bar_ = outlines.rectangle(1.04, 0.018, 0.0, (0, 0.33 + 0.046 * k))
        parts.append(on_strip(bar_, *lower, 0.038, CHROME, GLOSSY))
    sides = [trim_line([(5.53, 0.25, 1.18), (5.50, 0.92, 1.50)], 0.03, TRIM, MATT, _bus_bend)]
    case = outlines.rectangle(0.48, 0.24, 0.09, (0.84, 0.38))
    sides.append(on_strip(case, *lower, 0.020, TRIM, GLOSSY))
    for y in (0.73, 0.95):
        sides.append(on_strip(outlines.circle(0.095, at=(y, 0.38)), *lower, 0.034, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.078, at=(y, 0.38)), *lower, 0.050, CLEAR, GLOSSY))
    sides.append(on_strip(outlines.rectangle(0.16, 0.07, 0.02, (0.95, 0.07)), *lower, 0.064, AMBER, GLOSSY))
    return parts + solids.both_sides(sides)


def _bus_rear() -> list[Mesh]:
    upper = ((-5.50, 2.60), (-5.50, 0.50))
    glass = outlines.rectangle(1.9, 0.72, 0.12, (0, 0.50))
    hatch = outlines.rectangle(1.7, 0.74, 0.05, (0, 1.42))
    parts = strip_window(glass, *upper, 0.02)
    parts.append(on_strip(hatch, *upper, 0.012, SHADOW, MATT))
    parts.append(on_strip(outlines.rectangle(1.67, 0.71, 0.05, (0, 1.42)), *upper, 0.016, TRIM, SATIN))
    for k in range(7):
        slat = outlines.rectangle(1.5, 0.045, 0.0, (0, 1.16 + 0.085 * k))
        parts.append(on_strip(slat, *upper, 0.026, SHADOW, MATT))
    parts.append(on_strip(outlines.rectangle(2.2, 0.22, 0.08, (0, 1.99)), *upper, 0.06, TRIM, SATIN))
    parts.append(on_strip(outlines.rectangle(0.52, 0.12, 0.01, (0, 1.99)), *upper, 0.074, BLANK, SATIN))
    sides = []
    for s, lamp in ((1.36, AMBER), (1.58, RED), (1.80, RED)):
        sides.append(on_strip(outlines.circle(0.09, at=(1.02, s)), *upper, 0.034, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.075, at=(1.02, s)), *upper, 0.05, lamp, GLOSSY))
    return parts + solids.both_sides(sides)
