"""From a stage to frames: many views, one mean, then the sensor."""

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

from previz.errors import PrevizError
from previz.frames.crew import Crew
from previz.frames.frame import Facts, Frame, Look
from previz.frames.lens import lens_of
from previz.frames.light import SetLight
from previz.frames.metered import light_seen
from previz.frames.moving import Moving, moving_of
from previz.frames.spent import Spent
from previz.frames.studio import Lighting, Prepared, Setup
from previz.layout import frame_times
from previz.physics.exposure import iso_for_grey
from previz.physics.paths import FrameTimes
from previz.scene import Scene, Shot
from previz.stage import Station, Unlit

if TYPE_CHECKING:
    from previz.stage import Stage


def render_frames(
    scene: Scene,
    stage: "Stage",
    shot: Shot,
    look: Look,
    workers: int | Crew = 1,
    spent: Spent | None = None,
    meanwhile: Callable[[], object] | None = None,
) -> Iterator[Frame]:
    """The frames of a shot, one after another; memory holds one, or a few for each worker.

    Parameters
    ----------
    workers : int or Crew
        Processes that draw side by side; the pixels are the same for any number. A number of them start now and end
        with the last frame; a crew that was started earlier is ready sooner, and goes on to the next shot.
    spent : Spent or None
        Is told the seconds spent on views, filter and sensor. That costs a little: the graphics side is waited for.
    meanwhile : callable or None
        Called once before the first frame comes; where others draw, while they do. Of a film of one frame, say.

    Raises
    ------
    PrevizError
        Where the picture's shape is not the capture mode's, or a frame is asked for that the shot has not.
    """
    numbers = _wanted(look, frame_times(scene, shot), shot)
    prepared = _prepared(scene, stage, shot, look, numbers)
    if isinstance(workers, Crew):
        yield from workers.frames(prepared, numbers, spent, meanwhile)
        return
    with Crew(min(workers, len(numbers))) as own:
        yield from own.frames(prepared, numbers, spent, meanwhile)


def _prepared(scene: Scene, stage: "Stage", shot: Shot, look: Look, numbers: range) -> Prepared:
    lens_of(scene, shot, look.size)  # a picture of the wrong shape is said before any work
    moving = moving_of(scene, shot)
    middle, along = moving.middle_station(), moving.station_distances(numbers)
    stations = {station.distance: station for station in stage.stations(sorted({middle, *along}))}
    others = zip(stage.others, moving.other_stations(numbers), moving.other_middles(), strict=True)
    lighting = Lighting(
        on_set=SetLight(
            tuple(lit.irradiance for lit in stage.still),
            stage.ground.light,
            stage.room,
            tuple(lit.around for lit in stage.still),
        ),
        stations=tuple(stations[distance] for distance in along),
        middle=stations[middle],
        facts=_metered(scene, stage, shot, moving, look, stations[middle]),
        others=tuple((other.stations(way), other.stations([mid])[0]) for other, way, mid in others),
    )
    return Prepared(Setup.of(scene, shot, look, Unlit.of(stage)), lighting)


def _wanted(look: Look, times: FrameTimes, shot: Shot) -> range:
    wanted = range(times.count) if look.frames is None else look.frames
    if len(wanted) == 0 or wanted[0] < 0 or wanted[-1] >= times.count:
        raise PrevizError(
            f"frames {wanted.start}:{wanted.stop} are not in shot {shot.id!r}, which has {times.count} "
            f"frames: ask for 0:{times.count} or part of it"
        )
    return wanted


def _metered(scene: Scene, stage: "Stage", shot: Shot, moving: Moving, look: Look, station: Station) -> Facts:
    """One exposure for the whole shot, metered mid-shot on what the camera sees of the vehicle.

    Of a set without a vehicle on a card where it is focused.
    """
    camera, _ = moving.at(moving.typical[1], 0.0)
    lux, stop = light_seen(scene, stage, shot, moving, station), moving.stop_seen(camera)
    time = shot.capture.exposure_time
    iso = shot.capture.iso
    if iso == "auto":
        low, high = scene.cameras[shot.camera].iso
        iso = min(max(round(iso_for_grey(max(lux, 1e-3), time, stop) * 2**shot.capture.exposure), low), high)
    return Facts(iso, time, stop, look.views or 0, lux, shot.capture.iso == "auto")
