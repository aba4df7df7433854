"""Views that each fill their own patch of the pupil: sorted by how blurred they are into layers, the layers blurred.

A view through one point of the pupil stands for a patch of it. What lies off the plane of focus is smeared by the
patch as by a small pupil, so each view wants a small blur that differs from place to place. To blur a picture is dear
and views are many; so the views are added into a few layers, each for one amount of blur before or behind the plane of
focus, and the layers are blurred once a frame and laid over one another from near to far.

Of each layer three things are blurred: its light, its coverage, and the share of views that nothing nearer blocks.
Coverage over that share is how opaque the layer is to what gets as far as it, which stays right where a sharp edge
cuts a blurred layer off: neither a dark fringe (light blurred under the edge) nor a bright one (light from under it).

After the layered filters of Lee, Eisemann and Seidel, "Depth-of-Field Rendering with Multiview Synthesis", ACM TOG
28(5), 2009, and Selgrad et al., "Real-time Depth of Field Using Multi-layer Filtering", I3D 2015
(doi 10.1145/2699276.2699288), here over many views instead of the peeled layers of one.
"""

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.programs import Program
from previz.frames.gl.smear import Smear, parts_of
from previz.frames.gl.states import Filling
from previz.frames.gl.window import Window

Array = NDArray[np.float64]

_PLANE, _STACK = GL.GL_TEXTURE_2D, GL.GL_TEXTURE_2D_ARRAY

#: A blur is done on pictures smaller by twos once it is so many pixels wide (standard deviation), and on each smaller
#: one once it is twice as wide there: means over squares put a point's light up to half a square from its place.
_FINEST = 1.6

_REACH = 2.2  # standard deviations after which a blur is cut off
_THREE_TAPS = 2 / 3  # variance up to which three taps make a good bell [texels^2]


@dataclass(frozen=True)
class Blur:
    """How one layer is blurred: on a picture 2^level times smaller, by a kernel of that standard deviation.

    variance [px^2] is what comes out of it all: the means over squares, the kernel, and reading between texels.
    """

    variance: float
    level: int
    kernel: Array

    @property
    def reach(self) -> int:
        """How far light is carried at most. [px]"""
        return int((len(self.kernel) + 2) * 2**self.level)

    @classmethod
    def of(cls, variance: float) -> "Blur":
        """The cheapest way to a variance. [px^2]"""
        widths = math.sqrt(variance) / _FINEST
        level = 0 if widths < 1 else max(1, math.floor(math.log2(widths)))
        side = 4.0**level
        # An even square of side s has variance (s^2 - 1) / 12 over whole pixels; a tent of half-width s has s^2 / 6.
        own = variance if level == 0 else (variance - (side - 1) / 12 - side / 6) / side
        return cls(variance, level, kernel_of(own))


def kernel_of(variance: float) -> Array:
    """Half of a symmetric kernel, middle first, whose variance is exactly that. [texels^2]

    >>> half = kernel_of(2.0)
    >>> whole = np.concatenate([half[:0:-1], half])
    >>> bool(np.isclose(whole.sum(), 1)), bool(np.isclose((whole * np.arange(1 - len(half), len(half)) ** 2).sum(), 2))
    (True, True)
    """
    if variance < _THREE_TAPS:
        return np.array([1 - variance, variance / 2])
    reach = math.ceil(_REACH * math.sqrt(variance))
    steps = np.arange(reach + 1)
    spread = variance
    for _ in range(30):  # cutting off and sampling change the variance a little: aim until it is hit
        half = np.exp(-(steps**2) / (2 * spread))
        half /= half[0] + 2 * half[1:].sum()
        spread *= variance / (2 * (half * steps**2).sum())
    return np.asarray(half)


class Layers:
    """The layers of a picture, from near to far.

    Parameters
    ----------
    target : SumTarget
        Where they are laid over one another.
    filling : Filling
    program : callable
        Makes programs of two shaders and switches.
    """

    def __init__(self, target: buffers.SumTarget, filling: Filling, program: Callable[..., Program]) -> None:
        self._sum, self._size, self._program = target, (target.width, target.height), program
        self._knots, self._scale = filling.knots, filling.scale
        self._light = [buffers.empty_texture(*self._size, GL.GL_RGBA32F, smooth=True) for _ in self._knots]
        self._target = buffers.framebuffer_of(*self._light)
        self._blurs = [Blur.of(abs(knot)) if knot else None for knot in self._knots]
        # Of each level that is used: squares' means, then rows blurred, then all blurred; light and free share of each.
        self._room: dict[tuple[int, int], _Pair] = {}
        self._soft = [
            None if blur is None else self._pair(blur.level, 2 + number) for number, blur in enumerate(self._blurs)
        ]
        self._switch = f"LAYERS {len(self._knots)}"
        self._empty = GL.glGenVertexArrays(1)

    def _pair(self, level: int, use: int) -> "_Pair":
        """Two textures of a level, drawn into together."""
        if (level, use) not in self._room:
            width, height = (-(-side // 2**level) for side in self._size)
            light = buffers.empty_texture(width, height, GL.GL_RGBA32F, smooth=True)
            free = buffers.empty_texture(width, height, GL.GL_R32F, smooth=True)
            self._room[level, use] = _Pair(light, free, buffers.framebuffer_of(light, free), width, height)
        return self._room[level, use]

    @property
    def reach(self) -> int:
        """How far what changes in the views changes the picture. [px]"""
        return max((blur.reach for blur in self._blurs if blur is not None), default=0)

    def add(
        self, views: int, count: int, weight: float, window: Window, *, fresh: bool, smear: Smear | None = None
    ) -> None:
        """Share out the first `count` views of an array texture, whose alpha is a signed diameter [px].

        A fresh start forgets what was there, within the window.
        """
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._target)
        (GL.glDisable if fresh else GL.glEnable)(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
        GL.glViewport(0, 0, *self._size)
        for part in parts_of(smear, window):
            switches = (self._switch, f"COUNT {count}", *part.switches, *self._unrolled)
            textures = {"drawn": (_STACK, views), **part.textures}
            self._program("sum.vert", "layers_add.frag", switches).use(textures, scale=self._scale, weight=weight)
            for place in part.windows:
                GL.glScissor(*place.box)
                self._cover()

    @cached_property
    def _unrolled(self) -> tuple[str, ...]:
        """The layers' shares as text: a shader may not count through its outputs."""
        knots = self._knots
        inner = range(1, len(knots))
        rises = [f"clamp(v*{1 / (b - a)!r}+({-a / (b - a)!r}),0.0,1.0)" for a, b in itertools.pairwise(knots)]
        # Added up is what lies beyond each knot; a layer is the difference of two, taken once for all views.
        sums = " ".join(["vec3 s0=vec3(0.0);", *(f"vec4 s{n}=vec4(0.0);" for n in inner), "float e;"])
        shares = [f"e={rises[n - 1]}; s{n}+=vec4(seen.rgb,1.0)*(e*share);" for n in inner]
        outs = " ".join(f"layout(location={n}) out vec4 o{n};" for n in range(len(knots)))
        ends = [*(f"s{n}" for n in range(len(knots))), "vec4(0.0)"]
        puts = [
            f"o{n}=vec4({here}.rgb-{beyond}.rgb,float(COUNT)-{beyond}.a)*weight;"
            for n, (here, beyond) in enumerate(itertools.pairwise(ends))
        ]
        return (
            f"OUTS {outs}",
            f"SUMS {sums}",
            f"SHARE s0+=seen.rgb*share; {' '.join(shares)}",
            f"PUT {' '.join(puts)}",
        )

    def fill(self, window: Window) -> None:
        """Blur the layers and lay them over one another, into the sum, within the window."""
        GL.glDisable(GL.GL_BLEND)
        for number, (soft, blur) in enumerate(zip(self._soft, self._blurs, strict=True)):
            if soft is not None and blur is not None:
                self._blur(number, blur, soft, window)
        GL.glScissor(*window.box)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._sum.framebuffer)
        GL.glViewport(0, 0, *self._size)
        textures: dict[str, tuple[int, int]] = {}
        parts = []
        for number, (soft, blur) in enumerate(zip(self._soft, self._blurs, strict=True)):
            textures[f"light{number}"] = (_PLANE, self._light[number] if soft is None else soft.light)
            if soft is None or blur is None:
                before = f"texelFetch(light{number - 1}s,pixel,0).a" if number else "0.0"
                if number:
                    textures[f"light{number - 1}s"] = (_PLANE, self._light[number - 1])
                parts.append(f"lay(texelFetch(light{number},pixel,0),{before});")
            elif blur.level == 0:
                parts.append(f"laid+=(1.0-laid.a)*texelFetch(light{number},pixel,0);")
            else:
                place = f"gl_FragCoord.xy/vec2(textureSize(light{number},0)*{2**blur.level})"
                parts.append(f"laid+=(1.0-laid.a)*texture(light{number},{place});")
        samplers = " ".join(f"uniform sampler2D {name};" for name in textures)
        program = self._program("sum.vert", "layers_blend.frag", (f"SAMPLERS {samplers}", f"LAY {' '.join(parts)}"))
        program.use(textures)
        self._cover()

    def delete(self) -> None:
        """Give the memory back."""
        pairs = self._room.values()
        textures = [*self._light, *(name for pair in pairs for name in (pair.light, pair.free))]
        framebuffers = [self._target, *(pair.framebuffer for pair in pairs)]
        GL.glDeleteFramebuffers(len(framebuffers), framebuffers)
        GL.glDeleteTextures(len(textures), textures)

    def _blur(self, number: int, blur: Blur, soft: "_Pair", window: Window) -> None:
        """Means over squares where the level asks for it, then along rows, then along columns."""
        own = {"light": (_PLANE, self._light[number])}
        if number:
            own["before"] = (_PLANE, self._light[number - 1])
        nearest = ("NEAREST",) if number == 0 else ()
        first = nearest
        squares, rows = self._pair(blur.level, 0), self._pair(blur.level, 1)
        if blur.level:
            self._into(squares, blur, window, 2)
            self._program("sum.vert", "layers_squares.frag", (f"SIDE {2**blur.level}", *first)).use(own)
            self._cover()
            own, first = squares.textures(number > 0), ("PREPARED", *nearest)
        taps = (f"TAPS {len(blur.kernel)}", f"KERNEL {', '.join(repr(float(share)) for share in blur.kernel)}")
        self._into(rows, blur, window, 1)
        self._program("sum.vert", "layers_blur.frag", (*taps, "ALONG ivec2(1, 0)", *first)).use(own)
        self._cover()
        self._into(soft, blur, window, 0)
        last = (*taps, "ALONG ivec2(0, 1)", "PREPARED", "LAST", *nearest)
        self._program("sum.vert", "layers_blur.frag", last).use(rows.textures(number > 0))
        self._cover()

    def _into(self, pair: "_Pair", blur: Blur, window: Window, steps: int) -> None:
        """Draw into a pair what the window needs that many blurs later."""
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, pair.framebuffer)
        GL.glViewport(0, 0, pair.width, pair.height)
        needed = window.shrunk(2**blur.level).grown(1 + steps * len(blur.kernel), (pair.width, pair.height))
        GL.glScissor(*needed.box)

    def _cover(self) -> None:
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glBindVertexArray(self._empty)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)


@dataclass(frozen=True)
class _Pair:
    """A layer's light with its coverage, and the share that nothing nearer blocks; blurred: its opacity for alpha."""

    light: int
    free: int
    framebuffer: int
    width: int
    height: int

    def textures(self, both: bool) -> dict[str, tuple[int, int]]:
        """For a shader; without the free share where nothing is nearer."""
        light = {"light": (_PLANE, self.light)}
        return light | {"free": (_PLANE, self.free)} if both else light
