"""The best of a problem by trying everything on a fine grid: what the search is held against."""

import numpy as np

from previz.advice.choices import grid
from previz.advice.problem import Problem
from previz.advice.search import Table, Way, orders


def best_on_a_grid(problem: Problem, distances: int = 15, heights: int = 5, focals: int = 12) -> Way:
    """Of every camera, mode, rate, shutter, stop and launch, at so many distances, heights and focal lengths each."""
    scene, shot = problem.scene, problem.shot
    back = np.unique(
        [*np.linspace(problem.backs[0], problem.backs[-1], distances), 0.0 if 0 in problem.backs else problem.backs[0]]
    )
    up = np.unique(
        [*np.linspace(problem.ups[0], problem.ups[-1], heights), 0.0 if 0 in problem.ups else problem.ups[0]]
    )
    back, up = (each.ravel() for each in np.meshgrid(back, up, indexing="ij"))
    stands = problem.places(back, up)
    found = []
    for number, option in enumerate(problem.options):
        tried = np.array(option.focals) if option.focals else grid(option.focal, shot.focal_length, focals)
        lenses = np.broadcast_to(tried, (len(back), len(tried)))
        framings = problem.framings(option, stands, problem.covered_at(option.shape, stands), lenses)
        found.append(Table(problem, number, framings, option.stops, problem.ways(option)).best(orders(problem)[0]))
    assert scene.shots
    return min(found, key=lambda way: way.key)
