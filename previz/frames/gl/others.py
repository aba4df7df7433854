"""The vehicles beside the subject on the graphics side: each drawn as the subject is, their shadows on the ground in
one stack of pictures."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from OpenGL import GL

from previz.frames.gl import buffers
from previz.frames.gl.chunks import Eyes
from previz.frames.gl.states import ViewState
from previz.frames.gl.surfaces import Looks
from previz.frames.gl.things import Vehicle, lamp_discs
from previz.frames.light import Light
from previz.frames.mirror import MAP_SIDE, MIRROR_WIDTHS
from previz.stage import OtherVehicle

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Other:
    """One of them.

    Parameters
    ----------
    mirror : int
        Texture of what it mirrors.
    shadow_extent : (4,) float
        Of the ground's grid of its shadow and beam: rear, front, right, left, in its frame. [m]
    """

    vehicle: Vehicle
    mirror: int
    shadow_extent: tuple[float, float, float, float]
    lamps: tuple[Any, ...]


class Others:
    """All of them; dark until they are lit."""

    def __init__(self, built: Sequence[OtherVehicle], looks: Looks) -> None:
        self.each = [
            Other(
                Vehicle(each.vehicle, looks),
                buffers.solid_texture(np.zeros((len(MIRROR_WIDTHS), MAP_SIDE, MAP_SIDE, 3))),
                each.shadow_extent,
                each.vehicle.lamps,
            )
            for each in built
        ]
        #: The lamps of each as discs; none before there is light, or where none is lit.
        self.lamps: list[buffers.Triangles | None] = [None] * len(self.each)
        self.shadows = self.beams = 0
        self._size = (0, 0)

    def __len__(self) -> int:
        return len(self.each)

    def light(self, usual: Sequence[Light], exposure: Array) -> None:
        """Once; shadows and beams have the shape of the usual light's."""
        if not self.each:
            return
        self._exposure = exposure.astype(np.float32)
        self._size = tuple(max(light.shadow.shape[side] for light in usual) for side in (0, 1))
        self.shadows = buffers.stack_of_half_floats(*self._size[::-1], len(usual))
        self._beaming = [light.beam is not None for light in usual]
        if any(self._beaming):
            self.beams = buffers.stack_of_half_floats(*self._size[::-1], len(usual))
        for other in self.each:
            other.vehicle.expose(exposure)
        self.lamps = [lamp_discs(other.lamps, exposure) for other in self.each]

    def fill(self, lights: Sequence[Light]) -> None:
        """The light of this frame on each, around it on the ground, and in its paint."""
        for layer, (other, light) in enumerate(zip(self.each, lights, strict=True)):
            other.vehicle.fill(light)
            buffers.refill(other.mirror, light.mirror * self._exposure)
            buffers.refill_layer(self.shadows, layer, _filled(light.shadow, self._size, 1.0))
            if self.beams:
                beam = light.beam * self._exposure if light.beam is not None else np.zeros_like(light.shadow)
                buffers.refill_layer(self.beams, layer, _filled(beam, self._size, 0.0))
        self._shares = [(light.shadow.shape[1], light.shadow.shape[0]) for light in lights]

    def choose(self, views: Sequence[ViewState], rim: float) -> None:
        """Draw from now on what these views may see of each."""
        for number, other in enumerate(self.each):
            own = [
                np.linalg.solve(view.others[number].world_from_vehicle, np.append(view.camera.position, 1.0))
                for view in views
            ]
            other.vehicle.choose(Eyes.around(np.stack(own)[:, :3], rim))

    def on_ground(self, views: Sequence[ViewState]) -> tuple[tuple[str, ...], dict[str, Any], dict[str, Any]]:
        """Switches, values and textures by which the ground shows their shadows and beams in some views."""
        if not self.each:
            return (), {}, {}
        switches: tuple[str, ...] = (f"OTHERS {len(self)}",)
        textures = {"other_shadows": (GL.GL_TEXTURE_2D_ARRAY, self.shadows)}
        if self.beams:
            switches += ("OTHER_BEAMS",)
            textures["other_beams"] = (GL.GL_TEXTURE_2D_ARRAY, self.beams)
        rows, columns = self._size
        places = [
            (x0, y1, 1 / (x1 - x0), 1 / (y1 - y0)) for x0, x1, y0, y1 in (each.shadow_extent for each in self.each)
        ]
        shares = [(across / columns, down / rows, 0.0, 0.0) for across, down in self._shares]
        ways = [_level(placed.world_from_ground) for view in views for placed in view.others]
        found = {"other_ways": ways, "other_places": places, "other_shares": shares}
        return switches, {name: np.array(value)[:, None, :] for name, value in found.items()}, textures


def _level(world_from_ground: Array) -> tuple[float, float, float, float]:
    """Cosine and sine of the heading, and the place, of something on the level."""
    return (*world_from_ground[:2, 0].tolist(), *world_from_ground[:2, 3].tolist())


def _filled(image: NDArray[np.float32], size: tuple[int, ...], rest: float) -> NDArray[np.float32]:
    """A picture (h, w, 3) in the corner of a larger one."""
    whole = np.full((*size, 3), rest, np.float32)
    whole[: image.shape[0], : image.shape[1]] = image
    return whole
