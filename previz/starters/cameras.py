"""Cameras to begin with, for a maker who does not have the data sheet at hand, and those a maker writes."""

import re

from previz.errors import PrevizError
from previz.scene import Camera, like_a_phone, read_cameras
from previz.units import shown

#: Typical figures of three kinds of camera, as a scene file has them; from memory, of no camera in particular.
TYPICAL = {
    "phone": "{sensor: 1/1.3-type, lens: 6.9 mm, widest: f/1.8, smallest: f/1.8, nearest: 120 mm, "
    "modes: [1080p120, 4k60]}",
    "pocket": "{sensor: 1-inch, lens: 8.8-36.8 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120, 4k30]}",
    "big": "{sensor: full frame, lens: 24-70 mm, widest: f/2.8, nearest: 260 mm, modes: [1080p120, 4k60]}",
}

#: One as a maker writes it.
EXAMPLE = "mine: {sensor: APS-C, lens: 18-55 mm f/3.5-5.6, nearest: 200 mm, modes: [1080p60]}"


def camera_text(wanted: str, unit: str = "mm") -> tuple[str, str, Camera]:
    """A camera's name, how it stands in a scene file, and the camera: a typical one by name, or one written out.

    wanted: `phone`, or as in a scene file, `mine: {sensor: APS-C, lens: 18-55 mm f/3.5-5.6, …}`. unit is that of bare
    lengths in the file.

    Raises
    ------
    PrevizError
        Of one that is neither, with everything that is wrong.

    >>> camera_text("phone")[0], camera_text("phone")[2].widest
    ('phone', 1.8)
    """
    name, colon, text = (part.strip() for part in wanted.partition(":"))
    if not colon and name in TYPICAL:
        text = TYPICAL[name]
    elif not colon:
        raise PrevizError(
            f"{shown(wanted)} is not a camera to begin with; there are {', '.join(TYPICAL)}, or write yours as in a "
            f"scene file: '{EXAMPLE}'"
        )
    cameras = read_cameras(f"{{{name}: {text}}}", unit)
    return name, text, cameras[name]


def told_of_its_one_stop(name: str, text: str, camera: Camera) -> str:
    """What to say of a camera that is taken for a phone's, which has one stop, by what is written of it; else ""."""
    if re.search(r"\bsmallest\b", text) or not like_a_phone(camera.lens, camera.sensor):
        return ""
    said = f"{name}: one focal length and a small sensor, so taken for a phone's lens, which has one stop"
    return f"{said}, f/{camera.widest:g}; if it closes further, write its smallest: into --camera"
