"""The cut list: what plays when, as rows, as CSV and as OpenTimelineIO.

Points are as editors count: an in is the first frame that is seen, an out the frame after the last. A row's own frames
and those of the one before overlap by the dissolve between them, so that what each row adds sums to the cut.
"""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from fractions import Fraction
from typing import Any

from previz.delivery.cut.timecode import Clock
from previz.sequence import Event


@dataclass(frozen=True)
class ListRow:
    """One event of the cut.

    Parameters
    ----------
    transition : str
        How it comes in: cut or dissolve.
    dissolve : int
        Over how many frames.
    cut_in, cut_out, shot_in, shot_out : str
        Timecode, in the cut and in the shot, whose first frame is 00:00:00:00; empty at rates that have none.
    first, first_in_shot : int
        Its first frame, of the cut and of the shot, from 0.
    frames, adds : int
        Frames seen, and frames by which it makes the cut longer.
    seconds : float
        How long it is seen.
    """

    number: int
    shot: str
    transition: str
    dissolve: int
    cut_in: str
    cut_out: str
    shot_in: str
    shot_out: str
    first: int
    first_in_shot: int
    frames: int
    adds: int
    seconds: float


def rows_of(events: Sequence[Event], clock: Clock) -> tuple[ListRow, ...]:
    """The cut, an event a row."""
    return tuple(
        ListRow(
            number=event.number,
            shot=event.shot.id,
            transition="dissolve" if event.dissolve else "cut",
            dissolve=event.dissolve,
            cut_in=clock.label(event.starts),
            cut_out=clock.label(event.ends),
            shot_in=clock.of_shot(event.frames.start),
            shot_out=clock.of_shot(event.frames.stop),
            first=event.starts,
            first_in_shot=event.frames.start,
            frames=len(event.frames),
            adds=len(event.frames) - event.dissolve,
            seconds=float(len(event.frames) / clock.rate),
        )
        for event in events
    )


def csv_of(rows: Sequence[ListRow]) -> bytes:
    """The rows as CSV, UTF-8, under the names of their columns."""
    text = io.StringIO()
    writer = csv.DictWriter(text, [*asdict(rows[0])])
    writer.writeheader()
    writer.writerows({**asdict(row), "seconds": f"{row.seconds:.6f}"} for row in rows)
    return text.getvalue().encode()


def otio_of(
    title: str, events: Sequence[Event], clock: Clock, films: Mapping[str, tuple[str, range]], sound: str | None
) -> bytes:
    """The cut as an OpenTimelineIO file (JSON).

    films: of each shot the name of its film, from where the file lies, and which of its frames that holds; sound: the
    name of the sound's file.

    A dissolve lies half on either side of the cut point between its clips, an odd frame after it.
    """
    import opentimelineio as otio

    def span(frames: range) -> Any:
        rate = float(clock.rate)
        time = otio.opentime.RationalTime
        return otio.opentime.TimeRange(time(frames.start, rate), time(len(frames), rate))

    picture = otio.schema.Track(name="picture", kind=otio.schema.TrackKind.Video)
    for event, after in zip(events, [*events[1:], None], strict=True):
        ahead = event.dissolve // 2
        behind = after.dissolve - after.dissolve // 2 if after is not None else 0
        if event.dissolve:
            rest = event.dissolve - ahead
            picture.append(_dissolve(otio, ahead, rest, float(clock.rate)))
        name, held = films[event.shot.id]
        media = otio.schema.ExternalReference(target_url=name, available_range=span(held))
        plays = range(event.frames.start + ahead, event.frames.stop - behind)
        picture.append(otio.schema.Clip(name=event.shot.id, media_reference=media, source_range=span(plays)))
    timeline = otio.schema.Timeline(name=title)
    timeline.global_start_time = otio.opentime.RationalTime(clock.start, float(clock.rate))
    timeline.tracks.append(picture)
    if sound is not None:
        whole = span(range(events[-1].ends))
        track = otio.schema.Track(name="sound", kind=otio.schema.TrackKind.Audio)
        media = otio.schema.ExternalReference(target_url=sound, available_range=whole)
        track.append(otio.schema.Clip(name="sound", media_reference=media, source_range=whole))
        timeline.tracks.append(track)
    return (timeline.to_json_string(indent=1) + "\n").encode()


def _dissolve(otio: Any, ahead: int, rest: int, rate: float) -> Any:
    time = otio.opentime.RationalTime
    return otio.schema.Transition(
        name="dissolve",
        transition_type=otio.schema.TransitionTypes.SMPTE_Dissolve,
        in_offset=time(ahead, rate),
        out_offset=time(rest, rate),
    )


def length_of(events: Sequence[Event], rate: Fraction) -> str:
    """How long a cut is, for people."""
    frames = events[-1].ends
    return f"{frames} frames, {float(frames / rate):.2f} s on screen at {float(rate):.5g} fps"
