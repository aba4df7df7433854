"""Where another camera stands for a shot, and with which focal length: as near to the framing asked for as it can."""

import math
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import ShotFault
from previz.layout import CameraPose, camera_at, target_point
from previz.physics import optics
from previz.predictions.checks.framing import check_body
from previz.predictions.checks.room import check_room_of_camera
from previz.predictions.differences import CannotMatch, Difference, Taken, millimetres, percent
from previz.predictions.findings import Verdict
from previz.predictions.in_picture import moment_of
from previz.predictions.rules import Framing
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import Camera, Focus, FocusKey, PlaceKey, Scene, Shot, recorded_area

Array = NDArray[np.float64]
Place = tuple[float, float, float]

#: Framing this near to the shot's, as a share of its width, is left as it is: cropping hides it. Common practice, no
#: source.
NEAR = 0.15

#: Framing further off than this, times or parts of the shot's width, is another shot. Common practice, no source.
FAR = 2.0

#: Differences smaller than these are not worth a word: of width [-], of place [m].
SAME_WIDTH, SAME_PLACE = 0.005, 0.0005

#: Findings that say that a camera cannot stand where it does, and what is in its way there.
_IN_THE_WAY = {
    "room.camera_table": "the table",
    "room.camera_backdrop": "the backdrop",
    "room.camera_clear": "something on the set",
    "framing.body": "the table under its body",
}

#: Looking down or up by no more than this a camera that moves stays as high over the table as it is; past that it would
#: look from quite another side. Common practice, no source. [rad]
STEEP = math.radians(30)

#: The distance of a camera that stays as high is found in so many steps at most, to this. [m]
_STEPS, _SAME_FOCUS = 4, 1e-8

#: So many distances are tried where the best is in something's way, and the one found is drawn nearer so often.
_TRIES, _HALVINGS = 24, 10


@dataclass(frozen=True)
class Standing:
    """Where a camera stands for a shot that it takes over, and with which focal length.

    Parameters
    ----------
    scene, shot
        The shot as written.
    taken : Shot
        The same with the other camera and its mode.
    framing : Framing
    preferred : float
        Focal length asked for where the camera moves or frames as it does. [m]
    level : bool
        Whether it stays as high over the table, or moves along its axis.
    """

    scene: Scene
    shot: Shot
    taken: Shot
    framing: Framing
    preferred: float
    level: bool = True

    def nearest(self) -> Taken:
        """Of all places as high over the table the one that comes nearest to what is asked for.

        Where none frames as near to it as one along the axis, that. Raises CannotMatch.
        """
        along = replace(self, level=False)
        try:
            level = self._nearest()
        except CannotMatch:
            return along._nearest()
        if self._off(level) > SAME_WIDTH:
            with suppress(CannotMatch):
                other = along._nearest()
                return other if self._off(other) < self._off(level) - NEAR else level
        return level

    def _off(self, taken: Taken) -> float:
        """By how much the framing is off. [share of the shot's, as a logarithm]"""
        return abs(math.log(self._seen(taken.shot) / self._width_asked)) if self._follows else 0.0

    def _nearest(self) -> Taken:
        distance = self._asked
        found = self._at(distance)
        if isinstance(found, str):
            distance = self._nearest_to(distance)
            found = self._at(distance)
        ratio = self._width(distance) / self._width_asked
        if isinstance(found, str) or (self._follows and not 1 / FAR <= ratio <= FAR):
            raise self._refusal(found if isinstance(found, str) else "", ratio)
        return Taken(found, tuple(self._told(found, distance)))

    # --- what is asked for ---

    @cached_property
    def view(self) -> ShotView:
        """The shot as written, laid open."""
        return laid_open(self.scene, self.shot)

    @property
    def camera(self) -> Camera:
        """The one that takes over."""
        return self.scene.cameras[self.taken.camera]

    @cached_property
    def focus(self) -> float:
        """Mid-shot, as written. [m]"""
        return float(self.view.focus[self.view.middle])

    @cached_property
    def recorded(self) -> float:
        """Width of what the camera records of its sensor. [m]"""
        return recorded_area(self.camera, self.scene.mode(self.taken))[0]

    @property
    def _follows(self) -> bool:
        """Whether framing is matched; a camera that takes over from itself in one place frames as it does."""
        same = self.taken.camera == self.shot.camera
        return self.framing is Framing.LENS or (self.framing is Framing.PLACE and not same)

    @cached_property
    def _width_asked(self) -> float:
        """Width seen at the plane of focus, as written. [m]"""
        return self.view.area[0] / float(optics.magnification(self.shot.focal_length, self.focus))

    @property
    def _times(self) -> float:
        """Distance over focal length at which it frames as asked: s = f (1 + 1/m), m = w / width."""
        return 1 + self._width_asked / self.recorded

    def _on_the_lens(self, focal_length: float) -> float:
        return min(max(focal_length, self.camera.lens.shortest), self.camera.lens.longest)

    @cached_property
    def _asked(self) -> float:
        """The distance asked for, of the plane of focus, before anything is in the way. [m]"""
        if not self._follows:
            return self.focus
        if self.framing is Framing.LENS:
            return self._on_the_lens(self.preferred) * self._times
        off = abs(self._width(self.focus) / self._width_asked - 1)
        lens, near = self.camera.lens, self.camera.nearest
        if off <= NEAR and self.focus >= near:
            return self.focus
        return max(min(self.focus, lens.longest * self._times), lens.shortest * self._times)

    def _focal_length(self, distance: float) -> float:
        """On the lens, the nearest to one that frames as asked from that distance. [m]"""
        if not self._follows:
            return self._on_the_lens(self.preferred)
        return self._on_the_lens(distance / self._times)

    def _width(self, distance: float) -> float:
        """What is seen at the plane of focus from that distance. [m]"""
        focal_length = self._focal_length(distance)
        return self.recorded * (distance - focal_length) / focal_length

    # --- what can be ---

    def _at(self, distance: float) -> Shot | str:
        """The shot from that distance; where it cannot be filmed from there, why."""
        back = distance - self.focus
        if abs(back) < 1e-9:
            back = 0.0
        if _room_to_the_aim(self.scene, self.shot, self.view) + back <= 1e-6:
            return "it would have to stand past what it is aimed at"
        if not back:
            return self._from(distance, {})
        focus = focused_further(self.shot.focus, back)
        along = further_back(self.scene, self.shot, back, self.view)
        place = self._as_high(distance, focus) if self.level else along
        if place is None:
            return "as high over the table it would look from quite another side"
        return self._from(distance, {"at": place, "focus": focus})

    def _as_high(self, distance: float, focus: Any) -> Any:
        """Where it is focused at that distance and as high over the table as it is; None where there is no such place.

        What is focused on need not lie where it is aimed at, so that is found in steps.
        """
        by, place = distance - self.focus, None
        for _ in range(_STEPS):
            place = level_back(self.scene, self.shot, by, self.view)
            if place is None:
                return None
            change = {"focal_length": self._focal_length(distance), "at": place, "focus": focus}
            try:
                view = laid_open(self.scene, self.taken.model_copy(update=change))
            except ShotFault:  # told by who asks
                return place
            off = distance - float(view.focus[view.middle])
            if abs(off) < _SAME_FOCUS:
                break
            by += off
        return place

    def _from(self, distance: float, moved: dict[str, Any]) -> Shot | str:
        """The shot with what another distance makes of it; where it cannot be filmed so, why."""
        change: dict[str, Any] = {"focal_length": self._focal_length(distance), **moved}
        taken = self.taken.model_copy(update=change)
        try:
            view = laid_open(self.scene, taken)
        except ShotFault as fault:  # it cannot be aimed or focused throughout
            return {"focus": "what it focuses on would come too near"}.get(fault.key, fault.said)
        if float(np.min(view.focus)) < self.camera.nearest * (1 - 1e-9):
            moving = float(np.ptp(view.focus)) > SAME_PLACE
            reached = ", which its focus comes to during the shot" if moving else ""
            return f"it focuses no nearer than {self.scene.tape(self.camera.nearest)}{reached}"
        blocked = sorted(_blocked(view) - self._blocked_as_written) if moved else []
        return f"{_IN_THE_WAY.get(blocked[0], blocked[0])} is in its way" if blocked else taken

    @cached_property
    def _blocked_as_written(self) -> frozenset[str]:
        return _blocked(self.view)

    def _nearest_to(self, asked: float) -> float:
        """Of the distances from which it can be filmed the one that frames most nearly as asked; of those the nearest.

        Those up to four times as far off are tried. What lies between the best of them and the one asked for is halved
        until it stands at what keeps it off. The distance asked for where there is none.
        """
        near = max(self.camera.nearest, self._focal_length(0.0) * 1.01)
        far = 4 * max(asked, self.focus, near)
        # Focus that follows something is nearest at some other moment than mid-shot.
        nearer = self.focus - float(self.view.focus.min())
        firm = [self.focus, near, near + nearer]
        tries = sorted({*firm, *np.geomspace(near, far, _TRIES).tolist()}, key=lambda each: self._cost(each, asked))
        found = next((each for each in tries if not isinstance(self._at(each), str)), None)
        if found is None:
            return asked
        cannot = asked
        for _ in range(_HALVINGS):
            between = (found + cannot) / 2
            if self._cost(between, asked) > self._cost(found, asked) or isinstance(self._at(between), str):
                cannot = between
            else:
                found = between
        return found

    def _cost(self, distance: float, asked: float) -> tuple[float, float]:
        off = abs(math.log(max(self._width(distance), 1e-9) / self._width_asked)) if self._follows else 0.0
        return round(off, 6), abs(distance - asked)

    # --- what is said ---

    def _told(self, found: Shot, distance: float) -> list[Difference]:
        differences = []
        wider = self._seen(found) / self._width_asked
        if abs(wider - 1) >= SAME_WIDTH:
            differences.append(Difference("framing", wider, self._framing_words(wider)))
        asked_for = self.preferred if self.framing is not Framing.PLACE else found.focal_length
        if abs(found.focal_length / asked_for - 1) >= 1e-3:
            words = f"{millimetres(found.focal_length)}, the nearest it can use to {millimetres(asked_for)}"
            differences.append(Difference("focal_length", found.focal_length, words))
        back = distance - self.focus
        if abs(back) >= SAME_PLACE:
            moved = self._moved(found)
            still = ", and no nearer still" if back < 0 and distance > self._asked + SAME_PLACE else ""
            way = "further back" if back > 0 else "nearer"
            words = f"stands {self.scene.tape(moved)} {way} than the shot's camera{still}{self._height_told(found)}"
            differences.append(Difference("moved", math.copysign(moved, back), f"{words}: {self._why_moved(found)}"))
        return differences

    def _moved(self, found: Shot) -> float:
        """How far from the shot's camera it stands, mid-shot as written. [m]"""
        middle = self.view.middle
        then = camera_at(self.scene, found, float(self.view.times[middle]))
        return float(np.linalg.norm(then.position - self.view.cameras[middle].position))

    def _height_told(self, found: Shot) -> str:
        """Where it is not as high over the table as the shot's camera, mid-shot."""
        then = laid_open(self.scene, found)
        was, now = (float(view.cameras[view.middle].position[2]) for view in (self.view, then))
        if abs(now - was) < SAME_PLACE:
            return ""
        tape = self.scene.tape
        side = "higher" if now > was else "lower"
        return f", and {tape(abs(now - was))} {side}, {tape(now)} over the table, for as high as it was it cannot"

    def _seen(self, found: Shot) -> float:
        """Width seen at the plane of focus, at the moment that is mid-shot as written. [m]"""
        moment = moment_of(alone(self.scene, found), found, float(self.view.times[self.view.middle]))
        return self.recorded / float(optics.magnification(found.focal_length, float(moment.focus[0])))

    def _framing_words(self, wider: float) -> str:
        if not 1 / FAR < wider < FAR:
            return f"frames {_times_as(wider)}"
        if wider < 1:
            return f"frames {percent(1 - wider)} tighter"
        return f"frames {percent(wider - 1)} wider; cropped to {percent(1 / wider)} of its width it frames the same"

    def _why_moved(self, found: Shot) -> str:
        why = self._at(self._asked)
        if not isinstance(why, str):
            why = ""
        if self._follows and abs(self._seen(found) / self._width_asked - 1) < SAME_WIDTH:
            why += f"{'; ' if why else ''}from there {millimetres(found.focal_length)} frames the same"
        return why

    def _refusal(self, why: str, ratio: float) -> CannotMatch:
        name, lens = self.taken.camera, self.camera.lens
        ends = " to ".join(millimetres(end) for end in sorted({lens.shortest, lens.longest}))
        if why:
            message = f"{name} cannot film it: {why}"
        else:
            asked = self._at(self._asked)
            reason = f", and {asked}" if isinstance(asked, str) else ""
            message = f"{name} frames {_times_as(ratio)} as the shot at best: its lens has {ends}{reason}"
        return CannotMatch(message, self._would_do)

    @property
    def _would_do(self) -> str:
        """What would make it possible."""
        focal_length = millimetres(self.focus / self._times)
        # Half a millimetre nearer, so that a tape's rounding keeps the word.
        nearest = self.scene.tape(float(self.view.focus.min()) - 0.0005)
        return f"from the shot's own place it would take a lens of {focal_length} that focuses from {nearest}"


def _times_as(wider: float) -> str:
    """`3.3 times as wide`, `2.1 times as tight`."""
    times, way = (wider, "wide") if wider > 1 else (1 / wider, "tight")
    return f"{times:.0f} times as {way}" if times >= 10 else f"{times:.2g} times as {way}"


def alone(scene: Scene, shot: Shot) -> Scene:
    """The scene with this shot and no other."""
    return scene.model_copy(update={"shots": (shot,)})


def laid_open(scene: Scene, shot: Shot) -> ShotView:
    """A shot that the scene need not have, laid open. Raises ShotFault where it cannot be aimed or focused."""
    return view_of(alone(scene, shot), shot)


def _blocked(view: ShotView) -> frozenset[str]:
    """What keeps the camera from standing where it does: ids of findings, or `the floor`."""
    found = [*check_room_of_camera(view).findings, *check_body(view).findings]
    stops = {each.id for each in found if each.id in _IN_THE_WAY and each.verdict is not Verdict.FINE}
    lowest = min(float(pose.position[2]) for pose in view.cameras)
    return frozenset(stops | ({"the floor"} if lowest <= -view.scene.set.table.height else set()))


def further_back(scene: Scene, shot: Shot, back: float, view: ShotView) -> Any:
    """The places of a shot, each moved backward along the axis there [m]; what is aimed at must stay in front."""
    return _each_place(scene, shot, view, lambda pose: _moved(pose, pose.world_from_camera[:, 2] * back))


def back_over_table(scene: Scene, shot: Shot, back: float, view: ShotView) -> Any:
    """The places of a shot, each moved backward over the table by so much and as high over it as it is. [m]

    Backward is along the axis there, as seen from above; one that looks straight down stays.
    """
    return _each_place(scene, shot, view, lambda pose: _moved(pose, _level_way(pose) * back))


def _each_place(scene: Scene, shot: Shot, view: ShotView, moved: Callable[[CameraPose], Place]) -> Any:
    """The place of a shot moved, or that of each of its keys."""
    if isinstance(shot.at, tuple) and isinstance(shot.at[0], PlaceKey):
        return tuple(
            PlaceKey.model_construct(time=key.time, at=moved(camera_at(scene, shot, key.time))) for key in shot.at
        )
    return moved(view.cameras[view.middle])


def level_back(scene: Scene, shot: Shot, back: float, view: ShotView) -> Any:
    """The places of a shot, each so much further from what it is aimed at there and as high over the table. [m]

    None where that would be looked at from above, or is, more than `STEEP`: from another height it is another shot
    only where it is seen from the side.
    """
    if isinstance(shot.at, tuple) and isinstance(shot.at[0], PlaceKey):
        places = [
            _level(camera_at(scene, shot, key.time), _to_the_aim(scene, shot, key.time, view), back) for key in shot.at
        ]
        if any(place is None for place in places):
            return None
        return tuple(
            PlaceKey.model_construct(time=key.time, at=place) for key, place in zip(shot.at, places, strict=True)
        )
    return _level(view.cameras[view.middle], _room_to_the_aim(scene, shot, view), back)


def _to_the_aim(scene: Scene, shot: Shot, time: float, view: ShotView) -> float:
    """How far what it is aimed at is off at a time on set [s]; of an aim that is keyed, mid-shot. [m]"""
    if isinstance(shot.aim, tuple):
        return _room_to_the_aim(scene, shot, view)
    return float(np.linalg.norm(target_point(scene, shot.aim, time) - camera_at(scene, shot, time).position))


def _level(pose: CameraPose, far: float, back: float) -> tuple[float, float, float] | None:
    """As high, and so much further from what lies so far off on the axis; None where one of the two is steep."""
    backward = pose.world_from_camera[:, 2]
    flat, rise = far * float(np.hypot(*backward[:2])), far * float(backward[2])
    if far + back <= 0 or max(abs(rise) / far, abs(rise) / (far + back)) > math.sin(STEEP):
        return None
    moved = math.sqrt((far + back) ** 2 - rise**2) - flat
    x, y = pose.position[:2] + backward[:2] / max(float(np.hypot(*backward[:2])), 1e-9) * moved
    return float(x), float(y), float(pose.position[2])


def _room_to_the_aim(scene: Scene, shot: Shot, view: ShotView) -> float:
    """How far what it is aimed at lies in front of the camera, mid-shot. [m]"""
    target = shot.aim if not isinstance(shot.aim, tuple) else shot.aim[0].at
    pose = view.cameras[view.middle]
    point = target_point(scene, target, float(view.times[view.middle]))
    return float((point - pose.position) @ -pose.world_from_camera[:, 2])


def _moved(pose: CameraPose, by: Array) -> Place:
    x, y, z = pose.position + by
    return float(x), float(y), float(z)


def _level_way(pose: CameraPose) -> Array:
    """Backward over the table, of length 1; 0 of a camera that looks straight down."""
    x, y = pose.world_from_camera[:2, 2]
    flat = math.hypot(x, y)
    return np.array([x, y, 0.0]) / flat if flat > 1e-9 else np.zeros(3)


def focused_further(focus: Any, back: float) -> Any:
    """Distances grow by what the camera moved; what is focused on by name stays what it is."""
    if isinstance(focus, tuple):
        return tuple(FocusKey.model_construct(time=key.time, at=focused_further(key.at, back)) for key in focus)
    if focus.distance is None:
        return focus
    return Focus.model_construct(target=None, distance=focus.distance + back)
