"""Draws views of a stage and sums them, on the graphics side, in linear float.

pyrender gives the context; meshes carry attributes it has no names for (gloss, glow, axles) and are drawn here, so
that one draw call covers the whole vehicle and one the whole matt dressing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.frames.gl.context import open_context
from previz.frames.lens import Lens
from previz.frames.mirror import MIRROR_WIDTHS, mirrors
from previz.predictions.motion import CameraPose
from previz.stage import Lamp, LitMesh, Mesh, Stage, Station

Array = NDArray[np.float64]

#: How many views are drawn before they are added to the sum in one pass.
BATCH = 8

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)
_GLOSSY = f"GLOSSY\n#define MIRRORS {len(MIRROR_WIDTHS)}"
# A row of the vehicle's light texture; its length is only a matter of staying under every driver's limit.
_LIGHT_ROW = 1024


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
class _Still:
    """Something of the set on the graphics side."""

    triangles: Any
    image: tuple[int, int] | None
    glossy: bool
    one_sided: bool


class Raster:
    """A stage uploaded for one shot, ready to be drawn from anywhere.

    Parameters
    ----------
    stage : Stage
    stations : sequence of Station
        The vehicle's light along its path, in rising distance; at least one.
    lens : Lens
    exposure : (3,) float
        From radiance [cd/m2] to share of sensor saturation, white balance included.
    """

    def __init__(self, stage: Stage, stations: Sequence[Station], lens: Lens, exposure: Array) -> None:
        width, height = lens.size
        self._platform = open_context(width, height)
        # These import PyOpenGL, which chooses its platform then: only after the context is open.
        from OpenGL import GL

        from previz.frames.gl import buffers
        from previz.frames.gl.programs import Program

        self._gl, self._buffers = GL, buffers
        self._program = cache(Program)
        self._lens, self._exposure = lens, exposure
        self._distances = np.array([station.distance for station in stations])
        self._room = np.append(np.asarray(stage.room) * exposure, 1.0).astype(np.float32)
        self._views = buffers.ViewTargets(width, height, BATCH)
        self._sum = buffers.SumTarget(width, height)
        self._pending = 0
        self._no_attributes = GL.glGenVertexArrays(1)  # the sum's triangle is made of vertex numbers alone
        self._upload(stage, stations)
        GL.glViewport(0, 0, width, height)

    # --- upload ---

    def _upload(self, stage: Stage, stations: Sequence[Station]) -> None:
        plane, stack = self._gl.GL_TEXTURE_2D, self._gl.GL_TEXTURE_2D_ARRAY
        upload, ground = self._buffers, stage.ground
        self._still = [self._still_thing(lit) for lit in stage.still]
        self._ground = upload.Triangles(ground.mesh.faces, {"position": ground.mesh.vertices, "uv": _uv(ground.mesh)})
        self._ground_textures = {
            "image": (plane, upload.texture(ground.image, mipmaps=True)),
            "light": (plane, upload.texture(ground.light)),
            "shadow": (stack, upload.layers(np.stack([station.shadow for station in stations]))),
        }
        beams = [station.beam for station in stations if station.beam is not None]
        if beams:
            self._ground_textures["beam"] = (stack, upload.layers(np.stack(beams)))
        x0, x1, y0, y1 = stage.shadow_extent
        self._patch_place = np.array([x0, y1, 1 / (x1 - x0), 1 / (y1 - y0)])
        self._vehicle = self._vehicle_triangles(stage)
        surrounds = np.concatenate([mirrors(station.surround) for station in stations])
        self._surround = (stack, upload.layers(surrounds, wrap=True))
        self._body_light = (stack, upload.layers(np.stack([_rows(station.body) for station in stations]), exact=True))
        self._set_lamps = self._lamp_triangles(stage.lamps)
        self._own_lamps = self._lamp_triangles(stage.vehicle.lamps)

    def _still_thing(self, lit: LitMesh) -> "_Still":
        mesh = lit.mesh
        radiance = mesh.colours * lit.irradiance / np.pi + np.asarray(mesh.material.glow)
        attributes = {
            "position": mesh.vertices,
            "normal": mesh.normals,
            "colour": np.column_stack([radiance, np.full(len(radiance), mesh.material.gloss)]),
        }
        image = None
        if mesh.image is not None:
            attributes["uv"] = _uv(mesh)
            image = (self._gl.GL_TEXTURE_2D, self._buffers.texture(mesh.image, mipmaps=True))
        return _Still(
            triangles=self._buffers.Triangles(mesh.faces, attributes),
            image=image,
            glossy=mesh.material.gloss > 0,
            # Sheets with an image are seen from either face; so are leaves.
            one_sided=image is None and not mesh.material.two_sided,
        )

    def _vehicle_triangles(self, stage: Stage) -> Any:
        vehicle = stage.vehicle
        fixed = np.zeros(4)
        # Station.body has this very order: the body's meshes, then each wheel's round parts and its turning ones.
        ordered = [(mesh, fixed) for mesh in vehicle.body]
        for wheel in vehicle.wheels:
            middle = np.asarray(wheel.centre)
            axle = np.array([*wheel.centre, wheel.radius])
            ordered += [(mesh.moved(np.eye(3), middle), fixed) for mesh in wheel.round]
            ordered += [(mesh.moved(np.eye(3), middle), axle) for mesh in wheel.turning]
        starts = np.cumsum([0] + [len(mesh.vertices) for mesh, _ in ordered])
        return self._buffers.Triangles(
            np.concatenate([mesh.faces + start for (mesh, _), start in zip(ordered, starts, strict=False)]),
            {
                "position": np.concatenate([mesh.vertices for mesh, _ in ordered]),
                "normal": np.concatenate([mesh.normals for mesh, _ in ordered]),
                "colour": np.concatenate([_with_gloss(mesh) for mesh, _ in ordered]),
                "glow": np.concatenate([np.tile(mesh.material.glow, (len(mesh.vertices), 1)) for mesh, _ in ordered]),
                "axle": np.concatenate([np.tile(axle, (len(mesh.vertices), 1)) for mesh, axle in ordered]),
            },
        )

    def _lamp_triangles(self, lamps: Sequence[Lamp]) -> Any:
        lit = [lamp for lamp in lamps if lamp.flux > 0]
        if not lit:
            return None
        middles = np.array([lamp.centre for lamp in lit])
        axes = np.array([lamp.beam or (0.0, 0.0, 0.0) for lamp in lit])
        radiance = np.array([_lamp_radiance(lamp) for lamp in lit])
        four = np.arange(4 * len(lit)).reshape(-1, 4)
        return self._buffers.Triangles(
            four[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3),
            {
                "position": np.repeat(middles, 4, axis=0),
                "normal": np.repeat(axes, 4, axis=0),
                "colour": np.repeat(np.column_stack([radiance, [lamp.radius for lamp in lit]]), 4, axis=0),
                "uv": np.tile(_CORNERS, (len(lit), 1)),
            },
        )

    # --- draw ---

    def begin(self) -> None:
        """Start a frame: the sum is zero."""
        self._sum.clear()
        self._pending = 0

    def add(self, view: ViewState, weight: float) -> None:
        """Draw one view; it joins the sum with `weight` once a batch is full or the frame ends."""
        self._draw(view, self._views.framebuffers[self._pending])
        self._pending += 1
        if self._pending == BATCH:
            self._flush(weight)

    def finish(self, weight: float) -> NDArray[np.float32]:
        """The summed picture (h, w, 3), row 0 at the top; 1 is sensor saturation."""
        self._flush(weight)
        return self._sum.read()

    def _flush(self, weight: float) -> None:
        if not self._pending:
            return
        gl = self._gl
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, self._sum.framebuffer)
        gl.glDisable(gl.GL_DEPTH_TEST)
        gl.glEnable(gl.GL_BLEND)
        gl.glBlendFunc(gl.GL_ONE, gl.GL_ONE)
        gl.glBindVertexArray(self._no_attributes)
        drawn = {"drawn": (gl.GL_TEXTURE_2D_ARRAY, self._views.texture)}
        self._program("sum.vert", "sum.frag").use(drawn, count=self._pending, weight=weight)
        gl.glDrawArrays(gl.GL_TRIANGLES, 0, 3)
        self._pending = 0

    def _draw(self, view: ViewState, framebuffer: int) -> None:
        gl = self._gl
        gl.glBindFramebuffer(gl.GL_FRAMEBUFFER, framebuffer)
        gl.glDisable(gl.GL_BLEND)
        gl.glEnable(gl.GL_DEPTH_TEST)
        gl.glClearBufferfv(gl.GL_COLOR, 0, self._room)
        gl.glClearBufferfv(gl.GL_DEPTH, 0, np.ones(1, np.float32))
        station = float(np.interp(view.travelled, self._distances, np.arange(len(self._distances))))
        # Near things first: what they hide is not shaded.
        self._draw_vehicle(view, station)
        self._draw_still(view)
        self._draw_ground(view, station)
        self._draw_lamps(view)

    def _draw_vehicle(self, view: ViewState, station: float) -> None:
        self._program("vehicle.vert", "surface.frag", (_GLOSSY,)).use(
            {"surround": self._surround, "body_light": self._body_light},
            clip_from_world=view.clip_from_world,
            world_from_vehicle=view.world_from_vehicle,
            travelled=float(view.travelled),
            station=station,
            eye=view.eye,
            exposure=self._exposure,
        )
        self._vehicle.draw()

    def _draw_still(self, view: ViewState) -> None:
        gl = self._gl
        for thing in self._still:
            switches = tuple(
                name for name, wanted in (("IMAGE", thing.image is not None), (_GLOSSY, thing.glossy)) if wanted
            )
            textures = {} if thing.image is None else {"image": thing.image}
            values: dict[str, Any] = {"clip_from_world": view.clip_from_world, "exposure": self._exposure}
            if thing.glossy:
                # Still things mirror what the vehicle sees half-way along its run: right in kind, not in place.
                textures["surround"] = self._surround
                values |= {"eye": view.eye, "station": (len(self._distances) - 1) / 2}
            (gl.glEnable if thing.one_sided else gl.glDisable)(gl.GL_CULL_FACE)
            self._program("still.vert", "surface.frag", switches).use(textures, **values)
            thing.triangles.draw()
        gl.glDisable(gl.GL_CULL_FACE)

    def _draw_ground(self, view: ViewState, station: float) -> None:
        switches = ("BEAM",) if "beam" in self._ground_textures else ()
        self._program("ground.vert", "ground.frag", switches).use(
            self._ground_textures,
            clip_from_world=view.clip_from_world,
            vehicle_from_world=np.linalg.inv(view.world_from_vehicle),
            patch_place=self._patch_place,
            station=station,
            exposure=self._exposure,
        )
        self._ground.draw()

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
                exposure=self._exposure,
            )
            triangles.draw()

    def close(self) -> None:
        """Give the context back."""
        self._platform.delete_context()


def _uv(mesh: Mesh) -> Array:
    assert mesh.uv is not None  # a mesh with an image has places in it
    return mesh.uv


def _with_gloss(mesh: Mesh) -> Array:
    return np.column_stack([mesh.colours, np.full(len(mesh.colours), mesh.material.gloss)])


def _rows(values: NDArray[Any]) -> NDArray[np.float32]:
    """(n, 3) laid into rows (ceil(n / row), row, 3) of a texture."""
    rows = -(-len(values) // _LIGHT_ROW)
    laid = np.zeros((rows * _LIGHT_ROW, 3), np.float32)
    laid[: len(values)] = values
    return laid.reshape(rows, _LIGHT_ROW, 3)


def _lamp_radiance(lamp: Lamp) -> Array:
    """Of the disc that stands for the lamp. [cd/m2]

    A ball shining evenly all round sends its flux out over 4 pi, and shows pi r^2: L = flux / (4 pi * pi r^2).
    A lamp with a beam is a Lambertian disc: L = flux / (pi * pi r^2).
    """
    solid = np.pi if lamp.beam is not None else 4 * np.pi
    return np.asarray(lamp.colour) * lamp.flux / (solid * np.pi * lamp.radius**2)
