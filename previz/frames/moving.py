"""Where camera and vehicle are at any moment of any frame's shutter."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from previz.errors import ShotFault
from previz.layout import (
    CameraPose,
    VehiclePose,
    camera_at,
    cameras_at,
    frame_times,
    metered_of,
    others_of,
    shown_across,
    shown_well,
    travel_of,
    vehicle_edges,
    vehicle_on,
    vehicle_path,
    vehicles_on,
)
from previz.physics.exposure import working_f_number
from previz.physics.paths import Curve, FrameTimes, Travel
from previz.scene import Scene, Shot

#: Light on the vehicle is baked this close along its path at most, and interpolated between. [m]
STATION_SPACING = 0.035

#: So many frames are looked at for those that show the vehicle.
_LOOKED_AT = 90


@dataclass(frozen=True)
class Moving:
    """Where camera and vehicle are at any moment of any frame's shutter."""

    scene: Scene
    shot: Shot
    path: Curve
    travel: Travel
    times: FrameTimes
    others: tuple[tuple[Curve, Travel], ...] = ()

    def stop_seen(self, camera: CameraPose) -> float:
        """The working f-number at the focus of that pose."""
        magnification = self.shot.focal_length / (camera.focus_distance - self.shot.focal_length)
        pupils = self.scene.cameras[self.shot.camera].pupil_magnification
        return float(working_f_number(self.shot.f_number, magnification, pupils))

    def at(self, number: int, moment: float) -> tuple[CameraPose, VehiclePose]:
        """Camera and vehicle in a frame, at a moment of its shutter: 0 as it opens, 1 as it closes."""
        time = self._moment(number, moment)
        return camera_at(self.scene, self.shot, time), vehicle_on(self.path, self.travel.distance(time))

    def at_each(self, number: int, moments: Sequence[float]) -> list[tuple[CameraPose, tuple[VehiclePose, ...]]]:
        """The same at several moments at once, which takes little longer than one; the vehicles beside it follow it."""
        times = [self._moment(number, moment) for moment in moments]
        ways = ((self.path, self.travel), *self.others)
        driven = (vehicles_on(path, np.array([travel.distance(time) for time in times])) for path, travel in ways)
        cameras = cameras_at(self.scene, self.shot, np.array(times))
        return list(zip(cameras, zip(*driven, strict=True), strict=True))

    def others_at(self, number: int, moment: float) -> tuple[VehiclePose, ...]:
        """The vehicles beside the subject, then."""
        time = self._moment(number, moment)
        return tuple(vehicle_on(path, travel.distance(time)) for path, travel in self.others)

    def _moment(self, number: int, moment: float) -> float:
        return float(self.times.time(number)) + moment * self.shot.capture.exposure_time

    def station_distances(self, numbers: range) -> list[float]:
        """Places along the path where the light is wanted, around the first and the last moment of these frames.

        They lie on one grid for the whole path, so that a frame is the same whichever others are asked for.
        """
        return self._stations(self.travel, numbers)

    def other_stations(self, numbers: range) -> list[list[float]]:
        """The same along the path of each vehicle beside the subject."""
        return [self._stations(travel, numbers) for _, travel in self.others]

    def _stations(self, travel: Travel, numbers: range) -> list[float]:
        opens, closes = float(self.times.time(numbers[0])), float(self.times.time(numbers[-1]))
        first = math.floor(travel.distance(opens) / STATION_SPACING)
        last = math.ceil(travel.distance(closes + self.shot.capture.exposure_time) / STATION_SPACING)
        return [place * STATION_SPACING for place in range(first, max(last, first) + 1)]

    @cached_property
    def typical(self) -> tuple[int, int, int]:
        """The shot's first, middle and last frame by which it is judged, whichever of them are asked for.

        The middle one is that by which the shot is metered: where the vehicle is not in the picture mid-shot, one in
        which it is. Where a shot cannot be filmed in one of these, the nearest in which it can: one that can be is not
        refused for the sake of another.
        """
        count = self.times.count
        first, middle, last = (self._nearest_filmed(wanted) for wanted in (0, count // 2, count - 1))
        return first, self._metered(middle), last

    def _metered(self, middle: int) -> int:
        count = self.times.count
        tried = sorted({middle, *np.linspace(0, count - 1, min(count, _LOOKED_AT)).round().astype(int).tolist()})
        if shown_well(self._shows(middle)):  # whatever the others show
            return middle
        return tried[metered_of(np.array([self._shows(number) for number in tried]), tried.index(middle))]

    def _shows(self, number: int) -> float:
        """How much of the vehicle is in the picture, across."""
        if not self._can_be_filmed(number):
            return 0.0
        camera, vehicle = self.at(number, 0.5)
        return float(shown_across(vehicle_edges(self.scene, self.shot, [camera], [vehicle]))[0])

    def _nearest_filmed(self, wanted: int) -> int:
        by_nearness = sorted(range(self.times.count), key=lambda number: abs(number - wanted))
        return next((number for number in by_nearness if self._can_be_filmed(number)), wanted)

    def _can_be_filmed(self, number: int) -> bool:
        try:
            self.at(number, 0.0), self.at(number, 1.0)
        except ShotFault:
            return False
        return True

    def middle_station(self) -> float:
        """The place nearest the vehicle mid-shot."""
        _, vehicle = self.at(self.typical[1], 0.0)
        return round(vehicle.distance / STATION_SPACING) * STATION_SPACING

    def other_middles(self) -> list[float]:
        """The same of each vehicle beside the subject."""
        poses = self.others_at(self.typical[1], 0.0)
        return [round(pose.distance / STATION_SPACING) * STATION_SPACING for pose in poses]


def moving_of(scene: Scene, shot: Shot) -> Moving:
    """Where camera and vehicle of a shot are."""
    others = tuple((vehicle_path(other), travel_of(other)) for _, other in others_of(scene))
    return Moving(scene, shot, vehicle_path(scene), travel_of(scene), frame_times(scene, shot), others)
