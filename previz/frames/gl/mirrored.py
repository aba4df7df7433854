"""What water on the ground mirrors: all above it once more, as from below it, in a picture half as large.

The look is that of the pupil's middle; where a view is from elsewhere, the shader goes along its ray to what is seen
there (`water.glsl`), so that what is mirrored is blurred as far as it is away. Where a vehicle moves, a few moments of
the shutter are drawn, each smeared over its part as views are (`smear.py`), and their mean is mirrored.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.at_once import Batch, layering, values_of
from previz.frames.gl.chunks import Eyes
from previz.frames.gl.drawing import GLOSSY, Blurring, Drawing, Given
from previz.frames.gl.locked import MIRROR
from previz.frames.gl.programs import Program
from previz.frames.gl.smaller import Smaller
from previz.frames.gl.smear import REACH, SWITCHES, Smear
from previz.frames.gl.states import FrameState, Placed, ViewState
from previz.frames.gl.uploaded import UploadedStage
from previz.frames.gl.window import Window
from previz.frames.lens import Lens
from previz.physics.water import WATER

Array = NDArray[np.float64]

_SHRUNK = 2  # times smaller than the picture, along either side
_MOMENTS, _APART = 4, 8.0  # of the shutter at most, where something moves; and how far it moves between two [px]
_OVER = 2e-4  # what reaches less far over the ground is not mirrored [m]


class Mirrored:
    """Draws what the ground mirrors, for one frame after another."""

    def __init__(self, stage: UploadedStage, drawing: Drawing, lens: Lens, program: Callable[..., Program]) -> None:
        self._stage, self._drawing, self._lens, self._program = stage, drawing, lens, program
        width, height = self._size = (max(lens.size[0] // _SHRUNK, 1), max(lens.size[1] // _SHRUNK, 1))
        self._one = buffers.ViewTargets(width, height, 1, at_once=False, moving=True)
        self._smear = Smear(self._size, 1, program, sorts=not layering())
        self._mean = buffers.empty_texture(width, height, GL.GL_RGBA16F, smooth=True)
        self._smaller = Smaller(self._mean, width, height)
        self._target = buffers.framebuffer_of(self._mean)
        self._no_attributes = GL.glGenVertexArrays(1)
        self._looks = 0  # at the frame before

    def as_before(self, frame: FrameState) -> bool:
        """Whether a frame mirrors what stands still to the same bits as the frame before.

        The mean of so many looks is rounded otherwise than that of fewer.
        """
        return _count(frame, self._lens) == self._looks

    def look(self, frame: FrameState, changed: Window) -> Given:
        """What a frame's ground mirrors, for its shaders; only where the picture is drawn anew is it looked at again.

        Leaves other triangles chosen than a frame's views need.
        """
        looks = _looks(frame, self._lens)
        self._looks = len(looks)
        window = changed.shrunk(_SHRUNK).grown(2, self._size)
        seen_for_it = window.grown(REACH, self._size)
        self._choose(looks, seen_for_it)
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glViewport(0, 0, *self._size)
        for number, look in enumerate(looks):
            GL.glScissor(*seen_for_it.box)
            self._draw(look, Blurring.mirrored(frame, look, self._size, 1 / len(looks)))
            self._add(window, 1 / len(looks), fresh=number == 0)
        GL.glDisable(GL.GL_SCISSOR_TEST)
        self._smaller.draw(self._program)
        seen = _upright(looks[len(looks) // 2])
        return Given(
            ("FILM", f"WATER {WATER!r}"), {"clip_of_mirror": seen}, {"mirrored": (GL.GL_TEXTURE_2D, self._mean)}
        )

    def _choose(self, looks: Sequence[ViewState], window: Window) -> None:
        clips = np.stack([look.clip_from_world for look in looks])
        for thing in self._stage.still:
            thing.choose_some(clips, window.in_clip(self._size))
        own = [np.linalg.solve(look.world_from_vehicle, np.append(look.eye, 1.0)) for look in looks]
        self._stage.vehicle.choose(Eyes.around(np.stack(own)[:, :3], 0.0))
        self._stage.others.choose(looks, 0.0)

    def _draw(self, look: ViewState, blurring: Blurring) -> None:
        (framebuffer,) = self._one.framebuffers
        GL.glFrontFace(GL.GL_CW)  # a mirror turns left to right
        self._drawing.above_ground(Batch(framebuffer, [(look, framebuffer)], (), values_of(look)), blurring)
        GL.glDepthFunc(GL.GL_LEQUAL)
        self._program("room.vert", "beyond.frag", (*GLOSSY, *SWITCHES)).use(
            {"mirror": (GL.GL_TEXTURE_3D, self._stage.still_mirror)},
            world_from_clip=np.linalg.inv(look.clip_from_world),
            size=np.array(self._size, dtype=float),
            **{"from": look.eye},
        )
        GL.glBindVertexArray(self._no_attributes)
        GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glDepthFunc(GL.GL_LESS)
        GL.glDrawBuffers(1, [GL.GL_COLOR_ATTACHMENT0])  # a lamp moves with what it is on
        self._drawing.lamps(look)
        GL.glDrawBuffers(2, [GL.GL_COLOR_ATTACHMENT0, GL.GL_COLOR_ATTACHMENT1])
        GL.glFrontFace(GL.GL_CCW)

    def _add(self, window: Window, weight: float, *, fresh: bool) -> None:
        assert self._one.moved is not None
        self._smear.look(self._one.moved, 1, window)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._target)
        GL.glScissor(*window.box)
        if fresh:
            GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
        drawn = {"drawn": (GL.GL_TEXTURE_2D_ARRAY, self._one.texture)}
        GL.glBindVertexArray(self._no_attributes)
        for part in self._smear.parts(window):
            program = self._program("sum.vert", "sum.frag", ("COUNT 1", *part.switches))
            program.use({**drawn, **part.textures}, weight=weight)
            for place in part.windows:
                GL.glScissor(*place.box)
                GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
        GL.glDisable(GL.GL_BLEND)
        GL.glEnable(GL.GL_DEPTH_TEST)


def _looks(frame: FrameState, lens: Lens) -> list[ViewState]:
    """From below the ground through the pupil's middle: one where no vehicle moves, else at moments of the shutter."""
    in_time = sorted(frame.views, key=lambda view: view.moment)
    # From one place, so that what stands still is sharp in their mean: a camera that moves is followed by the shader.
    middle = in_time[len(in_time) // 2]
    count = _count(frame, lens)
    if count == 1:
        return [_mirrored(middle, lens)]
    return [_mirrored(_at(frame, middle, (k + 0.5) / count), lens) for k in range(count)]


def _at(frame: FrameState, view: ViewState, moment: float) -> ViewState:
    """A view with the vehicles where they are at another moment, on straight ways."""

    def between(first: Any, last: Any) -> Any:
        return (1 - moment) * first + moment * last

    subject, *others = (
        Placed(
            between(first.world_from_vehicle, last.world_from_vehicle),
            between(first.world_from_ground, last.world_from_ground),
            between(first.travelled, last.travelled),
        )
        for first, last in zip(frame.opened.driven, frame.closed.driven, strict=True)
    )
    return replace(
        view,
        world_from_vehicle=subject.world_from_vehicle,
        world_from_ground=subject.world_from_ground,
        travelled=subject.travelled,
        moment=moment,
        others=tuple(others),
    )


def _count(frame: FrameState, lens: Lens) -> int:
    return min(_moments(frame, lens), len(frame.views))


def _moments(frame: FrameState, lens: Lens) -> int:
    """So many that no vehicle moves far in the picture from one to the next."""
    furthest = 0.0
    for first, last in zip(frame.opened.driven, frame.closed.driven, strict=True):
        ends = [
            frame.opened.clip_from_world @ MIRROR @ placed.world_from_vehicle @ [0.0, 0.0, 0.0, 1.0]
            for placed in (first, last)
        ]
        one, other = (end[:2] / max(end[3], 1e-3) for end in ends)
        furthest = max(furthest, float(np.linalg.norm((other - one) / 2 * lens.size)) / _SHRUNK)
    return int(np.clip(np.ceil(furthest / _APART), 1, _MOMENTS))


def _mirrored(view: ViewState, lens: Lens) -> ViewState:
    camera, flip = view.camera, MIRROR[:3, :3]
    clip = _cut_at_the_ground(lens.clip_from_world(camera) @ MIRROR)
    turned = replace(camera, position=flip @ camera.position, world_from_camera=flip @ camera.world_from_camera)
    return replace(view, clip_from_world=clip, eye=turned.position, camera=turned)


def _upright(look: ViewState) -> Array:
    """Where a place behind the mirror is seen in a look's picture."""
    return np.asarray(look.clip_from_world @ MIRROR)


def _cut_at_the_ground(clip: Array) -> Array:
    """A view (4, 4) whose near plane is the ground: what is below it is not drawn, or it would hide all.

    Source: Lengyel, "Oblique view frustum depth projection and clipping", Journal of Game Development 1(2), 2005.
    """
    plane = np.array([0.0, 0.0, 1.0, -_OVER])
    corner = np.linalg.solve(clip.T, plane)  # of the plane in clip space
    far = np.linalg.solve(clip, np.array([np.sign(corner[0]), np.sign(corner[1]), 1.0, 1.0]))
    found = clip.copy()
    found[2] = 2 / (plane @ far) * plane - clip[3]
    return found
