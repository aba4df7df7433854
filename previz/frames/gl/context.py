"""An OpenGL context without a window, through pyrender's platforms."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib.util import find_spec, module_from_spec
from typing import Any

from previz.errors import MachineError

#: Errors after which nothing counts. The second is CONTEXT_LOST, which PyOpenGL names in an extension only.
_LOST = {0x0505: "ran out of memory", 0x0507: "was reset"}

_FLAGS = 8  # of errors that may be waiting to be told: drivers keep one of a kind at most

_APT_LINE = "sudo apt-get update && sudo apt-get install -y --no-install-recommends python3-venv libegl1 libgl1"


class GraphicsLost(MachineError):
    """What was drawn since cannot be told from what was drawn before; a new context may be had."""


def require_opengl() -> None:
    """Look for the OpenGL libraries before anything imports them.

    Raises
    ------
    MachineError
        With the line that installs them.
    """
    if not sys.platform.startswith("linux"):
        return
    for library in ("libEGL.so.1", "libGL.so.1"):
        try:
            ctypes.CDLL(library)
        except OSError:
            raise MachineError(
                f"{library} is missing, so no picture can be drawn. Install OpenGL with:\n  {_APT_LINE}"
            ) from None


@cache
def platform_class() -> Any:
    """What opens a context on this system, of pyrender's making; PyOpenGL takes a while to load.

    The environment is settled before PyOpenGL is imported, since it chooses its platform at import. PyOpenGL asks for
    an error after every call, which costs more than most calls; that is turned off for `OpenGL.GL`, but only after
    `OpenGL.EGL` is there, which breaks when imported without it. By then the public switch has been read, hence the
    private one.

    Raises
    ------
    MachineError
        Where OpenGL's libraries are missing.
    """
    require_opengl()
    if sys.platform.startswith("linux"):
        os.environ.setdefault("PYOPENGL_PLATFORM", "egl")
        os.environ.setdefault("PYGLET_HEADLESS", "1")
        import OpenGL.EGL  # noqa: F401 - for what it does when imported
        from OpenGL import _configflags

        _configflags.ERROR_CHECKING = False
        with _without_front_door("pyrender"):
            from pyrender.platforms.egl import EGLPlatform
        return _that_leaves_others(EGLPlatform)
    from pyrender.platforms.pyglet_platform import PygletPlatform

    return PygletPlatform


def _that_leaves_others(platform: Any) -> Any:
    """pyrender's for EGL, but one that gives back its own context and no more.

    pyrender's ends the display, and with it every context that there is. It does so when it is asked to, and once more
    when Python comes to collect it, by handles that may be another context's by then.
    """
    from OpenGL import EGL

    class Platform(platform):
        _egl_context: Any

        def delete_context(self) -> None:
            display, context = self._egl_display, self._egl_context
            if context is None:
                return
            self._egl_context = None
            current, own = (ctypes.cast(each, ctypes.c_void_p).value for each in (EGL.eglGetCurrentContext(), context))
            if current == own:
                EGL.eglMakeCurrent(display, EGL.EGL_NO_SURFACE, EGL.EGL_NO_SURFACE, EGL.EGL_NO_CONTEXT)
            EGL.eglDestroyContext(display, context)

    return Platform


@contextmanager
def _without_front_door(package: str) -> Iterator[None]:
    """Modules of a package can be imported here without running its `__init__`.

    pyrender's loads trimesh, networkx and scipy, which take over a second and are of no use to a context.
    """
    known, spec = sys.modules.get(package), find_spec(package)
    if known is not None or spec is None:  # loaded by somebody already, or missing, which the import will tell
        yield
        return
    sys.modules[package] = module_from_spec(spec)
    try:
        yield
    finally:
        del sys.modules[package]  # whoever wants all of it still gets all of it


class Context:
    """An OpenGL 3.3+ core context, current from now on until another one is. For the thread that opened it.

    OpenGL takes names for those of the context that is current: a caller that draws two films in turn has two, and
    each says `be_current` before it names anything.

    Raises
    ------
    MachineError
        Where this machine has none.
    """

    def __init__(self, width: int, height: int) -> None:
        make = platform_class()
        try:
            self._platform = make(width, height)
            self._platform.init_context()
        except Exception as error:  # pyrender says no device by an IndexError, and the rest by whatever fails first
            raise MachineError(
                f"no OpenGL context could be opened ({type(error).__name__}: {error}). "
                "`previz doctor` says what this machine offers"
            ) from error
        self.be_current()

    def be_current(self) -> None:
        """What is named from now on is this one's. Raises GraphicsLost where the system does not let it be."""
        try:
            self._platform.make_current()
        except AssertionError as error:  # pyrender's word for it
            raise GraphicsLost("the graphics driver does not go back to a film that was begun; try again") from error

    def close(self) -> None:
        """Give back what it holds; another one that is current stays so."""
        if not sys.is_finalizing():  # a film that nobody saw to its end: the process gives everything back
            self._platform.delete_context()


def require_kept() -> None:
    """Look whether what was just drawn counts. Nowhere else is OpenGL asked for its errors: see `platform_class`.

    Raises
    ------
    GraphicsLost
        The driver was reset, or had no memory left for it: then "the state of the GL is undefined" (OpenGL 4.6 core
        profile, 2.3.1; its codes in table 2.3. From memory).
    """
    from OpenGL import GL

    for _ in range(_FLAGS):
        error = GL.glGetError()
        if error == GL.GL_NO_ERROR:
            return
        if error in _LOST:
            raise GraphicsLost(
                f"the graphics driver {_LOST[error]} while a frame was drawn; try again, with a smaller --size if it "
                "happens again"
            )


def gl_description() -> str:
    """Renderer and version, e.g. `llvmpipe (LLVM 15.0.6, 256 bits), OpenGL 4.5 (Core Profile) Mesa 22.3.6`.

    It opens a context of its own, after which none is current.
    """
    context = Context(16, 16)
    from OpenGL import GL

    renderer, version = (GL.glGetString(name).decode() for name in (GL.GL_RENDERER, GL.GL_VERSION))
    context.close()
    return f"{renderer}, OpenGL {version}"
