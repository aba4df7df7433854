"""The best of a problem by trying everything on a fine grid: what the search is held against."""

import numpy as np

from previz.advice.choices import grid
from previz.advice.problem import Problem
from previz.advice.search import ALIKE, Table, Way, orders

#: What is added up in the end is alike where it differs by less: nobody sees it. Common practice, no source. [stops]
SEEN = 0.1


def best_on_a_grid(problem: Problem, distances: int = 15, heights: int = 5, focals: int = 12) -> Way:
    """Of every camera, mode, rate, shutter, stop and launch, at so many distances, heights and focal lengths each."""
    return min(best_of_each(problem, distances, heights, focals), key=lambda way: way.key)


def best_of_each(problem: Problem, distances: int = 15, heights: int = 5, focals: int = 12) -> list[Way]:
    """The same of each camera and mode."""
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
    return found


def worse(one: Way, other: Way, problem: Problem) -> bool:
    """Whether the one does worse in what is wanted, in the order in which ways are compared.

    What is ranked first is not worse. If it is not ranked first, misses are compared as they are, not in the steps in
    which they are ranked: two that the rule calls alike may lie on either side of such a step.
    """
    if one.key <= other.key:
        return False
    pairs = list(zip(problem.demands, one.misses, other.misses, strict=True))
    hard, soft = ([(a, b) for each, a, b in pairs if each.hard is must] for must in (True, False))
    compared = [(one.stops, other.stops, ALIKE)]
    compared += [(float(a > 0), float(b > 0), 0.0) for a, b in hard] + [(a, b, ALIKE) for a, b in hard]
    compared += [(float(a > 0), float(b > 0), 0.0) for a, b in soft] + [(one.key[-1], other.key[-1], SEEN)]
    decided = [a > b for a, b, alike in compared if abs(a - b) > alike]
    return bool(decided) and decided[0]
