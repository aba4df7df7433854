"""A comparison of made-up frames: each panel has a colour of its own that brightens with the frame's number."""

from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np
from made_up import FACTS

from previz.delivery import Comparison, compared
from previz.frames import Frame

SCENE = """\
title: Kai & <Hafen>
scale: 1:50
units: mm
set: {table: {width: 1400, depth: 700}, backdrop: {distance: 690, height: 500, colour: "#8899aa"}}
vehicle: {body: lorry, path: [[100, 300], [1300, 300]], speed: 1 m/s}
lights:
  - {id: room, ambient: 2000 lx}
  - {id: key, panel: [300, 200], at: [300, -200, 900], aim: [700, 300, 0], output: 900 lm, diffusion: 1 stop,
     mains: true}
cameras:
  inch: {sensor: [12, 8], lens: 8-40 mm, widest: f/1.4, smallest: f/32, nearest: 50, modes: [1080p120]}
  large: {sensor: [36, 24], lens: 24-120 mm, widest: f/2.8, smallest: f/32, nearest: 100, modes: [1080p120]}
  tall: {sensor: [17, 13], lens: 10-60 mm, widest: f/2.8, nearest: 100, modes: [1440x1080 at 120 fps]}
  stuck: {sensor: [6, 4], lens: 5 mm, widest: f/1, nearest: 900, modes: [1080p120]}
shots:
  - id: pass
    camera: inch
    focal_length: 20
    f_number: 4
    at: [700, -160, 60]
    aim: [700, 300, 40]
    focus: 460
    capture: {rate: 120 fps}
    start: 0.4 s
    duration: 0.4 s
"""

#: Linear light of each panel at frame 0, and what a frame adds.
COLOURS = ((0.30, 0.05, 0.05), (0.05, 0.30, 0.05), (0.05, 0.05, 0.30))
STEP = 0.03


#: Comparisons by their scene and what was asked; nothing changes one once it is made.
_MADE: dict[tuple[str, str], Comparison] = {}


def comparison_of(folder: Path, text: str = SCENE, **asked: object) -> Comparison:
    """Of a scene file that is written into this folder; one that was made before is not made again."""
    path = folder / "scene.yaml"
    path.write_text(text, encoding="utf-8")
    key = text, repr(sorted(asked.items()))
    if key not in _MADE:
        _MADE[key] = compared(path, **asked)  # type: ignore[arg-type]
    return _MADE[key]


def colour_at(panel: int, number: int) -> np.ndarray:
    return np.array(COLOURS[panel], np.float32) + np.float32(STEP * number)


def film(panel: int, count: int, size: tuple[int, int], first: int = 0, rate: int = 120) -> Iterator[Frame]:
    for number in range(first, first + count):
        linear = np.broadcast_to(colour_at(panel, number), (size[1], size[0], 3)).copy()
        yield Frame(number, Fraction(2, 5) + Fraction(number, rate), linear, FACTS)


def films(comparison: Comparison, count: int, width: int = 160) -> list[Iterator[Frame]]:
    """One for each panel, of the shape of its mode."""
    modes = [panel.scene.mode(panel.shot) for panel in comparison.panels]
    sizes = [(width, round(width * mode.height / mode.width / 2) * 2) for mode in modes]
    return [film(number, count, size) for number, size in enumerate(sizes)]
