"""`evening_of(scene, predictions)`: the order of work that takes least, what it takes, and how many takes to expect."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.evening.moves import Move, Position, moves_between
from previz.evening.order import least_work, work_of
from previz.physics.repeats import mean_takes, takes_for, takes_in_all
from previz.predictions import Predictions
from previz.scene import Evening, Scene


@dataclass(frozen=True)
class Changeover:
    """What is done before one setup.

    Parameters
    ----------
    shot : str
        What is filmed then.
    moves : tuple of Move
        From the setup before it; before the first, from the set as built.
    time : float
        That all of it takes, with a look at the picture where anything was done. [s]
    """

    shot: str
    moves: tuple[Move, ...]
    time: float


@dataclass(frozen=True)
class Takes:
    """How many takes a shot needs.

    Parameters
    ----------
    shot : str
    share : float
        Of takes that are good: as fast as planned, and not spoiled. [-]
    mean : float
        How many it needs on the mean; infinite where none is good. [-]
    enough : float
        With how many it has its good ones as surely as is wanted. [-]
    """

    shot: str
    share: float
    mean: float
    enough: float


@dataclass(frozen=True)
class EveningPlan:
    """An evening laid out.

    Parameters
    ----------
    changeovers : tuple of Changeover
        In the order of work.
    work, least, as_written : float
        What all changeovers take: in this order, in none less, and in the order of the file. [s]
    takes : tuple of Takes
        In the order of work.
    within_speed : float or None
        Share of launches that come as near to the planned speed as passes for the same; None where nothing is launched.
    mean, enough : float
        How long the evening takes on the mean, and what is as surely enough as is wanted. [s]
    assumed : Evening
        What it all rests on.
    """

    changeovers: tuple[Changeover, ...]
    work: float
    least: float
    as_written: float
    takes: tuple[Takes, ...]
    within_speed: float | None
    mean: float
    enough: float
    assumed: Evening

    @property
    def moves(self) -> int:
        """How many there are in all."""
        return sum(len(each.moves) for each in self.changeovers)


def evening_of(scene: Scene, predictions: Predictions) -> EveningPlan:
    """Lay out the evening on which all shots of a scene are filmed, each once.

    predictions: of the scene; how alike launches are is theirs.
    """
    assumed = scene.evening
    setups = [Position(scene, shot) for shot in scene.shots]
    built = Position(scene)
    first = [moves_between(built, each) for each in setups]
    between = [[moves_between(one, other) if one is not other else () for other in setups] for one in setups]
    costs = (
        _whole([_time(moves, assumed) for moves in first]),
        _whole([[_time(moves, assumed) for moves in row] for row in between]),
    )
    order = least_work(*costs)
    before = (None, *order.numbers)
    changeovers = tuple(
        Changeover(setups[number].shot.id, moves, _time(moves, assumed))  # type: ignore[union-attr]
        for number, earlier in zip(order.numbers, before, strict=False)
        for moves in [first[number] if earlier is None else between[earlier][number]]
    )
    within = _within_speed(predictions)
    share = (1.0 if within is None else within) * (1 - assumed.spoiled)
    good, sure = assumed.good_takes, assumed.sure
    takes = tuple(
        Takes(each.shot, share, mean_takes(share, good), takes_for(sure, share, good)) for each in changeovers
    )
    work = float(order.work)
    return EveningPlan(
        changeovers,
        work,
        float(order.least),
        float(work_of(range(len(setups)), *costs)),
        takes,
        within,
        work + sum(each.mean for each in takes) * assumed.take,
        work + takes_in_all(sure, [(share, good)] * len(takes)) * assumed.take if takes else work,
        assumed,
    )


def _time(moves: Sequence[Move], assumed: Evening) -> float:
    """What moves take, and a look at the picture after them. [s]"""
    return sum(float(getattr(assumed, each.kind)) for each in moves) + (float(assumed.look) if moves else 0.0)


def _whole(seconds: object) -> np.ndarray:
    """To the second, up: an order of work is exact in whole seconds."""
    return np.ceil(np.asarray(seconds, dtype=float) - 1e-9).astype(np.int64)


def _within_speed(predictions: Predictions) -> float | None:
    try:
        found = predictions.value("takes_within")
    except KeyError:
        return None
    return found if math.isfinite(found) else None
