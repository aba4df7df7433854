"""The set as written: the table, what covers it, the road over it and the backdrop behind it."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import chain
from typing import Annotated, Any

from pydantic import BeforeValidator, ValidationInfo, WithJsonSchema, field_validator

from previz.scene.called import TAKEN, called, plainly
from previz.scene.fields import (
    YES_OR_NO,
    FileName,
    FileUnits,
    Flag,
    Form,
    Length,
    LevelPoint,
    NonNegativeLength,
    Paint,
    Part,
    Point2,
    PositiveLength,
    Seed,
    Share,
    Surface,
    also,
    enclosing,
    forms_in,
    full_size,
    group,
    in_order,
    leading_on,
    listed,
    series,
    short,
    told,
    whole,
    word,
)
from previz.scene.real_sizes import KERB_HEIGHT, KERB_WIDTH, PAVEMENT_SLAB, PAVEMENT_WIDTH, PUDDLE_SIZES
from previz.units import LENGTH, QuantityError, shown, text_of, two_sides


def _not_its_lines(found: object) -> object:
    """How a road ends at its sides; lines along them are another key, a letter away."""
    if isinstance(found, bool) or (isinstance(found, str) and plainly(found) in _LINES):
        lines = "false" if found is False else "true"
        raise QuantityError(
            f"{shown(found)} is not a road's edge; did you mean edges: {lines}, the line along each edge? edge says "
            "how the road ends at its sides, ragged or ruled"
        )
    return found


_LINES = ("line", "lines", "white", "yellow", "solid", "painted", "yes", "both")


def _lines_along_it(found: object) -> object:
    """Whether there are lines along a road; how it ends at its sides is another key."""
    meant = found if found in ("ragged", "ruled") else next(iter(called(found, "a road's edge")), None)
    if isinstance(found, str) and meant:
        raise QuantityError(
            f"{shown(found)} is not a yes or no; did you mean edge: {meant}, how the road ends at its sides? edges is "
            "the line along each of them, true or false"
        )
    return found


#: Surfaces of a road that nobody paints lines on, unless its maker says so. Common practice, no source.
UNPAVED = ("gravel", "snow", "grass", "sand", "earth", "mud")

Points: Any = series(LevelPoint, at_least=2, what="points", example="[[-50, 330], [1450, 300]]")
Lanes: Any = whole(1, 6)
Markings: Any = word("dashed", "solid", "none", what="a kind of marking")
LayerShape: Any = word("hills", "mountains", "trees", "skyline", "flat", "cranes", what="a layer's shape")
Edge: Any = Annotated[word("ragged", "ruled", what="a road's edge"), BeforeValidator(_not_its_lines)]
EdgeLines: Any = Annotated[Flag, BeforeValidator(_lines_along_it)]
Sides: Any = word("both", "left", "right", what="a side of the road")
Sizes: Any = group(PositiveLength, PositiveLength, shape="[smallest, largest]", example="[12 mm, 60 mm]")
PuddleCount: Any = whole(0, 200)
Corners: Any = series(Point2, at_least=2, what="corners", example="[[0, 60], [1400, 400]]")
Side: Any = word("back", "left", "right", "front", what="a side of the table")
Sky: Any = word("clear", "overcast", "dusk", "dawn", "night", "snow", what="a sky")


#: What lies opposite each side of the table.
OPPOSITE = {"back": "front", "front": "back", "left": "right", "right": "left"}


class Table(Part):
    """The table top."""

    width: PositiveLength = told("along x, from left to right", like="1400 mm")
    depth: PositiveLength = told("along y, away from you", like="700 mm")
    height: NonNegativeLength = told("of the top above the floor", 0.74)


def table_keys(found: Any) -> Any:
    """What is written of the table, as its keys: so wide by so deep is its width and depth."""
    sides = two_sides(found) if isinstance(found, str) else None
    return {"width": sides[0], "depth": sides[1]} if sides else found


#: `1.6 m x 0.8 m`.
_SIDES_OF_A_TABLE = Annotated[str, WithJsonSchema({"type": "string", "pattern": r"\d.*(?:[x×]|\bby\b)\s*\d"})]
AnyTable: Any = short(
    table_keys, Table, _SIDES_OF_A_TABLE, form=Form("width x depth, or its keys", "{width: 1400 mm, depth: 700 mm}")
)


def _all_wet(found: object) -> object:
    """Wet or not, as a share."""
    return float(found) if isinstance(found, bool) else found


Wet: Any = Annotated[
    also(_all_wet, Share, {"enum": [True, False, *chain(*TAKEN[YES_OR_NO].values())]}),
    *(replace(form, what=YES_OR_NO) for form in forms_in(Share)),
]


class Puddles(Part):
    """Water that stands on level ground, or what a maker takes for it: gloss varnish or gel.

    Each mirrors what is round it. Pavements and banks stay dry.
    """

    count: PuddleCount = told("how many; 0 where a shot is to have none", like="8")
    size: Sizes | None = told(
        "how far across", None, unless=" to ".join(full_size(size) for size in PUDDLE_SIZES), like="[12 mm, 60 mm]"
    )
    over: Corners | None = told(
        "two opposite corners of a rectangle, or three and more of a polygon", None, unless="all over the table"
    )
    seed: Seed = told("another number, other places and outlines", 0)

    _has_area = field_validator("over")(enclosing)
    _sizes_in_order = field_validator("size")(in_order)


class Ground(Part):
    """What covers the table: a surface, or an image laid in tiles."""

    surface: Surface = told("what it is made of", "plain")
    colour: Paint | None = told("its colour", None, unless="the surface's own")
    image: FileName | None = told("a picture of it, instead", None, unless="none")
    tile: PositiveLength | None = told("how wide one image lies", None, unless="once over the table", like="300 mm")
    relief: NonNegativeLength = told("height of banks off the road", 0.0)
    tracks: Flag = told("tyre tracks pressed in along each vehicle's way, on ground that is soft", False)
    puddles: Puddles | None = told("water that stands on it, and on the road", None, unless="none", like="{count: 8}")
    wet: Wet = told(
        "wet all over, the road too, as after rain: darker, and it gleams; true is 100 %; water that stands is puddles",
        0.0,
        like="true",
    )
    seed: Seed = told("another number, another pattern", 0)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """A tile is a tile of an image."""
        if "tile" in given and "image" not in given:
            yield "tile is the width of one image; give an image too, or take tile out"


def _sided(found: object) -> object:
    return {"sides": found} if isinstance(found, str) else found


def _sides_of(strip: Any) -> str:
    return str(strip.sides)


class Kerb(Part):
    """A row of kerb stones along the road's edges: `both`, `left` or `right` of its way, or these keys."""

    sides: Sides = told("along which edges", "both")
    height: PositiveLength | None = told("above the road", None, unless=full_size(KERB_HEIGHT), like="2.5 mm")
    width: PositiveLength | None = told("of its stones", None, unless=full_size(KERB_WIDTH), like="2.5 mm")
    colour: Paint = told("of its stones", (0.30, 0.295, 0.28))


class Pavement(Part):
    """Slabs behind a kerb, as high as that: `both`, `left` or `right` of the road, or these keys. What stands on it
    stands at its height."""

    sides: Sides = told("along which edges", "both")
    width: PositiveLength | None = told("kerb included", None, unless=full_size(PAVEMENT_WIDTH), like="40 mm")
    slab: PositiveLength | None = told("side of a slab", None, unless=full_size(PAVEMENT_SLAB), like="12 mm")
    colour: Paint = told("of its slabs", (0.27, 0.265, 0.25))


AnyKerb: Any = short(_sided, Kerb, Sides, form=Form("side, or its keys", "both", write=_sides_of))
AnyPavement: Any = short(_sided, Pavement, Sides, form=Form("side, or its keys", "both", write=_sides_of))


class Road(Part):
    """A road along a smooth curve, level; it may run off the table. A pavement has a kerb, written or not."""

    centre: Points = told("along its middle, two points or more")
    lane: PositiveLength = told("width of one lane", like="3.5 m full size")
    lanes: Lanes = told("how many side by side", 2)
    markings: Markings | None = told("between lanes", None, unless=f"dashed; none on {listed(UNPAVED)}")
    edges: EdgeLines | None = told("a line along each edge", None, unless=f"true; false on {listed(UNPAVED)}")
    edge: Edge | None = told("how it ends at its sides", None, unless="ragged, but on hard ground")
    kerb: AnyKerb | None = told("stones along its edges", None, unless="none, or along its pavement")
    pavement: AnyPavement | None = told("slabs behind the kerb", None, unless="none")
    surface: Surface = told("what it is made of", "asphalt")
    colour: Paint | None = told("its colour", None, unless="the surface's own")
    paint: Paint = told("the colour of its lines", (0.62, 0.62, 0.58))

    _leads_on = field_validator("centre")(leading_on)

    @property
    def between_lanes(self) -> str:
        """Its markings: as written, else as a road of that surface has them."""
        return self.markings or ("none" if self.surface in UNPAVED else "dashed")

    @property
    def edge_lines(self) -> bool:
        """Whether it has a line along each edge: as written, else as a road of that surface has them."""
        return self.surface not in UNPAVED if self.edges is None else self.edges


class Layer(Part):
    """One painted layer of the backdrop, far ones first: a ridge or skyline."""

    shape: LayerShape = told("what it shows")
    height: PositiveLength = told("of its top above the table", like="120 mm")
    colour: Paint = told("that it is painted in, but for its haze")
    haze: Share = told("how much of the sky's colour lies over its own, more at its foot", 0.0, like="30 %")
    roughness: Share = told("of its outline", 0.5, like="30 %")
    lit: Share = told("of a skyline's windows, how many are lit", 0.0, like="25 %")
    snow: Share | None = told(
        "of mountains, about how far down from their tops snow lies",
        None,
        unless="half way where the set's ground is snow, else none",
        like="40 %",
    )
    seed: Seed = told("another number, another outline", 0)

    @field_validator("snow")
    @classmethod
    def _on_mountains(cls, snow: float | None, info: ValidationInfo) -> float | None:
        if snow and info.data.get("shape") not in (None, "mountains"):
            raise ValueError(f"is painted on mountains alone, not on {info.data['shape']}; take snow out")
        return snow


Layers: Any = series(Layer, what="layers", example='[{shape: hills, height: 60 mm, colour: "#334455"}]')


class Painting(Part):
    """What is painted on the backdrop."""

    sky: Sky = told("the sky behind all", "overcast")
    horizon: Length = told("its height above the table", 0.0, like="70 mm")
    layers: Layers = told("in front of the sky", ())
    seed: Seed = told("another number, another sky", 0)


class Join(Part):
    """How ground and backdrop meet: `straight`, or `cove 80 mm`, or this key."""

    cove: NonNegativeLength = told("the radius of the bend", 0.0, like="80 mm")


def _join(found: object) -> object:
    if found == "straight":
        return {}
    if isinstance(found, str) and found.startswith("cove "):
        return {"cove": found.removeprefix("cove ")}
    if isinstance(found, dict | Join):
        return found
    raise QuantityError(f"{shown(found)} is not a join; write straight, or cove and its radius like cove 80 mm")


def _join_text(join: Join) -> str:
    return f"cove {text_of(LENGTH, join.cove)}" if join.cove else "straight"


_STRAIGHT_OR_COVE = Annotated[str, WithJsonSchema({"type": "string", "pattern": "^(straight$|cove )"})]
AnyJoin: Any = short(_join, Join, _STRAIGHT_OR_COVE, form=Form("straight, or cove", "cove 80 mm", write=_join_text))


class Backdrop(Part):
    """An upright sheet along one side of the set, middle on the middle of that side. One of painting, image or colour
    is on it."""

    side: Side = told("of the table, along which it stands", "back")
    distance: PositiveLength = told("from the opposite edge of the table; may be off the table", like="690 mm")
    height: PositiveLength = told("above the table", like="500 mm")
    width: PositiveLength | None = told("from end to end", None, unless="that of its side", like="1400 mm")
    join: AnyJoin = told("how it meets the ground", Join())
    painting: Painting | None = told("what is painted on it", None, unless="nothing", like="{sky: dusk}")
    image: FileName | None = told("a picture on it", None, unless="none")
    colour: Paint | None = told("one colour", None, unless="none")

    exactly_one = ((("painting", "image", "colour"), "what is seen on the backdrop"),)

    @field_validator("join")
    @classmethod
    def _bends_within_it(cls, join: Join, info: ValidationInfo) -> Join:
        height, distance, told = info.data.get("height"), info.data.get("distance"), FileUnits.of(info).told
        if height is not None and distance is not None and (join.cove >= height or join.cove > distance):
            raise ValueError(
                f"a cove of {told(join.cove)} does not fit a backdrop {told(height)} high at a "
                f"distance of {told(distance)}; make the cove smaller than both, or write join: straight"
            )
        return join

    @property
    def opposite(self) -> str:
        """The side of the table from whose edge its distance is measured."""
        return OPPOSITE[self.side]


class Set(Part):
    """The table and what it becomes: ground, road and backdrop."""

    table: AnyTable = told("the table top; or its sides alone, 1.6 m x 0.8 m", like="{width: 1400 mm, depth: 700 mm}")
    ground: Ground = told("what covers it", Ground(), like="{surface: concrete}")
    road: Road | None = told(
        "over the ground", None, unless="none", like="{lane: 70 mm, centre: [[0, 300], [1400, 300]]}"
    )
    backdrop: Backdrop | None = told(
        "behind the set", None, unless="none", like="{distance: 690, height: 500, colour: grey}"
    )
