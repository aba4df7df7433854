"""Several shots in one picture, in step to the frame: the clip, and what the sheet and the page need from it."""

from collections.abc import Generator, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np

from previz.delivery.clip.clip import mp4_settings, mp4_size
from previz.delivery.clip.encoder import encode
from previz.delivery.comparison.arrangement import Caption, Layout, counter, counter_box, layout_of, lettered
from previz.delivery.comparison.panels import Comparison, Panel
from previz.delivery.lettering import ascii_of
from previz.delivery.pictures import Picture, picture_of
from previz.delivery.whole_file import whole_file
from previz.errors import PrevizError
from previz.frames import Facts, Frame
from previz.physics.colour import bt709_encoded
from previz.scene import SENSOR_FORMATS
from previz.units import TIME, text_of

Frames = Iterator[Frame]

#: Frames to a whole one in the clip: the page steps and scrubs in it.
_WHOLE_EVERY = 12


@dataclass(frozen=True)
class Shown:
    """What came of a side-by-side clip.

    Parameters
    ----------
    count : int
        Frames of the clip.
    rate : Fraction
        Of the clip. [1/s]
    layout : Layout
        Where the panels stand in it, before it was made smaller for its purpose.
    clip_size : (int, int)
        Width and height of the clip. [px]
    facts : tuple of Facts
        Each panel's.
    moment : int
        The frame of the clip that was kept.
    kept : tuple of Frame
        Each panel's frame nearest in time on set to the first panel's at that moment: they may play at other rates.
    """

    count: int
    rate: Fraction
    layout: Layout
    clip_size: tuple[int, int]
    facts: tuple[Facts, ...]
    moment: int
    kept: tuple[Frame, ...]


def deliver_side_by_side(
    path: Path,
    comparison: Comparison,
    frames: Sequence[Frames],
    moment: int,
    purpose: str = "post",
    counts: Sequence[int] | None = None,
) -> Shown:
    """Write the panels of a comparison as one clip, whole or not at all.

    Parameters
    ----------
    path : Path
        Ends in .mp4.
    frames : sequence of iterators of Frame
        Of each panel, walked in step; memory holds one frame of each.
    moment : int
        Frame of the clip to keep for a still, counted from 0; the last where the clip is shorter.
    purpose : str
        A key of `PURPOSES`: what the clip is for.
    counts : sequence of int or None
        Frames of each panel. Where they last differently long on screen they meet halfway, so that all show the same
        moment there; else all begin together.

    Raises
    ------
    PrevizError
        A panel has no frames.
    MachineError
        The file cannot be written or the encoder does not work.
    """
    panels = comparison.panels
    rate = max(panel.shot.playback for panel in panels)
    with ExitStack() as open_until_done:
        rates = [panel.shot.playback for panel in panels]
        waits = waits_of(counts, rates, rate) if counts is not None else [0] * len(panels)
        steps = in_step(frames, rates, rate, open_until_done, waits)
        first = next(steps, ())
        if not first:
            raise PrevizError(f"{path}: there are no frames to write")
        sizes = [(frame.linear.shape[1], frame.linear.shape[0]) for frame in first]
        head, notes = head_of(comparison), notes_of(comparison)
        captions = [caption_of(*each) for each in zip(panels, first, strict=True)]
        layout = layout_of(sizes, [panel.cell for panel in panels], head, notes, captions)
        picture = np.array(lettered(layout, head, captions, notes))
        kept, lead = [*first], panels[0].shot
        when = first[0].time + moment * lead.playback // rate / lead.capture.rate
        shared = len({panel.shot.capture.rate for panel in panels}) == 1

        def pictures() -> Iterator[Picture]:
            count, together = 0, first
            while together:
                kept[:] = [
                    min(each, key=lambda frame: abs(frame.time - when)) for each in zip(kept, together, strict=True)
                ]
                yield _filled(picture, layout, together, _count_text(together[0], count, rate, shared))
                count, together = count + 1, next(steps, ())

        settings = mp4_settings(purpose, layout.size, whole_every=_WHOLE_EVERY)
        with whole_file(path) as part:
            count = encode(pictures(), layout.size, rate, settings, path, part)
    return Shown(
        count,
        rate,
        layout,
        mp4_size(purpose, layout.size),
        tuple(frame.facts for frame in first),
        min(moment + waits[0], count - 1),
        tuple(kept),
    )


def waits_of(counts: Sequence[int], rates: Sequence[Fraction], rate: Fraction) -> list[int]:
    """How many frames of a clip at `rate` each panel stands before it plays, so that all meet halfway.

    >>> waits_of([96, 24], [Fraction(24)] * 2, Fraction(24))
    [0, 36]
    """
    lasts = [count / own for count, own in zip(counts, rates, strict=True)]
    return [int((max(lasts) - each) / 2 * rate) for each in lasts]


def in_step(
    frames: Sequence[Frames],
    rates: Sequence[Fraction],
    rate: Fraction,
    until: ExitStack,
    waits: Sequence[int] | None = None,
) -> Iterator[tuple[Frame, ...]]:
    """What each panel shows at the same moment on screen, frame by frame of a clip at `rate`.

    A panel that waits so many frames of the clip holds its first frame till then, one that is over its last; one with a
    slower playback rate holds each of its own. Drawing ends with `until`.
    """
    for each in frames:
        if isinstance(each, Generator):
            until.callback(each.close)
    now = [next(each, None) for each in frames]
    if any(frame is None for frame in now):
        return
    # Frame n of the clip is on screen at n / rate, when a panel has come to its frame floor(n / rate * own rate).
    at, over, count = [0] * len(now), [False] * len(now), 0
    waits = waits or [0] * len(now)
    while True:
        yield tuple(frame for frame in now if frame is not None)
        count += 1
        for number, each in enumerate(frames):
            while not over[number] and at[number] < (count - waits[number]) * rates[number] // rate:
                frame = next(each, None)
                over[number] = frame is None
                at[number] += 1
                now[number] = frame or now[number]
        if all(over):
            return


def _filled(picture: Picture, layout: Layout, together: Sequence[Frame], count: str) -> Picture:
    """The lettered picture with this moment's frames in their places."""
    for box, frame in zip(layout.panels, together, strict=True):
        picture[box.rows, box.columns] = picture_of(frame.linear, bt709_encoded)
    box = counter_box(layout)
    picture[box.rows, box.columns] = counter(layout, count)
    return picture


def _count_text(frame: Frame, count: int, rate: Fraction, shared: bool) -> str:
    """`frame 54, 0.950 s on set`; on screen where the panels' frames differ in time on set."""
    if shared:
        return f"frame {frame.number}, {float(frame.time):.3f} s on set"
    return f"frame {count}, {float(count / rate):.3f} s on screen"


# --- words ---


def head_of(comparison: Comparison) -> list[str]:
    """Title with what the panels differ by, then the rules, in ASCII."""
    title = f"{comparison.scene.title}: {comparison.shot.id}, by {comparison.by}"
    return [ascii_of(title), *map(ascii_of, comparison.rules)]


def notes_of(comparison: Comparison) -> list[str]:
    """What was left out and why, in ASCII."""
    return [f"Left out: {ascii_of(each.sentence)}." for each in comparison.left_out]


def caption_of(panel: Panel, frame: Frame) -> Caption:
    """The words below a panel."""
    shot = panel.shot
    exposed = text_of(TIME, frame.facts.exposure_time)
    settings = f"{shot.focal_length * 1000:.3g} mm   f/{shot.f_number:.3g}   {exposed}   ISO {frame.facts.iso_told}"
    outcomes = tuple(ascii_of(text) for text in _outcomes(panel, frame.linear.shape[1]))
    notes = [panel.stands, *(each.words for each in panel.differences)]
    return Caption(ascii_of(panel.name), ascii_of(settings), outcomes, tuple(map(ascii_of, notes)))


def _outcomes(panel: Panel, width: int) -> Iterator[str]:
    """Sensor, what is sharp, and how wide a point of the backdrop is drawn: what sets one panel apart."""
    parts = [panel.sharp] if panel.sharp else []
    blur = panel.figure("blur_pixels", "backdrop")
    if blur is not None:
        parts.append(f"backdrop blur {blur * width / panel.scene.mode(panel.shot).width:.2g} px")
    sensor = sensor_of(panel)
    for first in ([sensor], [sensor.partition(",")[0]], []):
        yield "    ".join([*first, *parts])
    yield parts[0] if parts else sensor


def sensor_of(panel: Panel) -> str:
    """Its sensor by the format's name where it has one, and by millimetres."""
    size = panel.scene.cameras[panel.shot.camera].sensor
    sides = f"{size[0] * 1000:.3g} x {size[1] * 1000:.3g} mm"
    name = next((name for name, known in SENSOR_FORMATS.items() if np.allclose(known, size, rtol=1e-6)), None)
    return f"{name}, {sides}" if name else f"sensor {sides}"
