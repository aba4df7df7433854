"""Where a backdrop that is larger than its sheets is joined: where pieces hide the join, or the picture leaves it out.

A join is looked at from each shot's camera at a few of its frames, past the pieces that stand still.
"""

import math
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from previz.errors import ShotFault
from previz.layout import (
    SEE_THROUGH,
    BackPlane,
    CameraPose,
    Solid,
    backdrop_plane,
    camera_at,
    cross_section,
    flat_size,
    frame_times,
    hits,
    solids_of,
)
from previz.physics.optics import image_distance
from previz.scene import Backdrop, Scene, Shot, recorded_area

Array = NDArray[np.float64]

_STEP = 0.005  # between places that are tried for a join [m]
_MOST_PLACES = 400
_LOOKED_AT = 24  # points along a join
_FRAMES = 3  # of each shot
_HIDES = 0.1  # of a join that a piece must hide to be named


@dataclass(frozen=True)
class Join:
    """One butt joint between two sheets.

    Parameters
    ----------
    part_of : str
        What is joined.
    upright : bool
        Upright, at a place from the left edge; else level, at a length along the sheet from its foot.
    at : float
        [m]
    seen : float or None
        The largest share of it that any frame looked at shows. None where it was not looked at.
    hidden_by : tuple of str
        Pieces that hide more than a tenth of it from a shot's picture, those that hide most first.
    """

    part_of: str
    upright: bool
    at: float
    seen: float | None = None
    hidden_by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Looks:
    """The backdrop as the shots see it."""

    scene: Scene
    backdrop: Backdrop

    @property
    def width(self) -> float:
        """[m]"""
        return self._flat[0]

    @property
    def length(self) -> float:
        """Of the sheet from its foot to its top, round the cove. [m]"""
        return self._flat[1]

    @cached_property
    def _flat(self) -> tuple[float, float]:
        return flat_size(self.scene)

    @cached_property
    def _plane(self) -> BackPlane:
        plane = backdrop_plane(self.scene)
        assert plane is not None  # looked at where there is a backdrop
        return plane

    @cached_property
    def _poses(self) -> list[tuple[Shot, CameraPose]]:
        found: list[tuple[Shot, CameraPose]] = []
        for shot in self.scene.shots:
            with suppress(ShotFault):  # a shot that cannot be taken as written shows nothing; `check` says why
                frames = frame_times(self.scene, shot)
                for number in np.unique(np.linspace(0, frames.count - 1, _FRAMES).round().astype(int)):
                    time = float(frames.time(int(number))) + shot.capture.exposure_time / 2
                    found.append((shot, camera_at(self.scene, shot, time)))
        return found

    @cached_property
    def _solids(self) -> tuple[Solid, ...]:
        return tuple(each for each in solids_of(self.scene) if each.kind not in SEE_THROUGH and each.kind != "ramp")

    def _points(self, upright: bool, places: Array) -> Array:
        """Points (n, k, 3) along each of n joins, a hair in front of the sheet. [m]"""
        sheet = cross_section(self.backdrop)
        left, along = -self.width / 2, np.linspace(0.02, 0.98, _LOOKED_AT)
        if upright:
            across, up = np.meshgrid(left + places, along * self.length, indexing="ij")
        else:
            up, across = np.meshgrid(places, left + along * self.width, indexing="ij")
        off, z = np.interp(up, sheet.along, sheet.off), np.interp(up, sheet.along, sheet.z)
        return self._plane.placed(across, off - 1e-4, z + 1e-4)

    def seen(self, upright: bool, places: Array) -> Array:
        """The largest share of joins at places (n,) that a frame shows. (n,)"""
        points = self._points(upright, places)
        most = np.zeros(len(places))
        for shot, pose in self._poses:
            inside = self._in_picture(shot, pose, points)
            shown = inside.copy()
            if inside.any():
                shown[inside] = ~self._hidden(pose, points[inside]).any(axis=1)
            most = np.maximum(most, shown.mean(axis=1))
        return most

    def _in_picture(self, shot: Shot, pose: CameraPose, points: Array) -> NDArray[np.bool_]:
        area = recorded_area(self.scene.cameras[shot.camera], self.scene.mode(shot))
        local = (points - pose.position) @ pose.world_from_camera
        depth = -local[..., 2]
        ahead = np.where(depth > 1e-6, depth, np.inf)
        reach = image_distance(shot.focal_length, pose.focus_distance)
        right, up = (np.abs(local[..., axis]) / ahead * reach for axis in (0, 1))
        return np.asarray((depth > 1e-6) & (right <= area[0] / 2) & (up <= area[1] / 2))

    def _hidden(self, pose: CameraPose, points: Array) -> NDArray[np.bool_]:
        ways = points - pose.position
        return hits(np.broadcast_to(pose.position, ways.shape), ways, self._solids)

    def join(self, upright: bool, at: float) -> Join:
        """A join there, with how much of it is seen, and what hides the rest."""
        points, names = self._points(upright, np.array([at]))[0], [each.name for each in self._solids]
        shares = np.zeros(len(names))
        for shot, pose in self._poses:
            inside = self._in_picture(shot, pose, points)
            if inside.any() and names:
                shares = np.maximum(shares, self._hidden(pose, points[inside]).sum(axis=0) / len(points))
        order = [number for number in np.argsort(-shares) if shares[number] > _HIDES]
        return Join("backdrop", upright, at, float(self.seen(upright, np.array([at]))[0]),
                    tuple(names[number] for number in order))  # fmt: skip

    def least_seen(self, upright: bool, widest: float) -> tuple[float, ...]:
        """Where the fewest joins go so that no part is wider than that [m], and least of the joins is seen."""
        whole = self.width if upright else self.length
        count = max(math.ceil(whole / widest - 1e-9), 1)
        if count == 1:
            return ()
        even = whole * np.arange(1, count) / count
        # Of places where as much is seen, the one next to an even division wins.
        places, seen = self._uprights if upright else self._levels
        return _cheapest(places, seen, even, whole, widest) or tuple(even.tolist())

    @cached_property
    def _uprights(self) -> tuple[Array, Array]:
        """Places for upright joins [m], and how much of a join is seen at each."""
        return self._tried(True, self.width)

    @cached_property
    def _levels(self) -> tuple[Array, Array]:
        return self._tried(False, self.length)

    def _tried(self, upright: bool, whole: float) -> tuple[Array, Array]:
        step = max(_STEP, whole / _MOST_PLACES)
        places = np.arange(step, whole - step / 2, step)
        return places, self.seen(upright, places)


def _cheapest(places: Array, seen: Array, even: Array, whole: float, widest: float) -> tuple[float, ...]:
    """One place for each join, none further than `widest` from the one before, the sum of what is seen the least.

    Empty where the places lie too far apart for that.
    """
    reach = widest + 1e-9
    best = np.where(places <= reach, seen + 1e-3 * np.abs(places - even[0]) / whole, np.inf)
    came: list[NDArray[np.intp]] = []
    for at in even[1:]:
        ahead = places[None, :] - places[:, None]
        costs = np.where((ahead > 0) & (ahead <= reach), best[:, None], np.inf)
        came.append(costs.argmin(axis=0))
        best = costs.min(axis=0) + seen + 1e-3 * np.abs(places - at) / whole
    best = np.where(whole - places <= reach, best, np.inf)
    if not np.isfinite(best).any():
        return ()
    way = [int(best.argmin())]
    for back in reversed(came):
        way.append(int(back[way[-1]]))
    return tuple(float(places[number]) for number in reversed(way))


def parts(whole: float, joins: Sequence[float]) -> list[float]:
    """Lengths of what joins cut a whole into. [m]

    >>> parts(1.0, (0.4,))
    [0.4, 0.6]
    """
    return [end - begin for begin, end in pairwise((0.0, *joins, whole))]
