"""Another way to look: aimed, stood and zoomed so that the picture shows the vehicle and nothing past the set.

One remedy that writes several keys, where none of them alone would do. What is offered was found by the geometry of the
set; whether it holds is for the checks to say, as of any other remedy.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from itertools import product
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.layout import CameraPose, back_plane, camera_at
from previz.physics import optics
from previz.physics.exposure import THIRD_STOP_F_NUMBERS
from previz.predictions.covering import covered_field, sees_past, standing_faces
from previz.predictions.findings import Change, Way
from previz.predictions.gaps import Faces
from previz.predictions.metering import stopped_down
from previz.predictions.places import CORNER, from_corner, stood_at, told_place
from previz.predictions.shot_view import ShotView
from previz.scene import MID_FRAME, Focus, Shot, Target, Zoom

Array = NDArray[np.float64]
_T = TypeVar("_T")

#: Shares of the distance to the vehicle at which the camera is tried, and of its height over the vehicle's middle; how
#: far the aim is raised from the vehicle's middle to the level of the lens.
_DISTANCES, _HEIGHTS, _LEVELS = (1.0, 0.75, 1.35, 0.55, 1.8, 0.4, 2.5, 0.28), (1.0, 0.4), (0.0, 0.5, 1.0)

#: What a maker would rather leave as it is: turning by a radian, standing twice as near or far, lower, following what
#: the camera let pass, beginning at another time. Common practice, no source.
_TURN, _GO, _LOWER, _FOLLOW, _BEGIN = 1.0, 1.0, 0.4, 0.5, 0.5

#: The vehicle's width in the picture, at least and at most, and how much of its height is in it. Common practice.
_LEAST, _MOST, _WITHIN = 0.08, 1.1, 0.8

#: Further off the way that faces the backdrop, over the distance, a camera is tried there too. [-]
_ASIDE = 0.25

#: A picture is kept so much narrower than the set allows: a tape rounds. [-]
_SPARE = 0.98

#: Looked at by more than this from another side it is another shot: the last thing to try, and told. Common practice,
#: no source. [rad]
_ANOTHER = math.radians(30)

_OFFERED = 3  # so many ways are offered, those that change least
_AT_ONCE = 16  # so many are looked at before that is paid for
_LOOK = 0.9  # what looking at one costs, in the measure of `looking.cost_of`

#: Aimed elsewhere from where it stands, it is by no more than this share of the picture's height or width, whichever it
#: goes along: that takes what is in the middle to a third, and past it another picture would be taken. Common practice,
#: no source. [-]
_NUDGE = 1 / 6

#: Moved a little, a camera is by no more than this share of what it is focused on. Common practice, no source. [-]
_STEP_ASIDE = 0.1

#: Where the aim goes so that a side of the picture sees less: to the right, and up.
_FROM = {"below": (0.0, 1.0), "above": (0.0, -1.0), "left": (1.0, 0.0), "right": (-1.0, 0.0)}
_CALLED = ({1.0: "further right", -1.0: "further left"}, {1.0: "higher", -1.0: "lower"})

#: What a hand sets without counting small marks on a tape, and what it does where the lens is closer than so far. [m]
_MARKS = {"mm": (0.001, 0.005), "cm": (0.001, 0.005), "in": (0.0254 / 16, 0.0254 / 4)}
_CLOSE = 0.3

#: What is set by hand on the ring of a zoom, from so long on; shorter lenses are those of small cameras, which show
#: tenths. Common practice, no source. [m]
_RING = ((0.010, 0.001), (0.0, 0.0001))

#: After a way that has a camera that followed the vehicle aim at one place.
STANDS = " The camera then stands still and does not pan: the vehicle drives through the picture."

#: Places along its way at which the vehicle may be in the middle of the shot.
_PLACES = 41


@dataclass(frozen=True)
class _Look:
    """One way to look at the vehicle.

    Parameters
    ----------
    shot : Shot
        With another place, aim, focus and beginning.
    times : tuple of float
        At which it is looked for what is past the set: one where the camera stands still. [s on set]
    middle : float
        When the vehicle should be in the picture. [s on set]
    focal : float
        At which the vehicle is as large as before, as far as the lens goes. [m]
    change : float
        How much of the shot is changed, but for its focal length.
    turned : float
        By how much the lens looks another way, seen from above. [rad]
    """

    shot: Shot
    times: tuple[float, ...]
    middle: float
    focal: float
    change: float
    turned: float


def may_reframe(view: ShotView) -> bool:
    """Whether there is a vehicle to look at, and a camera whose place and aim do not move as they were chosen to."""
    shot = view.shot
    return isinstance(shot.at[0], int | float) and isinstance(shot.aim, Target) and view.scene.vehicle is not None


def reframed(view: ShotView) -> Iterator[Way]:
    """Ways to look at the vehicle with nothing past the set in the picture, those first that change least.

    None of a camera that moves, or whose aim is keyed: that was chosen. Those from quite another side come last.
    """
    if not may_reframe(view):
        return
    standing, offered, cost = standing_faces(view.scene), 0, 0.0
    for look in sorted(_looks(view), key=lambda each: (each.turned > _ANOTHER, each.change)):
        if cost >= _AT_ONCE * _LOOK:  # who pays may have had enough
            yield Way("", (), cost, looking=True)
            cost = 0.0
        cost += _LOOK
        focal = _focal_for(view, look, standing)
        if focal is None:
            continue
        yield _way(view, look, focal, cost)
        offered, cost = offered + 1, 0.0
        if offered == _OFFERED:
            return
    yield Way("", (), cost)


def aimed(view: ShotView, frames: list[int], sides: Iterable[str]) -> Iterator[Way]:
    """The least other aim, from where the camera stands, with which it sees nothing past the set.

    Parameters
    ----------
    frames : list of int
        Which of those looked at are cast.
    sides : iterable of str
        Those of the picture past which something is seen: left, right, above, below.
    """
    shot = view.shot
    if not isinstance(shot.aim, Target) or shot.aim.place is None:
        return
    now, here = view.cameras[view.middle], np.array(shot.aim.place, dtype=float)
    reach = float((now.position - here) @ now.world_from_camera[:, 2])
    step = _mark(view, reach)
    seen = np.array(view.area) / float(optics.image_distance(shot.focal_length, now.focus_distance)) * reach

    def at(way: tuple[float, float], steps: int) -> Array:
        by = (way[0] * now.world_from_camera[:, 0] + way[1] * np.array([0.0, 0.0, 1.0])) * steps * step
        return np.where(np.abs(by) < step / 100, here, _on_marks(here + by, step))

    def then(way: tuple[float, float], steps: int) -> Shot:
        return shot.model_copy(update={"aim": _place(at(way, steps))})

    def most(way: tuple[float, float]) -> int:
        return int(_NUDGE * min(side for side, part in zip(seen.tolist(), way, strict=True) if part) / step)

    found, cost = _cleared(view, frames, _ways_from(sides), then, most)
    if not found:
        yield Way("", (), cost)
        return
    way, steps = min(found, key=lambda each: (each[1] * math.hypot(*each[0]), each[0]))
    there = at(way, steps)
    to = " and ".join(called[part] for called, part in zip(_CALLED, way, strict=True) if part)
    written = Change(f"shots[{view.index}].aim", view.scene.tape.place(there, here))
    yield Way(f"Aim {to}, at {from_corner(view.scene, there)}.", (written,), cost)


def nudged(view: ShotView, frames: list[int]) -> Iterator[Way]:
    """The least other place, nearer, further back, higher or lower by a little, from which it sees nothing past the set
    with the same aim and lens.

    frames: which of those looked at are cast.
    """
    shot = view.shot
    if not isinstance(shot.at[0], int | float):
        return
    here, up = np.array(shot.at, dtype=float), np.array([0.0, 0.0, 1.0])
    flat = view.cameras[view.middle].world_from_camera[:, 2] * np.array([1.0, 1.0, 0.0])
    flat /= max(float(np.linalg.norm(flat)), 1e-9)
    ways = {"nearer": -flat, "back": flat, "up": up, "down": -up}
    reach = float(view.focus[view.middle])
    step = _mark(view, reach)

    def then(way: str, steps: int) -> Shot:
        return shot.model_copy(update={"at": tuple((here + steps * step * ways[way]).tolist())})

    found, cost = _cleared(view, frames, ways, then, lambda _: int(_STEP_ASIDE * reach / step))
    if not found:
        yield Way("", (), cost)
        return
    way, steps = min(found, key=lambda each: each[1])
    there = here + steps * step * ways[way]
    said = f"Move the camera {view.scene.tape(steps * step)} {way}, {told_place(view.scene, there)}"
    yield stood_at(view, said, there, cost=cost)


def _cleared(
    view: ShotView, frames: list[int], ways: Iterable[_T], then: Callable[[_T, int], Shot], most: Callable[[_T], int]
) -> tuple[list[tuple[_T, int]], float]:
    """Of ways to change a shot those after which nothing past the set is seen, each in the fewest steps; what it cost.

    frames: which are cast. then: the shot after so many steps of a way. most: how many there are of one.
    """
    standing, (width, height), looks = standing_faces(view.scene), view.area, 0

    def clears(way: _T, steps: int) -> bool:
        nonlocal looks
        looks += 1
        shot = then(way, steps)
        for frame in frames:
            try:
                pose = camera_at(view.scene, shot, float(view.times[frame]))
            except PrevizError:  # aimed or focused where it cannot be from there
                return False
            field = width / 2 / float(optics.image_distance(shot.focal_length, pose.focus_distance))
            if pose.position[2] <= 0 or sees_past(view.scene, pose, width / height, field, standing):
                return False
        return True

    found = [(way, _least(partial(clears, way), most(way))) for way in ways]
    return [(way, steps) for way, steps in found if steps], looks * _LOOK


def _ways_from(sides: Iterable[str]) -> list[tuple[float, float]]:
    """To the right and up (1, 0 or -1), away from each side alone and from all of them; none from two that face."""
    each = [_FROM[side] for side in sides]
    if any((-right, -up) in each for right, up in each):
        return []
    return list(dict.fromkeys([*each, (sum(right for right, _ in each), sum(up for _, up in each))]))


def _least(serves: Callable[[int], bool], most: int) -> int:
    """The fewest steps, at least one, that serve: doubled until they do, then halved back; 0 where none do."""
    low, high = 0, 1
    while low < most and not serves(high):
        low, high = high, min(2 * high, most)
    if low >= most:
        return 0
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if serves(middle) else (middle, high)
    return high


def _mark(view: ShotView, reach: float) -> float:
    """To what a place is rounded that is told, at so far from the lens. [m]"""
    return _MARKS[view.scene.tape.column][reach > _CLOSE]


def _on_marks(place: Array, step: float) -> Array:
    return np.asarray(np.round(place / step) * step)


def _looks(view: ShotView) -> Iterator[_Look]:
    shot, at, now = view.shot, np.array(view.shot.at, dtype=float), view.cameras[view.middle]
    seen = bool(view.vehicle_in_frame.any())
    lens, follows = view.camera.lens, isinstance(shot.aim, Target) and shot.aim.vehicle
    for begins, middle in _moments(view):
        length = (view.count - 1) / float(shot.capture.rate)
        ends = (middle - length / 2, middle, middle + length / 2)
        targets = [view.vehicle_solid(view.travel.distance(time)).corners().mean(axis=0) for time in ends]
        target = targets[1]
        begun = {} if begins is None else {"start": begins}
        for away, distance in product(_ways_away(view, at - target), _DISTANCES):
            if distance * np.linalg.norm(away) < float(view.camera.nearest) * 1.02:
                continue
            for height in _HEIGHTS:
                place = target + away * distance * np.array([1.0, 1.0, height])
                step = _mark(view, float(np.linalg.norm(place - target)))
                place = at if np.allclose(place, at, atol=1e-4) else _on_marks(place, step)
                focal = min(max(shot.focal_length * (distance if seen else 1.0), lens.shortest), lens.longest)
                change = _GO * abs(math.log2(distance)) + _LOWER * (height != 1) + _BEGIN * (begins is not None)
                change += _GO * float(np.linalg.norm(at - target - away) / np.linalg.norm(away))
                moved = shot.model_copy(update={"at": tuple(map(float, place)), **begun})
                for level in _LEVELS:
                    point = _on_marks(target + np.array([0.0, 0.0, level * (place[2] - target[2])]), step)
                    axis = (place - point) / np.linalg.norm(place - point)
                    turned = math.acos(float(np.clip(now.world_from_camera[:, 2] @ axis, -1, 1)))
                    # It need not follow what comes too near, or has passed the lens.
                    behind = min(float((place - each) @ axis) for each in targets) < float(view.camera.nearest) * 1.02
                    focus = _focused(shot, middle, once=behind)
                    aimed = moved.model_copy(update={"aim": _place(point), "focus": focus})
                    change_ = change + _TURN * turned + 0.1 * follows
                    yield _Look(aimed, (middle,), middle, focal, change_, _round(now.world_from_camera[:, 2], axis))
                focus = _focused(shot, middle)
                followed = moved.model_copy(update={"aim": Target(vehicle=True), "focus": focus})
                turned = _round(now.world_from_camera[:, 2], place - target)
                yield _Look(followed, ends, middle, focal, change + _FOLLOW * (not follows), turned)


def _round(now: Array, then: Array) -> float:
    """By how much a direction is turned, seen from above; one that is upright is not. [rad]"""
    off = math.atan2(then[1], then[0]) - math.atan2(now[1], now[0])
    return abs(math.remainder(off, 2 * math.pi))


def _ways_away(view: ShotView, now: Array) -> Iterator[Array]:
    """From the vehicle to the camera (3,): as it stands, and as far off and high before the middle of the backdrop. [m]

    What looks along a backdrop sees past its end, however near it stands.
    """
    yield now
    facing = back_plane(view.scene).way(0.0, -1.0, 0.0)[:2] * np.hypot(*now[:2])
    if np.hypot(*(facing - now[:2])) > _ASIDE * np.hypot(*now[:2]):
        yield np.array([*facing, now[2]])


def _place(point: Array) -> Target:
    return Target(vehicle=True).model_copy(update={"vehicle": False, "place": tuple(map(float, point))})


def _moments(view: ShotView) -> Iterator[tuple[float | None, float]]:
    """When the shot may begin, None as it does, and when the vehicle then is in its middle, on the table. [s on set]"""
    plane, half = back_plane(view.scene), view.count / float(view.shot.capture.rate) / 2
    now = float(view.times[view.middle])

    def on_the_table(distance: float) -> bool:
        at = view.path.at(np.array([distance]))[0]
        return bool(abs(plane.across(at)) < 0.45 * plane.wide and 0 < plane.off(at) < min(plane.long, plane.distance))

    distance = view.travel.distance(now)
    if on_the_table(distance) and 0 <= distance <= view.path.length:
        yield None, now
    if view.vehicle_in_frame.any():
        return
    # Else when it passes nearest to what the camera is aimed at.
    axis, eye = -view.cameras[view.middle].world_from_camera[:, 2], view.cameras[view.middle].position
    places = [each for each in np.linspace(0.0, view.path.length, _PLACES).tolist() if on_the_table(each)]

    def off(distance: float) -> float:
        way = np.array([*view.path.at(np.array([distance]))[0], 0.0]) - eye
        return -float(way @ axis / np.linalg.norm(way))

    for distance in sorted(places, key=off)[:1]:
        time = float(view.travel.time_at(distance))
        if math.isfinite(time):
            begins = max(math.floor((time - half) * 1e3) / 1e3, 0.0)
            yield begins, begins + half


def _focused(shot: Shot, middle: float, *, once: bool = False) -> object:
    """On the vehicle, where the shot has one focus: set once if it was, or where it has to be."""
    if not isinstance(shot.focus, Focus):
        return shot.focus  # a pull was chosen
    target = shot.focus.target
    if target is not None and target.moment == MID_FRAME:
        return shot.focus  # wherever that is then
    once = once or (target is not None and target.vehicle and target.moment is not None)
    on_it = Target(vehicle=True)
    return Focus(target=on_it.model_copy(update={"moment": round(middle, 3)}) if once else on_it)


def _focal_for(view: ShotView, look: _Look, standing: Faces) -> float | None:
    """The shortest focal length from there that sees nothing past the set; None where the lens has none. [m]"""
    try:
        poses = [camera_at(view.scene, look.shot, time) for time in look.times]
        there = camera_at(view.scene, look.shot, look.middle)
    except PrevizError:  # aimed or focused where it cannot be
        return None
    width, height = view.area
    s = there.focus_distance
    # What is too large in the picture already is left, for it gets no smaller.
    if s < float(view.camera.nearest) or not _shows(view, look, there, look.focal, least=0.0):
        return None
    wanted = width / 2 / float(optics.image_distance(look.focal, s))
    tightest = _SPARE * width / 2 / float(optics.image_distance(view.camera.lens.longest, s))
    if any(sees_past(view.scene, pose, width / height, min(tightest, wanted), standing) for pose in poses):
        return None
    seen = min(covered_field(view.scene, pose, width / height, wanted, standing) for pose in poses)
    v = width / 2 / (seen * (1.0 if seen >= wanted else _SPARE))
    focal = max(v * s / (s + v), look.focal)
    if focal > view.camera.lens.longest * (1 + 1e-9):
        return None
    return focal if _shows(view, look, there, focal) else None


def _shows(view: ShotView, look: _Look, pose: CameraPose, focal: float, least: float = _LEAST) -> bool:
    """Whether the vehicle is well in the picture then."""
    v = float(optics.image_distance(focal, pose.focus_distance))
    corners = view.vehicle_solid(view.travel.distance(look.middle)).corners()
    seen = (corners - pose.position) @ pose.world_from_camera * [1.0, 1.0, -1.0]
    if (seen[:, 2] <= 0).any():
        return False
    x, y = (seen[:, axis] / seen[:, 2] * v / side for axis, side in zip((0, 1), view.area, strict=True))
    tall = float(np.ptp(y))
    within = min(float(y.max()), 0.5) - max(float(y.min()), -0.5)
    return bool(least <= np.ptp(x) <= _MOST and abs(x.mean()) < 0.4 and within >= _WITHIN * min(tall, 1.0))


def _way(view: ShotView, look: _Look, focal: float, cost: float) -> Way:
    """In words, and what it writes: only what differs."""
    shot, then, key = view.shot, look.shot, f"shots[{view.index}]"
    words, changes, stays = [], [], ""
    if np.linalg.norm(np.subtract(then.at, shot.at)) > 5e-4:
        words.append(f"stand the lens at {from_corner(view.scene, then.at)}")
        changes.append(Change(f"{key}.at", view.scene.tape.place(then.at, shot.at)))
    aim = then.aim
    assert isinstance(aim, Target)  # as it was made above
    if aim != shot.aim:
        if aim.vehicle:
            words.append("follow the vehicle (aim)")
            changes.append(Change(f"{key}.aim", "vehicle"))
        else:
            place = [float(each) for each in aim.place or ()]
            words.append(f"aim at {from_corner(view.scene, place)}")
            changes.append(Change(f"{key}.aim", [view.scene.tape.written(each) for each in place]))
            stays = STANDS if isinstance(shot.aim, Target) and shot.aim.vehicle else ""
    if then.start != shot.start:
        words.append(f"begin at {float(then.start):.3f} s on set (shot's start)")
        changes.append(Change(f"{key}.start", f"{float(then.start):.3f} s"))
    if abs(focal / shot.focal_length - 1) > 1e-3:
        zoom, more = zoomed(view, focal)
        words.append(f"{zoom[0].lower()}{zoom[1:]}")
        changes += more
    if then.focus != shot.focus and isinstance(then.focus, Focus) and then.focus.target is not None:
        written = then.focus.target.said_of_vehicle
        words.append(f"focus on the {written}" + (" on set" if then.focus.target.moment is not None else ""))
        changes.append(Change(f"{key}.focus", written))
    said = ", ".join(words).replace(f"{CORNER}, aim", "and aim", 1) if len(words) > 1 else "".join(words)
    if look.turned > _ANOTHER:
        stays = f" That turns the view by {math.degrees(look.turned):.0f} degrees: it is another shot.{stays}"
    return Way(f"{said[:1].upper()}{said[1:]}.{stays}", tuple(changes), cost)


def zoomed(view: ShotView, focal_length: float) -> tuple[str, list[Change]]:
    """Words and changes for that focal length [m] or the next longer one that can be set, stopped down where the lens
    does not open so far there."""
    focal_length = focal_on_ring(focal_length, view.camera.lens)
    key, widest = f"shots[{view.index}]", view.camera.widest_at(focal_length)
    told = f"{focal_length * 1000:.4g} mm"
    words, changes = "", [Change(f"{key}.focal_length", told)]
    if view.shot.f_number < widest * 0.99:
        stop = next((stop for stop in THIRD_STOP_F_NUMBERS if stop >= widest * 0.99), math.ceil(widest))
        words = f" and stop down to f/{stop:g}, for it opens no wider there{stopped_down(view, stop)}"
        changes.append(Change(f"{key}.f_number", f"f/{stop:g}"))
    way = "in" if focal_length > view.shot.focal_length else "out"
    return f"Zoom {way} to {told}{words}", changes


def focal_on_ring(focal_length: float, lens: Zoom, *, longer: bool = True) -> float:
    """The next longer or shorter focal length that a hand sets on the ring of a zoom, within its range. [m]

    >>> kit = Zoom.model_construct(shortest=0.018, longest=0.055)
    >>> [round(focal_on_ring(each / 1000, kit) * 1000, 3) for each in (50.2, 54.7, 80.0)]
    [51.0, 55.0, 55.0]
    >>> round(focal_on_ring(0.0502, kit, longer=False) * 1000, 3)
    50.0
    """
    mark = next(mark for least, mark in _RING if focal_length >= least)
    near = (math.ceil if longer else math.floor)(round(focal_length / mark, 6)) * mark
    return min(max(near, lens.shortest), lens.longest)
