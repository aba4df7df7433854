"""What a scene may ask of a machine: counts and sizes beyond which a set is a slip of the pen, told before any work.

A thousand bytes of YAML can ask for a hundred million triangles. These limits lie well above any set that a person
builds on a table, and well below where a machine with 8 GB suffers; what else is bounded lies where it is read
(`files`, for meshes and images) or built (`stage`, for triangles).
"""

from collections.abc import Iterator, Mapping
from typing import Any

from previz import units
from previz.physics.paths import Curve
from previz.scene.fields import FileUnits
from previz.scene.pieces import PIECES, Fence, Garland, Hedge, LampPost, MeshPiece, Scatter, Standing, Wall
from previz.scene.real_sizes import FENCE_HEIGHTS
from previz.scene.stage_set import Backdrop, Layer, Road, Table, table_keys
from previz.scene.values import group_of, groups_of, value_of
from previz.scene.vehicle import Ramp, Vehicle
from previz.scene.yaml_tree import Steps
from previz.units import shown

MOST_PIECES = 1000  # that stand on a set, copies and rows along the road included
MOST_SCATTERED = 20_000  # things, in all scatters together
MOST_LAYERS = 24  # of a painting
SMALLEST_TABLE, USUAL_TABLE = 0.20, (0.4, 3.0)  # under which its maker is asked, and what is meant mostly [m]
LARGEST_TABLE = 20.0  # either side of it, and how wide its backdrop is [m]
HIGHEST_BACKDROP = 6.0  # [m]
LARGEST_PIECE = 5.0  # any size of a piece; a fence or wall may be as long as a table [m]
SMALLEST_PIECE = 0.0002  # any size of a piece [m]
LONGEST_FENCE = 500  # times its height, for it has posts by its height
LOWEST_LAYER = 0.001  # of a painting [m]
NARROWEST_LANE = 0.001  # [m]
LONGEST_WAY = 100.0  # of a road, or the vehicle's own [m]
LARGEST_VEHICLE = 5.0  # [m]
MOST_OTHERS = 7  # vehicles beside the first: each is lit along its own way
LARGEST_RAMP = 10.0  # any size of it, the bend at its foot too [m]
MOST_LAMPS = 100  # that a scene lights itself with
MOST_LIT_POSTS = 300  # copies and rows along the road included
MOST_SHOTS = 50  # each may change the set, and is then laid out for itself
MOST_LOOKS = 10_000  # shots times pieces: each shot looks at each piece
MOST_POINTS = 500  # of a way

_SIZES = ("length", "width", "depth", "height", "thickness", "arm", "size")

Found = Iterator[tuple[Steps, str]]


def budget_faults(data: Mapping[str, Any], file: FileUnits) -> Found:
    """What of a scene's plain data asks for too much, as place and message. Silent where a value is itself at fault."""
    yield from _table(group_of(data.get("set")), file)
    yield from _driven(data, file)
    yield from _counted(data)
    yield from _pieces(data, file)
    yield from _scattered(data)


def _table(stage: Mapping[str, Any], file: FileUnits) -> Found:
    for part, name, key, most in (
        (Table, "table", "width", LARGEST_TABLE),
        (Table, "table", "depth", LARGEST_TABLE),
        (Backdrop, "backdrop", "width", LARGEST_TABLE),
        (Backdrop, "backdrop", "height", HIGHEST_BACKDROP),
    ):
        group = group_of(table_keys(stage.get(name)))
        yield from _size(part, key, group, file, ("set", name, key), most)
    painting = group_of(group_of(stage.get("backdrop")).get("painting"))
    layers = painting.get("layers")
    steps: Steps = ("set", "backdrop", "painting", "layers")
    if isinstance(layers, list) and len(layers) > MOST_LAYERS:
        yield steps, f"{len(layers)} layers; at most {MOST_LAYERS} are painted: take some out"
    for number, layer in groups_of(layers):
        height = value_of(Layer, "height", layer, file)
        if isinstance(height, float) and 0 < height < LOWEST_LAYER:
            least = file.told(LOWEST_LAYER)
            yield (*steps, number, "height"), f"{file.told(height)} is too low to paint; make it {least} or more"


def _driven(data: Mapping[str, Any], file: FileUnits) -> Found:
    """The road, the vehicles and their ramps."""
    road, others = group_of(group_of(data.get("set")).get("road")), group_of(data.get("vehicles"))
    vehicles: list[tuple[Steps, dict[str, Any]]] = [(("vehicle",), group_of(data.get("vehicle")))]
    vehicles += [(("vehicles", name), group_of(each)) for name, each in others.items()]
    if len(others) > MOST_OTHERS:
        yield ("vehicles",), f"{len(others)} more vehicles; at most {MOST_OTHERS} drive beside the one: park some"
    yield from _size(Road, "lane", road, file, ("set", "road", "lane"), LARGEST_PIECE, NARROWEST_LANE)
    ways: list[tuple[type[Any], str, dict[str, Any], Steps]] = [(Road, "centre", road, ("set", "road", "centre"))]
    ways += [(Vehicle, "path", each, (*at, "path")) for at, each in vehicles]
    for part, key, group, steps in ways:
        points = value_of(part, key, group, file) if key in group else None
        if not isinstance(points, tuple) or len(points) < 2:
            continue
        if len(points) > MOST_POINTS:
            yield steps, f"{len(points)} points; at most {MOST_POINTS}: a smooth way needs few"
        elif (length := Curve.through(points).length) > LONGEST_WAY:
            yield steps, f"a way of {file.told(length)}; at most {file.told(LONGEST_WAY)}: check the unit"
    for at, vehicle in vehicles:
        yield from _size(Vehicle, "length", vehicle, file, (*at, "length"), LARGEST_VEHICLE, SMALLEST_PIECE)
        ramp = group_of(group_of(vehicle.get("launch")).get("ramp"))
        for key in ("height", "length", "foot_radius", "width", "thickness"):
            yield from _size(Ramp, key, ramp, file, (*at, "launch", "ramp", key), LARGEST_RAMP, 0.0)


def _counted(data: Mapping[str, Any]) -> Found:
    """Lists that are gone through again and again."""
    for key, what, most in (("lights", "lamps", MOST_LAMPS), ("shots", "shots", MOST_SHOTS)):
        found = data.get(key)
        if isinstance(found, list) and len(found) > most:
            yield (key,), f"{len(found)} {what}; at most {most} are reckoned with in one scene: take some out"


def _pieces(data: Mapping[str, Any], file: FileUnits) -> Found:
    road = value_of(Road, "centre", group_of(group_of(data.get("set")).get("road")), file)
    way = Curve.through(road).length if road else 0.0
    total, lit, told, lit_told = 0, 0, False, False
    for number, piece in groups_of(data.get("dressing")):
        kind = _kind_of(piece)
        if kind is None or kind is Scatter:
            continue
        for key in (key for key in _SIZES if key in piece and key in kind.model_fields):
            most = LARGEST_TABLE if kind in (Fence, Garland, Hedge, Wall) and key == "length" else LARGEST_PIECE
            yield from _size(kind, key, piece, file, ("dressing", number, key), most, SMALLEST_PIECE)
        if kind is Fence:
            yield from _fence(piece, file, ("dressing", number, "length"))
        count = _count(kind, piece, file, way)
        if kind in (LampPost, Garland) and value_of(kind, "lit", piece, file):
            lit += count * (value_of(Garland, "bulbs", piece, file) or 1 if kind is Garland else 1)
            if lit > MOST_LIT_POSTS and not lit_told:
                lit_told = True
                yield (
                    ("dressing", number, "lit"),
                    f"{lit} lamps of posts and garlands are lit up to here; at most {MOST_LIT_POSTS} may be: leave "
                    "others unlit",
                )
        total += count
        if total > MOST_PIECES and not told:
            told = True
            key, remedy = ("every", "a larger every") if piece.get("along") else ("copies", "fewer copies")
            stand = "stands" if total - count == 1 else "stand"
            before = f", and {total - count} {stand} before it" if total > count else ""
            yield (
                ("dressing", number, key if key in piece else "id"),
                f"it stands {count} times{before}; at most {MOST_PIECES} pieces stand on a set: give {remedy}",
            )
    if not told:
        yield from _looked_at(data.get("shots"), total, file, way)


def _looked_at(shots: Any, total: int, file: FileUnits, way: float) -> Found:
    """Pieces that all shots look at together: those of the common set, and those that a shot adds."""
    if not isinstance(shots, list) or len(shots) > MOST_SHOTS:
        return
    added = [piece for _, shot in groups_of(shots) for _, piece in groups_of(shot.get("added"))]
    kinds = [(kind, piece) for piece in added if (kind := _kind_of(piece)) is not None and kind is not Scatter]
    looks = total * len(shots) + sum(_count(kind, piece, file, way) for kind, piece in kinds)
    if looks > MOST_LOOKS:
        more = ", with those that shots add" if kinds else ""
        yield (
            ("shots",),
            f"{len(shots)} shots, and {total} pieces in each{more}; shots times pieces come to at most {MOST_LOOKS}: "
            "give some shots a file of their own",
        )


def _kind_of(piece: Mapping[str, Any]) -> type[Any] | None:
    if "scatter" in piece:
        return Scatter
    named = piece.get("piece")
    return MeshPiece if "mesh" in piece else PIECES.get(named) if isinstance(named, str) else None


def _count(kind: type[Standing], piece: Mapping[str, Any], file: FileUnits, way: float) -> int:
    """How often a piece stands; along the road as far as the road goes, on the table or beside it."""
    if piece.get("along") is None:
        return value_of(kind, "copies", piece, file) or 0
    every, first = (value_of(kind, key, piece, file) for key in ("every", "first"))
    return int((way - first) // every) + 1 if every and first is not None and first <= way else 0


def _fence(piece: Mapping[str, Any], file: FileUnits, steps: Steps) -> Found:
    length, height, style = (value_of(Fence, key, piece, file) for key in ("length", "height", "style"))
    scale = value_of(Fence, "scale", piece, file) or file.scale
    if height is None and "height" not in piece and style and scale:
        height = FENCE_HEIGHTS[style] / scale
    if length and height and length > LONGEST_FENCE * height:
        yield (
            steps,
            f"{file.told(length)} of a fence {file.told(height)} high; at most {LONGEST_FENCE} times its "
            f"height is built: write it shorter than {file.told(LONGEST_FENCE * height)}, or higher",
        )


def _scattered(data: Mapping[str, Any]) -> Found:
    total = 0
    for number, piece in groups_of(data.get("dressing")):
        count = piece.get("count") if "scatter" in piece else None
        if not isinstance(count, int) or not 0 < count <= MOST_SCATTERED:
            continue
        if total <= MOST_SCATTERED < total + count:
            yield (
                ("dressing", number, "count"),
                f"{count}, and {total} are scattered before it; at most {MOST_SCATTERED} things lie about on a set: "
                "scatter fewer",
            )
        total += count


def _size(
    part: type[Any], key: str, group: Mapping[str, Any], file: FileUnits, steps: Steps, most: float, least: float = 0.0
) -> Found:
    """Where a length that is given is out of its bounds."""
    found = value_of(part, key, group, file) if key in group else None
    lengths = [each for each in (found if isinstance(found, tuple) else (found,)) if isinstance(each, float)]
    for length in lengths:
        if length > most or 0 < length < least:
            written = group[key] if isinstance(found, float) else None  # of several the one is not known as written
            meant = " or ".join(_meant(written, length, file, steps, (least, most)))
            bound = f"at most {file.told(most)}" if length > most else f"at least {file.told(least)}"
            asks = f"; did you mean {meant}?" if meant else ": check the unit"
            yield steps, f"{file.told(length)} on the table; {bound} is built{asks}"


def _meant(written: Any, length: float, file: FileUnits, steps: Steps, bounds: tuple[float, float]) -> Iterator[str]:
    """What a length out of its bounds may mean: that of the real thing, unless it is of the set; another unit."""
    least, most = bounds
    text = isinstance(written, str) and not units.is_full_size(written)
    if text and steps[0] != "set" and file.scale and least <= length / file.scale <= most:
        yield f"{shown(written)} full size"
    other = units.in_a_likely_unit(written, file.unit_of(written), length, least, most) if written is not None else ""
    if other:
        yield shown(other)
