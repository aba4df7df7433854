"""Draws views of a stage, on the graphics side, in linear float.

pyrender gives the context; meshes carry attributes it has no names for (gloss, glow, axles) and are drawn here, so
that one draw call covers the whole vehicle and one the whole matt dressing.
"""

from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl.chunks import WHOLE, Eyes
from previz.frames.gl.context import open_context
from previz.frames.gl.states import Filling, FrameState, ViewState
from previz.frames.gl.window import Window
from previz.frames.lens import Lens
from previz.frames.light import Light, SetLight
from previz.frames.mirror import MAP_SIDE, MIRROR_WIDTHS
from previz.frames.spent import Spent
from previz.layout import BEAM_EXPONENT
from previz.stage import Unlit

Array = NDArray[np.float64]

#: How many views are drawn before they are added to the sum in one pass; and where one call draws them all.
BATCH, BATCH_AT_ONCE = 16, 32

_GLOSSY, _SATIN = (f"{kind}\n#define MIRRORS {len(MIRROR_WIDTHS)}.0" for kind in ("GLOSSY", "SATIN"))

#: Beyond the pupil's rim, a blade's corner included, in radii; and around what moves, in pixels.
_RIM, _MARGIN = 1.25, 3

#: How many times longer than wide a pixel's footprint on an image may be before detail is given up.
_LONGEST_FOOTPRINT = 8


@dataclass(frozen=True)
class _Kept:
    """The frame before: its views, where it held what moves, and its picture."""

    frame: FrameState
    moved: Window
    picture: NDArray[np.float32]

    def same_views(self, frame: FrameState) -> bool:
        """Whether another frame looks from the very same places the very same ways."""
        ours, theirs = ([view.clip_from_world for view in each.views] for each in (self.frame, frame))
        ends = [
            np.array_equal(ours.clip_from_world, theirs.clip_from_world)
            for ours, theirs in ((self.frame.opened, frame.opened), (self.frame.closed, frame.closed))
        ]
        return all(ends) and self.frame.disc == frame.disc and np.array_equal(ours, theirs)


class Raster:
    """A stage uploaded for one shot, ready to be surveyed; and, once it is lit, drawn from anywhere.

    Parameters
    ----------
    stage : Unlit
    lens : Lens
    """

    #: Is told what views, filter and read-back take.
    spent: Spent | None = None

    def __init__(self, stage: Unlit, lens: Lens) -> None:
        width, height = lens.size
        self._platform = open_context(width, height)
        # These import PyOpenGL, which chooses its platform then: only after the context is open.
        from OpenGL import GL

        from previz.frames.gl import at_once, buffers, things
        from previz.frames.gl.programs import Program

        self._gl, self._buffers, self._things = GL, buffers, things
        self._program = cache(Program)
        self._lens, self._exposure, self._room = lens, np.ones(3), np.zeros(3)
        self._extent = stage.shadow_extent
        dark = np.zeros((len(MIRROR_WIDTHS), MAP_SIDE, MAP_SIDE, 3))
        self._mirror, self._still_mirror = (buffers.solid_texture(dark) for _ in range(2))
        self._in_order = [things.Still.of(mesh) for mesh in stage.still]
        # Sheets with an image stand behind the rest.
        self._still = sorted(self._in_order, key=lambda thing: thing.image is not None)
        self._ground = things.Ground(stage.ground, stage.painting)
        self._vehicle = things.Vehicle(stage.vehicle)
        self._set_lamps: Any = None
        self._own_lamps: Any = None
        self._switches = at_once.layering()
        self._views: Any = None
        self._batches: Any = None
        self._sum = buffers.SumTarget(width, height)
        self._no_attributes = GL.glGenVertexArrays(1)  # the sum's triangle is made of vertex numbers alone
        self._filling: Filling | None = None
        self._layers: Any = None
        self._glows: Any = None
        self._silhouettes: Any = None
        self._kept: _Kept | None = None
        self._stage = stage

    def _timed(self, name: str) -> AbstractContextManager[None]:
        return nullcontext() if self.spent is None else self.spent.on(name, self._gl.glFinish)

    def light(self, on_set: SetLight, usual: Light, exposure: Array) -> None:
        """Light on what was uploaded, once.

        Parameters
        ----------
        on_set : SetLight
        usual : Light
            Of the vehicle mid-shot: still things mirror what it sees there, right in kind if not in place.
        exposure : (3,) float
            From radiance [cd/m2] to share of sensor saturation, white balance included.
        """
        from previz.frames.gl import things

        self._exposure, self._room = exposure, np.asarray(on_set.room) * exposure
        for thing, irradiance in zip(self._in_order, on_set.still, strict=True):
            thing.light(irradiance, exposure)
        self._ground.light(on_set.ground, exposure, usual)
        self._vehicle.expose(exposure)
        self._buffers.refill(self._still_mirror, (usual.mirror * exposure).astype(np.float32))
        self._set_lamps, self._own_lamps = (
            things.lamp_discs(lamps, exposure) for lamps in (self._stage.lamps, self._stage.vehicle.lamps)
        )
        if self._glows is not None:
            self._glows.expose(exposure)

    def fill_by(self, filling: Filling | None, blades: int | None) -> None:
        """From now on each view fills its own patch of pupil and shutter, and lamps are drawn apart.

        Without a filling the views' patches are too small to matter. `blades` is the pupil's shape.
        """
        from previz.frames.gl.glows import Glows
        from previz.frames.gl.layers import Layers
        from previz.frames.gl.silhouettes import Silhouettes

        self._filling, self._kept = filling, None
        if filling is not None:
            self._layers = Layers(self._lens.size, filling.knots, self._program)
        lamps = (self._stage.lamps, self._stage.vehicle.lamps)
        self._silhouettes = Silhouettes(self._still, self._ground, self._vehicle, self._program)
        self._glows = Glows(*lamps, self._lens, blades, self._program)
        self._glows.expose(self._exposure)

    def survey(self, frame: FrameState) -> Array:
        """Disc and streak of what is seen at every pixel (n, 2); discs are signed. [px]"""
        gl = self._gl
        width, height = self._lens.size
        self._make_room(1)
        self._choose(frame)
        gl.glViewport(0, 0, width, height)
        middle = frame.views[len(frame.views) // 2]
        for batch in self._batches.of([middle]):
            self._begin(batch.framebuffer)
            gl.glClearBufferfv(gl.GL_COLOR, 0, np.zeros(4, np.float32))
            self._draw_all(batch, 0.0, _Seen(frame, self._lens, Filling((), 0.0, 0.0), ("FILTERED", "SURVEY")))
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, self._views.framebuffers[0])
        pixels = np.zeros((height, width, 4), np.float32)
        gl.glReadPixels(0, 0, width, height, gl.GL_RGBA, gl.GL_FLOAT, pixels)
        return pixels[..., :2].reshape(-1, 2).astype(float)

    def picture(self, frame: FrameState) -> NDArray[np.float32]:
        """The mean of a frame's views (h, w, 3), row 0 at the top; 1 is sensor saturation.

        While the camera is locked off only what moves is drawn again, to the same bits as if all had been.
        """
        size = self._lens.size
        assert frame.light is not None
        self._make_room(len(frame.views))
        moved, before = self._moving_window(frame, frame.light), self._kept
        locked = before is not None and before.same_views(frame)
        changed = moved.joined(before.moved) if locked and before is not None else Window.whole(size)
        finished = changed.grown(self._layers.reach if self._layers is not None else 0, size)
        with self._timed("views"):
            self._take_light(frame.light)
            self._choose(frame, changed.in_clip(size))
            self._gl.glEnable(self._gl.GL_SCISSOR_TEST)
        self._mean(frame, changed, finished)
        with self._timed("lamps"):
            if self._glows is not None:
                self._glows.add(self._sum.framebuffer, frame, self._silhouettes, finished)
        with self._timed("reading"):
            part = self._sum.read(finished)
        self._gl.glDisable(self._gl.GL_SCISSOR_TEST)
        if locked and before is not None:
            whole = before.picture.copy()
            left, bottom, width, height = finished.box
            whole[size[1] - bottom - height : size[1] - bottom, left : left + width] = part
            part = whole
        self._kept = _Kept(frame, moved, part)
        return part.copy()

    def forget(self) -> None:
        """Draw all of the next picture anew."""
        self._kept = None

    def _mean(self, frame: FrameState, changed: Window, finished: Window) -> None:
        """Draw the views anew where they changed, and their mean where that changes."""
        gl, count = self._gl, len(frame.views)
        seen = _Seen(frame, self._lens, self._filling, () if self._filling is None else ("FILTERED",))
        gl.glScissor(*changed.box)
        self._sum.clear()
        for first in range(0, count, self._views.depth):
            batch = frame.views[first : first + self._views.depth]
            gl.glViewport(0, 0, *self._lens.size)
            gl.glScissor(*changed.box)
            with self._timed("views"):
                for some in self._batches.of(batch):
                    self._draw(some, count, seen)
            with self._timed("filter"):
                if self._filling is None:
                    self._add(len(batch), 1 / count)
                else:
                    layers, scale = self._layers, self._filling.scale
                    layers.add(self._views.texture, len(batch), scale, 1 / count, fresh=first == 0, window=changed)
        if self._filling is not None:
            with self._timed("filter"):
                self._layers.blend(self._sum.framebuffer, finished)

    def _make_room(self, count: int) -> None:
        """For so many views; more are drawn in batches. Each takes memory that is slow to come by at first."""
        depth = BATCH_AT_ONCE if self._switches else min(count, BATCH)
        if self._views is not None and self._views.depth >= depth:
            return
        from previz.frames.gl import at_once

        if self._views is not None:
            self._views.delete()
        self._views = self._buffers.ViewTargets(*self._lens.size, depth, at_once=bool(self._switches))
        self._batches = at_once.Batches(self._views, self._switches)

    def _moving_window(self, frame: FrameState, light: Light) -> Window:
        """Where the vehicle, its shadow and beam, or what they hide of a lamp, may be seen in any view."""
        opened, closed = frame.opened, frame.closed
        rims = [
            (self._lens.clip_from_world(view.camera, (x, y)), view.world_from_vehicle)
            for view in (opened, closed)
            for x in (-_RIM, _RIM)
            for y in (-_RIM, _RIM)
        ]
        looks = [*((view.clip_from_world, view.world_from_vehicle) for view in frame.views), *rims]
        x0, x1, y0, y1 = self._touched(light)
        low, high = self._ground.heights
        patch = np.array([[x, y, z, 1.0] for x in (x0, x1) for y in (y0, y1) for z in (low, high)])
        corners = np.concatenate([self._vehicle.box, patch])
        points = (corners @ (clip @ frame_of_vehicle).T for clip, frame_of_vehicle in looks)
        return Window.around(points, self._lens.size, margin=_MARGIN)

    def _take_light(self, light: Light) -> None:
        self._vehicle.fill(light)
        self._ground.fill(light)
        self._buffers.refill(self._mirror, light.mirror * self._exposure.astype(np.float32))

    def _choose(self, frame: FrameState, window: tuple[float, float, float, float] = WHOLE) -> None:
        """Of the triangles, those that some view may see."""
        clips = np.stack([view.clip_from_world for view in frame.views])
        rim = _RIM * self._lens.pupil_radius
        eyes = Eyes.around(np.stack([view.camera.position for view in frame.views]), rim)
        for thing in self._still:
            thing.choose(clips, window, eyes)
        own = [np.linalg.solve(view.world_from_vehicle, np.append(view.camera.position, 1.0)) for view in frame.views]
        self._vehicle.choose(Eyes.around(np.stack(own)[:, :3], rim))
        low, high = self._patch_box(frame)
        self._ground.choose(clips, window, eyes, low, high)

    def _touched(self, light: Light) -> Array:
        """What shadow and beam reach in the vehicle's frame: rear, front, right, left. [m]"""
        x0, x1, y0, y1 = self._extent
        a, b, c, d = light.touched
        return np.array([x0 + a * (x1 - x0), x0 + b * (x1 - x0), y0 + c * (y1 - y0), y0 + d * (y1 - y0)])

    def _patch_box(self, frame: FrameState) -> tuple[Array, Array]:
        """What shadow and beam reach in any view, as a box in the world; of any height; or a box of nothing. [m]"""
        if frame.light is None:
            return np.full(3, np.inf), np.full(3, -np.inf)
        x0, x1, y0, y1 = self._touched(frame.light)
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

    # --- views that are drawn together ---

    def _begin(self, framebuffer: int) -> None:
        gl = self._gl
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, framebuffer)
        gl.glDisable(gl.GL_BLEND)
        gl.glEnable(gl.GL_DEPTH_TEST)
        gl.glClearBufferfv(gl.GL_DEPTH, 0, np.ones(1, np.float32))

    def _draw(self, batch: Any, count: int, seen: "_Seen") -> None:
        self._begin(batch.framebuffer)
        # Beyond the set is as blurred as what is infinitely far.
        room = np.append(self._room, seen.frame.disc[0])
        if not batch.switches:
            self._gl.glClearBufferfv(self._gl.GL_COLOR, 0, room.astype(np.float32))
        # The views' jitter averages over the long side of a footprint, as far as there are views.
        self._draw_all(batch, float(np.log2(min(count, _LONGEST_FOOTPRINT))), seen)
        if batch.switches:
            self._draw_room(batch, room)
        if self._glows is None:
            for view, framebuffer in batch.alone:
                self._gl.glBindFramebuffer(self._gl.GL_FRAMEBUFFER, framebuffer)
                self._draw_lamps(view)

    def _draw_all(self, batch: Any, most_bias: float, seen: "_Seen") -> None:
        # Near things first: what they hide is not shaded.
        self._draw_vehicle(batch, seen)
        self._draw_still(batch, most_bias, seen)
        self._draw_ground(batch, most_bias, seen)

    def _draw_vehicle(self, batch: Any, seen: "_Seen") -> None:
        switches, values = seen.of_vehicle
        own = batch.of("clip_from_world", "world_from_vehicle", "travelled", "eye")
        self._program("vehicle.vert", "surface.frag", (_GLOSSY, *switches, *batch.switches)).use(
            {"mirror": (self._gl.GL_TEXTURE_3D, self._mirror)}, **own, **values
        )
        for part in self._vehicle.parts:
            self._things.face(part.one_sided)
            part.triangles.draw(batch.count)
        self._things.face(False)

    def _draw_still(self, batch: Any, most_bias: float, seen: "_Seen") -> None:
        gl = self._gl
        common, shared = seen.of_set
        for thing in self._still:
            if not thing.triangles.count:
                continue
            switches: tuple[str, ...] = (*common, *batch.switches)
            textures = {}
            values: dict[str, Any] = {**batch.of("clip_from_world"), **shared}
            if thing.image is not None:
                switches += ("IMAGE",)
                textures["image"] = (gl.GL_TEXTURE_2D, thing.image)
                values |= {**batch.of("eye", "detail"), "most_bias": most_bias}
            if thing.glossy:
                switches += (_SATIN if thing.satin else _GLOSSY,)
                textures["mirror"] = (gl.GL_TEXTURE_3D, self._still_mirror)
                values |= batch.of("eye")
            self._things.face(thing.one_sided)
            self._program("still.vert", "surface.frag", switches).use(textures, **values)
            thing.triangles.draw(batch.count)
        self._things.face(False)

    def _draw_ground(self, batch: Any, most_bias: float, seen: "_Seen") -> None:
        plane, ground = self._gl.GL_TEXTURE_2D, self._ground
        common, shared = seen.of_set
        common += batch.switches
        values = {**shared, **batch.of("clip_from_world", "eye", "detail"), "most_bias": most_bias}
        textures = {"image": (plane, ground.image)}
        if ground.plain.count:
            self._program("ground.vert", "ground.frag", common).use(textures, **values)
            ground.plain.draw(batch.count)
        if ground.patch.count:
            x0, x1, y0, y1 = self._extent
            values |= batch.of("vehicle_from_world")
            values["patch_place"] = np.array([x0, y1, 1 / (x1 - x0), 1 / (y1 - y0)])
            textures["shadow"] = (plane, ground.shadow)
            switches = (*common, "PATCH")
            if ground.beam is not None:
                switches += ("BEAM",)
                textures |= {"light": (plane, ground.lit_by), "beam": (plane, ground.beam)}
            self._program("ground.vert", "ground.frag", switches).use(textures, **values)
            ground.patch.draw(batch.count)

    def _draw_room(self, batch: Any, room: Array) -> None:
        """What is seen past the set, only there: hardware that is slow to write would take longer to clear it all."""
        gl = self._gl
        gl.glDepthFunc(gl.GL_LEQUAL)
        self._program("room.vert", "room.frag", batch.switches).use({}, room=room)
        gl.glBindVertexArray(self._no_attributes)
        gl.glDrawArraysInstanced(gl.GL_TRIANGLES, 0, 3, batch.count)
        gl.glDepthFunc(gl.GL_LESS)

    def _draw_lamps(self, view: ViewState) -> None:
        right, up, backward = view.camera.world_from_camera.T
        field = self._lens.field_at_focus(view.camera.focus_distance)
        for triangles, world_from_lamp in ((self._set_lamps, np.eye(4)), (self._own_lamps, view.world_from_vehicle)):
            if triangles is None:
                continue
            self._program("lamp.vert", "lamp.frag", (f"BEAM_EXPONENT {BEAM_EXPONENT!r}",)).use(
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


class _Seen:
    """Switches and values by which the shaders say how blurred things are; none where that is not asked."""

    def __init__(self, frame: FrameState, lens: Lens, filling: Filling | None, switches: tuple[str, ...]) -> None:
        self.frame, self._filling, self._switches = frame, filling, switches
        opened, closed = frame.opened, frame.closed
        camera_moves = not np.array_equal(opened.clip_from_world, closed.clip_from_world)
        vehicle_moves = not np.array_equal(opened.world_from_vehicle, closed.world_from_vehicle)
        own = {
            "opened_from_vehicle": opened.world_from_vehicle,
            "closed_from_vehicle": closed.world_from_vehicle,
            "travels": np.array([opened.travelled, closed.travelled]),
        }
        #: Of what stands still, which streaks only when the camera moves.
        self.of_set = self._of(camera_moves, lens, {})
        self.of_vehicle = self._of(camera_moves or vehicle_moves, lens, own)

    def _of(self, moves: bool, lens: Lens, own: dict[str, Any]) -> tuple[tuple[str, ...], dict[str, Any]]:
        if self._filling is None:
            return (), {}
        values: dict[str, Any] = {"disc": np.array(self.frame.disc)}
        if not moves:
            return self._switches, values
        values |= own
        values["clip_opened"] = self.frame.opened.clip_from_world
        values["clip_closed"] = self.frame.closed.clip_from_world
        values["half_size"] = np.array(lens.size) / 2
        values["streak_share"] = self._filling.streak_share
        return (*self._switches, "MOVING"), values
