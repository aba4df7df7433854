"""A few lines of a scene cannot ask for more than a machine has: told by line and limit, before any work."""

from pathlib import Path

import pytest

from previz.errors import SceneErrors
from previz.scene import read_scene
from previz.scene.budget import MOST_LAYERS, MOST_PIECES

LAYER = '{shape: skyline, height: 100, colour: "#334455"}'

SCENE = """
title: Much
scale: 1:50
units: mm
set:
  table: {width: 1400, depth: 700}
  road: {lane: 70, centre: [[0, 300], [1400, 300]]}
  backdrop: {distance: 690, height: 500, painting: {sky: clear, layers: [LAYERS]}}
dressing:
  - {id: first, piece: cone, at: [100, 500]}
vehicle: {body: van, speed: 1 m/s}
lights: [{id: room, ambient: 100 lx}]
cameras: {pocket: {sensor: 1-inch, lens: 16 mm, widest: f/1.8, nearest: 50 mm, modes: [1080p120]}}
shots:
  - {id: pass, camera: pocket, focal_length: 16 mm, f_number: 4, at: [700, -150, 50], aim: vehicle, focus: vehicle,
     capture: {rate: 120 fps, shutter: 180 deg, iso: auto}, playback: 24 fps, start: 0.3 s, duration: 0.5 s}
"""


def said(folder: Path, *dressing: str, swapped: tuple[str, str] = ("", ""), layers: int = 1) -> str:
    """What is wrong with the scene; "" where nothing is."""
    text = SCENE.replace("LAYERS", ", ".join([LAYER] * layers)).replace(*swapped)
    first = "  - {id: first, piece: cone, at: [100, 500]}\n"
    text = text.replace(first, first + "".join(f"  - {{{each}}}\n" for each in dressing))
    (folder / "much.yaml").write_text(text, encoding="utf-8")
    try:
        read_scene(folder / "much.yaml")
    except SceneErrors as error:
        return str(error)
    return ""


def test_what_a_person_builds_is_let_through(tmp_path):
    assert not said(tmp_path)
    row = "id: row, piece: lamp_post, along: road, every: 20, offset: 90"
    assert not said(tmp_path, row, "id: box, piece: container, at: [300, 500], copies: 200, step: [1, 0, 0]", layers=8)
    # A platform's edge, and a long fence: 1.4 m of either at 1:160.
    kerb = "id: kerb, piece: wall, length: 1400, height: 0.8, at: [700, 500]"
    assert not said(tmp_path, kerb, "id: fence, piece: fence, length: 1400, height: 5, at: [700, 600]")
    assert not said(tmp_path, "id: wood, scatter: conifers, over: [[0, 400], [1400, 640]], count: 20000")


def test_copies_are_counted_over_the_whole_set(tmp_path):
    row = "id: h{}, piece: building, at: [0, 500], copies: 500, step: [1, 0, 0]"
    assert f"at most {MOST_PIECES} pieces" in said(tmp_path, *(row.format(number) for number in range(40)))
    fault = said(tmp_path, row.format(0), row.format(1))  # the cone is one more
    assert "much.yaml:12: dressing[h1].copies: it stands 500 times, and 501 stand before it" in fault


@pytest.mark.parametrize(("every", "count"), [("0.001", 1400001), ("1", 1401)])
def test_a_row_along_the_road_is_counted_before_it_stands(tmp_path, every: str, count: int):
    fault = said(tmp_path, f"id: row, piece: cone, along: road, every: {every}, offset: 90")
    assert f"dressing[row].every: it stands {count} times" in fault and "a larger every" in fault


def test_things_scattered_are_counted_over_the_whole_set(tmp_path):
    one = "id: s{}, scatter: stones, over: [[0, 400], [1400, 640]], count: 12000"
    fault = said(tmp_path, one.format(1), one.format(2), one.format(3))
    assert fault.count("dressing[") == 1
    assert "dressing[s2].count: 12000, and 12000 are scattered before it; at most 20000" in fault


def test_sizes_are_those_of_a_table(tmp_path):
    assert "set.table.width: 100 m on the table; at most 20 m" in said(tmp_path, swapped=("1400", "100 m"))
    assert "set.backdrop.height: 60 m on the table" in said(tmp_path, swapped=("height: 500", "height: 60 m"))
    assert "at most 6000 mm is built" in said(tmp_path, swapped=("height: 500", "height: 6.1 m"))
    inches = said(tmp_path, swapped=("units: mm", "units: in"))
    assert "set.table.width" in inches and "check the unit" in inches
    for piece, key, found in (
        ("piece: building, height: 100 m", "height", "100 m on the table; at most"),
        ("piece: wall, length: 600, height: 0.01", "height", "0.01 mm on the table; at least 0.2 mm"),
        ("piece: stone, size: 0.001", "size", "at least 0.2 mm"),
    ):
        fault = said(tmp_path, f"id: p, at: [700, 500], {piece}")
        assert f"dressing[p].{key}: " in fault and found in fault
    fence = said(tmp_path, "id: f, piece: fence, length: 5 m, height: 1, at: [700, 500]")
    assert "dressing[f].length" in fence and "at most 500 times its height" in fence


def test_layers_of_a_painting(tmp_path):
    assert not said(tmp_path, layers=MOST_LAYERS)
    fault = said(tmp_path, layers=1500)
    assert f"set.backdrop.painting.layers: 1500 layers; at most {MOST_LAYERS} are painted" in fault
    assert "too low to paint; make it 1 mm or more" in said(tmp_path, swapped=("height: 100", "height: 0.04"))


def test_what_is_unreadable_is_told_once_and_not_counted(tmp_path):
    fault = said(tmp_path, "id: x, piece: cone, along: road, every: soon", "id: y, piece: nothing, at: [1, 1]")
    assert len(fault.splitlines()) == 2
    assert "at most" not in fault


def test_ways_lanes_vehicles_and_ramps_have_sizes_of_a_table(tmp_path):
    lane = said(tmp_path, swapped=("lane: 70", "lane: 0.0007"))
    assert "much.yaml:7: set.road.lane: " in lane and "at least 1 mm is built" in lane
    zigzag = "[" + ", ".join(f"[{90000 * (number % 2)}, {number}]" for number in range(20)) + "]"
    far = said(tmp_path, swapped=("[[0, 300], [1400, 300]]", zigzag))
    assert "set.road.centre: a way of " in far and "at most 100 m: check the unit" in far
    many = "[" + ", ".join(f"[{number}, 300]" for number in range(501)) + "]"
    assert "set.road.centre: 501 points; at most 500" in said(tmp_path, swapped=("[[0, 300], [1400, 300]]", many))
    long = said(tmp_path, swapped=("body: van", "body: van, length: 6 m"))
    assert "vehicle.length: 6000 mm on the table; at most 5000 mm" in long
    ramp = "launch: {ramp: {height: 120, length: 500, foot_radius: 20 m}}"
    assert "vehicle.launch.ramp.foot_radius: 20 m" in said(tmp_path, swapped=("speed: 1 m/s", ramp))


def test_lamps_and_shots_are_counted(tmp_path):
    lamp = "{id: k%d, panel: [300, 200], at: [300, -100, 700], aim: [350, 250, 0], output: 100 lm}, "
    room = "lights: ["
    assert not said(tmp_path, swapped=(room, room + "".join(lamp % number for number in range(99))))
    fault = said(tmp_path, swapped=(room, room + "".join(lamp % number for number in range(100))))
    assert "lights: 101 lamps; at most 100 are reckoned with" in fault
    row = "id: row, piece: lamp_post, along: road, every: {}, offset: 90, lit: 5 lm"
    assert not said(tmp_path, row.format(5))
    fault = said(tmp_path, row.format(4))
    assert "much.yaml:11: dressing[row].lit: 351 lamps of posts and garlands are lit up to here; at most 300" in fault
    assert not said(tmp_path, row.format(4).replace("5 lm", "0 lm"))
    shot = SCENE[SCENE.index("  - {id: pass") :]
    many = [shot.replace("pass", f"s{number}") for number in range(51)]
    assert "shots: 51 shots; at most 50" in said(tmp_path, swapped=(shot, "".join(many)))
    row = "id: row, piece: cone, at: [0, 500], copies: 400, step: [1, 0, 0]"
    assert not said(tmp_path, row, swapped=(shot, "".join(many[:24])))
    fault = said(tmp_path, row, swapped=(shot, "".join(many[:25])))
    assert "shots: 25 shots, and 401 pieces in each; shots times pieces come to at most 10000" in fault
    own = "playback: 24 fps, added: [{id: row%d, piece: cone, at: [0, 500], copies: 400, step: [1, 0, 0]}]"
    many = [each.replace("playback: 24 fps", own % number) for number, each in enumerate(many)]
    assert not said(tmp_path, swapped=(shot, "".join(many[:24])))
    fault = said(tmp_path, swapped=(shot, "".join(many[:25])))
    assert "shots: 25 shots, and 1 pieces in each, with those that shots add; shots times pieces" in fault


def test_a_file_name_with_a_letter_that_none_has_is_told(tmp_path):
    card = 'id: it, piece: card, at: [1, 1], width: 20, height: 20, image: "a\\0b.png"'
    for fault in (said(tmp_path, card), said(tmp_path, swapped=("units: mm", 'units: mm\nkit: "a\\0b.yaml"'))):
        assert "is not a file name; write 1 to 200 characters" in fault and len(fault.splitlines()) == 1
