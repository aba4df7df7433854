"""The lamps as written: soft panels, hard spots, bare bulbs and the light of the room."""

import math
import re
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo, field_validator

from previz import units
from previz.scene.called import called, plainly
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
    told,
    word,
)
from previz.units import QuantityError, shown

Size: Any = group(PositiveLength, PositiveLength, shape="[width, height]", example="[600 mm, 400 mm]")
Beam: Any = quantity(units.ANGLE, above=0.0, at_most=math.radians(170))


HeldBy: Any = word("floor", "table", "arm", "above", "nothing", what="what a lamp or card is held by")


class Diffuser(Part):
    """A diffusion frame in front of a lamp."""

    size: Size = told("across and up")
    distance: PositiveLength = told("from the lamp", like="300 mm")
    loss: Stops = told("how much light it takes", 1.0)


#: A bulb so wide at most is no lamp of the household: those with an E10 cap, the largest that models have, are 11 mm
#: wide and run at a few volts (from memory). [m]
TINY_BULB = 0.012

_MAINS = "fed from the mains without a flicker-free driver"


def _fed(found: object) -> object:
    """Whether it is; the frequency of the mains is the same for all lamps, and so the scene's own to say."""
    text = str(found).strip() if isinstance(found, str | int) and not isinstance(found, bool) else ""
    if frequency := re.fullmatch(r"(50|60)(?:\s*[hH][zZ])?", text):
        raise QuantityError(
            f"{shown(found)} is the same for every lamp: write mains: {frequency[1]} Hz once, at the top of the file "
            "beside scale; here write mains: true for a lamp that the mains feed without a flicker-free driver, else "
            "false"
        )
    return found


MainsFed: Any = Annotated[Flag, BeforeValidator(_fed)]


def _glass(found: object) -> object:
    """How wide it is; a household bulb is sold by its cap, which says nothing of that."""
    if isinstance(found, str) and re.fullmatch(
        r"(?:[eE]|[bB]|[gG][uUxX]?)-?[0-9]{1,2}(?:\.[0-9])?[a-zA-Z]?", found.strip()
    ):
        raise QuantityError(
            f"{shown(found)} is its cap; write how wide its glass is, like 60 mm. Of one with a reflector write spot: "
            "and its beam"
        )
    if isinstance(found, str) and re.fullmatch(r"[0-9.]+ ?(?:[wW]|watts?|k?lm|lumens?)", found.strip()):
        raise QuantityError(
            f"{shown(found)} says nothing of its size; write how wide its glass is, like 60 mm, and the lumens from "
            "its box as output: 806 lm"
        )
    return found


Glass: Any = Annotated[PositiveLength, BeforeValidator(_glass)]


class _Emitter(Part):
    """Keys of every lamp: a soft panel, a spot or a bare bulb."""

    id: Identity = told("its name", like="key")
    at: Point3 = told("where its middle is", like="[300, -100, 900]")
    output: LampOutput = told("how much light it gives")
    colour: Light = told("of its light", LightColour())
    diffusion: Stops = told("lost in a gel or sheet on the lamp itself", 0.0)
    mains: MainsFed | None = told(_MAINS, None, unless="not said: check asks")
    held: HeldBy | None = told(
        "what it stands or hangs on, drawn where the camera sees it: a stand on the floor or the table, an arm from "
        "beside the table, a pole from above (a boom, the ceiling), nothing that could be seen",
        None,
        unless="floor beside the table, above over it; nothing of one that is fixed",
    )
    fixed: Flag = told(
        "it stays where it is, as a window does: no advice moves it, it has no stand, and a shot without it has it "
        "covered",
        False,
    )
    practical: Flag = told("it is to be seen in the picture, as a lamp of the set; check leaves it there", False)


def _faced(found: object) -> object:
    """A lamp lights one place; what is meant by a vehicle or a piece is told, for it may go elsewhere."""
    if isinstance(found, str):
        raise QuantityError(
            f"{shown(found)} is not a point, and a lamp does not follow: write the point that it is to light best, "
            "like [700, 330, 0]. Of a vehicle that is where the picture's middle has it: what the shot is aimed at, "
            "where that is a point; of a piece, its at"
        )
    return found


Faced: Any = Annotated[Point3, BeforeValidator(_faced)]


class _Aimed(Part):
    """Where a lamp faces that shines one way."""

    aim: Faced = told("the point it faces", like="[700, 330, 0]")

    @field_validator("aim")
    @classmethod
    def _aimed(cls, aim: tuple[float, ...], info: ValidationInfo) -> tuple[float, ...]:
        if aim == info.data.get("at"):
            raise ValueError("is the same point as at, so the lamp points nowhere; move one of them")
        return aim


class Panel(_Aimed, _Emitter):
    """A soft panel, an even Lambertian area."""

    panel: Size = told("its lit area")


class Spot(_Aimed, _Emitter):
    """A hard lamp with a round beam."""

    spot: Beam = told("its beam, from edge to edge", like="25 deg")
    size: PositiveLength = told("of its source, across", 0.02, like="20 mm")
    diffuser: Diffuser | None = told(
        "a frame in front of it", None, unless="none", like="{size: [300 mm, 300 mm], distance: 200 mm}"
    )


class Bulb(_Emitter):
    """A bare bulb, which shines alike all round: one of the household in a plain holder.

    Its lumens are on its box; what a shade would keep from it is not reckoned. One of a model's own, no wider than
    12 mm and held: nothing, has no holder; many on one wire are piece: garland.
    """

    bulb: Glass = told("its glass, across", like="60 mm")

    @property
    def tiny(self) -> bool:
        """Whether it is one of a model's own, on wires as thin as hair: small, and held by nothing that shows."""
        return bool(self.held == "nothing" and self.bulb <= TINY_BULB)


class Ambient(Part):
    """Even light from all round above: a white room, an open sky."""

    id: Identity = told("its name", like="room")
    ambient: Illuminance = told("on an open table top")
    colour: Light = told("of its light", LightColour())
    mains: MainsFed | None = told(_MAINS, None, unless="not said: check asks")


#: Every kind of lamp by the key that it is known by.
LAMPS = {"panel": Panel, "spot": Spot, "bulb": Bulb, "ambient": Ambient}


_KINDS = "needs panel: [width, height], spot: 25 deg, bulb: 60 mm or ambient: 20 lx, the kind of light it is"

#: How each kind is written for which a file has another word; the lumens are put in.
_WRITTEN = {
    "panel": "a soft light is panel: [300 mm, 200 mm], its area, with output: {lumens} and aim:, the point it faces",
    "spot": "a lamp with a beam is spot: 25 deg, how wide, with output: {lumens} and aim:, the point it faces",
    "bulb": "a lamp without a reflector is bulb: 60 mm, how wide its glass is, with output: {lumens}, as its box says",
    "ambient": "light from all round is ambient: 100 lx, as a meter on the table reads it",
}

_WINDOW = (
    "daylight through a window is panel: [1000 mm, 1200 mm], its glass, at: its middle, aim: the set, colour: 6500 K "
    "and output: 1000 lx at 1 m, as a light meter reads it there; previz guide lamps says how to find it"
)

_SUN = (
    "sunlight is a lamp as well. A low sun is small, hard and far: spot: 34 deg with size: 60 mm, at: a place off the "
    "table's corner on the camera's side, a third as high as it is far off, aim: its middle, colour: 3000 K and "
    "output: what its box says, some 1000 lm for a table of 1.4 m; previz guide lamps has it in full. A clouded sky is "
    "ambient: 200 lx"
)


def light_kind(found: Any) -> str:
    """Which entry of `LAMPS` an entry of `lights` is. Raises QuantityError."""
    if isinstance(found, Part):
        return next((name for name, kind in LAMPS.items() if isinstance(found, kind)), "panel")
    if not isinstance(found, dict):
        raise QuantityError(f"{shown(found)} is not a light; write it like {{id: room, ambient: 20 lx}}")
    kinds = [name for name in LAMPS if name in found]
    if len(kinds) == 1:
        return kinds[0]
    if kinds:
        raise QuantityError(f"has {' and '.join(kinds)}; a light is one of them")
    if "piece" in found:
        raise QuantityError(
            f"piece: {shown(found['piece'])} is no lamp; what stands on the set, cards that throw light back (bounce) "
            "or keep it off (flag) too, is written under dressing: move this line there"
        )
    for key in found:
        if plainly(key) in ("window", "skylight"):
            raise QuantityError(f"{_KINDS}: for {shown(key)}, {_WINDOW}")
        if plainly(key) in ("sun", "sunlight", "sunshine"):
            raise QuantityError(f"{_KINDS}: for {shown(key)}, {_SUN}")
        if meant := called(key, "a kind of lamp"):
            raise QuantityError(f"{_KINDS}: for {shown(key)}, {_as_written(found, meant)}")
        if slip := meant_by(key, LAMPS):
            raise QuantityError(f"{_KINDS} (did you mean {slip} by {shown(key)}?)")
    raise QuantityError(f"{_KINDS}: {_as_written(found, ('bulb', 'spot'))}")


def _as_written(found: dict[Any, Any], kinds: tuple[str, ...]) -> str:
    """How lamps of some kinds are written, with the lumens of one that says them."""
    texts = [each for each in found.values() if isinstance(each, str)]
    lumens = next((shown(each, 20) for each in texts if units.unit_of(units.FLUX, each)), "")
    ways = "; ".join(_WRITTEN[kind].format(lumens=lumens or "its lumens") for kind in kinds)
    drawn = [] if lumens else [each for each in texts if re.search(r"\d\s*[wW](?:atts?)?\b", each)]
    return f"{ways}. {_of_watts(drawn[0])}" if drawn else ways


def _of_watts(text: str) -> str:
    """What to say of watts where lumens are asked for."""
    try:
        units.parse(units.FLUX, text)
    except QuantityError as error:
        return str(error)
    return ""


AnyLight: Any = by_kind(light_kind, LAMPS)
