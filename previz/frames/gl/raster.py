"""Draws views of a stage, on the graphics side, in linear float.

pyrender gives the context; meshes carry attributes it has no names for (gloss, glow, axles) and are drawn here, so
that one draw call covers the whole vehicle and one the whole matt dressing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl.chunks import WHOLE
from previz.frames.gl.context import open_context
from previz.frames.lens import Lens
from previz.frames.light import Light
from previz.frames.mirror import MIRROR_WIDTHS
from previz.predictions.motion import CameraPose
from previz.stage import Stage

Array = NDArray[np.float64]

#: How many views are drawn before they are added to the sum in one pass.
BATCH = 8

_GLOSSY, _SATIN = (f"{kind}\n#define MIRRORS {len(MIRROR_WIDTHS)}.0" for kind in ("GLOSSY", "SATIN"))

#: How many times longer than wide a pixel's footprint on an image may be before detail is given up.
_LONGEST_FOOTPRINT = 8


@dataclass(frozen=True)
class ViewState:
    """Everything that differs from one view to the next.

    Parameters
    ----------
    clip_from_world : (4, 4) float
    eye : (3,) float
        [m]
    camera : CameraPose
    world_from_vehicle : (4, 4) float
    travelled : float
        Along the path, for the turn of the wheels. [m]
    """

    clip_from_world: Array
    eye: Array
    camera: CameraPose
    world_from_vehicle: Array
    travelled: float


@dataclass(frozen=True)
class FrameState:
    """The views of one frame, and the light it is taken in."""

    views: Sequence[ViewState]
    light: Light


class Raster:
    """A stage uploaded for one shot, ready to be drawn from anywhere.

    Parameters
    ----------
    stage : Stage
    light : Light
        Of the vehicle mid-shot: still things mirror what it sees there, right in kind if not in place.
    lens : Lens
    exposure : (3,) float
        From radiance [cd/m2] to share of sensor saturation, white balance included.
    """

    def __init__(self, stage: Stage, light: Light, lens: Lens, exposure: Array) -> None:
        width, height = lens.size
        self._platform = open_context(width, height)
        # These import PyOpenGL, which chooses its platform then: only after the context is open.
        from OpenGL import GL

        from previz.frames.gl import buffers, things
        from previz.frames.gl.programs import Program

        self._gl, self._buffers = GL, buffers
        self._program = cache(Program)
        self._lens, self._exposure = lens, exposure
        self._room = np.append(np.asarray(stage.room) * exposure, 1.0).astype(np.float32)
        self._extent = stage.shadow_extent
        self._mirror, self._still_mirror = (buffers.solid_texture(light.mirror * exposure) for _ in range(2))
        self._still = [things.Still.of(lit, exposure) for lit in stage.still]
        # Sheets with an image stand behind the rest.
        self._still.sort(key=lambda thing: thing.image is not None)
        self._ground = things.Ground(stage.ground, light, exposure)
        self._vehicle = things.Vehicle(stage, exposure)
        self._set_lamps = things.lamp_discs(stage.lamps, exposure)
        self._own_lamps = things.lamp_discs(stage.vehicle.lamps, exposure)
        self._views = buffers.ViewTargets(width, height, BATCH)
        self._sum = buffers.SumTarget(width, height)
        self._no_attributes = GL.glGenVertexArrays(1)  # the sum's triangle is made of vertex numbers alone

    def picture(self, frame: FrameState) -> NDArray[np.float32]:
        """The mean of a frame's views (h, w, 3), row 0 at the top; 1 is sensor saturation."""
        self._gl.glViewport(0, 0, *self._lens.size)
        self._take_light(frame.light)
        self._choose(frame)
        self._sum.clear()
        for first in range(0, len(frame.views), BATCH):
            batch = frame.views[first : first + BATCH]
            for view, framebuffer in zip(batch, self._views.framebuffers, strict=False):
                self._draw(view, framebuffer, len(frame.views))
            self._add(len(batch), 1 / len(frame.views))
        return self._sum.read()

    def _take_light(self, light: Light) -> None:
        self._vehicle.fill(light)
        self._ground.fill(light)
        self._buffers.refill(self._mirror, light.mirror * self._exposure.astype(np.float32))

    def _choose(self, frame: FrameState) -> None:
        """Of the triangles, those that some view may see."""
        clips = np.stack([view.clip_from_world for view in frame.views])
        eye = np.mean([view.eye for view in frame.views], axis=0)
        for thing in self._still:
            thing.choose(clips, WHOLE, eye)
        from_world = np.linalg.inv(frame.views[len(frame.views) // 2].world_from_vehicle)
        self._vehicle.choose((from_world @ np.append(eye, 1.0))[:3])
        low, high = self._patch_box(frame)
        self._ground.choose(clips, WHOLE, eye, low, high)

    def _patch_box(self, frame: FrameState) -> tuple[Array, Array]:
        """What shadow and beam reach in any view, as a box in the world; of any height. [m]"""
        x0, x1, y0, y1 = self._extent
        corners = np.array([[x, y, 0.0, 1.0] for x in (x0, x1) for y in (y0, y1)])
        reached = np.concatenate([corners @ view.world_from_vehicle.T for view in frame.views])[:, :3]
        low, high = reached.min(axis=0), reached.max(axis=0)
        low[2], high[2] = -np.inf, np.inf
        return low, high

    def _add(self, count: int, weight: float) -> None:
        """Add the first `count` drawn views to the sum."""
        gl = self._gl
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, self._sum.framebuffer)
        gl.glDisable(gl.GL_DEPTH_TEST)
        gl.glEnable(gl.GL_BLEND)
        gl.glBlendFunc(gl.GL_ONE, gl.GL_ONE)
        gl.glBindVertexArray(self._no_attributes)
        drawn = {"drawn": (gl.GL_TEXTURE_2D_ARRAY, self._views.texture)}
        self._program("sum.vert", "sum.frag").use(drawn, count=count, weight=weight)
        gl.glDrawArrays(gl.GL_TRIANGLES, 0, 3)

    # --- one view ---

    def _draw(self, view: ViewState, framebuffer: int, count: int) -> None:
        gl = self._gl
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, framebuffer)
        gl.glDisable(gl.GL_BLEND)
        gl.glEnable(gl.GL_DEPTH_TEST)
        gl.glClearBufferfv(gl.GL_COLOR, 0, self._room)
        gl.glClearBufferfv(gl.GL_DEPTH, 0, np.ones(1, np.float32))
        # The views' jitter averages over the long side of a footprint, as far as there are views.
        most_bias = float(np.log2(min(count, _LONGEST_FOOTPRINT)))
        # Near things first: what they hide is not shaded.
        self._draw_vehicle(view)
        self._draw_still(view, most_bias)
        self._draw_ground(view, most_bias)
        self._draw_lamps(view)

    def _draw_vehicle(self, view: ViewState) -> None:
        self._program("vehicle.vert", "surface.frag", (_GLOSSY,)).use(
            {"mirror": (self._gl.GL_TEXTURE_3D, self._mirror)},
            clip_from_world=view.clip_from_world,
            world_from_vehicle=view.world_from_vehicle,
            travelled=float(view.travelled),
            eye=view.eye,
        )
        for part in self._vehicle.parts:
            self._face(part.one_sided)
            part.triangles.draw()
        self._face(False)

    def _draw_still(self, view: ViewState, most_bias: float) -> None:
        gl = self._gl
        for thing in self._still:
            if not thing.triangles.count:
                continue
            switches: tuple[str, ...] = ()
            textures = {}
            values: dict[str, Any] = {"clip_from_world": view.clip_from_world}
            if thing.image is not None:
                switches += ("IMAGE",)
                textures["image"] = (gl.GL_TEXTURE_2D, thing.image)
                values |= {"eye": view.eye, "most_bias": most_bias}
            if thing.glossy:
                switches += (_SATIN if thing.satin else _GLOSSY,)
                textures["mirror"] = (gl.GL_TEXTURE_3D, self._still_mirror)
                values["eye"] = view.eye
            self._face(thing.one_sided)
            self._program("still.vert", "surface.frag", switches).use(textures, **values)
            thing.triangles.draw()
        self._face(False)

    def _face(self, one_sided: bool) -> None:
        """Whether what follows is seen from its front alone."""
        (self._gl.glEnable if one_sided else self._gl.glDisable)(self._gl.GL_CULL_FACE)

    def _draw_ground(self, view: ViewState, most_bias: float) -> None:
        plane, ground = self._gl.GL_TEXTURE_2D, self._ground
        values = {"clip_from_world": view.clip_from_world, "eye": view.eye, "most_bias": most_bias}
        textures = {"image": (plane, ground.image)}
        if ground.plain.count:
            self._program("ground.vert", "ground.frag").use(textures, **values)
            ground.plain.draw()
        if ground.patch.count:
            x0, x1, y0, y1 = self._extent
            values["vehicle_from_world"] = np.linalg.inv(view.world_from_vehicle)
            values["patch_place"] = np.array([x0, y1, 1 / (x1 - x0), 1 / (y1 - y0)])
            textures["shadow"] = (plane, ground.shadow)
            switches: tuple[str, ...] = ("PATCH",)
            if ground.beam is not None:
                switches += ("BEAM",)
                textures |= {"light": (plane, ground.light), "beam": (plane, ground.beam)}
            self._program("ground.vert", "ground.frag", switches).use(textures, **values)
            ground.patch.draw()

    def _draw_lamps(self, view: ViewState) -> None:
        right, up, backward = view.camera.world_from_camera.T
        field = self._lens.field_at_focus(view.camera.focus_distance)
        for triangles, world_from_lamp in ((self._set_lamps, np.eye(4)), (self._own_lamps, view.world_from_vehicle)):
            if triangles is None:
                continue
            self._program("lamp.vert", "lamp.frag").use(
                {},
                clip_from_world=view.clip_from_world,
                world_from_lamp=world_from_lamp,
                eye=view.eye,
                right=right,
                up=up,
                backward=backward,
                pixel_at_one_metre=float(field[0] / view.camera.focus_distance / self._lens.size[0]),
            )
            triangles.draw()

    def close(self) -> None:
        """Give the context back."""
        self._platform.delete_context()
