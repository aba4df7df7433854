"""Many views drawn by one call.

Graphics hardware waits for Python, which tells it of every view and every thing apart. Where the vertex shader may
choose the layer it draws into, each thing is drawn into all layers of a batch by one call instead. A rasteriser in
software has nothing to wait for, and reads plain uniforms faster: it draws view by view.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl.buffers import ViewTargets
from previz.frames.gl.states import ViewState

#: How many views are drawn before they are added to the sum in one pass, at most. One by one they are drawn into as
#: many as there is memory for, but into so many in any case; and what a pixel of one takes. [-], [bytes], [-], [bytes]
MOST_TOGETHER = 32
_MEMORY, _IN_ANY_CASE, _A_PIXEL = 180e6, 16, 12

#: Extensions of the shading language, each of which lets a vertex shader say `gl_Layer`.
_EXTENSIONS = ("GL_ARB_shader_viewport_layer_array", "GL_AMD_vertex_shader_layer")


@dataclass(frozen=True)
class Batch:
    """Views that are drawn together.

    Parameters
    ----------
    framebuffer : int
    alone : sequence of (ViewState, int)
        Each view with the target that is its layer alone.
    switches : tuple of str
        For the vertex shaders.
    values : dict
        Of a single view, by the names in `views.glsl`; none where the shaders read them from a buffer.
    places : sequence of int
        Those buffers, if any: with the subject, then with each of the other vehicles in its place.
    """

    framebuffer: int
    alone: Sequence[tuple[ViewState, int]]
    switches: tuple[str, ...]
    values: dict[str, Any]
    places: Sequence[int] = ()

    def led_by(self, number: int) -> "Batch":
        """The same views with another vehicle in the subject's place: draw that next, and `lead_again` after it."""
        if self.places:
            GL.glBindBufferBase(GL.GL_UNIFORM_BUFFER, 0, self.places[number + 1])
            return self
        return replace(self, values=values_of(self.alone[0][0].led_by(number)))

    def lead_again(self) -> None:
        """Back to the subject in its own place."""
        if self.places:
            GL.glBindBufferBase(GL.GL_UNIFORM_BUFFER, 0, self.places[0])

    @property
    def count(self) -> int:
        """How many views."""
        return len(self.alone)

    def of(self, *names: str) -> dict[str, Any]:
        """What a program that uses these is to be told."""
        return {name: self.values[name] for name in names} if self.values else {}


def layering() -> tuple[str, ...]:
    """The switch by which shaders draw into many layers, or none where they cannot or where it would not pay."""
    renderer = GL.glGetString(GL.GL_RENDERER).decode()
    if any(name in renderer.lower() for name in ("llvmpipe", "softpipe", "swr")):
        return ()
    return layering_of_hardware()


def layering_of_hardware() -> tuple[str, ...]:
    """The switch, whatever the renderer."""
    count = int(GL.glGetIntegerv(GL.GL_NUM_EXTENSIONS))
    known = {GL.glGetStringi(GL.GL_EXTENSIONS, number).decode() for number in range(count)}
    return next(((f"#extension {name} : require",) for name in _EXTENSIONS if name in known), ())


class Batches:
    """The targets that views are drawn into, so many at a time; splits views into batches and tells shaders of them."""

    def __init__(self, size: tuple[int, int]) -> None:
        self._size, self._layering = size, layering()
        #: Whether views also say how far things move.
        self.moving = False
        self._targets: ViewTargets | None = None
        self._places: list[int] = []  # of the subject and of each of the other vehicles, where views are drawn at once

    @property
    def at_once(self) -> bool:
        """Whether one call draws all views of a batch: graphics hardware."""
        return bool(self._layering)

    @property
    def texture(self) -> int:
        """The stack of the views drawn last."""
        assert self._targets is not None
        return self._targets.texture

    @property
    def moved(self) -> int:
        """How far things move in them, a stack too."""
        assert self._targets is not None and self._targets.moved is not None
        return self._targets.moved

    @property
    def _most(self) -> int:
        if self._layering:
            return MOST_TOGETHER
        held = int(_MEMORY / (_A_PIXEL * self._size[0] * self._size[1]))
        return min(max(held, _IN_ANY_CASE), MOST_TOGETHER)

    def of(self, views: Sequence[ViewState]) -> Iterator[list[Batch]]:
        """The views in batches as large as each other: draw them, and take them up before asking for the next."""
        batches = -(-len(views) // self._most)
        each = -(-len(views) // batches)
        targets = self._with_room_for(each)
        for first in range(0, len(views), each):
            together = views[first : first + each]
            alone = list(zip(together, targets.framebuffers, strict=False))
            if self._layering:
                self._tell_places(together, targets)
                switches = (*self._layering, f"AT_ONCE {targets.depth}")
                yield [Batch(targets.whole, alone, switches, {}, self._places)]
            else:
                yield [Batch(framebuffer, [(view, framebuffer)], (), values_of(view)) for view, framebuffer in alone]

    def _with_room_for(self, count: int) -> ViewTargets:
        """Each view's takes memory that is slow to come by at first: no more than are wanted."""
        depth = MOST_TOGETHER if self._layering else count
        if (
            self._targets is not None
            and self._targets.depth >= depth
            and (self._targets.moved is not None) == self.moving
        ):
            return self._targets
        if self._targets is not None:
            self._targets.delete()
        self._targets = ViewTargets(*self._size, depth, at_once=bool(self._layering), moving=self.moving)
        return self._targets

    def _tell_places(self, views: Sequence[ViewState], targets: ViewTargets) -> None:
        led = [views, *([view.led_by(number) for view in views] for number in range(len(views[0].others)))]
        while len(self._places) < len(led):
            self._places.append(int(GL.glGenBuffers(1)))
        for buffer, those in zip(self._places, led, strict=False):
            packed = np.stack([_packed(values_of(view)) for view in those])
            GL.glBindBuffer(GL.GL_UNIFORM_BUFFER, buffer)
            GL.glBufferData(GL.GL_UNIFORM_BUFFER, targets.depth * packed.strides[0], None, GL.GL_DYNAMIC_DRAW)
            GL.glBufferSubData(GL.GL_UNIFORM_BUFFER, 0, packed.nbytes, packed)
        GL.glBindBufferBase(GL.GL_UNIFORM_BUFFER, 0, self._places[0])


def values_of(view: ViewState) -> dict[str, Any]:
    """What shaders are told of a view, by the names in `views.glsl`."""
    return {
        "clip_from_world": view.clip_from_world,
        "world_from_vehicle": view.world_from_vehicle,
        "ground_from_world": np.linalg.inv(view.world_from_ground),
        "eye": view.eye,
        "travelled": float(view.travelled),
        "detail": float(view.detail),
    }


def _packed(values: dict[str, Any]) -> NDArray[np.float32]:
    """As the layout std140 has a view: matrices column by column, then the eye with two numbers, in fours."""
    matrices = [values[name].T.ravel() for name in ("clip_from_world", "world_from_vehicle", "ground_from_world")]
    numbers = [*values["eye"], values["travelled"], values["detail"], 0.0, 0.0, 0.0]
    return np.concatenate([*matrices, numbers]).astype(np.float32)
