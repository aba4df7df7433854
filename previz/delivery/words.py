"""Words over a picture, where there is no other place to say them."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from PIL import Image, ImageDraw

from previz.delivery.lettering import ascii_of, font, wrapped
from previz.frames import Frame

#: How much of the picture's light is left under the words, and the light of the words; of white.
_LEFT, _WORDS = 0.12, 0.8


def words_over(frame: Frame, paragraphs: Sequence[str]) -> Frame:
    """The frame with words over its upper part, which is darkened behind them; what has no room is left out.

    The frame's size stays. Accents are dropped, for the font has none.
    """
    height, width = frame.linear.shape[:2]
    size = max(12, round(width / 45))
    lines = [line for each in paragraphs for line in [*wrapped(ascii_of(each), size, width - 2 * size), ""]][:-1]
    room = int((height - 2 * size) / (size * 1.3))
    if len(lines) > room:
        lines = [*lines[: room - 1], "..."]
    depth = min(height, round(2 * size + len(lines) * size * 1.3))
    plate = Image.new("L", (width, depth), 0)
    draw = ImageDraw.Draw(plate)
    for number, line in enumerate(lines):
        draw.text((size, size + number * size * 1.3), line, 255, font(size))
    share = (np.asarray(plate, np.float32) / np.float32(255))[:, :, None]
    linear = frame.linear.copy()
    linear[:depth] = np.minimum(linear[:depth], 1.0) * np.float32(_LEFT) * (1 - share) + np.float32(_WORDS) * share
    return replace(frame, linear=linear)
