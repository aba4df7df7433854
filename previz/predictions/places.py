"""Where else a piece can stand: on the table, before the backdrop, off the road, in nothing and in nobody's way."""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import (
    AT_HOME,
    MARGIN,
    SPARE,
    TOUCH,
    BackPlane,
    Solid,
    back_plane,
    clearance,
    each_driven,
    grounded,
    kerb_solids,
    pieces_of,
    ramp_solids,
    road_curve,
    roof,
)
from previz.physics.overlap import depth
from previz.predictions.findings import Change, Way
from previz.predictions.shot_view import ShotView
from previz.scene import Focus, Scatter, Scene, listed

Array = NDArray[np.float64]

#: Ways to go from where a piece stands, and how far [m]: steps of a few millimetres are what a hand can place.
_DIRECTIONS = 24
_STEPS = (0.005, 0.01, 0.02, 0.03, 0.045, 0.065, 0.09, 0.13, 0.18, 0.25, 0.35, 0.45, 0.6, 0.8, 1.0)

#: A move of less is none. [m]
_SEEN = 0.0005

#: So many places are offered, the nearest first: whatever else is found there is for the checks to say.
_OFFERED = 3

#: What looking at one costs, in the measure of `looking.cost_of`: measured on random scenes, 0.1 to 0.35.
_LOOK = 0.25

#: What it costs to ask whether one is good for anything, and of how many that is asked.
_ASKING, _ASKED = 2.0, 24


#: What places are told from.
CORNER = "from the table's front-left corner"

#: A remedy hangs no lamp higher over the table than this. Common practice, no source. [m]
HIGHEST_LAMP = 2.5


def placed(scene: Scene, at: Iterable[float], place: Iterable[float]) -> list[str]:
    """A place as a file holds it: x and y anew, the height that was there kept. [m]

    >>> from pathlib import Path
    >>> from previz.scene import read_scene
    >>> placed(read_scene(Path("scenes/quay_lorry.yaml")), (0.1, 0.2, 0.05), (0.3, 0.25))
    ['300 mm', '250 mm', '50 mm']
    """
    before = list(at)
    return scene.tape.place((*place, *before[2:]), before)


def stood_at(
    view: ShotView, words: str, place: Iterable[float], digits: int = 2, after: str = ".", cost: float = 0.0
) -> Way:
    """A camera that stands at another place, and does not move. [m]

    A focus that is told by its distance goes with it, and is told: who moves the camera alone has nothing sharp.

    Parameters
    ----------
    words, after : str
        How to get there, and what ends the sentence.
    digits : int
        Of a millimetre, in what is written of the place.
    """
    tape, key, there = view.scene.tape, f"shots[{view.index}]", np.array([*place], dtype=float)
    changes = [Change(f"{key}.at", tape.place(there, view.shot.at, digits))]
    further = float((there - view.shot.at) @ view.cameras[view.middle].world_from_camera[:, 2])
    focus = view.shot.focus.distance if isinstance(view.shot.focus, Focus) else None
    if focus is not None and tape(focus + further) != tape(focus):
        words += f", and focus at {tape(focus + further)}, not {tape(focus)}"
        changes.append(Change(f"{key}.focus", tape.written(focus + further, 0)))
    return Way(f"{words}{after}", tuple(changes), cost)


def told_move(scene: Scene, by: Iterable[float]) -> str:
    """How far and which way to move something, as its maker stands before the table: x, y and, if given, z [m].

    What a tape does not show is left out.

    >>> from pathlib import Path
    >>> from previz.scene import read_scene
    >>> told_move(read_scene(Path("scenes/quay_lorry.yaml")), (0.016, -0.0035))
    '16 mm to the right and 4 mm towards you'
    """
    ways = (("to the left", "to the right"), ("towards you", "away from you"), ("down", "up"))
    moves = [(value, names) for value, names in zip(by, ways, strict=False) if abs(value) >= _SEEN]
    told = [f"{scene.tape(abs(value))} {names[int(value > 0)]}" for value, names in moves]
    return listed(told or ["a little"], "and")


def from_corner(scene: Scene, place: Iterable[float]) -> str:
    """A place as a tape finds it: x, y and height from the table's front-left corner [m].

    >>> from pathlib import Path
    >>> from previz.scene import read_scene
    >>> from_corner(read_scene(Path("scenes/quay_lorry.yaml")), (0.7, -0.15, 0.05))
    "700 mm, -150 mm, 50 mm from the table's front-left corner"
    """
    return f"{', '.join(scene.tape(float(each)) for each in place)} {CORNER}"


def told_place(scene: Scene, place: Iterable[float]) -> str:
    """A place of lens or lamp as a file has it: x, y, height from the table's front-left corner [m], with their unit.

    >>> from pathlib import Path
    >>> from previz.scene import read_scene
    >>> told_place(read_scene(Path("scenes/quay_lorry.yaml")), (0.7, -0.15, 0.05))
    'at: [700 mm, -150 mm, 50 mm]'
    """
    return f"at: [{', '.join(scene.tape(float(each)) for each in place)}]"


#: How far from the edge of the table opposite a side all of a thing must stand at least, and that side's plane. [m]
Behind = tuple[BackPlane, float]


def ways_to_free_places(
    scene: Scene, number: int, behind: Behind | None = None, helps: Callable[[Array], bool] | None = None
) -> Iterator[Way]:
    """The nearest free places for an entry of the dressing, all its copies moved alike; none where it has no place.

    helps: whether a move (2,) [m] is good for anything, where not every one is; so many free places are asked about.
    """
    piece: Any = scene.dressing[number]
    if isinstance(piece, Scatter) or piece.at is None:
        return
    cost, offered, asked = 0.0, 0, 0
    for by, free in _free(scene, number, behind):
        cost += _LOOK
        if free and helps is not None:
            cost, asked = cost + _ASKING, asked + 1
            free = helps(by)
        if free:
            yield _to(scene, number, by, cost)
            cost, offered = 0.0, offered + 1
        if offered == _OFFERED or asked == _ASKED:
            break
    if cost:
        yield Way("", (), cost)


def _to(scene: Scene, number: int, by: Array, cost: float) -> Way:
    piece: Any = scene.dressing[number]
    x, y = np.array(piece.at[:2]) + by
    place = f"{scene.tape(x)} from the table's left and {scene.tape(y)} from its front"
    words = f"Move {piece.id} {told_move(scene, by)}, to {place}."
    return Way(words, (Change(f"dressing[{number}].at", placed(scene, piece.at, (x, y))),), cost)


def _free(scene: Scene, number: int, behind: Behind | None) -> Iterator[tuple[Array, bool]]:
    """Moves (2,), the shortest first, and whether the entry stands free after each. [m]"""
    own = [it for it in pieces_of(scene) if it.entry == number]
    middle = _road_points(scene)
    # What is parked by a kerb, or a cone, may stay on the road that it stands on.
    keeps = [it.kind in AT_HOME and _on_the_road(scene, it.footprint, middle) for it in own]
    standing = [(it, it.solid.below(roof(scene))) for it in grounded(scene) if it.entry != number]
    standing += [(part, part.footprint) for part in (*ramp_solids(scene), *kerb_solids(scene))]
    for by in _moves(scene, own, behind):
        there = (replace(it, at=(it.at[0] + by[0], it.at[1] + by[1], it.at[2])) for it in own)
        yield (
            by,
            all(_is_free(scene, it, standing, middle, keeps_to_it=keep) for it, keep in zip(there, keeps, strict=True)),
        )


def _moves(scene: Scene, own: list[Solid], behind: Behind | None) -> Array:
    """Moves (n, 2) that leave these on the table, before the backdrop and further back than `behind`. [m]"""
    turns = np.arange(_DIRECTIONS) * 2 * math.pi / _DIRECTIONS
    ways = np.stack([np.cos(turns), np.sin(turns)], axis=1)
    moves = (np.array(_STEPS)[:, None, None] * ways).reshape(-1, 2)
    least, most = back_plane(scene).free
    outline = np.concatenate([it.footprint for it in own])
    low, high = outline.min(axis=0) + moves, outline.max(axis=0) + moves
    inside = ((low >= least + SPARE) & (high <= most - SPARE)).all(axis=1)
    if behind is not None:
        plane, off = behind
        inside &= plane.off(outline).min() + plane.towards(moves) >= off
    return np.asarray(moves[inside])


def _road_points(scene: Scene) -> Array:
    """Points (n, 2) along the road's middle, none without one. [m]"""
    if scene.set.road is None:
        return np.zeros((0, 2))
    curve = road_curve(scene)
    return curve.at(np.linspace(0.0, curve.length, 400))


def _on_the_road(scene: Scene, outline: Array, middle: Array) -> bool:
    road = scene.set.road
    if road is None:
        return False
    off = np.linalg.norm(middle[:, None] - outline[None], axis=2).min()
    return bool(off < road.lanes / 2 * float(road.lane) + SPARE)


def _is_free(scene: Scene, it: Solid, others: list[tuple[Solid, Array]], middle: Array, *, keeps_to_it: bool) -> bool:
    """Whether it stands free. keeps_to_it: and may do so on the road."""
    outline = it.footprint
    if _on_the_road(scene, outline, middle) and not keeps_to_it:
        return False
    if any(_meet(it, outline, other, theirs) for other, theirs in others):
        return False
    return all(clearance(each, it) >= MARGIN / each.vehicle_scale + TOUCH for each in each_driven(scene))


def _meet(it: Solid, outline: Array, other: Solid, theirs: Array) -> bool:
    if min(it.top, other.top) - max(it.base, other.base) <= TOUCH:
        return False
    apart = np.maximum(outline.min(axis=0) - theirs.max(axis=0), theirs.min(axis=0) - outline.max(axis=0)).max()
    return bool(apart < 0) and depth(outline, theirs) > -SPARE
