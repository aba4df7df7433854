"""What can stand on the set: one class a kind of piece, its keys, units and defaults.

Sizes left out are the full-size ones of `real_sizes` (or those in the comment) brought to the scene's scale when
the stage is built; a size that is given is the size *on the table*. `at` is the middle of the footprint on the ground.
"""

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from previz.scene.fields import (
    Angle,
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
)


class Standing(Part):
    """Keys that every piece shares: where it stands, how it is turned, how often.

    Either `at` (with `turn`), or `along: road` with `every` and `offset` (positive to the left of travel).
    `copies` repeats it, each moved on by `step`.
    """

    id: Identity
    at: Place | None = None
    turn: Angle = 0.0  # counter-clockwise seen from above
    copies: int = Field(1, ge=1, le=500)
    step: Point3 | None = None
    along: Literal["road"] | None = None
    every: PositiveLength | None = None
    offset: Length = 0.0
    first: Length = 0.0  # distance along the road of the first one
    seed: Seed = 0

    @model_validator(mode="after")
    def _one_way_to_stand(self) -> "Standing":
        if (self.at is None) == (self.along is None):
            raise ValueError("give either at: [x, y] or along: road, not both and not neither")
        if self.along and self.every is None:
            raise ValueError("along: road also needs every: the distance from one to the next")
        if self.copies > 1 and self.step is None:
            raise ValueError("copies also needs step: [x, y, z], how far each copy is moved on")
        return self


class Container(Standing):
    """A freight container, 20 ft by default; `stack` puts more on top of it."""

    piece: Literal["container"]
    length: PositiveLength | None = None
    colour: Paint = (0.35, 0.08, 0.04)
    stack: int = Field(1, ge=1, le=6)
    colours: tuple[Paint, ...] = ()  # of the boxes above and of copies, in turn


class LampPost(Standing):
    """A street lamp; `lit` is the light its head sends down and out."""

    piece: Literal["lamp_post"]
    height: PositiveLength | None = None  # 8 m full size
    arm: PositiveLength | None = None  # 1.6 m full size, towards +x of the piece
    lit: Flux = 0.0
    colour: Paint = (0.10, 0.11, 0.11)
    light: Light = LightColour(kelvin="2700 K")


class Conifer(Standing):
    """A fir or spruce; `snow` is the share of its upper side under snow."""

    piece: Literal["conifer"]
    height: PositiveLength | None = None  # 12 m full size
    colour: Paint = (0.030, 0.062, 0.030)
    snow: float = Field(0.0, ge=0, le=1)


class Broadleaf(Standing):
    """A leafy tree."""

    piece: Literal["broadleaf"]
    height: PositiveLength | None = None  # 10 m full size
    colour: Paint = (0.075, 0.120, 0.030)
    bare: bool = False  # winter: branches only


class Bush(Standing):
    """A clump of leaves."""

    piece: Literal["bush"]
    height: PositiveLength | None = None  # 1.5 m full size
    colour: Paint = (0.070, 0.110, 0.030)


class Stone(Standing):
    """One boulder."""

    piece: Literal["stone"]
    size: PositiveLength | None = None  # 1 m full size
    colour: Paint = (0.22, 0.21, 0.19)
    snow: float = Field(0.0, ge=0, le=1)


class Building(Standing):
    """The front of a building facing -y of the piece (the viewer, unturned), with depth behind it.

    `lit` is the share of windows with a light on, `glow` their luminance; `shop` makes the ground floor a shop front.
    """

    piece: Literal["building"]
    width: PositiveLength | None = None  # 9 m full size
    height: PositiveLength | None = None  # 3.2 m full size a floor
    depth: PositiveLength | None = None  # 5 m full size
    floors: int = Field(3, ge=1, le=40)
    colour: Paint = (0.35, 0.22, 0.15)
    roof: Literal["flat", "gable"] = "flat"
    shop: bool = False
    lit: float = Field(0.0, ge=0, le=1)
    glow: Luminance = 60.0
    light: Light = LightColour(kelvin="2900 K")
    snow: float = Field(0.0, ge=0, le=1)


class Fence(Standing):
    """Posts and rails, `length` along x of the piece."""

    piece: Literal["fence"]
    length: PositiveLength
    height: PositiveLength | None = None  # 1.2 m full size
    style: Literal["rails", "pickets", "guard_rail"] = "rails"
    colour: Paint = (0.30, 0.26, 0.20)


class Sign(Standing):
    """A blank road sign on a post, facing -x of the piece (the traffic, when turned with the road)."""

    piece: Literal["sign"]
    height: PositiveLength | None = None  # 2.8 m full size
    shape: Literal["disc", "triangle", "square", "board"] = "disc"
    colour: Paint = (0.45, 0.02, 0.02)
    glow: Luminance = 0.0


class Cone(Standing):
    """A traffic cone, 0.71 m (28 in) full size by default."""

    piece: Literal["cone"]
    height: PositiveLength | None = None
    colour: Paint = (0.70, 0.13, 0.02)


class Wall(Standing):
    """A wall or kerb, `length` along x of the piece."""

    piece: Literal["wall"]
    length: PositiveLength
    height: PositiveLength | None = None  # 1 m full size
    thickness: PositiveLength | None = None  # 0.3 m full size
    style: Literal["plain", "brick", "stone"] = "plain"
    colour: Paint = (0.30, 0.28, 0.25)
    snow: float = Field(0.0, ge=0, le=1)


class Card(Standing):
    """A flat cut-out standing upright, facing -y of the piece: an image with its alpha as outline, or a plain shape."""

    piece: Literal["card"]
    width: PositiveLength
    height: PositiveLength
    colour: Paint = (0.2, 0.2, 0.2)
    image: str | None = None


Piece: Any = Annotated[
    Container | LampPost | Conifer | Broadleaf | Bush | Stone | Building | Fence | Sign | Cone | Wall | Card,
    Field(discriminator="piece"),
]


class Scatter(Part):
    """Many small things over an area, placed by a seed; none lands on the road or in the vehicle's way.

    `over` is two opposite corners of a rectangle or three and more corners of a polygon; `size` the smallest and
    largest height on the table.
    """

    id: Identity
    scatter: Literal["stones", "cones", "conifers", "broadleaves", "bushes", "tufts", "logs"]
    over: tuple[Point2, ...] = Field(min_length=2)
    count: int = Field(ge=1, le=20000)
    size: tuple[PositiveLength, PositiveLength] | None = None
    colour: Paint | None = None
    snow: float = Field(0.0, ge=0, le=1)
    seed: Seed = 0

    @model_validator(mode="after")
    def _sizes_in_order(self) -> "Scatter":
        if self.size and self.size[0] > self.size[1]:
            raise ValueError("size is [smallest, largest]; the first is larger than the second")
        return self


class MeshPiece(Standing):
    """A mesh from a glTF, OBJ, STL or PLY file in the scene's folder, brought to a real `length`.

    `length` is its largest horizontal extent on the table. `up` is the file's upward axis: y for glTF by its
    standard, z for the others, unless said.
    """

    mesh: str
    length: PositiveLength
    up: Literal["y", "z"] | None = None
    colour: Paint | None = None


def dressing_kind(found: Any) -> str:
    """Which of piece, scatter and mesh an entry of `dressing` is."""
    if isinstance(found, Scatter | MeshPiece):
        return "scatter" if isinstance(found, Scatter) else "mesh"
    return next((key for key in ("scatter", "mesh") if isinstance(found, dict) and key in found), "piece")
