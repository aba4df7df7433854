"""What this machine offers, and what it lacks for the job."""

import importlib.metadata
import os
import platform
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from previz.errors import MachineError

#: Renderers that draw on the processor, as their drivers name themselves.
_SOFTWARE = ("llvmpipe", "softpipe", "swrast", "swiftshader")

#: The packages that pictures depend on most; their versions belong in a report of a fault.
_PACKAGES = ("numpy", "scipy", "trimesh", "embreex", "PyOpenGL", "pyrender-maintained", "imageio-ffmpeg", "Pillow")


@dataclass(frozen=True)
class Check:
    """One thing looked at.

    Parameters
    ----------
    name : str
        What was looked at.
    found : str
        What is there, or the message that says how to get it.
    works : bool
        False where something needed is missing.
    """

    name: str
    found: str
    works: bool = True


def examine() -> list[Check]:
    """Look at everything; nothing raises, what is missing is a check that does not work."""
    return [
        Check("previz", _version("tabletop-previz")),
        Check("Python", f"{platform.python_version()} on {platform.system()} {platform.machine()}"),
        *_opengl(),
        _tried("ray casting", _ray_casting),
        _tried("video encoder", _video_encoder),
        Check("processor cores", f"{cores()} to use, {os.cpu_count() or 1} in the machine"),
        _tried("light cache", _light_cache),
        Check("cluster", _cluster()),
        *(Check(name, _version(name), _version(name) != _ABSENT) for name in _PACKAGES),
    ]


def cores() -> int:
    """Processor cores this process may use. Not `stage`'s: that does not load where embreex is missing."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _tried(name: str, look: Callable[[], str]) -> Check:
    try:
        return Check(name, look())
    except (MachineError, ImportError, OSError) as error:
        return Check(name, str(error), works=False)


def _opengl() -> list[Check]:
    checks = []
    if sys.platform.startswith("linux"):
        checks.append(_tried("OpenGL libraries", _opengl_libraries))
    drawing = _tried("OpenGL", _opengl_renderer) if all(check.works for check in checks) else None
    if drawing:
        checks.append(drawing)
    if drawing and drawing.works:
        software = any(name in drawing.found.lower() for name in _SOFTWARE)
        checks.append(Check("drawn by", "the processor (software)" if software else "graphics hardware"))
    return checks


def _opengl_libraries() -> str:
    from previz.frames import require_opengl

    require_opengl()
    return "libEGL.so.1 and libGL.so.1 are there"


def _opengl_renderer() -> str:
    from previz.frames import gl_description

    return gl_description()


def _ray_casting() -> str:
    import embreex

    return f"Embree by embreex {getattr(embreex, '__version__', '') or _version('embreex')}"


def _video_encoder() -> str:
    from previz.delivery import try_encoder

    return f"ffmpeg {try_encoder()}, H.264 tried and works"


def _cluster() -> str:
    """Not needed: whoever has one machine does without."""
    found = _version("distributed")
    return "not installed; pip install 'tabletop-previz[cluster]'" if found == _ABSENT else f"Dask distributed {found}"


def _light_cache() -> str:
    from previz.files import MOST_KEPT, cache_folder

    folder = cache_folder()
    return f"{folder} ({size_text(_size_of(folder))} of at most {size_text(MOST_KEPT)}; safe to delete)"


def _size_of(folder: Path) -> int:
    """Bytes of all files in a folder; 0 if there is none."""
    return sum(file.stat().st_size for file in folder.rglob("*") if file.is_file())


def size_text(size: float) -> str:
    """Bytes as people read them.

    >>> size_text(999), size_text(1_250_000)
    ('999 bytes', '1.2 MB')
    """
    for limit, unit in ((1e9, "GB"), (1e6, "MB"), (1e3, "kB")):
        if size >= limit:
            return f"{size / limit:.1f} {unit}"
    return f"{size:g} bytes"


_ABSENT = "not installed; pip install tabletop-previz brings it"


def _version(package: str) -> str:
    try:
        return importlib.metadata.version(package)
    except importlib.metadata.PackageNotFoundError:
        return _ABSENT
