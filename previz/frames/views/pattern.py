"""Where on the pupil, when in the shutter and where in the pixel each view looks.

The mean over these views is the picture: a thin lens with motion blur and smooth edges. The sets are even in every
axis (stratified), their means are exactly the pupil's middle, mid-shutter and the pixel's middle, and they are the
same for every frame, so a still scene does not flicker. From three views on, their spread over the pupil is exactly the
pupil's too.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Chance relations matter little among more views, and the search takes their number squared.
_MOST_DEALT = 160

_GOLDEN_TURN = math.pi * (3 - math.sqrt(5))
# The generalised golden ratio in two dimensions: R2 = (1/p, 1/p^2), p^3 = p + 1.
_PLASTIC = 1.32471795724474602596


@dataclass(frozen=True)
class Views:
    """The views of one frame.

    Parameters
    ----------
    pupil : (n, 2) float
        Points of the pupil, right and up, in units of its radius.
    moment : (n,) float
        0 as the shutter opens, 1 as it closes.
    jitter : (n, 2) float
        Shift within the pixel, right and up, -0.5..0.5. [px]
    detail : (n,) float
        Added to a level of detail before it is rounded, -0.5..0.5: what lies between two levels is seen by some views
        in the one and by the rest in the other, which costs half of blending them in each.
    """

    pupil: Array
    moment: Array
    jitter: Array
    detail: Array

    def __len__(self) -> int:
        return len(self.moment)

    def only(self, number: int) -> "Views":
        """One of them."""
        one = slice(number, number + 1)
        return Views(self.pupil[one], self.moment[one], self.jitter[one], self.detail[one])


def views(count: int, blades: int | None = None) -> Views:
    """An even set of any number of views over a round pupil, or one with straight `blades`.

    One view looks through the pupil's middle at mid-shutter: a pinhole's picture.

    The moments follow sqrt(2), not the golden ratio that turns the pupil's spiral: sharing one would bend the streak
    of a fast point into an arc.

    >>> len(views(7)), views(1).pupil.tolist(), views(1).moment.tolist()
    (7, [[0.0, 0.0]], [0.5])
    """
    index = np.arange(count, dtype=float)
    radius = np.sqrt((index + 0.5) / count)
    turn: Array = index * _GOLDEN_TURN
    pupil = radius[:, None] * on_rim(turn, blades)
    across, up = (evenly((index + 1) / _PLASTIC**power % 1.0) - 0.5 for power in (1, 2))
    moment, detail = (evenly(index * math.sqrt(root) % 1.0) for root in (2, 3))
    pupil = as_wide_as(pupil - pupil.mean(axis=0), blades)
    return Views(pupil, _unrelated(moment, pupil), np.stack([across, up], axis=1), detail - 0.5)


def _unrelated(moment: Array, pupil: Array) -> Array:
    """The same moments dealt out so that they do not go with the place on the pupil, nor with its squares.

    Sixteen moments in any order go with the pupil's left and right by chance, and blur that is wide because of both
    then comes out too wide or too narrow. Two moments at a time are exchanged where that helps most.
    """
    if not 3 <= len(moment) <= _MOST_DEALT:
        return moment
    x, y = pupil.T
    features = np.stack([x, y, x * y, x**2 - y**2, x**2 + y**2], axis=1)
    features = (features - features.mean(axis=0)) / np.maximum(features.std(axis=0), 1e-9)
    moment = moment.copy()
    relation = moment @ features
    for _ in range(4 * len(moment)):
        # Exchanging the moments of i and j changes the relation by (m_j - m_i) (f_i - f_j).
        steps = (moment[None, :] - moment[:, None])[..., None] * (features[:, None] - features[None, :])
        after = ((relation + steps) ** 2).sum(axis=2)
        i, j = np.unravel_index(int(after.argmin()), after.shape)
        if after[i, j] > 0.999 * (relation**2).sum():
            break
        relation = relation + steps[i, j]
        moment[[i, j]] = moment[[j, i]]
    return moment


def as_wide_as(points: Array, blades: int | None) -> Array:
    """Centred points (n, 2) drawn out a little, so that a blur disc measures the same across and up for any number."""
    if len(points) < 3:
        return points
    values, axes = np.linalg.eigh(points.T @ points / len(points))
    return np.asarray(points @ (axes * np.sqrt(_variance(blades) / values)) @ axes.T)


def _variance(blades: int | None) -> float:
    """Along every axis of an even pupil of radius 1: 1/4, or that of the regular polygon of the same area.

    A polygon's polar second moment over its area is R^2 (2 + cos(2 pi / n)) / 6, R its circumradius (a standard
    property of sections).
    """
    if blades is None:
        return 0.25
    half = math.pi / blades
    circumradius_squared = math.pi / (blades * math.tan(half)) / math.cos(half) ** 2
    return circumradius_squared * (2 + math.cos(2 * half)) / 12


def on_rim(turn: Array, blades: int | None) -> Array:
    """Points (n, 2) on the pupil's rim, in its radii, for turns (n,) [rad]; scaling them by sqrt(u) fills it evenly.

    A bladed pupil has the area of the round one, so that the f-number passes the same light. Within one blade's
    triangle the swept area grows with the tangent of the angle from the blade's middle, hence the arctangent.
    """
    if blades is None:
        return np.stack([np.cos(turn), np.sin(turn)], axis=1)
    half = math.pi / blades
    sector, along = np.divmod(turn / (2 * half), 1.0)
    from_middle = np.arctan((2 * along - 1) * math.tan(half))
    apothem = math.sqrt(math.pi / (blades * math.tan(half)))
    angle = (2 * sector + 1) * half + from_middle
    return (apothem / np.cos(from_middle))[:, None] * np.stack([np.cos(angle), np.sin(angle)], axis=1)


def evenly(numbers: Array) -> Array:
    """Numbers (n,) put in their order on evenly spaced places in 0..1: their mean is exactly 0.5."""
    ranks = np.argsort(np.argsort(numbers, kind="stable"), kind="stable")
    return np.asarray((ranks + 0.5) / len(numbers))
