"""A body of ours as plain solids for light to meet: its side drawn in a few outlines, each as wide as it is there."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.scene import VEHICLE_SIZES

Array = NDArray[np.float64]
Outline = tuple[tuple[float, float], ...]


@dataclass(frozen=True)
class Part:
    """A convex outline (x forward, z up) drawn out sideways. Full size, as VEHICLE_SIZES. [m]

    Parameters
    ----------
    outline : sequence of (x, z)
        Counter-clockwise seen from the right, where x runs to the right.
    low, high : float
        Half its width at its foot and at its top.
    inner : float
        Above 0, there is one on either side, from there outwards.
    painted : bool
        In the vehicle's colour; else nearly black.
    """

    outline: Outline
    low: float
    high: float
    inner: float = 0.0
    painted: bool = True


def _wheel(x: float, radius: float, inner: float, outer: float) -> Part:
    turn = np.arange(12) * (np.pi / 6)
    around = np.column_stack([x + radius * np.cos(turn), radius + radius * np.sin(turn)])
    return Part(tuple((float(a), float(b)) for a, b in around), outer, outer, inner, painted=False)


#: After the models of `stage`, which a test holds them against.
BODIES: dict[str, tuple[Part, ...]] = {
    "lorry": (
        Part(((-4.0, 1.0), (2.1, 1.0), (2.1, 3.40), (-4.0, 3.40)), 1.2, 1.2),
        Part(((-3.9, 0.5), (2.2, 0.5), (2.2, 1.0), (-3.9, 1.0)), 1.13, 1.13, painted=False),
        Part(((2.2, 0.42), (3.95, 0.42), (3.98, 1.3), (3.78, 2.65), (2.2, 2.70)), 1.18, 1.12),
        Part(((2.2, 2.65), (3.78, 2.65), (2.6, 3.46), (2.2, 3.46)), 0.9, 0.9),
        _wheel(-2.29, 0.48, 0.6, 1.17),
        _wheel(2.85, 0.48, 0.8, 1.17),
    ),
    "articulated_lorry": (
        Part(((-8.21, 1.2), (5.35, 1.2), (5.35, 4.0), (-8.21, 4.0)), 1.26, 1.26),
        Part(((-8.0, 0.84), (0.6, 0.84), (0.6, 1.2), (-8.0, 1.2)), 0.6, 0.6, painted=False),
        Part(((5.0, 0.45), (5.9, 0.45), (5.9, 1.1), (5.0, 1.1)), 1.15, 1.15, painted=False),
        Part(((5.9, 0.46), (8.1, 0.46), (8.15, 1.35), (7.8, 2.75), (5.9, 2.85)), 1.2, 1.14),
        Part(((5.9, 2.85), (7.5, 2.85), (6.9, 3.7), (6.45, 3.84), (5.9, 3.84)), 1.05, 1.05),
        *(_wheel(x, 0.5, 0.75, 1.22) for x in (-5.26, -3.95, -2.64, 3.43, 7.03)),
    ),
    "van": (
        Part(((-2.72, 0.28), (2.6, 0.28), (2.75, 0.75), (2.6, 1.1), (1.9, 1.45), (-2.75, 1.45)), 0.96, 1.0),
        Part(((-2.75, 1.45), (1.9, 1.45), (1.0, 2.3), (0.7, 2.43), (-2.65, 2.43)), 1.0, 0.91),
        _wheel(-1.54, 0.36, 0.7, 0.92),
        _wheel(1.71, 0.36, 0.7, 0.92),
    ),
    "bus": (
        Part(((-5.72, 0.32), (5.68, 0.32), (5.75, 1.5), (5.5, 3.20), (-5.7, 3.20)), 1.30, 1.21),
        *(
            Part(((rear, 3.2), (front, 3.2), (front, 3.40), (rear, 3.40)), 0.88, 0.88)
            for rear, front in ((2.75, 3.9), (-2.6, 0.1), (-4.95, -3.4))
        ),
        _wheel(-2.83, 0.5, 0.9, 1.23),
        _wheel(2.89, 0.5, 0.9, 1.23),
    ),
    "saloon": (
        Part(((-2.35, 0.21), (2.2, 0.21), (2.4, 0.5), (2.3, 0.78), (1.0, 1.0), (-2.2, 1.05), (-2.4, 0.8)), 0.9, 0.9),
        Part(((-1.9, 1.0), (1.1, 1.0), (0.4, 1.42), (-0.3, 1.49), (-1.0, 1.45)), 0.9, 0.7),
        _wheel(-1.41, 0.34, 0.6, 0.86),
        _wheel(1.44, 0.34, 0.6, 0.86),
    ),
    "tractor": (
        Part(((0.24, 0.94), (2.12, 0.94), (2.14, 1.40), (2.0, 1.60), (0.24, 1.76)), 0.37, 0.34),
        Part(((-1.3, 0.6), (2.1, 0.6), (2.1, 0.95), (-1.3, 0.95)), 0.28, 0.28, painted=False),
        Part(((-1.5, 1.45), (-0.5, 0.75), (0.3, 0.9), (0.40, 1.75), (0.3, 2.68), (-1.5, 2.68)), 0.60, 0.62),
        Part(((-0.45, 0.42), (0.2, 0.42), (0.2, 0.80), (-0.45, 0.80)), 0.76, 0.76, painted=False),
        Part(((-1.9, 1.45), (-0.2, 1.45), (-0.45, 1.62), (-1.7, 1.62)), 1.08, 1.08, inner=0.6),
        _wheel(-1.07, 0.83, 0.58, 1.08),
        _wheel(1.30, 0.54, 0.62, 0.96),
    ),
    "pickup": (
        Part(((-2.74, 0.37), (2.66, 0.37), (2.79, 0.7), (2.66, 1.08), (1.3, 1.28), (-2.76, 1.21)), 0.95, 0.96),
        Part(((-0.9, 1.2), (1.4, 1.2), (0.70, 1.77), (-0.1, 1.87), (-0.72, 1.80)), 0.95, 0.80),
        _wheel(-1.71, 0.388, 0.66, 0.93),
        _wheel(1.78, 0.388, 0.66, 0.93),
    ),
    "school_bus": (
        Part(((-5.25, 0.53), (3.5, 0.53), (3.55, 1.65), (3.33, 2.45), (-5.25, 2.45)), 1.20, 1.17),
        Part(((-5.25, 2.45), (3.33, 2.45), (2.9, 3.02), (2.3, 3.18), (-4.6, 3.18), (-5.15, 2.9)), 1.17, 0.95),
        Part(((3.5, 0.53), (5.2, 0.53), (5.27, 1.2), (5.05, 1.52), (3.5, 1.69)), 1.0, 0.98),
        Part(((-4.6, 0.39), (4.5, 0.39), (4.5, 0.53), (-4.6, 0.53)), 0.74, 0.74, painted=False),
        _wheel(-2.58, 0.475, 0.72, 1.15),
        _wheel(3.83, 0.475, 0.72, 0.99),
    ),
}


def body_faces(body: str, length: float) -> tuple[tuple[Array, bool], ...]:
    """The faces of a body of ours as convex outlines (k, 3) in its frame, and whether each is painted. [m]

    Counter-clockwise seen from outside.
    """
    found = []
    for part in BODIES[body]:
        across = np.array(part.outline) * (length / VEHICLE_SIZES[body][0])
        share = (across[:, 1] - across[:, 1].min()) / max(float(np.ptp(across[:, 1])), 1e-9)
        half = (part.low + share * (part.high - part.low)) * (length / VEHICLE_SIZES[body][0])
        inner = np.full_like(half, part.inner * (length / VEHICLE_SIZES[body][0]))
        ends = [(inner, half), (-half, -inner)] if part.inner > 0 else [(-half, half)]
        for right, left in ends:
            near, far = (np.column_stack([across[:, 0], y, across[:, 1]]) for y in (right, left))
            found += [(near, part.painted), (far[::-1], part.painted)]
            next_near, next_far = (np.roll(each, -1, axis=0) for each in (near, far))
            found += [(np.array(four), part.painted) for four in zip(near, far, next_far, next_near, strict=True)]
    return tuple(found)
