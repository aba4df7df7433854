"""A stage made ready to be filmed by one process: views chosen and evened, light put on, frames drawn."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import reduce
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from previz.frames.frame import Facts, Frame, Look
from previz.frames.gl import open_raster
from previz.frames.gl.states import FrameState, Placed, ViewState
from previz.frames.glare import Glare
from previz.frames.lens import Lens, lens_of
from previz.frames.light import PathLight, SetLight
from previz.frames.moving import Moving, moving_of
from previz.frames.sensor import Noise, exposure_gain
from previz.frames.spent import Spent
from previz.frames.views.evened import evened
from previz.frames.views.pattern import Views, views
from previz.frames.views.plan import Blurs, Differing, difference, filling_for, smear_of, views_for
from previz.layout import CameraPose, Measured, VehiclePose, measured_meshes
from previz.physics.colour import white_rgb
from previz.physics.flashes import cells_of
from previz.scene import Scene, Shot
from previz.stage import Station, Unlit

if TYPE_CHECKING:
    from previz.frames.gl.raster import Raster

Array = NDArray[np.float64]
Floats = NDArray[np.float32]

#: Looks by which it is found out how far views differ: fewer miss what lies one way, more tell no more.
_TRIED = 3


@dataclass(frozen=True)
class Setup:
    """A shot before any light: enough to get ready for its frames. Plain data, fit to be sent to another process.

    With `measured`, wherever that is: the scene's files are not needed there.
    """

    scene: Scene
    shot: Shot
    look: Look
    unlit: Unlit
    measured: Measured

    @classmethod
    def of(cls, scene: Scene, shot: Shot, look: Look, unlit: Unlit) -> "Setup":
        """That of a shot, here, where the scene's files are."""
        return cls(scene, shot, look, unlit, measured_meshes(scene))

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
    others : tuple of (tuple of Station, Station)
        The same of the vehicles beside the subject.
    """

    on_set: SetLight
    stations: tuple[Station, ...]
    middle: Station
    facts: Facts
    others: tuple[tuple[tuple[Station, ...], Station], ...] = ()


@dataclass(frozen=True)
class Prepared:
    """All that the frames of a shot are made from."""

    setup: Setup
    lighting: Lighting


class Studio:
    """A stage made ready to be filmed by one process; `light` comes before the first frame.

    Parameters
    ----------
    setup : Setup
    before : Studio or None
        Of the same stage, filmed to its end: what it has uploaded is taken over, or given back where pictures are of
        another size.
    """

    def __init__(self, setup: Setup, before: "Studio | None" = None) -> None:
        scene, shot, self._look = setup.scene, setup.shot, setup.look
        self._lens = lens_of(scene, shot, self._look.size)
        self._moving = moving_of(scene, shot)
        self._white = white_rgb(shot.capture.white_balance)
        self.blades = _blades(scene, shot)
        self._raster = self._opened(setup.unlit, before)
        self._pattern: Views | None = None
        self._smear = 0.0
        besides = (other.shadow_extent for other in setup.unlit.others)
        self._grids = tuple(x1 - x0 for x0, x1, _, _ in (setup.unlit.shadow_extent, *besides))
        try:
            # Plain views of a given number do without, but only a benchmark takes those.
            self._blurs = _surveyed(self._raster, self._lens, self._moving)
            if self._look.views is not None:
                self._arrange(self._look.views)
        except BaseException:
            self.close()
            raise

    def _opened(self, unlit: Unlit, before: "Studio | None") -> "Raster":
        if before is None or before._lens.size != self._lens.size:
            if before is not None:
                before.close()
            return open_raster(unlit, self._lens)
        before._raster.turn_to(unlit, self._lens)
        return before._raster

    def light(self, lighting: Lighting, spent: Spent | None = None) -> None:
        """Light what was uploaded, once; the views are chosen now unless their number was given.

        `spent` is told what the frames from then on take.
        """
        typical = float(np.median(lighting.on_set.ground))
        self._light = [PathLight(lighting.stations, typical)]
        self._light += [PathLight(stations, typical) for stations, _ in lighting.others]
        # The same whichever frames are asked for.
        middles = [lighting.middle, *(middle for _, middle in lighting.others)]
        usual = [PathLight([middle], typical) for middle in middles]
        facts = lighting.facts
        exposure = exposure_gain(facts.exposure_time, facts.working_f_number, facts.iso) / self._white
        own, *others = (light.at(middle.distance) for light, middle in zip(usual, middles, strict=True))
        self._raster.light(lighting.on_set, own, exposure, others)
        if self._pattern is None:
            self._arrange(views_for(self._look.quality, self._difference(usual), self._blurs.streak))
        assert self._pattern is not None
        self._raster.spent = spent
        self._facts = replace(facts, views=len(self._pattern))
        pixel = self._lens.sensor[0] * self._lens.sensor[1] / (self._lens.size[0] * self._lens.size[1])
        self._noise = Noise.of(pixel, facts.iso)
        self._glare = self._glare_at(facts.working_f_number)

    def _glare_at(self, stop: float) -> Glare | None:
        share = self._moving.scene.cameras[self._moving.shot.camera].glare
        if share == "none" or not self._look.thorough:
            return None
        return Glare.of(float(share) / 100, stop, self._lens.sensor[0], self._lens.size[0])

    def _arrange(self, count: int) -> None:
        """The views of every frame of the shot, and the raster set to fill them."""
        if not self._look.filtered:
            self._pattern = self._evened(count) if self._look.views is None else views(count, self.blades)
            return
        self._pattern = self._evened(count)
        self._smear = smear = smear_of(count, self._blurs) if self._look.thorough else 0.0
        filling = filling_for(count, self._blurs, smeared=smear > 0, quick=not self._look.thorough)
        self._raster.fill_by(filling, self.blades, smear, quick=not self._look.thorough)
        moment = (self._pattern.moment - 0.5) * math.sqrt(1 - smear**2) + 0.5
        self._pattern = replace(self._pattern, moment=moment)
        if filling is not None:
            # What the views' own patches add to a disc's variance, their places give up.
            self._pattern = replace(self._pattern, pupil=self._pattern.pupil * math.sqrt(1 - 16 * filling.scale))

    def _evened(self, count: int) -> Views:
        streak = _streak(self._lens, self._moving, self._blurs.streak)
        return evened(views(count, self.blades), self.blades, self._blurs.usual, streak)

    def _difference(self, light: Sequence[PathLight]) -> Differing:
        """How far views differ at the shot's beginning, middle or end, where they do most: see `plan.difference`.

        Lamps count as what single views see of them, for the raster does not fill the views' patches yet.
        """
        tried = self._evened(_TRIED)
        found = (
            difference([self._picture(tried.only(look), light, number) for look in range(_TRIED)])
            for number in sorted(set(self._moving.typical))
        )
        return reduce(Differing.joined, found)

    def frame(self, number: int) -> Frame:
        """One frame: the mean over its views of where things are then, as the sensor takes it."""
        assert self._pattern is not None
        linear = self.through(self._pattern, number)
        # The light was put through the stop of mid-shot; a pull to near focus loses some more.
        stop = self._moving.stop_seen(self._moving.at(number, 0.5)[0])
        passed = (self._facts.working_f_number / stop) ** 2
        linear *= np.float32(passed)
        for part in self._raster.on_photosites:
            part.hold(linear, passed * (1.0 if self._glare is None else self._glare.kept))
        if self._look.noise:
            with (self._raster.spent or Spent()).on("sensor"):
                linear = self._noise.added_to(linear, np.random.default_rng([self._look.seed, number]))
        facts = replace(self._facts, working_f_number=stop)
        return Frame(number, self._moving.times.time(number), linear, facts, cells_of(linear))

    def through(self, pattern: Views, number: int) -> Floats:
        """One frame without noise through views of one's own."""
        drawn = self._picture(pattern, self._light, number)
        if self._glare is None:
            return drawn
        with (self._raster.spent or Spent()).on("glare"):
            return self._glare.on(drawn)

    def _picture(self, pattern: Views, light: Sequence[PathLight], number: int) -> Floats:
        frame = frame_state(self._lens, pattern, self._moving, light, number)
        return self._raster.picture(with_shadows_smeared(frame, self._lens, self._grids, self._smear))

    def forget(self) -> None:
        """Draw all of the next frame anew."""
        self._raster.forget()

    def close(self) -> None:
        """Give the graphics side back."""
        self._raster.close()


def frame_state(lens: Lens, pattern: Views, moving: Moving, light: Sequence[PathLight], number: int) -> FrameState:
    """Where everything is in each view of a frame; light: that of each vehicle, or none at all."""
    moments = (0.5, 0.0, 1.0, *pattern.moment.tolist())
    (camera, driven), *ends_and_views = moving.at_each(number, moments)
    own, *others = (path.at(it.distance) for path, it in zip(light, driven, strict=True)) if light else (None,)
    middle = (np.zeros(2), np.zeros(2), 0.0)
    seen_by = (middle, middle, *zip(pattern.pupil, pattern.jitter, pattern.detail.tolist(), strict=True))
    opened, closed, *drawn = (
        _view(lens, *then, moment, *by) for then, moment, by in zip(ends_and_views, moments[1:], seen_by, strict=True)
    )
    return FrameState(
        views=drawn,
        light=own,
        opened=opened,
        closed=closed,
        disc=lens.disc_across(camera),
        others=tuple(each for each in others if each is not None),
    )


def with_shadows_smeared(frame: FrameState, lens: Lens, grids: Sequence[float], smear: float) -> FrameState:
    """The same frame with each vehicle's shadow and beam smeared over a share of its way in the shutter.

    Views are smeared along what moves in them, and the ground stands still under a shadow that moves over it. Where
    the camera follows, it is the ground that moves, and its shadow with it; then nothing is left to do. grids: how
    long that of each one's shadow is. [m]
    """
    if smear == 0 or frame.light is None:
        return frame
    lights = [
        light.smeared(smear * _way_over_the_ground(frame, lens, number) / grid)
        for number, (light, grid) in enumerate(zip((frame.light, *frame.others), grids, strict=True))
    ]
    return replace(frame, light=lights[0], others=tuple(lights[1:]))


def _way_over_the_ground(frame: FrameState, lens: Lens, number: int) -> float:
    """How far a vehicle goes in the shutter, as far as it crosses the picture faster than the ground below it. [m]"""
    places = [view.driven[number].world_from_ground[:3, 3] for view in (frame.opened, frame.closed)]
    way = float(np.hypot(*(places[1] - places[0])[:2]))
    if frame.locked_off:
        return way  # wherever it is itself: straight behind the camera it would seem to stand still
    cameras = frame.opened.camera, frame.closed.camera
    (first, last), (stood, left) = (
        [lens.pixel_of(place, camera) for place, camera in zip(where, cameras, strict=True)]
        for where in (places, places[:1] * 2)
    )
    own, below = (float(np.hypot(*(end - begin))) for begin, end in ((first, last), (stood, left)))
    over = float(np.hypot(*((last - first) - (left - stood))))
    return max(own - below, 0.0) / over * way if over > 0 else 0.0


def _streak(lens: Lens, moving: Moving, longest: float) -> Array:
    """The longest streak (2,), along the way that set or a vehicle cross the picture mid-shot. [px]"""
    (opened, before), (closed, after) = (moving.at(moving.typical[1], moment) for moment in (0.0, 1.0))
    focused = opened.position - opened.focus_distance * opened.world_from_camera[:, 2]
    others = (moving.others_at(moving.typical[1], moment) for moment in (0.0, 1.0))
    ways = [(first.position, last.position) for first, last in zip(*others, strict=True)]
    if moving.scene.vehicle is not None:
        ways.append((before.position, after.position))
    # What is behind the lens has no place in the picture; near the lens it would seem to cross it faster than all else.
    crossed = [
        lens.pixel_of(last, closed) - lens.pixel_of(first, opened)
        for first, last in ((focused, focused), *ways)
        if _is_before(opened, first) and _is_before(closed, last)
    ]
    way = max(crossed, key=lambda one: float(np.hypot(*one)))
    length = float(np.hypot(*way))
    return way * (longest / length) if length > 0 else np.array([longest, 0.0])


def _is_before(camera: CameraPose, place: Array) -> bool:
    return bool((camera.position - place) @ camera.world_from_camera[:, 2] > 0)


def _surveyed(raster: "Raster", lens: Lens, moving: Moving) -> Blurs:
    """Discs and streaks at the shot's beginning, middle and end."""
    found = [raster.survey(frame_state(lens, views(1), moving, (), number)) for number in sorted(set(moving.typical))]
    return Blurs.of(np.concatenate(found))


def _view(
    lens: Lens,
    camera: CameraPose,
    driven: tuple[VehiclePose, ...],
    moment: float,
    pupil: Array,
    jitter: Array,
    detail: float,
) -> ViewState:
    vehicle, *others = driven
    return ViewState(
        clip_from_world=lens.clip_from_world(camera, pupil, jitter),
        eye=camera.position + camera.world_from_camera[:, :2] @ (pupil * lens.pupil_radius),
        camera=camera,
        world_from_vehicle=vehicle.world_from_vehicle,
        world_from_ground=vehicle.world_from_ground,
        travelled=vehicle.distance,
        moment=moment,
        detail=detail,
        others=tuple(Placed(other.world_from_vehicle, other.world_from_ground, other.distance) for other in others),
    )


def _blades(scene: Scene, shot: Shot) -> int | None:
    camera = scene.cameras[shot.camera]
    # Wide open the pupil is the lens's round rim, not the iris.
    return (
        None if camera.blades == "round" or shot.f_number <= camera.widest_at(shot.focal_length) else int(camera.blades)
    )
