"""A stage on the graphics side: what stands still, the ground, the vehicle, and lamps as discs."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.cast import LEAST_LIT, Cast
from previz.frames.gl.chunks import WHOLE, Chunks, Eyes, Numbers
from previz.frames.gl.programs import Program
from previz.frames.gl.smaller import Smaller
from previz.frames.gl.surfaces import Look, Looks, laid_of
from previz.frames.light import Light
from previz.layout import BEAM_EXPONENT, Lamp, bulb_of
from previz.mesh import Mesh, Surface
from previz.stage import VehicleModel

Array = NDArray[np.float64]

_CORNERS = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=float)
_SATIN_GLOSS = 0.6
_BRIGHTEST = 60000.0  # that a half float holds with room to spare


@dataclass(frozen=True)
class Still:
    """Something of the set."""

    mesh: Mesh
    corners: buffers.Corners
    triangles: buffers.Triangles
    some: buffers.Triangles  # the same corners, for looks other than the camera's
    chunks: Chunks
    image: int | None
    glossy: bool
    satin: bool  # glossy, but so little that what it mirrors is worked out at corners
    one_sided: bool
    driver: int | None  # whose shadow falls on it, the subject being 0
    look: Look | None = None  # of a surface that a file describes

    @classmethod
    def of(cls, mesh: Mesh, looks: Looks) -> "Still":
        """Dark as yet."""
        attributes = {"position": mesh.vertices, "normal": mesh.normals}
        if mesh.surface is not None:
            attributes |= {"colour": mesh.colours, "uv": laid_of(mesh)}
            return cls._made(mesh, attributes, {"glow": 3, "light": 4}, look=looks.of(mesh.surface))
        image = None
        if mesh.image is not None:
            attributes["uv"] = uv_of(mesh)
            image = _linear_image(mesh.image)
        return cls._made(mesh, attributes, {"colour": 4}, image=image)

    @classmethod
    def _made(
        cls,
        mesh: Mesh,
        attributes: dict[str, NDArray[Any]],
        changing: dict[str, int],
        image: int | None = None,
        look: Look | None = None,
    ) -> "Still":
        chunks = Chunks.known(mesh.vertices, mesh.faces)
        corners = buffers.Corners(attributes, changing=changing)
        return cls(
            mesh=mesh,
            corners=corners,
            triangles=buffers.Triangles(corners, chunks.faces),
            some=buffers.Triangles(corners, chunks.faces[:0]),
            chunks=chunks,
            image=image,
            glossy=mesh.material.gloss > 0,
            satin=0 < mesh.material.gloss <= _SATIN_GLOSS and image is None,
            # Sheets with an image are seen from either face; so are leaves.
            one_sided=not mesh.material.two_sided and (mesh.image is None or look is not None),
            driver=mesh.material.driver,
            look=look,
        )

    def light(
        self, irradiance: NDArray[np.float32], exposure: Array, around: NDArray[np.float32] | None = None
    ) -> None:
        """Light on every corner becomes a radiance, in shares of saturation; `around` as `LitMesh.around`."""
        mesh = self.mesh
        if self.look is not None:
            shares = np.minimum(irradiance * (exposure / np.pi), _BRIGHTEST)
            self.corners.fill("light", _with_share(shares, around))
            glow = np.minimum(np.asarray(mesh.material.glow) * exposure, _BRIGHTEST)
            self.corners.fill("glow", np.tile(glow, (len(mesh.vertices), 1)).astype(np.float32))
            return
        radiance = (mesh.colours * irradiance / np.pi + np.asarray(mesh.material.glow)) * exposure
        gloss = np.full(len(radiance), mesh.material.gloss)
        colour = np.column_stack([np.minimum(radiance, _BRIGHTEST), gloss])
        self.corners.fill("colour", colour.astype(np.float32))

    def choose(self, clips: Array, window: tuple[float, float, float, float], eyes: Eyes) -> None:
        """Draw from now on what these views may see, the nearest first."""
        facing = partial(self.chunks.facing, eyes) if self.one_sided else None
        self.triangles.choose(self.chunks.front_to_back(self.chunks.seen(clips, window), eyes, facing))

    def choose_some(self, clips: Array, window: tuple[float, float, float, float] = WHOLE) -> None:
        """Of `some`, draw from now on what these looks may see, in a window of the picture."""
        self.some.choose(self.chunks.chosen(self.chunks.seen(clips, window)))


class Ground:
    """The table top: the part that the vehicle's shadow and beam may reach, and the rest."""

    #: The painting, until it is lit: then what it sends out.
    image = 0
    shadow = lit_by = 0
    beam: int | None = None
    #: Shadow and beam as one, where there is a beam.
    cast: Cast | None = None

    def __init__(self, mesh: Mesh, painting: NDArray[np.uint8], film: NDArray[np.uint8] | None = None) -> None:
        self.chunks = Chunks.known(mesh.vertices, mesh.faces)
        # Boxes around its triangles: few chunks are as small as what is cast on it.
        corners_of = mesh.vertices[self.chunks.faces]
        self._low, self._high = corners_of.min(axis=1), corners_of.max(axis=1)
        #: The lowest and the highest of it. [m]
        self.heights = float(mesh.vertices[:, 2].min()), float(mesh.vertices[:, 2].max())
        corners = buffers.Corners({"position": mesh.vertices, "normal": mesh.normals, "uv": uv_of(mesh)})
        self.plain, self.patch, self.some = (buffers.Triangles(corners, self.chunks.faces) for _ in range(3))
        places = np.column_stack([mesh.vertices[:, :2], np.ones(len(mesh.vertices))])
        self._uv_from_world: Array = np.asarray(np.linalg.lstsq(places, uv_of(mesh))[0].T, float)
        self.paint(painting)
        self._size = painting.shape[1], painting.shape[0]
        #: Until it is lit, how much of it gleams; then that is in the image's alpha. None where nothing does.
        self.film = None if film is None else buffers.texture(film[..., None], "plain")

    def paint(self, painting: NDArray[np.uint8]) -> None:
        """Dark, as it was uploaded."""
        if before := [name for name in (self.image, self.lit_by, self.shadow, self.beam) if name]:
            GL.glDeleteTextures(len(before), before)
        self.lit_by, self.shadow, self.beam, self.cast = 0, 0, None, None
        self.image = buffers.texture(painting)

    def light(self, irradiance: NDArray[np.float32], exposure: Array, usual: Light, *, beams: bool) -> None:
        """The light over the table; shadow and beam have the shape of a usual light's. Once, until it is painted.

        beams: whether any vehicle's lamps light it too.
        """
        # In shares of saturation from the start: half floats end at 65504, and sunlight is more lux than that.
        self._exposure = exposure.astype(np.float32)
        self.lit_by = buffers.texture(irradiance * self._exposure)
        self.shadow = buffers.texture(usual.shadow)
        self.beam = None if usual.beam is None else buffers.texture(usual.beam * self._exposure)
        if self.beam is not None:
            sizes = (usual.shadow.shape[1], usual.shadow.shape[0]), (irradiance.shape[1], irradiance.shape[0])
            self.cast = Cast(sizes[0], self.lit_by, sizes[1], self._uv_from_world)
        textures = {"image": (GL.GL_TEXTURE_2D, self.image), "light": (GL.GL_TEXTURE_2D, self.lit_by)}
        switches: tuple[str, ...] = (LEAST_LIT,) if beams else ()
        if self.film is not None:
            textures["film"] = (GL.GL_TEXTURE_2D, self.film)
            switches += ("FILM",)
        painting, self.image = self.image, _drawn("ground_bake.frag", *self._size, textures, switches)
        GL.glDeleteTextures(1, [painting])

    def fill(self, light: Light) -> None:
        """The shadow and beam of this frame."""
        buffers.refill(self.shadow, light.shadow)
        if self.beam is not None and light.beam is not None:
            buffers.refill(self.beam, light.beam * self._exposure)

    def choose(
        self,
        clips: Array,
        window: tuple[float, float, float, float],
        eyes: Eyes,
        boxes: Sequence[tuple[Array, Array]],
        whole: tuple[float, float, float, float] | None = None,
    ) -> None:
        """Draw what these views may see; the patch is what reaches into one of the boxes low..high.

        whole: the plain part is all of the ground, in a window of its own.
        """
        seen = self.chunks.seen(clips, window)
        touched = self._touched(seen, boxes)
        if whole is None:
            self.plain.choose(self.chunks.front_to_back(seen, eyes, (~touched).__getitem__))
        else:
            self.plain.choose(self.chunks.front_to_back(self.chunks.seen(clips, whole), eyes))
        self.patch.choose(self.chunks.front_to_back(seen, eyes, touched.__getitem__))

    def _touched(self, seen: NDArray[np.bool_], boxes: Sequence[tuple[Array, Array]]) -> NDArray[np.bool_]:
        """Which triangles (m,) of the chunks that are seen reach into one of the boxes low..high."""
        touched = np.zeros(len(self.chunks.faces), dtype=bool)
        for low, high in boxes:
            some = self.chunks.numbers(seen & self.chunks.touching(low, high))
            touched[some] |= (self._low[some] <= high).all(axis=1) & (self._high[some] >= low).all(axis=1)
        return touched


@dataclass(frozen=True)
class VehiclePart:
    """Those of the vehicle's triangles that are seen from one side, or from both, and of one surface.

    `turning` (m,): which of the chunks' triangles turn with a wheel.
    """

    triangles: buffers.Triangles
    chunks: Chunks
    turning: NDArray[np.bool_]
    one_sided: bool
    look: Look | None

    def choose(self, eyes: Eyes) -> None:
        """Draw from now on what may be seen from there, in the vehicle's frame, the nearest first."""
        everything = np.ones(len(self.chunks.low), bool)

        def may_show(numbers: Numbers) -> NDArray[np.bool_]:
            return self.chunks.facing(eyes, numbers) | self.turning[numbers]

        self.triangles.choose(self.chunks.front_to_back(everything, eyes, may_show if self.one_sided else None))


class Vehicle:
    """The vehicle with its turning wheels, in its own frame."""

    def __init__(self, vehicle: VehicleModel, looks: Looks) -> None:
        ordered = _with_axles(vehicle)
        surfaces = {id(mesh.surface): mesh.surface for mesh, _ in ordered}
        laid = {}
        if any(surfaces.values()):
            laid["uv"] = np.concatenate([laid_of(mesh) for mesh, _ in ordered])
        self._laid = bool(laid)
        self._glow = np.concatenate([np.tile(mesh.material.glow, (len(mesh.vertices), 1)) for mesh, _ in ordered])
        self._corners = buffers.Corners(
            {
                "position": np.concatenate([mesh.vertices for mesh, _ in ordered]),
                "normal": np.concatenate([mesh.normals for mesh, _ in ordered]),
                "colour": np.concatenate([_with_gloss(mesh) for mesh, _ in ordered]),
                "axle": np.concatenate([np.tile(axle, (len(mesh.vertices), 1)) for mesh, axle in ordered]),
                **laid,
            },
            changing={"light": 4 if laid else 3, "glow": 3},
        )
        #: Corners of its bounding box at any turn of the wheels, lamps included; homogeneous. (8, 4)
        self.box = _box_around(ordered, vehicle.lamps)
        parts = (
            self._part(ordered, surface, None if surface is None else looks.of(surface), two_sided=two_sided)
            for surface in surfaces.values()
            for two_sided in (False, True)
        )
        self.parts = tuple(part for part in parts if part is not None)

    def _part(
        self, ordered: Sequence[tuple[Mesh, Array]], surface: Surface | None, look: Look | None, *, two_sided: bool
    ) -> VehiclePart | None:
        starts = np.cumsum([0] + [len(mesh.vertices) for mesh, _ in ordered])
        faces = [
            mesh.faces + start
            for (mesh, _), start in zip(ordered, starts, strict=False)
            if mesh.material.two_sided == two_sided and mesh.surface is surface
        ]
        if not faces:
            return None
        turns = np.concatenate([np.full(len(mesh.vertices), axle[3] > 0) for mesh, axle in ordered])
        chunks = Chunks.of(np.concatenate([mesh.vertices for mesh, _ in ordered]), np.concatenate(faces))
        triangles = buffers.Triangles(self._corners, chunks.faces)
        return VehiclePart(triangles, chunks, turns[chunks.faces[:, 0]], not two_sided, look)

    def choose(self, eyes: Eyes) -> None:
        """Draw from now on what may be seen from there, in the vehicle's frame, the nearest first."""
        for part in self.parts:
            part.choose(eyes)

    def expose(self, exposure: Array) -> None:
        """What its own lamps send out, in shares of saturation; the light of a frame from now on too."""
        self._exposure = exposure
        self._corners.fill("glow", (self._glow * exposure).astype(np.float32))

    def fill(self, light: Light) -> None:
        """The light of this frame."""
        shares = light.body * (self._exposure / np.pi)
        self._corners.fill("light", _with_share(shares, light.around) if self._laid else shares.astype(np.float32))


def _with_axles(vehicle: VehicleModel) -> list[tuple[Mesh, Array]]:
    """Its meshes in its own frame, each with the axle (4,) that it turns about: middle and radius [m], 0 for none.

    `Station.body` has this very order: the body's meshes, then each wheel's round parts and its turning ones.
    """
    fixed = np.zeros(4)
    ordered = [(mesh, fixed) for mesh in vehicle.body]
    for wheel in vehicle.wheels:
        middle = np.asarray(wheel.centre)
        axle = np.array([*wheel.centre, wheel.radius])
        ordered += [(mesh.moved(np.eye(3), middle), fixed) for mesh in wheel.round]
        ordered += [(mesh.moved(np.eye(3), middle), axle) for mesh in wheel.turning]
    return ordered


def _box_around(ordered: Sequence[tuple[Mesh, Array]], lamps: Sequence[Lamp]) -> Array:
    places = [mesh.vertices for mesh, _ in ordered]
    for mesh, axle in ordered:
        if axle[3] > 0:  # a wheel stays within the square around it at any turn
            far = np.hypot(*(mesh.vertices - axle[:3])[:, [0, 2]].T).max()
            places.append(axle[:3] + np.array([[-far, 0, -far], [far, 0, far]]))
    places += [np.array([lamp.centre]) + side * 3 * lamp.radius for lamp in lamps for side in (-1, 1)]
    low, high = np.concatenate(places).min(axis=0), np.concatenate(places).max(axis=0)
    return np.array([[x, y, z, 1.0] for x in (low[0], high[0]) for y in (low[1], high[1]) for z in (low[2], high[2])])


def lamp_discs(lamps: Sequence[Lamp], exposure: Array) -> buffers.Triangles | None:
    """Two triangles for each lamp that is lit; `lamp.vert` turns them to the eye."""
    lit = [lamp for lamp in lamps if lamp.flux > 0]
    if not lit:
        return None
    middles = np.array([lamp.centre for lamp in lit])
    axes = np.array([lamp.beam or (0.0, 0.0, 0.0) for lamp in lit])
    radiance = np.array([lamp_radiance(lamp) for lamp in lit]) * exposure
    four = np.arange(4 * len(lit)).reshape(-1, 4)
    corners = buffers.Corners(
        {
            "position": np.repeat(middles, 4, axis=0),
            "normal": np.repeat(axes, 4, axis=0),
            "colour": np.repeat(np.column_stack([radiance, [lamp.radius for lamp in lit]]), 4, axis=0),
            "uv": np.tile(_CORNERS, (len(lit), 1)),
        }
    )
    return buffers.Triangles(corners, four[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3))


def lamp_radiance(lamp: Lamp) -> Array:
    """Of the disc that stands for the lamp, on its beam's axis where it has one. [cd/m2]

    What lights the set is what is seen: the intensity of `bulb_of` over the disc's area pi r^2.
    """
    return np.asarray(bulb_of(lamp).intensity) / (np.pi * lamp.radius**2)


def beam_share(beams: Array, to_eye: Array) -> Array:
    """Of the light on a beam's axis (n, 3), what goes towards the eye (n, 3); all of it where the axis is 0. (n,)

    >>> axes = np.array([[1.0, 0, 0], [1.0, 0, 0], [0, 0, 0]])
    >>> beam_share(axes, np.array([[2.0, 0, 0], [0, 1, 0], [0, 1, 0]])).tolist()
    [1.0, 0.0, 1.0]
    """
    cosine = np.einsum("ni,ni->n", beams, to_eye) / np.linalg.norm(to_eye, axis=1)
    return np.where(beams.any(axis=1), np.maximum(cosine, 0.0) ** BEAM_EXPONENT, 1.0)


def uv_of(mesh: Mesh) -> Array:
    """Places in its image of a mesh that has one."""
    assert mesh.uv is not None
    return mesh.uv


def _linear_image(image: NDArray[np.uint8]) -> int:
    given = buffers.texture(image)
    textures = {"image": (GL.GL_TEXTURE_2D, given)}
    linear = _drawn("image_bake.frag", image.shape[1], image.shape[0], textures)
    GL.glDeleteTextures(1, [given])
    return linear


def _drawn(
    fragment: str, width: int, height: int, textures: dict[str, tuple[int, int]], switches: tuple[str, ...] = ()
) -> int:
    """A half-float texture with mipmaps, drawn once."""
    drawn = buffers.empty_texture(width, height, GL.GL_RGBA16F, smooth=True)
    framebuffer = buffers.framebuffer_of(drawn)
    GL.glViewport(0, 0, width, height)
    GL.glDisable(GL.GL_DEPTH_TEST)
    GL.glDisable(GL.GL_BLEND)
    empty = GL.glGenVertexArrays(1)
    GL.glBindVertexArray(empty)
    Program("sum.vert", fragment, switches).use(textures)
    GL.glDrawArrays(GL.GL_TRIANGLES, 0, 3)
    Smaller(drawn, width, height, between=False).draw(Program)
    GL.glDeleteFramebuffers(1, [framebuffer])
    return drawn


def _with_gloss(mesh: Mesh) -> Array:
    return np.column_stack([mesh.colours, np.full(len(mesh.colours), mesh.material.gloss)])


def _with_share(light: Array, around: NDArray[np.float32] | None) -> NDArray[np.float32]:
    """Light (n, 3) with the share of it that comes from no lamp: all of it, where that is not told. (n, 4)"""
    share = np.ones(len(light)) if around is None else around
    return np.column_stack([light, share]).astype(np.float32)


def face(one_sided: bool) -> None:
    """Whether what follows is seen from its front alone."""
    (GL.glEnable if one_sided else GL.glDisable)(GL.GL_CULL_FACE)
