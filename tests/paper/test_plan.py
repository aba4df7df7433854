"""The plan: lengths read back from its PDF, its numbers against `check`, words that keep clear of one another."""

import itertools
import math
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely
import trimesh

from previz.evening import Position, moves_between
from previz.layout import SEE_THROUGH, backdrop_plane, hits, pieces_of, puddles_of, solids_of
from previz.paper import PAPERS, Sheet, pdf_of, plan_sheets
from previz.paper.buying import buying_list
from previz.paper.measures import tape_of
from previz.paper.plan import symbols
from previz.paper.plan.card import _begins, _vehicle_rows, settings_of
from previz.paper.plan.key import places_table
from previz.paper.plan.labels import Label, Placing
from previz.paper.plan.lists import build_list, caution_list, lamp_list, lists, puddle_list
from previz.paper.plan.otherwise import otherwise_list
from previz.paper.plan.page import Maker
from previz.paper.plan.seen import table_seen
from previz.paper.plan.setup import Setup, setup_of
from previz.paper.prints.ground import ground_plan
from previz.paper.sheet import BLACK, DASHED, GREY, MEDIUM, THICK, THIN, WHITE, Area, Box, Stroke, Table, View, Words
from previz.predictions import Predictions, brief_of_shot, focus_marks, making_cautions, predict, view_of
from previz.predictions.agreed import GIVEN_UP, LEFT, MENDED
from previz.scene import Scene, read_scene, setups_of, with_all
from previz.units import Tape
from tests.paper.random_papers import random_scene, scene_text
from tests.paper.reading import Page, pages_of

SCENES = Path(__file__).parents[2] / "scenes"
DEMOS = sorted(SCENES.glob("*.yaml"))
SHORT = [file for file in DEMOS if file.stem not in ("early_post", "country_garage")]  # those have several shots

#: 40 pieces in the least room, one, and none; metric and inches; on a ramp and not.
TRIED = [(1, 1, "mm"), (3, 40, "in"), (4, 1, "in"), (5, 40, "cm"), (6, 0, "in"), (7, 12, "mm")]

#: The worked example: a 50 mm lens, level, with an object 500 mm before it. 1/f = 1/u + 1/v gives v = 55.556 mm, so
#: that a tape from the sensor mark reads 556 mm (by hand).
LEVEL = """
title: Worked example
scale: 1:50
set:
  table: {width: 1000 mm, depth: 600 mm}
  road: {lane: 70 mm, centre: [[-50 mm, 300 mm], [1050 mm, 300 mm]]}
  backdrop: {distance: 590 mm, height: 400 mm, colour: grey}
dressing:
  - {id: shed, piece: building, at: [300 mm, 480 mm], turn: 30 deg}
vehicle: {body: van, speed: 0.5 m/s}
lights: [{id: room, ambient: 200 lx}]
cameras: {big: {sensor: full frame, lens: 50 mm, widest: f/2, nearest: 300 mm, modes: [1080p60]}}
shots:
  - {id: level, camera: big, focal_length: 50 mm, f_number: 8, at: [500 mm, -200 mm, 40 mm],
     aim: [500 mm, 300 mm, 40 mm], focus: 500 mm, capture: {rate: 60 fps}, start: 0.6 s, duration: 0.8 s}
"""


def _read(tmp_path: Path, text: str) -> Scene:
    file = tmp_path / "scene.yaml"
    file.write_text(text, encoding="utf-8")
    return read_scene(file)


def _planned(scene: Scene, paper: str = "a4", *, remedies: bool = False) -> tuple[list[Sheet], Predictions]:
    predictions = predict(scene, remedies=remedies)
    return plan_sheets(scene, predictions, scene.shots, paper=PAPERS[paper], file="scene.yaml"), predictions


def _scale_of(page: Page) -> float:
    told = next(line.text for line in page.lines if "drawn 1:" in line.text)
    return float(told.split("drawn 1:")[1].split()[0])


def _closed(page: Page, weight: float) -> list[np.ndarray]:
    """Outlines drawn with a line of a weight."""
    return [
        path.points
        for path in page.paths
        if abs(path.weight - weight) < 0.01 and len(path.points) > 3 and np.allclose(path.points[0], path.points[-1])
    ]


def _marks(page: Page) -> list[np.ndarray]:
    """Middles of the circles of the pupil's and the sensor's mark."""
    rings = [ring for ring in _closed(page, MEDIUM) if len(ring) == 25 and np.ptp(ring[:, 0]) < 2.3]
    return [ring[:-1].mean(axis=0) for ring in rings]


# --- to scale, read back ---


@pytest.mark.parametrize(("file", "paper"), list(zip(SHORT, ("a4", "letter", "a3"), strict=True)), ids=str)
def test_table_and_pieces_are_to_scale_on_the_plan(file: Path, paper: str) -> None:
    scene = read_scene(file)
    sheets, _ = _planned(scene, paper)
    assert len(sheets) <= 6
    page = pages_of(pdf_of(sheets, scene.title))[0]
    assert (page.width, page.height) == pytest.approx((PAPERS[paper].long, PAPERS[paper].short), abs=0.01)
    scale = _scale_of(page)
    (table,) = _closed(page, THICK)[:1]
    corner = table.min(axis=0)
    assert np.ptp(table, axis=0) * scale == pytest.approx(
        [scene.set.table.width * 1000, scene.set.table.depth * 1000], abs=0.1 * scale
    )
    outlines = [ring[:-1] for ring in _closed(page, MEDIUM)]
    for solid in pieces_of(scene):
        foot = solid.below(solid.base + 1e-6) * 1000 / scale + corner
        off = [
            np.abs(ring - np.roll(foot, n, axis=0)).max()
            for ring in outlines
            if len(ring) == len(foot)
            for n in range(len(foot))
        ] + [
            np.abs(ring[::-1] - np.roll(foot, n, axis=0)).max()
            for ring in outlines
            if len(ring) == len(foot)
            for n in range(len(foot))
        ]
        assert min(off) < 0.1, solid.name


def test_the_marks_of_a_camera_are_where_a_tape_finds_them(tmp_path: Path) -> None:
    scene = _read(tmp_path, LEVEL)
    sheets, predictions = _planned(scene)
    pages = pages_of(pdf_of(sheets, scene.title))
    page, scale = pages[0], _scale_of(pages[0])
    (table,) = _closed(page, THICK)[:1]
    corner = table.min(axis=0)
    in_place = {tuple(np.round((mark - corner) * scale, 1)) for mark in _marks(page)[:2]}
    assert in_place == {(500.0, -200.0), (500.0, -255.6)}  # the pupil, and v behind it
    assert predictions.shot("level").value("focus_from_sensor") == pytest.approx(0.5556, abs=5e-5)
    card = next(each for each in pages if "Setup card" in each.text)
    assert "556 mm" in card.text
    assert "500 mm" in card.text


#: A lens of 80 mm whose front rim is 40 mm before its pupil; the van comes towards it, and focus goes with it.
TOWARDS = (
    LEVEL.replace("modes: [1080p60]}", "modes: [1080p60], lens_size: [60 mm, 80 mm]}")
    .replace("at: [500 mm, -200 mm, 40 mm]", "at: [1300 mm, 300 mm, 40 mm]")
    .replace("aim: [500 mm, 300 mm, 40 mm], focus: 500 mm", "aim: [0 mm, 300 mm, 40 mm], focus: vehicle")
)


def test_a_focus_that_goes_has_its_marks_with_their_frames(tmp_path: Path) -> None:
    """The van's middle starts from x = -50 mm at 0.5 m/s; from the sensor mark v = f s / (s - f) more, by hand."""
    scene = _read(tmp_path, TOWARDS)
    (above, _, told, *_), predictions = _planned(scene)
    figures = {figure.of: figure for figure in predictions.shot("level").figures if figure.quantity == "focus_at"}
    setup = setup_of(scene, scene.shots[0], predictions)
    assert setup is not None
    marks = setup.focus_marks
    assert [mark.when for mark in marks] == list(figures)
    assert [marks[0].frame, marks[-1].frame, len(marks)] == [0, 47, 5]
    rows = [each.text for each in told.lettering if each.text.endswith(" mm") and " / " in each.text]
    for mark, row in zip(marks, rows, strict=True):
        s = 1300 - (-50 + 500 * mark.time)
        assert mark.distance * 1000 == figures[mark.when].value * 1000 == pytest.approx(s, abs=0.5)
        from_sensor = s + 50 * s / (s - 50)
        assert mark.from_sensor * 1000 == pytest.approx(from_sensor, abs=0.5)
        told_from = [float(each) for each in row.removesuffix(" mm").split(" / ")]
        assert told_from == pytest.approx([s - 40, from_sensor], abs=0.5)
    scale = float(next(words.text for words in above.lettering if "drawn 1:" in words.text)[8:].split()[0])
    thin = [each.points for each in _strokes(above) if len(each.points) == 4 and each.weight == THIN]
    squares = [each.mean(axis=0) for each in thin if np.ptp(each[:, 0]) == pytest.approx(2.0)]
    apart = np.diff([x for x, _ in squares[: len(marks)]]) * scale
    assert apart == pytest.approx(np.diff([1300 - mark.distance * 1000 for mark in marks]), abs=0.1)
    focus = dict(brief_of_shot(scene, scene.shots[0], predictions.shot("level").figures))["focus"]
    ends = [mark.distance * 1000 for mark in marks]
    assert f"{min(ends):.0f} to {max(ends):.0f} mm from the middle of the lens" in focus
    assert f"{min(ends) - 40:.0f} to {max(ends) - 40:.0f} mm from the front rim" in focus


def test_focus_marks_turn_where_it_turns_and_stay_away_where_it_stays(tmp_path: Path) -> None:
    keyed = "[{time: 0.7 s, at: 900 mm}, {time: 0.9 s, at: 450 mm}, {time: 1.2 s, at: 600 mm}]"
    scene = _read(tmp_path, LEVEL.replace("focus: 500 mm", f"focus: {keyed}"))
    view = view_of(scene, scene.shots[0])
    marks = focus_marks(view)
    assert len(marks) == 6  # both ends, three keys, and where it turns, just past one of them
    assert [round(mark.time, 2) for mark in marks if mark.time in view.times[[0, -1]]] == [0.6, 1.39]
    assert min(mark.distance for mark in marks) == view.focus.min()
    assert {round(mark.time, 1) for mark in marks} >= {0.7, 0.9, 1.2}
    still = _read(tmp_path, LEVEL)
    assert focus_marks(view_of(still, still.shots[0])) == ()


@pytest.mark.parametrize(("long", "sensor"), [(80, True), (140, False)])
def test_the_front_rim_is_told_and_no_sensor_inside_its_barrel(tmp_path: Path, long: int, sensor: bool) -> None:
    """The pupil is in the middle of the lens; a thin lens's sensor is 55.6 mm behind it, in the longer one's barrel."""
    text = LEVEL.replace("modes: [1080p60]}", f"modes: [1080p60], lens_size: [60 mm, {long} mm]}}")
    (above, _, told, *_), _ = _planned(_read(tmp_path, text))
    words = " ".join(each.text for each in above.lettering)
    assert f"front rim of lens 500 {long // 2 - 200} 40 middle of lens 500 -200 40" in words
    assert ("sensor 500 -256 40" in words) is sensor
    assert ("measure from the rim" in words) is not sensor
    card = " ".join(each.text for each in told.lettering)
    assert f"focus from front rim {500 - long // 2} mm" in card  # as a tape shows it
    assert ("focus from sensor 556 mm" in card) is sensor


def test_what_has_no_room_on_a_plan_is_told_once_on_the_page_that_it_names(tmp_path: Path) -> None:
    cones = "".join(f"  - {{id: c{n}, piece: cone, at: [{20 * n} mm, 450 mm]}}\n" for n in range(45))
    shot = LEVEL[LEVEL.index("  - {id: level") :]
    text = LEVEL.replace("vehicle:", cones + "vehicle:") + shot.replace("id: level", "id: again")
    sheets, _ = _planned(_read(tmp_path, text))
    listed = [
        [words.text for words in sheet.lettering if words.text.startswith("Places of pieces")] for sheet in sheets
    ]
    assert sum(map(len, listed)) == 1
    page = next(number for number, found in enumerate(listed, start=1) if found)
    more = [words.text for sheet in sheets for words in sheet.lettering if " more pieces on " in words.text]
    assert len(more) == 2 and all(text.endswith(f"more pieces on page {page}") for text in more)
    assert f"page {page} of {len(sheets)}" in [words.text for words in sheets[page - 1].lettering]
    told = [words.text for words in (*sheets[0].lettering, *sheets[page - 1].lettering)]
    assert all(any(text.endswith(f"c{n}") for text in told) for n in range(45))


def test_no_page_has_one_row_of_a_list() -> None:
    maker = Maker(PAPERS["a4"], "lists", "", Tape("mm"))
    for count in range(20, 40):
        table = Table(("a", "b"), tuple((str(n), "b") for n in range(count)))
        sheets, begins = lists(maker, [("first", table.part(3)), ("rows", table)])
        assert begins == {"first": 0, "rows": 0}
        rows = [sum(words.text == "b" and not words.bold for words in sheet.lettering) for sheet in sheets]
        assert min(rows) >= 3 and sum(rows) == count + 3


def test_puddles_are_listed_where_they_lie(tmp_path: Path) -> None:
    ground = "set:\n  ground: {surface: asphalt, puddles: {count: 4, size: [30 mm, 60 mm]}}"
    scene = _read(tmp_path, LEVEL.replace("set:", ground))
    rows = puddle_list(scene).rows
    puddles = puddles_of(scene)
    assert len(rows) == len(puddles) > 2
    for (_, x, y, size), puddle in zip(rows, puddles, strict=True):
        inside = shapely.Polygon(puddle.outline)
        assert inside.contains(shapely.Point(float(x) / 1000, float(y) / 1000))
        wide, deep = (float(each) / 1000 for each in size.split(" × "))
        left, low, right, high = inside.bounds
        assert (wide, deep) == pytest.approx((right - left, high - low), abs=6e-4)
    titles = [
        words.text for sheet in _planned(scene)[0] for words in sheet.lettering if words.text.startswith("Puddles")
    ]
    assert len(titles) == 1


def test_lamps_that_are_alike_in_a_row_have_one_name(tmp_path: Path) -> None:
    bulbs = ", ".join(
        f"{{id: b{n}, bulb: 5 mm, output: 1 lm, at: [{100 + 150 * n} mm, 400 mm, {180 + 5 * n} mm]}}" for n in range(5)
    )
    odd = "{id: odd, bulb: 5 mm, output: 2 lm, at: [900 mm, 400 mm, 180 mm]}"
    above, side = _planned(_read(tmp_path, LEVEL.replace("lights: [", f"lights: [{bulbs}, {odd}, ")))[0][:2]
    for sheet in (above, side):
        told = [words.text for words in sheet.lettering]
        assert {"b0 to b4, left to right", "5 lamps, 180 to 200 mm up", "odd", "180 mm up"} <= set(told)
        assert not {"b0", "b1", "b4"} & set(told)


#: The same from 140 mm up, aimed at the table 500 mm off, so that it looks down by the angle of sine 0.28: by hand, a
#: plane square to the axis so far along it as d meets the table (d - 140 x 0.28) / 0.96 before the lens.
LOOKS_DOWN = LEVEL.replace("-200 mm, 40 mm]", "-200 mm, 140 mm]").replace("300 mm, 40 mm]", "280 mm, 0 mm]")


@pytest.mark.parametrize(("text", "lies"), [(LEVEL, (0.0, 1.0)), (LOOKS_DOWN, (39.2, 0.96))], ids=["level", "down"])
def test_the_band_that_is_sharp_is_where_what_check_calls_so_meets_the_table(
    text: str, lies: tuple[float, float], tmp_path: Path
) -> None:
    scene = _read(tmp_path, text)
    sheets, predictions = _planned(scene)
    figures = predictions.shot("level")
    page = pages_of(pdf_of(sheets, scene.title))[0]
    scale = _scale_of(page)
    pupil = max(_marks(page), key=lambda mark: mark[1])
    lines = [path.points for path in page.paths if abs(path.weight - MEDIUM) < 0.01 and len(path.points) == 2]
    level = [line for line in lines if abs(line[0, 1] - line[1, 1]) < 1e-3 and np.ptp(line[:, 0]) > 10]
    found = {round(float(line[0, 1] - pupil[1]) * scale, 1): np.ptp(line[:, 0]) * scale for line in level}
    for limit in ("near_limit", "far_limit"):
        away = figures.value(limit) * 1000
        before = (away - lies[0]) / lies[1]
        nearest = min(found, key=lambda each: abs(each - before))
        assert nearest == pytest.approx(before, abs=1.0)
        # As wide as the picture there: 36 mm of sensor, 55.556 mm behind the lens (similar triangles, by hand).
        assert found[nearest] == pytest.approx(away * 36 / 55.5556, abs=0.2 * scale)
    near, far = (tape_of(scene)(figures.value(limit)) for limit in ("near_limit", "far_limit"))
    assert f"Sharp {near} to {far}" in page.text.replace("\n", " ")


def test_heights_are_to_scale_on_the_side_view(tmp_path: Path) -> None:
    scene = _read(tmp_path, LEVEL)
    sheets, _ = _planned(scene)
    page = pages_of(pdf_of(sheets, scene.title))[1]
    scale = _scale_of(page)
    table = next(path.points for path in page.paths if abs(path.weight - 2 * THICK) < 0.01)
    assert np.ptp(table[:, 0]) * scale == pytest.approx(600, abs=0.1 * scale)
    front, top = table[:, 0].min(), table[0, 1]
    marks = {tuple(np.round((mark - [front, top]) * scale)) for mark in _marks(page)[:2]}
    assert marks == {(-200.0, 40.0), (-256.0, 40.0)}
    backdrop = next(path.points for path in page.paths if abs(path.weight - THICK) < 0.01 and len(path.points) > 2)
    assert np.ptp(backdrop[:, 1]) * scale == pytest.approx(400, abs=0.1 * scale)


def test_a_lit_area_is_drawn_whole_or_told(tmp_path: Path) -> None:
    """A window that reaches past the side view would be cut off to lines that nobody takes for a lamp."""
    lamp = "{id: %s, panel: [%s], at: [-400 mm, 300 mm, 500 mm], aim: [500 mm, 300 mm, 0 mm], output: 900 lm}"
    told = {}
    for name, size in (("small", "200 mm, 150 mm"), ("window", "1000 mm, 1800 mm")):
        scene = _read(tmp_path, LEVEL.replace("lights: [", f"lights: [{lamp % (name, size)}, "))
        sheet = _planned(scene)[0][1]
        strokes = [mark for mark in sheet.marks if isinstance(mark, Stroke)]
        dashed = [mark for mark in strokes if mark.dashes == DASHED and mark.ink == GREY]
        told[name] = len(dashed), [words.text for words in sheet.lettering if "lit area" in words.text]
        assert any(words.text == name for words in sheet.lettering)
    assert told == {"small": (1, []), "window": (0, ["lit area 1000 × 1800 mm"])}


def test_names_keep_clear_of_the_scale(tmp_path: Path) -> None:
    """A lamp at the lower left of a plan, whose name has room beside it there but for the scale."""
    lamps = (
        "{id: desk, bulb: 60 mm, at: [200 mm, -200 mm, 700 mm], output: 9 lm}, "
        "{id: sun, panel: [300 mm, 200 mm], at: [100 mm, -320 mm, 800 mm], aim: [600 mm, 350 mm, 0 mm], output: 9 lm}, "
    )
    wide = LEVEL.replace("{width: 1000 mm, depth: 600 mm}", "{width: 1200 mm, depth: 700 mm}")
    wide = wide.replace("at: [500 mm, -200 mm, 40 mm]", "at: [600 mm, -50 mm, 40 mm]")
    above = _planned(_read(tmp_path, wide.replace("lights: [", f"lights: [{lamps}")))[0][0]
    begins, ends = (next(each.box for each in above.lettering if each.text == text) for text in ("0", "400 mm"))
    scale = Box(begins.left, begins.low - 2.0, ends.right, ends.high).shape
    over = [each.text for each in above.lettering if each.box.shape.intersects(scale)]
    assert sorted(over) == ["0", "200", "400 mm"]


def test_names_and_lengths_keep_clear_of_lamps(tmp_path: Path) -> None:
    """A lamp before the table, where the name of one that stands off the sheet and a dimension want to be as well."""
    lamps = (
        "{id: low, panel: [300 mm, 200 mm], at: [100 mm, -200 mm, 900 mm], aim: [500 mm, 300 mm, 0 mm], "
        "output: 900 lm}, "
        "{id: window, panel: [1000 mm, 1200 mm], at: [-900 mm, 200 mm, 600 mm], aim: [500 mm, 300 mm, 0 mm], "
        "output: 900 lm}, "
    )
    sheet = Sheet(297, 210, "crowded")
    symbols.lamp_mark(sheet, (130.0, 106.0))
    # No higher than a name: beside its thing to the left it has no room, and to the right there stands the lamp.
    placing = Placing.on(sheet, Box(100.0, 102.0, 160.0, 110.0))
    lamp = Label(("a",), symbols.circle((130.0, 106.0), 2.4), sign=True)
    placing.place([Label(("a name that is long",), symbols.circle((122.0, 106.0), 1.8)), lamp])
    assert _over_lamps(sheet) == 0 and "a" in [words.text for words in sheet.lettering]
    above, side = _planned(_read(tmp_path, LEVEL.replace("lights: [", f"lights: [{lamps}")))[0][:2]
    assert _over_lamps(above) == _over_lamps(side) == 0
    (lit,) = [shapely.linestrings(each.points) for each in _strokes(above) if each.ink == GREY and each.dashes == DASHED
              and len(each.points) == 5]  # fmt: skip
    lengths = [words for words in above.lettering if words.text.endswith(" mm") and words.align == "middle"]
    assert len(lengths) == 5
    assert [words.text for words in lengths if lit.intersects(shapely.Polygon(words.corners))] == []


def test_a_letter_stands_on_that_side_of_its_mark_where_it_covers_nothing(tmp_path: Path) -> None:
    """Beyond its mark, upwards; beside it where a house begins there, or one is to each side but that to the right."""
    house = np.array([[90.0, 102.0], [110.0, 102.0], [110.0, 112.0], [90.0, 112.0]])
    beside = house - [11.5, 6.0]  # to the left, up to the height of the mark

    def letter(*things: np.ndarray) -> tuple[float, float]:
        sheet = Sheet(297, 210, "one mark")
        for outline in things:
            sheet.line(outline, MEDIUM, closed=True)
        placing = Placing.on(sheet, Box(50.0, 50.0, 150.0, 150.0))
        placing.keep_out(list(things))
        placing.number("a", np.array([100.0, 100.0]), np.array([0.0, -1.0]))
        (words,) = [each for each in sheet.lettering if each.text == "a"]
        assert not [each for each in things if shapely.Polygon(each).intersects(words.box.shape)]
        x, y = words.box.middle
        return round(x - 100, 1), round(y - 100, 1)

    assert letter()[0] == 0 and letter()[1] > 1.5
    for things in ((house,), (house, beside)):
        x, y = letter(*things)
        assert abs(x) > 1.5 and abs(y) < 0.5
    assert letter(house, beside)[0] > 0


def test_no_name_covers_a_mark_of_focus(tmp_path: Path) -> None:
    """Small things with long names stand close by the marks, all along."""
    near = [
        f"{{id: a_cone_with_a_name_{n}, piece: cone, at: [{200 + 60 * n} mm, {395 + 10 * (n % 2)} mm]}}"
        for n in range(12)
    ]
    above = _planned(
        _read(tmp_path, TOWARDS.replace("dressing:\n", "dressing:\n" + "".join(f"  - {each}\n" for each in near), 1))
    )[0][0]
    thin = [each.points for each in _strokes(above) if len(each.points) == 4 and each.weight == THIN]
    marks = [shapely.Polygon(each) for each in thin if np.ptp(each[:, 0]) == pytest.approx(2.0)]
    assert len(marks) >= 5
    for words in above.lettering:
        assert not any(mark.intersects(words.box.shape) for mark in marks), words.text


def test_a_piece_that_stands_on_no_ground_has_its_height_everywhere(tmp_path: Path) -> None:
    """A deck over the road: dashed on the plan and the ground plan, and how high its foot is on every list."""
    deck = "{id: deck, piece: wall, at: [700 mm, 300 mm, 120 mm], length: 300 mm, height: 15 mm, turn: 90 deg}"
    scene = _read(tmp_path, LEVEL.replace("dressing:", f"dressing:\n  - {deck}"))
    above, side = _planned(scene)[0][:2]
    scale = float(next(words.text for words in above.lettering if "drawn 1:" in words.text)[8:].split()[0])
    around = [each for each in _strokes(above) if np.isclose(np.ptp(each.points, axis=0)[1] * scale, 300, atol=0.1)]
    assert [each.dashes for each in around] == [DASHED]
    for sheet in (above, side):
        assert "120 mm up" in [words.text for words in sheet.lettering]
    assert [row[3] for row in places_table(scene, numbered=False).rows] == ["120", ""]
    (row,) = [row for row in build_list(scene).rows if row[0] == "deck"]
    assert row[1] == "wall, its foot 120 mm above the table"
    on_table = Sheet(1200, 800, "ground")
    part = ground_plan(scene)
    assert part is not None
    part.draw(View(on_table, Box(0, 0, 1200, 800), 1.0, (0.0, 0.0)))
    around = [each for each in _strokes(on_table) if np.isclose(np.ptp(each.points[:, 1]), 300, atol=0.1)]
    assert [each.dashes for each in around] == [DASHED]


# --- what is seen ---


def _hidden_by_backdrop(scene: Scene, eye: np.ndarray, ground: np.ndarray) -> np.ndarray:
    """Which points (n, 3) the backdrop hides, by Embree's rays on a sheet bent round a true quarter circle. (n,)"""
    backdrop, table = scene.set.backdrop, scene.set.table
    assert backdrop is not None
    turn, cove = np.linspace(0, math.pi / 2, 400), backdrop.join.cove
    off = backdrop.distance - cove + np.append(cove * np.sin(turn), cove)
    up = np.append(cove * (1 - np.cos(turn)), backdrop.height)
    long, wide = (table.depth, table.width) if backdrop.side in ("back", "front") else (table.width, table.depth)
    towards = off if backdrop.side in ("back", "right") else long - off
    half = (backdrop.width or wide) / 2
    rows = [np.column_stack([np.full(len(off), wide / 2 + end), towards, up]) for end in (-half, half)]
    if backdrop.side in ("left", "right"):
        rows = [row[:, [1, 0, 2]] for row in rows]
    n = np.arange(len(off) - 1)
    m = n + len(off)
    faces = np.concatenate([np.column_stack([n, n + 1, m]), np.column_stack([n + 1, m + 1, m])])
    sheet = trimesh.Trimesh(np.concatenate(rows), faces, process=False)
    rays = eye - ground  # from the table, so that what lies on it is not met
    return np.asarray(sheet.ray.intersects_any(ground + 1e-6 * rays, rays))


def _reached(scene: Scene) -> tuple[shapely.Geometry, np.ndarray, np.ndarray]:
    """What the plan says the first shot sees; points (n, 2) not on its edge, and which of them rays reach, (n,)."""
    view = view_of(scene, scene.shots[0])
    seen = table_seen(view)
    points = np.random.default_rng(5).uniform([0, 0], [scene.set.table.width, scene.set.table.depth], (2000, 2))
    points = points[shapely.distance(shapely.points(points), seen.boundary) > 1e-3]
    ground = np.column_stack([points, np.zeros(len(points))])
    places, depths = view.project(ground)
    inside = (depths[0] > 0) & ((places[0] > 0) & (places[0] < np.array(view.size))).all(axis=1)
    eye = view.cameras[0].position
    solids = [solid for solid in solids_of(scene) if solid.kind not in SEE_THROUGH]
    rays = (ground - eye) * (1 - 1e-6)
    hidden = hits(np.broadcast_to(eye, rays.shape), rays, solids).any(axis=1)
    return seen, points, inside & ~hidden & ~_hidden_by_backdrop(scene, eye, ground)


@pytest.mark.parametrize(("seed", "pieces"), [(11, 6), (12, 15), (13, 30)])
def test_what_is_shaded_is_what_rays_do_not_reach(tmp_path: Path, seed: int, pieces: int) -> None:
    seen, points, reached = _reached(random_scene(tmp_path, seed, pieces))
    assert 0.02 < reached.mean() < 0.98
    assert (shapely.contains_xy(seen, points) == reached).all()


@pytest.mark.parametrize("up", [30, 120, 400])
@pytest.mark.parametrize("join", ["straight", "cove 80 mm"])
@pytest.mark.parametrize("side", ["back", "front", "left", "right"])
def test_what_lies_behind_the_backdrop_is_not_seen(tmp_path: Path, side: str, join: str, up: int) -> None:
    """On each side of the table, by lenses lower than the bend, lower than the sheet and higher, beside and over it."""
    stands = {"back": (640, -250), "front": (640, 850), "left": (1250, 340), "right": (-250, 340)}
    x, y = stands[side]
    sheet = f"{{side: {side}, distance: 350 mm, height: 250 mm, width: 300 mm, join: {join}, colour: grey}}"
    text = LEVEL.replace("{distance: 590 mm, height: 400 mm, colour: grey}", sheet)
    text = text.replace("lens: 50 mm", "lens: 20 mm").replace("focal_length: 50 mm", "focal_length: 20 mm")
    text = text.replace("at: [500 mm, -200 mm, 40 mm]", f"at: [{x} mm, {y} mm, {up} mm]")
    scene = _read(tmp_path, text.replace("aim: [500 mm, 300 mm, 40 mm]", "aim: [500 mm, 300 mm, 20 mm]"))
    seen, points, reached = _reached(scene)
    assert (shapely.contains_xy(seen, points) == reached).all()
    plane = backdrop_plane(scene)
    assert plane is not None
    behind = (plane.before(points) < 0) & plane.beside(points)
    assert 0.02 < reached.mean() < 0.98
    assert behind.any()
    if up < 250:
        assert not reached[behind & (plane.before(points) > -0.05)].any()


@pytest.mark.parametrize(("side", "x"), [("left", 1250), ("right", -250)])
def test_the_edges_of_the_picture_end_at_the_backdrop(tmp_path: Path, side: str, x: int) -> None:
    sheet = f"{{side: {side}, distance: 600 mm, height: 400 mm, width: 900 mm, colour: grey}}"
    text = LEVEL.replace("{distance: 590 mm, height: 400 mm, colour: grey}", sheet)
    above = _planned(_read(tmp_path, text.replace("at: [500 mm, -200 mm", f"at: [{x} mm, 300 mm")))[0][0]
    lines = [each for each in _strokes(above) if len(each.points) == 2 and np.ptp(each.points[:, 1]) > 1]  # no samples
    (hung,) = [each.points[0, 0] for each in lines if each.weight == 2 * THICK]
    edges = [each.points for each in lines if each.weight == MEDIUM and each.dashes == DASHED]
    assert len(edges) == 2
    for edge in edges:
        assert (edge[:, 0].min() if side == "left" else edge[:, 0].max()) == pytest.approx(hung)


# --- words ---


def _overlaps(sheet: Sheet) -> list[tuple[str, str]]:
    words = [each for each in sheet.lettering if each.text.strip()]
    shapes = [shapely.Polygon(each.corners).buffer(-0.05) for each in words]
    pairs = shapely.STRtree(shapes).query(shapes, predicate="intersects").T
    return [(words[a].text, words[b].text) for a, b in pairs if a < b]


def _outside(sheet: Sheet) -> list[str]:
    room = sheet.inside.grown(0.5)
    return [words.text for words in sheet.lettering if not words.box.within(room)]


def _strokes(sheet: Sheet) -> list[Stroke]:
    return [mark for mark in sheet.marks if isinstance(mark, Stroke)]


def _over_lamps(sheet: Sheet) -> int:
    """Words, and the white grounds of words, that are drawn over the disc of a lamp's mark."""
    discs, over = [], 0
    for mark in sheet.marks:
        if isinstance(mark, Area) and mark.ink == BLACK and len(mark.outlines[0]) >= 12:
            discs.append(shapely.Polygon(mark.outlines[0]))
        elif isinstance(mark, Words) or (isinstance(mark, Area) and mark.ink == WHITE and len(mark.outlines[0]) == 4):
            outline = mark.corners if isinstance(mark, Words) else mark.outlines[0]
            over += int(shapely.intersects(shapely.Polygon(outline), discs).sum())
    return over


def _untidy(scene: Scene, papers: tuple[str, ...]) -> dict[tuple[str, str], object]:
    """Words over one another or off the page, by paper and sheet."""
    predictions, found = predict(scene), {}
    for paper in papers:
        for sheet in plan_sheets(scene, predictions, scene.shots, paper=PAPERS[paper], file="scene.yaml"):
            if wrong := (*_overlaps(sheet), *_outside(sheet), *["over a lamp"] * _over_lamps(sheet)):
                found[paper, sheet.name] = wrong
    return found


@pytest.mark.parametrize(("seed", "pieces", "unit"), TRIED[::2])
def test_words_keep_clear_of_each_other_and_of_the_margin(tmp_path: Path, seed: int, pieces: int, unit: str) -> None:
    assert _untidy(random_scene(tmp_path, seed, pieces, unit), ("a4", "letter", "a3")) == {}


@pytest.mark.parametrize("file", DEMOS, ids=lambda file: file.stem)
def test_words_keep_clear_on_the_demo_scenes(file: Path) -> None:
    assert _untidy(read_scene(file), ("a4", "tabloid") if file in SHORT else ("letter",)) == {}


def test_nothing_runs_off_the_page_as_the_pdf_has_it(tmp_path: Path) -> None:
    sheets, _ = _planned(random_scene(tmp_path, 2, 40))
    for page in pages_of(pdf_of(sheets, "all")):
        assert page.lines
        for line in page.lines:
            left, low, right, high = line.box
            assert left > 5 and low > 5 and right < page.width - 5 and high < page.height - 5
        for path in page.paths:
            if path.weight:
                assert path.points.min() > 5
                assert (path.points.max(axis=0) < [page.width - 5, page.height - 5]).all()


def test_every_sheet_reads_in_black_and_white(tmp_path: Path) -> None:
    sheets, _ = _planned(random_scene(tmp_path, 7, 12))
    weights = set()
    for mark in itertools.chain(*(sheet.marks for sheet in sheets)):
        if isinstance(mark, Stroke):
            weights.add(mark.weight)
        if isinstance(mark, Words):
            assert mark.size >= 8
        if isinstance(mark, Stroke | Words | Area):
            red, green, blue = (int(mark.ink[n : n + 2], 16) for n in (1, 3, 5))
            assert red == green == blue
            if not isinstance(mark, Area):
                assert red < 0x70  # at least 5 to 1 against white paper
    assert weights == {THIN, MEDIUM, THICK, 2 * THICK}


def test_every_piece_is_named_or_numbered(tmp_path: Path) -> None:
    scene = random_scene(tmp_path, 7, 12)
    sheets, _ = _planned(scene)
    told = [words.text for words in sheets[0].lettering]
    for number, solid in enumerate(pieces_of(scene), start=1):
        assert solid.name in told or str(number) in told


def test_a_long_row_is_named_at_its_ends_and_its_step_is_told(tmp_path: Path) -> None:
    row = "  - {id: posts, piece: cone, at: [100 mm, 450 mm], copies: 20, step: [40 mm, 0 mm, 0 mm]}\n"
    scene = _read(tmp_path, LEVEL.replace("vehicle:", row + "vehicle:"))
    sheets, _ = _planned(scene)
    told = [words.text for words in sheets[0].lettering]
    assert {"posts", "posts/20", "shed", "posts, 20 of them", "100 + 40"} <= set(told)
    assert "posts/2" not in told


# --- what it says ---


def test_a_card_has_the_figures_of_check_and_what_to_watch(tmp_path: Path) -> None:
    scene = random_scene(tmp_path, 8, 5, launched=True)
    sheets, predictions = _planned(scene, remedies=True)
    card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
    told = " ".join(words.text for words in card.lettering)
    figures, tape = predictions.shots[0], tape_of(scene)
    assert f"focus from sensor {tape(figures.value('focus_from_sensor'))} " in told
    assert f" {tape(figures.value('focus_distance'))} " in told
    assert f"{tape(figures.value('near_limit'))} to {tape(figures.value('far_limit'))}" in told
    assert tape(0.12, 1) in told  # the release height, as the scene has it
    assert "1/240 s (180 deg)" in told
    worst = next(each for each in predictions.findings if each.verdict != "fine")
    assert worst.message.split(".")[0] in told
    # In the words of `check`, which has the compromise beside what points to it.
    assert predictions.compromises and f"Compromise: {predictions.compromises[0].words.split('.')[0]}" in told
    assert (LEFT in told or MENDED in told) and GIVEN_UP not in told


LAMPS = """lights:
  - {id: room, ambient: 200 lx}
  - {id: over, panel: [300 mm, 200 mm], at: [500 mm, 300 mm, 900 mm], aim: [500 mm, 300 mm, 0 mm], output: 900 lm}
  - {id: side, spot: 30 deg, at: [-400 mm, 100 mm, 350 mm], aim: [500 mm, 300 mm, 0 mm], output: 900 lm}
  - {id: far, spot: 30 deg, at: [4000 mm, -3000 mm, 1500 mm], aim: [500 mm, 300 mm, 0 mm], output: 900 lm}
"""


@pytest.mark.parametrize(("start", "says"), [("0 s", "at the same time as"), ("0.3 s", "0.30 s after")])
def test_a_card_says_when_another_vehicle_sets_out(start: str, says: str, tmp_path: Path) -> None:
    other = f"vehicles: {{car: {{body: saloon, reverse: true, speed: 0.4 m/s, start: {start}}}}}"
    scene = _read(tmp_path, LEVEL.replace("lights:", f"{other}\nlights:"))
    (car,) = [value for name, value in _vehicle_rows(scene, _setup(scene), tape_of(scene)) if name == "car"]
    assert car == f"0.4 m/s; starts {says} the vehicle"


@pytest.mark.parametrize(
    ("vehicle", "start", "says"),
    [
        ("start: 0.4 s", 0.0, "0.400 s before the vehicle is at the start of its way"),
        ("start: 0.4 s", 0.7, "0.300 s into the vehicle's way"),
        ("launch: {ramp: {height: 100 mm, length: 400 mm}}", -0.3, "0.300 s before the vehicle is at the ramp's foot"),
        ("speed: 0", 0.0, "when you like"),
    ],
)
def test_a_card_says_when_the_shot_begins(vehicle: str, start: float, says: str, tmp_path: Path) -> None:
    written = vehicle if "start" not in vehicle else f"speed: 0.5 m/s, {vehicle}"
    assert _begins(_read(tmp_path, LEVEL.replace("speed: 0.5 m/s", written)), start) == says


def _setup(scene: Scene) -> Setup:
    setup = setup_of(scene, scene.shots[0], predict(scene, remedies=False))
    assert setup is not None
    return setup


def test_lamps_that_stand_off_the_table_are_on_the_plan_with_their_places(tmp_path: Path) -> None:
    scene = _read(tmp_path, LEVEL.replace("lights: [{id: room, ambient: 200 lx}]\n", LAMPS))
    (sheet, *_), _ = _planned(scene)
    told = " ".join(words.text for words in sheet.lettering)
    assert "Lamps that stand off the table" in told
    assert "side -400 100 350" in told and "far 4000 -3000 1500" in told
    assert "over 500" not in told  # it hangs over the table


def test_a_card_tells_where_the_camera_s_iso_ends(tmp_path: Path) -> None:
    """A bright set and a camera that goes no lower than ISO 800: by how many stops it is too bright, by hand."""
    text = LEVEL.replace("ambient: 200 lx", "ambient: 20000 lx").replace(
        "modes: [1080p60]", "modes: [1080p60], iso: [800, 1600]"
    )
    scene = _read(tmp_path, text)
    sheets, predictions = _planned(scene)
    card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
    told = " ".join(words.text for words in card.lettering)
    wanted = predictions.shots[0].value("iso_needed")
    assert wanted < 400
    words = f"about ISO 800; the camera ends there, {math.log2(800 / wanted):.1f} stops too bright"
    assert words in told
    # And check says it in the same words.
    said = dict(brief_of_shot(scene, scene.shots[0], predictions.shots[0].figures))
    assert said["set"].endswith(words)


def test_a_card_does_not_give_a_mode_s_top_rate_for_the_rate_of_the_shot(tmp_path: Path) -> None:
    """Filmed at 60 fps in a mode that goes to 240, and in one that goes to 60."""
    for mode, says in (
        ("1080p240", "big, 1920x1080, in a mode that goes up to 240 fps"),
        ("1080p60", "1080 at 60 fps"),
    ):
        sheets, _ = _planned(_read(tmp_path, LEVEL.replace("1080p60", mode)))
        card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
        told = " ".join(" ".join(words.text for words in card.lettering).split())
        assert says in told and "rate 60 fps, played back at" in told


def test_inches_are_told_in_sixteenths(tmp_path: Path) -> None:
    scene = random_scene(tmp_path, 4, 1, "in")
    sheets, _ = _planned(scene)
    wide = scene.set.table.width / 0.0254
    sixteenths = round(wide * 16)
    (told,) = [words.text for words in sheets[0].lettering if words.text.startswith(f"{int(sixteenths // 16)} ")][:1]
    assert told.endswith(" in")
    assert abs(eval_inches(told.removesuffix(" in")) - wide) <= 1 / 32


def eval_inches(text: str) -> float:
    return sum(float(part.split("/")[0]) / float(part.split("/")[1]) if "/" in part else float(part)
               for part in text.split())  # fmt: skip


def test_a_height_over_the_floor_says_that_the_table_s_is_assumed(tmp_path: Path) -> None:
    for written, says in (("", "over the floor, the table's height assumed)"), (", height: 740 mm", "over the floor)")):
        text = LEVEL.replace("depth: 600 mm", f"depth: 600 mm{written}")
        assert written in text
        sheets, _ = _planned(_read(tmp_path, text))
        card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
        assert says in " ".join(" ".join(words.text for words in card.lettering).split())


@pytest.mark.parametrize("moves", ["evenly", "gently"])
def test_the_card_of_a_camera_that_travels_has_its_ends_and_its_pace(moves: str, tmp_path: Path) -> None:
    """From 400 to 600 mm within a second, and filmed from 0.1 s into that on, 48 frames at 60 fps."""
    keys = [f"{{time: {time} s, at: [{x} mm, %s]}}" for time, x in ((0.5, 400), (1.5, 600))]
    text = LEVEL.replace("at: [500 mm, -200 mm, 40 mm]", f"at: [{', '.join(keys) % (('-200 mm, 40 mm',) * 2)}]")
    text = text.replace("aim: [500 mm, 300 mm, 40 mm]", f"aim: [{', '.join(keys) % (('300 mm, 40 mm',) * 2)}]")
    text = text.replace("focus: 500 mm,", f"focus: 500 mm, moves: {moves},")
    sheets, _ = _planned(_read(tmp_path, text))
    card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
    told = " ".join(" ".join(words.text for words in card.lettering).split())
    if moves == "evenly":
        # It begins at 0.6 s, a tenth of the way along, and lasts 0.8 s.
        assert "middle of lens, as it begins 420, -200, 40 mm up" in told
        assert "middle of lens, as it ends 580, -200, 40 mm up" in told
        assert "camera is moved 160 mm, evenly, at 0.2 m/s" in told and "at most" not in told
    else:
        # Smoothstep 3 t^2 - 2 t^3 is half as fast again in its middle as on the whole: 200 mm in 1 s, so 0.3 m/s.
        assert re.search(r"camera is moved \d+ mm, gently, at 0\.\d+ m/s on average, 0\.3 m/s at most", told)


def test_the_way_of_a_camera_is_rails_that_nothing_lies_along(tmp_path: Path) -> None:
    """From 300 to 700 mm along the table's front, 200 mm before it; the sign is among those that are told."""
    places = ", ".join(f"{{time: {time} s, at: [{x} mm, -200 mm, 40 mm]}}" for time, x in ((0.6, 300), (1.4, 700)))
    scene = _read(tmp_path, LEVEL.replace("at: [500 mm, -200 mm, 40 mm]", f"at: [{places}]"))
    page = pages_of(pdf_of(_planned(scene)[0], scene.title))[0]
    assert "middle of lens, its way while it films" in {line.text for line in page.lines}
    scale, corner = _scale_of(page), _closed(page, THICK)[0].min(axis=0)
    begin, end = (np.array([x, -200.0]) / scale + corner for x in (300, 700))
    reaches = [(ring.min(axis=0), ring.max(axis=0)) for ring in _closed(page, THIN)]
    half = np.array([0.0, 0.6])
    rails = begin - half, end + half
    assert sum(np.abs(np.subtract(each, rails)).max() < 0.02 for each in reaches) == 1
    at = shapely.Point(begin + 0.75 * (end - begin))  # past the camera mid-shot, from which it is measured
    lines = [shapely.linestrings(path.points) for path in page.paths if len(path.points) == 2]
    assert lines and min(shapely.distance(line, at) for line in lines) > 1.0


def test_a_camera_that_stands_is_not_moved(tmp_path: Path) -> None:
    sheets, _ = _planned(_read(tmp_path, LEVEL))
    card = next(sheet for sheet in sheets if sheet.name.startswith("card"))
    assert "camera is moved" not in " ".join(words.text for words in card.lettering)


def test_sizes_name_where_they_come_from(tmp_path: Path) -> None:
    rows = build_list(random_scene(tmp_path, 2, 40, launched=True)).rows
    assert all(row[-1] for row in rows)
    assert {row[1] for row in rows} >= {"van", "sheet", "stone", "container", "cone"}
    sources = {row[1]: row[-1] for row in rows}
    (ramp,) = [row[-1] for row in rows if row[0] == "ramp"]
    assert "; thickness not said, 3 mm taken; " in ramp
    assert "ISO 668" in sources["container"]
    assert "MUTCD" in sources["cone"]
    assert sum(int(row[2]) for row in rows) == 40 + 5  # table, road, backdrop, vehicle and ramp


def test_the_build_list_says_which_side_each_number_is(tmp_path: Path) -> None:
    table = build_list(random_scene(tmp_path, 2, 40, launched=True))
    assert table.headings[3:5] == ("on the table, mm: length × width × height", "full size, m: likewise")
    for cells in (cell.split(" × ") for row in table.rows for cell in row[3:5] if cell):
        words = [cell.partition(" ")[2] for cell in cells]
        if len(cells) < 3:  # not what the heading says
            assert words[0] == "wide" and {*words} <= {"wide", "deep", "high", "long"} and len({*words}) == len(words)
    for cell in (part for row in table.rows if row[4] for part in row[4].split(" × ")):
        number = cell.partition(" ")[0]
        assert len(number.partition(".")[2]) == (2 if float(number) >= 0.1 else 3)


def test_cautions_stand_in_the_lists_with_their_source(tmp_path: Path) -> None:
    scene = random_scene(tmp_path, 8, 5, launched=True)
    sheets, predictions = _planned(scene)
    assert {each.id for each in predictions.cautions} >= {"lamp.diffusion", "lamp.mains", "ramp.raised", "parts.small"}
    told = " ".join(words.text for sheet in sheets if sheet.name.startswith("lists") for words in sheet.lettering)
    careful = (*predictions.cautions, *making_cautions(scene))
    assert {each.id for each in careful} >= {"cut.blade", "cut.dust"}  # a plan leads to card, a knife and a saw
    for row in caution_list(careful).rows:
        assert row[1][:25] in told
    assert "local rules" in told


def test_frames_of_the_vehicle_s_way_are_where_it_is_then(tmp_path: Path) -> None:
    scene = _read(tmp_path, LEVEL)
    sheets, predictions = _planned(scene)
    page = pages_of(pdf_of(sheets, scene.title))[0]
    scale = _scale_of(page)
    (table,) = _closed(page, THICK)[:1]
    corner = table.min(axis=0)
    # 0.5 m/s from x = -50 mm on; frame n opens at 0.6 s + n / 60. Its lane's middle is 35 mm to the right of y = 300.
    ticks = [
        path.points.mean(axis=0)
        for path in page.paths
        if len(path.points) == 2 and path.weight and abs(path.points[0, 0] - path.points[1, 0]) < 1e-3
        and 3.0 < np.ptp(path.points[:, 1]) < 3.4
    ]  # fmt: skip
    found = {tuple(np.round((tick - corner) * scale).astype(int)) for tick in ticks}
    figures = predictions.shot("level")
    numbered = sorted(int(line.text) for line in page.lines if line.text.isdigit() and int(line.text) < 48)
    assert len(numbered) >= 3
    for number in numbered:
        assert (round(-50 + 500 * (0.6 + number / 60)), 265) in found
    told = page.text.replace("\n", " ")
    assert f"enters, frame {figures.value('enters_frame'):.0f}" in told
    assert figures.value("leaves_frame") == 47 and "still there as it ends, frame 47" in told  # 0.8 s at 60 fps


# --- what does not happen every day ---


UNCOMMON = [
    ("vehicle: {body: van, speed: 0.5 m/s}", ""),
    ("  backdrop: {distance: 590 mm, height: 400 mm, colour: grey}\n", ""),
    ("at: [500 mm, -200 mm, 40 mm]", "at: [{time: 0.6 s, at: [400 mm, -200 mm, 40 mm]}, "
     "{time: 1.4 s, at: [600 mm, -150 mm, 80 mm]}]"),
    ("at: [500 mm, -200 mm, 40 mm]", "at: [500 mm, 300 mm, 700 mm]"),  # straight down
    ("at: [500 mm, -200 mm, 40 mm]", "at: [-200 mm, 300 mm, 40 mm]"),  # along the table
    ("f_number: 8", "f_number: 22"),
    ("focus: 500 mm", "focus: [500 mm, 9000 mm, 40 mm]"),  # sharp to infinity
    ("focus: 500 mm", "focus: [500 mm, -900 mm, 40 mm]"),  # behind the camera: nothing can be said of it
    ("title: Worked example", "title: " + "A title with $x$ and no end " * 4),
    ("id: shed", "id: a_shed_with_a_name_of_forty_letters_long"),
]  # fmt: skip

Uncommon = Callable[[str, str], tuple[Scene, list[Sheet]]]


@pytest.fixture(scope="module")
def uncommon(tmp_path_factory: pytest.TempPathFactory) -> Uncommon:
    """The worked example with something else in place of what it has, and its sheets."""

    @cache
    def planned(old: str, new: str) -> tuple[Scene, list[Sheet]]:
        assert old in LEVEL
        scene = _read(tmp_path_factory.mktemp("uncommon"), LEVEL.replace(old, new))
        return scene, _planned(scene)[0]

    return planned


@pytest.mark.parametrize(("old", "new"), UNCOMMON)
def test_uncommon_scenes_have_a_plan_too(uncommon: Uncommon, old: str, new: str) -> None:
    _, sheets = uncommon(old, new)
    assert [sheet.name for sheet in sheets][:3] == ["plan-level", "side-level", "card-level"]
    for sheet in sheets:
        assert _overlaps(sheet) == []
        assert _outside(sheet) == []


def test_uncommon_plans_are_written(uncommon: Uncommon) -> None:
    """All in one file, for it is the typeface in each that takes long."""
    planned = [uncommon(old, new) for old, new in UNCOMMON]
    sheets = [sheet for _, each in planned for sheet in each]
    assert pdf_of(sheets, " ".join(scene.title for scene, _ in planned))


def test_each_shot_has_its_sheets_and_the_lists_come_once(tmp_path: Path) -> None:
    scene = _read(tmp_path, scene_text(9, 3, shots=3))
    sheets, _ = _planned(scene)
    assert [sheet.name for sheet in sheets] == [
        f"{kind}-shot_{number}" for number in (1, 2, 3) for kind in ("plan", "side", "card")
    ] + ["lists-1", "changeovers-1", "takes"]


#: The worked example with a lamp, and shots that stand otherwise.
OTHERWISE = LEVEL.replace(
    "lights: [",
    "lights: [{id: key, panel: [400 mm, 300 mm], at: [0 mm, 0 mm, 500 mm], aim: [500 mm, 300 mm, 0 mm], "
    "output: 4000 lm}, ",
)


def _with_shots(tmp_path: Path, *changes: str) -> Scene:
    """The worked example with further shots, `other0` and on, that change that."""
    shot = OTHERWISE[OTHERWISE.index("  - {id: level") :].rstrip().removesuffix("}")
    more = [f"{shot.replace('id: level', f'id: other{number}')}, {each}}}" for number, each in enumerate(changes)]
    return _read(tmp_path, OTHERWISE + "\n".join(more))


def test_what_stands_otherwise_is_told_with_its_value(tmp_path: Path) -> None:
    scene = _with_shots(
        tmp_path,
        "lights: {key: off}",
        "without: [key]",
        "without: [shed]",
        "lights: {key: {output: 1500 lm, panel: [500 mm, 250 mm]}}, backdrop: {width: 144.3 cm}",
        "run: from the other end, vehicle: {body: bus, speed: 0.25 m/s}",
        "moved: {shed: {at: [1 cm, 2 cm], turn: 0 deg, lit: 40 %}}",
    )
    told = otherwise_list(scene, scene.shots)
    assert told is not None
    assert list(told.rows) == [
        ("other0, other1", "key", "off for other0; taken away for other1"),
        ("other2", "shed", "taken away"),
        ("other3", "key", "1500 lm; panel 500 × 250 mm"),
        ("", "backdrop", "1443 mm wide"),
        ("other4", "run", "from the other end"),
        ("", "vehicle", "a bus; 0.25 m/s"),
        ("other5", "shed", "at 10, 20; turned 0°; lit 40 %"),
    ]


def test_what_only_some_shots_have_is_built_and_bought(tmp_path: Path) -> None:
    """A second backdrop, a bus and a ramp; what is only moved, driven or let go otherwise is no other one."""
    ramp = "vehicle: {launch: {ramp: {height: %d mm, length: 300 mm}}}"
    scene = _with_shots(
        tmp_path,
        "backdrop: {distance: 500 mm}",
        "backdrop: {width: 1500 mm}",
        "vehicle: {body: bus, reverse: true}",
        ramp % 80,
        ramp % 100,
        "without: [vehicle]",
    )
    then = [setup.scene for setup in setups_of(scene)]
    built = {row[0]: row for row in build_list(with_all(scene), then).rows}
    some = {name: row for name, row in built.items() if " for " in name}
    assert [*some] == ["backdrop for other1", "vehicle for other2", "ramp for other3, other4"]
    assert some["backdrop for other1"][3] == "1500 wide × 400 high"
    assert some["vehicle for other2"][1] == "bus"
    # By hand: 300 mm that rise 80 mm, and half the van's 110 mm, lie over (300 + 55) cos(asin(80 / 300)) = 342 mm.
    assert some["ramp for other3, other4"][3].startswith("342 × ")
    assert {*built} - {*some} == {"table", "road", "backdrop", "vehicle", "shed"}
    bought = [row[0] for row in buying_list(with_all(scene), then).rows if row[0] != "or"]
    assert bought == [
        "card",
        "card, backdrop for other1",
        "board 3 mm thick (not said, taken), ramp for other3, other4",
    ]
    assert buying_list(scene).rows == buying_list(scene, [scene]).rows


def test_what_several_setups_have_otherwise_is_listed_once_and_names_all_their_shots(tmp_path: Path) -> None:
    """One wider sheet that stands on two sides, one bus that goes both ways: in the order of the shots."""
    scene = _with_shots(
        tmp_path,
        "backdrop: {side: left, distance: 900 mm, width: 1500 mm}",
        "vehicle: {body: bus}",
        "backdrop: {side: right, distance: 800 mm, width: 1500 mm}",
        "vehicle: {body: bus, reverse: true}",
        "backdrop: {side: left, distance: 900 mm, width: 1500 mm}",
    )
    then = [setup.scene for setup in setups_of(scene)]
    some = [row[0] for row in build_list(with_all(scene), then).rows if " for " in row[0]]
    assert some == ["backdrop for other0, other2, other4", "vehicle for other1, other3"]
    bought = [row[0] for row in buying_list(with_all(scene), then).rows if row[0] != "or"]
    assert bought == ["card", "card, backdrop for other0, other2, other4"]


def test_a_card_that_leans_is_cut_to_its_own_size(tmp_path: Path) -> None:
    card = "{id: fill, piece: bounce, width: 300 mm, height: 200 mm, at: [500 mm, 20 mm, 90 mm], tilt: 40 deg}"
    scene = _with_shots(tmp_path, f"added: [{card}]")
    (row,) = [row for row in build_list(with_all(scene)).rows if row[0] == "fill"]
    assert row[1:4] == ("bounce", "1", "300 wide × 200 high")


#: The worked example with a card for light that leans back by 30 degrees, and with a taxi on a ramp.
RICH = LEVEL.replace(
    "vehicle:",
    "  - {id: fill, piece: bounce, width: 300 mm, height: 200 mm, at: [700 mm, 20 mm, 90 mm], tilt: 30 deg}\n"
    "vehicles: {cab: {body: saloon, reverse: true, launch: {ramp: {height: 80 mm, length: 300 mm}}}}\nvehicle:",
)


def test_the_side_view_has_a_card_as_it_leans_and_says_whose_ramp_it_is(tmp_path: Path) -> None:
    scene = _read(tmp_path, RICH)
    sheets = plan_sheets(scene, predict(scene, remedies=False), scene.shots, file="scene.yaml")[:2]
    above, level = pages_of(pdf_of(sheets, "plan"))
    scale = _scale_of(level)
    table = next(path.points for path in level.paths if abs(path.weight - 2 * THICK) < 0.01)
    zero = np.array([table[:, 0].min(), table[0, 1]])
    boards = [(ring[:-1] - zero) * scale for ring in _closed(level, THIN) if len(ring) == 5]
    # By hand: its face stands on y = 20, z = 90 mm and is 200 mm long, of which 200 sin 30 go back and 200 cos 30 up.
    # The board is a few millimetres thick.
    (card,) = [ring for ring in boards if ring[:, 1].max() > 250]
    assert card.min(axis=0) == pytest.approx([20, 90], abs=6)
    assert np.ptp(card, axis=0) == pytest.approx([200 * math.sin(math.pi / 6), 200 * math.cos(math.pi / 6)], abs=6)
    for page in (above, level):
        assert "ramp of cab" in page.text
        assert "90 mm up" in page.text
    # No name is written over the table's broad line, nor so near it that they touch.
    line = shapely.LineString(table).buffer(THICK + 0.4, cap_style="flat")
    assert [words.text for words in sheets[1].lettering if line.intersects(shapely.Polygon(words.corners))] == []


def test_a_card_for_light_is_where_its_maker_wrote_on_all_lists(tmp_path: Path) -> None:
    scene = _read(tmp_path, RICH)
    (row,) = [row for row in lamp_list(scene).rows if row[0] == "fill"]
    assert row[4] == "700, 20, 90"
    bare = _read(tmp_path, LEVEL)
    moves = moves_between(Position(bare, bare.shots[0]), Position(scene, scene.shots[0]))
    (put,) = [move for move in moves if move.what == "fill"]
    assert put.after is not None and put.after.words(tape_of(scene).bare) == "700, 20, 90 up"


def test_who_measures_in_inches_is_told_inches_a_second(tmp_path: Path) -> None:
    scene = _read(tmp_path, scene_text(4, 1, "in", launched=False, shots=2)[:-2] + ", vehicle: {speed: 24 in/s}}\n")
    sheets = plan_sheets(scene, predict(scene, remedies=False), scene.shots, file="scene.yaml")
    told = {sheet.name: " ".join(words.text for words in sheet.lettering) for sheet in sheets}
    # 0.7 m/s are 27.6 in/s
    assert "27.6 in/s on the table" in told["card-shot_1"] and "24 in/s on the table" in told["card-shot_2"]
    assert "in/s" in told["changeovers-1"] and "24 in/s" in told["lists-1"]
    assert not [name for name, text in told.items() if " m/s" in text]


def test_a_card_has_large_letters_where_there_is_room_and_leaves_nothing_out() -> None:
    few, many = ((("what", "to what"),) * count for count in (20, 36))
    assert settings_of(few, 165.0).size == 11.0
    table = settings_of(many, 165.0)
    assert table.size == 8.0 and table.drawn_height(120.0) <= 165.0
    assert table.draw(Sheet(297, 210, "card"), Box(10, 20, 130, 185))[0] == 36


def test_the_same_scene_has_the_same_plan_to_the_byte(tmp_path: Path) -> None:
    scene = random_scene(tmp_path, 7, 12)
    one, other = (pdf_of(_planned(scene)[0], scene.title) for _ in range(2))
    assert one == other
    assert not math.isnan(len(one))


@pytest.mark.parametrize(("side", "distance"), [("left", 1040), ("right", 990), ("front", 640)])
def test_a_backdrop_along_another_side_is_drawn_there(tmp_path: Path, side: str, distance: int) -> None:
    """On the plan its line crosses where the file says, on the paper's scale; its distance is told as written."""
    turned = LEVEL.replace("distance: 590 mm", f"side: {side}, distance: {distance} mm")
    scene = _read(tmp_path, turned)
    sheets = plan_sheets(scene, predict(scene, remedies=False), scene.shots, file="scene.yaml")
    above, level, *_ = pages_of(pdf_of(sheets[:2], "plan"))
    scale = _scale_of(above) / 1000  # m of the set for a mm of paper
    (table,) = _closed(above, THICK)[:1]
    corner = table.min(axis=0)
    line = next(path.points for path in above.paths if abs(path.weight - 2 * THICK) < 0.01)
    at = (line - corner) * scale
    axis = 1 if side == "front" else 0
    expected = {"left": 1.0 - 1.040, "right": 0.990, "front": 0.6 - 0.640}[side]
    assert at[:, axis] == pytest.approx(expected, abs=0.001)
    assert np.ptp(at[:, 1 - axis]) == pytest.approx(1.0 if side == "front" else 0.6, abs=0.001)
    assert any(str(distance) in each.text for each in above.lines)
    # From the side: edge on where it stands across the drawing, else as wide as it is.
    assert any(str(400) in each.text for each in level.lines)
    assert any(str(distance) in each.text for each in level.lines) == (axis == 1)


def test_a_name_stands_by_its_own_thing_or_has_a_line_to_it() -> None:
    """Boxes of all sizes and turns, crowded, from a seed: nearer to another thing only with a line that shows."""
    rng = np.random.default_rng(5)
    alone = told = 0
    for _ in range(25):
        sheet, box = Sheet(200, 140, "names"), Box(10, 10, 190, 130)
        outlines = []
        for _ in range(12):
            size, turn = np.exp(rng.uniform(-0.5, 2.5, 2)), rng.uniform(0, math.pi)
            across = np.array([[math.cos(turn), -math.sin(turn)], [math.sin(turn), math.cos(turn)]])
            corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * size / 2
            outlines.append(corners @ across.T + rng.uniform((40, 40), (130, 100)))
        for outline in outlines:
            sheet.line(outline, THIN, closed=True)
        placing = Placing.on(sheet, box)
        placing.keep_out(outlines)
        drawn = len(sheet.marks)
        placing.place([Label((f"piece_{n}",), outline) for n, outline in enumerate(outlines)])
        lines = [shapely.LineString(mark.points) for mark in sheet.marks[drawn:] if isinstance(mark, Stroke)]
        shapes = [shapely.Polygon(outline) for outline in outlines]
        for words in sheet.lettering:
            own = int(words.text.removeprefix("piece_"))
            name = shapely.box(*(getattr(words.box, side) for side in ("left", "low", "right", "high")))
            away = name.distance(shapes[own])
            if all(each.distance(name) >= away for n, each in enumerate(shapes) if n != own):
                alone += 1
            else:
                told += any(
                    line.distance(name) < 1 and line.distance(shapes[own]) < 0.1 and line.length > 3 for line in lines
                )
    assert alone + told >= 0.96 * 25 * 12
