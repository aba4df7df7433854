"""The running order, frame by frame: what plays when, and what comes in over what."""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from previz.errors import FileFault
from previz.layout import frame_times
from previz.scene import Dissolve, Entry, Scene, Shot, as_set_up


@dataclass(frozen=True)
class Event:
    """One stretch of a shot in the cut.

    Parameters
    ----------
    number : int
        In the running order, from 1.
    scene : Scene
        As all of it stands for that shot (`previz.scene.as_set_up`).
    shot : Shot
    frames : range
        Of the shot's own frames, those that play; those of the dissolve at either end are among them.
    dissolve : int
        Frames over which it comes in over the end of the one before; 0 is a cut.
    starts : int
        Frame of the cut, from 0, in which its first frame is seen. A dissolve begins before the one before has ended.
    """

    number: int
    scene: Scene
    shot: Shot
    frames: range
    dissolve: int
    starts: int

    @property
    def ends(self) -> int:
        """The first frame of the cut in which it is no longer seen."""
        return self.starts + len(self.frames)


def running_order(scene: Scene) -> tuple[Event, ...]:
    """What the cut of a scene is made of, in order; all shots, whole, with straight cuts where the scene says nothing.

    Times are taken to the nearest frame on screen, half a frame to the later one.

    Raises
    ------
    FileFault
        Where an entry begins or ends past its shot's end or holds no frame, or is shorter than the dissolves at its
        ends.
    PrevizError
        Where shots change the set, and no file stands behind the scene.

    >>> from previz.scene import read_scene
    >>> [(event.shot.id, event.frames, event.dissolve) for event in running_order(read_scene("scenes/quay_lorry.yaml"))]
    [('pass', range(0, 84), 0)]
    """
    entries = scene.sequence or tuple(Entry(shot=shot.id) for shot in scene.shots)
    events: list[Event] = []
    for number, entry in enumerate(entries):
        stands = as_set_up(scene, scene.shot(entry.shot))
        shot = stands.shot(entry.shot)
        frames = _frames(stands, shot, entry, number)
        dissolve = _dissolve(entry.dissolve, shot.playback)
        starts = events[-1].ends - dissolve if events else 0
        events.append(Event(number + 1, stands, shot, frames, dissolve, starts))
    _require_room(events)
    return tuple(events)


def _frames(scene: Scene, shot: Shot, entry: Entry, number: int) -> range:
    count, rate = frame_times(scene, shot).count, shot.playback
    first = _nearest(entry.in_point, rate)
    end = count if entry.out_point is None else _nearest(entry.out_point, rate)
    lasts = f"shot {shot.id} lasts {_seconds(count, rate)} on screen, {count} frames at {float(rate):.5g} fps"
    if first >= count:
        raise FileFault(("sequence", number, "in_point"), f"is past the end: {lasts}; begin earlier")
    if end > count:
        raise FileFault(
            ("sequence", number, "out_point"), f"is past the end: {lasts}; end earlier, or let the shot last longer"
        )
    if end <= first:
        raise FileFault(("sequence", number, "out_point"), "leaves less than a frame to see; let it end later")
    return range(first, end)


def _nearest(time: float, rate: Fraction) -> int:
    """The frame that begins nearest to a time. A time such as 0.55 s is not exact in binary; a millionth is none."""
    return int(Fraction(time).limit_denominator(1_000_000) * rate + Fraction(1, 2))


def _seconds(frames: int, rate: Fraction) -> str:
    return f"{float(frames / rate):.3f} s"


def _dissolve(dissolve: Dissolve | None, rate: Fraction) -> int:
    if dissolve is None:
        return 0
    if dissolve.frames is not None:
        return int(dissolve.frames)
    assert dissolve.time is not None  # a Dissolve has one of the two
    return max(_nearest(dissolve.time, rate), 1)


def _require_room(events: Sequence[Event]) -> None:
    """A dissolve shows two shots, never three: it ends before the next begins, and is no longer than either."""
    for before, event in pairwise(events):
        key = ("sequence", event.number - 1, "dissolve")
        for each in (before, event):
            if event.dissolve > len(each.frames):
                raise FileFault(
                    key,
                    f"{event.dissolve} frames are longer than what plays of {each.shot.id}, {len(each.frames)} frames; "
                    "shorten the dissolve",
                )
        if before.dissolve + event.dissolve > len(before.frames):
            raise FileFault(
                key,
                f"begins before the last dissolve is over: {before.shot.id} plays {len(before.frames)} frames, and "
                f"{before.dissolve} and {event.dissolve} of them dissolve; shorten one of the two",
            )
