"""From a stage to frames: many views, one mean, then the sensor."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.frames.evened import evened
from previz.frames.gl import Raster
from previz.frames.gl.raster import FrameState, ViewState
from previz.frames.lens import Lens
from previz.frames.light import PathLight, SetLight
from previz.frames.plan import OVERLAP, Blurs, difference, filling_for, views_for
from previz.frames.sensor import Noise, exposure_gain
from previz.frames.spent import Spent
from previz.frames.views import Views, views
from previz.frames.workers import Crew
from previz.predictions.exposure import iso_for_grey, working_f_number
from previz.predictions.motion import (
    CameraPose,
    Curve,
    FrameTimes,
    Travel,
    VehiclePose,
    camera_at,
    frame_times,
    travel_of,
    vehicle_on,
    vehicle_path,
)
from previz.scene import Scene, Shot, recorded_area
from previz.stage import LUMINANCE, Station, Unlit, white_rgb

if TYPE_CHECKING:
    from previz.stage import Stage

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

#: Looks by which it is found out how far views differ: fewer miss what lies one way, more tell no more.
_TRIED = 3

#: Light on the vehicle is baked this close along its path at most, and interpolated between. [m]
STATION_SPACING = 0.035


@dataclass(frozen=True)
class Look:
    """How the picture is made, not what is in it.

    Parameters
    ----------
    size : (int, int)
        Width and height. [px]
    views : int or None
        Views over pupil and shutter in each frame; None chooses them for `quality`.
    quality : {"draft", "normal", "fine"} or float
        What the choice aims at: a preset, or a mean FLIP error such as 0.02.
    filtered : bool
        Whether each view fills its own patch of pupil and shutter; False takes the plain mean of pinhole views.
    frames : range or None
        Which frames of the shot; None for all.
    seed : int
        Of the sensor noise.
    noise : bool
        False leaves the sensor noise out.
    """

    size: tuple[int, int] = (1280, 720)
    views: int | None = None
    frames: range | None = None
    seed: int = 0
    noise: bool = True
    quality: str | float = "normal"
    filtered: bool = True


@dataclass(frozen=True)
class Facts:
    """What a shot was recorded with, for the slate and the report.

    exposure_time [s]; vehicle_illuminance is the light on the side of the vehicle that the camera sees, mid-shot. [lx]
    """

    iso: int
    exposure_time: float
    working_f_number: float
    views: int
    vehicle_illuminance: float


@dataclass(frozen=True)
class Frame:
    """One frame as the sensor holds it.

    Parameters
    ----------
    number : int
        Counted from 0 within the shot.
    time : Fraction
        When its shutter opens. [s on set]
    linear : (h, w, 3) float32
        Linear Rec. 709, white balanced, 1 = saturation; not yet clipped, so lamps lie far above 1.
    """

    number: int
    time: Fraction
    linear: NDArray[np.float32]
    facts: Facts


def render_frames(
    scene: Scene, stage: "Stage", shot: Shot, look: Look, workers: int | Crew = 1, spent: Spent | None = None
) -> Iterator[Frame]:
    """The frames of a shot, one after another; memory holds one, or a few for each worker.

    Parameters
    ----------
    workers : int or Crew
        Processes that draw side by side; the pixels are the same for any number. A number of them start now and end
        with the last frame; a crew that was started earlier is ready sooner, and goes on to the next shot.
    spent : Spent or None
        Is told the seconds spent on views, filter and sensor. That costs a little: the graphics side is waited for.

    Raises
    ------
    PrevizError
        Where the picture's shape is not the capture mode's, or a frame is asked for that the shot has not.
    """
    numbers = _wanted(look, frame_times(scene, shot), shot)
    prepared = _prepared(scene, stage, shot, look, numbers)
    if isinstance(workers, Crew):
        yield from workers.frames(prepared, numbers, spent)
        return
    with Crew(min(workers, len(numbers))) as own:
        yield from own.frames(prepared, numbers, spent)


@dataclass(frozen=True)
class Setup:
    """A shot before any light: enough to get ready for its frames. Plain data, fit to be sent to another process."""

    scene: Scene
    shot: Shot
    look: Look
    unlit: Unlit

    def is_same(self, other: "Setup") -> bool:
        """Whether what was made ready for this one serves for the other."""
        same = self.scene is other.scene and self.shot is other.shot and self.look == other.look
        return same and self.unlit.is_same(other.unlit)


@dataclass(frozen=True)
class Lighting:
    """The light on the stage of a shot, and how the shot is exposed in it. Plain data too.

    Parameters
    ----------
    on_set : SetLight
    stations : tuple of Station
        Around all places that the vehicle has in the frames that are asked for.
    middle : Station
        Nearest the vehicle mid-shot, whatever frames are asked for.
    """

    on_set: SetLight
    stations: tuple[Station, ...]
    middle: Station
    facts: Facts


@dataclass(frozen=True)
class Prepared:
    """All that the frames of a shot are made from."""

    setup: Setup
    lighting: Lighting


def _prepared(scene: Scene, stage: "Stage", shot: Shot, look: Look, numbers: range) -> Prepared:
    lens_of(scene, shot, look.size)  # a picture of the wrong shape is said before any work
    moving = moving_of(scene, shot)
    middle, along = moving.middle_station(), moving.station_distances(numbers)
    stations = {station.distance: station for station in stage.stations(sorted({middle, *along}))}
    lighting = Lighting(
        on_set=SetLight(tuple(lit.irradiance for lit in stage.still), stage.ground.light, stage.room),
        stations=tuple(stations[distance] for distance in along),
        middle=stations[middle],
        facts=_metered(scene, stage, shot, moving, look, stations[middle]),
    )
    return Prepared(Setup(scene, shot, look, Unlit.of(stage)), lighting)


class Studio:
    """A stage made ready to be filmed by one process; `light` comes before the first frame."""

    def __init__(self, setup: Setup) -> None:
        scene, shot, self._look = setup.scene, setup.shot, setup.look
        self._lens = lens_of(scene, shot, self._look.size)
        self._moving = moving_of(scene, shot)
        self._white = white_rgb(shot.capture.white_balance)
        self.blades = _blades(scene, shot)
        self._raster = Raster(setup.unlit, self._lens)
        self._pattern: Views | None = None
        try:
            # Plain views of a given number do without, but only a benchmark takes those.
            self._blurs = _surveyed(self._raster, self._lens, self._moving)
            if self._look.views is not None:
                self._arrange(self._look.views)
        except BaseException:
            self.close()
            raise

    def light(self, lighting: Lighting, spent: Spent | None = None) -> None:
        """Light what was uploaded, once; the views are chosen now unless their number was given.

        `spent` is told what the frames from then on take.
        """
        typical = float(np.median(lighting.on_set.ground))
        self._light = PathLight(lighting.stations, typical)
        # The same whichever frames are asked for.
        usual = PathLight([lighting.middle], typical)
        facts = lighting.facts
        exposure = exposure_gain(facts.exposure_time, facts.working_f_number, facts.iso) / self._white
        self._raster.light(lighting.on_set, usual.at(lighting.middle.distance), exposure)
        if self._pattern is None:
            self._arrange(views_for(self._look.quality, self._difference(usual), self._blurs.streak))
        assert self._pattern is not None
        self._raster.spent = spent
        self._facts = replace(facts, views=len(self._pattern))
        pixel = self._lens.sensor[0] * self._lens.sensor[1] / (self._lens.size[0] * self._lens.size[1])
        self._noise = Noise.of(pixel, facts.iso)

    def _arrange(self, count: int) -> None:
        """The views of every frame of the shot, and the raster set to fill them."""
        if not self._look.filtered:
            self._pattern = self._evened(count) if self._look.views is None else views(count, self.blades)
            return
        self._pattern = self._evened(count)
        filling = filling_for(count, self._blurs)
        self._raster.fill_by(filling, self.blades)
        if filling is not None:
            # What the views' own patches add to a disc's variance, their places give up.
            self._pattern = replace(self._pattern, pupil=self._pattern.pupil * math.sqrt(1 - OVERLAP / count))

    def _evened(self, count: int) -> Views:
        streak = _streak(self._lens, self._moving, self._blurs.streak)
        return evened(views(count, self.blades), self.blades, self._blurs.usual, streak)

    def _difference(self, light: PathLight) -> float:
        """How far views differ at the shot's beginning, middle or end, where they do most: see `plan.difference`.

        Lamps count as what single views see of them, for the raster does not fill the views' patches yet.
        """
        tried = self._evened(_TRIED)
        return max(
            difference([self._picture(tried.only(look), light, number) for look in range(_TRIED)])
            for number in _surveyed_frames(self._moving)
        )

    def frame(self, number: int) -> Frame:
        """One frame: the mean over its views of where things are then, as the sensor takes it."""
        assert self._pattern is not None
        linear = self.through(self._pattern, number)
        # The light was put through the stop of mid-shot; a pull to near focus loses some more.
        stop = self._moving.stop_seen(self._moving.at(number, 0.5)[0])
        linear *= np.float32((self._facts.working_f_number / stop) ** 2)
        if self._look.noise:
            with (self._raster.spent or Spent()).on("sensor"):
                linear = self._noise.added_to(linear, np.random.default_rng([self._look.seed, number]))
        return Frame(number, self._moving.times.time(number), linear, replace(self._facts, working_f_number=stop))

    def through(self, pattern: Views, number: int) -> Floats:
        """One frame without noise through views of one's own."""
        return self._picture(pattern, self._light, number)

    def _picture(self, pattern: Views, light: PathLight, number: int) -> Floats:
        return self._raster.picture(frame_state(self._lens, pattern, self._moving, light, number))

    def forget(self) -> None:
        """Draw all of the next frame anew."""
        self._raster.forget()

    def close(self) -> None:
        """Give the graphics side back."""
        self._raster.close()


def frame_state(lens: Lens, pattern: Views, moving: "_Moving", light: PathLight | None, number: int) -> FrameState:
    """Where everything is in each view of a frame."""
    camera, vehicle = moving.at(number, 0.5)
    opened, closed = (_view(lens, moving, number, moment, np.zeros(2), np.zeros(2), 0.0) for moment in (0.0, 1.0))
    return FrameState(
        views=[
            _view(lens, moving, number, float(moment), pupil, jitter, float(detail))
            for pupil, moment, jitter, detail in zip(
                pattern.pupil, pattern.moment, pattern.jitter, pattern.detail, strict=True
            )
        ],
        light=None if light is None else light.at(vehicle.distance),
        opened=opened,
        closed=closed,
        disc=lens.disc_across(camera),
    )


def _streak(lens: Lens, moving: "_Moving", longest: float) -> Array:
    """The longest streak (2,), along the way that set or vehicle cross the picture mid-shot. [px]"""
    (opened, before), (closed, after) = (moving.at(moving.times.count // 2, moment) for moment in (0.0, 1.0))
    focused = opened.position - opened.focus_distance * opened.world_from_camera[:, 2]
    crossed = [
        lens.pixel_of(last, closed) - lens.pixel_of(first, opened)
        for first, last in ((focused, focused), (before.position, after.position))
    ]
    way = max(crossed, key=lambda one: float(np.hypot(*one)))
    length = float(np.hypot(*way))
    return way * (longest / length) if length > 0 else np.array([longest, 0.0])


def _surveyed(raster: Raster, lens: Lens, moving: "_Moving") -> Blurs:
    """Discs and streaks at the shot's beginning, middle and end."""
    found = [raster.survey(frame_state(lens, views(1), moving, None, number)) for number in _surveyed_frames(moving)]
    return Blurs.of(np.concatenate(found))


def _surveyed_frames(moving: "_Moving") -> list[int]:
    """The same for any part of a shot."""
    return sorted({0, moving.times.count // 2, moving.times.count - 1})


def _view(
    lens: Lens, moving: "_Moving", number: int, moment: float, pupil: Array, jitter: Array, detail: float
) -> ViewState:
    camera, vehicle = moving.at(number, moment)
    return ViewState(
        clip_from_world=lens.clip_from_world(camera, pupil, jitter),
        eye=camera.position + camera.world_from_camera[:, :2] @ (pupil * lens.pupil_radius),
        camera=camera,
        world_from_vehicle=vehicle.world_from_vehicle,
        travelled=vehicle.distance,
        moment=moment,
        detail=detail,
    )


def lens_of(scene: Scene, shot: Shot, size: tuple[int, int]) -> Lens:
    """The shot's lens on the sensor area its capture mode records, for a picture of that size.

    Raises
    ------
    PrevizError
        Where the picture's shape differs from the mode's by more than a pixel.
    """
    mode = scene.mode(shot)
    if abs(size[0] * mode.height / mode.width - size[1]) > 1:
        width = max(size[0] // 2, 1) * 2  # both even, which every format takes
        raise PrevizError(
            f"a picture of {size[0]}x{size[1]} is not the shape of {shot.camera}'s {mode.width}x{mode.height}; "
            f"use {width}x{max(round(width * mode.height / mode.width / 2), 1) * 2}"
        )
    return Lens(shot.focal_length, shot.f_number, recorded_area(scene.cameras[shot.camera], mode), size)


@dataclass(frozen=True)
class _Moving:
    """Where camera and vehicle are at any moment of any frame's shutter."""

    scene: Scene
    shot: Shot
    path: Curve
    travel: Travel
    times: FrameTimes

    def stop_seen(self, camera: CameraPose) -> float:
        """The working f-number at the focus of that pose."""
        magnification = self.shot.focal_length / (camera.focus_distance - self.shot.focal_length)
        pupils = self.scene.cameras[self.shot.camera].pupil_magnification
        return float(working_f_number(self.shot.f_number, magnification, pupils))

    def at(self, number: int, moment: float) -> tuple[CameraPose, VehiclePose]:
        time = float(self.times.time(number)) + moment * self.shot.capture.exposure_time
        return camera_at(self.scene, self.shot, time), vehicle_on(self.path, self.travel.distance(time))

    def station_distances(self, numbers: range) -> list[float]:
        """Places along the path where the light is wanted, around the first and the last moment of these frames.

        They lie on one grid for the whole path, so that a frame is the same whichever others are asked for.
        """
        opens, closes = float(self.times.time(numbers[0])), float(self.times.time(numbers[-1]))
        first = math.floor(self.travel.distance(opens) / STATION_SPACING)
        last = math.ceil(self.travel.distance(closes + self.shot.capture.exposure_time) / STATION_SPACING)
        return [place * STATION_SPACING for place in range(first, max(last, first) + 1)]

    def middle_station(self) -> float:
        """The place nearest the vehicle mid-shot."""
        _, vehicle = self.at(self.times.count // 2, 0.0)
        return round(vehicle.distance / STATION_SPACING) * STATION_SPACING


def moving_of(scene: Scene, shot: Shot) -> _Moving:
    """Where camera and vehicle of a shot are."""
    return _Moving(scene, shot, vehicle_path(scene), travel_of(scene), frame_times(scene, shot))


def _wanted(look: Look, times: FrameTimes, shot: Shot) -> range:
    wanted = range(times.count) if look.frames is None else look.frames
    if len(wanted) == 0 or wanted[0] < 0 or wanted[-1] >= times.count:
        raise PrevizError(
            f"frames {wanted.start}:{wanted.stop} are not in shot {shot.id!r}, which has {times.count} "
            f"frames: ask for 0:{times.count} or part of it"
        )
    return wanted


def _blades(scene: Scene, shot: Shot) -> int | None:
    camera = scene.cameras[shot.camera]
    # Wide open the pupil is the lens's round rim, not the iris.
    return (
        None if camera.blades == "round" or shot.f_number <= camera.widest_at(shot.focal_length) else int(camera.blades)
    )


def _metered(scene: Scene, stage: "Stage", shot: Shot, moving: _Moving, look: Look, station: Station) -> Facts:
    """One exposure for the whole shot, metered mid-shot on the vehicle's side that the camera sees."""
    camera, vehicle = moving.at(moving.times.count // 2, 0.0)
    towards = vehicle.world_from_vehicle[:3, :3].T @ (camera.position - vehicle.position)
    lux = _light_facing(stage, station, towards / np.linalg.norm(towards))
    stop = moving.stop_seen(camera)
    time = shot.capture.exposure_time
    iso = shot.capture.iso
    if iso == "auto":
        low, high = scene.cameras[shot.camera].iso
        iso = min(max(round(iso_for_grey(max(lux, 1e-3), time, stop) * 2**shot.capture.exposure), low), high)
    return Facts(iso, time, stop, look.views or 0, lux)


def _light_facing(stage: "Stage", station: Station, towards: Array) -> float:
    """Illuminance of the body where it faces a direction (in the vehicle's frame), by how squarely it does. [lx]"""
    normals = np.concatenate([mesh.normals for mesh in stage.vehicle.body])
    facing = np.maximum(normals @ towards, 0.0)
    luminance = station.body[: len(normals)] @ LUMINANCE
    return float(facing @ luminance / max(facing.sum(), 1e-12))
