"""The lists of a plan: what is built, how large and why; the lamps; what to take care of; the log of takes."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from typing import Any

import numpy as np

from previz.layout import (
    LIGHT_CARDS,
    PutUp,
    Solid,
    flat_size,
    half_road,
    holds,
    light_cards,
    others_of,
    pieces_of,
    puddles_of,
    ramp_of,
    strips_of,
    vehicle_size,
)
from previz.paper.built import OF_SOME_SHOTS, called, only_then
from previz.paper.measures import other_scale, tape_of
from previz.paper.plan.laid import lifted, turn_of
from previz.paper.plan.page import Maker, heading
from previz.paper.sheet import Box, Sheet, Table
from previz.paper.stock import thickness_said
from previz.paper.surface import road_edges
from previz.predictions import Caution
from previz.scene import (
    Ambient,
    BounceCard,
    Bulb,
    FlagCard,
    MeshPiece,
    Panel,
    Parked,
    Road,
    Scatter,
    Scene,
    Shot,
    Spot,
    said_value,
    size_source,
)
from previz.units import together

_GAP = 5.0  # between one list and the next [mm]


def in_columns(table: Table, columns: int) -> Table:
    """The same rows in fewer lines, several side by side."""
    lines = -(-len(table.rows) // columns)
    columns = -(-len(table.rows) // lines) if lines else columns
    empty = ("",) * len(table.headings)
    rows = [table.rows[n::lines] for n in range(lines)]
    wide = [tuple(cell for row in (*each, *[empty] * (columns - len(each))) for cell in row) for each in rows]
    return replace(table, headings=table.headings * columns, rows=tuple(wide))


#: A last sheet with fewer rows than this is spared, if closer rows spare it.
_WORTH_A_SHEET = 5

#: Rows that a table ends with on a sheet of its own, where it has as many again before. [-]
_LAST_ROWS = 3


def lists(
    maker: Maker, parts: Sequence[tuple[str, Table]], name: str = "lists", title_of_all: str = "Lists"
) -> tuple[list[Sheet], dict[str, int]]:
    """Tables under headings, one after the other, on as many sheets as they need; on which of them each begins."""
    found = _laid(maker, parts, name, title_of_all)
    if len(found.sheets) > 1 and found.last_rows < _WORTH_A_SHEET:
        close = _laid(maker, [(title, replace(table, tight=True)) for title, table in parts], name, title_of_all, 3.0)
        found = min(found, close, key=lambda each: len(each.sheets))
    return found.sheets, found.begins


@dataclass
class _Lists:
    """Sheets, on which each table begins by its title, and how many rows the last one has."""

    sheets: list[Sheet] = field(default_factory=list)
    begins: dict[str, int] = field(default_factory=dict)
    last_rows: int = 0


def _laid(maker: Maker, parts: Sequence[tuple[str, Table]], name: str, title_of_all: str, gap: float = _GAP) -> _Lists:
    found = _Lists()
    sheet, room, y = None, Box(0, 0, 0, 0), 0.0
    for title, table in parts:
        rest = table
        while rest.rows:
            least = min(len(rest.rows), 2)
            if sheet is None or y - rest.part(least).drawn_height(room.width) - 6 < room.low:
                sheet, room = maker.sheet(f"{name}-{len(found.sheets) + 1}", title_of_all)
                found.sheets.append(sheet)
                y, found.last_rows = room.high, 0
            found.begins.setdefault(title, len(found.sheets) - 1)
            told = title if rest is table else f"{title}, continued"
            y = heading(sheet, told, (room.left, y), room.width)
            done, y = _not_the_last_alone(rest, room.width, y - room.low).draw(
                sheet, Box(room.left, room.low, room.right, y)
            )
            rest, y, found.last_rows = rest.rest(max(done, 1)), y - gap, found.last_rows + done
    return found


def _not_the_last_alone(table: Table, width: float, height: float) -> Table:
    """As much of a table as is drawn in that room, with a few rows left where else one or two would be. [mm]"""
    fits, _ = table.draw(Sheet(width, height, ""), Box(0.0, 0.0, width, height))
    left = len(table.rows) - fits
    return table.part(fits - (_LAST_ROWS - left)) if 0 < left < _LAST_ROWS and fits >= 2 * _LAST_ROWS else table


def puddle_list(scene: Scene) -> Table:
    """Each puddle by the number it has on the ground plan at life size: its middle, and how wide and deep it is."""
    tape, rows = tape_of(scene), []
    for number, puddle in enumerate(puddles_of(scene), start=1):
        (x, y), size = puddle.at, np.ptp(puddle.outline, axis=0).tolist()
        rows.append((str(number), tape.bare(float(x)), tape.bare(float(y)), " × ".join(map(tape.bare, size))))
    return Table((f"puddle, {tape.unit}", "x", "y", "wide × deep"), tuple(rows), tight=True)


def build_list(scene: Scene, then: Sequence[Scene] = ()) -> Table:
    """All that is built: its size on the table, at full scale, and where that size comes from.

    then: the scenes of its setups; what only they have of backdrop, vehicle and ramp is built too.
    """
    rows = [*_of_the_set(scene), *_of_some_shots(scene, then), *_dressed(scene)]
    headings = (
        f"on the table, {scene.tape.column}: length × width × height",
        f"full size, {scene.tape.real_unit}: likewise",
    )
    return Table(("what", "kind", "times", *headings, "size from"), tuple(rows))


def _of_the_set(scene: Scene) -> Iterator[tuple[str, ...]]:
    table, road = scene.set.table, scene.set.road
    yield _row(scene, "table", "table top", 1, (table.width, table.depth), None, "as written", sides=_DEEP)
    if road is not None:
        tape, wide = tape_of(scene), (2 * half_road(road, scene.scale),)
        lanes = f"{'a lane' if road.lanes == 1 else f'{road.lanes} lanes, each'} {tape(road.lane)} wide"
        told = "lanes as written, and what lies outside them"
        yield _row(scene, "road", f"strip: {lanes}", 1, wide, wide, told, sides=_HIGH)
        yield from _road_edges(scene, road)
    for what in OF_SOME_SHOTS:
        yield from _one_of(scene, what, what)
    for _, other in others_of(scene):
        for what in ("vehicle", "ramp"):
            yield from _one_of(other, what, called(what, other))


def _road_edges(scene: Scene, road: Road) -> Iterator[tuple[str, ...]]:
    """Kerb strips and pavements: how long, wide and high each is."""
    kerbs, pavements = road_edges(scene)
    strips = strips_of(scene)
    for kind, written, shapes, those in (
        ("kerb", road.kerb, kerbs, strips),
        ("pavement", road.pavement, pavements, [strip for strip in strips if strip.paved]),
    ):
        for strip, shape in zip(those, shapes, strict=False):
            wide = strip.back - strip.face if kind == "kerb" else strip.outer - strip.back
            size = (shape.area / wide, wide, strip.height)
            side = "left" if strip.side > 0 else "right"
            given = written is not None and (written.width is not None)
            told = "as written" if given else size_source(kind)
            yield _row(scene, f"{kind} at the {side}", "strip" if kind == "kerb" else "slabs", 1, size, size, told)


def _of_some_shots(scene: Scene, then: Sequence[Scene]) -> Iterator[tuple[str, ...]]:
    for what, only, name in only_then(scene, then):
        yield from _one_of(only, what, name)


def _one_of(scene: Scene, what: str, name: str) -> Iterator[tuple[str, ...]]:
    """The row of the backdrop, the vehicle or the ramp, where a scene has it."""
    backdrop, vehicle, ramp = scene.set.backdrop, scene.vehicle, ramp_of(scene)
    if what == "backdrop" and backdrop is not None:
        told = "as written" if backdrop.width is not None else "height as written, width the table's"
        if backdrop.join.cove:
            told += f"; {tape_of(scene)(backdrop.height)} over the table, the rest goes round the bend"
        kind, sides = ("sheet, laid flat", _LONG) if backdrop.join.cove else ("sheet", _HIGH)
        yield _row(scene, name, kind, 1, flat_size(scene), None, told, sides=sides)
    if what == "vehicle" and vehicle is not None:
        told = "length as written" if vehicle.length is not None else size_source(vehicle.body or "")
        size = vehicle_size(scene)
        yield _row(scene, name, vehicle.body or "mesh", 1, size, size, told, scene.vehicle_scale)
    if what == "ramp" and ramp is not None:
        size = (ramp.length, ramp.width, float(ramp.line[0, 1]))
        thick = "" if thickness_said(scene) else f"; thickness not said, {tape_of(scene)(ramp.thickness)} taken"
        told = f"as written{thick}; it reaches past the start by half the vehicle"
        yield _row(scene, name, "sheet", 1, size, None, told)


def _dressed(scene: Scene) -> Iterator[tuple[str, ...]]:
    yield from _pieces(scene)
    for piece in scene.dressing:
        if isinstance(piece, Scatter):
            yield _scattered(scene, piece)


def _pieces(scene: Scene) -> Iterator[tuple[str, ...]]:
    """One row for all pieces that are alike in kind, size and where that comes from."""
    alike: dict[tuple[Any, ...], list[Solid]] = {}
    for solid in pieces_of(scene):
        piece = scene.dressing[solid.entry]
        # A card that leans is cut to its own size, not to that of the box around it.
        cut = (piece.width, piece.height) if isinstance(piece, BounceCard | FlagCard) else solid.size
        size = tuple(round(float(each), 5) for each in cut)
        kind = f"parked {piece.body}" if isinstance(piece, Parked) else solid.kind
        if solid.kind not in LIGHT_CARDS and (up := lifted(scene, solid)):
            kind += f", its foot {tape_of(scene)(up)} above the table"
        alike.setdefault((kind, size, _why(piece), scene.scale_of(piece)), []).append(solid)
    for (kind, size, why, scale), solids in alike.items():
        names = ", ".join(dict.fromkeys(solid.id for solid in solids))
        light_card = isinstance(scene.dressing[solids[0].entry], BounceCard | FlagCard)  # of no real thing
        real, sides = (None, _HIGH) if light_card else (size, ())
        yield _row(scene, names, kind.replace("_", " "), len(solids), size, real, why, scale, sides)


#: What is less is told to a tenth. [m]
_FINE = 0.005


def _row(
    scene: Scene,
    name: str,
    kind: str,
    times: int,
    size: Sequence[float],
    real: Sequence[float] | None,
    why: str,
    scale: float | None = None,
    sides: Sequence[str] = (),
) -> tuple[str, ...]:
    """scale: S of 1:S of the thing, the set's unless given; sides: what each number says, where it is not as usual."""
    tape, scale = tape_of(scene), scale or float(scene.scale)
    here = [tape.bare(each, int(each < _FINE)) for each in size]
    full = [tape.real_bare(each * scale) for each in real or ()]
    kind = _with_scale(kind, scene, scale)
    return name, kind, str(times), _by_sides(here, sides), _by_sides(full, sides), why


#: What two numbers say, of what lies on the table, of what stands on it, and of what is cut flat and bent.
_DEEP, _HIGH, _LONG = ("wide", "deep"), ("wide", "high"), ("wide", "long")


def _by_sides(told: Sequence[str], sides: Sequence[str]) -> str:
    """Numbers with what each says; as they are where the heading says it.

    >>> _by_sides(["1400", "500"], ("wide", "high")), _by_sides(["70"], ("wide", "high")), _by_sides(["8", "5"], ())
    ('1400 wide × 500 high', '70 wide', '8 × 5')
    """
    return " × ".join(f"{each} {side}".strip() for each, side in zip_longest(told, sides[: len(told)], fillvalue=""))


def _with_scale(kind: str, scene: Scene, scale: float) -> str:
    return ", ".join(filter(None, (kind, other_scale(scene, scale))))


def _scattered(scene: Scene, piece: Scatter) -> tuple[str, ...]:
    tape, scale = tape_of(scene), scene.scale_of(piece)
    kind = _with_scale(piece.scatter, scene, scale)
    if piece.size is None:
        return piece.id, kind, str(piece.count), "", "", "the kind's own, by the seed"
    low, high = piece.size
    full = f"{tape.real_bare(low * scale)} to {tape.real_bare(high * scale)} high"
    return (
        piece.id,
        kind,
        str(piece.count),
        f"{tape.bare(low, 1)} to {tape.bare(high, 1)} high",
        full,
        "as written",
    )


#: Keys of a piece that give a size.
_SIZES = ("length", "width", "depth", "height", "thickness", "size", "arm")


def _why(piece: Any) -> str:
    """Where a piece's size comes from: keys that its maker gave, and the source of what was left out."""
    if isinstance(piece, MeshPiece):
        return "length as written, the rest as in its file"
    known = [key for key in _SIZES if key in type(piece).model_fields]
    given = [key for key in known if getattr(piece, key) is not None]
    named = {"fence": "style", "parked": "body"}.get(piece.piece, "piece")
    source = size_source(getattr(piece, named))
    if len(given) == len(known) and known != ["height"]:
        return "as written"
    return f"{', '.join(given)} as written; else {source}" if given else source


def lamp_list(scene: Scene) -> Table:
    """Each lamp: what it is, how much light, where it hangs, what it faces and from how far."""
    tape, rows = tape_of(scene), list[tuple[str, ...]]()
    for light in scene.lights:
        colour = light.colour.kelvin
        told = f"{colour:.0f} K" + (" with a gel" if light.colour.gel is not None else "")
        if isinstance(light, Ambient):
            rows.append((light.id, "light of the room", f"{light.ambient:g} lx", told, "", "", "", "", _mains(light)))
            continue
        faces, throw = "", ""  # a bare bulb faces nothing
        if not isinstance(light, Bulb):
            faces = ", ".join(tape.bare(each) for each in light.aim)
            throw = tape.bare(sum((a - b) ** 2 for a, b in zip(light.at, light.aim, strict=True)) ** 0.5)
        rows.append(
            (
                light.id,
                _kind(light, scene),
                light.output.told(tape),
                told,
                _diffusion(light, scene),
                ", ".join(tape.bare(each) for each in light.at),
                faces,
                throw,
                _mains(light),
            )
        )
    rows += [_card_row(scene, card) for card in light_cards(scene)]
    headings = (
        "lamp or card",
        "kind",
        "output",
        "colour",
        "diffusion",
        f"at x, y, up, {tape.unit}",
        "faces",
        "throw",
        "mains",
    )
    return _without_empty(Table(headings, tuple(rows)))


def _without_empty(table: Table) -> Table:
    """Without columns in which nothing stands."""
    kept = [n for n in range(len(table.headings)) if any(row[n] for row in table.rows)]
    rows = tuple(tuple(row[n] for n in kept) for row in table.rows)
    return replace(table, headings=tuple(table.headings[n] for n in kept), rows=rows)


def _card_row(scene: Scene, card: PutUp) -> tuple[str, ...]:
    """Of a bounce card or flag: its size, where it is as its maker wrote it, and how it is turned and leant."""
    tape, spec = tape_of(scene), card.spec
    size = f"{tape.bare(float(spec.width))} × {tape.bare(float(spec.height))}"
    what = ("silver " if card.silver else "") + ("bounce card" if card.solid.kind == "bounce" else "flag")
    lean = round(math.degrees(spec.tilt))
    faces = [f"turned {turn}" if (turn := turn_of(card.solid)) else "towards the front"]
    faces += [f"leant {'back' if lean > 0 else 'forward'} {abs(lean)}°"] if lean else []
    at = ", ".join(tape.bare(each) for each in card.solid.at)
    held = {"floor": "stand", "table": "stand", "arm": "arm", "above": "from above"}.get(holds(scene, card.solid), "")
    kind = f"{what} {size}" + (f", {held}" if held else "")
    return card.solid.name, kind, "", said_value(spec, "colour", tape), "", at, ", ".join(faces), "", ""


def _kind(light: Any, scene: Scene) -> str:
    tape = tape_of(scene)
    if isinstance(light, Panel):
        return f"soft panel {together([tape(side) for side in light.panel], ' × ')}"
    if isinstance(light, Bulb):
        return f"bare bulb, {tape(light.bulb)} across"
    return f"spot, beam {light.spot * 57.29577951308232:.0f}°, source {tape(light.size)}"


def _diffusion(light: Any, scene: Scene) -> str:
    tape, parts = tape_of(scene), []
    if light.diffusion:
        parts.append(f"{_stops(light.diffusion)} on the lamp")
    if isinstance(light, Spot) and light.diffuser is not None:
        frame = light.diffuser
        size = f"{together([tape(side) for side in frame.size], ' × ')}"
        parts.append(f"frame {size}, {tape(frame.distance)} in front, {_stops(frame.loss)}")
    return "; ".join(parts)


def _stops(loss: float) -> str:
    return f"{loss:g} stop{'s' * (loss != 1)}"


def _mains(light: Any) -> str:
    return {True: "yes", False: "no", None: "not said"}[light.mains]


def caution_list(cautions: Sequence[Caution]) -> Table:
    """What in the plan calls for care, what is usually done, and where that is said."""
    return Table(
        ("because of", "take care", "said by"),
        tuple((each.because, each.precaution, each.source) for each in cautions),
    )


#: Rows for takes, and what is written down of each.
_TAKES = (
    "take",
    "shot",
    "clock",
    "release or speed",
    "focus",
    "stop",
    "ISO",
    "light changed",
    "good?",
    "what happened",
)


def take_log(maker: Maker, shots: Sequence[Shot]) -> Sheet:
    """A sheet to write on, the first take of each shot begun."""
    sheet, room = maker.sheet("takes", "Take log")
    step = 8.0
    count = int((room.height - 8) / step)
    named = [shot.id for shot in shots][:count]
    rows = [("1", each, *[""] * 8) for each in named] + [("",) * 10] * (count - len(named))
    widths = (12.0, 24.0, 17.0, 32.0, 22.0, 16.0, 16.0, 34.0, 15.0)
    table = Table(_TAKES, tuple(rows), row_height=step, ruled=True, fixed=(*widths, 0.0))
    table.draw(sheet, room)
    return sheet
