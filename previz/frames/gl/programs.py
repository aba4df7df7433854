"""Shader programs with their switches, compiled when first used.

Not pyrender's: it validates a program before its samplers have their own units, which drivers rightly refuse for
ours, and it looks every uniform up anew and swallows what goes wrong.
"""

import re
from pathlib import Path
from typing import Any

import numpy as np
from OpenGL import GL
from OpenGL.GL import shaders
from OpenGL.raw.GL.VERSION import GL_2_0 as plain

_FOLDER = Path(__file__).parent / "shaders"

#: By how many floats. PyOpenGL's usual ones look an array over in four times as long, and a view of a frame sets 30.
_FLOATS = {2: plain.glUniform2fv, 3: plain.glUniform3fv, 4: plain.glUniform4fv}


class Program:
    """A linked vertex and fragment shader, and perhaps a geometry shader between them.

    `switches` are defined for the preprocessor of all; one that begins with # is put into the vertex shader as it is.
    """

    def __init__(self, vertex: str, fragment: str, switches: tuple[str, ...] = (), geometry: str = "") -> None:
        stages = [(vertex, GL.GL_VERTEX_SHADER), (fragment, GL.GL_FRAGMENT_SHADER)]
        if geometry:
            stages.append((geometry, GL.GL_GEOMETRY_SHADER))
        compiled = [shaders.compileShader(_source(name, switches), kind) for name, kind in stages]
        self._number = int(shaders.compileProgram(*compiled, validate=False))
        self._places: dict[str, int] = {}
        self._given: dict[str, Any] = {}

    def use(self, textures: dict[str, tuple[int, int]], **values: Any) -> None:
        """Make it the current program, with textures (name: (target, number)) and uniforms.

        A value is an int, a float, a (2,), (3,) or (4,) array, (4,) whole numbers, a (4, 4) array or so many fours,
        (n, 1, 4), which must not change afterwards: the very same one is not sent again. Raises KeyError for a name
        that the program has not.
        """
        GL.glUseProgram(self._number)
        for unit, (name, (target, number)) in enumerate(textures.items()):
            GL.glActiveTexture(GL.GL_TEXTURE0 + unit)
            GL.glBindTexture(target, number)
            self._give(name, unit)
        for name, value in values.items():
            self._give(name, value)

    def _give(self, name: str, value: Any) -> None:
        if self._given.get(name) is not value:
            self._set(self._place(name), value)
            self._given[name] = value

    def _set(self, place: int, value: Any) -> None:
        if isinstance(value, int):
            GL.glUniform1i(place, value)
        elif isinstance(value, float):
            GL.glUniform1f(place, value)
        elif value.ndim == 3:
            _FLOATS[4](place, len(value), np.ascontiguousarray(value, np.float32))
        elif value.dtype.kind == "i":
            GL.glUniform4iv(place, 1, np.ascontiguousarray(value, np.int32))
        elif value.ndim == 2:
            plain.glUniformMatrix4fv(place, 1, GL.GL_TRUE, np.ascontiguousarray(value, np.float32))
        else:
            _FLOATS[len(value)](place, 1, np.ascontiguousarray(value, np.float32))

    def _place(self, name: str) -> int:
        if name not in self._places:
            place = int(GL.glGetUniformLocation(self._number, name))
            if place < 0:
                raise KeyError(f"the shader program has no {name}")
            self._places[name] = place
        return self._places[name]


def _source(name: str, switches: tuple[str, ...]) -> str:
    version, rest = (_FOLDER / name).read_text().split("\n", 1)
    whole = _with_included(rest)
    # Some switches are directives of their own; only vertex shaders have need of them.
    given = [switch for switch in switches if switch.startswith("#") and name.endswith(".vert")]
    defined = [f"#define {switch}" for switch in switches if not switch.startswith("#")]
    return "\n".join([version, *given, *defined, whole])


def _with_included(text: str) -> str:
    return re.sub(
        r'^#include "([\w.]+)"$',
        lambda found: _with_included((_FOLDER / found[1]).read_text()),
        text,
        flags=re.MULTILINE,
    )
