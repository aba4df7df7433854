"""What a rule of continuity says of two shots."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.predictions import Verdict


@dataclass(frozen=True)
class Told:
    """An answer; as of a `Finding`.

    id, quantity, value, limit, verdict, message
        As there; `quantity` by its name in the glossary.
    remedy : str
        What to do, or "" where there is nothing to say; left out where all is fine.
    """

    id: str
    quantity: str
    value: float
    limit: float
    verdict: Verdict
    message: str
    remedy: str = ""


def angle_between(one: NDArray[np.float64], other: NDArray[np.float64]) -> float:
    """Between two unit vectors (3,). [rad]

    >>> angle_between(np.array([1.0, 0.0, 0.0]), np.array([-1.0, 0.0, 0.0])) == math.pi
    True
    """
    return math.acos(max(-1.0, min(1.0, float(one @ other))))


def ratio_of(one: float, other: float) -> float:
    """How many times the one is the other.

    >>> ratio_of(3.0, 2.0), ratio_of(1.0, 0.0), ratio_of(0.0, 0.0)
    (1.5, inf, 1.0)
    """
    if other == 0:
        return 1.0 if one == 0 else float("inf")
    return one / other


def apart(ratio: float, limit: float) -> Verdict:
    """The verdict on a ratio that should stay within 1/limit and limit.

    >>> apart(0.4, 2.0), apart(1.9, 2.0), apart(2.1, 2.0)
    (<Verdict.WATCH: 'watch'>, <Verdict.FINE: 'fine'>, <Verdict.WATCH: 'watch'>)
    """
    return Verdict.FINE if 1 / limit <= ratio <= limit else Verdict.WATCH


def nearer_limit(ratio: float, limit: float) -> float:
    """The end of that range that a ratio is nearer to."""
    return limit if ratio >= 1 else 1 / limit


def times(ratio: float) -> str:
    """A ratio in words.

    >>> times(2.5), times(0.4), times(float("inf"))
    ('2.5 times', '0.4 times', 'without end')
    """
    return "without end" if ratio == float("inf") else f"{ratio:.2g} times"
