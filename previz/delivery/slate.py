"""The slate: a dark strip under the picture that says what was filmed with what, and when.

It adds rows and covers nothing. The scene and shot stand on the left; ten cells, a small word over a value, fill
the rest. Sizes follow from the picture's width, so that it reads the same at 640 and at 1280.
"""

import dataclasses
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from previz import units
from previz.delivery.lettering import ascii_of, cut, font
from previz.frames import Frame
from previz.layout import camera_at
from previz.scene import Scene, Shot

# Levels of the strip in linear light, 1.0 = white, times 255: near black, a word, a value.
_STRIP, _WORD, _VALUE = 2, 60, 185

#: Shares of the width: scene and shot, then the five columns of cells.
_COLUMNS = (0.23, 0.205, 0.155, 0.15, 0.11, 0.15)

#: A picture narrower than this has the cells under scene and shot, two abreast. [px]
_NARROW = 480


@dataclass(frozen=True)
class Slate:
    """What the strip says that does not follow from a frame alone. Text is ASCII.

    focus: the distance in focus at a time on set, from the entrance pupil.
    """

    scene: str
    shot: str
    camera: str
    sensor: str
    focal_length: str
    stop: str
    rate: str
    focus: Callable[[float], str]

    @classmethod
    def of(cls, scene: Scene, shot: Shot) -> "Slate":
        """The slate of a shot."""
        width, height = (f"{side * 1000:.3g}" for side in scene.cameras[shot.camera].sensor)
        return cls(
            scene=ascii_of(scene.title),
            shot=shot.id,
            camera=shot.camera,
            sensor=f"{width} x {height} mm",
            focal_length=units.text_of(units.LENGTH, shot.focal_length),
            stop=f"f/{shot.f_number:g}",
            rate=f"{_rate(float(shot.capture.rate))} -> {_rate(float(shot.playback))} fps",
            focus=lambda time: scene.tape(camera_at(scene, shot, time).focus_distance),
        )

    def with_strip(self, size: tuple[int, int]) -> tuple[int, int]:
        """Size of a picture with the strip under it. [px]"""
        return size[0], size[1] + _layout(size[0]).height

    def under_each(self, frames: Iterable[Frame], width: int) -> Iterator[Frame]:
        """The frames, each `width` px wide, with the strip under them."""
        _layout(width)
        for frame in frames:
            yield self.under(frame)

    def under(self, frame: Frame) -> Frame:
        """The frame with the strip under it."""
        strip = self.strip(frame, frame.linear.shape[1])
        return dataclasses.replace(frame, linear=np.concatenate([frame.linear, strip]))

    def strip(self, frame: Frame, width: int) -> NDArray[np.float32]:
        """The strip alone, (h, width, 3) float32 linear light, h even."""
        layout = _layout(width)
        image = Image.new("L", (width, layout.height), _STRIP)
        draw = ImageDraw.Draw(image)
        for (x, y), room, word, value in layout.places(self._entries(frame)):
            draw.text((x, y), word, _WORD, font(layout.word))
            draw.text((x, y + layout.word * 1.2), cut(value, layout.value, room), _VALUE, font(layout.value))
        level = np.asarray(image, np.float32) / np.float32(255)
        return np.repeat(level[:, :, None], 3, axis=2)

    def _entries(self, frame: Frame) -> list[tuple[str, str]]:
        """A word and its value each: scene, shot, then the cells in reading order."""
        return [
            ("scene", self.scene),
            ("shot", self.shot),
            ("camera", self.camera),
            ("sensor", self.sensor),
            ("focal length", self.focal_length),
            ("stop", self.stop),
            ("shutter", units.text_of(units.TIME, float(frame.facts.exposure_time))),
            ("capture -> playback", self.rate),
            ("focus from lens", self.focus(float(frame.time))),
            ("ISO", frame.facts.iso_told),
            ("frame", str(frame.number)),
            ("time on set", f"{float(frame.time):.3f} s"),
        ]


@dataclass(frozen=True)
class _Layout:
    """Where the strip's entries stand; everything in pixels."""

    width: int
    margin: int
    value: int  # size of a value's letters
    word: int  # size of a word's letters
    height: int
    narrow: bool

    def places(self, entries: list[tuple[str, str]]) -> Iterator[tuple[tuple[float, float], float, str, str]]:
        """For each entry: its top left corner, the width it may take, word, value."""
        shares = (0.5, 0.5) if self.narrow else _COLUMNS
        inner = self.width - 2 * self.margin
        # Reading order; wide, the first column (scene over shot) comes before the cells.
        cells = [(row, column) for row in range(2) for column in range(1, 6)]
        grid = [divmod(index, 2) for index in range(12)] if self.narrow else [(0, 0), (1, 0), *cells]
        for (row, column), (word, value) in zip(grid, entries, strict=True):
            x = self.margin + sum(shares[:column]) * inner
            yield (x, self.margin + row * self.row), shares[column] * inner - self.margin / 2, word, value

    @property
    def row(self) -> float:
        """From one row to the next."""
        return self.word * 1.2 + self.value * 1.55


@lru_cache(maxsize=8)
def _layout(width: int) -> _Layout:
    narrow = width < _NARROW
    value = max(12, round(width / 56))
    layout = _Layout(width, round(value * 0.8), value, max(10, round(value * 0.72)), 0, narrow)
    rows = 6 if narrow else 2
    height = round(layout.margin * 2 + rows * layout.row - value * 0.4)
    return dataclasses.replace(layout, height=height + height % 2)


def _rate(rate: float) -> str:
    """At most three decimals: 23.976."""
    return f"{rate:.3f}".rstrip("0").rstrip(".")
