"""Shots joined: pictures of the cut one after another, dissolves mixed, slates drawn.

A dissolve mixes light, not codes, as one exposed over the other on the same film: its middle has half of each one's
light. Its frames step evenly from the old to the new, neither end of which is among them: of n frames the k-th, counted
from 1, shows k / (n + 1) of the new.
"""

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from previz.delivery.clip.decoder import decoded
from previz.delivery.cut.kept import KeptShot
from previz.delivery.pictures import Picture, picture_of
from previz.delivery.slate import Slate
from previz.frames import Frame
from previz.layout import frame_times
from previz.physics.colour import bt709_encoded, bt709_linear, srgb_encoded
from previz.physics.flashes import cells_of
from previz.sequence import Event

#: Of the pictures on the contact sheet and the page. [px]
STILL_WIDTH = 480

#: Light of each code.
_LIGHT = bt709_linear(np.arange(256) / 255).astype(np.float32)


@dataclass(frozen=True)
class Stretch:
    """One event of the cut and the film that it plays."""

    event: Event
    kept: KeptShot
    slate: Slate | None = None

    def pictures(self) -> Iterator[Picture]:
        """Its pictures, from the first to the last that plays."""
        return decoded(self.kept.path, self.kept.size, self.kept.in_film(self.event.frames))

    def strip(self, place: int) -> Picture | None:
        """The slate under its picture of that place, counted from 0."""
        if self.slate is None:
            return None
        event = self.event
        number = event.frames[place]
        time = frame_times(event.scene, event.shot).time(number)
        frame = Frame(number, time, np.empty((0, self.kept.size[0], 3), np.float32), self.kept.facts)
        return picture_of(self.slate.strip(frame, self.kept.size[0]), bt709_encoded)


@dataclass
class Joining:
    """What is seen of a cut while it is joined.

    Parameters
    ----------
    cells : list of (18, 24, 3) float32
        Of each picture so far, for `flashes_in_a_second`.
    stills : dict
        The middle picture of each event by its number, sRGB and no wider than `STILL_WIDTH`.
    """

    cells: list[Any] = field(default_factory=list)
    stills: dict[int, Image.Image] = field(default_factory=dict)


def joined(stretches: Sequence[Stretch], seen: Joining) -> Iterator[Picture]:
    """The pictures of a cut, with slates where the stretches have them. Raises MachineError as `decoded` does."""
    moments: dict[int, list[int]] = {}  # those of two single frames that dissolve are one
    for place, each in enumerate(stretches):
        moments.setdefault(middle_of(stretches, place), []).append(each.event.number)
    for number, (picture, strip) in enumerate(_joined(stretches)):
        light = light_of(picture)
        seen.cells.append(cells_of(light))
        seen.stills |= {each: _still(light) for each in moments.get(number, ())}
        yield picture if strip is None else np.concatenate([picture, strip])


def middle_of(stretches: Sequence[Stretch], place: int) -> int:
    """The frame of the cut in the middle of what is seen of one stretch alone, or nearest to it."""
    event = stretches[place].event
    out = stretches[place + 1].event.dissolve if place + 1 < len(stretches) else 0
    first, end = event.starts + event.dissolve, event.ends - out
    return min((first + max(end, first + 1)) // 2, event.ends - 1)


def light_of(picture: Picture) -> NDArray[np.float32]:
    """Linear light of a picture's codes."""
    return _LIGHT[picture]


def _still(light: NDArray[np.float32]) -> Image.Image:
    image = Image.fromarray(picture_of(light, srgb_encoded))
    width = min(image.width, STILL_WIDTH)
    return image.resize((width, round(width * image.height / image.width)), Image.Resampling.BOX)


def mixed(old: Picture, new: Picture, share: float) -> Picture:
    """Two pictures' light mixed, `share` of it the new one's.

    >>> mixed(np.array([[[0, 255, 100]]], np.uint8), np.array([[[255, 255, 100]]], np.uint8), 0.5).tolist()
    [[[180, 255, 100]]]
    """
    return picture_of(light_of(old) * np.float32(1 - share) + light_of(new) * np.float32(share), bt709_encoded)


def _joined(stretches: Sequence[Stretch]) -> Iterator[tuple[Picture, Picture | None]]:
    """Pictures and their slates; of a dissolve that of the one that is seen more."""
    with ExitStack() as before:
        old: Iterator[Picture] = iter(())
        last: Stretch | None = None
        for place, stretch in enumerate(stretches):
            event, new = stretch.event, stretch.pictures()
            for step in range(event.dissolve):
                assert last is not None  # the first has no dissolve
                share = (step + 1) / (event.dissolve + 1)
                behind = len(last.event.frames) - event.dissolve + step
                strip = stretch.strip(step) if share >= 0.5 else last.strip(behind)
                yield mixed(next(old), next(new), share), strip
            before.close()
            before.push(_closing(new))
            out = stretches[place + 1].event.dissolve if place + 1 < len(stretches) else 0
            for step in range(event.dissolve, len(event.frames) - out):
                yield next(new), stretch.strip(step)
            old, last = new, stretch


def _closing(pictures: Any) -> Any:
    """A context's end that lets go of a film."""
    return lambda *_: pictures.close()
