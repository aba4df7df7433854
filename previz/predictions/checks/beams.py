"""The edge of a spot's beam on the backdrop, where the picture shows it: small as it may be, it is seen as an edge."""

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.layout import BackPlane, SpotEmitter, emitters_of
from previz.light import Receivers
from previz.physics.photometry import spot_profile
from previz.predictions.checks.shadows import in_rows
from previz.predictions.findings import Change, Way
from previz.predictions.places import HIGHEST_LAMP, from_corner
from previz.predictions.shot_view import ShotView
from previz.scene import Spot

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

# Limits. All common practice, no source.
EDGE = 1.0  # stops from one side of a beam's edge to the other: more, and it is seen as one
_STRIP = 0.07  # of the picture's width: over more, light fades like a glow in the sky and shows no edge; by eye
_SEEN = 0.005  # of the backdrop in the picture: if a smaller part lies beside the edge, it is overlooked

#: Past an edge there is no more than this of a beam, within it no less than the other, and a remedy gives no less than
#: the last. [-]
_PAST, _WITHIN, _COVERED = 0.1, 0.9, 0.5

#: Of an edge that is softer, the darker half is as steep in stops and is seen by day: by no less than this of a beam on
#: its light side. At dusk and by night a sky is taken to glow so. By eye. [-]
_HALF, _GLOW = 0.5, ("dusk", "dawn", "night")

_METERED = 48  # places on either side whose light is looked at

#: Where a remedy aims a lamp, from where it is aimed to what it leaves out; how many times as far off it puts it. [-]
_SHARES, _TIMES = np.linspace(0.05, 1.0, 20), np.linspace(1.1, 3.0, 20)


@dataclass(frozen=True)
class BeamEdge:
    """Of a spot, by its number, whose edge cuts the backdrop: the light on either side [lx], and what lies past it.

    Parameters
    ----------
    within, past : float
        Mean illuminance of the backdrop beside the edge, in its beam and past it. [lx]
    places : (n, 3) float
        On the backdrop, all over what the picture shows of it. [m]
    beyond : (n,) bool
        Which of them lie past the edge.
    """

    number: int
    lamp: Spot
    within: float
    past: float
    places: Array
    beyond: NDArray[np.bool_]

    @property
    def stops(self) -> float:
        """Between the two sides."""
        return math.log2(max(self.within, 1e-3) / max(self.past, 1e-3))


def beam_edge(view: ShotView, plane: BackPlane) -> BeamEdge | None:
    """The edge that shows most of those that cut the backdrop in the first, the metered or the last frame."""
    emitters = emitters_of(view.scene)
    spots = [
        (number, lamp, emitter)
        for number, (lamp, emitter) in enumerate(zip(view.scene.lights, emitters, strict=False))
        if isinstance(lamp, Spot) and isinstance(emitter, SpotEmitter)
    ]
    found: list[BeamEdge] = []
    for frame in _frames(view) if spots else ():
        shown, at = in_rows(view, plane, frame)
        for number, lamp, emitter in spots:
            share = _share(emitter, shown.points.astype(float))
            for within in _lit_sides(view):
                sides = _beside(at, np.flatnonzero(share > within), np.flatnonzero(share < _PAST))
                if len(sides[1]) > _SEEN * len(shown):
                    lux = _metered(view, emitter, [shown.take(_some(side)) for side in sides])
                    if lux is not None:
                        found.append(BeamEdge(number, lamp, *lux, shown.points.astype(float), share < _PAST))
                    break
    return max(found, key=lambda edge: edge.stops, default=None)


def _lit_sides(view: ShotView) -> tuple[float, ...]:
    """What of a beam there is at least on the light side of what is seen as an edge, a hard one first. [-]"""
    backdrop = view.scene.set.backdrop
    painting = backdrop.painting if backdrop is not None else None
    return (_WITHIN,) if painting is not None and painting.sky in _GLOW else (_WITHIN, _HALF)


def _frames(view: ShotView) -> list[int]:
    """Of those frames the ones in which the camera stands or looks otherwise."""
    chosen: list[int] = []
    for frame in dict.fromkeys((view.metered, 0, len(view.cameras) - 1)):
        pose = view.cameras[frame].world_from_camera, view.cameras[frame].position
        others = [(view.cameras[other].world_from_camera, view.cameras[other].position) for other in chosen]
        if not any(np.allclose(a[0], pose[0]) and np.allclose(a[1], pose[1]) for a in others):
            chosen.append(frame)
    return chosen


def _beside(at: Array, within: Numbers, past: Numbers) -> tuple[Numbers, Numbers]:
    """Of places in the picture (n, 2) those on either side of an edge that are near to one on the other side."""
    near = np.linalg.norm(at[within][:, None] - at[past][None], axis=-1) < _STRIP
    return within[near.any(axis=1)], past[near.any(axis=0)]


def _metered(view: ShotView, emitter: SpotEmitter, sides: list[Receivers]) -> tuple[float, float] | None:
    """Within its beam and past it [lx]; None where it is other lamps that make the one side lighter."""
    backdrop = view.light.backdrop
    assert backdrop is not None  # asked of scenes with one
    lux = view.light.at_each(emitters_of(view.scene), Receivers.all_of(sides)) + sum(backdrop.thrown.values())
    light, dark = float(lux[: len(sides[0])].mean()), float(lux[len(sides[0]) :].mean())
    return (light, dark) if view.light.straight(emitter, sides[0]) > (light - dark) / 2 else None


def _some(numbers: Numbers) -> Numbers:
    """At most so many of them, evenly."""
    return numbers[np.linspace(0, len(numbers) - 1, min(len(numbers), _METERED)).astype(int)]


def _share(emitter: SpotEmitter, points: Array, at: ArrayLike | None = None, aim: ArrayLike | None = None) -> Array:
    """Of the light in the middle of its beam, what a spot sends towards points (n, 3), here or elsewhere. (n,) [-]"""
    place = np.array(emitter.centre if at is None else at)
    axis = np.array(emitter.axis) if aim is None else np.array(aim) - place
    ways = points - place
    cosine = ways @ axis / np.maximum(np.linalg.norm(ways, axis=1) * np.linalg.norm(axis), 1e-12)
    return np.asarray(spot_profile(np.arccos(np.clip(cosine, -1, 1)), emitter.angle), dtype=float)


def covering(view: ShotView, edge: BeamEdge) -> Iterator[Way]:
    """The lamp aimed a little otherwise, or further off, so that all that it lit and all of the backdrop is in it."""
    lamp = edge.lamp
    emitter = emitters_of(view.scene)[edge.number]
    if lamp.fixed or not isinstance(emitter, SpotEmitter):
        return
    vehicle = view.light.on_vehicle.points.astype(float)
    wanted = np.concatenate([edge.places, vehicle[_share(emitter, vehicle) > _WITHIN]])
    at, aim, left_out = np.array(lamp.at), np.array(lamp.aim), edge.places[edge.beyond].mean(axis=0)

    def told(place: Array) -> str:
        return f"{from_corner(view.scene, place)} (right, back, up)"

    def put(key: str, place: Array) -> tuple[Change]:
        return (Change(f"lights[{edge.number}].{key}", view.scene.tape.place(place, getattr(lamp, key), 0)),)

    for share in _SHARES:
        there = aim + share * (left_out - aim)
        if (_share(emitter, wanted, at, there) > _COVERED).all():
            yield Way(f"Aim {lamp.id} at {told(there)}.", put("aim", there))
            break
    for times in _TIMES:
        there = aim + times * (at - aim)
        if there[2] <= HIGHEST_LAMP and (_share(emitter, wanted, there, aim) > _COVERED).all():
            yield Way(f"Move {lamp.id} further off, to {told(there)}; it gives less light there.", put("at", there))
            break
