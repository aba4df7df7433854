"""Images from files. Pillow reads them, and is imported only when there is one to read."""

import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.errors import PrevizError
from previz.files.reading import MOST_BYTES, bytes_of

IMAGE_FORMATS = ("PNG", "JPEG", "WEBP", "TIFF", "BMP")
MOST_PIXELS = 64 * 1000**2


def load_image(path: Path) -> NDArray[np.uint8]:
    """An image file as (h, w, 3) uint8 sRGB, or (h, w, 4) where it has transparency; row 0 is the top.

    Raises PrevizError where it is missing, not an image of a known format, damaged or over 64 megapixels.
    """
    data = bytes_of(path, "an image", MOST_BYTES)
    try:
        return _decoded(data)
    except PrevizError as fault:
        raise PrevizError(f"{path}: {fault}") from None


def _decoded(data: bytes) -> NDArray[np.uint8]:
    from PIL import Image, ImageOps, UnidentifiedImageError

    # Pillow warns where a picture is large or its tags are odd; we have our own limit, and draw what it can read.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            picture = Image.open(io.BytesIO(data), formats=IMAGE_FORMATS)
            refuse_large(picture.size)
            turned = ImageOps.exif_transpose(picture)
            return eight_bit(turned)
        except UnidentifiedImageError:
            raise PrevizError(
                f"not an image that can be read; allowed are {', '.join(IMAGE_FORMATS)}; save it as one of these"
            ) from None
        except Image.DecompressionBombError:
            raise PrevizError(_too_many_pixels("far more")) from None
        except PrevizError:
            raise
        except Exception:  # Pillow's decoders raise whatever a damaged file makes them trip over
            raise PrevizError("the image is damaged or cut short; save or copy it again") from None


def refuse_large(size: tuple[int, int]) -> None:
    """Raises PrevizError for too many pixels (width, height), or none."""
    if size[0] * size[1] > MOST_PIXELS:
        raise PrevizError(_too_many_pixels(f"{size[0]} x {size[1]} pixels"))
    if min(size) < 1:
        raise PrevizError("an image without pixels; save it again")


def _too_many_pixels(found: str) -> str:
    return f"{found} found; at most {MOST_PIXELS // 1000**2} megapixels are read; make the image smaller"


def eight_bit(picture: Any) -> NDArray[np.uint8]:
    """A Pillow image as (h, w, 3), or (h, w, 4) where it has transparency."""
    from PIL import Image

    if picture.mode.startswith("I") or picture.mode == "F":  # 16-bit greys; Pillow's own conversion would clip them
        deep = np.asarray(picture, dtype=float)
        most = 65535.0 if deep.max() > 255 else 255.0
        picture = Image.fromarray(np.clip(deep * 255 / most, 0, 255).astype(np.uint8))
    clear = "A" in picture.getbands() or "transparency" in picture.info
    return np.array(picture.convert("RGBA" if clear else "RGB"), dtype=np.uint8)
