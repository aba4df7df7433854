"""How many takes it needs until enough of them are good: chances of waiting, from the share of takes that are.

Takes are independent and each is good with the same chance; then the take that is the k-th good one has a negative
binomial distribution (for one good take, a geometric one). Source: W. Feller, "An Introduction to Probability Theory
and Its Applications", vol. 1, 3rd ed. 1968, VI.8 "Waiting times. The negative binomial distribution" (from memory).
"""

import math
from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Nobody takes more than that of one shot; where it would need more, it is told as never. [-]
MOST_TAKES = 1000


def chance_within(takes: int, share: float, good: int = 1) -> float:
    """The chance that so many takes hold enough good ones. [-]

    Parameters
    ----------
    takes : int
        How many are made.
    share : float
        Chance of one to be good, 0 to 1. [-]
    good : int
        How many good ones are wanted.

    Examples
    --------
    >>> chance_within(3, 0.5), round(chance_within(3, 0.5, 2), 12)
    (0.875, 0.5)
    """
    from scipy.special import betainc  # here: only who plans takes waits for it

    return float(betainc(good, takes - good + 1, share)) if takes >= good else 0.0


def mean_takes(share: float, good: int = 1) -> float:
    """How many takes it needs on the mean; infinite where none is ever good. [-]

    >>> mean_takes(0.25), mean_takes(0.5, 3), mean_takes(0.0)
    (4.0, 6.0, inf)
    """
    return good / share if share > 0 else math.inf


def takes_for(sure: float, share: float, good: int = 1) -> float:
    """The fewest takes that hold enough good ones with a chance of `sure`; infinite past `MOST_TAKES`. [-]

    >>> takes_for(0.9, 0.5), takes_for(0.9, 1.0), takes_for(0.9, 0.0)
    (4.0, 1.0, inf)
    """
    return takes_in_all(sure, [(share, good)])


def takes_in_all(sure: float, shots: Iterable[tuple[float, int]]) -> float:
    """The fewest takes with which all shots together get theirs with a chance of `sure`. [-]

    Each shot is taken until it has its good ones; what one needs less is there for another, so that this is fewer than
    the sum over the shots.

    Parameters
    ----------
    sure : float
        Below 1. [-]
    shots : iterable of (float, int)
        Of each its share of good takes and how many good ones are wanted.

    Examples
    --------
    >>> takes_in_all(0.9, [(0.5, 1), (0.5, 1)]), 2 * takes_for(0.9, 0.5)
    (7.0, 8.0)
    """
    chances = np.ones(1)
    for share, good in shots:
        chances = np.convolve(chances, _chances(share, good))[: MOST_TAKES + 1]
    enough = np.cumsum(chances) >= sure * (1 - 1e-12)
    return float(np.argmax(enough)) if enough.any() else math.inf


def _chances(share: float, good: int) -> Array:
    """That exactly 0, 1, 2, … `MOST_TAKES` takes are needed."""
    from scipy.special import betainc  # here: as above

    takes = np.arange(good, MOST_TAKES + 1)
    up_to = np.concatenate([np.zeros(good), betainc(good, takes - good + 1.0, share)])
    return np.diff(up_to, prepend=0.0)
