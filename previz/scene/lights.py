"""The lamps as written: soft panels, hard spots and the light of the room."""

import math
from typing import Any

from pydantic import ValidationInfo, field_validator

from previz import units
from previz.scene.fields import (
    Flag,
    Identity,
    Illuminance,
    LampOutput,
    Light,
    LightColour,
    Part,
    Point3,
    PositiveLength,
    Stops,
    by_kind,
    group,
    meant_by,
    quantity,
)
from previz.units import QuantityError, shown

Size: Any = group(PositiveLength, PositiveLength, shape="[width, height]")
Beam: Any = quantity(units.ANGLE, above=0.0, at_most=math.radians(170))


class Diffuser(Part):
    """A diffusion frame in front of a lamp. Keys: `size`, `distance` from the lamp, `loss` of light [stops] (1)."""

    size: Size
    distance: PositiveLength
    loss: Stops = 1.0


class _Emitter(Part):
    id: Identity
    at: Point3
    aim: Point3
    output: LampOutput
    colour: Light = LightColour()
    diffusion: Stops = 0.0
    mains: Flag | None = None

    @field_validator("aim")
    @classmethod
    def _aimed(cls, aim: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        if aim == info.data.get("at"):
            raise ValueError("is the same point as at, so the lamp points nowhere; move one of them")
        return aim


class Panel(_Emitter):
    """A soft panel, an even Lambertian area.

    Keys: `id`; `panel`: [width, height]; `at` (its middle); `aim` (the point it faces); `output`; `colour` (5600 K);
    `diffusion` (loss of a gel or sheet on the lamp itself [stops], 0); `mains` (fed from the mains without a
    flicker-free driver; where no lamp says true or false, `check` asks).
    """

    panel: Size


class Spot(_Emitter):
    """A hard lamp with a round beam.

    Keys: those of a panel, with `spot` (beam angle, edge to edge), `size` (of its source across, 20 mm) and
    `diffuser` (a diffusion frame in front of it, none) instead of `panel`.
    """

    spot: Beam
    size: PositiveLength = 0.02
    diffuser: Diffuser | None = None


class Ambient(Part):
    """Even light from all round above: a white room, an open sky.

    Keys: `id`, `ambient` (illuminance on an open table top), `colour` (5600 K), `mains` (room lights fed from the mains
    without a flicker-free driver; as of a panel).
    """

    id: Identity
    ambient: Illuminance
    colour: Light = LightColour()
    mains: Flag | None = None


_LIGHTS = {"panel": Panel, "spot": Spot, "ambient": Ambient}


def _light_kind(found: Any) -> str:
    if isinstance(found, Part):
        return next((name for name, kind in _LIGHTS.items() if isinstance(found, kind)), "panel")
    if not isinstance(found, dict):
        raise QuantityError(f"{shown(found)} is not a light; write it like {{id: room, ambient: 20 lx}}")
    kinds = [name for name in _LIGHTS if name in found]
    if len(kinds) == 1:
        return kinds[0]
    if kinds:
        raise QuantityError(f"has {' and '.join(kinds)}; a light is one of them")
    slip = next(
        (f" (did you mean {meant_by(key, _LIGHTS)} by {shown(key)}?)" for key in found if meant_by(key, _LIGHTS)), ""
    )
    raise QuantityError(f"needs panel: [width, height], spot: 25 deg or ambient: 20 lx, the kind of light it is{slip}")


AnyLight: Any = by_kind(_light_kind, _LIGHTS)
