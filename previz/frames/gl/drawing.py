"""How an uploaded stage is drawn: vehicle, set, ground, what lies beyond, and lamps, each as a batch of views sees it.

Meshes carry attributes that pyrender has no names for (gloss, glow, axles) and are drawn here, so that one draw call
covers the whole vehicle and one the whole matt dressing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl.at_once import Batch
from previz.frames.gl.buffers import Triangles
from previz.frames.gl.cast import LEAST_LIT
from previz.frames.gl.kept import KeptView
from previz.frames.gl.programs import Program
from previz.frames.gl.smear import SWITCHES as SMEARED
from previz.frames.gl.states import (
    Filling,
    FrameState,
    Placed,
    ViewState,
)
from previz.frames.gl.surfaces import MIRROR_SWITCHES, Look
from previz.frames.gl.things import (
    Still,
    Vehicle,
    face,
)
from previz.frames.gl.uploaded import UploadedStage
from previz.frames.gl.window import Window, around
from previz.frames.lens import Lens
from previz.layout import BEAM_EXPONENT

Array = NDArray[np.float64]

GLOSSY, _SATIN = ((kind, *MIRROR_SWITCHES) for kind in ("GLOSSY", "SATIN"))

#: How many times longer than wide a pixel's footprint on an image may be before detail is given up.
_LONGEST_FOOTPRINT = 8


@dataclass(frozen=True)
class Given:
    """What shaders are given beside what they draw: switches, and values and textures by name."""

    switches: tuple[str, ...] = ()
    values: dict[str, Any] = field(default_factory=dict)
    textures: dict[str, tuple[int, int]] = field(default_factory=dict)


@dataclass(frozen=True)
class Blurring:
    """How shaders learn how blurred things are: those of the set, which streak only when the camera moves, and the
    vehicle's. Nothing where that is not asked."""

    of_set: Given = Given()
    of_vehicle: Given = Given()
    of_others: tuple[Given, ...] = ()

    @property
    def smeared(self) -> bool:
        """Whether shaders also say how far things move."""
        return "SMEARED" in self.of_set.switches

    @classmethod
    def of(cls, frame: FrameState, lens: Lens, filling: Filling | None, smear: float = 0.0) -> "Blurring":
        """For views that fill their patches so, if at all, and are smeared over that share of the shutter."""
        if smear:
            share = {"smear_share": smear}
            return cls._made(frame, lens.size, share, ("FILTERED", *SMEARED))
        if filling is None:
            return cls(of_others=(Given(),) * len(frame.opened.others))
        return cls._made(frame, lens.size, {"streak_share": filling.streak_share}, ("FILTERED",))

    @classmethod
    def surveyed(cls, frame: FrameState, lens: Lens) -> "Blurring":
        """For a view that shows discs and streaks in place of colours."""
        return cls._made(frame, lens.size, {"streak_share": 0.0}, ("FILTERED", "SURVEY"))

    @classmethod
    def mirrored(cls, frame: FrameState, look: ViewState, size: tuple[int, int], share: float) -> "Blurring":
        """For a look of that size from a place that does not move; alpha becomes -1 / distance, nearest least."""
        opened, closed = (replace(end, clip_from_world=look.clip_from_world) for end in (frame.opened, frame.closed))
        at_rest = replace(frame, opened=opened, closed=closed, disc=(0.0, -1.0))
        return cls._made(at_rest, size, {"smear_share": share}, ("FILTERED", *SMEARED))

    @classmethod
    def _made(
        cls, frame: FrameState, size: tuple[int, int], share: dict[str, float], switches: tuple[str, ...]
    ) -> "Blurring":
        opened, closed = frame.opened, frame.closed
        camera_moves = not frame.locked_off
        still = {"disc": np.array(frame.disc)}
        moving = still | {
            "clip_opened": opened.clip_from_world,
            "clip_closed": closed.clip_from_world,
            "half_size": np.array(size) / 2,
            **share,
        }
        streaking = (*switches, "MOVING")

        def of_a_vehicle(first: Placed, last: Placed) -> Given:
            own = {
                "opened_from_vehicle": first.world_from_vehicle,
                "closed_from_vehicle": last.world_from_vehicle,
                "travels": np.array([first.travelled, last.travelled]),
            }
            it_moves = not np.array_equal(first.world_from_vehicle, last.world_from_vehicle)
            return Given(streaking, moving | own) if camera_moves or it_moves else Given(switches, still)

        subject, *others = map(of_a_vehicle, opened.driven, closed.driven)
        return cls(
            Given(streaking, moving) if camera_moves else Given(switches, still),
            subject,
            tuple(others),
        )


class Drawing:
    """Draws an uploaded stage.

    Parameters
    ----------
    stage : UploadedStage
    lens : Lens
    program : callable
        Makes programs of two shaders and switches.
    """

    def __init__(self, stage: UploadedStage, lens: Lens, program: Callable[..., Program]) -> None:
        self._stage, self._lens, self._program = stage, lens, program
        #: What water on the ground mirrors; None where there is none, and before there is light.
        self.water: Given | None = None
        self._no_attributes = GL.glGenVertexArrays(1)  # a triangle over all the picture is made of vertex numbers alone

    def views(
        self,
        batch: Batch,
        frame: FrameState,
        blurring: Blurring,
        windows: Sequence[Window],
        *,
        lamps: bool,
        kept: KeptView | None = None,
        shaded: Sequence[Window] | None = None,
    ) -> None:
        """What a batch of a frame's views sees within some windows of the picture.

        lamps: as discs too, or they are added to the finished picture. kept: the set is taken from there, all of which
        is drawn where that view is not known yet. shaded: the ground belongs to the set, and shadow and beam come on it
        afterwards, within these windows.
        """
        # The views' jitter averages over the long side of a footprint, as far as there are views.
        bias = float(np.log2(min(len(frame.views), _LONGEST_FOOTPRINT)))
        if kept is None:
            GL.glScissor(*around(windows).box)
            self._all(batch, frame, blurring, bias, shaded)
        else:
            self._over_the_set(batch, frame, blurring, windows, kept, bias, shaded)
        GL.glScissor(*around(windows).box)
        for view, framebuffer in batch.alone if lamps else ():
            GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
            self.lamps(view)

    def _all(
        self, batch: Batch, frame: FrameState, blurring: Blurring, bias: float, shaded: Sequence[Window] | None
    ) -> None:
        """Everything, whatever the camera does; near things first: what they hide is not shaded."""
        # Beyond the set is as blurred as what is infinitely far.
        room = np.append(self._stage.room, frame.disc[0])
        _begin(batch.framebuffer)
        if not batch.switches:
            GL.glClearBufferfv(GL.GL_COLOR, 0, room.astype(np.float32))
            if blurring.smeared:
                GL.glClearBufferfv(GL.GL_COLOR, 1, np.zeros(4, np.float32))
        # A camera that is locked off has its set kept from the second frame on: of things that are equally near the
        # same ones are seen only if the set always comes first.
        if frame.locked_off:
            self._set(batch, bias, blurring)
            if shaded is not None:
                self._ground_plain(batch, bias, blurring.of_set)
            self._vehicles(batch, bias, blurring)
        else:
            self._vehicles(batch, bias, blurring)
            self._set(batch, bias, blurring)
        (self._ground if shaded is None else self._ramps)(batch, bias, blurring.of_set)
        if batch.switches:
            self._room(batch, room, SMEARED if blurring.smeared else ())
        if shaded is not None:
            self._shade(batch, blurring.of_set, shaded)

    def _over_the_set(
        self,
        batch: Batch,
        frame: FrameState,
        blurring: Blurring,
        windows: Sequence[Window],
        kept: KeptView,
        bias: float,
        shaded: Sequence[Window] | None,
    ) -> None:
        """Vehicles over the set that was kept, and the ground or what is cast on it."""
        if not kept.known:
            GL.glScissor(0, 0, *self._lens.size)
            _begin(kept.drawn_into())
            room = np.append(self._stage.room, frame.disc[0])
            GL.glClearBufferfv(GL.GL_COLOR, 0, room.astype(np.float32))
            self._set(batch, bias, blurring)
            if shaded is not None:
                self._ground_plain(batch, bias, blurring.of_set)
        kept.copied_into(batch.framebuffer, windows, moving=blurring.smeared)
        GL.glDisable(GL.GL_BLEND)
        GL.glEnable(GL.GL_DEPTH_TEST)
        GL.glScissor(*around(windows).box)
        self._vehicles(batch, bias, blurring)
        for window in windows:
            GL.glScissor(*window.box)
            (self._ground if shaded is None else self._ramps)(batch, bias, blurring.of_set)
        if shaded is not None:
            self._shade(batch, blurring.of_set, shaded)

    def survey(self, batch: Batch, blurring: Blurring) -> None:
        """Discs and streaks in place of colours; none beyond the set."""
        _begin(batch.framebuffer)
        GL.glClearBufferfv(GL.GL_COLOR, 0, np.zeros(4, np.float32))
        self._vehicles(batch, 0.0, blurring)
        self._set(batch, 0.0, blurring)
        self._ground(batch, 0.0, blurring.of_set)

    def _vehicles(self, batch: Batch, most_bias: float, blurring: Blurring) -> None:
        self._vehicle(batch, self._stage.vehicle, self._stage.mirror, most_bias, blurring.of_vehicle)
        for number, (other, blurred) in enumerate(zip(self._stage.others.each, blurring.of_others, strict=True)):
            self._vehicle(batch.led_by(number), other.vehicle, other.mirror, most_bias, blurred)
            batch.lead_again()

    def _set(self, batch: Batch, most_bias: float, blurring: Blurring) -> None:
        for thing in self._stage.in_views():
            if thing.triangles.count:
                self._still(thing, thing.triangles, batch, most_bias, blurring.of_set)
        face(False)

    def above_ground(self, batch: Batch, blurring: Blurring) -> None:
        """All but the ground and lamps, of the triangles that were chosen for looks other than the camera's."""
        _begin(batch.framebuffer)
        self._vehicles(batch, 0.0, blurring)
        for thing in self._stage.still:
            if thing.some.count:
                self._still(thing, thing.some, batch, 0.0, blurring.of_set)
        face(False)

    def _vehicle(self, batch: Batch, vehicle: Vehicle, mirrored: int, most_bias: float, blurred: Given) -> None:
        own = batch.of("clip_from_world", "world_from_vehicle", "travelled", "eye")
        mirror = {"mirror": (GL.GL_TEXTURE_3D, mirrored)}
        for part in vehicle.parts:
            if part.look is None:
                program = self._program("vehicle.vert", "surface.frag", (*GLOSSY, *blurred.switches, *batch.switches))
                program.use(mirror, **own, **blurred.values)
            else:
                self._use_laid("vehicle.vert", part.look, mirror, batch, most_bias, {**own, **blurred.values}, blurred)
            face(part.one_sided)
            part.triangles.draw(batch.count)
        face(False)

    def _use_laid(
        self,
        vertex: str,
        look: Look,
        mirror: dict[str, tuple[int, int]],
        batch: Batch,
        most_bias: float,
        values: dict[str, Any],
        blurred: Given,
    ) -> None:
        """The program for a surface that a file describes."""
        switches = ("SURFACE", *look.switches, *blurred.switches, *batch.switches)
        self._program(vertex, "laid_surface.frag", switches).use(
            {**look.textures, **(mirror if look.mirrors else {})},
            **values,
            **look.values,
            **({**batch.of("detail"), "most_bias": most_bias} if look.laid else {}),
        )

    def _still(self, thing: Still, triangles: Triangles, batch: Batch, most_bias: float, blurred: Given) -> None:
        values = batch.of("clip_from_world") | blurred.values
        face(thing.one_sided)
        if thing.look is not None:
            mirror = {"mirror": (GL.GL_TEXTURE_3D, self._stage.still_mirror)}
            values |= batch.of("eye")
            self._use_laid("still_surface.vert", thing.look, mirror, batch, most_bias, values, blurred)
            triangles.draw(batch.count)
            return
        switches = (*blurred.switches, *batch.switches)
        textures = {}
        if thing.image is not None:
            switches += ("IMAGE",)
            textures["image"] = (GL.GL_TEXTURE_2D, thing.image)
            values |= {**batch.of("eye", "detail"), "most_bias": most_bias}
        if thing.glossy:
            switches += _SATIN if thing.satin else GLOSSY
            textures["mirror"] = (GL.GL_TEXTURE_3D, self._stage.still_mirror)
            values |= batch.of("eye")
        if (shadow := self._stage.sheets.of(thing.driver)) is None:
            self._program("still.vert", "surface.frag", switches).use(textures, **values)
            triangles.draw(batch.count)
        else:
            assert thing.driver is not None
            textures["shadow"] = (GL.GL_TEXTURE_2D, shadow)
            led = batch if thing.driver == 0 else batch.led_by(thing.driver - 1)
            values |= led.of("ground_from_world")
            values["patch_place"] = _patch_place(self._stage.extent_of(thing.driver))
            self._program("still.vert", "surface.frag", (*switches, "PATCH")).use(textures, **values)
            triangles.draw(batch.count)
            led.lead_again()

    def _ground(self, batch: Batch, most_bias: float, blurred: Given) -> None:
        """The part that shadow and beam reach, and the rest; ramps, where the vehicle's shadow falls too."""
        self._ramps(batch, most_bias, blurred)
        ground = self._stage.ground
        plain = self._ground_plain(batch, most_bias, blurred)
        if ground.patch.count:
            cast = self._cast(batch)
            self._program("ground.vert", "ground.frag", (*plain.switches, *cast.switches)).use(
                plain.textures | cast.textures, **plain.values, **cast.values
            )
            ground.patch.draw(batch.count)

    def _ramps(self, batch: Batch, most_bias: float, blurred: Given) -> None:
        """Those that a vehicle's shadow falls on."""
        for thing in self._stage.ramps:
            if thing.triangles.count:
                self._still(thing, thing.triangles, batch, most_bias, blurred)
        face(False)

    def _ground_plain(self, batch: Batch, most_bias: float, blurred: Given) -> Given:
        """The ground that nothing is cast on; returns what its shaders are given."""
        ground, water = self._stage.ground, self.water or Given()
        given = Given(
            (*blurred.switches, *batch.switches, *water.switches),
            {
                **blurred.values,
                **batch.of("clip_from_world", "eye", "detail"),
                "most_bias": most_bias,
                **water.values,
            },
            {"image": (GL.GL_TEXTURE_2D, ground.image), **water.textures},
        )
        if ground.plain.count:
            self._program("ground.vert", "ground.frag", given.switches).use(given.textures, **given.values)
            ground.plain.draw(batch.count)
        return given

    def _shade(self, batch: Batch, blurred: Given, windows: Sequence[Window]) -> None:
        """What is cast on ground that is drawn, where that is seen."""
        ground = self._stage.ground
        if not ground.patch.count:
            return
        cast = self._cast(batch)
        GL.glEnable(GL.GL_BLEND)
        GL.glBlendFuncSeparate(GL.GL_DST_COLOR, GL.GL_ZERO, GL.GL_ZERO, GL.GL_ONE)
        GL.glDepthFunc(GL.GL_EQUAL)
        GL.glColorMaski(1, *[GL.GL_FALSE] * 4)  # it moves as little as before
        self._program("ground.vert", "ground_shade.frag", (*blurred.switches, *batch.switches, *cast.switches)).use(
            cast.textures, **blurred.values, **batch.of("clip_from_world"), **cast.values
        )
        for window in windows:
            GL.glScissor(*window.box)
            ground.patch.draw(batch.count)
        GL.glColorMaski(1, *[GL.GL_TRUE] * 4)
        GL.glDepthFunc(GL.GL_LESS)
        GL.glDisable(GL.GL_BLEND)

    def _cast(self, batch: Batch) -> Given:
        """What vehicles cast on the ground: shadow and beam."""
        plane, ground = GL.GL_TEXTURE_2D, self._stage.ground
        views = [view for view, _ in batch.alone]
        values = batch.of("ground_from_world")
        values["patch_place"] = _patch_place(self._stage.shadow_extent)
        switches: tuple[str, ...] = ("PATCH",)
        textures = {"shadow": (plane, ground.shadow)}
        more, places, pictures = self._stage.others.on_ground(views)
        if ground.cast is not None and not batch.switches and not more:
            textures["shadow"] = (plane, ground.cast.at(views[0]))
            return Given(switches, values, textures)
        if ground.beam is not None:
            switches += ("BEAM",)
            textures["beam"] = (plane, ground.beam)
        if ground.beam is not None or "OTHER_BEAMS" in more:
            switches += (LEAST_LIT,)
            textures["light"] = (plane, ground.lit_by)
        return Given((*switches, *more), values | places, textures | pictures)

    def _room(self, batch: Batch, room: Array, switches: tuple[str, ...]) -> None:
        """What is seen past the set, only there: hardware that is slow to write would take longer to clear it all."""
        GL.glDepthFunc(GL.GL_LEQUAL)
        self._program("room.vert", "room.frag", (*switches, *batch.switches)).use({}, room=room)
        GL.glBindVertexArray(self._no_attributes)
        GL.glDrawArraysInstanced(GL.GL_TRIANGLES, 0, 3, batch.count)
        GL.glDepthFunc(GL.GL_LESS)

    def lamps(self, view: ViewState) -> None:
        """As discs, into the target in use."""
        right, up, backward = view.camera.world_from_camera.T
        field = self._lens.field_at_focus(view.camera.focus_distance)
        own, of_set = self._stage.own_lamps, self._stage.set_lamps
        carried = zip((own, *self._stage.others.lamps), view.driven, strict=True)
        for triangles, world_from_lamp in (
            (of_set, np.eye(4)),
            *((lamps, placed.world_from_vehicle) for lamps, placed in carried),
        ):
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


def _patch_place(extent: tuple[float, float, float, float]) -> Array:
    """Of a vehicle's shadow, as shaders want it."""
    x0, x1, y0, y1 = extent
    return np.array([x0, y1, 1 / (x1 - x0), 1 / (y1 - y0)])


def _begin(framebuffer: int) -> None:
    """A target with nothing in it yet, as far as depth goes."""
    GL.glBindFramebuffer(GL.GL_FRAMEBUFFER, framebuffer)
    GL.glDisable(GL.GL_BLEND)
    GL.glEnable(GL.GL_DEPTH_TEST)
    GL.glClearBufferfv(GL.GL_DEPTH, 0, np.ones(1, np.float32))
