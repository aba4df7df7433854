"""The search: a coarse look at everything, then closing in on the best of each camera.

**How two ways to make a shot are compared.** First, what `check` would stop, the less the better. Then the hard wants:
one that is met counts for more than all below it. Of hard wants that nothing meets the least important give way, and
each by as little as can be. Then which of the soft wants are met, again the most important first; one that the shot
misses as it is written, and a way by far more, counts for less than one that is missed alike. Where two ways meet
the same wants, that one is better which comes nearer in all: by how much the other soft wants are missed, by how much
the ISO is past where noise shows and diffraction past what counts as sharp, and what is changed of the shot as it is
written are added up, all in doublings. So a stop of noise is taken to meet a want, but not to come half a stop nearer
to one; and what check would have opened up is not stopped down further. A way that meets no want more than the shot as
it is written, and of which `check` finds more to watch, comes behind that.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.advice.choices import Option, grid
from previz.advice.demands import Demand
from previz.advice.estimate import WRITTEN, Framings, Judged, Ways
from previz.advice.problem import Problem
from previz.predictions import noise_limit_on

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

#: Misses of hard wants that are this near to each other are alike. [stops]
ALIKE = 0.02

#: Focal lengths that are tried of a zoom before the search closes in.
_FOCALS = 6

#: Ways of one camera that are looked at, about, before the search closes in. [-]
_MOST = 1_000_000

#: Where is looked about a way, in steps; and by how much steps shrink where nowhere is better. Two lengths of step at
#: once, for ways that do alike lie side by side, and the better one beyond them.
_ABOUT, _SHRINK = (-1.0, -0.3, 0.0, 0.3, 1.0), 0.3

#: Ways that are followed, at most, and for how many rounds; then the best of them for some more, and so on.
_FOLLOWED, _ROUNDS = ((24, 2), (8, 4), (4, 4)), 4

#: So many of the best are looked at more closely, with steps as long as these, at so many places in a line.
_POLISHED, _POLISH, _CLOSE = 4, (0.9, 0.4, 0.12, 0.04), 11

#: What is changed, counted as so many stops. No truth in them but that a maker would rather not: another camera, place
#: (twice as far, or higher by the distance), rate, shutter, launch. Common practice, no source.
_CAMERA, _PLACE, _RATE, _SHUTTER, _LAUNCH, _FOCUS, _STOP, _MODE = 0.5, 0.5, 0.3, 0.2, 0.5, 0.1, 0.1, 0.02


@dataclass(frozen=True)
class Way:
    """One way to make the shot, and how it is estimated to do.

    Parameters
    ----------
    option : int
        Which of the problem's.
    back, up, focal : float
        [m]
    f_number : float
    kind : int
        What it is focused on.
    focus : float
        Mid-shot. [m]
    recording, launch : int
        Which of the option's and of the problem's.
    stops : float
        What `check` would stop. [stops]
    figures : tuple of float
        One for each demand.
    misses : tuple of float
        The same as misses. [stops]
    noise : float
        How far past where noise shows the ISO is, and past what counts as sharp diffraction. [stops]
    cost : float
    key : tuple
        By which it is ranked, the least first.
    order : int
        By which of the `orders` of wants it was found.
    """

    option: int
    back: float
    up: float
    focal: float
    f_number: float
    kind: int
    focus: float
    recording: int
    launch: int
    stops: float
    figures: tuple[float, ...]
    misses: tuple[float, ...]
    noise: float
    cost: float
    key: tuple[float, ...]
    order: int = 0


def key_of(
    stops: float, misses: Sequence[float], demands: Sequence[Demand], noise: float, cost: float
) -> tuple[float, ...]:
    """What ways are ranked by, the best first: see the head of this file. Stops, misses and noise in stops."""
    pairs = list(zip(misses, demands, strict=True))
    hard = [miss for miss, demand in pairs if demand.hard]
    soft = [miss for miss, demand in pairs if not demand.hard]
    ranks = [demand.rank(miss) for miss, demand in pairs if not demand.hard]
    found = [_alike(stops), *(miss > 0 for miss in hard), *map(_alike, hard), *ranks]
    return (*map(float, found), sum(soft) + noise + cost)


def _alike(miss: Any) -> Any:
    """Misses, so that those alike are the same."""
    return np.ceil(miss / ALIKE - 1e-9)


@dataclass(frozen=True)
class Table:
    """One camera's ways to make a shot, judged."""

    problem: Problem
    option: int
    framings: Framings
    f_numbers: Array
    ways: Ways

    @cached_property
    def judged(self) -> Judged:
        """Their figures."""
        return self.problem.judged(self.framings, self.f_numbers, self.ways)

    @property
    def shape(self) -> tuple[int, int, int]:
        """Framings, stops and ways to record."""
        return len(self.framings), len(self.f_numbers), len(self.ways)

    @cached_property
    def misses(self) -> list[Array]:
        """Of each demand, as far as it goes by framing, stop and recording."""
        return [demand.miss(self.judged.figures[demand.figure]) for demand in self.problem.demands]

    @cached_property
    def noise(self) -> Array:
        """How far past where noise shows the ISO is, and past what counts as sharp diffraction. (n, k, w) [stops]"""
        limit = noise_limit_on(self.framings.option.area)
        grain = np.log2(np.maximum(self.judged.figures["iso"] / limit, 1.0))
        return np.asarray(grain + self.framings.softened(self.f_numbers)[:, :, None])

    @cached_property
    def cost(self) -> Array:
        """(n, k, w)"""
        problem, framings, ways = self.problem, self.framings, self.ways
        shot, stands, option = problem.shot, framings.stands, framings.option
        far = problem.here.distance[0]
        place = _PLACE * (np.abs(np.log2(stands.distance / far)) + np.abs(stands.up) / far)
        of_framing = place[framings.place] + _FOCUS * (framings.kind != WRITTEN)
        of_framing = of_framing + _CAMERA * (option.name != shot.camera)
        of_framing = of_framing + problem.variant.price
        if option.mode != problem.stretch.view.mode:
            of_framing = of_framing + _MODE
        if option.name == shot.camera:
            of_framing = of_framing + _PLACE / 2 * np.abs(np.log2(framings.focal / shot.focal_length))
        of_stop = _STOP * np.abs(2 * np.log2(self.f_numbers / shot.f_number))
        recordings = [option.recordings[each] for each in ways.recording.tolist()]
        own = shot.capture
        of_way = np.array(
            [
                _RATE * (each.rate != own.rate)
                + _SHUTTER * (abs(each.time * each.rate - own.exposure_time * own.rate) > 1e-6)
                for each in recordings
            ],
            dtype=float,
        )  # fmt: skip
        of_way += _LAUNCH * (ways.launch != 0)
        return np.asarray(of_framing[:, None, None] + of_stop[None, :, None] + of_way[None, None])

    @cached_property
    def _stopped(self) -> Array:
        return np.asarray(_alike(self.judged.stops))

    def best(self, order: Sequence[int], among: Numbers | None = None, of: Numbers | None = None) -> Way:
        """The best way by the demands in that order; of some recordings, and of some framings, only."""
        among = np.arange(len(self.ways)) if among is None else among
        stopped = self._stopped[:, :, among] if of is None else self._stopped[of][:, :, among]
        framing, stop, way = np.nonzero(stopped <= stopped.min())
        left = framing if of is None else of[framing], stop, among[way]
        for hard in (True, False):
            chosen = [each for each in order if self.problem.demands[each].hard is hard]
            ours = [self.misses[each] for each in chosen]
            code = np.zeros(len(left[0]))
            for at, (each, miss) in enumerate(zip(chosen, ours, strict=True)):
                code += self.problem.demands[each].rank(_of(miss, left)) * 3.0 ** (len(ours) - at)
            left = _least(left, code)
            for miss in ours if hard else ():
                left = _least(left, _alike(_of(miss, left)))
        soft = [miss for miss, demand in zip(self.misses, self.problem.demands, strict=True) if not demand.hard]
        off = sum((_of(each, left) for each in (*soft, self.noise, self.cost)), np.zeros(len(left[0])))
        first = int(np.argmin(off))
        return self.way(*(int(side[first]) for side in left))

    def way(self, framing: int, stop: int, recorded: int) -> Way:
        """One of them."""
        at = framing, stop, recorded

        def value(values: Array) -> float:
            return float(np.broadcast_to(values, self.shape)[at])

        framings, ways, demands = self.framings, self.ways, self.problem.demands
        place = int(framings.place[framing])
        stops, misses, cost = value(self.judged.stops), tuple(map(value, self.misses)), value(self.cost)
        return Way(
            self.option,
            float(framings.stands.back[place]),
            float(framings.stands.up[place]),
            float(framings.focal[framing]),
            float(self.f_numbers[stop]),
            int(framings.kind[framing]),
            float(framings.focus[framing, self.problem.stretch.middle]),
            int(ways.recording[at[2]]),
            int(ways.launch[at[2]]),
            stops,
            tuple(value(self.judged.figures[demand.figure]) for demand in demands),
            misses,
            value(self.noise),
            cost,
            key_of(stops, misses, demands, value(self.noise), cost),
        )


_Places = tuple[Numbers, Numbers, Numbers]


def _of(values: Array, places: _Places) -> Array:
    """Values at some places, of an array that is 1 long where it does not depend on a side."""
    return np.asarray(values[tuple(at if size > 1 else 0 for at, size in zip(places, values.shape, strict=True))])


def _least(left: _Places, values: Array) -> _Places:
    """Those of some places whose value is the least."""
    values = np.broadcast_to(values, left[0].shape)
    kept = values <= values.min()
    return left[0][kept], left[1][kept], left[2][kept]


def orders(problem: Problem) -> list[list[int]]:
    """The maker's order of wants, and those with one soft want put first: what else they may be glad of."""
    every = list(range(len(problem.demands)))
    soft = [each for each in every if not problem.demands[each].hard]
    return [every, *([first, *(each for each in every if each != first)] for first in soft[1:])]


def search(problem: Problem) -> list[Way]:
    """Ways worth a closer look, the best first: the best of every camera, mode and rate, and by other priorities."""
    found: list[Way] = []
    for number, option in enumerate(problem.options):
        stands, covered = problem.coarse, problem.covered(option.shape)
        recorded = problem.ways(option)
        tried = grid(option.focal, problem.shot.focal_length, _FOCALS)
        framings = problem.framings(option, stands, covered, problem.focals(option, stands, covered, tried))
        table = Table(problem, number, framings, _some(option.stops, len(framings) * len(recorded)), recorded)
        for rate in np.unique(table.ways.rate):
            found.append(table.best(orders(problem)[0], np.flatnonzero(table.ways.rate == rate)))
        found += [replace(table.best(order), order=at) for at, order in enumerate(orders(problem)) if at]
        # From another height it is another shot: the best at each is followed, whichever is better as it is.
        if len(problem.ups) > 1:
            heights = stands.up[framings.place]
            found += [table.best(orders(problem)[0], of=np.flatnonzero(heights == up)) for up in problem.ups]
    ways = sorted(found, key=lambda way: way.key)
    for most, rounds in _FOLLOWED:
        followed = _worth(problem, ways, most)
        ways = _followed(problem, followed, rounds) + [way for way in ways if way not in followed]
    return polished(problem, sorted(ways, key=lambda way: way.key))


def _some(stops: Array, of_each: int) -> Array:
    """All stops, or where that comes to too much every other or third one, with both ends."""
    apart = max(1, min(-(-of_each * len(stops) // _MOST), 3))
    return np.unique([*stops[::apart], stops[-1]])


def _worth(problem: Problem, ways: Sequence[Way], most: int) -> list[Way]:
    """Of many ways those that are followed: the best of each camera, and so many of the best of all with them."""
    ranked = sorted(ways, key=lambda way: way.key)
    of_camera: dict[str, Way] = {}
    for way in ranked:
        of_camera.setdefault(problem.options[way.option].name, way)
    same: dict[Way, Way] = {}
    for way in [*of_camera.values(), *ranked]:
        same.setdefault(replace(way, order=0), way)
    return list(same.values())[: most + len(of_camera) - 1]


def closed_in(problem: Problem, ways: Sequence[Way], rounds: int = _ROUNDS) -> list[Way]:
    """Ways of this problem, or of one whose limits are others, each made better in small steps, the best first."""
    return _followed(problem, [better(problem, way, np.zeros(3)) for way in ways], rounds)


def _followed(problem: Problem, ways: Sequence[Way], rounds: int) -> list[Way]:
    """Each way made better in small steps about it, the best first: as long a step as before where that helped."""
    steps = _first_steps(problem)
    found = {(way.option, way.order, way): 1.0 for way in ways}
    for _ in range(rounds):
        nearer: dict[tuple[int, int, Way], float] = {}
        for (option, order, way), scale in found.items():
            after = better(problem, way, steps * scale)
            if (after.back, after.up) != (way.back, way.up):
                # From there it may turn out to see past the set.
                after = _first([better(problem, after, 0 * steps), way], problem)
            moved = (after.back, after.up, after.focal) != (way.back, way.up, way.focal)
            nearer.setdefault((option, order, after), scale if moved else scale * _SHRINK)
        found = nearer
    return sorted((way for _, _, way in found), key=lambda way: way.key)


def _first(ways: Sequence[Way], problem: Problem) -> Way:
    """The best of some that were found by the same order of wants."""
    order = orders(problem)[ways[0].order]
    demands = [problem.demands[at] for at in order]
    return min(ways, key=lambda way: key_of(way.stops, [way.misses[at] for at in order], demands, way.noise, way.cost))


def polished(problem: Problem, ways: Sequence[Way]) -> list[Way]:
    """The best few with what each place about them sees looked at itself, not taken from between others."""
    steps, left, found = _first_steps(problem), list(ways), []
    for way in _worth(problem, ways, _POLISHED):
        left.remove(way)
        for scale in _POLISH:
            way = _first([better(problem, way, steps * scale, exact=True), way], problem)
        found.append(way)
    return sorted([*found, *left], key=lambda way: way.key)


def _first_steps(problem: Problem) -> Array:
    """Half of what lies between the places and focal lengths looked at: back [m], up [m], focal length as a share."""
    back = np.diff(problem.backs).max(initial=0.0) / 2
    up = np.diff(problem.ups).max(initial=0.0) / 2
    return np.array([back, up, 0.15])


def better(problem: Problem, way: Way, steps: Array, *, exact: bool = False) -> Way:
    """The best of a way and what lies a step about it."""
    table = around(problem, problem.options[way.option], way, steps, exact=exact)
    return replace(table.best(orders(problem)[way.order]), order=way.order)


def around(problem: Problem, option: Option, way: Way, steps: Array, *, exact: bool = False) -> Table:
    """A camera's ways a step about one of its ways, at its rate, all stops among them.

    exact: whether to look from every place about it, and so from fewer, or just from where it is.
    """
    sides = _about(problem, exact=exact) * steps[:2]
    back = np.clip(way.back + sides[:, 0], problem.backs[0], problem.backs[-1])
    up = np.clip(way.up + sides[:, 1], problem.ups[0], problem.ups[-1])
    back, up = np.unique(np.column_stack([back, up]), axis=0).T
    stands = problem.places(back, up)
    for place in zip(stands.back.tolist(), stands.up.tolist(), strict=True) if exact else [(way.back, way.up)]:
        problem.look_from(option.shape, *place)
    covered = problem.covered_near(option.shape, stands)
    focals = problem.focals(option, stands, covered, way.focal * (1 + np.unique(np.array(_ABOUT) * steps[2])))
    framings = problem.framings(option, stands, covered, focals)
    rate = float(option.recordings[way.recording].rate)
    return Table(problem, way.option, framings, option.stops, problem.ways(option).at(rate))


def _about(problem: Problem, *, exact: bool) -> Array:
    """Where to look about a place, in steps back and up (n, 2): all round it, and nearer by along and across.

    To look costs much. So if that is done from every place it is close by only where they lie along one line.
    """
    ends, near = (-1.0, 0.0, 1.0), np.linspace(-1, 1, _CLOSE) if exact else _ABOUT
    round_, along = (np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2) for x, y in ((ends, ends), (near, near)))
    along = along[(along == 0).any(axis=1)]
    alone = len(problem.ups) == 1 or len(problem.backs) == 1
    return round_ if exact and not alone else np.vstack([round_, along])
