"""The best of a problem by trying everything on a fine grid: what the search is held against."""

import numpy as np

from previz.advice.choices import grid
from previz.advice.problem import Problem
from previz.advice.search import HARD_ALIKE, SOFT_ALIKE, Table, Way, orders


def best_on_a_grid(problem: Problem, distances: int = 15, heights: int = 5, focals: int = 12) -> Way:
    """Of every camera, mode, rate, shutter, stop and launch, at so many distances, heights and focal lengths each."""
    backs, ups = problem.backs, problem.ups
    back = np.unique([*np.linspace(backs[0], backs[-1], distances), *backs[backs == 0]])
    up = np.unique([*np.linspace(ups[0], ups[-1], heights), *ups[ups == 0]])
    back, up = (each.ravel() for each in np.meshgrid(back, up, indexing="ij"))
    stands = problem.places(back, up)
    found = []
    for number, option in enumerate(problem.options):
        now = problem.shot.focal_length
        tried = np.array(option.focals) if option.focals else grid(option.focal, now, focals)
        lenses = np.broadcast_to(tried, (len(back), len(tried)))
        framings = problem.framings(option, stands, problem.covered_at(option.shape, stands), lenses)
        found.append(Table(problem, number, framings, option.stops, problem.ways(option)).best(orders(problem)[0]))
    return min(found, key=lambda way: way.key)


def worse(one: Way, other: Way, problem: Problem) -> bool:
    """Whether the one does worse in what is wanted, in the order in which ways are compared.

    Misses are compared as they are, not in the steps in which they are ranked: two that the rule calls alike may lie on
    either side of such a step.
    """
    pairs = list(zip(problem.demands, one.misses, other.misses, strict=True))
    compared = [(one.stops, other.stops, HARD_ALIKE)]
    for hard in (True, False):
        ours = [(mine, theirs) for demand, mine, theirs in pairs if demand.hard is hard]
        compared += [(float(mine > 0), float(theirs > 0), 0.0) for mine, theirs in ours]
        compared += [] if hard else [(one.noise, other.noise, SOFT_ALIKE)]
        compared += [(mine, theirs, HARD_ALIKE if hard else SOFT_ALIKE) for mine, theirs in ours]
    decided = [mine > theirs for mine, theirs, alike in compared if abs(mine - theirs) > alike]
    return bool(decided) and decided[0]
