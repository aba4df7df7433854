"""A stage as who draws it gets it, without its light and with it: plain arrays, for what draws bakes nothing."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from previz.layout import Lamp
from previz.mesh import Mesh
from previz.stage.model import VehicleModel

Floats = NDArray[np.float32]


@dataclass(frozen=True)
class LitMesh:
    """A mesh in the world frame with the irradiance on every corner, (n, 3) float32 RGB [lx].

    `around` is the share of it that comes from no lamp (n,), where the mesh's surface is `shaded`.
    """

    mesh: Mesh
    irradiance: Floats
    around: Floats | None = None


@dataclass(frozen=True)
class LitGround:
    """The table top.

    Parameters
    ----------
    mesh : Mesh
        Its uv (0, 0) is the far left corner of the table.
    image : (h, w, 3) uint8
        sRGB albedo over the table.
    light : (h2, w2, 3) float32
        Irradiance over the table, row 0 at its far edge, texel middles at half numbers. RGB [lx]
    film : (h, w) uint8 or None
        How much of each texel of the image gleams like water, 0..255.
    """

    mesh: Mesh
    image: NDArray[np.uint8]
    light: Floats
    film: NDArray[np.uint8] | None = None


class Lit(Protocol):
    """Of a lit stage, what is drawn."""

    @property
    def still(self) -> tuple[LitMesh, ...]: ...  # noqa: D102
    @property
    def ground(self) -> LitGround: ...  # noqa: D102
    @property
    def lamps(self) -> tuple[Lamp, ...]: ...  # noqa: D102
    @property
    def vehicle(self) -> VehicleModel: ...  # noqa: D102
    @property
    def shadow_extent(self) -> tuple[float, float, float, float]: ...  # noqa: D102
    @property
    def others(self) -> "Sequence[OtherLit]": ...  # noqa: D102


class OtherLit(Protocol):
    """Of a vehicle beside the subject, what is drawn."""

    @property
    def built(self) -> "OtherVehicle": ...  # noqa: D102


@dataclass(frozen=True)
class OtherVehicle:
    """A vehicle beside the subject, before any light; each as `Stage` has it of the subject."""

    vehicle: VehicleModel
    shadow_extent: tuple[float, float, float, float]


@dataclass(frozen=True)
class Unlit:
    """Of a stage, what is drawn, before any light: enough to get ready to draw it.

    Parameters
    ----------
    still : tuple of Mesh
        In the order of `Stage.still`.
    ground : Mesh
    painting : (h, w, 3) uint8
        As `LitGround.image`.
    lamps, vehicle, shadow_extent
        As those of `Stage`.
    others : tuple of OtherVehicle
    film : (h, w) uint8 or None
        As `LitGround.film`.
    """

    still: tuple[Mesh, ...]
    ground: Mesh
    painting: NDArray[np.uint8]
    lamps: tuple[Lamp, ...]
    vehicle: VehicleModel
    shadow_extent: tuple[float, float, float, float]
    others: tuple[OtherVehicle, ...] = ()
    film: NDArray[np.uint8] | None = None

    @classmethod
    def of(cls, stage: "Lit") -> "Unlit":
        """A stage without its light."""
        return cls(
            still=tuple(lit.mesh for lit in stage.still),
            ground=stage.ground.mesh,
            painting=stage.ground.image,
            lamps=stage.lamps,
            vehicle=stage.vehicle,
            shadow_extent=stage.shadow_extent,
            others=tuple(other.built for other in stage.others),
            film=stage.ground.film,
        )

    def is_same(self, other: "Unlit") -> bool:
        """Whether it is made of the very same things, not merely of equal ones."""
        ours, theirs = (
            (
                *each.still,
                each.ground,
                each.painting,
                each.film,
                each.lamps,
                each.vehicle,
                each.shadow_extent,
                *each.others,
            )
            for each in (self, other)
        )
        return len(ours) == len(theirs) and all(one is another for one, another in zip(ours, theirs, strict=True))


@dataclass(frozen=True)
class Station:
    """The vehicle's light at one place along its path.

    Parameters
    ----------
    distance : float
        Along the path. [m]
    body : (nb, 3) float32
        Irradiance at every corner of `vehicle.body`'s meshes in order, then of every wheel's `round`, then `turning`
        meshes in order. RGB [lx]. All `turning` corners of a wheel have its face's mean, whatever its turn.
    shadow : (h, w, 3) float32
        Irradiance of the ground with the vehicle over that without it, 0..1, over `Stage.shadow_extent` in the
        vehicle's frame: columns from rear to front (x), row 0 at its left (largest y). 1 at the border.
    surround : (32, 64, 3) float32
        Radiance seen from the vehicle's middle, RGB [cd/m2], lamps included, in world directions: row 0 at the
        zenith; column 0 begins at +x, columns go counter-clockwise seen from above.
    beam : (h, w, 3) float32 or None
        What the vehicle's lamps add to the ground, on the shadow's grid. RGB [lx]
    around : (nb,) float32 or None
        Share of `body` that comes from no lamp, where a surface of the vehicle is `shaded`.
    sheet : (h, w, 3) float32 or None
        As `shadow`, of the ramp that it drives on, seen from above; where any of that is on the grid.
    """

    distance: float
    body: Floats
    shadow: Floats
    surround: Floats
    beam: Floats | None = None
    around: Floats | None = None
    sheet: Floats | None = None
