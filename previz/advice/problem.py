"""The problem that a search solves: a shot, what may change of it, what is wanted, and what its light and set allow."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from previz.advice.choices import HIGHEST, LOWEST, Option, bounds, grid, options_of, pulses_of
from previz.advice.demands import Demand, demands_of
from previz.advice.estimate import MIDDLE, RUN, WRITTEN, Framings, Judged, Launch, Light, Slack, Ways, judged, ways_of
from previz.advice.stands import Stands
from previz.advice.stretch import Stretch, goes_by_the_clock, moves_by_the_clock, stretch_of
from previz.advice.variants import Variant
from previz.errors import PrevizError
from previz.layout import (
    VehiclePose,
    chassis_of,
    launch_of,
    measured,
    profile_of,
    travel_of,
    vehicle_on,
    vehicle_path,
)
from previz.light import meter
from previz.physics import pacing, ramp
from previz.physics.paths import Travel
from previz.predictions import STEEP, ShotView, view_of
from previz.scene import Focus, Range, Scene, ScreenSpeed, Shot, looks_so_fast

Array = NDArray[np.float64]
Numbers = NDArray[np.int64]

#: How many distances and heights are looked at before the search closes in. [-]
DISTANCES, HEIGHTS = 13, 5

#: So many times as wide as the cameras see it is looked for where the set ends.
_WIDER = 1.3

#: A picture is kept so much narrower than the set allows, for what its lines do not see and a tape rounds. [-]
FIELD_SPARE = 0.985

#: Of the vehicle, in the picture: more than that cut off and it reads as cut off. Common practice, no source.
NEARLY_WHOLE = 0.9


@dataclass(frozen=True)
class Meter:
    """What a light meter read at some places of the camera: back and up (n, 2) [m], and on the vehicle (n,). [lx]"""

    places: Array
    lux: Array

    def at(self, back: Array, up: Array) -> Array:
        """Between those places, each counted by how near it is. (p,) [lx]"""
        off = np.hypot(back[:, None] - self.places[:, 0], up[:, None] - self.places[:, 1])
        weights = 1 / (off + 1e-3) ** 2
        return np.asarray(np.exp((weights @ np.log(self.lux)) / weights.sum(axis=1)))

    def learned(self, back: float, up: float, lux: float) -> "Meter":
        """With one more reading."""
        return Meter(np.vstack([self.places, [back, up]]), np.append(self.lux, max(lux, 1e-9)))


@dataclass(frozen=True)
class Seen:
    """How wide the set is seen, as logarithms, by pictures of one shape.

    Parameters
    ----------
    table : (x, y, t') float
        From the coarse stands.
    places : list of (float, float)
        Others that were looked from: back and up. [m]
    off : list of (t',) float
        By how much those are off what lies between the coarse ones.
    """

    table: Array
    places: list[tuple[float, float]] = field(default_factory=list)
    off: list[Array] = field(default_factory=list)


@dataclass(frozen=True)
class Problem:
    """A shot to be made as well as can be.

    Parameters
    ----------
    stretch : Stretch
        The shot as written, laid open.
    options : tuple of Option
        The cameras, in the modes that they may film in.
    launches : tuple of Launch
        The launch as written first.
    demands : tuple of Demand
        What is wanted, the most important first.
    metered : Meter
    light : Light
        As the shot is written.
    kinds : tuple of int
        What may be focused on.
    slack : Slack
        Limits drawn out.
    variant : Variant
        What is built or lit otherwise in it.
    before : Scene or None
        The scene without that; None where there is none of it.
    seen : dict of float to Seen
        By shape of the picture: what was looked at so far. Problems that differ in limits alone have it in common.
    """

    stretch: Stretch
    options: tuple[Option, ...]
    launches: tuple[Launch, ...]
    demands: tuple[Demand, ...]
    metered: Meter
    light: Light
    kinds: tuple[int, ...]
    slack: Slack = field(default_factory=Slack)
    variant: Variant = field(default_factory=Variant)
    before: Scene | None = None
    seen: dict[float, Seen] = field(default_factory=dict, compare=False)

    @property
    def scene(self) -> Scene:
        """As written."""
        return self.stretch.scene

    @property
    def shot(self) -> Shot:
        """As written."""
        return self.stretch.shot

    @cached_property
    def wanted(self) -> frozenset[str]:
        """Figures that are asked for."""
        return frozenset(demand.figure for demand in self.demands)

    def places(self, back: Array, up: Array) -> Stands:
        """Stands of this shot."""
        return Stands(self.stretch, np.asarray(back, dtype=float), np.asarray(up, dtype=float))

    @cached_property
    def here(self) -> Stands:
        """The one place where the camera is as written."""
        return self.places(np.zeros(1), np.zeros(1))

    @cached_property
    def backs(self) -> Array:
        """How much further back over the table a camera may stand, from end to end, as high as it is or may be. [m]

        What it is aimed at is then as far off as may be. Raises PrevizError where it is so at no place of that height.
        """
        now, off = float(self.here.distance[0]), self.stretch.now.eye - self.stretch.now.aim
        flat, rise = float(np.hypot(*off[self.stretch.middle, :2])), float(off[self.stretch.middle, 2])
        nearest = min(option.camera.nearest for option in self.options)
        wide = Range(min(0.9 * nearest, now), 3.0 * now)
        allowed, above = bounds(self.scene, "distance", now, wide), float(np.abs(rise + self.ups).min())
        # From no steeper than as written, or than what still is the same side.
        least = max(allowed.least, min(above / max(math.sin(STEEP), abs(rise) / now), now))
        if least > allowed.most:
            raise PrevizError(
                f"shot {self.shot.id!r}: at the heights that may_change leaves it, no camera can stand where distance: "
                "has it; let go of height or distance"
            )
        far = grid(Range(least, allowed.most), now, DISTANCES)
        return np.unique(np.where(far == now, 0.0, np.sqrt(np.maximum(far**2 - above**2, 0.0)) - flat))

    @cached_property
    def ups(self) -> Array:
        """How much higher it may stand. [m]"""
        now = float(self.here.height[0])
        wide = Range(min(LOWEST, now), max(HIGHEST, now))
        allowed = bounds(self.scene, "height", now, wide)
        return grid(allowed, now, HEIGHTS, even=now <= 0) - now

    @cached_property
    def coarse(self) -> Stands:
        """Every distance with every height."""
        back, up = np.meshgrid(self.backs, self.ups, indexing="ij")
        return self.places(back.ravel(), up.ravel())

    def covered(self, shape: float) -> Array:
        """Of the coarse stands. (p, t')"""
        return self.covered_near(shape, self.coarse)

    def covered_near(self, shape: float, stands: Stands) -> Array:
        """Of any stands, between those that were looked at. (p, t')"""
        seen = self._seen_from(shape)
        bilinear = _between(self.backs, self.ups, seen.table, stands.back, stands.up)
        if not seen.places:
            return np.asarray(np.exp(bilinear))
        # What was looked at between the coarse stands sets that right about it.
        apart = np.array([max(np.diff(each).max(initial=0.0), 1e-3) for each in (self.backs, self.ups)])
        here = np.column_stack([stands.back, stands.up]) / apart
        known = np.vstack([np.column_stack([self.coarse.back, self.coarse.up]), seen.places]) / apart
        off = np.vstack([np.zeros((len(self.coarse.back), bilinear.shape[1])), seen.off])
        weights = 1 / (np.linalg.norm(here[:, None] - known, axis=-1) + 1e-6) ** 2
        return np.asarray(np.exp(bilinear + weights @ off / weights.sum(axis=1, keepdims=True)))

    def look_from(self, shape: float, back: float, up: float) -> None:
        """Look from one stand, for what lies about it: once for all cameras whose picture has that shape."""
        seen, place = self._seen_from(shape), (back, up)
        if place in seen.places or (back in self.backs and up in self.ups):
            return
        stands = self.places(np.array([back]), np.array([up]))
        found = np.log(np.maximum(self.covered_at(shape, stands), 1e-6))
        off = found - _between(self.backs, self.ups, seen.table, stands.back, stands.up)
        seen.places.append(place)
        seen.off.append(off[0])

    def _seen_from(self, shape: float) -> Seen:
        key = round(shape, 6)
        if key not in self.seen:
            covered = np.log(np.maximum(self.covered_at(shape, self.coarse), 1e-6))
            self.seen[key] = Seen(covered.reshape(len(self.backs), len(self.ups), -1))
        return self.seen[key]

    def covered_at(self, shape: float, stands: Stands) -> Array:
        """Of other stands, looked at themselves. (p, t')"""
        return FIELD_SPARE * stands.covered(shape, self.widest)

    @cached_property
    def widest(self) -> float:
        """Half the widest field that any of the cameras has, and as much more as a shorter lens is looked for. [-]"""
        return _WIDER * max(option.area[0] / 2 / option.focal.least for option in self.options) / FIELD_SPARE

    def framings(self, option: Option, stands: Stands, covered: Array, focals: Array) -> Framings:
        """Every stand with each of its focal lengths (p, f) and every focus."""
        place, lens, kind = (each.ravel() for each in np.indices((*focals.shape, len(self.kinds))))
        return Framings(
            option,
            stands,
            place,
            focals[place, lens],
            np.array(self.kinds)[kind],
            covered,
            self.metered.at(stands.back, stands.up),
            self.slack,
            focus_stays=self.scene.may_change.focus is False,
            whole=self.whole,
        )

    @cached_property
    def whole(self) -> float:
        """As much of the vehicle in the picture as the shot has as it is written, or nearly all of it. [-]"""
        return min(float(_framing_as_written(self).shows[0]), NEARLY_WHOLE)

    def focals(self, option: Option, stands: Stands, covered: Array, tried: Array) -> Array:
        """Focal lengths (p, f) worth trying at each stand: some, and those that just do what is wanted of framing."""
        if option.focals:
            return np.broadcast_to(np.array(option.focals), (len(stands.back), len(option.focals)))
        depth, moment = stands.vehicle[1], stands.middle_moment[:, None]
        s = np.maximum(np.take_along_axis(depth, moment, 1)[:, 0], 1e-3)
        left, right, _, _ = stands.extent
        seen = np.take_along_axis(right - left, moment, 1)[:, 0]
        distances = [option.area[0] / 2 / np.maximum(0.995 * self.slack.field * covered.min(axis=1), 1e-6)]
        for demand in self.demands:
            if demand.figure == "width":
                least, most = demand.range.least, min(demand.range.most, 1.0)
                distances += [
                    share * option.area[0] / seen for share in (least * 1.01, (least + most) / 2, most * 0.99)
                ]
        # A want with one end has none to solve for at the other.
        finite = [np.where(np.isfinite(v), v, np.nan) for v in distances]
        solved = [np.where(np.isnan(v), option.focal.least, v * s / (s + v)) for v in finite]
        every = np.column_stack([*np.broadcast_to(tried, (len(s), tried.shape[-1])).T, *solved])
        return np.clip(every, option.focal.least, option.focal.most)

    def judged(self, framings: Framings, f_numbers: Array, ways: Ways) -> Judged:
        """Their figures."""
        return judged(self.scene, self.shot, framings, f_numbers, ways, self.light, self.wanted)

    def ways(self, option: Option) -> Ways:
        """To record with a camera, and to launch."""
        return ways_of(option, self.launches)

    def with_slack(self, slack: Slack) -> "Problem":
        """The same with limits drawn out."""
        return replace(self, slack=slack)


def _between(x: Array, y: Array, table: Array, at_x: Array, at_y: Array) -> Array:
    """A table (x, y, k) between its places, bilinear, and as at its ends beyond them. (n, k)"""

    def cell(values: Array, at: Array) -> tuple[Numbers, Numbers, Array]:
        if len(values) == 1:
            zero = np.zeros(len(at), dtype=np.int64)
            return zero, zero, np.zeros((len(at), 1))
        low = np.clip(np.searchsorted(values, at, side="right") - 1, 0, len(values) - 2)
        share = np.clip((at - values[low]) / (values[low + 1] - values[low]), 0.0, 1.0)
        return low, low + 1, share[:, None]

    (a, b, u), (c, d, v) = cell(x, at_x), cell(y, at_y)
    below = table[a, c] * (1 - u) + table[b, c] * u
    above = table[a, d] * (1 - u) + table[b, d] * u
    return np.asarray(below * (1 - v) + above * v)


# --- what there is to solve ---


def built_otherwise(problem: Problem, variant: Variant) -> Problem:
    """The same shot in a scene that is built or lit otherwise; what is wanted stays what it was."""
    number = problem.scene.shots.index(problem.shot)
    scene = variant.into(problem.scene)
    again = problem_of(scene, scene.shots[number])
    return replace(again, demands=problem.demands, variant=variant, before=problem.scene)


def problem_of(scene: Scene, shot: Shot) -> Problem:
    """Lay a shot open as a problem.

    Raises
    ------
    PrevizError
        Where the shot cannot be laid open as it is written, or nothing drives.
    """
    if scene.vehicle is None:
        raise PrevizError("advice goes by the vehicle, and the set has none; add one under vehicle")
    view = view_of(scene, shot)
    launches = launches_of(view)
    options = options_of(scene, shot, rates=_rates(scene, shot, launches))
    if not options:
        raise PrevizError(
            f"shot {shot.id!r}: with what may_change leaves, no camera can film it; let go of focal_length, f_number, "
            "rate or mode"
        )
    stretch = stretch_of(view)
    lit = view.light
    light = Light(lit.vehicle.by_lamp, _pulsing(view))
    plain = Problem(stretch, options, launches, (), Meter(np.zeros((1, 2)), np.array([light.total])), light, (WRITTEN,))
    as_written = figures_as_written(plain)
    kinds = (WRITTEN, MIDDLE, RUN) if isinstance(shot.focus, Focus) and scene.may_change.focus is not False else (0,)
    whole = replace(plain, demands=demands_of(scene, shot, as_written), kinds=kinds)
    return replace(whole, metered=_metered(whole))


def figures_as_written(problem: Problem) -> dict[str, float]:
    """What a framing as written is held against: the vehicle's width as the shot has it."""
    return {"width": float(_framing_as_written(problem).width[0])}


def _framing_as_written(problem: Problem) -> Framings:
    """The shot as the file has it, alone."""
    view, scene = problem.stretch.view, problem.scene
    option = Option(
        problem.shot.camera, view.camera, view.mode, view.area, Range(), (), np.array([problem.shot.f_number]), ()
    )
    stands = problem.here
    one = np.zeros(1, dtype=np.int64)
    focal = np.array([problem.shot.focal_length])
    stays = scene.may_change.focus is False
    return Framings(option, stands, one, focal, one, np.ones((1, len(stands.cast))), np.ones(1), focus_stays=stays)


def _pulsing(view: ShotView) -> float:
    """The most that lamps on the mains give of the light on the vehicle or the backdrop. [-]"""
    names = [light.id for light in view.scene.lights if light.mains]
    shares = [0.0]
    for place in (view.light.vehicle, view.light.backdrop):
        if names and place is not None and place.total > 0:
            shares.append(sum(place.by_lamp[name] for name in names) / place.total)
    return max(shares)


def _metered(problem: Problem) -> Meter:
    """Read where the camera stands as written, and towards the ends of where it may stand, clear of all things."""
    stretch = problem.stretch
    view, middle = stretch.view, stretch.middle
    found = problem.metered
    backs, ups = problem.backs, problem.ups
    some = {min(2, len(backs) - 1), max(len(backs) - 2, 0)}
    ends = {(float(backs[at]), float(up)) for at in some for up in ups[[0, -1]]} - {(0.0, 0.0)}
    for back, up in sorted(ends):
        stands = problem.places(np.array([back]), np.array([up]))
        if stands.stuck[0] > 0 or stands.depths[0].min() <= 0:
            continue
        focus = max(float(stands.vehicle[1][0, middle]), 1e-3)
        lit = meter(problem.scene, problem.shot, stands.pose(0, middle, focus), _vehicle_pose(view))
        found = found.learned(back, up, lit.vehicle.total)
    return found


def _vehicle_pose(view: ShotView) -> VehiclePose:
    """Mid-shot."""
    return vehicle_on(view.path, float(view.distances[view.middle]))


# --- launches ---


def launches_of(view: ShotView) -> tuple[Launch, ...]:
    """Ways to let the vehicle go, the one as written first: the same stretch of its path is filmed with each.

    A shot that goes by the clock is filmed as it is launched now: its moves would come at the wrong time.
    """
    scene = view.scene
    lasts = view.count / float(view.shot.capture.rate)
    if view.shot.duration is not None:
        lasts = max(float(view.shot.duration), 1 / float(view.shot.capture.rate))
    paced = float(view.shot.capture.rate) if looks_so_fast(scene, view.shot) else None
    now = Launch(
        None,
        view.travel.speed(float(view.times[view.mid_picture])),
        lasts,
        paced=paced,
        whole=not moves_by_the_clock(view.shot),
    )
    if scene.may_change.launch_height is False or launch_of(scene) is None or goes_by_the_clock(view.shot):
        return (now,)
    start = float(view.shot.start)
    ends = [view.travel.distance(start), view.travel.distance(start + lasts)]
    middle = float(view.distances[view.mid_picture])
    found = [now]
    for height, rate in _heights(view, middle):
        launch = _launched(scene, height, ends, middle)
        if launch is not None:
            found.append(replace(launch, rate=rate))
    return tuple(found)


def _heights(view: ShotView, middle: float) -> list[tuple[float, float | None]]:
    """Release heights worth trying [m], with the rate that each is for: those that give the speeds that are wanted.

    Where no speed is wanted a few from end to end of what may be, for any rate.
    """
    scene, launch = view.scene, measured(view.scene)
    now, length = float(launch.ramp.height), float(launch.ramp.length)
    allowed = bounds(scene, "launch_height", now, Range(now / 4, min(4 * now, 0.7 * length)))
    allowed = Range(allowed.least, min(allowed.most, 0.95 * length))
    wanted = [want.speed for want in scene.wants_of(view.shot) if isinstance(want, ScreenSpeed)]
    if not wanted:
        return [(float(height), None) for height in np.linspace(allowed.least, allowed.most, 3) if height != now]
    lost = 2 * view.travel.deceleration * max(middle, 0.0)
    found: list[tuple[float, float | None]] = []
    for rate in _all_rates(scene, view.shot):
        slow = rate / float(view.shot.playback)
        for aim in _within(wanted[0]):
            speed = math.sqrt(float(pacing.set_speed(aim, scene.vehicle_scale, slow)) ** 2 + lost)
            height = _height_for(speed, view)
            if height is not None:
                found.append((min(max(height, allowed.least), allowed.most), rate))
    return list(dict.fromkeys((round(height, 4), rate) for height, rate in found))


def _all_rates(scene: Scene, shot: Shot) -> list[float]:
    """Every rate that some camera may be tried at. [frames/s]"""
    options = options_of(scene, shot, rates=[pulses / 2 for pulses in pulses_of(scene)])
    return sorted({float(each.rate) for option in options for each in option.recordings})


def _within(wanted: Range) -> list[float]:
    """Speeds a little inside the ends of a range, and its middle."""
    least, most = max(wanted.least, 0.0), wanted.most
    if not math.isfinite(most):
        return [1.02 * least]
    return [1.02 * least, (least + most) / 2, 0.98 * most] if least > 0 else [most / 2, 0.98 * most]


def _height_for(speed: float, view: ShotView) -> float | None:
    launch = measured(view.scene)
    profile = profile_of(launch.ramp)
    try:
        return ramp.height_for_speed(speed, profile, launch.wheel_share, launch.rolling, chassis_of(view.scene))
    except ramp.TooShort:
        return None


def _launched(scene: Scene, height: float, ends: Sequence[float], middle: float) -> Launch | None:
    """A launch from a height, the same stretch of the path from end to end; None where it is not driven."""
    travel = travel_of(released_from(scene, height))
    begins, over = (travel.time_at(end) for end in ends)
    if not math.isfinite(begins) or not math.isfinite(over) or over <= begins:
        return None
    launch, length = measured(scene), vehicle_path(scene).length
    rolls = ramp.coasting_distance(travel.speed_at_start, launch.wheel_share, launch.rolling)
    fails = math.log2(length / rolls) if 0 < rolls < length else 20.0 if rolls <= 0 else 0.0
    return Launch(height, travel.speed(_time_at(travel, middle)), over - begins, fails)


def _time_at(travel: Travel, distance: float) -> float:
    time = travel.time_at(distance)
    return time if math.isfinite(time) else 0.0


def released_from(scene: Scene, height: float) -> Scene:
    """The scene with another release height. [m]"""
    vehicle = scene.vehicle
    assert vehicle is not None and vehicle.launch is not None  # asked of launched vehicles only
    slope = vehicle.launch.ramp.model_copy(update={"height": height})
    launch = vehicle.launch.model_copy(update={"ramp": slope})
    return scene.model_copy(update={"vehicle": vehicle.model_copy(update={"launch": launch})})


def _rates(scene: Scene, shot: Shot, launches: Sequence[Launch]) -> list[float]:
    """Rates worth trying: for lamps on the mains, and for a speed as the vehicle is launched now. [frames/s]"""
    # Shutters of whole pulses are half a frame long at half as many frames a second.
    found = [pulses / 2 for pulses in pulses_of(scene)]
    for want in scene.wants_of(shot):
        if isinstance(want, ScreenSpeed):
            for end in (want.speed.least, want.speed.most):
                if math.isfinite(end) and end > 0:
                    found.append(launches[0].speed * scene.vehicle_scale / end * float(shot.playback))
    return found
