"""Views dealt out so that what they blur is blurred evenly.

What is out of focus and moves is seen by each view in another place: shifted by the view's point of the pupil, by how
far it has moved at the view's moment, and within the pixel. An edge becomes as many steps, and shows as a smooth ramp
where the steps are even, seen across the edge. So along each of many lines the shifts, sorted, should be what the blur
itself would be; the views are moved towards that for all lines at once, after Paulin et al., "Sliced Optimal Transport
Sampling", ACM TOG 39(4), 2020 (doi 10.1145/3386569.3392395).
"""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.frames.views.pattern import Views, as_wide_as, evenly, on_rim

Array = NDArray[np.float64]

_ROUNDS = 100
_DIRECTIONS = 8  # across an edge, over half a turn
_DISCS = (-1.0, -0.5, 0.0, 0.5, 1.0)  # before and behind the plane of focus, of the usual one
_STREAKS = (0.0, 0.5, 1.0)  # of the longest
_FINER = 16  # places of an even blur to one of the views

#: Solves x^6 = x + 1: the golden ratio generalised to five dimensions, whose inverse powers make an even sequence.
_RATIO = 1.16730397826141868


def evened(given: Views, blades: int | None, disc: float, streak: Array) -> Views:
    """The same views, moved a little so that the blurs of a shot come out even.

    Parameters
    ----------
    given : Views
    blades : int or None
        Of the pupil.
    disc : float
        A usual one; they are evened for half of it too, and for none, on either side of the plane of focus. [px]
    streak : (2,) float
        A long one, right and up; they are evened for half of it too, and for none. [px]

    They stay as they are where no disc is usual, for nothing is seen then.

    >>> from previz.frames.views.pattern import views
    >>> even = evened(views(8), None, 15.0, np.array([12.0, 0.0]))
    >>> len(even), bool(np.allclose(even.pupil.mean(axis=0), 0)), round(float(even.moment.mean()), 9)
    (8, True, 0.5)
    """
    if len(given) < 3 or disc == 0:
        return given
    lines = _lines(disc, streak)
    even = np.sort(_even(_FINER * len(given), blades) @ lines.T, axis=0)
    wanted = even.reshape(len(given), _FINER, -1).mean(axis=1)
    places = np.column_stack([given.pupil, given.moment - 0.5, given.jitter])
    # A step no longer than that cannot go too far along any line.
    back = lines / np.linalg.norm(lines, 2) ** 2
    for done in range(_ROUNDS):
        shifts = places @ lines.T
        order = np.argsort(shifts, axis=0, kind="stable")
        missing = np.empty_like(shifts)
        np.put_along_axis(missing, order, wanted - np.take_along_axis(shifts, order, axis=0), axis=0)
        places += missing @ back
        places[:, 2:] = np.clip(places[:, 2:], -0.5, 0.5)
        places -= places.mean(axis=0)
        places[:, :2] = as_wide_as(places[:, :2], blades)
        if done >= _ROUNDS // 2:
            # Jitter stays on its even places, or a sharp edge's pixels would not be as light as what they show of it.
            places[:, 3:] = np.stack([evenly(places[:, axis]) for axis in (3, 4)], axis=1) - 0.5
    return replace(given, pupil=places[:, :2], moment=places[:, 2] + 0.5, jitter=places[:, 3:])


def _lines(disc: float, streak: Array) -> Array:
    """How much a view's place on the pupil, moment and jitter (5,) shift what it sees, along each line (n, 5). [px]

    Jitter shifts the window on the set, so that what is seen in it goes the other way.
    """
    turns = np.arange(_DIRECTIONS) * math.pi / _DIRECTIONS
    rows = [
        [*(share * disc / 2 * across), part * (streak @ across), *-across]
        for share in _DISCS
        for part in _STREAKS
        for across in np.stack([np.cos(turns), np.sin(turns)], axis=1)
    ]
    return np.array(rows)


def _even(count: int, blades: int | None) -> Array:
    """Places all over the pupil, moments (about 0) and jitter (count, 5), their means exactly 0."""
    sequence = np.arange(count)[:, None] * _RATIO ** -np.arange(1.0, 6.0) % 1.0
    pupil = np.sqrt(sequence[:, :1]) * on_rim(2 * math.pi * sequence[:, 1], blades)
    places = np.column_stack([pupil, sequence[:, 2:]])
    return np.asarray(places - places.mean(axis=0))
