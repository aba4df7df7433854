"""Saloon, van and bus: one side view each, extruded, rounded and bent. Full size, metres, from memory."""

import numpy as np

from previz.stage import outlines, solids
from previz.stage.coachwork import (
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
    disc_wheel,
    gap,
    mirrors,
    on_side,
    on_strip,
    side_gaps,
    side_profile,
    side_window,
    smoothstep,
    spoked_wheel,
    strip_window,
    trim_line,
)
from previz.stage.mesh import Array, Mesh


def _shell(profile: tuple[Array, Array], width: float, bevel: float, grid: float, colour: Colour) -> Mesh:
    shell = solids.extrude(profile[0], width, bevel, "y", segments=3, grid=grid, ease=profile[1])
    return solids.coloured(shell, colour, PAINT)


# Saloon -----------------------------------------------------------------------------------------------------

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
    shell = [_shell(profile, 2 * _SALOON_HALF, 0.075, 0.11, colour)]
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
    half, grid = _SALOON_HALF, 0.10
    front = [(0.90, 0.965), (0.10, 1.315), (-0.17, 1.335), (-0.17, 0.965)]
    rear = [(-0.25, 0.965), (-0.25, 1.335), (-0.78, 1.305), (-1.24, 1.02), (-1.17, 0.965)]
    parts = []
    for window in (front, rear):
        parts += side_window(outlines.rounded(window, 0.05), half, grid, 0.012)
    screen = [(-0.76, 0.12), (0.76, 0.12), (0.74, 0.90), (-0.74, 0.90)]
    parts += strip_window(outlines.rounded(screen, 0.09), (1.15, 0.93), (0.22, 1.38), grid, 0.016)
    back = [(-0.70, 0.12), (0.70, 0.12), (0.76, 0.70), (-0.76, 0.70)]
    parts += strip_window(outlines.rounded(back, 0.08), (-0.92, 1.37), (-1.62, 1.00), grid, 0.016)
    waist = [(0.95, half, 0.935), (-1.22, half, 0.935)]
    return parts + solids.both_sides([trim_line(waist, 0.022, CHROME, GLOSSY)])


def _saloon_sides(colour: Colour) -> list[Mesh]:
    half = _SALOON_HALF
    doors = [
        [(0.98, 0.92), (0.98, 0.45), (0.90, 0.28), (-0.92, 0.28)],
        [(-0.21, 0.92), (-0.21, 0.28)],
        [(-1.24, 0.92), (-1.02, 0.72), (-0.92, 0.48), (-0.92, 0.28)],
    ]
    parts = side_gaps(doors, half, 0.012)
    for x in (-0.08, -1.0):
        parts += on_side(outlines.rectangle(0.18, 0.032, 0.014, (x, 0.84)), half, 0.024, CHROME, GLOSSY)
    sill = outlines.rectangle(1.9, 0.07, 0.03, (0.02, 0.245))
    parts += on_side(sill, half, 0.02, TRIM, SATIN, 0.15)
    for axle in _SALOON_AXLES:
        parts += arch_lip(axle, 0.382, 0.20, half - 0.012, colour, 0.020)
    parts += on_side(outlines.rectangle(0.10, 0.035, 0.015, (1.95, 0.60)), half, 0.02, AMBER, GLOSSY, 0.05)
    return parts


def _saloon_front(colour: Colour) -> list[Mesh]:
    slope, upright, chin = (
        ((2.30, 0.54), (2.15, 0.76)),
        ((2.30, 0.34), (2.30, 0.54)),
        ((2.2, 0.2), (2.3, 0.34)),
    )
    grid = 0.09
    parts = [
        on_strip(outlines.rectangle(0.80, 0.16, 0.05, (0, 0.135)), *slope, 0.022, CHROME, GLOSSY, grid),
        on_strip(outlines.rectangle(0.74, 0.115, 0.035, (0, 0.135)), *slope, 0.028, SHADOW, MATT, grid),
        on_strip(outlines.rectangle(0.50, 0.11, 0.01, (0, 0.085)), *upright, 0.028, BLANK, SATIN, grid),
        on_strip(outlines.rectangle(1.30, 0.13, 0.05, (0, 0.09)), *chin, 0.022, TRIM, MATT, grid),
    ]
    for k in range(4):
        slat = outlines.rectangle(0.72, 0.010, 0.0, (0, 0.095 + 0.027 * k))
        parts.append(on_strip(slat, *slope, 0.036, CHROME, GLOSSY, grid))
    lamp = outlines.rounded([(0.46, 0.06), (0.83, 0.08), (0.83, 0.22), (0.46, 0.205)], 0.04)
    lamps = [
        on_strip(outlines.inset(lamp, -0.014), *slope, 0.016, SHADOW, MATT, grid),
        on_strip(lamp, *slope, 0.026, (0.30, 0.31, 0.32), GLOSSY, grid),
    ]
    for y in (0.56, 0.71):
        lamps.append(on_strip(outlines.circle(0.060, 20, (y, 0.138)), *slope, 0.038, CHROME, GLOSSY))
        lamps.append(on_strip(outlines.circle(0.046, 20, (y, 0.138)), *slope, 0.050, CLEAR, GLOSSY))
    fog = outlines.circle(0.045, 16, (0.74, 0.09))
    lamps.append(on_strip(fog, *upright, 0.03, CLEAR, GLOSSY))
    bonnet = [(2.10, 0.62, 0.772), (1.9, 0.68, 0.806), (1.22, 0.74, 0.922)]
    lamps.append(gap(bonnet, 0.012, 0.1))
    return parts + solids.both_sides(lamps) + [gap([(2.12, 0.62, 0.766), (2.12, -0.62, 0.766)], 0.012, 0.09)]


def _saloon_rear() -> list[Mesh]:
    face, bumper, chin = (
        ((-2.22, 0.97), (-2.31, 0.70)),
        ((-2.31, 0.70), (-2.29, 0.40)),
        ((-2.29, 0.4), (-2.2, 0.2)),
    )
    grid = 0.09
    lamp = outlines.rounded([(0.46, 0.07), (0.84, 0.06), (0.84, 0.20), (0.46, 0.22)], 0.035)
    reverse = outlines.rectangle(0.10, 0.05, 0.015, (0.53, 0.175))
    sides = [
        on_strip(outlines.inset(lamp, -0.012), *face, 0.014, SHADOW, MATT, grid),
        on_strip(lamp, *face, 0.026, RED, GLOSSY, grid),
        on_strip(reverse, *face, 0.032, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.14, 0.035, 0.015, (0.68, 0.175)), *face, 0.032, AMBER, GLOSSY),
        gap([(-1.66, 0.72, 0.995), (-2.18, 0.66, 0.972)], 0.012, 0.1),
    ]
    return [
        *solids.both_sides(sides),
        on_strip(outlines.rectangle(0.52, 0.115, 0.01, (0, 0.17)), *face, 0.020, BLANK, SATIN, grid),
        on_strip(outlines.rectangle(0.70, 0.025, 0.01, (0, 0.075)), *face, 0.026, CHROME, GLOSSY, grid),
        on_strip(outlines.rectangle(1.64, 0.014, 0.0, (0, 0.03)), *bumper, 0.010, SHADOW, MATT, grid),
        on_strip(outlines.rectangle(1.3, 0.15, 0.04, (0, 0.11)), *chin, 0.020, TRIM, MATT, grid),
    ]


# Van --------------------------------------------------------------------------------------------------------

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
    bulge = 0.20 * across * smoothstep(x, 0.8, 2.5)
    crown = 0.04 * (1 - across) * smoothstep(z, 1.0, 2.4)
    return np.stack([x - bulge, y * nose * lean * flank, z + crown], 1)


def van(colour: Colour) -> Draft:
    """A panel van with a short bonnet, 5.4 m."""
    profile = side_profile(_VAN_SIDE, [(axle, 0.42) for axle in _VAN_AXLES], 0.30)
    shell = [_shell(profile, 2 * _VAN_HALF, 0.09, 0.14, colour)]
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
    half, grid = _VAN_HALF, 0.14
    window = [(1.66, 1.42), (1.10, 2.03), (0.62, 2.06), (0.62, 1.42)]
    quarter = [(1.83, 1.40), (1.75, 1.40), (1.75, 1.48)]
    parts = side_window(outlines.rounded(window, 0.06), half, grid, 0.014)
    parts += on_side(outlines.rounded(quarter, 0.01), half, 0.012, GLASS, GLOSSY)
    door = [(1.80, 1.36), (1.80, 0.98), (1.22, 0.80), (1.18, 0.42), (0.54, 0.42), (0.54, 2.14), (1.06, 2.12)]
    slide = [(0.44, 0.42), (0.44, 2.14), (-0.84, 2.14), (-0.84, 0.42), (0.44, 0.42)]
    parts += side_gaps([door, slide], half)
    parts += side_gaps([[(-0.86, 1.30), (-2.45, 1.30)]], half, 0.035)
    for start, end in ((1.22, -1.03), (-2.07, -2.55)):
        strip = outlines.rectangle(start - end, 0.13, 0.04, ((start + end) / 2, 0.66))
        parts += on_side(strip, half, 0.022, TRIM, SATIN, grid)
    for axle in _VAN_AXLES:
        parts += arch_lip(axle, 0.43, 0.30, half - 0.012, TRIM, 0.026)
    for x in (0.68, -0.72):
        parts += on_side(outlines.rectangle(0.20, 0.05, 0.02, (x, 1.22)), half, 0.028, TRIM, SATIN)
    parts += on_side(outlines.rectangle(0.12, 0.05, 0.02, (1.98, 0.92)), half, 0.02, AMBER, GLOSSY, 0.08)
    # A pressed field where a window might be: it catches a line of light.
    for start, end in ((0.34, -0.74), (-0.98, -2.40)):
        field = outlines.rectangle(start - end, 0.60, 0.10, ((start + end) / 2, 1.76))
        ridge = [(x, half, z) for x, z in [*field.tolist(), field[0].tolist()]]
        parts += solids.both_sides([trim_line(ridge, 0.026, colour, PAINT)])
    return parts


def _van_front() -> list[Mesh]:
    bumper, face = ((2.70, 0.42), (2.70, 0.72)), ((2.70, 0.72), (2.58, 1.08))
    grid = 0.12
    screen = [(-0.84, 0.12), (0.84, 0.12), (0.80, 1.06), (-0.80, 1.06)]
    parts = strip_window(outlines.rounded(screen, 0.10), (1.92, 1.33), (1.12, 2.22), grid, 0.02)
    parts += [
        on_strip(outlines.rectangle(1.80, 0.26, 0.06, (0, 0.12)), *bumper, 0.05, TRIM, SATIN, grid),
        on_strip(outlines.rectangle(1.0, 0.10, 0.03, (0, 0.07)), *bumper, 0.06, SHADOW, MATT, grid),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.19)), *bumper, 0.062, BLANK, SATIN, grid),
        on_strip(outlines.rectangle(0.98, 0.20, 0.06, (0, 0.19)), *face, 0.024, TRIM, SATIN, grid),
        gap([(2.56, 0.86, 1.09), (2.56, -0.86, 1.09)], 0.014, 0.1),
    ]
    for k in range(3):
        slat = outlines.rectangle(0.92, 0.022, 0.008, (0, 0.13 + 0.06 * k))
        parts.append(on_strip(slat, *face, 0.036, CHROME, GLOSSY, grid))
    lamp = outlines.rounded([(0.56, 0.06), (0.90, 0.06), (0.90, 0.33), (0.62, 0.29)], 0.05)
    sides = [
        on_strip(outlines.inset(lamp, -0.016), *face, 0.018, SHADOW, MATT, grid),
        on_strip(lamp, *face, 0.030, (0.42, 0.43, 0.44), GLOSSY, grid),
        on_strip(outlines.circle(0.085, 20, (0.74, 0.19)), *face, 0.042, CHROME, GLOSSY),
        on_strip(outlines.circle(0.068, 20, (0.74, 0.19)), *face, 0.056, CLEAR, GLOSSY),
        on_strip(outlines.circle(0.05, 16, (0.74, 0.09)), *bumper, 0.064, CLEAR, GLOSSY),
        gap([(2.50, 0.80, 1.115), (1.96, 0.86, 1.318)], 0.014, 0.1),
    ]
    wiper = [(1.93, 0.10, 1.36), (1.70, 0.62, 1.60)]
    sides.append(trim_line(wiper, 0.022, TRIM, MATT))
    return parts + solids.both_sides(sides)


def _van_rear() -> list[Mesh]:
    upper, lower = ((-2.60, 2.40), (-2.70, 1.30)), ((-2.70, 1.30), (-2.70, 0.45))
    grid = 0.14
    lamp = outlines.rectangle(0.12, 0.46, 0.03, (0.86, 0.22))
    window = outlines.rounded([(0.12, 0.30), (0.74, 0.30), (0.78, 0.86), (0.12, 0.86)], 0.06)
    sides = [
        *strip_window(window, *upper, grid),
        on_strip(lamp, *lower, 0.030, RED, GLOSSY, grid),
        on_strip(outlines.rectangle(0.10, 0.10, 0.02, (0.86, 0.14)), *lower, 0.036, AMBER, GLOSSY),
        on_strip(outlines.rectangle(0.10, 0.07, 0.02, (0.86, 0.38)), *lower, 0.036, CLEAR, GLOSSY),
        on_strip(outlines.rectangle(0.07, 0.11, 0.02, (0.90, 0.25)), *upper, 0.03, TRIM, SATIN),
        on_strip(outlines.rectangle(0.07, 0.11, 0.02, (0.90, 0.95)), *upper, 0.03, TRIM, SATIN),
    ]
    return [
        *solids.both_sides(sides),
        gap([(-2.605, 0.0, 2.32), (-2.70, 0.0, 1.30), (-2.70, 0.0, 0.52)], 0.016, 0.12),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0.0, 0.36)), *lower, 0.02, BLANK, SATIN),
        on_strip(outlines.rectangle(0.20, 0.05, 0.02, (-0.14, 0.20)), *lower, 0.03, TRIM, SATIN),
        on_strip(outlines.rectangle(1.86, 0.20, 0.05, (0, 0.80)), *lower, 0.06, TRIM, SATIN, grid),
    ]


# Bus --------------------------------------------------------------------------------------------------------

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
    shell = [_shell(profile, 2 * _BUS_HALF, 0.13, 0.30, colour)]
    shell += _bus_windows() + _bus_doors() + _bus_sides(colour) + _bus_front() + _bus_rear()
    draft = Draft(bend_all(shell, _bus_bend))
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
    half, grid, height = _BUS_HALF, 0.42, _BUS_HEAD - _BUS_WAIST
    middle = (_BUS_WAIST + _BUS_HEAD) / 2
    band = outlines.rectangle(10.05, height + 0.10, 0.12, (-0.13, middle))
    parts = on_side(band, half, 0.008, SHADOW, MATT, grid)
    panes = [(4.88 - 0.86, 4.88)]
    panes += [(x, x + 1.44) for x in (1.94, 0.44)] + [(x, x + 1.44) for x in (-2.62, -4.12)]
    panes += [(-5.10, -4.18)]
    for start, end in panes:
        pane = outlines.rectangle(end - start, height, 0.08, ((start + end) / 2, middle))
        parts += on_side(pane, half, 0.018, GLASS, GLOSSY, grid)
        if end - start > 1.2:
            vent = [(start + 0.05, half, middle + 0.24), (end - 0.05, half, middle + 0.24)]
            parts += solids.both_sides([trim_line(vent, 0.045, TRIM, SATIN, 0.7)])
    return parts


def _bus_doors() -> list[Mesh]:
    parts = []
    for rear in (2.0 + 1.42, -1.14):
        front = rear + (0.56 if rear > 0 else 1.54)
        middle = (front + rear) / 2
        leaves = 1 if rear > 0 else 2
        frame = outlines.rectangle(front - rear, 2.06, 0.06, (middle, 1.42))
        parts += on_side(frame, _BUS_HALF, 0.012, TRIM, SATIN, 0.42)
        wide = (front - rear) / leaves
        for k in range(leaves):
            centre = rear + (k + 0.5) * wide
            upper = outlines.rectangle(wide - 0.09, 1.12, 0.06, (centre, 1.82))
            lower = outlines.rectangle(wide - 0.09, 0.70, 0.06, (centre, 0.84))
            for glass in (upper, lower):
                parts += on_side(glass, _BUS_HALF, 0.024, GLASS, GLOSSY, 0.42)
    return parts


def _bus_sides(colour: Colour) -> list[Mesh]:
    half = _BUS_HALF
    waist = [(5.0, half, 1.24), (-5.2, half, 1.24)]
    skirt = [(2.1, half, 0.62), (-2.1, half, 0.62)]
    parts = solids.both_sides(
        [trim_line(waist, 0.05, CHROME, GLOSSY, 0.5), trim_line(skirt, 0.03, TRIM, SATIN, 0.5)]
    )
    for axle in _BUS_AXLES:
        parts += arch_lip(axle, 0.57, 0.32, half - 0.012, TRIM, 0.03)
    lines = [[(x, 1.20), (x, 0.36)] for x in (1.6, 0.45, -1.95, -3.6, -4.5)]
    parts += side_gaps([*lines, [(-3.6, 0.80), (-4.5, 0.80)], [(5.0, 2.62), (-5.2, 2.62)]], half, 0.02)
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
    grid = 0.26
    glass = outlines.rounded([(-1.08, 0.10), (1.08, 0.10), (1.08, 1.20), (-1.08, 1.20)], 0.14)
    sign = outlines.rounded([(-0.86, 0.06), (0.86, 0.06), (0.82, 0.40), (-0.82, 0.40)], 0.07)
    bumper = outlines.rectangle(2.24, 0.26, 0.08, (0, 0.08))
    parts = strip_window(glass, *screen, grid, 0.024)
    parts += [
        *strip_window(sign, *brow, grid, 0.03),
        on_strip(
            outlines.rectangle(1.4, 0.20, 0.03, (0, 0.23)), *brow, 0.036, (0.20, 0.11, 0.02), GLOSSY, grid
        ),
        on_strip(bumper, *lower, 0.05, TRIM, SATIN, grid),
        on_strip(outlines.rectangle(0.52, 0.11, 0.01, (0, 0.09)), *lower, 0.066, BLANK, SATIN, grid),
        on_strip(outlines.rectangle(1.10, 0.20, 0.05, (0, 0.40)), *lower, 0.026, TRIM, MATT, grid),
        trim_line([(5.5, 0.0, 1.22), (5.41, 0.0, 2.28)], 0.03, SHADOW, MATT, 0.2),
    ]
    for k in range(4):
        bar_ = outlines.rectangle(1.04, 0.018, 0.0, (0, 0.33 + 0.046 * k))
        parts.append(on_strip(bar_, *lower, 0.038, CHROME, GLOSSY, grid))
    sides = [trim_line([(5.53, 0.25, 1.18), (5.50, 0.92, 1.50)], 0.03, TRIM, MATT)]
    case = outlines.rectangle(0.48, 0.24, 0.09, (0.84, 0.38))
    sides.append(on_strip(case, *lower, 0.020, TRIM, GLOSSY, grid))
    for y in (0.73, 0.95):
        sides.append(on_strip(outlines.circle(0.095, 20, (y, 0.38)), *lower, 0.034, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.078, 20, (y, 0.38)), *lower, 0.050, CLEAR, GLOSSY))
    sides.append(on_strip(outlines.rectangle(0.16, 0.07, 0.02, (0.95, 0.07)), *lower, 0.064, AMBER, GLOSSY))
    return parts + solids.both_sides(sides)


def _bus_rear() -> list[Mesh]:
    upper = ((-5.50, 2.60), (-5.50, 0.50))
    grid = 0.32
    glass = outlines.rectangle(1.9, 0.72, 0.12, (0, 0.50))
    hatch = outlines.rectangle(1.7, 0.74, 0.05, (0, 1.42))
    parts = strip_window(glass, *upper, grid, 0.02)
    parts.append(on_strip(hatch, *upper, 0.012, SHADOW, MATT, grid))
    parts.append(on_strip(outlines.rectangle(1.67, 0.71, 0.05, (0, 1.42)), *upper, 0.016, TRIM, SATIN, grid))
    for k in range(7):
        slat = outlines.rectangle(1.5, 0.045, 0.0, (0, 1.16 + 0.085 * k))
        parts.append(on_strip(slat, *upper, 0.026, SHADOW, MATT))
    parts.append(on_strip(outlines.rectangle(2.2, 0.22, 0.08, (0, 1.99)), *upper, 0.06, TRIM, SATIN, grid))
    parts.append(on_strip(outlines.rectangle(0.52, 0.12, 0.01, (0, 1.99)), *upper, 0.074, BLANK, SATIN))
    sides = []
    for s, lamp in ((1.36, AMBER), (1.58, RED), (1.80, RED)):
        sides.append(on_strip(outlines.circle(0.09, 18, (1.02, s)), *upper, 0.034, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.075, 18, (1.02, s)), *upper, 0.05, lamp, GLOSSY))
    return parts + solids.both_sides(sides)
