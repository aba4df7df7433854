"""Stills: one frame as a PNG that says it is sRGB."""

import io
import struct
import zlib
from pathlib import Path

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from previz.delivery.pictures import Picture, picture_of
from previz.delivery.slate import Slate
from previz.delivery.whole_file import named_faults, whole_file
from previz.errors import PrevizError
from previz.frames import Frame
from previz.physics.colour import srgb_encoded

#: Rec. 709 white and primaries x, y (ITU-R BT.709, table 1), in the order of PNG's cHRM: white, red, green, blue.
_CHROMATICITIES = (0.3127, 0.3290, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06)

#: How a PNG is packed. In noise there is nothing to find but runs: looking for no more writes files as small as a
#: search does, within a hundredth or two, in half of its time or less.
PNG_PACKING = {"compress_type": zlib.Z_RLE}


def deliver_still(path: Path, frame: Frame, slate: Slate | None = None) -> None:
    """Write one frame as a PNG of 8 bits a channel, whole or not at all.

    Raises
    ------
    PrevizError
        `path` does not end in .png.
    MachineError
        The file cannot be written.
    """
    if path.suffix != ".png":
        raise PrevizError(f"{path}: a still is a png; let its name end in .png")
    if slate is not None:
        frame = slate.under(frame)
    with whole_file(path) as part, named_faults(path):
        _save(frame, part)


def png_of(frame: Frame) -> bytes:
    """One frame as the bytes of a PNG, as `deliver_still` writes it."""
    file = io.BytesIO()
    _save(frame, file)
    return file.getvalue()


def _save(frame: Frame, to: Path | io.BytesIO) -> None:
    image = Image.fromarray(still_picture(frame))
    image.save(to, format="png", pnginfo=srgb_tags(), **PNG_PACKING)


def still_picture(frame: Frame) -> Picture:
    """The codes of a frame as a still holds them, (h, w, 3) uint8."""
    return picture_of(frame.linear, srgb_encoded)


def black_picture(size: tuple[int, int]) -> Picture:
    """Codes of a picture that is still to come, (h, w, 3) uint8, to be filled in; size is (w, h)."""
    return np.zeros((size[1], size[0], 3), np.uint8)


def srgb_tags() -> PngInfo:
    """The chunks by which a reader knows the colours: sRGB, and gAMA and cHRM for readers that do not know it.

    PNG (Third Edition), W3C 2025, "sRGB Standard colour space", gives the gAMA that goes with it (from memory).
    """
    tags = PngInfo()
    tags.add(b"gAMA", struct.pack(">I", 45455))
    tags.add(b"cHRM", struct.pack(">8I", *(round(value * 100_000) for value in _CHROMATICITIES)))
    tags.add(b"sRGB", b"\0")  # rendering intent: perceptual
    return tags
