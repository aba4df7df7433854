"""What can stand on the set: one class a kind of piece, its keys, units and defaults.

Sizes left out are the full-size ones of `real_sizes` brought to the scene's scale, or to the piece's own, when
the stage is built; a size that is given is the size *on the table*. `at` is the middle of the footprint on the ground.
"""

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import ValidationInfo, field_validator

from previz import units
from previz.scene.called import OF_THE_SET, built_of, called, nearest, parts_of_name, plainly, taken_for
from previz.scene.fields import (
    ON_OR_OFF,
    Angle,
    FileName,
    Flag,
    Form,
    Identity,
    Length,
    Light,
    LightColour,
    Luminance,
    Miscalled,
    NodeName,
    NonNegativeLength,
    Paint,
    Part,
    Place,
    Point2,
    Point3,
    PositiveLength,
    Scale,
    Seed,
    Share,
    also,
    by_kind,
    choose_from,
    enclosing,
    full_size,
    group,
    in_order,
    listed,
    on_or_off,
    quantity,
    scale_of_its_own,
    series,
    told,
    whole,
    word,
)
from previz.scene.lights import HeldBy
from previz.scene.real_sizes import (
    BUILDING_DEPTH,
    BUILDING_WIDTH,
    CONTAINER_SIZE,
    FENCE_HEIGHTS,
    FLOOR_HEIGHT,
    GARLAND_BULB,
    GARLAND_LIGHT,
    HEDGE_THICKNESS,
    LAMP_ARM,
    MOST_FLOORS,
    PIECE_HEIGHTS,
    STREET_LIGHT,
    USUAL_FLOORS,
    VEHICLE_SIZES,
    WALL_THICKNESS,
)
from previz.scene.vehicle import Body
from previz.units import QuantityError, shown

#: Reflectance of matt white foam board, and of black card or cloth. Typical, from memory.
WHITE_CARD, BLACK_CARD = (0.85, 0.85, 0.85), (0.03, 0.03, 0.03)

Copies: Any = whole(1, 500)
AlongRoad: Any = word("road", what="something to stand along")
StackHeight: Any = whole(1, 6)
Paints: Any = series(Paint, what="colours", example='["#77342a", "#2a4a77"]')
Bulbs: Any = whole(1, 60)
Floors: Any = whole(1, MOST_FLOORS)
Roof: Any = word("flat", "gable", what="a roof")
FenceStyle: Any = word("rails", "pickets", "guard_rail", what="a style of fence")
SignShape: Any = word("disc", "triangle", "square", "board", what="a sign's shape")
HouseWalls: Any = word("brick", "plaster", "boards", what="a wall of a house")
WallStyle: Any = word("plain", "brick", "stone", what="a style of wall")
TreeStyle: Any = word("foam", "fibre", "brush", what="a style of tree")
HedgeStyle: Any = word("sponge", "clipped", "wild", what="a style of hedge")
Scattered: Any = word(
    "stones", "cones", "conifers", "broadleaves", "bushes", "tufts", "logs", what="something to scatter"
)
#: How scattered things may be made, the usual way first.
SCATTERED_STYLES: dict[str, tuple[str, ...]] = {
    "broadleaves": ("foam", "fibre", "brush"),
    "tufts": ("meadow", "reeds", "flowers"),
}
ScatteredStyle: Any = word(*(style for each in SCATTERED_STYLES.values() for style in each), what="a style")
Corners: Any = series(Point2, at_least=2, what="corners", example="[[0, 600], [1400, 690]]")
Count: Any = whole(1, 20000)
SizeRange: Any = group(PositiveLength, PositiveLength, shape="[smallest, largest]", example="[130 mm, 300 mm]")
UpAxis: Any = word("y", "z", what="an upward axis")
Tilt: Any = quantity(units.ANGLE, at_least=-math.pi / 2, at_most=math.pi / 2)
StreetLight: Any = on_or_off(STREET_LIGHT)
BulbsLight: Any = on_or_off(GARLAND_LIGHT, many="bulbs")
Finish: Any = word("matt", "silver", what="a finish")

# Said of more than one piece.
_HEIGHT, _LENGTH, _COLOUR = "over all", "along x of the piece", "of its paint"
_PIECE = "what kind of piece it is"
A_PIECE = "a kind of piece"
_SNOW = "share of its upper side under snow"


def _windows(found: object) -> object:
    """A share, or none of them; a word that they are lit is refused, for it does not say how many."""
    word = taken_for(found, ON_OR_OFF) or found
    if word == "on":
        raise QuantityError(
            f"{shown(found)} does not say how many of its windows are lit; write a share of them, like 30 %"
        )
    return 0 if word == "off" else found


Windows: Any = also(_windows, Share, {"enum": ["off", "no", False]})


class Standing(Part):
    """Keys that every piece shares: where it stands, how it is turned, how often.

    It stands at a place, or along the road with every, first and offset. Sizes are those on the table.
    """

    id: Identity = told("its name")
    at: Place | None = told("the middle of its footprint", None, unless="give this or along")
    turn: Angle = told("counter-clockwise seen from above; added to the direction of a road it stands along", 0.0)
    copies: Copies = told("how often, each moved on by step", 1)
    step: Point3 | None = told(
        "how far each copy is moved on", None, unless="goes with copies", like="[130, 0, 0]", checked=True
    )
    along: AlongRoad | None = told("it is repeated along the road", None, unless="give this or at")
    every: PositiveLength | None = told(
        "from one along the road to the next", None, unless="goes with along", like="220 mm"
    )
    offset: Length = told("from the road's middle; above 0 is to the left of travel", 0.0, like="90 mm")
    first: Length = told("of the first one, along the road", 0.0, like="130 mm")
    seed: Seed = told("another number, another one of its kind", 0)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """One way to stand."""
        if ("at" in given) == ("along" in given):
            found = "has at and along" if "at" in given else "stands nowhere"
            yield f"{found}; give either at: [x, y], or along: road with every: 220 mm"
        elif "along" in given:
            if "every" not in given:
                yield "along: road also needs every, the distance from one to the next, like every: 220 mm"
            if given & {"copies", "step"}:
                yield "along: road repeats by every; take copies and step out"
        elif given & {"every", "offset", "first"}:
            idle = ", ".join(sorted(given & {"every", "offset", "first"}))
            yield f"{idle} only means something with along: road; take it out, or stand it along the road"
        if "step" in given and not given & {"copies", "along"}:
            yield "step moves copies on; give copies: 3 too, or take step out"

    @field_validator("step")
    @classmethod
    def _copies_apart(cls, step: Any, info: ValidationInfo) -> Any:
        if step is None and info.data.get("copies", 1) > 1:
            raise ValueError("is missing; copies needs it, like step: [130, 0, 0], how far each copy is moved on")
        return step


class _Model(Standing):
    """What every model of a real thing may have: a scale of its own, where another is worth its while far off."""

    scale: Scale | None = scale_of_its_own()

    told_at_scale: ClassVar[tuple[str, ...]] = (
        "length", "width", "depth", "height", "thickness", "arm", "size", "bulb", "sag",
    )  # fmt: skip


class _Long(_Model):
    """What stands along a line."""

    @classmethod
    def said_otherwise(cls, written: Mapping[Any, Any]) -> tuple[tuple[str, ...], str]:
        """A line by its two ends."""
        ends = tuple(key for key in ("from", "start", "to", "end") if key in written)
        return ends, (
            f"is not a key here; {written.get('piece')} is written by its middle, its length and how it is turned, "
            f"{_between(*(written[key] for key in ends))}"
        )

    @classmethod
    def missing_said(cls, name: str, written: Mapping[Any, Any]) -> str | None:
        """Of a line by its two ends, how it is written is said already."""
        return None if cls.said_otherwise(written)[0] else super().missing_said(name, written)

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """Its two ends say where it stands, if not as they ought to."""
        yield from () if cls.said_otherwise(dict.fromkeys(given))[0] else super().key_rules(given)


def _between(*ends: Any) -> str:
    """How what stands between two ends is written, with its figures where both are plain numbers.

    >>> _between([40, 31], [56, 31])
    'which from those ends is at: [48, 31], length: 16, turn: 0 deg'
    """
    plain = [end for end in ends if isinstance(end, list | tuple) and len(end) == 2 and all(map(_is_number, end))]
    if len(plain) != len(ends) or len(ends) != 2:
        return "like at: [480 mm, 310 mm], length: 160 mm, turn: 6 deg"
    (x, y), (to_x, to_y) = plain
    turn = math.degrees(math.atan2(to_y - y, to_x - x))
    return (
        f"which from those ends is at: [{(x + to_x) / 2:.4g}, {(y + to_y) / 2:.4g}], "
        f"length: {math.hypot(to_x - x, to_y - y):.4g}, turn: {turn:.3g} deg"
    )


def _is_number(found: object) -> bool:
    return isinstance(found, int | float) and not isinstance(found, bool)


class Container(_Model):
    """A freight container of 20 ft, full size."""

    piece: Literal["container"] = told(_PIECE)
    length: PositiveLength | None = told(
        "the other sides are in proportion", None, unless=full_size(CONTAINER_SIZE[0]), like="120 mm"
    )
    colour: Paint = told(_COLOUR, (0.35, 0.08, 0.04))
    stack: StackHeight = told("boxes on top of each other", 1)
    colours: Paints = told("of the boxes above and of copies, in turn; none: the one colour", ())


class LampPost(_Model):
    """A street lamp."""

    piece: Annotated[Literal["lamp_post"], Form("word", "lamp_post", what=A_PIECE)] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["lamp_post"]), like="120 mm")
    arm: PositiveLength | None = told("towards +x of the piece", None, unless=full_size(LAMP_ARM), like="30 mm")
    lit: StreetLight = told(
        f"light that its head sends down and out; on: {STREET_LIGHT:g} lm at full size, over the scale squared",
        0.0,
        like="9 lm",
    )
    colour: Paint = told("of the post", (0.10, 0.11, 0.11))
    light: Light = told("of its light", LightColour(kelvin="2700 K"))

    told_at_scale = (*_Model.told_at_scale, "lit")


class Conifer(_Model):
    """A fir or spruce."""

    piece: Literal["conifer"] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["conifer"]), like="240 mm")
    colour: Paint = told(_COLOUR, (0.030, 0.062, 0.030))
    snow: Share = told(_SNOW, 0.0, like="60 %")


class Broadleaf(_Model):
    """A leafy tree."""

    piece: Literal["broadleaf"] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["broadleaf"]), like="200 mm")
    colour: Paint = told("of its leaves", (0.075, 0.120, 0.030))
    bare: Flag = told("winter: branches only", False)
    style: TreeStyle = told(
        "how it is made: clumps of foam on wire, fine fibre teased over wire, or a bottle brush, slender", "foam"
    )

    @field_validator("style")
    @classmethod
    def _not_bare(cls, style: str, info: ValidationInfo) -> str:
        if style != "foam" and info.data.get("bare"):
            raise ValueError(f"{style} covers a tree, and bare: true leaves it uncovered; take one of them out")
        return style


class Bush(_Model):
    """A clump of leaves."""

    piece: Literal["bush"] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["bush"]), like="30 mm")
    colour: Paint = told("of its leaves", (0.070, 0.110, 0.030))


class Hedge(_Long):
    """A hedge. It is as solid as a wall: a vehicle does not brush through."""

    piece: Literal["hedge"] = told(_PIECE)
    length: PositiveLength = told(_LENGTH, like="300 mm")
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["hedge"]), like="32 mm")
    thickness: PositiveLength | None = told(
        "along y of the piece", None, unless=full_size(HEDGE_THICKNESS), like="18 mm"
    )
    style: HedgeStyle = told(
        "how it is made: a strip of open-cell sponge, cut square and strewn with leaf, or grown out", "sponge"
    )
    colour: Paint = told("of its leaves", (0.060, 0.100, 0.028))


class Stone(_Model):
    """One boulder."""

    piece: Literal["stone"] = told(_PIECE)
    size: PositiveLength | None = told(
        "along its longest side", None, unless=full_size(PIECE_HEIGHTS["stone"]), like="20 mm"
    )
    colour: Paint = told("of its face", (0.22, 0.21, 0.19))
    snow: Share = told(_SNOW, 0.0, like="60 %")


class Building(_Model):
    """The front of a building facing -y of the piece (the viewer, unturned), with depth behind it."""

    piece: Literal["building"] = told(_PIECE)
    width: PositiveLength | None = told("along its front", None, unless=full_size(BUILDING_WIDTH), like="180 mm")
    height: PositiveLength | None = told(
        _HEIGHT, None, unless=f"{full_size(FLOOR_HEIGHT)} a floor, and a gable on top", like="200 mm"
    )
    depth: PositiveLength | None = told("behind its front", None, unless=full_size(BUILDING_DEPTH), like="100 mm")
    floors: Floors | None = told("how many", None, unless=f"as many as its height holds, else {USUAL_FLOORS}")
    colour: Paint = told("of its walls", (0.35, 0.22, 0.15))
    walls: HouseWalls | None = told(
        "what they are of, the end walls too",
        None,
        unless="brick where colour has far more red than blue, else plaster",
        like="boards",
    )
    windows: Flag = told("it has windows; without them, and with walls of boards, it is a barn", True, like="false")
    roof: Roof = told("its shape", "flat")
    shop: Flag = told("the ground floor is a shop front", False)
    lit: Windows = told("of its windows, how many are lit", 0.0, like="30 %")
    glow: Luminance = told("of lit windows", 60.0)
    light: Light = told("of lit windows", LightColour(kelvin="2900 K"))
    snow: Share = told("share of the roof under snow", 0.0, like="60 %")

    @field_validator("lit")
    @classmethod
    def _has_windows(cls, lit: float, info: ValidationInfo) -> float:
        if lit and info.data.get("windows") is False:
            raise ValueError("windows: no leaves it none that could be lit; take out one of the two")
        return lit


class Fence(_Long):
    """Posts and rails."""

    piece: Literal["fence"] = told(_PIECE)
    length: PositiveLength = told(_LENGTH, like="600 mm")
    height: PositiveLength | None = told(
        _HEIGHT,
        None,
        unless=f"{full_size(FENCE_HEIGHTS['rails'])}, guard_rail {full_size(FENCE_HEIGHTS['guard_rail'])}",
        like="24 mm",
    )
    style: FenceStyle = told("how it is built", "rails")
    colour: Paint = told("of its wood; a guard_rail is steel unless given", (0.30, 0.26, 0.20))


class Sign(_Model):
    """A blank road sign on a post, facing -x of the piece (the traffic, when turned with the road)."""

    piece: Literal["sign"] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["sign"]), like="56 mm")
    shape: SignShape = told("of its face", "disc")
    colour: Paint = told("of its face", (0.45, 0.02, 0.02))
    glow: Luminance = told("of a lit face", 0.0)


class Cone(_Model):
    """A traffic cone."""

    piece: Literal["cone"] = told(_PIECE)
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["cone"]), like="14 mm")
    colour: Paint = told(_COLOUR, (0.70, 0.13, 0.02))


class Garland(_Model):
    """A string of small bulbs on a wire that sags between its ends, which nothing holds that is drawn.

    The third number of its place is how high its lowest bulb hangs. `lit` gives all of them together; of each bulb a
    lamp is reckoned, which needs no stand and no plug of its own.
    """

    piece: Literal["garland"] = told(_PIECE)
    length: PositiveLength = told("from end to end", like="600 mm")
    bulbs: Bulbs = told("how many", 10)
    bulb: PositiveLength | None = told("the glass of each, across", None, unless=full_size(GARLAND_BULB), like="3 mm")
    sag: NonNegativeLength | None = told(
        "how far its middle hangs below its ends", None, unless="a tenth of its length", like="40 mm"
    )
    lit: BulbsLight = told(
        f"light of all its bulbs together; on: {GARLAND_LIGHT:g} lm of each at full size, over the scale squared",
        0.0,
        like="10 lm",
    )
    colour: Paint = told("of its wire", (0.02, 0.02, 0.02))
    light: Light = told("of its light", LightColour(kelvin="2400 K"))

    told_at_scale = (*_Model.told_at_scale, "lit")

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """It hangs somewhere."""
        yield from super().key_rules(given)
        if "along" in given:
            yield "along: road lays it on the road; hang it at: [700, 330, 90], the third number how high it hangs"

    @field_validator("at")
    @classmethod
    def _hangs(cls, at: Any) -> Any:
        if at is not None and (len(at) < 3 or at[2] <= 0):
            raise ValueError(
                "lies on the ground; give a third number, how high its lowest bulb hangs, like [700, 330, 90]"
            )
        return at


class Wall(_Long):
    """A wall; a kerb along the road is the road's own.

    Raised by the third number of its place, at: [500 mm, 330 mm, 120 mm], it is the deck of a bridge.
    """

    piece: Literal["wall"] = told(_PIECE)
    length: PositiveLength = told(_LENGTH, like="600 mm")
    height: PositiveLength | None = told(_HEIGHT, None, unless=full_size(PIECE_HEIGHTS["wall"]), like="20 mm")
    thickness: PositiveLength | None = told("along y of the piece", None, unless=full_size(WALL_THICKNESS), like="6 mm")
    style: WallStyle = told("how it is built", "plain")
    colour: Paint = told("of its face", (0.30, 0.28, 0.25))
    snow: Share = told("share of its top under snow", 0.0, like="60 %")


class Card(_Model):
    """A flat cut-out standing upright, facing -y of the piece."""

    piece: Literal["card"] = told(_PIECE)
    width: PositiveLength = told(_LENGTH, like="60 mm")
    height: PositiveLength = told(_HEIGHT, like="40 mm")
    colour: Paint = told("where it has no image", (0.2, 0.2, 0.2))
    image: FileName | None = told("a picture; its alpha is the outline", None, unless="none", like="tree.png")


class Parked(_Model):
    """A vehicle that stands there for good, facing +x of the piece (along the road, when turned with it)."""

    piece: Literal["parked"] = told(_PIECE)
    body: Body = told("what it is", "saloon")
    length: PositiveLength | None = told("over all", None, unless="from body and scale", like="90 mm")
    colour: Paint = told(_COLOUR, (0.20, 0.22, 0.24))


class _LightCard(Standing):
    """Keys of a card put up for its light: it faces -y of the piece, and `at` is the middle of its lower edge."""

    width: PositiveLength = told(_LENGTH, like="300 mm")
    height: PositiveLength = told("from its lower edge to its upper one, along the card", like="200 mm")
    tilt: Tilt = told(
        "its top leant back from its face, which then looks up; below 0 it looks down", 0.0, like="20 deg"
    )
    held: HeldBy | None = told(
        "what it stands or hangs on", None, unless="on the table its own edge, else as a lamp would be"
    )


class BounceCard(_LightCard):
    """A bounce card: it gives light back, white or in its colour in every direction, silver much like a mirror."""

    piece: Literal["bounce"] = told(_PIECE)
    colour: Paint = told("of both its sides", WHITE_CARD)
    finish: Finish = told("of both its sides", "matt", like="silver")


class FlagCard(_LightCard):
    """A flag: a black card that keeps light off, and gives hardly any back."""

    piece: Literal["flag"] = told(_PIECE)
    colour: Paint = told("of both its sides", BLACK_CARD)


class Scatter(Part):
    """Many small things over an area, placed by a seed; none lands on the road or in the vehicle's way."""

    id: Identity = told("its name", like="rubble")
    scatter: Scattered = told("what")
    over: Corners = told("two opposite corners of a rectangle, or three and more of a polygon")
    count: Count = told("how many", like="180")
    scale: Scale | None = scale_of_its_own()
    size: SizeRange | None = told("their height on the table", None, unless="the kind's own")
    colour: Paint | None = told("of all of them", None, unless="the kind's own")
    style: ScatteredStyle | None = told(
        "how they are made: broadleaves of foam, fibre or brush; tufts of meadow, reeds or flowers",
        None,
        unless="foam, meadow",
        like="flowers",
    )
    snow: Share = told(_SNOW, 0.0, like="60 %")
    seed: Seed = told("another number, other places", 0)

    told_at_scale = ("size",)

    _has_area = field_validator("over")(enclosing)
    _sizes_in_order = field_validator("size")(in_order)

    @field_validator("style")
    @classmethod
    def _style_of_its_kind(cls, style: str | None, info: ValidationInfo) -> str | None:
        scattered = info.data.get("scatter")
        styles = SCATTERED_STYLES.get(scattered or "", ())
        if style is not None and scattered is not None and style not in styles:
            raise ValueError(
                f"{scattered} are not made of {style}; choose {', '.join(styles[:-1])} or {styles[-1]}"
                if styles
                else f"{scattered} come in one way only; take style out"
            )
        return style


class MeshPiece(_Model):
    """A mesh from a glTF, OBJ, STL or PLY file in the scene's folder, brought to a real length."""

    mesh: FileName = told("the file", like="crane.glb")
    node: NodeName | None = told("of a glTF file this node alone", None, unless="all of it", like="jib")
    glow: Luminance = told("of an emission of 1 in a glTF file", 1.0, like="400 cd/m2")
    length: PositiveLength = told("its largest horizontal extent on the table", like="120 mm")
    up: UpAxis | None = told("the file's upward axis", None, unless="y for glTF, else z", like="z")
    colour: Paint | None = told(_COLOUR, None, unless="the file's own")


#: Every kind of piece by the word after `piece:`.
PIECES: dict[str, type[Standing]] = {
    "container": Container,
    "lamp_post": LampPost,
    "conifer": Conifer,
    "broadleaf": Broadleaf,
    "bush": Bush,
    "hedge": Hedge,
    "stone": Stone,
    "building": Building,
    "fence": Fence,
    "sign": Sign,
    "cone": Cone,
    "garland": Garland,
    "wall": Wall,
    "card": Card,
    "parked": Parked,
    "bounce": BounceCard,
    "flag": FlagCard,
}

#: Every kind of entry of `dressing`.
KINDS: dict[str, type[Part]] = {**PIECES, "scatter": Scatter, "mesh": MeshPiece}


#: Keys of a piece or lamp that say which it is and where it stands, not what it is.
_PLACE = {"id", "at", "aim", "turn", "copies", "step", "along", "every", "offset", "first"}


def apart_from_place(thing: Any) -> dict[str, Any]:
    """What a piece or lamp is, by its keys, wherever it stands."""
    return {key: value for key, value in dict(thing).items() if key not in _PLACE}


_PARKED = "parked"


def _bodies_meant(name: object) -> str:
    """The bodies that a vehicle may be meant to have by what it is called, in words; nothing of no known one."""
    plain = {plainly(body): body for body in VEHICLE_SIZES}
    known = next((plain[part] for part in parts_of_name(name) if part in plain), None)
    return listed([known] if known else called(name, "a body"))


def dressing_kind(found: Any) -> str:
    """Which entry of `KINDS` an entry of `dressing` is. Raises QuantityError."""
    if isinstance(found, Part):
        return next((name for name, kind in KINDS.items() if isinstance(found, kind)), "mesh")
    if not isinstance(found, dict):
        raise QuantityError(
            f"{shown(found)} is not a piece; write it like {{id: shed, piece: building, at: [300, 500]}}"
        )
    ways = [key for key in ("piece", "scatter", "mesh") if key in found]
    if len(ways) != 1:
        found_ways = f"has {' and '.join(ways)}; it" if ways else "it"
        raise QuantityError(f"{found_ways} needs one of piece: building, scatter: stones or mesh: file.glb")
    if ways[0] != "piece":
        return ways[0]
    piece = found["piece"]
    if not isinstance(piece, str) or piece not in PIECES:
        place = OF_THE_SET.get(plainly(piece))
        if place is not None:
            raise QuantityError(f"{shown(piece)} is not a kind of piece; write it as {place}, see previz keys {place}")
        if built := built_of(piece):
            raise QuantityError(f"{shown(piece)} is not a kind of piece; {built}")
        others = "; what is none of these is a model of your own, mesh: file.glb, or a card: with an image"
        wrong = choose_from(piece, PIECES, A_PIECE, always=others)
        meant = called(piece, A_PIECE) or nearest(piece, A_PIECE)[0]
        if meant == (_PARKED,) and (bodies := _bodies_meant(piece)):
            wrong = wrong.replace(f"did you mean {_PARKED}?", f"did you mean {_PARKED}, with body: {bodies}?")
        raise Miscalled(meant[0], wrong) if len(meant) == 1 else QuantityError(wrong)
    return piece


Dressing: Any = by_kind(dressing_kind, KINDS)
