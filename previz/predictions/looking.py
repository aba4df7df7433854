"""Looking at a scene: which checks there are, and which of them must look again once some keys are written anew."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from previz.errors import ShotFault
from previz.layout import solids_of
from previz.predictions.checks.backdrop import check_backdrop
from previz.predictions.checks.focus import check_focus
from previz.predictions.checks.framing import check_framing
from previz.predictions.checks.launch import check_launch
from previz.predictions.checks.light import check_light
from previz.predictions.checks.motion import check_motion
from previz.predictions.checks.room import check_room
from previz.predictions.checks.scale import check_scale
from previz.predictions.checks.set import check_set
from previz.predictions.checks.shot import cannot_be, check_shot
from previz.predictions.checks.sizes import check_sizes
from previz.predictions.checks.time import check_time
from previz.predictions.findings import Change, Notes
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import Focus, Scene, Shot, Target

_OF_THE_SCENE: dict[str, Callable[[Scene], Notes]] = {"set": check_set, "launch": check_launch, "sizes": check_sizes}
_OF_A_SHOT: dict[str, Callable[[ShotView], Notes]] = {
    "focus": check_focus,
    "scale": check_scale,
    "time": check_time,
    "motion": check_motion,
    "light": check_light,
    "framing": check_framing,
    "backdrop": check_backdrop,
    "room": check_room,
    "shot": check_shot,
}

#: About how long each takes, in milliseconds on one slow core; measured on random scenes, those over 1 ms.
_COSTS = {"set": 25, "focus": 7, "motion": 14, "framing": 12, "backdrop": 15, "room": 12}

#: And so much more: for each solid on the set, and where the camera moves, so that many frames are cast.
_A_SOLID, _A_MOVE = {"set": 1.0, "framing": 0.5, "backdrop": 0.5}, {"backdrop": 45}

#: The checks that look at a key of a shot, for those keys at which not all of them look.
_AT_A_KEY = {"f_number": ("focus", "scale", "light", "backdrop"), "capture.iso": ("light",), "hand": ("motion",)}


#: The checks that look at the dressing, where no camera follows a piece.
_AT_PIECES = ("set", "sizes", "light", "framing", "backdrop", "room")


@dataclass(frozen=True)
class Look:
    """One check of the scene, or of the shot of that id."""

    shot: str
    check: str


def cost_of(scene: Scene, look: Look) -> float:
    """About how long a look takes. [ms]"""
    cost = _COSTS.get(look.check, 1) + _A_SOLID.get(look.check, 0.0) * len(solids_of(scene))
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
    return [*(Look("", check) for check in _OF_THE_SCENE), *shots]


def noted_by(scene: Scene, looks: Iterable[Look]) -> Iterator[tuple[Look, Notes]]:
    """What those looks note, one by one; a shot that cannot be laid open is noted once."""
    views: dict[str, ShotView | None] = {}
    for look in looks:
        if not look.shot:
            yield look, _OF_THE_SCENE[look.check](scene)
            continue
        view = views.get(look.shot)
        if look.shot in views and view is None:
            continue
        shot = scene.shot(look.shot)
        try:
            view = views[look.shot] = view_of(scene, shot) if view is None else view
            yield look, _OF_A_SHOT[look.check](view)
        except ShotFault as fault:  # nothing else can be said of it
            views[look.shot] = None
            yield Look(look.shot, "shot"), cannot_be(scene, shot, fault)


def looked_at(scene: Scene) -> Noted:
    """What all checks note."""
    noted: Noted = {}
    for look, notes in noted_by(scene, all_looks(scene)):
        if look.check == "shot" and blind(notes):
            noted = {each: kept for each, kept in noted.items() if each.shot != look.shot}
        noted[look] = notes
    return noted


def blind(notes: Notes) -> bool:
    """Whether these are of a shot that cannot be laid open."""
    return bool(notes.shot) and not notes.figures and any(each.id in BLIND for each in notes.findings)


#: The findings on a shot of which nothing else can be said.
BLIND = ("shot.aim", "shot.focus", "shot.start")


def looks_touched(scene: Scene, changes: Iterable[Change]) -> list[Look]:
    """The looks that may note something else once those keys are written."""
    touched: dict[Look, None] = {}
    for change in changes:
        for look in _touched_by(scene, change):
            touched[look] = None
    return list(touched)


def _touched_by(scene: Scene, change: Change) -> list[Look]:
    first, _, rest = change.key.partition("].")
    if first.startswith("shots["):
        shot = scene.shots[int(first.removeprefix("shots["))]
        return [Look(shot.id, check) for check in _AT_A_KEY.get(rest, tuple(_OF_A_SHOT))]
    if first.startswith("lights["):
        return [Look(shot.id, "light") for shot in scene.shots]
    if first.startswith("dressing[") and not any(_names_a_piece(shot) for shot in scene.shots):
        return [look for look in all_looks(scene) if look.check in _AT_PIECES]
    return all_looks(scene)


def _names_a_piece(shot: Shot) -> bool:
    """Whether the camera is aimed or focused at a piece, so that it turns where the piece goes."""
    aims = [key.at for key in shot.aim] if isinstance(shot.aim, tuple) else [shot.aim]
    focused = [key.at for key in shot.focus] if isinstance(shot.focus, tuple) else [shot.focus]
    targets = [*aims, *(focus.target for focus in focused)]
    return any(target is not None and target.piece is not None for target in targets)


def plain(changes: Iterable[Change]) -> dict[str, Any]:
    """Changes as `rewritten` takes them."""
    return {change.key: change.value for change in changes}
