"""What can stand on the set: one class a kind of piece, its keys, units and defaults.

Sizes left out are the full-size ones of `real_sizes` (or those in the comment) brought to the scene's scale when
the stage is built; a size that is given is the size *on the table*. `at` is the middle of the footprint on the ground.
"""

from collections.abc import Iterator
from typing import Any, Literal

from pydantic import Field, ValidationInfo, field_validator

from previz.scene.fields import (
    Angle,
    FileName,
    Flag,
    Flux,
    Identity,
    Length,
    Light,
    LightColour,
    Luminance,
    Paint,
    Part,
    Place,
    Point2,
    Point3,
    PositiveLength,
    Seed,
    Share,
    by_kind,
    choose_from,
    group,
    series,
    whole,
    word,
)
from previz.units import QuantityError, shown

Copies: Any = whole(1, 500)
AlongRoad: Any = word("road", what="something to stand along")
StackHeight: Any = whole(1, 6)
Paints: Any = series(Paint, what="colours", example='["#77342a", "#2a4a77"]')
Floors: Any = whole(1, 40)
Roof: Any = word("flat", "gable", what="a roof")
FenceStyle: Any = word("rails", "pickets", "guard_rail", what="a style of fence")
SignShape: Any = word("disc", "triangle", "square", "board", what="a sign's shape")
WallStyle: Any = word("plain", "brick", "stone", what="a style of wall")
Scattered: Any = word(
    "stones", "cones", "conifers", "broadleaves", "bushes", "tufts", "logs", what="something to scatter"
)
Corners: Any = series(Point2, at_least=2, what="corners", example="[[0, 600], [1400, 690]]")
Count: Any = whole(1, 20000)
SizeRange: Any = group(PositiveLength, PositiveLength, shape="[smallest, largest]")
UpAxis: Any = word("y", "z", what="an upward axis")


class Standing(Part):
    """Keys that every piece shares: where it stands, how it is turned, how often.

    `id`; either `at` ([x, y] or [x, y, z], the middle of its footprint) or `along`: road with `every`, `first`
    (distance along the road of the first one, 0) and `offset` (from the road's middle, positive to the left of
    travel, 0). `turn` (counter-clockwise seen from above, 0). `copies` (1) repeats it, each moved on by `step`
    [x, y, z]. `seed` (0).
    Along a road, `turn` is added to the road's own direction.
    """

    id: Identity
    at: Place | None = None
    turn: Angle = 0.0
    copies: Copies = 1
    step: Point3 | None = Field(None, validate_default=True)
    along: AlongRoad | None = None
    every: PositiveLength | None = None
    offset: Length = 0.0
    first: Length = 0.0
    seed: Seed = 0

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


class Container(Standing):
    """A freight container.

    Keys: `length` (20 ft full size, the other sides in proportion), `colour`, `stack` (boxes on top of each other, 1),
    `colours` of the boxes above and of copies, in turn (the one colour).
    """

    piece: Literal["container"]
    length: PositiveLength | None = None
    colour: Paint = (0.35, 0.08, 0.04)
    stack: StackHeight = 1
    colours: Paints = ()


class LampPost(Standing):
    """A street lamp.

    Keys: `height` (8 m full size), `arm` towards +x of the piece (1.6 m full size), `lit` (light its head sends down
    and out [lm], 0), `light` (its colour, 2700 K), `colour` of the post.
    """

    piece: Literal["lamp_post"]
    height: PositiveLength | None = None
    arm: PositiveLength | None = None
    lit: Flux = 0.0
    colour: Paint = (0.10, 0.11, 0.11)
    light: Light = LightColour(kelvin="2700 K")


class Conifer(Standing):
    """A fir or spruce.

    Keys: `height` (12 m full size), `colour`, `snow` (share of its upper side under snow, 0).
    """

    piece: Literal["conifer"]
    height: PositiveLength | None = None
    colour: Paint = (0.030, 0.062, 0.030)
    snow: Share = 0.0


class Broadleaf(Standing):
    """A leafy tree. Keys: `height` (10 m full size), `colour`, `bare` (winter: branches only, false)."""

    piece: Literal["broadleaf"]
    height: PositiveLength | None = None
    colour: Paint = (0.075, 0.120, 0.030)
    bare: Flag = False


class Bush(Standing):
    """A clump of leaves. Keys: `height` (1.5 m full size), `colour`."""

    piece: Literal["bush"]
    height: PositiveLength | None = None
    colour: Paint = (0.070, 0.110, 0.030)


class Stone(Standing):
    """One boulder. Keys: `size` (1 m full size), `colour`, `snow` (share of its upper side, 0)."""

    piece: Literal["stone"]
    size: PositiveLength | None = None
    colour: Paint = (0.22, 0.21, 0.19)
    snow: Share = 0.0


class Building(Standing):
    """The front of a building facing -y of the piece (the viewer, unturned), with depth behind it.

    Keys: `width` (9 m full size), `height` over all (3.2 m full size a floor, and a gable on top), `depth` (5 m full
    size), `floors` (3), `roof` (flat), `colour`, `shop` (ground floor is a shop front, false), `lit` (share of lit
    windows, 0), `glow` (their luminance, 60 cd/m2), `light` (its colour, 2900 K), `snow` (share of the roof, 0).
    """

    piece: Literal["building"]
    width: PositiveLength | None = None
    height: PositiveLength | None = None
    depth: PositiveLength | None = None
    floors: Floors = 3
    colour: Paint = (0.35, 0.22, 0.15)
    roof: Roof = "flat"
    shop: Flag = False
    lit: Share = 0.0
    glow: Luminance = 60.0
    light: Light = LightColour(kelvin="2900 K")
    snow: Share = 0.0


class Fence(Standing):
    """Posts and rails.

    Keys: `length` along x of the piece, `height` (1.2 m full size, of a guard_rail 0.787 m), `style` (rails, pickets or
    guard_rail; rails), `colour`.
    """

    piece: Literal["fence"]
    length: PositiveLength
    height: PositiveLength | None = None
    style: FenceStyle = "rails"
    colour: Paint = (0.30, 0.26, 0.20)


class Sign(Standing):
    """A blank road sign on a post, facing -x of the piece (the traffic, when turned with the road).

    Keys: `height` (2.8 m full size), `shape` (disc), `colour`, `glow` (luminance of a lit face, 0).
    """

    piece: Literal["sign"]
    height: PositiveLength | None = None
    shape: SignShape = "disc"
    colour: Paint = (0.45, 0.02, 0.02)
    glow: Luminance = 0.0


class Cone(Standing):
    """A traffic cone. Keys: `height` (0.71 m = 28 in full size), `colour`."""

    piece: Literal["cone"]
    height: PositiveLength | None = None
    colour: Paint = (0.70, 0.13, 0.02)


class Wall(Standing):
    """A wall or kerb.

    Keys: `length` along x of the piece, `height` (1 m full size), `thickness` (0.3 m full size), `style` (plain),
    `colour`, `snow` (share of its top, 0).
    """

    piece: Literal["wall"]
    length: PositiveLength
    height: PositiveLength | None = None
    thickness: PositiveLength | None = None
    style: WallStyle = "plain"
    colour: Paint = (0.30, 0.28, 0.25)
    snow: Share = 0.0


class Card(Standing):
    """A flat cut-out standing upright, facing -y of the piece.

    Keys: `width`, `height`, and an `image` (its alpha is the outline) or a plain `colour`.
    """

    piece: Literal["card"]
    width: PositiveLength
    height: PositiveLength
    colour: Paint = (0.2, 0.2, 0.2)
    image: FileName | None = None


class Scatter(Part):
    """Many small things over an area, placed by a seed; none lands on the road or in the vehicle's way.

    Keys: `id`; `scatter` (of what); `over`: two opposite corners of a rectangle, or three and more corners of a
    polygon; `count`; `size`: [smallest, largest] height on the table (the kind's own); `colour` (the kind's own);
    `snow` (share of the upper sides under snow, 0); `seed` (0).
    """

    id: Identity
    scatter: Scattered
    over: Corners
    count: Count = Field(examples=["180"])
    size: SizeRange | None = None
    colour: Paint | None = None
    snow: Share = 0.0
    seed: Seed = 0

    @field_validator("over")
    @classmethod
    def _has_area(cls, over: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        if len({x for x, _ in over}) < 2 or len({y for _, y in over}) < 2:
            raise ValueError("the corners enclose no area; give two opposite corners, or three and more around it")
        return over

    @field_validator("size")
    @classmethod
    def _sizes_in_order(cls, size: tuple[float, float] | None) -> tuple[float, float] | None:
        if size and size[0] > size[1]:
            raise ValueError("the first is larger than the second; size is [smallest, largest]")
        return size


class MeshPiece(Standing):
    """A mesh from a glTF, OBJ, STL or PLY file in the scene's folder, brought to a real length.

    Keys: `mesh` (the file); `length`, its largest horizontal extent on the table; `up`, the file's upward axis (y for
    glTF by its standard, z for the others); `colour` (the file's own).
    """

    mesh: FileName
    length: PositiveLength
    up: UpAxis | None = None
    colour: Paint | None = None


#: Every kind of piece by the word after `piece:`.
PIECES: dict[str, type[Standing]] = {
    "container": Container,
    "lamp_post": LampPost,
    "conifer": Conifer,
    "broadleaf": Broadleaf,
    "bush": Bush,
    "stone": Stone,
    "building": Building,
    "fence": Fence,
    "sign": Sign,
    "cone": Cone,
    "wall": Wall,
    "card": Card,
}

_KINDS: dict[str, type[Part]] = {**PIECES, "scatter": Scatter, "mesh": MeshPiece}


def dressing_kind(found: Any) -> str:
    """Which entry of `_KINDS` an entry of `dressing` is. Raises QuantityError."""
    if isinstance(found, Part):
        return next((name for name, kind in _KINDS.items() if isinstance(found, kind)), "mesh")
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
        raise QuantityError(choose_from(piece, PIECES, "a kind of piece"))
    return piece


Dressing: Any = by_kind(dressing_kind, _KINDS)
