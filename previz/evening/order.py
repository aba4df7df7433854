"""In which order to take setups so that least is done between them: the shortest way through all of them."""

import math
from dataclasses import dataclass
from functools import partial
from itertools import permutations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: Of so few setups every order is looked at: that takes less than to load the solver.
FEW = 5

#: Up to `EXACT` setups the solver goes on to the end; with more it tries so many branches at a time, counted and not
#: timed, so that an answer is the same everywhere.
BRANCHES = 500
EXACT = 12

#: With more setups than that the solver would keep a maker waiting; then a good order is looked for instead.
MOST_SOLVED = 60


@dataclass(frozen=True)
class Order:
    """An order of setups.

    Parameters
    ----------
    numbers : tuple of int
        Setups from 0, in the order in which they are taken.
    work : int
        What it takes in all, in the unit of the costs.
    least : int
        No order takes less; it is `work` where this order is known to be among the best.
    """

    numbers: tuple[int, ...]
    work: int
    least: int


def work_of(order: ArrayLike, first: ArrayLike, between: ArrayLike) -> int:
    """What an order takes.

    >>> work_of([1, 0], first=[5, 2], between=[[0, 7], [3, 0]])
    5
    """
    numbers, costs = np.asarray(order, dtype=int), np.asarray(between)
    if not len(numbers):
        return 0
    return int(np.asarray(first)[numbers[0]] + costs[numbers[:-1], numbers[1:]].sum())


def least_work(first: ArrayLike, between: ArrayLike) -> Order:
    """The order that takes least work; of several, one that keeps most to the order in which they were given.

    It is the way of a travelling salesman who need not come home, solved as an integer programme by HiGHS through
    scipy. Rounds of setups that close without the start are cut off as they turn up, after Dantzig, Fulkerson and
    Johnson, "Solution of a Large-Scale Traveling-Salesman Problem", Operations Research 2(4), 1954 (from memory).
    Past `MOST_SOLVED` setups it begins with the nearest next setup, and moves one, two or three at a time to where they
    cost less until that helps no more.

    Parameters
    ----------
    first : (n,) int
        Work from the set as built to each setup, 0 or more.
    between : (n, n) int
        Work from the setup of the row to that of the column, 0 or more.

    Examples
    --------
    >>> least_work(first=[5, 2, 9], between=[[0, 7, 1], [3, 0, 8], [1, 1, 0]])
    Order(numbers=(1, 0, 2), work=6, least=6)
    """
    first, between = np.asarray(first, dtype=np.int64), np.asarray(between, dtype=np.int64)
    count = len(first)
    if count < 2:
        return Order(tuple(range(count)), int(first.sum()), int(first.sum()))
    costs = np.zeros((count + 1, count + 1), dtype=np.int64)  # the set as built comes first; home to it costs nothing
    costs[0, 1:], costs[1:, 1:] = first, between
    find = _best_of_all if count <= FEW else _shortest_round if count <= MOST_SOLVED else _good_round
    numbers, bound = find(costs)
    work = work_of(numbers, first, between)
    return Order(numbers, work, min(math.floor(bound + 1e-6), work))


def _best_of_all(costs: NDArray[np.int64]) -> tuple[tuple[int, ...], float]:
    """As `_shortest_round`, by looking at every order."""
    places = len(costs)
    arcs = np.array(list(permutations(range(places), 2)))
    weights = np.zeros((places, places))
    weights[tuple(arcs.T)] = _with_ties(costs, arcs)
    rounds = np.array([(0, *order, 0) for order in permutations(range(1, places))])
    best = rounds[weights[rounds[:, :-1], rounds[:, 1:]].sum(axis=1).argmin()]
    return tuple((best[1:-1] - 1).tolist()), float(costs[best[:-1], best[1:]].sum())


def _shortest_round(costs: NDArray[np.int64]) -> tuple[tuple[int, ...], float]:
    """Setups from 0 in the order of the shortest round from the start, and what no round's weight is below."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # here: most films have few setups, and they take a while
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    places = len(costs)
    arcs = np.array([(i, j) for i in range(places) for j in range(places) if i != j])
    leaves, comes = (arcs[:, side, None] == np.arange(places) for side in (0, 1))
    rules = [LinearConstraint(csr_array(np.hstack([leaves, comes]).T.astype(float)), 1, 1)]
    options = {"mip_rel_gap": 0.0} | ({} if places - 1 <= EXACT else {"node_limit": BRANCHES})
    weights = _with_ties(costs, arcs)
    while True:
        solve = partial(milp, weights, constraints=rules, integrality=np.ones(len(arcs)), bounds=Bounds(0, 1))
        found = solve(options=options)
        if found.x is None:  # not one found within so many branches
            found = solve(options={"mip_rel_gap": 0.0})
        taken = arcs[found.x > 0.5]
        joined = csr_array((np.ones(len(taken)), taken.T), shape=(places, places))
        rounds, which = connected_components(joined, directed=False)
        if rounds == 1:
            after = dict(taken.tolist())
            order = [after[0]]
            while len(order) < places - 1:
                order.append(after[order[-1]])
            return tuple(each - 1 for each in order), float(found.mip_dual_bound)
        inside = np.array([(which[arcs] == each).all(axis=1) for each in range(rounds)])
        rules.append(LinearConstraint(csr_array(inside.astype(float)), -np.inf, np.bincount(which) - 1))


def _good_round(costs: NDArray[np.int64]) -> tuple[tuple[int, ...], float]:
    """As `_shortest_round`, not the shortest for sure: the bound is what coming to each setup costs at least."""
    places = len(costs)
    order, left = [0], list(range(1, places))
    while left:
        order.append(left.pop(int(np.argmin(costs[order[-1], left]))))
    order = _improved([*order, 0], costs)
    arrivals = np.where(np.eye(places, dtype=bool), costs.max(), costs)[:, 1:]
    return tuple(each - 1 for each in order[1:-1]), float(arrivals.min(axis=0).sum())


def _improved(order: list[int], costs: NDArray[np.int64]) -> list[int]:
    """A round from the start and back, with runs of up to three setups put where they cost less."""
    better = True
    while better:
        better = False
        for size in (1, 2, 3):
            for at in range(1, len(order) - size):
                run, rest = order[at : at + size], np.array(order[:at] + order[at + size :])
                before, after = order[at - 1], order[at + size]
                saves = costs[before, run[0]] + costs[run[-1], after] - costs[before, after]
                adds = costs[rest[:-1], run[0]] + costs[run[-1], rest[1:]] - costs[rest[:-1], rest[1:]]
                best = int(np.argmin(adds))
                if adds[best] < saves:
                    order = [*rest[: best + 1].tolist(), *run, *rest[best + 1 :].tolist()]
                    better = True
    return order


def _with_ties(costs: NDArray[np.int64], arcs: NDArray[np.int64]) -> Array:
    """Weights of the arcs: their costs, and a little for going on to another setup than the next one given.

    Over a whole round that is less than 1, so that it never outweighs a cost.
    """
    jumps = np.abs(arcs[:, 1] - arcs[:, 0] - 1.0)
    jumps[arcs[:, 1] == 0] = 0.0
    return np.asarray(costs[arcs[:, 0], arcs[:, 1]] + jumps / (len(costs) ** 2 + 1))
