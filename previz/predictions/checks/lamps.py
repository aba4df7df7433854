"""Lamps that never get to what the camera sees, because something stands between, and corners that none gets to."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.layout import BackPlane, backdrop_plane, emitters_of
from previz.light import Receivers
from previz.predictions.checks.beams import EDGE, BeamEdge, beam_edge, covering
from previz.predictions.checks.shadows import note_shadows
from previz.predictions.findings import Change, Notes, Way, above, below
from previz.predictions.places import from_corner
from previz.predictions.shot_view import ShotView
from previz.scene import Ambient, Bulb, Panel, Scene, Spot
from previz.units import percent

Array = NDArray[np.float64]

# Limits. Both common practice, no source.
LEAST_SHARE = 0.1  # of a lamp's light that gets past what stands on the set; less, and it might as well be off
WORTH_HAVING = 0.1  # of the light there is: a lamp that would give less is missed by nobody

FALLOFF = 3.0  # stops over the backdrop in the picture: more, and a corner looks forgotten. Common practice, no source

#: What is that near to the backdrop's plane is on it [m]; so many places make a part of it, of three by three.
_NEAR, _A_PART = 0.002, 3

#: More even light than that no room has. Common practice, no source. [lx]
_MOST_FILL = 2000.0
_ACROSS, _UP = ("left", "", "right"), ("lower", "", "upper")

#: Where a remedy tries a lamp, as far from what it is aimed at as before: turns about that, and how steeply down. [rad]
_TURNS = tuple(math.radians(turn) for turn in (0, 30, -30, 60, -60, 90, -90, 120, -120, 150, -150, 180))
_STEEP = tuple(math.radians(steep) for steep in (30, 45, 60))
_OFFERED = 2  # so many places, the first that serve


@dataclass(frozen=True)
class _Lost:
    """Of a lamp and places that the camera sees: what it would give there, and the share of that which gets there."""

    number: int
    lamp: Panel | Spot | Bulb
    places: Receivers
    where: str
    would: float
    share: float


def check_lamps(view: ShotView) -> Notes:
    """The lamp that loses most on its way to the vehicle or anything in the picture, and how even the backdrop is."""
    notes = Notes(view.shot.id)
    tried = list(_tried(view))
    _corners(view, notes)
    note_shadows(view, notes)
    if tried:
        worst = min(tried, key=lambda each: (each.share >= LEAST_SHARE, (each.share - 1) * each.would))
        _hidden(view, worst, notes)
    return notes


def _corners(view: ShotView, notes: Notes) -> None:
    """The part of the backdrop in the picture that gets least light, against the one that gets most."""
    backdrop, plane, seen = view.scene.set.backdrop, backdrop_plane(view.scene), view.light.in_picture
    if backdrop is None or plane is None or view.light.backdrop is None:
        return
    points = seen.points
    on = (np.abs(plane.before(points)) < _NEAR) & (points[:, 2] > backdrop.join.cove)
    if on.sum() < 9 * _A_PART:
        return
    places = seen.take(np.flatnonzero(on))
    lux = view.light.at_each(emitters_of(view.scene), places) + sum(view.light.backdrop.thrown.values())
    parts = {}
    across, up = _thirds(plane.across(places.points)), _thirds(places.points[:, 2])
    for x in range(3):
        for z in range(3):
            within = (across == x) & (up == z)
            if within.sum() >= _A_PART:
                parts[_part(x, z)] = float(lux[within].mean())
    darkest, brightest = (pick(parts, key=lambda name: parts[name]) for pick in (min, max))
    if len(parts) < 2 or parts[brightest] <= 0:
        return
    stops = math.log2(parts[brightest] / max(parts[darkest], 1e-3))
    edge = beam_edge(view, plane)
    cut = edge is not None and edge.stops > EDGE
    if edge is not None and cut:
        _cut(view, plane, edge, notes)
    notes.figure("backdrop_falloff", stops)
    notes.finding(
        "lamps.backdrop",
        "backdrop_falloff",
        stops,
        FALLOFF,
        above(stops, FALLOFF),
        f"The {darkest} of the backdrop, as far as the picture shows it, gets {stops:.1f} stops less light than the "
        f"{brightest}."
        if stops > FALLOFF
        else f"{'But for that edge the' if cut else 'The'} backdrop is lit within {stops:.1f} stops, as far as the "
        "picture shows it.",
        ways=lambda: _filled(view, parts[darkest], parts[brightest]),
        otherwise="Turn a lamp towards it, hang a lamp further off, or keep it out of the picture.",
    )


def _cut(view: ShotView, plane: BackPlane, edge: BeamEdge, notes: Notes) -> None:
    """By the edge of a beam: what lies past it may be too small a part to tell in the mean."""
    across, up = _thirds(plane.across(edge.places)), _thirds(edge.places[:, 2])
    most = int(np.bincount((3 * up + across)[edge.beyond]).argmax())
    where = _part(most % 3, most // 3)
    notes.figure("beam_edge", edge.stops)
    notes.finding(
        "lamps.edge",
        "beam_edge",
        edge.stops,
        EDGE,
        above(edge.stops, EDGE),
        f"The edge of the beam of {edge.lamp.id} cuts the {where} of the backdrop, as far as the picture shows it: "
        f"past it there are {edge.stops:.1f} stops less light.",
        ways=lambda: [*covering(view, edge), *_filled(view, edge.past, edge.within, EDGE)],
        otherwise=f"Let the beam of {edge.lamp.id} cover all of the backdrop that is seen, or none of it.",
    )


def _part(across: int, up: int) -> str:
    """Which of three by three it is, counted from the lower left.

    >>> _part(0, 0), _part(1, 0), _part(2, 1), _part(1, 1)
    ('lower left', 'lower middle', 'right', 'middle')
    """
    return " ".join(filter(None, (_UP[up], _ACROSS[across] or "middle")))


def _thirds(values: NDArray[Any]) -> NDArray[np.int64]:
    low, high = float(values.min()), float(values.max())
    return np.minimum((values - low) / max(high - low, 1e-9) * 3, 2).astype(int)


def _filled(view: ShotView, dark: float, bright: float, limit: float = FALLOFF) -> list[Way]:
    """So much even light that the two differ by no more than what is let be, if a room can have it. [lx]"""
    share = 2.0**-limit
    # Of even light, an upright sheet gets about half of what an open table top gets.
    more = 2 * max((share * bright - dark) / (1 - share), 0.0) * 1.1
    if more > _MOST_FILL:
        return []
    number = next((n for n, light in enumerate(view.scene.lights) if isinstance(light, Ambient)), None)
    words = f"Light the room with {more:.0f} lx more of even light."
    if number is None:
        lamp = {"id": "added_room", "ambient": f"{more:.6g} lx"}
        return [Way(words, (Change(f"lights[{len(view.scene.lights)}]", lamp),))]
    now = view.scene.lights[number].ambient
    return [Way(words, (Change(f"lights[{number}].ambient", f"{now + more:.6g} lx"),))]


def _tried(view: ShotView) -> Iterator[_Lost]:
    """Of every lamp that the shot would have use for."""
    light, sees = view.light, " where the camera sees it" * (view.scene.vehicle is not None)
    for number, (lamp, emitter) in enumerate(zip(view.scene.lights, emitters_of(view.scene), strict=False)):
        if isinstance(lamp, Ambient):
            continue
        for places, where in (
            (light.on_vehicle, f"{view.lit_thing}{sees}"),
            (light.in_picture, "the picture"),
        ):
            would = light.unhidden(emitter, places)
            if would > WORTH_HAVING * light.vehicle.total and would > 0:
                yield _Lost(number, lamp, places, where, would, light.straight(emitter, places) / would)


def _hidden(view: ShotView, lost: _Lost, notes: Notes) -> None:
    name, share = lost.lamp.id, lost.share
    what = view.light.in_the_way(np.array(lost.lamp.at), lost.places) or "something"
    if share >= LEAST_SHARE:
        message = f"{percent(share)} of the light of {name} gets to {lost.where}."
    elif share < 0.01:
        message = f"{name} lights nothing of {lost.where}: {what} stands between."
    else:
        message = f"Of the light of {name}, {percent(share)} gets to {lost.where}: {what} stands between."
    notes.finding(
        "lamps.hidden",
        "lamp_share",
        share,
        LEAST_SHARE,
        below(share, LEAST_SHARE),
        message,
        ways=lambda: (
            []
            if lost.lamp.fixed
            else [_put_at(view, lost, place) for place in islice(_places_that_serve(view, lost), _OFFERED)]
        ),
        otherwise=f"Take {what} out of its light.",
    )


def _put_at(view: ShotView, lost: _Lost, place: Array) -> Way:
    return Way(
        f"Move {lost.lamp.id} to {from_corner(view.scene, place)} (right, back, up).",
        (Change(f"lights[{lost.number}].at", view.scene.tape.place(place, lost.lamp.at, 0)),),
    )


def _places_that_serve(view: ShotView, lost: _Lost) -> Iterator[Array]:
    """Places as far from its aim, out of the picture, from which it gives at least half of what it would have. [m]"""
    aim = lost.places.points.mean(axis=0).astype(float) if isinstance(lost.lamp, Bulb) else np.array(lost.lamp.aim)
    away = np.array(lost.lamp.at) - aim
    reach, heading = float(np.linalg.norm(away)), math.atan2(away[1], away[0])
    steep = math.asin(away[2] / reach)
    for up in (*((steep,) if steep > 0 else ()), *_STEEP):
        for turn in _TURNS:
            way = (math.cos(heading + turn) * math.cos(up), math.sin(heading + turn) * math.cos(up), math.sin(up))
            place = (aim + reach * np.array(way)).round(3)
            if _in_picture(view, place):
                continue
            there = emitters_of(_moved(view.scene, lost.number, lost.lamp, place))[lost.number]
            gives, would = (f(there, lost.places) for f in (view.light.straight, view.light.unhidden))
            if gives >= lost.would / 2 and gives >= 2 * LEAST_SHARE * would:
                yield place


def _moved(scene: Scene, number: int, lamp: Panel | Spot | Bulb, place: Array) -> Scene:
    there = lamp.model_copy(update={"at": tuple(place.tolist())})
    return scene.model_copy(update={"lights": (*scene.lights[:number], there, *scene.lights[number + 1 :])})


def _in_picture(view: ShotView, place: Array) -> bool:
    """Whether a lamp there would be before the camera, within the picture or near its edge, in any frame."""
    places, depth = view.project(place[None])
    size = np.array(view.size)
    return bool(((depth > 0) & (np.abs(places / size - 0.5) < 0.75).all(axis=-1)).any())
