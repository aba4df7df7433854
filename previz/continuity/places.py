"""The same thing in the same place of two pictures that are meant to show different places."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.continuity.rule import Told
from previz.errors import ShotFault
from previz.layout import Solid, backdrop_plane, entries, solids_of
from previz.physics import optics
from previz.predictions import ShotView, Verdict, view_of
from previz.scene import Scene, apart_from_place
from previz.sequence import Event
from previz.units import percent

Array = NDArray[np.float64]

#: What one knows again; of cones, fences, posts and firs one is like the other. Common practice, no source.
KNOWN_AGAIN = ("building", "container", "sign", "card", "mesh", "broadleaf", "parked")

# Limits. Common practice, no source.
SAME = 0.3  # overlap of one thing's shape in both pictures
SMALLEST = 0.004  # share of the picture under which nobody looks at it
MOST_BLUR = 0.3  # of its own width in the picture, past which it is but a patch

#: And of what is painted, of the picture's width.
MOST_BLUR_BEHIND = 0.03

#: Looks across and down a picture, and frames of a stretch.
_ACROSS, _DOWN, _FRAMES = 48, 27, 3

#: How the painted backdrop goes by, among pieces.
_BACKDROP = "the backdrop"


@dataclass(frozen=True, eq=False)
class Shown:
    """What one frame shows, on a raster over the picture.

    Parameters
    ----------
    pieces : mapping of str to (n,) bool
        Where each thing is seen that one would know again, past what stands before it.
    looks : mapping of str to data
        What each of them is, apart from where it stands.
    behind : (n, 2) float
        Place on the backdrop, across and up, where what is painted there is seen; else nan. [m]
    step : float
        From one look to the next on the backdrop, about. [m]
    painted : tuple of data
        What is on the backdrop, by which one would know it again: its picture, or its painted layers.
    """

    pieces: dict[str, NDArray[np.bool_]]
    looks: dict[str, Any]
    behind: Array
    step: float
    painted: tuple[Any, ...]


def one_place_twice(events: Sequence[Event]) -> Iterator[tuple[Event, Event, Told]]:
    """For any two stretches of different places what of the one is in the same place of the other's picture.

    Only shots that say at which place of the story they are (`place`) are compared, each pair of shots once.
    """
    told = [event for event in events if event.shot.place is not None]
    shown: dict[int, list[Shown]] = {}
    done = set()
    for one, other in combinations(told, 2):
        pair = frozenset((one.shot.id, other.shot.id))
        if one.shot.place == other.shot.place or pair in done:
            continue
        done.add(pair)
        for each in (one, other):
            if each.number not in shown:
                shown[each.number] = _frames_of(each)
        yield one, other, _told(one, other, _same(shown[one.number], shown[other.number]))


def _told(one: Event, other: Event, found: tuple[float, str]) -> Told:
    share, name = found
    again = share > SAME
    message = (
        f"{other.number} {other.shot.id}, at {other.shot.place}, shows {name} where {one.number} {one.shot.id}, at "
        f"{one.shot.place}, has it in its picture: {percent(share)} of both shapes are one."
        if again
        else f"{one.number} {one.shot.id} and {other.number} {other.shot.id} show nothing in the same place of the "
        "picture that one would know again."
    )
    way = (
        f"Frame {other.shot.id} past it, or change what is painted there"
        if name == _BACKDROP
        else f"Move {name} in {other.shot.id}, take it away there, or put something before it"
    )
    return Told(
        "between.place",
        "same_share",
        share,
        SAME,
        Verdict.WATCH if again else Verdict.FINE,
        message,
        f"{way}.",
    )


def _same(one: Sequence[Shown], other: Sequence[Shown]) -> tuple[float, str]:
    """The largest overlap of one thing in any two frames, and what it is."""
    best, what = 0.0, ""
    for here in one:
        for there in other:
            for name in here.pieces.keys() & there.pieces.keys():
                if here.looks[name] != there.looks[name]:
                    continue
                share = _overlap(here.pieces[name], there.pieces[name])
                if share > best:
                    best, what = share, name
            share = _same_behind(here, there) if any(each in there.painted for each in here.painted) else 0.0
            if share > best:
                best, what = share, _BACKDROP
    return best, what


def _overlap(one: NDArray[np.bool_], other: NDArray[np.bool_]) -> float:
    either = float(np.count_nonzero(one | other))
    return float(np.count_nonzero(one & other)) / either if either else 0.0


def _same_behind(one: Shown, other: Shown) -> float:
    """The share of what is painted and seen in either that is the same in one place of both pictures."""
    here, there = (~np.isnan(look.behind[:, 0]) for look in (one, other))
    either, both = np.count_nonzero(here | there), here & there
    if either < SMALLEST * len(here):
        return 0.0
    off = np.linalg.norm(one.behind[both] - other.behind[both], axis=1)
    return float(np.count_nonzero(off < 1.5 * max(one.step, other.step)) / either)


# --- what a frame shows ---


def _frames_of(event: Event) -> list[Shown]:
    """The first frame, the last and those between; none of a shot that cannot be laid open."""
    ends = np.linspace(event.frames[0], event.frames[-1], _FRAMES).round().astype(np.int64)
    try:
        view = view_of(event.scene, event.shot, np.unique(ends))
    except ShotFault:
        return []
    return [_shown(view, frame) for frame in range(len(view.numbers))]


def _shown(view: ShotView, frame: int) -> Shown:
    across, down = np.meshgrid((np.arange(_ACROSS) + 0.5) / _ACROSS, (np.arange(_DOWN) + 0.5) / _DOWN)
    eye, rays = view.rays(frame, across.ravel(), down.ravel())
    eyes = np.broadcast_to(eye, rays.shape)
    solids = [*solids_of(view.scene), *view.vehicle_solids(frame)]
    depths = [entries(eyes, rays, [solid]) for solid in solids]  # rays are of unit depth
    first = np.min(depths, axis=0) if depths else np.full(len(rays), np.inf)
    ground = np.where(rays[:, 2] < -1e-9, -eye[2] / np.minimum(rays[:, 2], -1e-9), np.inf)
    first = np.minimum(first, np.where(ground > 0, ground, np.inf))
    pieces, looks = {}, {}
    for solid, depth in zip(solids, depths, strict=True):
        seen = (depth <= first) & np.isfinite(depth)
        if solid.kind in KNOWN_AGAIN and seen.mean() >= SMALLEST and _sharp_enough(view, frame, solid, seen, depth):
            pieces[solid.name] = seen
            looks[solid.name] = _apart_from_place(view.scene, solid)
    behind, step = _painted(view, frame, rays, first)
    return Shown(pieces, looks, behind, step, _painted_with(view.scene))


def _sharp_enough(view: ShotView, frame: int, solid: Solid, seen: NDArray[np.bool_], depth: Array) -> bool:
    """Whether its blur leaves it a shape; a camera that stands in it sees none."""
    away = float(np.median(depth[seen]))
    if away <= 0:
        return False
    columns = seen.reshape(_DOWN, _ACROSS).any(axis=0).sum() / _ACROSS * view.area[0]
    shot = view.shot
    focus = float(view.cameras[frame].focus_distance)
    blur = optics.circle_of_confusion(shot.focal_length, shot.f_number, focus, away)
    return float(blur) <= MOST_BLUR * columns


def _apart_from_place(scene: Scene, solid: Solid) -> Any:
    piece = scene.dressing[solid.entry]
    return type(piece), apart_from_place(piece)


def _painted_with(scene: Scene) -> tuple[Any, ...]:
    """What a backdrop has that one would know again; sky and one colour are no such things."""
    backdrop = scene.set.backdrop
    if backdrop is None:
        return ()
    return backdrop.painting.layers if backdrop.painting is not None else (backdrop.image,)


def _painted(view: ShotView, frame: int, rays: Array, first: Array) -> tuple[Array, float]:
    """Where rays meet what is painted on the backdrop; of sky, one colour or much blur nothing is known again."""
    backdrop, plane, pose = view.scene.set.backdrop, backdrop_plane(view.scene), view.cameras[frame]
    nowhere, eye = np.full((len(rays), 2), np.nan), pose.position
    if backdrop is None or plane is None or backdrop.colour is not None or plane.before(eye) <= 0:
        return nowhere, 0.0
    depth = float(np.median(plane.before(eye) / np.maximum(plane.towards(rays), 1e-3)))
    blur = optics.circle_of_confusion(view.shot.focal_length, view.shot.f_number, pose.focus_distance, depth)
    if float(blur) > MOST_BLUR_BEHIND * view.area[0]:
        return nowhere, 0.0
    layers = backdrop.painting.layers if backdrop.painting is not None else ()
    top = backdrop.height if backdrop.painting is None else max((layer.height for layer in layers), default=0.0)
    reach = plane.reach(eye, rays, 1e-9)
    x, z = plane.met(eye, rays)
    with np.errstate(invalid="ignore"):
        seen = (reach < first) & (np.abs(x) <= plane.half) & (z >= 0) & (z <= top)
    places = np.where(seen[:, None], np.stack([x, z], axis=-1), np.nan)
    step = float(np.nanmedian(np.abs(np.diff(x.reshape(_DOWN, _ACROSS), axis=1)))) if np.isfinite(x).any() else 0.0
    return places, step
