"""An articulated lorry: a two-axle tractor with a three-axle box semi-trailer, in one line. Full size, metres.

Of no make. Its length, width and height are the most that Council Directive 96/53/EC, annex I, allows; how its axles
are spread is typical, from memory. It stands in the place of the lorry's cab, which its tractor shares.
"""

import numpy as np

from previz.mesh import Mesh
from previz.scene import VEHICLE_SIZES
from previz.stage.shapes import outlines, solids
from previz.stage.vehicles.coachwork import (
    ALLOY,
    AMBER,
    BLANK,
    CHROME,
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
    bar,
    block,
    gap,
)
from previz.stage.vehicles.lorry import BOX, CAB_FRONT_AXLE, box_body, lorry_cab
from previz.stage.vehicles.wheels import disc_wheel

_LONG, _WIDE, _TOP = VEHICLE_SIZES["articulated_lorry"]
_NOSE = 4.174  # how far forward the cab reaches, bumper and all
_BACK = _NOSE - _LONG + 0.04  # of the trailer's box; its bumper and lamps stand out that far
_HALF = _WIDE / 2
_CAB_BACK = 1.85
_FRONT = _BACK + 13.56  # of the trailer: a gap behind the cab in which it may turn
_FLOOR = 1.20
_RADIUS = 0.50
_DRIVE, _BOGIE = -0.62, (-6.69, -8.00, -9.31)


def articulated_lorry(colour: Colour) -> Draft:
    """A tractor with a box semi-trailer, axles 2 + 3, 16.5 m."""
    draft = lorry_cab(colour, _CAB_BACK)
    draft.body.append(_deflector(colour))
    draft.body += _tractor_chassis() + _box(colour) + _trailer_chassis() + _tail()
    front = disc_wheel(_RADIUS, 0.30, 0.30, hub=0.35, holes=6, nuts=6, grooves=1)
    drive = disc_wheel(_RADIUS, 0.27, 0.30, hub=-0.15, twin=0.32, holes=6, nuts=0, grooves=0)
    trailer = disc_wheel(_RADIUS, 0.34, 0.30, hub=0.15, holes=5, nuts=0, grooves=0)
    draft.wheels.append(((CAB_FRONT_AXLE[0], 1.08, _RADIUS), front))
    draft.wheels.append(((_DRIVE, 1.08, _RADIUS), drive))
    draft.wheels += [((x, 1.07, _RADIUS), trailer) for x in _BOGIE]
    draft.tail.append(((_BACK - 0.04, 0.92, 0.95), 0.06))
    return draft


def _deflector(colour: Colour) -> Mesh:
    """The roof of the sleeping cab, which leads the wind over the trailer."""
    side = outlines.rounded(
        [(3.50, 2.86), (3.42, 3.05), (2.85, 3.72), (2.40, 3.84), (_CAB_BACK, 3.84), (_CAB_BACK, 2.86)],
        [0.0, 0.12, 0.25, 0.10, 0.08, 0.0],
    )
    return solids.coloured(solids.extrude(side, 2.16, 0.05, "y", grid=0.5), colour, PAINT)


def _tractor_chassis() -> list[Mesh]:
    rail = block((4.3, 0.09, 0.26), (0.85, 0.42, 0.86), TRIM, SATIN, 0.0)
    tank = block((1.25, 0.50, 0.56), (1.05, 0.93, 0.72), ALLOY, PAINT, 0.10)
    straps = [block((0.05, 0.52, 0.58), (x, 0.93, 0.72), TRIM, SATIN, 0.0) for x in (0.7, 1.4)]
    wing = outlines.arc((_DRIVE, _RADIUS), 0.62, 15.0, 165.0) + outlines.arc((_DRIVE, _RADIUS), 0.58, 165.0, 15.0)
    guard = solids.placed(solids.coloured(solids.extrude(wing, 0.62, axis="y"), TRIM, SATIN), (0.0, 0.93, 0.0))
    flap = block((0.03, 0.40, 0.46), (_DRIVE - 0.66, 1.02, 0.50), RUBBER, MATT, 0.0)
    return [
        *solids.both_sides([rail, tank, *straps, guard, flap]),
        block((0.16, 1.9, 0.16), (_DRIVE, 0.0, _RADIUS), SHADOW, MATT, 0.0),
        block((1.1, 0.95, 0.10), (_DRIVE + 0.3, 0.0, 1.03), SHADOW, MATT, 0.0),  # the coupling's plate
        block((0.14, 1.5, 1.2), (_CAB_BACK - 0.02, 0.0, 1.7), SHADOW, MATT, 0.0),
    ]


def _box(colour: Colour) -> list[Mesh]:
    markers = np.linspace(_FRONT - 0.6, _BACK + 0.6, 6).tolist()
    rails = _TOP - 0.012
    return box_body(colour, (_BACK, _FRONT), (_FLOOR, rails), _HALF, ribs=12, markers=markers, edge=0.0)


def _trailer_chassis() -> list[Mesh]:
    beam = block((11.8, 0.12, 0.30), (-5.9, 0.45, 0.98), TRIM, SATIN, 0.0)
    legs = [
        block((0.14, 0.14, 0.76), (-2.4, 0.75, 0.66), TRIM, SATIN, 0.0),
        block((0.34, 0.26, 0.05), (-2.4, 0.75, 0.28), TRIM, SATIN, 0.0),
    ]
    # Rails along the sides, against getting under it, and guards over the wheels in two long pieces.
    rails = [block((3.3, 0.03, 0.13), (-4.35, 1.20, z), ALLOY, SATIN, 0.0) for z in (0.55, 0.86)]
    rails += [block((0.06, 0.06, 0.60), (x, 1.16, 0.82), TRIM, SATIN, 0.0) for x in (-3.0, -5.6)]
    guard = block((4.05, 0.42, 0.04), (_BOGIE[1], 1.03, 1.07), TRIM, SATIN, 0.0)
    flap = block((0.03, 0.42, 0.56), (_BOGIE[2] - 0.68, 1.03, 0.60), RUBBER, MATT, 0.0)
    axles = [block((0.14, 1.9, 0.14), (x, 0.0, _RADIUS), SHADOW, MATT, 0.0) for x in _BOGIE]
    return solids.both_sides([beam, *legs, *rails, guard, flap]) + axles


def _tail() -> list[Mesh]:
    tall = _TOP - _FLOOR
    sides = [
        block((0.05, 1.12, tall - 0.34), (_BACK, 0.60, _FLOOR + tall / 2), BOX, PAINT, 0.015),
        block((0.06, 0.42, 0.17), (_BACK + 0.01, 0.98, 0.95), TRIM, SATIN, 0.0),
        block((0.05, 0.17, 0.13), (_BACK - 0.015, 0.92, 0.95), RED, GLOSSY, 0.018),
        block((0.05, 0.10, 0.13), (_BACK - 0.015, 1.07, 0.95), AMBER, GLOSSY, 0.018),
        block((0.04, 0.10, 0.06), (_BACK - 0.01, 1.16, _TOP - 0.06), RED, GLOSSY, 0.015),
    ]
    for y in (0.24, 0.86):
        sides.append(bar([(_BACK - 0.018, y, _FLOOR + 0.1), (_BACK - 0.018, y, _TOP - 0.1)], 0.022, CHROME, GLOSSY))
    for z in (1.6, 2.6, 3.6):
        sides.append(block((0.04, 0.20, 0.07), (_BACK - 0.01, 1.12, z), ALLOY, PAINT, 0.0))
    return [
        *solids.both_sides(sides),
        gap([(_BACK - 0.026, 0.0, _FLOOR + 0.12), (_BACK - 0.026, 0.0, _TOP - 0.12)], 0.02),
        block((0.10, 2.4, 0.16), (_BACK + 0.05, 0.0, 0.55), ALLOY, SATIN, 0.03),
        *(block((0.10, 0.10, 0.5), (_BACK + 0.06, y, 0.80), TRIM, SATIN, 0.0) for y in (0.5, -0.5)),
        block((0.03, 0.52, 0.12), (_BACK - 0.01, 0.0, 0.86), BLANK, SATIN, 0.008),
    ]
