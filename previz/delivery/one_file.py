"""Pages that are one HTML file: escaped, and with a policy that lets nothing load or run but what stands in them."""

import base64
import io
import json
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from previz.units import held_together

if TYPE_CHECKING:
    from jinja2 import Environment


#: What all pages have alike.
_SHARED = Path(__file__).parent / "templates"


def templates_in(folder: Path) -> "Environment":
    """Templates of ours; what they are filled with is a stranger's: everything is escaped unless marked."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    from previz.predictions import in_two

    found = Environment(
        loader=FileSystemLoader([folder, _SHARED]), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, finalize=_held,
    )  # fmt: skip
    found.filters["in_two"] = in_two
    found.filters["capitalize_first"] = lambda text: text[:1].upper() + text[1:]
    return found


def _held(told: object) -> object:
    """What a page is filled with: no line of it ends between a number and its unit."""
    return held_together(told) if type(told) is str else told  # markup is of our own making, and code


def for_script(data: object) -> str:
    """JSON that cannot end the script element it stands in.

    >>> for_script("</script>")
    '"\\\\u003c/script>"'
    """
    return json.dumps(data).replace("<", "\\u003c")


def hash_of(text: str) -> str:
    """A script's or style's name in a content policy."""
    return "sha256-" + base64.b64encode(sha256(text.encode()).digest()).decode()


def jpeg_of(data: bytes) -> bytes:
    """A picture as a JPEG, which is small enough to travel."""
    buffer = io.BytesIO()
    with Image.open(io.BytesIO(data)) as picture:
        picture.convert("RGB").save(buffer, format="jpeg", quality=86, optimize=True)
    return buffer.getvalue()
