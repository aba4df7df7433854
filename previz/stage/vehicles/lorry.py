"""A box lorry: a bent cab, and blocks on a chassis. Full size, metres, from memory."""

from collections.abc import Sequence

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
    GLOSSY,
    MATT,
    PAINT,
    RED,
    RUBBER,
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
    side_gaps,
    side_profile,
    side_window,
    strip_window,
    trim_line,
)
from previz.stage.vehicles.wheels import disc_wheel

_CAB_HALF = 1.22
CAB_FRONT_AXLE = (2.98, 0.50)
_LORRY_AXLES = ((-2.35, 0.50), CAB_FRONT_AXLE)
_CAB_BACK = 2.20
_CAB_SIDE = [
    (4.02, 0.46, 0.0),
    (4.10, 0.58, 0.12),
    (4.10, 1.35, 0.30),
    (4.05, 1.74, 0.20),
    (3.78, 2.74, 0.22),
    (3.46, 2.92, 0.30),
]  # and on to its back
BOX = (0.60, 0.60, 0.57)  # panels of a box for the load


def _cab_bend(points: Array) -> Array:
    x, y, z = points.T
    lean = 1 - 0.07 * smoothstep(z, 1.4, 3.1)
    across = (y / _CAB_HALF) ** 2
    bulge = 0.20 * across**1.5 * smoothstep(x, 3.2, 4.1)
    crown = 0.05 * (1 - across) * smoothstep(z, 2.4, 2.9)
    return np.stack([x - bulge, y * lean, z + crown], 1)


def lorry(colour: Colour) -> Draft:
    """A two-axle lorry, cab over the engine, box body, 8.2 m."""
    draft = lorry_cab(colour, _CAB_BACK, _deflector(colour))
    draft.body += _chassis() + _load_body(colour) + _lorry_tail()
    front = disc_wheel(0.50, 0.29, 0.30, hub=0.35)
    rear = disc_wheel(0.50, 0.27, 0.30, hub=-0.15, twin=0.32)
    for (x, z), wheel in zip(_LORRY_AXLES, (rear, front), strict=True):
        draft.wheels.append(((x, 1.08, z), wheel))
    draft.tail.append(((-4.105, 0.90, 0.92), 0.06))
    return draft


def lorry_cab(colour: Colour, back: float, *more: Mesh) -> Draft:
    """The cab over the engine with its mirrors and headlamps, as far back as `back`; no wheels. More is bent with it.

    Its front wheels are at CAB_FRONT_AXLE, (x, z). [m]
    """
    side = [*_CAB_SIDE, (back + 0.16, 2.94, 0.14), (back, 2.80, 0.14), (back, 0.46, 0.0)]
    profile = side_profile(side, [(CAB_FRONT_AXLE, 0.60)], 0.46)
    shell = solids.extrude(profile[0], 2 * _CAB_HALF, 0.11, "y", grid=0.3, ease=profile[1])
    cab = [solids.coloured(shell, colour, PAINT), *_cab_sides(colour, back), *_cab_front(), *more]
    draft = Draft(bend_all(cab, _cab_bend, 0.003))
    draft.body.append(block((1.7, 1.70, 0.8), (3.1, 0.0, 0.86), SHADOW, MATT, 0.05))
    draft.body += mirrors((3.86, 1.15, 2.35), (3.92, 1.42, 2.10), (0.15, 0.22, 0.52))
    draft.head.append((bent_place((4.194, 0.81, 0.75), _cab_bend), 0.08))
    return draft


def _cab_sides(colour: Colour, back: float) -> list[Mesh]:
    half = _CAB_HALF
    window = [(3.80, 1.80), (3.60, 2.54), (2.96, 2.58), (2.88, 1.80)]
    parts = side_window(outlines.rounded(window, 0.07), half)
    door = [(3.90, 1.74), (3.86, 1.20), (3.58, 1.16), (2.76, 1.16), (2.76, 2.68), (3.60, 2.66)]
    parts += side_gaps([door], half, _cab_bend, 0.016)
    parts += on_side(outlines.rectangle(0.24, 0.06, 0.025, (2.96, 1.62)), half, 0.035, TRIM, SATIN)
    parts += on_side(outlines.rectangle(0.30, 0.16, 0.04, (3.80, 0.72)), half, 0.012, SHADOW, MATT)
    parts += on_side(outlines.rectangle(0.12, 0.07, 0.02, (3.75, 1.08)), half, 0.03, AMBER, GLOSSY)
    parts += arch_lip(CAB_FRONT_AXLE, 0.61, 0.46, half - 0.012, TRIM, 0.04)
    # Air intake grille behind the door, and a grab rail.
    for k in range(6):
        slat = outlines.rectangle(0.26, 0.035, 0.0, (2.50, 1.95 + 0.08 * k))
        parts += on_side(slat, half, 0.014, SHADOW, MATT)
    rail = [(2.70, half + 0.05, z) for z in (1.30, 1.60, 1.90)]
    parts += solids.both_sides([bar(rail, 0.018, CHROME, GLOSSY)])
    moulding = [(3.95, half, 1.42), (back + 0.06, half, 1.42)]
    return parts + solids.both_sides([trim_line(moulding, 0.03, colour, PAINT, _cab_bend)])


def _cab_front() -> list[Mesh]:
    lower, screen, brow = (
        ((4.10, 0.58), (4.10, 1.35)),
        ((4.05, 1.74), (3.78, 2.74)),
        ((4.10, 1.35), (4.05, 1.74)),
    )
    glass = outlines.rounded([(-1.04, 0.06), (1.04, 0.06), (1.02, 0.94), (-1.02, 0.94)], 0.10)
    grille = outlines.rectangle(1.62, 0.46, 0.07, (0, 0.60))
    bumper = outlines.rectangle(2.26, 0.36, 0.09, (0, 0.12))
    parts = strip_window(glass, *screen, 0.02)
    parts += [
        on_strip(grille, *lower, 0.022, SHADOW, MATT),
        on_strip(bumper, *lower, 0.060, TRIM, SATIN),
        on_strip(outlines.rectangle(0.52, 0.12, 0.01, (0, 0.10)), *lower, 0.076, BLANK, SATIN),
        on_strip(outlines.rectangle(1.9, 0.05, 0.02, (0, 0.20)), *brow, 0.016, SHADOW, MATT),
    ]
    for k in range(5):
        slat = outlines.rectangle(1.54, 0.045, 0.012, (0, 0.43 + 0.085 * k))
        parts.append(on_strip(slat, *lower, 0.042, CHROME, GLOSSY))
    visor = outlines.rounded([(-1.02, 0.0), (1.02, 0.0), (1.02, 0.20), (-1.02, 0.20)], 0.05)
    shade = solids.extrude(visor, 0.03, axis="z")
    shade = solids.placed(solids.coloured(shade, (0.03, 0.02, 0.02), GLOSSY), (3.86, 0.0, 2.73), 90.0, 0.0, 0.0)
    parts.append(shade)
    case = outlines.rectangle(0.40, 0.24, 0.06, (0.88, 0.17))
    sides = [on_strip(case, *lower, 0.070, SHADOW, MATT)]
    for y, radius in ((0.81, 0.085), (0.99, 0.068)):
        sides.append(on_strip(outlines.circle(radius, at=(y, 0.17)), *lower, 0.082, CHROME, GLOSSY))
        sides.append(on_strip(outlines.circle(0.8 * radius, at=(y, 0.17)), *lower, 0.094, CLEAR, GLOSSY))
    sides.append(on_strip(outlines.rectangle(0.16, 0.10, 0.03, (0.96, 0.42)), *lower, 0.03, AMBER, GLOSSY))
    sides.append(trim_line([(4.06, 0.15, 1.80), (3.98, 0.85, 2.12)], 0.03, TRIM, MATT, _cab_bend))
    sides.append(bar([(4.14, 0.55, 1.30), (4.14, 0.95, 1.30)], 0.018, CHROME, GLOSSY))
    return parts + solids.both_sides(sides)


def _deflector(colour: Colour) -> Mesh:
    """The wind deflector on the cab roof, up to the height of the load."""
    side = outlines.rounded(
        [(3.44, 2.88), (3.36, 3.00), (2.76, 3.50), (2.42, 3.56), (2.42, 2.88)], [0.0, 0.10, 0.15, 0.08, 0.0]
    )
    return solids.coloured(solids.extrude(side, 2.0, 0.05, "y", grid=0.4), colour, PAINT)


def _chassis() -> list[Mesh]:
    rail = block((6.5, 0.09, 0.26), (-0.85, 0.42, 0.88), TRIM, SATIN, 0.015)
    tank = solids.placed(solids.coloured(solids.cylinder(0.33, 1.15, 0.05, "x"), ALLOY, PAINT), (1.35, 0.92, 0.74))
    straps = [
        solids.placed(solids.coloured(solids.hoop(0.338, 0.05, "x"), TRIM, SATIN), (x, 0.92, 0.74)) for x in (1.0, 1.7)
    ]
    boxes = [
        block((0.60, 0.45, 0.46), (0.35, 0.95, 0.76), TRIM, SATIN, 0.04),
        block((0.03, 0.40, 0.46), (-2.98, 1.02, 0.50), RUBBER, MATT, 0.008),
    ]
    guards = [block((1.55, 0.03, 0.11), (-0.85, 1.18, z), ALLOY, SATIN, 0.012) for z in (0.52, 0.80)]
    guards += [block((0.05, 0.05, 0.60), (x, 1.15, 0.82), TRIM, SATIN, 0.01) for x in (-0.25, -1.45)]
    wing = outlines.arc((-2.35, 0.50), 0.62, 12.0, 168.0) + outlines.arc((-2.35, 0.50), 0.58, 168.0, 12.0)
    guards.append(solids.placed(solids.coloured(solids.extrude(wing, 0.62, axis="y"), TRIM, SATIN), (0.0, 0.93, 0.0)))
    beam = block((0.16, 1.9, 0.16), (-2.35, 0.0, 0.50), SHADOW, MATT, 0.04)
    rear = [beam, block((3.4, 0.8, 0.16), (1.2, 0.0, 0.72), SHADOW, MATT, 0.03)]
    return solids.both_sides([rail, tank, *straps, *boxes, *guards]) + rear


def _load_body(colour: Colour) -> list[Mesh]:
    front, top, half = 2.02, 3.52, 1.25
    marker = block((0.05, 0.12, 0.07), (front, half - 0.12, top - 0.06), AMBER, GLOSSY, 0.015)
    body = box_body(colour, (-4.05, front), (1.16, top), half, ribs=8, markers=(1.4, -0.6, -3.6), edge=0.012)
    return body + solids.both_sides([marker])


def box_body(
    colour: Colour,
    ends: tuple[float, float],
    levels: tuple[float, float],
    half: float,
    *,
    ribs: int,
    markers: Sequence[float],
    edge: float,
) -> list[Mesh]:
    """A box for the load from its back to its front, from its floor to the rails along its roof. [m]

    ribs: into so many panels its sides are divided. markers: where along it lamps are. edge: how far small parts are
    rounded; the box itself stands out over the rails by as much as 12 mm.
    """
    (back, front), (floor, top) = ends, levels
    middle, long, tall = (front + back) / 2, front - back, top - floor
    parts = [
        block((long - 0.04, 2 * half - 0.05, tall), (middle, 0.0, floor + tall / 2 + 0.012), BOX, PAINT, 0.03),
        block((long - 0.2, 2.2, 0.16), (middle, 0.0, floor - 0.06), SHADOW, MATT, 0.02),
    ]
    for x in (front - 0.05, back + 0.05):
        parts.append(block((0.10, 2 * half, 0.10), (x, 0.0, top - 0.05), ALLOY, PAINT, 0.025))
    sides = [block((long, 0.09, 0.16), (middle, half - 0.045, floor + 0.06), ALLOY, PAINT, 0.02)]
    sides.append(block((long, 0.09, 0.11), (middle, half - 0.045, top - 0.055), ALLOY, PAINT, 0.03))
    for x in (front - 0.06, back + 0.06):
        sides.append(block((0.12, 0.10, tall), (x, half - 0.05, floor + tall / 2), ALLOY, PAINT, 0.03))
    for k in range(1, ribs):
        x = back + long * k / ribs
        sides.append(block((0.045, 0.05, tall - 0.26), (x, half - 0.027, floor + tall / 2), BOX, PAINT, edge))
    # A painted band along the floor, and small markers below it.
    sides.append(block((long - 0.26, 0.05, 0.20), (middle, half - 0.030, floor + 0.30), colour, PAINT, 0.012))
    for x in markers:
        sides.append(block((0.11, 0.04, 0.05), (x, half, floor + 0.06), AMBER, GLOSSY, edge))
    return parts + solids.both_sides(sides)


def _lorry_tail() -> list[Mesh]:
    back = -4.05
    sides = [
        block((0.05, 1.10, 2.10), (back, 0.58, 2.36), BOX, PAINT, 0.015),
        block((0.08, 0.36, 0.16), (back, 0.98, 0.92), TRIM, SATIN, 0.02),
        block((0.05, 0.15, 0.12), (back - 0.03, 0.90, 0.92), RED, GLOSSY, 0.018),
        block((0.05, 0.09, 0.12), (back - 0.03, 1.04, 0.92), AMBER, GLOSSY, 0.018),
        block((0.04, 0.10, 0.06), (back - 0.02, 1.15, 3.46), RED, GLOSSY, 0.015),
    ]
    for y in (0.22, 0.84):
        sides.append(bar([(back - 0.05, y, 1.26), (back - 0.05, y, 3.44)], 0.022, CHROME, GLOSSY))
        sides.append(block((0.05, 0.12, 0.07), (back - 0.05, y, 1.75), CHROME, GLOSSY, 0.015))
    for z in (1.5, 2.35, 3.2):
        sides.append(block((0.05, 0.20, 0.07), (back - 0.02, 1.08, z), ALLOY, PAINT, 0.015))
    return [
        *solids.both_sides(sides),
        gap([(back - 0.026, 0.0, 1.28), (back - 0.026, 0.0, 3.42)], 0.02),
        block((0.12, 2.3, 0.14), (back + 0.04, 0.0, 0.58), ALLOY, SATIN, 0.03),
        block((0.10, 0.10, 0.5), (back + 0.06, 0.5, 0.80), TRIM, SATIN, 0.02),
        block((0.10, 0.10, 0.5), (back + 0.06, -0.5, 0.80), TRIM, SATIN, 0.02),
        block((0.03, 0.52, 0.12), (back - 0.0, 0.0, 0.86), BLANK, SATIN, 0.008),
    ]
