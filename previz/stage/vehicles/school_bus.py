"""A school bus with its engine under a long bonnet: one side view, extruded, rounded and bent. Full size, metres, from
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
    gap,
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

_HALF, _SILL = 1.20, 0.52
_AXLES = ((-2.60, 0.48), (3.86, 0.48))
_SIDE = [  # x, z, radius: from the front of the sill up, over the roof and down to the rear
    (5.16, 0.52, 0.0),
    (5.26, 0.62, 0.08),
    (5.26, 1.20, 0.10),
    (5.10, 1.50, 0.16),
    (3.62, 1.66, 0.10),
    (3.34, 2.62, 0.20),
    (3.05, 3.00, 0.36),
    (2.40, 3.08, 1.0),
    (-4.70, 3.08, 0.8),
    (-5.16, 2.90, 0.36),
    (-5.26, 2.30, 0.5),
    (-5.26, 0.62, 0.10),
    (-5.16, 0.52, 0.0),
]
_WAIST, _HEAD = 1.62, 2.34  # lower and upper edge of the side windows


def _bend(points: Array) -> Array:
    """A bonnet narrower than the body, a roof drawn in to a barrel, walls that lean a little."""
    x, y, z = points.T
    nose = 1 - 0.15 * smoothstep(x, 3.30, 3.75) - 0.07 * smoothstep(x, 4.2, 5.3)
    lean = 1 - 0.03 * smoothstep(z, 1.2, 2.4) - 0.16 * smoothstep(z, 2.40, 3.15)
    across = (y / _HALF) ** 2
    bulge = 0.16 * across * smoothstep(x, 4.3, 5.3) + 0.10 * across * smoothstep(x, 2.9, 3.5) * smoothstep(z, 1.6, 1.9)
    crown = 0.13 * (1 - across) * smoothstep(z, 2.6, 3.05) + 0.05 * (1 - across) * smoothstep(x, 3.7, 4.2) * smoothstep(
        z, 1.2, 1.6
    )
    return np.stack([x - bulge, y * nose * lean, z + crown], 1)


def school_bus(colour: Colour) -> Draft:
    """A long-nosed school bus, 10.6 m, with a door on both sides: either may face the kerb."""
    profile = side_profile(_SIDE, [(axle, 0.58) for axle in _AXLES], _SILL)
    shell = [painted_shell(profile, 2 * _HALF, 0.10, 0.40, colour)]
    shell += _windows() + _sides(colour) + _front() + _rear()
    draft = Draft(bend_all(shell, _bend, 0.003))
    draft.body.append(block((9.4, 1.50, 0.7), (0.0, 0.0, 0.74), SHADOW, MATT, 0.05))
    draft.body += mirrors((3.50, 0.98, 2.00), (3.72, 1.36, 2.02), (0.12, 0.20, 0.36))
    for x, z in _AXLES:
        twin = 0.32 if x < 0 else 0.0
        wheel = disc_wheel(z, 0.27, 0.29, hub=-0.15 if twin else 0.30, twin=twin)
        draft.wheels.append(((x, 1.02 if twin else 0.86, z), wheel))
    draft.head.append((bent_place((5.29, 0.80, 1.00), _bend), 0.08))
    draft.tail.append((bent_place((-5.30, 0.98, 1.24), _bend), 0.07))
    return draft


def _windows() -> list[Mesh]:
    height, middle = _HEAD - _WAIST, (_WAIST + _HEAD) / 2
    parts: list[Mesh] = []
    for k in range(10):
        pane = outlines.rectangle(0.62, height, 0.06, (2.02 - 0.74 * k, middle))
        parts += on_side(outlines.inset(pane, -0.03), _HALF, 0.008, SHADOW, MATT)
        parts += on_side(pane, _HALF, 0.016, GLASS, GLOSSY)
    sash = [(2.36, _HALF, middle), (-4.98, _HALF, middle)]
    parts += solids.both_sides([trim_line(sash, 0.035, TRIM, SATIN, _bend)])
    door = outlines.rectangle(0.62, 1.74, 0.05, (2.82, 1.50))
    parts += on_side(door, _HALF, 0.012, TRIM, SATIN)
    for z, high in ((1.94, 0.70), (1.08, 0.62)):
        for x in (2.68, 2.96):
            parts += on_side(outlines.rectangle(0.23, high, 0.03, (x, z)), _HALF, 0.022, GLASS, GLOSSY)
    return parts


def _sides(colour: Colour) -> list[Mesh]:
    spans = ((2.42, -5.10, 1.50), (2.42, -5.10, 1.16), (2.42, -1.97, 0.72), (-3.23, -5.10, 0.72))
    rails = [[(start, _HALF, z), (end, _HALF, z)] for start, end, z in spans]
    parts = solids.both_sides([trim_line(rail, 0.07, TRIM, SATIN, _bend) for rail in rails])
    parts += side_gaps([[(-5.0, 2.52), (3.0, 2.52)]], _HALF, _bend, 0.02)
    parts += side_gaps([[(3.62, 1.60), (3.50, 1.10), (3.50, 0.98)]], _HALF, _bend, 0.02)
    for axle, lip in zip(_AXLES, (TRIM, colour), strict=True):
        parts += arch_lip(axle, 0.59, _SILL, _HALF - 0.012, lip, 0.035)
    for k in range(4):
        slat = outlines.rectangle(0.44, 0.03, 0.0, (4.55, 1.24 + 0.055 * k))
        parts += on_side(slat, _HALF, 0.014, SHADOW, MATT)
    for x in (2.0, -0.6, -4.6):
        parts += on_side(outlines.rectangle(0.13, 0.06, 0.02, (x, 1.04)), _HALF, 0.024, AMBER, GLOSSY)
    return parts


def _front() -> list[Mesh]:
    face, screen, brow = (
        ((5.26, 0.62), (5.26, 1.20)),
        ((3.62, 1.66), (3.34, 2.62)),
        ((3.34, 2.62), (3.05, 3.00)),
    )
    slope = ((5.26, 1.20), (5.10, 1.50))
    glass = outlines.rounded([(-1.02, 0.12), (1.02, 0.12), (1.02, 0.88), (-1.02, 0.88)], 0.10)
    grille = outlines.rounded([(-0.52, 0.22), (0.52, 0.22), (0.52, 0.58), (-0.52, 0.58)], 0.06)
    parts = [
        *strip_window(glass, *screen, 0.020),
        on_strip(outlines.rectangle(2.36, 0.26, 0.06, (0, 0.04)), *face, 0.08, TRIM, SATIN),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.04)), *face, 0.092, BLANK, SATIN),
        on_strip(grille, *face, 0.020, CHROME, GLOSSY),
        on_strip(outlines.inset(grille, 0.04), *face, 0.026, SHADOW, MATT),
        on_strip(outlines.rectangle(0.90, 0.12, 0.03, (0, 0.14)), *slope, 0.016, SHADOW, MATT),
        trim_line([(3.64, 0.0, 1.74), (3.40, 0.0, 2.52)], 0.04, TRIM, MATT, _bend),
        on_strip(outlines.rectangle(1.10, 0.20, 0.03, (0, 0.24)), *brow, 0.024, TRIM, SATIN),
    ]
    for k in range(5):
        slat = outlines.rectangle(0.94, 0.02, 0.0, (0, 0.28 + 0.06 * k))
        parts.append(on_strip(slat, *face, 0.036, CHROME, GLOSSY))
    sides = [
        on_strip(outlines.circle(0.125, at=(0.80, 0.38)), *face, 0.026, CHROME, GLOSSY),
        on_strip(outlines.circle(0.100, at=(0.80, 0.38)), *face, 0.042, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.20, 0.09, 0.02, (0.82, 0.535)), *face, 0.030, AMBER, GLOSSY),
        on_strip(outlines.circle(0.095, at=(0.92, 0.24)), *brow, 0.03, SHADOW, MATT),
        on_strip(outlines.circle(0.075, at=(0.92, 0.24)), *brow, 0.042, RED, GLOSSY),
        gap([(5.05, 0.86, 1.515), (3.66, 0.86, 1.665)], 0.016, _bend),
        trim_line([(3.64, 0.30, 1.72), (3.50, 0.80, 2.15)], 0.025, TRIM, MATT, _bend),
    ]
    return parts + solids.both_sides(sides)


def _rear() -> list[Mesh]:
    brow, upper = ((-5.16, 2.90), (-5.26, 2.30)), ((-5.26, 2.30), (-5.26, 0.62))
    parts: list[Mesh] = []
    for low, high in ((0.06, 0.62), (0.74, 1.26)):  # of the door in the middle
        pane = outlines.rectangle(0.72, high - low, 0.05, (0, (low + high) / 2))
        parts += strip_window(pane, *upper, 0.018)
    door = [(-5.265, -0.46, 2.34), (-5.265, -0.46, 0.92), (-5.265, 0.46, 0.92), (-5.265, 0.46, 2.34)]
    parts += [
        gap(door, 0.016, _bend),
        on_strip(outlines.rectangle(2.36, 0.24, 0.06, (0, 1.60)), *upper, 0.08, TRIM, SATIN),
        on_strip(outlines.rectangle(0.52, 0.12, 0.01, (0, 1.60)), *upper, 0.092, BLANK, SATIN),
        on_strip(outlines.rectangle(1.10, 0.20, 0.03, (0, 0.36)), *brow, 0.024, TRIM, SATIN),
    ]
    sides = [
        *strip_window(outlines.rectangle(0.44, 0.56, 0.06, (0.78, 0.34)), *upper, 0.018),
        on_strip(outlines.circle(0.095, at=(0.80, 0.36)), *brow, 0.03, SHADOW, MATT),
        on_strip(outlines.circle(0.075, at=(0.80, 0.36)), *brow, 0.042, RED, GLOSSY),
    ]
    for s, lamp in ((1.06, RED), (1.26, AMBER)):
        sides.append(on_strip(outlines.circle(0.085, at=(0.98, s)), *upper, 0.024, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.070, at=(0.98, s)), *upper, 0.040, lamp, GLOSSY))
    return parts + solids.both_sides(sides)
