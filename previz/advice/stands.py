"""Where a camera may stand for a shot, thousands of places at once: what each sees of the vehicle and the set.

Nothing here depends on the camera's lens or sensor: places in the picture are tangents, right and up over depth.
"""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.advice.stretch import Moments, Stretch
from previz.layout import CameraPose, Solid, backdrop_plane, hits, most_in_the_middle, target_point
from previz.predictions import behind_middle, covered_field, inside
from previz.scene import MID_FRAME, Focus

Array = NDArray[np.float64]

#: At so many moments of a camera that moves it is looked for what sees past the set; else at one.
_CAST = 3


@dataclass(frozen=True)
class Stands:
    """n places of the camera, each further back over the table, along its axis as seen from above, and higher.

    Parameters
    ----------
    stretch : Stretch
    back, up : (n,) float
        Than as written. [m]
    """

    stretch: Stretch
    back: Array
    up: Array

    def _axes(self, now: Moments) -> tuple[Array, Array]:
        """Entrance pupil (n, t, 3) and the way backward from it (n, t, 3), unit vectors, at some moments."""
        eye = now.eye + self.back[:, None, None] * now.back
        eye = eye + self.up[:, None, None] * np.array([0.0, 0.0, 1.0])
        away = eye - now.aim
        return eye, away / np.maximum(np.linalg.norm(away, axis=-1, keepdims=True), 1e-9)

    @cached_property
    def _now(self) -> tuple[Array, Array]:
        return self._axes(self.stretch.now)

    @property
    def eye(self) -> Array:
        """(n, t, 3) [m]"""
        return self._now[0]

    @cached_property
    def turns(self) -> Array:
        """World from camera (n, t, 3, 3): columns right, up, backward."""
        backward = self._now[1]
        right = np.stack([-backward[..., 1], backward[..., 0], np.zeros(backward.shape[:-1])], axis=-1)
        right = right / np.maximum(np.linalg.norm(right, axis=-1, keepdims=True), 1e-9)
        return np.stack([right, np.cross(backward, right), backward], axis=-1)

    @cached_property
    def distance(self) -> Array:
        """To what it is aimed at, mid-shot. (n,) [m]"""
        middle = self.stretch.middle
        return np.asarray(np.linalg.norm(self.eye[:, middle] - self.stretch.now.aim[middle], axis=-1))

    @cached_property
    def further(self) -> Array:
        """How much further off that is than as written. (n,) [m]"""
        middle, now = self.stretch.middle, self.stretch.now
        return np.asarray(self.distance - np.linalg.norm(now.eye[middle] - now.aim[middle]))

    @cached_property
    def height(self) -> Array:
        """Over the table, mid-shot. (n,) [m]"""
        return self.eye[:, self.stretch.middle, 2]

    def _seen(self, points: Array) -> Array:
        """Right, up, depth (n, t, k, 3) of points (t, k, 3)."""
        off = points[None] - self.eye[:, :, None]
        return np.asarray(np.einsum("ntki,ntij->ntkj", off, self.turns) * np.array([1.0, 1.0, -1.0]))

    @cached_property
    def extent(self) -> tuple[Array, Array, Array, Array]:
        """Left, right, bottom, top (n, t) of the vehicle in tangents; nan where any of it is behind the camera."""
        seen = self._seen(self.stretch.outlines)
        ahead = (seen[..., 2] > 0).all(axis=-1)
        with np.errstate(divide="ignore", invalid="ignore"):
            x, y = seen[..., 0] / seen[..., 2], seen[..., 1] / seen[..., 2]
        ends = x.min(axis=-1), x.max(axis=-1), y.min(axis=-1), y.max(axis=-1)
        left, right, bottom, top = (np.where(ahead, end, np.nan) for end in ends)
        return left, right, bottom, top

    @cached_property
    def depths(self) -> tuple[Array, Array]:
        """Nearest and farthest corner (n, t) of the vehicle's box along the axis. [m]"""
        depth = self._seen(self.stretch.boxes)[..., 2]
        return depth.min(axis=-1), depth.max(axis=-1)

    @cached_property
    def vehicle(self) -> tuple[Array, Array]:
        """The vehicle's middle (n, t): how far from the axis it is to the right, in tangents, and its depth. [m]"""
        seen = self._seen(self.stretch.now.vehicle[:, None])[:, :, 0]
        return seen[..., 0] / np.maximum(seen[..., 2], 1e-6), seen[..., 2]

    @cached_property
    def middle_moment(self) -> NDArray[np.int64]:
        """The moment (n,) at which the vehicle is nearest to the axis, as `most_in_the_middle` says."""
        off, depth = self.vehicle
        return most_in_the_middle(np.where(depth > 0, np.abs(off), np.inf), self.stretch.middle)

    @cached_property
    def axis_length(self) -> Array:
        """Of the vehicle's middle line, tail to nose, on the picture (n, t), in tangents."""
        boxes = self.stretch.boxes
        ends = np.stack([boxes[:, [0, 3, 4, 7]].mean(axis=1), boxes[:, [1, 2, 5, 6]].mean(axis=1)], axis=1)
        seen = self._seen(ends)
        places = seen[..., :2] / np.maximum(seen[..., 2:], 1e-6)
        return np.asarray(np.linalg.norm(places[:, :, 1] - places[:, :, 0], axis=-1))

    def streak(self, by: float) -> Array:
        """How far the vehicle's middle moves across the picture in a time [s] at each moment, (n, t), in tangents."""
        places = []
        for now, middles in self.stretch.about(by):
            eye, backward = self._axes(now)
            right = np.stack([-backward[..., 1], backward[..., 0], np.zeros(backward.shape[:-1])], axis=-1)
            right = right / np.maximum(np.linalg.norm(right, axis=-1, keepdims=True), 1e-9)
            turns = np.stack([right, np.cross(backward, right), backward], axis=-1)
            seen = np.einsum("nti,ntij->ntj", middles[None] - eye, turns)
            places.append(seen[..., :2] / np.maximum(-seen[..., 2:], 1e-6))
        return np.asarray(np.linalg.norm(places[1] - places[0], axis=-1))

    # --- focus ---

    @cached_property
    def focus_as_written(self) -> Array:
        """Focus distances (n, t) as the shot has them; a distance grows with that to what it is aimed at. [m]"""
        foci, weights = self.stretch.foci
        return np.asarray(sum(self._depth(focus) * weights[:, k] for k, focus in enumerate(foci)))

    @cached_property
    def focus_left(self) -> Array:
        """Focus distances (n, t) of a lens that is left as it is: a distance stays what is written. [m]"""
        foci, weights = self.stretch.foci
        parts = [
            np.full_like(self._depth(focus), focus.distance) if focus.distance is not None else self._depth(focus)
            for focus in foci
        ]
        return np.asarray(sum(part * weights[:, k] for k, part in enumerate(parts)))

    def _depth(self, focus: Focus) -> Array:
        """Of what one focus means, (n, t). [m]"""
        shape = self.eye.shape[:2]
        if focus.distance is not None:
            return np.broadcast_to((focus.distance + self.further)[:, None], shape)
        target = focus.target
        assert target is not None  # Focus: one of the two
        if target.moment == MID_FRAME:
            return np.broadcast_to(self.vehicle[1][np.arange(shape[0]), self.middle_moment, None], shape)
        if target.moment is not None:
            then = self.stretch.moments(np.array([float(target.moment)]))
            eye, backward = self._axes(then)
            return np.broadcast_to(np.einsum("nti,nti->nt", eye - then.vehicle, backward), shape)
        if target.vehicle:
            return self.vehicle[1]
        point = target_point(self.stretch.scene, target, 0.0)
        return np.asarray(np.einsum("nti,nti->nt", self.eye - point, self._now[1]))

    # --- the set about it ---

    def pose(self, place: int, moment: int, focus: float = 1.0) -> CameraPose:
        """One of them at one moment."""
        return CameraPose(self.eye[place, moment], self.turns[place, moment], focus)

    def covered(self, shape: float, widest: float) -> Array:
        """The widest field (n, t') at the moments `cast` in which a picture of that shape sees nothing past the set."""
        scene, standing = self.stretch.scene, self.stretch.standing
        return np.array(
            [
                [covered_field(scene, self.pose(n, t), shape, widest, standing) for t in self.cast.tolist()]
                for n in range(len(self.back))
            ]
        )

    @property
    def cast(self) -> NDArray[np.int64]:
        """Moments (t',) at which it is looked for what sees past the set."""
        last = len(self.stretch.frames) - 1
        if self.stretch.locked_off:
            return np.zeros(1, dtype=np.int64)
        return np.unique(np.linspace(0, last, _CAST).round().astype(np.int64))

    @cached_property
    def behind(self) -> Array:
        """Depth of the background behind the picture's middle, mid-shot (n,). [m]"""
        middle, found = self.stretch.middle, []
        for n in range(len(self.back)):
            pose = self.pose(n, middle, float(self.vehicle[1][n, middle]))
            point = behind_middle(self.stretch.scene, pose)
            found.append(float((pose.position - point) @ pose.world_from_camera[:, 2]))
        return np.array(found)

    @cached_property
    def stuck(self) -> Array:
        """How deep the pupil is in table, piece or vehicle, or behind the backdrop, at worst; 0 in none. (n,) [m]"""
        scene, at = self.stretch.scene, self.eye.reshape(-1, 3)
        table, plane = scene.set.table, backdrop_plane(scene)
        over = (at[:, 0] >= 0) & (at[:, 0] <= table.width) & (at[:, 1] >= 0) & (at[:, 1] <= table.depth)
        deep = np.where(over, -at[:, 2], -1.0)
        if plane is not None:
            deep = np.maximum(deep, np.where(plane.hides(at), -plane.before(at), -1.0))
        moment = np.arange(len(at)) % self.eye.shape[1]
        for solid, low, high in self.stretch.solids:
            _deepen(deep, at, solid, ((at >= low) & (at <= high)).all(axis=1))
        for t, (vehicle, box) in enumerate(zip(self.stretch.vehicle_solids, self.stretch.boxes, strict=True)):
            about = ((at >= box.min(axis=0)) & (at <= box.max(axis=0))).all(axis=1)
            _deepen(deep, at, vehicle, np.logical_and(about, moment == t))
        return np.maximum(deep.reshape(self.eye.shape[:2]).max(axis=1), 0.0)

    def sunk(self, hull: Array) -> Array:
        """How deep a camera's hull (m, 3) stands in the table at worst, above 0 where it does. (n,) [m]"""
        table, moments = self.stretch.scene.set.table, self.cast
        points = self.eye[:, moments, None] + np.einsum("ntij,mj->ntmi", self.turns[:, moments], hull)
        x, y, z = points[..., 0], points[..., 1], points[..., 2]
        over = (x >= 0) & (x <= table.width) & (y >= 0) & (y <= table.depth)
        return np.maximum(np.where(over, -z, -1.0).max(axis=(1, 2)), 0.0)

    @cached_property
    def hidden(self) -> Array:
        """Share of the vehicle's box that pieces stand in front of, at worst of three moments. (n,)"""
        solids = self.stretch.hiding
        worst = np.zeros(len(self.back))
        last = len(self.stretch.frames) - 1
        for t in sorted({last // 4, self.stretch.middle, last - last // 4}) if solids else ():
            points = inside(self.stretch.boxes[t])
            origins = np.repeat(self.eye[:, t], len(points), axis=0)
            ways = np.tile(points, (len(self.back), 1)) - origins
            met = hits(origins, ways, solids).any(axis=1).reshape(len(self.back), -1).mean(axis=1)
            worst = np.maximum(worst, met)
        return worst


def _deepen(deep: Array, at: Array, solid: Solid, among: Any) -> None:
    """Write how deep some of the points (n, 3) are in a solid into what is known of them (n,). [m]"""
    if among.any():
        deep[among] = np.maximum(deep[among], -solid.distance(at[among]))
