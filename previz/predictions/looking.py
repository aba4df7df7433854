"""Looking at a scene: which checks there are, and which of them must look again once some keys are written anew."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from previz.errors import ShotFault
from previz.layout import gear_of, launch_of, light_cards, pieces_of
from previz.light import gives_back
from previz.predictions.checks.backdrop import check_backdrop
from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.framing import check_framing
from previz.predictions.checks.gear import check_gear, check_stands
from previz.predictions.checks.glare import check_glare
from previz.predictions.checks.ground import check_ground
from previz.predictions.checks.lamps import check_lamps
from previz.predictions.checks.launch import check_launch
from previz.predictions.checks.light import check_light
from previz.predictions.checks.motion import check_motion
from previz.predictions.checks.others import check_others, check_others_of_shot
from previz.predictions.checks.perspective import check_perspective, has_own_scales
from previz.predictions.checks.ramp import check_ramp
from previz.predictions.checks.room import check_room
from previz.predictions.checks.run_up import check_run_up
from previz.predictions.checks.scale import check_scale
from previz.predictions.checks.set import check_set
from previz.predictions.checks.shot import cannot_be, check_shot
from previz.predictions.checks.sizes import check_sizes
from previz.predictions.checks.slips import check_slips, check_slips_of_shot
from previz.predictions.checks.time import check_time
from previz.predictions.checks.way_in import check_way_in
from previz.predictions.findings import Change, Figure, Notes
from previz.predictions.shot_view import ShotView, at_another_stop, view_from_afar, view_of
from previz.scene import Focus, Scene, Shot, Target, as_set_up

_OF_THE_SCENE: dict[str, Callable[[Scene], Notes]] = {
    "set": check_set,
    "launch": check_launch,
    "ramp": check_ramp,
    "sizes": check_sizes,
    "ground": check_ground,
    "slips": check_slips,
    "others": check_others,
    "stands": check_stands,
}
_OF_A_SHOT: dict[str, Callable[[ShotView], Notes]] = {
    "focus": check_focus,
    "scale": check_scale,
    "perspective": check_perspective,
    "time": check_time,
    "motion": check_motion,
    "light": check_light,
    "lamps": check_lamps,
    "glare": check_glare,
    "framing": check_framing,
    "backdrop": check_backdrop,
    "room": check_room,
    "gear": check_gear,
    "shot": check_shot,
    "run-up": check_run_up,
    "way in": check_way_in,
    "slips of shot": check_slips_of_shot,
    "others of shot": check_others_of_shot,
}

#: Those that look at what drives beside the subject, where anything does.
_OF_OTHERS = ("others", "others of shot")

#: About how long each takes, in milliseconds on one slow core; measured on random scenes, those over 1 ms. That of
#: `light` is the meter's, which `lamps` reads too.
_COSTS = {"set": 1, "launch": 1, "ramp": 1, "stands": 1, "focus": 2, "motion": 2, "light": 22, "lamps": 5,
          "framing": 2, "backdrop": 3, "room": 1, "gear": 3, "perspective": 8, "others": 20,
          "others of shot": 10}  # fmt: skip

#: And so much more: for each piece on the set, where the vehicle comes down a ramp, and where the camera moves, so that
#: many frames are cast.
_A_SOLID = {"set": 1.8, "ramp": 0.2, "framing": 0.2, "room": 0.3, "others": 2.5}
_A_RAMP = {"set": 26, "launch": 5, "ramp": 5, "light": 10, "framing": 12, "focus": 1, "motion": 1, "time": 1}
_A_MOVE = {"backdrop": 20, "framing": 10, "room": 2, "motion": 1, "gear": 1}

#: What the light of a set costs that was not metered before, and so much more for each piece on it.
_A_SET, _A_SET_SOLID = 12, 4

#: And so much more: for each card that gives light back, and for each lamp and card together with each piece.
_A_CARD, _A_THING = {"light": 20}, {"gear": 0.08}

#: To lay a shot open; to write a scene anew, and so much more for each of its shots, which all are read again.
A_SHOT = 4
_WRITING, _WRITING_A_SHOT = 3, 1.2

#: The checks that look at a key of a shot, for those keys at which not all of them look.
_AT_A_KEY = {
    "f_number": ("focus", "scale", "perspective", "light", "glare", "backdrop"),
    "capture.iso": ("light", "glare"),
    "capture.white_balance": ("light",),
    "hand": ("motion",),
}
_STOP_AND_ISO = ("f_number", "capture.iso")

#: The checks that look at the dressing, where no camera follows a piece.
_AT_PIECES = (
    "set", "ramp", "sizes", "slips", "light", "lamps", "framing", "backdrop", "room", "gear", "stands", "others",
    "perspective", "ground",
)  # fmt: skip

#: Keys of a vehicle that say when it is where, those that say where it drives, and the checks that look at both.
_WHEN, _WHERE = ("start", "speed"), ("keep", "offset", "path", "reverse")
_AT_OTHERS = ("others", "others of shot", "room", "backdrop", "gear", "stands", "perspective")


@dataclass(frozen=True)
class Look:
    """One check of the scene, or of the shot of that id."""

    shot: str
    check: str


def cost_of_set(scene: Scene) -> float:
    """About how long it takes to make a set ready for the first of its shots that is metered. [ms]"""
    return _A_SET + _A_SET_SOLID * len(pieces_of(scene))


def cost_of_writing(scene: Scene) -> float:
    """About how long it takes to write a scene anew. [ms]"""
    return _WRITING + _WRITING_A_SHOT * len(scene.shots)


def cost_of(scene: Scene, look: Look, *, metered: bool = False) -> float:
    """About how long a look takes; less where the light is metered already. [ms]"""
    if look.check == "light" and metered:
        return 1
    pieces = len(pieces_of(scene))
    launched = scene.vehicle is not None and scene.vehicle.launch is not None
    cost = _COSTS.get(look.check, 1) + _A_SOLID.get(look.check, 0.0) * pieces
    cost += _A_RAMP.get(look.check, 0.0) * launched
    cost += _A_CARD.get(look.check, 0.0) * sum(gives_back(card) for card in light_cards(scene))
    cost += _A_THING.get(look.check, 0.0) * len(gear_of(scene)) * pieces
    moves = bool(look.shot) and not _stands(scene.shot(look.shot))
    return cost + (_A_MOVE.get(look.check, 0) if moves else 0)


def _stands(shot: Shot) -> bool:
    """Whether the camera neither moves nor turns, nor its focus follows."""
    focus = isinstance(shot.focus, Focus) and not (shot.focus.target and shot.focus.target.vehicle)
    return isinstance(shot.at[0], int | float) and isinstance(shot.aim, Target) and not shot.aim.vehicle and focus


#: What every check noted; of a shot that cannot be laid open, all that is known stands under `shot`.
Noted = dict[Look, Notes]


def all_looks(scene: Scene) -> list[Look]:
    """Every look at a scene, in the order their notes are read."""
    shots = [Look(shot.id, check) for shot in scene.shots for check in _OF_A_SHOT]
    looks = [*(Look("", check) for check in _OF_THE_SCENE), *shots]
    return [look for look in looks if look.check not in _idle(scene)]


def _idle(scene: Scene) -> tuple[str, ...]:
    """The checks that have nothing to look at in a scene."""
    return (*(() if scene.vehicles else _OF_OTHERS), *(() if has_own_scales(scene) else ("perspective",)))


#: Shots laid open, by their ids; None where one cannot be.
Views = dict[str, ShotView | None]


def noted_by(scene: Scene, looks: Iterable[Look], views: Views) -> Iterator[tuple[Look, Notes]]:
    """What those looks note, one by one; a shot that cannot be laid open is noted once. Fills in what `views` lacks."""
    for look in looks:
        if not look.shot:
            yield look, _OF_THE_SCENE[look.check](scene)
            continue
        view = views.get(look.shot)
        if look.shot in views and view is None:
            continue
        shot = scene.shot(look.shot)
        try:
            view = views[look.shot] = _laid_open(scene, shot) if view is None else view
            yield look, _OF_A_SHOT[look.check](view)
        except ShotFault as fault:  # nothing else can be said of it
            views[look.shot] = None
            yield Look(look.shot, "shot"), cannot_be(scene, shot, fault)


def _laid_open(scene: Scene, shot: Shot) -> ShotView:
    """A shot as it is filmed. One that a remedy sets up otherwise than those beside it keeps its number among them."""
    if not shot.redresses:
        return view_of(scene, shot)
    own = as_set_up(scene, shot)
    own = own.model_copy(update={"shots": [own.shot(each.id) if each is shot else each for each in scene.shots]})
    return view_of(own, own.shot(shot.id))


@dataclass(frozen=True)
class Looked:
    """A scene with what all checks noted of it, and its shots laid open.

    Parameters
    ----------
    own
        Whether changes can be written for these shots alone; None where there are no others.
    """

    scene: Scene
    noted: Noted
    views: Views
    own: Callable[[tuple[Change, ...]], bool] | None = None


def looked_at(scene: Scene) -> Looked:
    """What all checks note."""
    noted: Noted = {}
    views: Views = {}
    for look, notes in noted_by(scene, all_looks(scene), views):
        if look.check == "shot" and blind(notes):
            noted = {each: kept for each, kept in noted.items() if each.shot != look.shot}
            notes.figures += apart_from_focus(scene, scene.shot(look.shot), notes)
        noted[look] = notes
    return Looked(scene, noted, views)


#: Figures that focus has no part in, and the checks that note them. What is seen of the set has: a lens that is focused
#: nearer sees less of it.
_APART_FROM_FOCUS = {
    "time": ("frames", "time_on_set", "time_on_screen", "slowdown", "gravity_slowdown", "set_speed", "apparent_speed"),
    "focus": ("focal_length", "equivalent_focal_length", "f_number"),
    "light": ("illuminance_vehicle", "illuminance_road", "exposure_time"),
    "shot": ("shot_start", "shot_end"),
}


def apart_from_focus(scene: Scene, shot: Shot, notes: Notes) -> list[Figure]:
    """What can be told of a shot that cannot be focused as it says; nothing where it is something else."""
    if not any(each.id == "shot.focus" for each in notes.findings):
        return []
    view = view_from_afar(scene, shot)
    return [
        figure
        for check, names in _APART_FROM_FOCUS.items()
        for figure in _OF_A_SHOT[check](view).figures
        if figure.quantity in names
    ]


def views_that_hold(looked: Looked, then: Scene, changes: Iterable[Change]) -> Views:
    """Shots of the scene with those keys written anew that need not be laid open again."""
    if not all(change.key.startswith("shots[") and _after_entry(change) in _STOP_AND_ISO for change in changes):
        return {}
    return {name: view and at_another_stop(view, then) for name, view in looked.views.items()}


def blind(notes: Notes) -> bool:
    """Whether these are of a shot that cannot be laid open."""
    return bool(notes.shot) and any(each.id in BLIND for each in notes.findings)


#: The findings on a shot of which nothing else can be said.
BLIND = ("shot.aim", "shot.focus", "shot.start", "shot.speed")


def looks_touched(scene: Scene, changes: Iterable[Change]) -> list[Look]:
    """The looks that may note something else once those keys are written."""
    touched: dict[Look, None] = {}
    for change in changes:
        for look in _touched_by(scene, change):
            touched[look] = None
    return list(touched)


def _entry(change: Change) -> int:
    """Which shot, light or piece a change writes into."""
    return int(change.key.partition("[")[2].partition("]")[0])


def _after_entry(change: Change) -> str:
    return change.key.partition("].")[2]


def _touched_by(scene: Scene, change: Change) -> list[Look]:
    first = change.key.partition("].")[0]
    if first.startswith("shots["):
        checks = _AT_A_KEY.get(_after_entry(change), tuple(_OF_A_SHOT))
        checks = tuple(check for check in checks if check not in _idle(scene))
        return [Look(scene.shots[_entry(change)].id, check) for check in checks]
    if change.key == "vehicle.launch.ramp.support" and _on_its_block(scene, change):
        return [Look("", "ramp")]
    if first.startswith("lights["):
        of_shots = [Look(shot.id, check) for shot in scene.shots for check in ("light", "lamps", "glare", "gear")]
        return [Look("", "stands"), *of_shots]
    if first.startswith("vehicles.") and (checks := _at_another_vehicle(scene, change)):
        return [look for look in all_looks(scene) if look.check in checks]
    if first.startswith("dressing[") and not any(_names_a_piece(shot) for shot in scene.shots):
        return [look for look in all_looks(scene) if look.check in _AT_PIECES]
    return all_looks(scene)


def _on_its_block(scene: Scene, change: Change) -> bool:
    """Whether what stands under the ramp is the same block as before, by another name."""
    launch = launch_of(scene)
    return launch is not None and "none" not in (launch.ramp.support, change.value)


def _at_another_vehicle(scene: Scene, change: Change) -> tuple[str, ...]:
    """The checks that look at such a key of a vehicle beside the subject; none where all may.

    Where it drives the ground is level, and its ramp stands on the set.
    """
    _, name, *rest = change.key.split(".")
    key, vehicle = ".".join(rest), (scene.vehicles or {}).get(name)
    if key in _WHEN:
        return _AT_OTHERS
    launched = vehicle is None or vehicle.launch is not None
    return (*_AT_OTHERS, "set", "ground") if key in _WHERE and not launched and not scene.set.ground.relief else ()


def _names_a_piece(shot: Shot) -> bool:
    """Whether the camera is aimed or focused at a piece, so that it turns where the piece goes."""
    aims = [key.at for key in shot.aim] if isinstance(shot.aim, tuple) else [shot.aim]
    focused = [key.at for key in shot.focus] if isinstance(shot.focus, tuple) else [shot.focus]
    targets = [*aims, *(focus.target for focus in focused)]
    return any(target is not None and target.piece is not None for target in targets)


def plain(changes: Iterable[Change]) -> dict[str, Any]:
    """Changes as `rewritten` takes them."""
    return {change.key: change.value for change in changes}
