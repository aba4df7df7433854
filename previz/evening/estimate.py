"""`evening_of(scene)`: the order of work that takes least, what it takes, and how many takes to expect."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from previz.evening.moves import Move, Position, moves_between, position_of
from previz.evening.order import least_work, work_of
from previz.physics.repeats import mean_takes, takes_for, takes_in_all
from previz.predictions import takes_spread
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
    within : float or None
        Share of launches that come as near to the planned speed as passes for the same; None where nothing is launched.
    share : float
        Of takes that are good: as fast as planned, and not spoiled. [-]
    mean : float
        How many it needs on the mean; infinite where none is good. [-]
    enough : float
        With how many it has its good ones as surely as is wanted. [-]
    """

    shot: str
    within: float | None
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
    mean: float
    enough: float
    assumed: Evening

    @property
    def moves(self) -> int:
        """How many there are in all."""
        return sum(len(each.moves) for each in self.changeovers)


def evening_of(scene: Scene) -> EveningPlan:
    """Lay out the evening on which all shots of a scene, as it was read, are filmed, each once."""
    assumed = scene.evening
    setups = [position_of(scene, shot) for shot in scene.shots]
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
    takes = tuple(_takes_of(setups[number], assumed) for number in order.numbers)
    enough = takes_in_all(assumed.sure, [(each.share, assumed.good_takes) for each in takes])
    work = float(order.work)
    return EveningPlan(
        changeovers,
        work,
        float(order.least),
        float(work_of(range(len(setups)), *costs)),
        takes,
        work + sum(each.mean for each in takes) * assumed.take,
        work + enough * assumed.take,
        assumed,
    )


def _takes_of(position: Position, assumed: Evening) -> Takes:
    spread = takes_spread(position.scene)
    within = None if spread is None else spread.within
    share, good = (1.0 if within is None else within) * (1 - assumed.spoiled), assumed.good_takes
    assert position.shot is not None
    return Takes(position.shot.id, within, share, mean_takes(share, good), takes_for(assumed.sure, share, good))


def _time(moves: Sequence[Move], assumed: Evening) -> float:
    """What moves take, and a look at the picture after them. [s]"""
    return sum(float(getattr(assumed, each.kind)) for each in moves) + (float(assumed.look) if moves else 0.0)


def _whole(seconds: object) -> np.ndarray:
    """To the second, up: an order of work is exact in whole seconds."""
    return np.ceil(np.asarray(seconds, dtype=float) - 1e-9).astype(np.int64)


def spell(seconds: float) -> str:
    """How long something takes, in words: to the second under two minutes, else to the minute.

    >>> spell(90), spell(120), spell(5400), spell(7200), spell(float("inf"))
    ('90 s', '2 min', '1 h 30 min', '2 h', 'for ever')
    """
    if math.isinf(seconds):
        return "for ever"
    if seconds < 120 and seconds != 60:
        return f"{seconds:.0f} s"
    hours, minutes = divmod(math.floor(seconds / 60 + 0.5), 60)
    return " ".join([f"{hours} h"] * bool(hours) + [f"{minutes} min"] * bool(minutes))
