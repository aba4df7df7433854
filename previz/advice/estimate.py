"""Every figure that is wanted, of thousands of ways to make a shot at once.

What depends on little is worked out once: what each place sees (`stands`), what each lens makes of that (a *framing*),
what each stop does to a framing, what each rate and shutter does. Arrays are (framings, stops, ways to record), with 1
where a figure does not depend on one of them, so that numpy multiplies them out where that is needed and not before.
Formulas are those of `physics`; `tests/advice/test_estimate.py` holds the figures against those of `predict`.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from previz.advice.choices import Option, pulses_of
from previz.advice.stands import Stands
from previz.layout import most_in_the_middle
from previz.physics import apparent_scale, flicker, optics, pacing
from previz.physics.exposure import iso_for_grey, working_f_number
from previz.predictions import (
    EXPOSURE_ERROR,
    NOISE_STOPS,
    SHARP_SHARE,
    hull_of,
    noise_limit_on,
    sharp_disc,
)
from previz.scene import Scene, Shot

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Numbers = NDArray[np.int64]

#: What a lens may be focused on: as the shot has it; the vehicle where it is in the middle of the picture; the depth
#: that halves what its run needs.
WRITTEN, MIDDLE, RUN = 0, 1, 2

#: Of the picture's width about its middle, the part in which the vehicle is mid-frame. Common practice, no source.
MID_FRAME = 1 / 3

#: Kept free of the nearest focus, so that a tape's rounding does not undo it. [m]
NEAREST_SPARE = 0.0015

#: Blur is taken for so much more than it is, for what a tape rounds and moments between those looked at. [-]
SHARP_SPARE = 1.015

#: How far off the worst is. [stops]
_LOST = 20.0

#: So much less of the vehicle may be in the picture than should be: its box is no outline. [-]
_HAIR = 0.05


@dataclass(frozen=True)
class Launch:
    """One way to let the vehicle go, and the run that comes of it.

    Parameters
    ----------
    height : float or None
        Of the release; None as it is written. [m]
    speed : float
        Where it is nearest to the picture's middle as the shot is written. [m/s]
    lasts : float
        How long the same stretch of the path takes. [s]
    fails : float
        By how much it does not reach the end of its path; 0 where it does. [stops]
    rate : float or None
        The rate that it is meant for; None for any. [frames/s]
    paced : float or None
        The rate at which it is so fast, where it goes with the rate: given as it looks on screen. [frames/s]
    whole : bool
        Whether it goes the same stretch at another rate: shorter or longer, as it is faster or slower.
    """

    height: float | None
    speed: float
    lasts: float
    fails: float = 0.0
    rate: float | None = None
    paced: float | None = None
    whole: bool = True


@dataclass(frozen=True)
class Light:
    """What a light meter reads on the vehicle, and what may be done about it.

    Parameters
    ----------
    by_lamp : mapping of str to float
        [lx]
    pulsing : float
        Share of it, or of the backdrop's, by lamps on the mains. [-]
    """

    by_lamp: Mapping[str, float]
    pulsing: float = 0.0

    @property
    def total(self) -> float:
        """[lx]"""
        return max(sum(self.by_lamp.values()), 1e-9)


@dataclass(frozen=True)
class Slack:
    """Limits drawn out, to see what a little more of each would buy; 1 leaves them as they are. [-]"""

    light: float = 1.0
    field: float = 1.0
    nearest: float = 1.0
    noise: float = 1.0


@dataclass(frozen=True)
class Framings:
    """What one camera in one mode makes of many places: each with a focal length and a focus.

    Parameters
    ----------
    option : Option
    stands : Stands
    place : (n,) int
        Which of the stands.
    focal : (n,) float
        [m]
    kind : (n,) int
        What it is focused on: WRITTEN, MIDDLE or RUN.
    covered : (p, t') float
        The widest field of each stand that sees nothing past the set, at the moments `stands.cast`.
    light : (p,) float
        On the vehicle as each stand sees it. [lx]
    slack : Slack
    focus_stays : bool
        Whether the focus is left as it is written.
    whole : float
        So much of the vehicle at least should be in the picture where it is nearest to its middle. [-]
    """

    option: Option
    stands: Stands
    place: Numbers
    focal: Array
    kind: Numbers
    covered: Array
    light: Array
    slack: Slack = field(default_factory=Slack)
    focus_stays: bool = False
    whole: float = 0.0

    def __len__(self) -> int:
        return len(self.place)

    @cached_property
    def focus(self) -> Array:
        """(n, t) [m]"""
        stands, place = self.stands, self.place
        written = stands.focus_left if self.focus_stays else stands.focus_as_written
        middle = np.take_along_axis(stands.vehicle[1], stands.middle_moment[:, None], axis=1)
        s = np.where((self.kind == WRITTEN)[:, None], written[place], middle[place])
        s = np.maximum(s, 1e-4)
        run = self.kind == RUN
        if run.any():
            # Blur is alike at both ends of a depth where 1/s is the mean of theirs.
            seen = self._seen(s)[run]
            near, far = (each[place][run] for each in stands.depths)
            first = np.where(seen, np.maximum(near, 1e-4), np.inf).min(axis=1)
            last = np.where(seen, far, 0.0).max(axis=1)
            even = np.where(last > 0, 2 / (1 / np.maximum(first, 1e-6) + 1 / np.maximum(last, 1e-6)), s[run, 0])
            s = s.copy()
            s[run] = even[:, None]
        return s

    @cached_property
    def bad_focus(self) -> Array:
        """How much nearer it is focused than the lens can. (n,) [stops]"""
        nearest = self.option.camera.nearest * self.slack.nearest + NEAREST_SPARE
        least = self.focus.min(axis=1)
        short = np.log2(np.maximum(nearest / least, 1.0))
        return np.where((self.focus <= self.focal[:, None] * 1.01).any(axis=1), _LOST, short)

    @cached_property
    def _lens(self) -> tuple[Array, Array]:
        """Image distance [m] and magnification (n, t); of what cannot be focused some that can."""
        f = self.focal[:, None]
        s = np.maximum(self.focus, f * 1.01)
        return optics.image_distance(f, s), optics.magnification(f, s)

    def _inside(self, s: Array) -> Array:
        """How far the vehicle reaches into the picture, on the sensor; below 0 where it does not. (n, t) [m]"""
        f = self.focal[:, None]
        v = optics.image_distance(f, np.maximum(s, f * 1.01))
        left, right, bottom, top = (each[self.place] * v for each in self.stands.extent)
        wide, high = self.option.area[0] / 2, self.option.area[1] / 2
        inside = np.minimum(np.minimum(right + wide, wide - left), np.minimum(top + high, high - bottom))
        return np.where(np.isnan(inside), -1.0, inside)

    def _seen(self, s: Array) -> Flags:
        return np.asarray(self._inside(s) > 0)

    @cached_property
    def seen(self) -> Flags:
        """Whether any of the vehicle is in the picture. (n, t)"""
        return self._seen(self.focus)

    @cached_property
    def shown(self) -> Flags:
        """Whether it ever is. (n,)"""
        return np.asarray(self.seen.any(axis=1))

    @cached_property
    def share(self) -> Array:
        """Of the shot's time that in which the vehicle is in the picture, coming and going between moments. (n,)"""
        inside, times = self._inside(self.focus), self.stands.stretch.now.times
        if len(times) == 1:
            return self.shown.astype(float)
        before, after = inside[:, :-1], inside[:, 1:]
        within = np.maximum(before, 0.0) + np.maximum(after, 0.0)
        part = within / np.maximum(np.abs(before) + np.abs(after), 1e-12)
        return np.asarray(part @ np.diff(times) / (times[-1] - times[0]))

    @cached_property
    def _off_middle(self) -> Array:
        """How far the vehicle's middle is from the picture's, in shares of its width; inf where not seen. (n, t)"""
        off = np.abs(self.stands.vehicle[0][self.place]) * self._lens[0] / self.option.area[0]
        return np.where(self.seen, off, np.inf)

    @cached_property
    def at_middle(self) -> Numbers:
        """The moment at which the vehicle is nearest to the picture's middle. (n,)"""
        return most_in_the_middle(self._off_middle, self.stands.stretch.middle)

    @cached_property
    def mid_frame(self) -> Flags:
        """Moments at which the vehicle is mid-frame, (n, t): the nearest to it where there is no other."""
        off = self._off_middle
        return np.asarray((off <= MID_FRAME / 2) | (np.isfinite(off) & (off == off.min(axis=1, keepdims=True))))

    @cached_property
    def width(self) -> Array:
        """Of the vehicle, of the picture's, where it is nearest to its middle. (n,)"""
        left, right, _, _ = self.stands.extent
        n = np.arange(len(self))
        tangents = (right - left)[self.place, self.at_middle]
        return np.where(self.shown, tangents * self._lens[0][n, self.at_middle] / self.option.area[0], np.nan)

    @cached_property
    def shows(self) -> Array:
        """How much of the vehicle's box is in the picture: across where it is nearest to the middle, and up and down on
        average while it is seen, for a vehicle comes and goes at the sides. (n,)"""
        n, v = np.arange(len(self)), self._lens[0]
        left, right, bottom, top = (each[self.place] * v for each in self.stands.extent)
        across, upright = (
            np.clip((np.minimum(high, side) - np.maximum(low, -side)) / np.maximum(high - low, 1e-12), 0.0, 1.0)
            for low, high, side in ((left, right, self.option.area[0] / 2), (bottom, top, self.option.area[1] / 2))
        )
        of_all = np.where(self.seen, upright, 0.0).sum(axis=1) / np.maximum(self.seen.sum(axis=1), 1)
        return np.where(self.shown, across[n, self.at_middle] * of_all, 0.0)

    @cached_property
    def cut_off(self) -> Array:
        """How much less of the vehicle is shown than should be. (n,) [stops]"""
        return np.log2(np.maximum(self.whole * (1 - _HAIR) / np.maximum(self.shows, 2.0**-_LOST), 1.0))

    @cached_property
    def field(self) -> Array:
        """How many times as wide a picture is as the set behind it allows. (n,)"""
        v = self._lens[0][:, self.stands.cast]
        wide = self.option.area[0] / 2 / v
        return np.asarray((wide / np.maximum(self.covered[self.place] * self.slack.field, 1e-9)).max(axis=1))

    @cached_property
    def shows_the_end(self) -> Array:
        """Whether the picture shows the vehicle off the table or in the backdrop: 1 or 0. (n,)"""
        return (self.seen & self.stands.stretch.off_the_set).any(axis=1).astype(float)

    # --- blur ---

    @cached_property
    def _discs(self) -> tuple[Array, Array, Array]:
        """At f/1 the worst and the least blur disc on the vehicle's box, and the disc of diffraction. (n, t) [m]"""
        s, m = np.maximum(self.focus, self.focal[:, None] * 1.01), self._lens[1]
        near, far = (np.maximum(each[self.place], 1e-6) for each in self.stands.depths)
        scale = self.focal[:, None] * m
        ends = np.abs(1 - s / near), np.abs(1 - s / far)
        least = np.where((near <= s) & (s <= far), 0.0, np.minimum(*ends))
        one = optics.diffraction_disc(working_f_number(1.0, m, self.option.camera.pupil_magnification))
        return scale * np.maximum(*ends), scale * least, one

    @cached_property
    def limit(self) -> float:
        """Blur that still counts as sharp. [m]"""
        return sharp_disc(self.option.area, self.option.pixel)

    def _blur(self, defocus: Array, moment: Numbers, stops: Array) -> Array:
        """Of discs (n, t) at f/1, at one moment each and at each stop, over the blur that counts as sharp. (n, k)"""
        disc, diffraction = (np.take_along_axis(each, moment[:, None], 1) for each in (defocus, self._discs[2]))
        return np.asarray(optics.blur_together(disc / stops, diffraction * stops) / self.limit)

    # Which moment is the sharpest or the worst goes by the focus alone: diffraction is all but the same in all of them.

    def sharp_middle(self, stops: Array) -> Array:
        """The worst blur on the vehicle while it is mid-frame, over what counts as sharp. (n, k)"""
        worst = np.argmax(np.where(self.mid_frame, self._discs[0], -1.0), axis=1)
        return np.where(self.shown[:, None], self._blur(self._discs[0], worst, stops), np.nan)

    def sharp_run(self, stops: Array) -> Array:
        """The same for the run: what as many frames stay under as should be sharp. (n, k)"""
        falling = np.argsort(-np.where(self.seen, self._discs[0], -1.0), axis=1, kind="stable")
        beyond = np.floor((1 - SHARP_SHARE) * self.seen.sum(axis=1) + 1e-9).astype(np.int64)
        worst = np.take_along_axis(falling, beyond[:, None], axis=1)[:, 0]
        return np.where(self.shown[:, None], self._blur(self._discs[0], worst, stops), np.nan)

    def ever_sharp(self, stops: Array) -> Array:
        """The least blur on any of the vehicle in any frame, over what counts as sharp. (n, k)"""
        least = np.argmin(np.where(self.seen, self._discs[1], np.inf), axis=1)
        return np.where(self.shown[:, None], self._blur(self._discs[1], least, stops), np.inf)

    def softened(self, stops: Array) -> Array:
        """By how much diffraction alone blurs past what counts as sharp, mid-shot. (n, k) [stops]"""
        disc = optics.diffraction_disc(self.working(stops))
        return np.asarray(np.log2(np.maximum(disc / self.limit, 1.0)))

    def behind(self, stops: Array) -> Array:
        """Blur disc of the background behind the picture's middle, mid-shot, over what counts as sharp. (n, k)"""
        middle = self.stands.stretch.middle
        s = np.maximum(self.focus[:, middle], self.focal * 1.01)[:, None]
        depth = np.maximum(self.stands.behind[self.place], 1e-6)[:, None]
        disc = optics.circle_of_confusion(np.broadcast_to(self.focal[:, None], s.shape), stops[None], s, depth)
        return np.asarray(disc / self.limit)

    def pupil(self, scale: float, stops: Array) -> Array:
        """Of a full-size camera with this blur. (n, k) [m]"""
        pupil = optics.entrance_pupil(self.focal[:, None], stops[None])
        return np.asarray(apparent_scale.full_size_pupil(pupil, scale))

    def working(self, stops: Array) -> Array:
        """Working f-numbers mid-shot. (n, k)"""
        m = self._lens[1][:, self.stands.stretch.middle]
        return np.asarray(working_f_number(stops[None], m[:, None], self.option.camera.pupil_magnification))

    def smear(self, by: float, streak: Array) -> Array:
        """The most that the vehicle smears in a time [s] while it is seen, of its length. (n,)

        streak: (p, t) of `Stands.streak` for that time.
        """
        v, pixel = self._lens[0], self.option.pixel
        moved = streak[self.place] * v
        worst = np.argmax(np.where(self.seen, moved, -1.0), axis=1)[:, None]
        length = np.maximum(self.stands.axis_length[self.place] * v, pixel)
        share = np.take_along_axis(moved, worst, 1)[:, 0] / np.take_along_axis(length, worst, 1)[:, 0]
        return np.where(self.shown, share, np.nan)

    @cached_property
    def in_the_way(self) -> Array:
        """1 where the camera stands in something, sinks into the table, or both: 2. (n,)"""
        sunk = self.stands.sunk(hull_of(self.option.camera))
        return np.asarray((self.stands.stuck > 0).astype(float) + (sunk > 0))[self.place]


@dataclass(frozen=True)
class Ways:
    """Ways to record and to launch, the last side of the arrays: one entry each of `recording` and `launch`."""

    recording: Numbers
    launch: Numbers
    rate: Array
    time: Array
    speed: Array
    lasts: Array
    fails: Array

    def __len__(self) -> int:
        return len(self.rate)

    def at(self, rate: float) -> "Ways":
        """Those that record at a rate. [frames/s]"""
        ours = self.rate == rate
        return Ways(*(getattr(self, each.name)[ours] for each in fields(self)))


def ways_of(option: Option, launches: tuple[Launch, ...]) -> Ways:
    """Every recording of a camera with every launch that is meant for its rate."""
    pairs = [
        (number, at)
        for number, each in enumerate(option.recordings)
        for at, launch in enumerate(launches)
        if launch.rate is None or abs(launch.rate - float(each.rate)) < 1e-6
    ]
    recording, launch = np.array(pairs, dtype=np.int64).T

    def recorded(name: str) -> Array:
        return np.array([float(getattr(each, name)) for each in option.recordings])[recording]

    def launched(name: str) -> Array:
        return np.array([float(getattr(each, name)) for each in launches])[launch]

    rates = recorded("rate")
    own = [(rate if launches[at].paced is None else launches[at].paced) for rate, at in zip(rates, launch, strict=True)]
    faster = rates / np.array(own, dtype=float)
    lasts = launched("lasts") / np.where([launches[at].whole for at in launch], faster, 1.0)
    return Ways(recording, launch, rates, recorded("time"), launched("speed") * faster, lasts, launched("fails"))


@dataclass(frozen=True)
class Judged:
    """Figures of one camera's framings, stops and ways, each (n or 1, k or 1, w or 1), and what stops them."""

    figures: Mapping[str, Array]
    stops: Array


def judged(
    scene: Scene,
    shot: Shot,
    framings: Framings,
    f_numbers: Array,
    ways: Ways,
    light: Light,
    wanted: frozenset[str],
) -> Judged:
    """The figures that are wanted, and by how much `check` would say that it cannot be. [stops]"""
    option, playback = framings.option, float(shot.playback)
    iso = _iso(shot, framings, f_numbers, ways)
    frames = np.floor(ways.lasts * ways.rate + 1e-6)
    ripple = _ripple(scene, option, ways) * light.pulsing
    found: dict[str, Array] = {"iso": iso, "ripple": ripple[None, None]}
    found["width"] = framings.width[:, None, None]
    found["edges"] = framings.field[:, None, None]
    found["lasts"] = framings.share[:, None, None] * (frames / playback)[None, None]
    speed = pacing.apparent_speed(ways.speed, scene.vehicle_scale, ways.rate / playback)
    found["speed"] = np.asarray(speed)[None, None]
    found["pupil"] = framings.pupil(float(scene.scale), f_numbers)[..., None]
    if "sharp_run" in wanted:
        found["sharp_run"] = SHARP_SPARE * framings.sharp_run(f_numbers)[..., None]
    if "sharp_middle" in wanted:
        found["sharp_middle"] = SHARP_SPARE * framings.sharp_middle(f_numbers)[..., None]
    if "behind" in wanted:
        found["behind"] = framings.behind(f_numbers)[..., None]
    if "smear" in wanted:
        by = shot.capture.exposure_time
        one = framings.smear(by, framings.stands.streak(by))[:, None, None]
        view = framings.stands.stretch.view
        now = max(view.travel.speed(float(view.times[view.mid_picture])), 1e-9)
        found["smear"] = one * (ways.time / by * ways.speed / now)[None, None]
    return Judged(found, _stops(scene, shot, framings, f_numbers, ways, iso, ripple))


def _iso(shot: Shot, framings: Framings, f_numbers: Array, ways: Ways) -> Array:
    """ISO that mid-grey takes, with the correction of an automatic one. (n, k, w)"""
    lux = np.maximum(framings.light[framings.place] * framings.slack.light, 1e-9)[:, None, None]
    needed = iso_for_grey(lux, ways.time[None, None], framings.working(f_numbers)[..., None])
    return np.asarray(needed * 2.0 ** float(shot.capture.exposure))


def _ripple(scene: Scene, option: Option, ways: Ways) -> Array:
    """The worst that lamps on the mains leave with each way to record, in light that is all theirs. (w,)"""
    worst = np.zeros(len(ways))
    for pulses in pulses_of(scene):
        each = [
            max(flicker.ripple_between_frames(rate, time, pulses), flicker.bands(option.readout, time, pulses))
            for rate, time in zip(ways.rate.tolist(), ways.time.tolist(), strict=True)
        ]
        worst = np.maximum(worst, each)
    return worst


def _stops(
    scene: Scene, shot: Shot, framings: Framings, f_numbers: Array, ways: Ways, iso: Array, ripple: Array
) -> Array:
    """By how much a shot cannot be: 0 where `check` would not stop it, nor the picture cut its vehicle off. (n, k, w)
    [stops]"""
    option = framings.option
    of_place = framings.bad_focus + framings.in_the_way + framings.shows_the_end + framings.cut_off
    of_place = of_place + np.where(framings.shown, 0.0, _LOST)
    if scene.set.backdrop is not None:
        of_place = of_place + np.log2(np.maximum(framings.field, 1.0))
    widest = np.array([option.camera.widest_at(float(f)) for f in framings.focal])
    opened = np.where(f_numbers[None] < widest[:, None] * 0.99, _LOST, 0.0)
    with np.errstate(invalid="ignore"):
        blurred = np.log2(np.clip(framings.ever_sharp(f_numbers), 1.0, 2.0**_LOST))
    of_stop = (of_place[:, None] + opened + blurred)[..., None]
    of_way = ways.fails + np.log2(np.maximum(ripple / flicker.HALF_A_STOP, 1.0))
    return of_stop + of_way[None, None] + _iso_stops(scene, shot, framings, iso)


def _iso_stops(scene: Scene, shot: Shot, framings: Framings, iso: Array) -> Array:
    """By how much the light asks for an ISO that the camera has not, or that drowns the picture in noise."""
    camera, may, fixed = framings.option.camera, scene.may_change.iso, shot.capture.iso != "auto"
    low, high = (float(end) for end in camera.iso)
    noise = NOISE_STOPS[not fixed] * noise_limit_on(framings.option.area) * framings.slack.noise
    if fixed and may is False:
        error = np.abs(np.log2(iso / float(shot.capture.iso)))
        used = float(shot.capture.iso)
        outside = max(math.log2(used / min(high, noise)), math.log2(low / used), 0.0)
        return np.asarray(np.maximum(error - EXPOSURE_ERROR[0], 0.0) + outside)
    if may is not True and may is not False:
        low, high = max(low, may.least), min(high, may.most)
    return np.log2(np.maximum(np.maximum(iso / min(high, noise), low / iso), 1.0))
