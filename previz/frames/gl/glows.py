"""Lamps out of focus: clean discs of the pupil's shape, cut where something stands in the way.

A lamp is so small and so bright that a sum of views shows each view as a dot. It is nearly a point, though, and a
point's picture is known whole once it is known which parts of the pupil it reaches: so the scene is looked at from the
lamp towards the pupil, and that little picture is the disc.
"""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.raster import FrameState, Occluders, ViewState
from previz.frames.gl.things import lamp_radiance
from previz.frames.gl.window import Window
from previz.frames.lens import NEAR, Lens
from previz.stage import Lamp

Array = NDArray[np.float64]

#: The look towards the pupil covers so many pupil radii to each side, on so many pixels across.
REACH, SIDE = 1.25, 128

_MOST_PLACES = 48  # of a lamp along its streak
_MOMENTS = 4  # at which what a moving vehicle hides is looked at
_LEAST_RADIUS = 0.75  # of a lamp's own picture: what falls between pixels would flicker [px]
_LEAST_DISC = 0.05  # radius of a lamp's disc, lest single precision runs out where there is none [px]


class Glows:
    """The lit lamps of a stage, those of the set and those on the vehicle."""

    def __init__(
        self,
        lamps: Sequence[Lamp],
        own: Sequence[Lamp],
        lens: Lens,
        exposure: Array,
        blades: int | None,
        program: Callable[..., Any],
    ) -> None:
        self._lamps = [lamp for lamp in (*lamps, *own) if lamp.flux > 0]
        self._carried = [False] * sum(lamp.flux > 0 for lamp in lamps) + [True] * sum(lamp.flux > 0 for lamp in own)
        self._lens, self._exposure, self._blades, self._program = lens, exposure, blades, program
        if not self._lamps:
            return
        self._reached = buffers.stack_texture(SIDE, SIDE, len(self._lamps) * _MOMENTS)
        self._targets = buffers.layer_framebuffers(self._reached, len(self._lamps) * _MOMENTS)
        self._corners: buffers.Corners | None = None

    def add(self, framebuffer: int, frame: FrameState, occluders: Occluders, window: Window) -> None:
        """Add the lamps' light to a finished picture, within the window."""
        if not self._lamps:
            return
        GL.glDisable(GL.GL_SCISSOR_TEST)
        views = sorted((frame.opened, *frame.views, frame.closed), key=lambda view: view.moment)
        quads = [
            quad
            for number, lamp in enumerate(self._lamps)
            for quad in self._quads(number, lamp, self._carried[number], views, occluders)
        ]
        if not quads:
            return
        values = np.concatenate(quads).astype(np.float32)
        corners = buffers.Corners(
            {
                "position": np.column_stack([values[:, :2], np.zeros(len(values))]),
                "normal": values[:, 2:5],
                "colour": np.column_stack([values[:, 5:8], values[:, 8]]),
                "uv": values[:, 9:11],
            }
        )
        four = np.arange(len(values)).reshape(-1, 4)
        triangles = buffers.Triangles(corners, four[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3))
        GL.glBindTexture(GL.GL_TEXTURE_2D_ARRAY, self._reached)
        GL.glGenerateMipmap(GL.GL_TEXTURE_2D_ARRAY)
        GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
        GL.glEnable(GL.GL_SCISSOR_TEST)
        GL.glScissor(*window.box)
        GL.glViewport(0, 0, *self._lens.size)
        GL.glDisable(GL.GL_DEPTH_TEST)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFunc(GL.GL_ONE, GL.GL_ONE)
        blades = () if self._blades is None else (f"BLADES {self._blades}.0",)
        self._program("glow.vert", "glow.frag", (f"REACH {REACH}", f"SIDE {SIDE}.0", *blades)).use(
            {"reached": (GL.GL_TEXTURE_2D_ARRAY, self._reached)}
        )
        triangles.draw()
        triangles.delete()
        corners.delete()

    def _quads(
        self, number: int, lamp: Lamp, carried: bool, views: Sequence[ViewState], occluders: Occluders
    ) -> list[Array]:
        """Squares (4, 11) around the lamp's discs, one for each place along its streak.

        Columns: corner in clip coordinates (2), radii of the disc across and up and of the lamp's own picture [px]
        (3), light (3), layer of the look towards the pupil, corner from the middle [px] (2).
        """
        images = [self._image(lamp, carried, view) for view in views]
        if any(image is None for image in images):
            return []
        seen = np.array(images)  # middle x, y; pupil radius across, up; own radius; share of light
        size = np.array(self._lens.size)
        margin = np.abs(seen[:, 2:4]).max(axis=0) * REACH + seen[:, 4].max() + 1
        if ((seen[:, :2] + margin).max(axis=0) < 0).any() or ((seen[:, :2] - margin).min(axis=0) > size).any():
            return []
        if seen[:, 5].max() <= 0:
            return []
        moments = np.array([view.moment for view in views])
        looks = self._look(number, lamp, carried, views, occluders)
        streak = float(np.linalg.norm(seen[-1, :2] - seen[0, :2]))
        step = max(1.0, float(seen[:, 4].mean()))  # so that the steps do not show in the rim, which is that soft
        places = min(max(1, int(np.ceil(streak / step))), _MOST_PLACES)
        quads = []
        for moment in (np.arange(places) + 0.5) / places:
            x, y, across, up, own, share = (np.interp(moment, moments, column) for column in seen.T)
            light = lamp_radiance(lamp) * self._exposure * share / places
            half = np.abs([across, up]) * REACH + own + 2
            around = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
            clip = (around + np.array([x, y])) / size * 2 - 1
            layer = number * _MOMENTS + looks[min(int(moment * len(looks)), len(looks) - 1)]
            fixed = np.array([across, up, own, *light, layer])
            quads.append(np.column_stack([clip, np.tile(fixed, (4, 1)), around]))
        return quads

    def _image(self, lamp: Lamp, carried: bool, view: ViewState) -> list[float] | None:
        """Where a lamp's disc lies and how large it is, seen through the whole pupil; None behind the camera."""
        middle, axis = _placed(lamp, carried, view)
        pose, size = view.camera, np.array(self._lens.size)
        to_eye = pose.position - middle
        distance = float(to_eye @ pose.world_from_camera[:, 2])
        if distance <= NEAR:
            return None
        points = []
        for pupil in ((0.0, 0.0), (1.0, 0.0), (0.0, 1.0)):
            clip = self._lens.clip_from_world(pose, pupil) @ np.append(middle, 1.0)
            points.append((clip[:2] / clip[3] + 1) / 2 * size)
        field = self._lens.field_at_focus(pose.focus_distance)
        own = lamp.radius / (field[0] / pose.focus_distance / size[0] * distance)
        shown = max(own, _LEAST_RADIUS)
        share = (own / shown) ** 2
        if axis is not None:
            share *= max(float(axis @ to_eye) / float(np.linalg.norm(to_eye)), 0.0)
        (x, y), across, up = points[0], points[1][0] - points[0][0], points[2][1] - points[0][1]
        across, up = (side if abs(side) > _LEAST_DISC else _LEAST_DISC for side in (across, up))
        return [x, y, across, up, shown, share]

    def _look(
        self, number: int, lamp: Lamp, carried: bool, views: Sequence[ViewState], occluders: Occluders
    ) -> list[int]:
        """From the lamp towards the pupil: white where nothing is in the way. Returns the layers for equal spans."""
        chosen = [views[round((part + 0.5) / _MOMENTS * (len(views) - 1))] for part in range(_MOMENTS)]
        clips = [self._towards_pupil(lamp, carried, view) for view in chosen]
        if not occluders.vehicle_in_the_way(clips, chosen):
            middle = len(chosen) // 2
            chosen, clips = chosen[middle : middle + 1], clips[middle : middle + 1]
        GL.glViewport(0, 0, SIDE, SIDE)
        GL.glDisable(GL.GL_BLEND)
        GL.glDisable(GL.GL_DEPTH_TEST)
        for layer, (view, clip) in enumerate(zip(chosen, clips, strict=True)):
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, self._targets[number * _MOMENTS + layer])
            GL.glClearBufferfv(GL.GL_COLOR, 0, np.ones(4, np.float32))
            occluders.draw(clip, view)
        return list(range(len(chosen)))

    def _towards_pupil(self, lamp: Lamp, carried: bool, view: ViewState) -> Array:
        """A view (4, 4) from the lamp through the square around the pupil, mirrored: its right is the picture's left.

        Begins clear of the lens that the lamp sits in, and ends at the pupil.
        """
        middle, _ = _placed(lamp, carried, view)
        right, up, backward = view.camera.world_from_camera.T
        to_pupil = view.camera.position - middle
        distance = float(to_pupil @ backward)
        near, far = min(2.0 * lamp.radius, 0.5 * distance), distance * 0.999
        half = REACH * self._lens.pupil_radius
        turn = np.eye(4)
        turn[:3, :3] = np.stack([-right, up, -backward])
        turn[:3, 3] = -turn[:3, :3] @ middle
        scale, shift = distance / half, np.array([-right @ to_pupil, up @ to_pupil]) / half
        return (
            np.array(
                [
                    [scale, 0, shift[0], 0],
                    [0, scale, shift[1], 0],
                    [0, 0, -(far + near) / (far - near), -2 * far * near / (far - near)],
                    [0, 0, -1, 0],
                ]
            )
            @ turn
        )


def _placed(lamp: Lamp, carried: bool, view: ViewState) -> tuple[Array, Array | None]:
    """Middle and beam axis of a lamp in the world."""
    frame = view.world_from_vehicle if carried else np.eye(4)
    axis = None if lamp.beam is None else frame[:3, :3] @ np.asarray(lamp.beam)
    return (frame @ np.append(lamp.centre, 1.0))[:3], axis
