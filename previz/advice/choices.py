"""What may change, as what there is to choose from: cameras and modes, rates and shutters, bounds of all the rest."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.physics import flicker
from previz.physics.exposure import THIRD_STOP_F_NUMBERS
from previz.physics.pacing import rates_beside
from previz.scene import Camera, Capture, MayChange, Mode, Range, Scene, Shot, Shutter, ShutterRange, recorded_area
from previz.units import ANGLE, TIME, text_of

Array = NDArray[np.float64]

#: Shutters that are tried beside the shot's own, as angles: the usual one and half of it. A longer one smears, so that
#: it is only tried where `may_change` says so. Common practice, no source. [deg]
ANGLES = (180, 90)
LONG_ANGLES = (360, 270)

#: Where nothing else bounds it: how low and how high over the table a camera may stand. Common practice, no source. [m]
LOWEST, HIGHEST = 0.01, 0.6

#: Rates and shutters that are tried of one camera, at most.
_MOST_RATES = 5


@dataclass(frozen=True)
class Recording:
    """A rate and a shutter. `words` is the shutter as a file has it."""

    rate: Fraction
    time: float
    words: str


@dataclass(frozen=True)
class Option:
    """One camera in one of its modes.

    Parameters
    ----------
    name : str
    camera : Camera
    mode : Mode
    area : (float, float)
        What it records of its sensor. [m]
    focal : Range
        Focal lengths it may be set to; `focals` those to choose from where only some may be. [m]
    stops : (k,) float
        Stops it has at some focal length, those at which it may be set. [-]
    recordings : tuple of Recording
        Rates and shutters to choose from.
    """

    name: str
    camera: Camera
    mode: Mode
    area: tuple[float, float]
    focal: Range
    focals: tuple[float, ...]
    stops: Array
    recordings: tuple[Recording, ...]

    @property
    def shape(self) -> float:
        """Width over height of its picture. [-]"""
        return self.area[0] / self.area[1]

    @property
    def pixel(self) -> float:
        """[m]"""
        return self.area[0] / self.mode.width

    @property
    def readout(self) -> float:
        """How long its shutter rolls; as long as it can where that is not known. [s]"""
        known = self.camera.readout_in(self.mode)
        return self.mode.frame_time if known is None else known


def options_of(scene: Scene, shot: Shot, *, rates: Sequence[float] = ()) -> tuple[Option, ...]:
    """Every camera in every mode that may film a shot.

    rates: those worth trying beside the usual ones. [frames/s]
    """
    may, found = scene.may_change, []
    names = list(scene.cameras) if may.camera is True else [shot.camera] if may.camera is False else list(may.camera)
    for name in dict.fromkeys([shot.camera] * (shot.camera in names) + names):
        camera = scene.cameras[name]
        focal, focals = _focal(camera, shot, may)
        stops = _stops(camera, shot, may)
        modes = _modes(scene, shot, camera, name) if (focal.least <= focal.most and len(stops)) else []
        for mode in modes:
            own = name == shot.camera and mode.same_as(scene.mode(shot))
            larger = [] if own else [other for other in modes if _larger(camera, other, mode)]
            recordings = tuple(
                each
                for each in _recordings(scene, shot, camera, mode, rates)
                if not any(camera.records(other, each.rate) for other in larger)
            )
            if recordings:
                area = recorded_area(camera, mode)
                found.append(Option(name, camera, mode, area, focal, focals, stops, recordings))
    return tuple(found)


def bounds(scene: Scene, key: str, now: float, wide: Range) -> Range:
    """What one of `may_change`'s lengths may be: as it is, as the file says, or anything sensible."""
    may = getattr(scene.may_change, key)
    if may is False:
        return Range(now, now)
    return wide if may is True else may


def _focal(camera: Camera, shot: Shot, may: MayChange) -> tuple[Range, tuple[float, ...]]:
    lens, asked = camera.lens, may.focal_length
    if asked is True:
        return Range(lens.shortest, lens.longest), ()
    if isinstance(asked, Range):
        return Range(max(lens.shortest, asked.least), min(lens.longest, asked.most)), ()
    chosen = [shot.focal_length] if asked is False else asked
    there = tuple(sorted(each for each in chosen if lens.shortest * (1 - 1e-6) <= each <= lens.longest * (1 + 1e-6)))
    return (Range(there[0], there[-1]), there) if there else (Range(1.0, 0.0), ())


def _stops(camera: Camera, shot: Shot, may: MayChange) -> Array:
    """Third stops between the ends of a lens, its own ends among them."""
    widest, smallest = float(camera.widest), float(camera.smallest)
    third = [each for each in THIRD_STOP_F_NUMBERS if widest * 1.01 < each < smallest * 0.99]
    every = sorted({widest, *third, smallest})
    asked = may.f_number
    if isinstance(asked, Range):
        every = [each for each in every if asked.least * 0.999 <= each <= asked.most * 1.001]
    elif asked is not True:
        chosen = [shot.f_number] if asked is False else asked
        every = [float(each) for each in chosen if widest * 0.99 <= each <= smallest * 1.03]
    return np.array(every)


def _modes(scene: Scene, shot: Shot, camera: Camera, name: str) -> list[Mode]:
    """Modes to choose from; where none may be, the shot's own, or of another camera the one that would be taken."""
    asked = scene.may_change.mode
    if asked is True:
        return list(camera.modes)  # those of use: `_larger`
    if asked is False:
        named = shot.capture.mode
        if name == shot.camera:
            return [scene.mode(shot)] if named is not None else camera.of_one_size(scene.mode(shot))
        taken = camera.mode_for(shot.capture.rate)
        same = [mode for mode in camera.modes if named is None or mode.same_as(named)]
        return camera.of_one_size(taken) if named is None and taken is not None else same[:1]
    return [mode for mode in camera.modes if any(mode.same_as(each) for each in asked)]


def _larger(camera: Camera, other: Mode, mode: Mode) -> bool:
    """Whether another mode has the same picture in more pixels: then the one is of use at rates alone that it has not.

    It is too where its shutter is known to roll faster. That of a mode without a read-out is not known, so it is no
    gain; nor is that larger pixels let more blur count as sharp.
    """
    if other.width * mode.height != mode.width * other.height or other.width <= mode.width or other.crop > mode.crop:
        return False
    known = camera.readout_in(other), camera.readout_in(mode)
    return known[0] is None or known[1] is None or known[0] <= known[1]


def _recordings(scene: Scene, shot: Shot, camera: Camera, mode: Mode, rates: Sequence[float]) -> tuple[Recording, ...]:
    found: dict[tuple[Fraction, float], Recording] = {}
    for rate in _rates(scene, shot, camera, mode, rates):
        for words, time in _shutters(scene, shot, rate):
            if time * rate <= 1 + 1e-9:
                found.setdefault((rate, round(time, 9)), Recording(rate, time, words))
    return tuple(found.values())


def _rates(scene: Scene, shot: Shot, camera: Camera, mode: Mode, rates: Sequence[float]) -> list[Fraction]:
    asked, own = scene.may_change.rate, shot.capture.rate
    first = [own] if camera.records(mode, own) else []
    if asked is False:
        return first
    if asked is not True:
        return [Fraction(each) for each in asked if camera.records(mode, Fraction(each))]
    if camera.only(mode):
        return first or [mode.fastest]
    offered = (Fraction(rate).limit_denominator(1001) for rate in rates_beside([float(mode.fastest)]))
    usual = [rate for rate in offered if shot.playback <= rate < mode.fastest]
    near = [min(usual, key=lambda rate: abs(math.log(rate / wanted))) for wanted in rates if usual and wanted > 0]
    other = sorted(usual, key=lambda rate: -rate)
    return list(dict.fromkeys([*first, mode.fastest, *near, *other]))[:_MOST_RATES]


def _shutters(scene: Scene, shot: Shot, rate: Fraction) -> list[tuple[str, float]]:
    """Shutters at a rate by what a file would say, and their times [s]: first the shot's own."""
    asked, own = scene.may_change.shutter, shot.capture.shutter
    if asked is False:
        return [shutter_at(own, rate)]
    if isinstance(asked, tuple | list):
        return [shutter_at(each, rate) for each in asked]
    angles = [(f"{angle} deg", angle / 360 / float(rate)) for angle in (*ANGLES, *LONG_ANGLES * (asked is not True))]
    # Past half a turn too: where lamps pulse, what suits them comes before the usual angle.
    steady = [
        (f"{Fraction(n, pulses)} s", n / pulses)
        for pulses in pulses_of(scene)
        for n in range(1, 1 + len(flicker.steady_shutters(float(rate), pulses)))
        if n <= 2
    ]
    every = [shutter_at(own, rate), *angles, *steady]
    return [each for each in every if _within(asked, each[1], rate)] if isinstance(asked, ShutterRange) else every


def _within(asked: ShutterRange, time: float, rate: Fraction) -> bool:
    if asked.time is not None:
        return asked.time.least * (1 - 1e-9) <= time <= asked.time.most * (1 + 1e-9)
    assert asked.angle is not None  # one of the two
    angle = time * float(rate) * 2 * math.pi
    return asked.angle.least * (1 - 1e-9) <= angle <= asked.angle.most * (1 + 1e-9)


def shutter_at(shutter: Shutter, rate: Fraction) -> tuple[str, float]:
    """A shutter at a rate: what a file would say, and its time. [s]"""
    time = Capture.model_construct(rate=rate, shutter=shutter).exposure_time
    words = text_of(ANGLE, shutter.angle) if shutter.angle is not None else text_of(TIME, time)
    return words, time


def pulses_of(scene: Scene) -> tuple[int, ...]:
    """Pulses of light a second of the lamps on the mains, for each supply that they may be on; none without such."""
    if not any(light.mains for light in scene.lights):
        return ()
    return tuple(flicker.PULSES.values()) if scene.mains is None else (flicker.PULSES[scene.mains],)


def grid(range_: Range, now: float, count: int, *, even: bool = False) -> Array:
    """So many values from end to end of a range, and what is now if it lies in it."""
    least, most = range_.least, range_.most
    if most <= least * (1 + 1e-9) + 1e-12:
        return np.array([least])
    spread: Any = np.linspace if even or least <= 0 else np.geomspace
    return np.unique([*spread(least, most, count), *([now] if least <= now <= most else [])])
