"""Shadows on the backdrop: what is painted there is far away, and nothing on the set throws a shadow on it."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.layout import BackPlane, backdrop_plane, emitters_of, solids_of
from previz.light import Receivers, floats
from previz.predictions.findings import Change, Notes, Way, above
from previz.predictions.places import HIGHEST_LAMP, placed, told_move
from previz.predictions.shot_view import ShotView
from previz.scene import Ambient
from previz.units import percent

Array = NDArray[np.float64]

# Limits. All common practice, no source.
SHADE = 0.5  # stops darker than what of the backdrop is lit best: less hardly shows
SHADED = 0.01  # of the backdrop in the picture
_LIT_BEST = 0.1  # share of the places that is taken for that: light that all of it lacks alike throws no edge

#: So many places on the backdrop tell its shadows, fewer do not; and a closer look takes so many of the picture.
_PLACES, _COLUMNS, _ROWS = 20, 64, 36

#: Nearer to the backdrop's plane than this is on it, and that far before it its light is looked at. [m]
_NEAR, _OFF = 0.002, 5e-4

#: So much more than just enough, for lamps have a size. [-]
_MORE = 1.1


def note_shadows(view: ShotView, notes: Notes) -> None:
    """How much of a painted backdrop lies in the shadow of pieces, as far as the picture shows it, and of which."""
    backdrop, plane = view.scene.set.backdrop, backdrop_plane(view.scene)
    if backdrop is None or plane is None or (backdrop.painting is None and backdrop.image is None):
        return
    found = _shadow(view, _spread(view, plane))
    if found is not None and found.share > 0:  # then it is worth a closer look
        found = _shadow(view, in_rows(view, plane, view.metered)[0])
    if found is None:
        return
    share, whose, lamp = found.share, found.piece, found.lamp
    notes.figure("backdrop_shaded", share)
    notes.finding(
        "shadows.backdrop",
        "backdrop_shaded",
        share,
        SHADED,
        above(share, SHADED),
        f"{percent(share, 1)} of the backdrop, as far as the picture shows it, is in shadow: {whose} stands in the "
        f"light of {lamp}, and what is painted far away has none."
        if share > SHADED
        else "No shadow to speak of falls on the backdrop where the picture shows it.",
        ways=lambda: _out_of_it(view, plane, found),
        otherwise=f"Light the backdrop with a lamp that {whose} does not stand before.",
    )


@dataclass(frozen=True)
class _Shadow:
    """The share of some places on the backdrop that are in shadow; whose that mostly is and of which lamp, if any."""

    share: float
    low: float  # the lowest of the places [m]
    piece: str = ""
    lamp: str = ""
    entry: int = -1
    number: int = -1


def _spread(view: ShotView, plane: BackPlane) -> Receivers:
    """Of the places that the light meter looks at all over the picture, those on the backdrop."""
    seen = view.light.in_picture
    on = np.abs(plane.before(seen.points)) < _NEAR
    return seen.take(np.flatnonzero(on & (seen.points[:, 2] > _foot(view))))


def _foot(view: ShotView) -> float:
    """Where the backdrop stands upright: above the bend at its foot. [m]"""
    backdrop = view.scene.set.backdrop
    return float(backdrop.join.cove) if backdrop is not None else 0.0


def in_rows(view: ShotView, plane: BackPlane, frame: int) -> tuple[Receivers, Array]:
    """Places on the backdrop in rows and columns of a frame, where nothing is before them.

    With them where they are in the picture, (n, 2): right and down, in shares of its width.
    """
    across, down = (each.ravel() for each in np.meshgrid(_middles(_COLUMNS), _middles(_ROWS)))
    eye, rays = view.rays(frame, across, down)
    to_the_side, up = plane.met(eye, rays)
    on = (np.abs(to_the_side) <= plane.half) & (up > _foot(view)) & (up <= plane.height)  # nan is neither
    points = plane.placed(to_the_side[on], plane.distance - _OFF, up[on])
    towards = np.array(plane.way(0.0, -1.0, 0.0), dtype=float)
    clear = view.light.around.occluders.clear(floats(points), floats(eye - points))
    shown = np.column_stack([across, down * view.size[1] / view.size[0]])[on][clear]
    return Receivers.of(points[clear], np.broadcast_to(towards, points[clear].shape)), shown


def _middles(count: int) -> Array:
    return (np.arange(count) + 0.5) / count


def _shadow(view: ShotView, places: Receivers) -> _Shadow | None:
    """What of places on the backdrop is darker than it would be without what stands on the set; None of too few."""
    if len(places) < _PLACES or view.light.backdrop is None:
        return None
    low, emitters = float(places.points[:, 2].min()), emitters_of(view.scene)
    lamps = {number: lamp for number, lamp in enumerate(view.scene.lights) if not isinstance(lamp, Ambient)}
    kept_off = {number: view.light.kept_off(emitters[number], places) for number in lamps}
    lost = sum(kept_off.values(), np.zeros(len(places), dtype=np.float32))
    if not lost.any():
        return _Shadow(0.0, low)
    there = view.light.at_each(emitters, places) + sum(view.light.backdrop.thrown.values())
    shade = np.log2((there + lost) / np.maximum(there, 1e-3))
    shaded = shade > float(np.quantile(shade, _LIT_BEST)) + SHADE
    if not shaded.any():
        return _Shadow(0.0, low)
    number = max(kept_off, key=lambda each: float(kept_off[each][shaded].sum()))
    name = view.light.in_the_way(np.array(lamps[number].at), places.take(np.flatnonzero(shaded)))
    piece = next((it.solid for it in solids_of(view.scene) if it.solid.name == name and it.solid.entry >= 0), None)
    if piece is None:  # a vehicle's own goes with it, and the set's own edges are seen as such
        return _Shadow(0.0, low)
    return _Shadow(float(shaded.mean()), low, piece.id, lamps[number].id, piece.entry, number)


def _out_of_it(view: ShotView, plane: BackPlane, shadow: _Shadow) -> Iterator[Way]:
    """The piece further from the backdrop, or the lamp higher, so that the shadow falls below what is seen of it."""
    if shadow.entry < 0:
        return
    scene, low = view.scene, shadow.low
    piece, lamp = scene.dressing[shadow.entry], scene.lights[shadow.number]
    assert not isinstance(lamp, Ambient)
    corners = [(float(plane.before([*point, 0.0])), float(high)) for standing in solids_of(scene)
               if standing.solid.entry == shadow.entry
               for outline, _, high in standing.solid.prisms for point in outline if high > low]  # fmt: skip
    away, over = float(plane.before(np.array(lamp.at))), float(lamp.at[2])
    # Where the ray over its top meets the backdrop: similar triangles, square to the backdrop.
    further = max((away * (top - low) / (over - low) - off for off, top in corners if over > top), default=0.0)
    on_table = max((off for off, _ in corners), default=0.0) + further * _MORE <= plane.distance
    if further > 0 and on_table and getattr(piece, "at", None) is not None:
        by = np.array(plane.way(0.0, -1.0, 0.0)[:2]) * further * _MORE
        where = (np.array(piece.at[:2]) + by).tolist()
        change = Change(f"dressing[{shadow.entry}].at", placed(scene, piece.at, where))
        yield Way(f"Move {piece.id} {told_move(scene, by)}, away from the backdrop.", (change,))
    higher = (
        max((top + (top - low) * (away - off) / off for off, top in corners if 0 < off < away), default=0.0) * _MORE
    )
    if over < higher <= HIGHEST_LAMP and not lamp.fixed:
        at = scene.tape.place((*lamp.at[:2], higher), lamp.at, 0)
        words = f"Hang {lamp.id} higher, {scene.tape(higher)} above the table, so that the shadow falls lower."
        yield Way(words, (Change(f"lights[{shadow.number}].at", at),))
