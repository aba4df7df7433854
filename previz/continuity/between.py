"""`continuity(events, predictions)`: what holds neighbouring shots of a cut together, and what tears them apart."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from previz.continuity.joins import Join, joins_of
from previz.continuity.light import Balanced, balanced_alike, colour_of_the_light, way_of_the_light
from previz.continuity.places import one_place_twice
from previz.continuity.recorded import different_pace, different_playback, different_shape, different_shutter
from previz.continuity.rule import Told
from previz.continuity.sight import (
    across_the_line,
    another_size,
    another_speed,
    blur_of_another_size,
    eye_of_another_height,
    jump_cut,
)
from previz.errors import ShotFault
from previz.predictions import GLOSSARY, Finding, Predictions, Verdict
from previz.scene import Scene
from previz.sequence import Event, running_order


@dataclass(frozen=True)
class Between(Finding):
    """A finding about two stretches of the cut; its `shot` is the later one's.

    Parameters
    ----------
    events : (int, int)
        Their numbers in the running order.
    """

    events: tuple[int, int] = (0, 0)


#: What is asked of two shots that are cut to each other. A dissolve says that time has passed or that the place has
#: changed, so that there none of it is (common practice, no source).
_AT_A_CUT = (
    across_the_line,
    jump_cut,
    another_size,
    another_speed,
    eye_of_another_height,
    way_of_the_light,
    blur_of_another_size,
)

#: What is asked of any two that follow each other.
_ALWAYS = (different_pace, different_shutter, different_playback, different_shape)


def continuity(events: Sequence[Event], predictions: Predictions, *, ordered: bool = True) -> tuple[Between, ...]:
    """Every answer to what holds a cut together, in the order of the cut; also where all is fine.

    Parameters
    ----------
    events : sequence of Event
        As `running_order` gives them.
    predictions : Predictions
        Of the scene that they are of.
    ordered : bool
        Whether their maker put them in this order. Without a running order they may as well be told for choosing from,
        so that nothing between them stops a shot.
    """
    joins = joins_of(events, predictions, ordered=ordered)
    balanced = balanced_alike([join for join in joins if not (join.dissolves or join.runs_on)])
    found = [*(each for join in joins for each in _of_a_join(join, balanced)), *_of_places(events, predictions)]
    if not ordered:
        found = [replace(each, verdict=Verdict.WATCH) if each.verdict is Verdict.STOP else each for each in found]
    return tuple(sorted(found, key=lambda each: each.events))


def between_shots(scene: Scene, predictions: Predictions) -> tuple[Between, ...]:
    """What holds a scene's cut together; nothing where one of its shots cannot be, for its finding says why."""
    try:
        events = running_order(scene)
    except ShotFault:
        return ()
    return continuity(events, predictions, ordered=scene.sequence is not None)


def _of_a_join(join: Join, balanced: Balanced | None) -> Iterator[Between]:
    if join.runs_on:
        return
    at_a_cut = (*_AT_A_CUT, partial(colour_of_the_light, balanced=balanced))
    for rule in (*(() if join.dissolves else at_a_cut), *_ALWAYS):
        told = rule(join)
        if told is not None:
            yield _between(told, join.before.event, join.after.event)


def _of_places(events: Sequence[Event], predictions: Predictions) -> Iterator[Between]:
    for one, other, told in one_place_twice(events):
        yield _between(told, one, other)


def _between(told: Told, one: Event, other: Event) -> Between:
    return Between(
        told.id,
        told.quantity,
        told.value,
        told.limit,
        GLOSSARY[told.quantity].unit,
        told.verdict,
        told.message,
        told.remedy if told.verdict != "fine" else "",
        other.shot.id,
        events=(one.number, other.number),
    )
