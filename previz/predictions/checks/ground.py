"""Ground and road edge: wheels over a kerb, pieces half on a pavement, puddles without room, tracks on hard ground."""

from collections.abc import Iterator
from functools import partial

from previz.layout import (
    MARGIN,
    SPARE,
    in_a_kerb,
    launch_of,
    losses_of,
    off_a_pavement,
    others_of,
    over_a_kerb,
    puddles_of,
    softness,
    strips_of,
    surface_driven_on,
)
from previz.predictions.checks.set import moved, sure, worst_of_each
from previz.predictions.findings import Change, Notes, Verdict, Way
from previz.predictions.places import told_move, ways_to_free_places
from previz.scene import Scene


def check_ground(scene: Scene) -> Notes:
    """What of the ground, the road's edges and what stands there does not go together."""
    notes = Notes()
    if strips_of(scene):
        _over_kerbs(scene, notes)
        _in_kerbs(scene, notes)
    _puddles(scene, notes)
    _tracks(scene, notes)
    _rolls(scene, notes)
    return notes


def _over_kerbs(scene: Scene, notes: Notes) -> None:
    """The wheels of each vehicle, or of a low one all of it, beside kerbs and pavements."""
    driven = [("vehicle", "the vehicle", scene)] if scene.vehicle is not None else []
    driven += [(f"vehicles.{name}", name, other) for name, other in others_of(scene)]
    for key, name, each in driven:
        room, which = over_a_kerb(each)
        if which is None:
            continue
        margin = MARGIN / each.vehicle_scale
        where = (
            f"{name} comes {scene.tape(-room, 1)} on to the {which.id}, which is {scene.tape(which.top, 1)} high"
            if room < 0
            else f"{name} leaves {scene.tape(room, 1)} to the {which.id}"
        )
        notes.finding(
            f"ground.kerb.{name.replace('the ', '')}",
            "kerb_room",
            room,
            0.0 if room < 0 else margin,
            Verdict.STOP if room < 0 else Verdict.WATCH if room < margin else Verdict.FINE,
            f"{where[0].upper()}{where[1:]}.",
            ways=partial(_ways_off_kerbs, scene, key, name, each, margin - room),
            otherwise="Lead its way along the middle of its lane, or leave the kerb out there.",
        )


def _ways_off_kerbs(scene: Scene, key: str, name: str, each: Scene, by: float) -> Iterator[Way]:
    """Further to either side."""
    assert each.vehicle is not None  # it drives
    for sign, side in ((1.0, "left"), (-1.0, "right")):
        aside = scene.tape.up(by + SPARE)
        offset = float(each.vehicle.offset) + sign * aside
        words = f"Let {name} drive {scene.tape(aside)} further to its {side} (offset)."
        yield Way(words, (Change(f"{key}.offset", scene.tape.exact(offset)),))


def _in_kerbs(scene: Scene, notes: Notes) -> None:
    found = worst_of_each(in_a_kerb(scene))
    for each in found:
        assert each.other is not None  # of two things
        name, there = each.it.id, each.other
        notes.finding(
            f"ground.in_kerb.{name}",
            "overlap",
            each.by,
            0.0,
            sure(each.it),
            f"{name} stands {scene.tape(each.by, 1)} in the {there.id}, which is {scene.tape(there.top, 1)} high.",
            f"Move {name} {told_move(scene, each.mend)}.",
            changes=moved(scene, each.it, each.mend),
            ways=partial(ways_to_free_places, scene, each.it.entry),
            otherwise=f"Move {name} off the edge, or cut the pavement round it.",
        )
    over = worst_of_each(off_a_pavement(scene))
    for each in over:
        assert each.other is not None  # of two things
        name, there = each.it.id, each.other
        notes.finding(
            f"ground.off_kerb.{name}",
            "overlap",
            each.by,
            0.0,
            Verdict.WATCH,
            f"{name} reaches {scene.tape(each.by, 1)} past the edge of the {there.id}, where nothing is under it for "
            f"{scene.tape(there.top, 1)}.",
            f"Move {name} {told_move(scene, each.mend)}.",
            changes=moved(scene, each.it, each.mend),
            ways=partial(ways_to_free_places, scene, each.it.entry),
            otherwise=f"Pack it up there, make the pavement wider, or move {name} off the edge.",
        )
    if not found and not over:
        message = "No piece stands in a kerb or half on a pavement."
        notes.finding("ground.in_kerb", "overlap", 0.0, 0.0, Verdict.FINE, message)


def _puddles(scene: Scene, notes: Notes) -> None:
    written = scene.set.ground.puddles
    if written is None or not written.count:
        return
    found = len(puddles_of(scene))
    notes.finding(
        "ground.puddles",
        "puddles",
        found,
        written.count,
        Verdict.FINE if found == written.count else Verdict.WATCH,
        f"{found} of {written.count} puddles find level ground of their own.",
        f"Ask for {found}, which is what the picture shows.",
        changes=[Change("set.ground.puddles.count", found)],
    )


def _tracks(scene: Scene, notes: Notes) -> None:
    if not scene.set.ground.tracks:
        return
    driven = [each for each in (scene, *(other for _, other in others_of(scene))) if each.vehicle is not None]
    softest = max((softness(surface_driven_on(each)) for each in driven), default=0.0)
    notes.finding(
        "ground.tracks",
        "softness",
        softest,
        0.0,
        Verdict.WATCH if softest <= 0 else Verdict.FINE,
        "Tyres leave no tracks: nothing drives on soft ground."
        if softest <= 0
        else "Tyres leave tracks on soft ground.",
        "Take tracks out of the ground.",
        changes=[Change("set.ground.tracks", None)],
    )


def _rolls(scene: Scene, notes: Notes) -> None:
    """What a launch loses on loose ground is known of nobody's model but by timing it there."""
    for name, each in (("the vehicle", scene), *others_of(scene)):
        if each.vehicle is None or launch_of(each) is None or losses_of(each) is not None:
            continue
        surface = surface_driven_on(each)
        soft = softness(surface)
        notes.finding(
            f"ground.rolling.{name.replace('the ', '')}",
            "softness",
            soft,
            0.0,
            Verdict.WATCH if soft > 0 else Verdict.FINE,
            f"{name[0].upper()}{name[1:]} is launched over {surface}; the rolling resistance taken is that of a hard "
            "top, and loose ground takes more: it stops sooner, and its wheels may sink or slip."
            if soft > 0
            else f"{name[0].upper()}{name[1:]} rolls on hard ground.",
            otherwise=f"Time runs on that very {surface} and give them as timed_runs, or glue it down and varnish it.",
        )
