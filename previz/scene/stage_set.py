"""The set as written: the table, what covers it, the road over it and the backdrop behind it."""

from collections.abc import Iterator
from typing import Any

from pydantic import Field, field_validator

from previz.scene.fields import (
    FileName,
    Flag,
    Length,
    NonNegativeLength,
    Paint,
    Part,
    Point2,
    PositiveLength,
    Seed,
    Share,
    Surface,
    leading_on,
    one_of,
    series,
    short,
    whole,
    word,
)
from previz.units import QuantityError, shown

Points: Any = series(Point2, at_least=2, what="points", example="[[-50, 330], [1450, 300]]")
Lanes: Any = whole(1, 6)
Markings: Any = word("dashed", "solid", "none", what="a kind of marking")
LayerShape: Any = word("hills", "mountains", "trees", "skyline", "flat", "cranes", what="a layer's shape")
Sky: Any = word("clear", "overcast", "dusk", "dawn", "night", "snow", what="a sky")


class Table(Part):
    """The table top. Keys: `width` along x, `depth` along y, `height` of the top above the floor (740 mm)."""

    width: PositiveLength
    depth: PositiveLength
    height: NonNegativeLength = 0.74


class Ground(Part):
    """What covers the table.

    Keys: `surface` (plain), its `colour` (the surface's own), `relief` (height of banks off the road, 0), `seed`
    (0); or an `image` laid in tiles `tile` wide (once over the whole table).
    """

    surface: Surface = "plain"
    colour: Paint | None = None
    image: FileName | None = None
    tile: PositiveLength | None = None
    relief: NonNegativeLength = 0.0
    seed: Seed = 0

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """A tile is a tile of an image."""
        if "tile" in given and "image" not in given:
            yield "tile is the width of one image; give an image too, or take tile out"


class Road(Part):
    """A road along a smooth curve; it may run off the table.

    Keys: `centre` (two points or more along its middle), `lane` (width of one lane), `lanes` (2), `markings` between
    lanes (dashed), `edges` (a line along each edge, true), `surface` (asphalt), its `colour` and that of its `paint`.
    """

    centre: Points
    lane: PositiveLength = Field(examples=["3.5 m full size"])
    lanes: Lanes = 2
    markings: Markings = "dashed"
    edges: Flag = True
    surface: Surface = "asphalt"
    colour: Paint = (0.060, 0.060, 0.063)
    paint: Paint = (0.62, 0.62, 0.58)

    _leads_on = field_validator("centre")(leading_on)


class Layer(Part):
    """One painted layer of the backdrop, far ones first: a ridge or skyline.

    Keys: `shape`, `height` of its top above the table, `colour`, `roughness` of its outline (0.5), `lit` (share of a
    skyline's windows painted as lit, 0), `seed` (0).
    """

    shape: LayerShape
    height: PositiveLength
    colour: Paint
    roughness: Share = 0.5
    lit: Share = 0.0
    seed: Seed = 0


Layers: Any = series(Layer, what="layers", example='[{shape: hills, height: 60 mm, colour: "#334455"}]')


class Painting(Part):
    """What is painted on the backdrop.

    Keys: `sky` (overcast), `horizon` (its height above the table, 0), `layers` in front of the sky (none), `seed` (0).
    """

    sky: Sky = "overcast"
    horizon: Length = 0.0
    layers: Layers = ()
    seed: Seed = 0


class Join(Part):
    """How ground and backdrop meet: `straight`, or `cove 80 mm`. Key: `cove`, the radius of the bend (0)."""

    cove: NonNegativeLength = 0.0


def _join(found: object) -> object:
    if found == "straight":
        return {}
    if isinstance(found, str) and found.startswith("cove "):
        return {"cove": found.removeprefix("cove ")}
    if isinstance(found, dict | Join):
        return found
    raise QuantityError(f"{shown(found)} is not a join; write straight, or cove and its radius like cove 80 mm")


AnyJoin: Any = short(_join, Join, str)


class Backdrop(Part):
    """An upright sheet across the set, middle on the table's middle.

    Keys: `distance` (its y; behind the table's far edge is allowed), `height` above the table, `width` (the table's),
    `join` with the ground (straight), and what is on it: one of `painting`, `image` or `colour`.
    """

    distance: PositiveLength
    height: PositiveLength
    width: PositiveLength | None = None
    join: AnyJoin = Join()
    painting: Painting | None = None
    image: FileName | None = None
    colour: Paint | None = None

    @classmethod
    def key_rules(cls, given: frozenset[str]) -> Iterator[str]:
        """One face."""
        yield from one_of(given, "painting", "image", "colour", what="what is seen on the backdrop")


class Set(Part):
    """Keys: `table`, `ground` (plain), `road` (none), `backdrop` (none)."""

    table: Table = Field(examples=["{width: 1400 mm, depth: 700 mm}"])
    ground: Ground = Ground()
    road: Road | None = None
    backdrop: Backdrop | None = None
