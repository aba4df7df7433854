"""The column beside the plan: the camera's marks, what the signs mean, and where each piece stands."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from previz.layout import LIGHT_CARDS, Solid, pieces_of, puddles_of, roadside_of
from previz.paper.measures import tape_of
from previz.paper.plan import symbols
from previz.paper.plan.filmed import lettered
from previz.paper.plan.laid import lifted, turn_of
from previz.paper.plan.page import heading
from previz.paper.plan.setup import Setup
from previz.paper.sheet import BLACK, CHAINED, DASHED, DOTTED, GREY, MEDIUM, SMALL, THICK, THIN, Box, Sheet, Table
from previz.scene import Bulb, Panel, Scatter, Scene, Spot
from previz.units import Tape

Array = NDArray[np.float64]

_SAMPLE, _ROW = 11.0, 4.2


def marks_table(setup: Setup, tape: Tape) -> Table:
    """The camera's places mid-shot, to be marked with a tape."""
    rows = [*setup.marks, *([] if setup.focus_marks else [("sharp at, on the axis", setup.sharp)])]
    told = tuple((name, *(tape.bare(float(each)) for each in place)) for name, place in rows)
    return Table((f"mark, {tape.unit}", "x", "y", "up"), told, tight=True)


def off_table(scene: Scene) -> Table:
    """Lamps that stand beside the table: where, measured from its front left corner as all else; often no rows."""
    tape, table, rows = tape_of(scene), scene.set.table, []
    for light in scene.lights:
        if isinstance(light, Panel | Spot | Bulb):
            x, y, _ = light.at
            if not (0 <= x <= table.width and 0 <= y <= table.depth):
                rows.append((light.id, *(tape.bare(float(each)) for each in light.at)))
    return Table((f"lamp, {tape.unit}", "x", "y", "up"), tuple(rows), tight=True)


def focus_lines(setup: Setup, tape: Tape) -> list[str]:
    """Focus as `check` has it, along the axis."""
    lines = ["The middle of the lens, about from where it sees, is what at: in the scene file says."]
    if setup.sensor is None:
        lines.append("The sensor of so long a lens lies further back than a thin lens has it: measure from the rim.")
    if not setup.focus_marks:
        lines.append(f"Focus {', '.join(f'{tape(length)} from the {name}' for name, length in setup.focus_from)}.")
    if setup.band is not None:
        near, far = setup.band
        lines.append(
            f"Sharp {tape(near)} to {tape(far)} from the middle of the lens{', mid-shot' * bool(setup.focus_marks)}."
        )
    else:
        lines.append("Nothing is sharp at this stop: diffraction blurs all.")
    return lines


def focus_table(setup: Setup, tape: Tape) -> Table:
    """Where focus is at some frames, by letters, from each mark that a tape is held at; often no rows."""
    marks = [
        (letter, mark, setup.measured_from(mark.distance, mark.from_sensor)[:2]) for letter, mark in lettered(setup)
    ]
    rows = tuple(
        (letter, str(mark.frame), f"{mark.time:.2f} s", *(tape.bare(length) for _, length in lengths))
        for letter, mark, lengths in marks
    )
    names = [name for name, _ in marks[0][2]] if marks else []
    return Table((f"from, {tape.unit}", "frame", "on set", *names), rows, tight=True)


def places_table(scene: Scene, numbered: bool) -> Table:
    """Where each piece stands: the middle of its foot, and its turn counter-clockwise.

    How high that is over the table too, where some stand on no ground. A piece whose copies are moved on by a step has
    one row, which says the step.
    """
    tape, rows = tape_of(scene), []
    solids = list(enumerate(pieces_of(scene), start=1))
    ups = [lifted(scene, solid) for _, solid in solids]
    some = any(ups)

    def row(name: str, x: str, y: str, number: int, solid: Solid) -> tuple[str, ...]:
        up = (tape.bare(ups[number - 1]) if ups[number - 1] else "",) if some else ()
        return name, x, y, *up, turn_of(solid)

    for entry in dict.fromkeys(solid.entry for _, solid in solids):
        copies = [(number, solid) for number, solid in solids if solid.entry == entry]
        spec = scene.dressing[entry]
        step = getattr(spec, "step", None)
        if len(copies) > 1 and spec.along is None and step is not None and not any(step[2:]):
            (first, solid), (last, _) = copies[0], copies[-1]
            name = f"{first} – {last}  {solid.id}" if numbered else f"{solid.id}, {len(copies)} of them"
            x, y = (_stepped(tape, at, by) for at, by in zip(solid.at[:2], step[:2], strict=True))
            rows.append(row(name, x, y, first, solid))
            continue
        for number, solid in copies:
            name = f"{number}  {solid.name}" if numbered else solid.name
            rows.append(row(name, tape.bare(solid.at[0]), tape.bare(solid.at[1]), number, solid))
    up = ("up",) if some else ()
    return _few_turned(Table((f"piece, {tape.unit}", "x", "y", *up, "turn"), tuple(rows), tight=True))


#: A column that is empty but for so many of its cells is not worth its room.
_FEW = 0.34


def _few_turned(table: Table) -> Table:
    """Where few pieces are turned, that is said with their names and not in a column of its own."""
    turned = [bool(row[-1]) for row in table.rows]
    if sum(turned) > _FEW * len(turned):
        return table
    rows = tuple((f"{row[0]}, turned {row[-1]}" if row[-1] else row[0], *row[1:-1]) for row in table.rows)
    return replace(table, headings=table.headings[:-1], rows=rows)


def _stepped(tape: Tape, at: float, by: float) -> str:
    """Where the first of a row is, and how much further each next one."""
    return tape.bare(at) if by == 0 else f"{tape.bare(at)} {'+' if by > 0 else '−'} {tape.bare(abs(by))}"


@dataclass(frozen=True)
class Places:
    """Where pieces stand, as one sheet tells it.

    Parameters
    ----------
    all : Table
        Of every piece.
    rest : Table
        Those that had no room on the sheet.
    spot : (2,) float
        Upper left corner of where the sheet says on which page they are. [mm]
    """

    all: Table
    rest: Table
    spot: tuple[float, float]


def draw_key(sheet: Sheet, column: Box, scene: Scene, setup: Setup | None, numbered: bool) -> Places:
    """Fill the column from its top; what of the places had no room is given back."""
    tape, y = tape_of(scene), column.high
    if setup is not None:
        y = heading(sheet, "Camera" + (", mid-shot" if setup.moves else ""), (column.left, y), column.width)
        _, y = marks_table(setup, tape).draw(sheet, Box(column.left, column.low, column.right, y))
        y -= 1.5
        for line in focus_lines(setup, tape):
            y = sheet.paragraph(line, (column.left, y), column.width) - 0.6
        y -= 2.5
        going = focus_table(setup, tape)
        if going.rows:
            y = heading(sheet, "Focus goes, to be pulled", (column.left, y), column.width)
            _, y = going.draw(sheet, Box(column.left, column.low, column.right, y))
            y -= 2.5
    samples = _samples(scene, setup)
    legend = _ROW * len(samples) + 7.5
    lamps = off_table(scene)
    if lamps.rows:
        y = _lamps(sheet, Box(column.left, column.low + legend + 7, column.right, y), lamps) - 2.5
    every = places = places_table(scene, numbered)
    free = y - column.low - legend - 3
    if places.rows and (places.drawn_height(column.width) + 6 <= free or free >= _LEAST):
        y = heading(sheet, "Pieces", (column.left, y), column.width)
        room = Box(column.left, column.low + legend + 3, column.right, y)
        if places.drawn_height(room.width) > room.height:
            room = Box(column.left, room.low + 4, column.right, y)
        done, _ = places.draw(sheet, room)
        places = places.rest(done)
    spot = column.left, column.low + legend + 2.5
    y = heading(sheet, "Signs", (column.left, column.low + legend), column.width) - 0.5
    for draw, text in samples:
        draw(sheet, column.left, y - _ROW / 2 + 0.6)
        sheet.words(text, (column.left + _SAMPLE + 2, y - _ROW / 2 + 0.6), SMALL, anchor="middle")
        y -= _ROW
    return Places(every, places, spot)


#: Room that a list needs here to be begun at all. [mm]
_LEAST = 22.0


def _lamps(sheet: Sheet, box: Box, lamps: Table) -> float:
    """As many lamps as there is room for, from a box's top down; where it ends. [mm]"""
    if box.height < _LEAST and lamps.drawn_height(box.width) + 6 > box.height:
        return sheet.paragraph("Where lamps stand off the table is in the lists.", (box.left, box.high), box.width)
    y = heading(sheet, "Lamps that stand off the table", (box.left, box.high), box.width)
    done, y = lamps.draw(sheet, Box(box.left, box.low, box.right, y))
    if done < len(lamps.rows):
        y = sheet.paragraph("The others stand in the lists.", (box.left, y), box.width)
    return y


#: Draws something on a sheet from a place on; or in an outline on it.
_Sample: TypeAlias = Callable[[Sheet, float, float], None]
_Filling: TypeAlias = Callable[[Sheet, Array], None]


def _samples(scene: Scene, setup: Setup | None) -> list[tuple[_Sample, str]]:
    """Each sign that this plan uses, as something that draws it at a place, and its words."""

    def line(weight: float, dashes: tuple[float, ...] = (), ink: str = BLACK) -> _Sample:
        return lambda sheet, x, y: sheet.line([(x, y), (x + _SAMPLE, y)], weight, dashes=dashes, ink=ink)

    def box(draw: _Filling) -> _Sample:
        return lambda sheet, x, y: draw(sheet, Box(x, y - 1.5, x + _SAMPLE, y + 1.5).outline)

    def both(sheet: Sheet, x: float, y: float) -> None:
        symbols.sensor_mark(sheet, (x + 2.5, y), 0.0)
        sheet.line([(x + 2.5, y), (x + _SAMPLE, y)], THIN, dashes=CHAINED)
        symbols.pupil_mark(sheet, (x + _SAMPLE - 2.5, y))

    def rim(sheet: Sheet, x: float, y: float) -> None:
        sheet.line([(x, y), (x + _SAMPLE, y)], THIN, dashes=CHAINED)
        symbols.rim_mark(sheet, (x + _SAMPLE / 2, y), 0.0, 1.6)

    def pulled(sheet: Sheet, x: float, y: float) -> None:
        sheet.line([(x, y - 1), (x + _SAMPLE, y - 1)], THIN, dashes=CHAINED)
        sheet.line([(x + _SAMPLE / 2, y - 1), (x + _SAMPLE / 2, y + 1)], THIN)
        symbols.focus_mark(sheet, (x + _SAMPLE / 2, y + 1))

    def pupil(sheet: Sheet, x: float, y: float) -> None:
        symbols.pupil_mark(sheet, (x + _SAMPLE / 2, y))

    def goes(sheet: Sheet, x: float, y: float) -> None:
        symbols.camera_way(sheet, [(x, y), (x + _SAMPLE, y)])

    def ticks(sheet: Sheet, x: float, y: float) -> None:
        sheet.line([(x, y), (x + _SAMPLE, y)], MEDIUM, dashes=CHAINED)
        for n in range(6):
            reach = 1.6 if n == 2 else 0.8
            sheet.line([(x + 1 + 1.8 * n, y - reach), (x + 1 + 1.8 * n, y + reach)], MEDIUM if n == 2 else THIN)

    found: list[tuple[_Sample, str]] = []
    if setup is not None:
        found += [
            (both, "sensor, lens axis, middle of lens")
            if setup.sensor is not None
            else (pupil, "middle of lens, on its axis"),
            *([(rim, "front rim of lens")] if setup.rim is not None else []),
            *([(goes, "middle of lens, its way while it films")] if setup.way.length > 0 else []),
            *([(pulled, "focus at a frame, by its letter")] if setup.focus_marks and not setup.steep else []),
            (line(MEDIUM, DASHED), "edge of the picture"),
            (box(symbols.unseen), "table top that the camera does not see"),
        ]
        if setup.band is not None and not setup.steep:
            found.append((box(_band), "sharp, on the table"))
        if scene.vehicle is not None:
            found.append((ticks, "vehicle's way, ticks at frames of the shot"))
            found.append((box(_coming), "vehicle first and last in the picture"))
    if any(isinstance(piece, Scatter) for piece in scene.dressing):
        found.append((line(THIN, DOTTED), "where small things are scattered"))
    if roadside_of(scene).strips:
        found.append((line(THIN), "edges of kerb and pavement"))
    if any(lifted(scene, solid) for solid in pieces_of(scene) if solid.kind not in LIGHT_CARDS):
        found.append((line(THIN, DASHED), "what stands over the ground"))
    if puddles_of(scene):
        found.append((line(THIN, CHAINED, GREY), "puddle"))
    if any(hasattr(light, "aim") for light in scene.lights):
        area = any(isinstance(light, Panel) or getattr(light, "diffuser", None) for light in scene.lights)
        words = "lamp, the way it faces" + (", dashed its lit area" if area else "")
        found.append((lambda sheet, x, y: symbols.lamp_mark(sheet, (x + _SAMPLE / 2, y)), words))
    if scene.set.backdrop is not None:
        found.append(
            (line(2 * THICK), "backdrop" + (", dashed: its bend begins" if scene.set.backdrop.join.cove else ""))
        )
    return found


def _band(sheet: Sheet, outline: Array) -> None:
    sheet.hatch(outline, turn=symbols.BAND_TURN, step=symbols.BAND_STEP, ink=GREY)
    sheet.line(outline[[0, 3]], MEDIUM)
    sheet.line(outline[[1, 2]], MEDIUM)


def _coming(sheet: Sheet, outline: Array) -> None:
    symbols.vehicle_outline(sheet, outline, now=False)
