"""A saloon car: one side view, extruded, rounded and bent. Full size, metres, from memory."""

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

_SALOON_HALF = 0.90
_SALOON_AXLES = ((-1.36, 0.33), (1.40, 0.33))
_SALOON_SIDE = [  # x, z, radius: from the front of the sill up, over the roof and down to the rear
    (2.20, 0.20, 0.0),
    (2.30, 0.34, 0.09),
    (2.30, 0.54, 0.09),
    (2.15, 0.76, 0.10),
    (1.15, 0.93, 0.12),
    (0.22, 1.38, 0.40),
    (-0.40, 1.42, 0.80),
    (-0.92, 1.37, 0.40),
    (-1.62, 1.00, 0.12),
    (-2.22, 0.97, 0.09),
    (-2.31, 0.70, 0.09),
    (-2.29, 0.40, 0.09),
    (-2.20, 0.20, 0.0),
]


def _saloon_bend(points: Array) -> Array:
    """Draw in the nose and tail seen from above, lean the glass inwards, let the flanks swell."""
    x, y, z = points.T
    nose = 1 - 0.15 * smoothstep(x, 1.6, 2.45)
    tail = 1 - 0.11 * smoothstep(x, -1.6, -2.45)
    lean = 1 - 0.26 * smoothstep(z, 0.80, 1.60)
    flank = 1 - 0.03 * smoothstep(z, 0.62, 0.15) + 0.018 * np.exp(-(((z - 0.80) / 0.06) ** 2))
    across = (y / _SALOON_HALF) ** 2
    bulge = 0.20 * across * (smoothstep(x, 0.6, 2.2) - 0.75 * smoothstep(x, -0.7, -2.2))
    crown = 0.03 * (1 - across) * smoothstep(z, 0.75, 1.0)
    return np.stack([x - bulge, y * nose * tail * lean * flank, z + crown], 1)


def saloon(colour: Colour) -> Draft:
    """A three-box saloon car, 4.6 m."""
    profile = side_profile(_SALOON_SIDE, [(axle, 0.375) for axle in _SALOON_AXLES], 0.20)
    shell = [painted_shell(profile, 2 * _SALOON_HALF, 0.075, 0.18, colour)]
    shell += _saloon_glass() + _saloon_sides(colour) + _saloon_front(colour) + _saloon_rear()
    draft = Draft(bend_all(shell, _saloon_bend))
    draft.body.append(block((3.9, 1.24, 0.5), (0.0, 0.0, 0.48), SHADOW, MATT, 0.05))
    draft.body += mirrors((0.84, 0.80, 0.96), (0.76, 0.95, 1.0), (0.12, 0.22, 0.14), colour, PAINT)
    draft.body.append(bar([(-1.9, 0.45, 0.24), (-2.26, 0.45, 0.24)], 0.035, CHROME, GLOSSY))
    for x, z in _SALOON_AXLES:
        draft.wheels.append(((x, 0.735, z), spoked_wheel(z, 0.22, 0.235)))
    draft.head.append((bent_place((2.263, 0.56, 0.682), _saloon_bend), 0.05))
    draft.tail.append((bent_place((-2.29, 0.66, 0.845), _saloon_bend), 0.05))
    return draft


def _saloon_glass() -> list[Mesh]:
    half = _SALOON_HALF
    front = [(0.90, 0.965), (0.10, 1.315), (-0.17, 1.335), (-0.17, 0.965)]
    rear = [(-0.25, 0.965), (-0.25, 1.335), (-0.78, 1.305), (-1.24, 1.02), (-1.17, 0.965)]
    parts = []
    for window in (front, rear):
        parts += side_window(outlines.rounded(window, 0.05), half, 0.012)
    screen = [(-0.76, 0.12), (0.76, 0.12), (0.74, 0.90), (-0.74, 0.90)]
    parts += strip_window(outlines.rounded(screen, 0.09), (1.15, 0.93), (0.22, 1.38), 0.016)
    back = [(-0.70, 0.12), (0.70, 0.12), (0.76, 0.70), (-0.76, 0.70)]
    parts += strip_window(outlines.rounded(back, 0.08), (-0.92, 1.37), (-1.62, 1.00), 0.016)
    waist = [(0.95, half, 0.935), (-1.22, half, 0.935)]
    return parts + solids.both_sides([trim_line(waist, 0.022, CHROME, GLOSSY, _saloon_bend)])


def _saloon_sides(colour: Colour) -> list[Mesh]:
    half = _SALOON_HALF
    doors = [
        [(0.98, 0.92), (0.98, 0.45), (0.90, 0.28), (-0.92, 0.28)],
        [(-0.21, 0.92), (-0.21, 0.28)],
        [(-1.24, 0.92), (-1.02, 0.72), (-0.92, 0.48), (-0.92, 0.28)],
    ]
    parts = side_gaps(doors, half, _saloon_bend, 0.012)
    for x in (-0.08, -1.0):
        parts += on_side(outlines.rectangle(0.18, 0.032, 0.014, (x, 0.84)), half, 0.024, CHROME, GLOSSY)
    sill = outlines.rectangle(1.9, 0.07, 0.03, (0.02, 0.245))
    parts += on_side(sill, half, 0.02, TRIM, SATIN)
    for axle in _SALOON_AXLES:
        parts += arch_lip(axle, 0.382, 0.20, half - 0.012, colour, 0.020)
    parts += on_side(outlines.rectangle(0.10, 0.035, 0.015, (1.95, 0.60)), half, 0.02, AMBER, GLOSSY)
    return parts


def _saloon_front(colour: Colour) -> list[Mesh]:
    slope, upright, chin = (
        ((2.30, 0.54), (2.15, 0.76)),
        ((2.30, 0.34), (2.30, 0.54)),
        ((2.2, 0.2), (2.3, 0.34)),
    )
    parts = [
        on_strip(outlines.rectangle(0.80, 0.16, 0.05, (0, 0.135)), *slope, 0.022, CHROME, GLOSSY),
        on_strip(outlines.rectangle(0.74, 0.115, 0.035, (0, 0.135)), *slope, 0.028, SHADOW, MATT),
        on_strip(outlines.rectangle(0.50, 0.11, 0.01, (0, 0.085)), *upright, 0.028, BLANK, SATIN),
        on_strip(outlines.rectangle(1.30, 0.13, 0.05, (0, 0.09)), *chin, 0.022, TRIM, MATT),
    ]
    for k in range(4):
        slat = outlines.rectangle(0.72, 0.010, 0.0, (0, 0.095 + 0.027 * k))
        parts.append(on_strip(slat, *slope, 0.036, CHROME, GLOSSY))
    lamp = outlines.rounded([(0.46, 0.06), (0.83, 0.08), (0.83, 0.22), (0.46, 0.205)], 0.04)
    lamps = [
        on_strip(outlines.inset(lamp, -0.014), *slope, 0.016, SHADOW, MATT),
        on_strip(lamp, *slope, 0.026, (0.30, 0.31, 0.32), GLOSSY),
    ]
    for y in (0.56, 0.71):
        lamps.append(on_strip(outlines.circle(0.060, at=(y, 0.138)), *slope, 0.038, CHROME, GLOSSY))
        lamps.append(on_strip(outlines.circle(0.046, at=(y, 0.138)), *slope, 0.050, CLEAR, GLOSSY))
    fog = outlines.circle(0.045, at=(0.74, 0.09))
    lamps.append(on_strip(fog, *upright, 0.03, CLEAR, GLOSSY))
    bonnet = [(2.10, 0.62, 0.772), (1.9, 0.68, 0.806), (1.22, 0.74, 0.922)]
    lamps.append(gap(bonnet, 0.012, _saloon_bend))
    return parts + solids.both_sides(lamps) + [gap([(2.12, 0.62, 0.766), (2.12, -0.62, 0.766)], 0.012, _saloon_bend)]


def _saloon_rear() -> list[Mesh]:
    face, bumper, chin = (
        ((-2.22, 0.97), (-2.31, 0.70)),
        ((-2.31, 0.70), (-2.29, 0.40)),
        ((-2.29, 0.4), (-2.2, 0.2)),
    )
    lamp = outlines.rounded([(0.46, 0.07), (0.84, 0.06), (0.84, 0.20), (0.46, 0.22)], 0.035)
    reverse = outlines.rectangle(0.10, 0.05, 0.015, (0.53, 0.175))
    sides = [
        on_strip(outlines.inset(lamp, -0.012), *face, 0.014, SHADOW, MATT),
        on_strip(lamp, *face, 0.026, RED, GLOSSY),
        on_strip(reverse, *face, 0.032, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.14, 0.035, 0.015, (0.68, 0.175)), *face, 0.032, AMBER, GLOSSY),
        gap([(-1.66, 0.72, 0.995), (-2.18, 0.66, 0.972)], 0.012, _saloon_bend),
    ]
    return [
        *solids.both_sides(sides),
        on_strip(outlines.rectangle(0.52, 0.115, 0.01, (0, 0.17)), *face, 0.020, BLANK, SATIN),
        on_strip(outlines.rectangle(0.70, 0.025, 0.01, (0, 0.075)), *face, 0.026, CHROME, GLOSSY),
        on_strip(outlines.rectangle(1.64, 0.014, 0.0, (0, 0.03)), *bumper, 0.010, SHADOW, MATT),
        on_strip(outlines.rectangle(1.3, 0.15, 0.04, (0, 0.11)), *chin, 0.020, TRIM, MATT),
    ]
