"""Sets that cannot be built and shots that cannot be stood for: found, with the right number, and mended."""

from pathlib import Path
from typing import Any

import pytest
from broken_scenes import GOOD, broken, changed, found, looked, predicted, read

from previz.layout import solids_of
from previz.predictions import Verdict
from previz.predictions.checks.room import wheels_of
from previz.predictions.checks.set import check_set
from previz.scene import VEHICLE_SIZES, read_scene
from previz.stage.vehicles.bodies import build_vehicle

WATCH, STOP, FINE = Verdict.WATCH, Verdict.STOP, Verdict.FINE

#: The lorry of the good scene on the table, and the lane it keeps to: right of y = 400. [m]
LENGTH, WIDTH, LANE = 8 / 24, 2.5 / 24, 0.400 - 3.5 / 24 / 2

RAMP = {"height": 150, "length": 600, "foot_radius": 600, "lip": 0.5}
LAUNCHED = [("vehicle.speed", None), ("vehicle.launch", {"ramp": RAMP, "rolling": "2 %"})]


def piece(kind: str, at: list[float], **keys: Any) -> tuple[str, Any]:
    return "dressing[2]", {"id": "crate", "piece": kind, "at": at, **keys}


CRATE = {"length": 240}  # 240 x 96.6 mm on the table
CRATE_SIDE = 0.240 * 2.438 / 6.058

# Each: what is broken, the finding it should give, its verdict, its value worked by hand.
BROKEN: list[tuple[list[tuple[str, Any]], str, Verdict, float | None]] = [
    # The table is 900 mm deep: the lane's middle and half a width beyond it.
    ([("vehicle.offset", "2 m")], "room.table", STOP, -(LANE + 2 + WIDTH / 2 - 0.9)),
    (
        # Brought back onto the table, the road would run through what stands there.
        [("set.road.centre", [[-200, 3000], [3200, 3000]]), ("shots[0].aim", "vehicle"), ("dressing", [])],
        "room.table",
        STOP,
        -(3.0 - 3.5 / 24 / 2 + WIDTH / 2 - 0.9),
    ),
    # A side 5 mm over the edge, its wheels within nine tenths of the width still on the table.
    (
        [("vehicle.offset", 1000 * (0.895 - WIDTH / 2 - LANE + 0.010)), ("set.backdrop", None)],
        "room.table",
        WATCH,
        -0.005,
    ),
    # The road begins 200 mm before the table, so the lorry comes on with its tail over the edge.
    (
        [("shots[0].at", [0, -150, 70]), ("shots[0].aim", [150, 400, 80]), ("shots[0].start", "0.1 s")],
        "room.table",
        STOP,
        None,
    ),
    # The backdrop's plane is y = 890; a lane whose vehicle reaches 30 mm into it.
    (
        [("vehicle.offset", 1000 * (0.920 - WIDTH / 2 - LANE)), ("set.table.depth", 1200)],
        "room.backdrop",
        STOP,
        -0.030,
    ),
    ([("shots[0].at", [1500, 150, 0])], "room.camera_table", STOP, 0.0),
    ([("shots[0].at", [1500, 150, -20])], "room.camera_table", STOP, -0.020),
    ([("shots[0].at", [1500, 1200, 70])], "room.camera_backdrop", STOP, 0.890 - 1.200),
    # Inside the hut: 9 x 5 m at 1:24 about (1900, 720), its near face 720 - 104.2 mm.
    (
        [("shots[0].at", [1900, 640, 70]), ("shots[0].aim", [1900, 890, 300]), ("shots[0].focus", "200 mm")],
        "room.camera_clear",
        STOP,
        0.720 - 5 / 48 - 0.640,
    ),
    # In the lorry's way mid-shot: under its roof, and nearer to the side than to roof or road.
    ([("shots[0].at", [1516, 1000 * (LANE - 0.040), 70])], "room.camera_clear", STOP, None),
    ([piece("container", [1500, 40], **CRATE)], "set.edge.crate", WATCH, CRATE_SIDE / 2 - 0.040),
    ([piece("container", [3010, 100], **CRATE)], "set.edge.crate", STOP, 3.010 + 0.120 - 3.0),
    ([piece("container", [1000, 860], **CRATE)], "set.backdrop.crate", STOP, 0.860 + CRATE_SIDE / 2 - 0.890),
    # Plants by their inner third only, of a crown 0.46 as wide as high.
    ([piece("conifer", [1000, 880], height=300)], "set.backdrop.crate", WATCH, 0.880 + 0.46 * 0.300 / 6 - 0.890),
    # The hut's near face is at 615.8 mm.
    (
        [piece("container", [1900, 600], **CRATE)],
        "set.overlap.hut.crate",
        STOP,
        0.600 + CRATE_SIDE / 2 - (0.720 - 5 / 48),
    ),
    ([piece("cone", [1900, 615])], "set.overlap.hut.crate", WATCH, None),
    ([piece("container", [400, 640], copies=3, step=[200, 0, 0], **CRATE)], "set.overlap.crate.crate", STOP, 0.040),
    # The lane that is not driven on: 400 to 545.8 mm, of which what a lorry with its margin needs, or nine tenths.
    ([piece("container", [700, 480], **CRATE)], "set.lane.crate", WATCH, None),
    ([("shots[0].duration", "4 ms")], "shot.frame", WATCH, 0.004 * 120),
    # 3.4 m of path at 0.75 m/s.
    ([("shots[0].duration", "3 s")], "shot.run", WATCH, 5.05),
    # Its foot on the table, so that no stop takes the time of the check.
    ([*LAUNCHED, ("vehicle.launch.ramp.foot", "1000 mm"), ("shots[0].start", "-3 s")], "shot.ramp", WATCH, -3.0),
]
NAMES = [f"{name}-{number}" for number, (_, name, *_) in enumerate(BROKEN)]


@pytest.mark.parametrize("changes,name,verdict,value", BROKEN, ids=NAMES)
def test_what_cannot_be_is_found_and_its_remedy_clears_it(
    changes: list[tuple[str, Any]], name: str, verdict: Verdict, value: float | None, tmp_path: Path
) -> None:
    data = broken(*changes)
    finding = found(predicted(data, tmp_path), name)
    assert finding.verdict is verdict, finding
    if value is not None:
        assert finding.value == pytest.approx(value, abs=2e-4)
    assert finding.remedy
    assert finding.changes, "a remedy that programs can apply"
    mended = looked(changed(data, finding.changes), tmp_path)
    after = [each for each in mended.findings if each.id == name]
    assert all(each.verdict is FINE for each in after), after


@pytest.mark.parametrize(
    ("start", "lasts", "name"), [(4.4, 0.3, "shot.run"), (4.3, 0.2, "time.screen")], ids=["cut short", "lengthened"]
)
def test_a_shot_at_the_end_of_the_run_is_not_cut_as_short_as_another_finding_has_lengthened(
    start: float, lasts: float, name: str, tmp_path: Path
) -> None:
    """The run is over at 3.4 m / 0.75 m/s = 4.533 s; to be taken in a shot lasts 1.5 s at 24 of 120 fps and a frame."""
    data = broken(("shots[0].start", f"{start} s"), ("shots[0].duration", f"{lasts} s"))
    finding = found(predicted(data, tmp_path), name)
    assert finding.verdict is WATCH and "shots[0].start" in {each.key for each in finding.changes}, finding
    after = looked(changed(data, finding.changes), tmp_path)
    assert all(each.verdict is FINE for each in after.findings if each.id in ("shot.run", "time.screen"))


@pytest.mark.parametrize("body", sorted(VEHICLE_SIZES))
def test_the_wheels_that_must_stand_on_the_table_are_about_where_they_are_drawn(body: str) -> None:
    # No drawn axle is farther from the ends of the rectangle than 6.5 % of the vehicle's length, no tyre's outer face
    # farther from its sides than 6.5 % of the width.
    model, wheels = build_vehicle(body, 1.0, (0.5, 0.5, 0.5)), wheels_of(body)
    axles = [wheel.centre[0] for wheel in model.wheels]
    outer = max(mesh.vertices[:, 1].max() + wheel.centre[1] for wheel in model.wheels for mesh in wheel.round)
    assert (min(axles), max(axles)) == pytest.approx((-wheels[0] / 2, wheels[0] / 2), abs=0.065)
    assert outer / model.width == pytest.approx(wheels[1] / 2, abs=0.065)


def test_a_camera_that_moves_through_a_piece_is_told_without_a_written_remedy(tmp_path: Path) -> None:
    keys = [{"time": "2.05 s", "at": [1400, 640, 70]}, {"time": "2.5 s", "at": [1900, 640, 70]}]
    finding = found(predicted(broken(("shots[0].at", keys)), tmp_path), "room.camera_clear")
    assert finding.verdict is STOP
    assert not finding.changes
    assert finding.frames is not None and finding.frames[0] > 0


def test_a_vehicle_out_of_the_picture_may_be_off_the_table(tmp_path: Path) -> None:
    # It comes from 200 mm before the table; the shot looks at the middle, and only later.
    predictions = looked(GOOD, tmp_path)
    assert found(predictions, "room.table").verdict is FINE
    aside = looked(broken(("shots[0].start", "0 s")), tmp_path)
    assert not [finding for finding in aside.findings if finding.id == "room.table"]


def test_a_launched_vehicle_on_its_ramp_is_not_over_the_edge(tmp_path: Path) -> None:
    way = [("vehicle.path", [[200, 400], [2900, 400]]), ("vehicle.keep", "middle")]
    view = [("shots[0].at", [200, -150, 70]), ("shots[0].aim", [200, 400, 80]), ("shots[0].start", "-0.15 s")]
    finding = found(looked(broken(*LAUNCHED, *way, *view), tmp_path), "room.table")
    # On the flat its tail is at 200 - 166.7 mm at the very least.
    assert finding.verdict is FINE
    assert finding.value >= 0.200 - LENGTH / 2


def test_what_may_stand_so_is_let_stand(tmp_path: Path) -> None:
    street = [
        {"id": "left", "piece": "wall", "at": [600, 620], "length": 400},
        {"id": "right", "piece": "wall", "at": [900, 620], "length": 400},  # walls may meet
        {"id": "wood", "piece": "conifer", "at": [400, 720], "copies": 4, "step": [90, 0, 0], "height": 300},
        {"id": "over", "piece": "fence", "at": [2950, 600], "length": 300},  # and run on over the edge
        {"id": "end", "piece": "fence", "at": [1670, 720], "length": 100},  # or end in a building
        {"id": "works", "piece": "cone", "at": [2400, 460]},  # on the lane not driven
        {"id": "low", "piece": "container", "at": [2300, 750, 0], "length": 200},
        {"id": "high", "piece": "container", "at": [2300, 750, "90 mm"], "length": 200},  # on top of the other
    ]
    predictions = looked(broken(("dressing", [GOOD["dressing"][1], *street])), tmp_path)
    bad = [each for each in predictions.findings if each.id.startswith("set.") and each.verdict is not FINE]
    assert bad == []


def test_mirrors_count_above_them_and_not_below(tmp_path: Path) -> None:
    # A lorry is 2.95 m wide over its mirrors, 2.5 m under them: a kerb may come nearer than a wall of 3 m.
    def room(height: float) -> float:
        y = 1000 * (LANE - 2.95 / 24 / 2) - 10
        wall = {"id": "wall", "piece": "wall", "at": [1500, y], "length": 300, "thickness": 4, "height": height}
        return found(looked(broken(("dressing[2]", wall)), tmp_path), "set.path").value

    assert room(3000 / 24) == pytest.approx(0.008, abs=1e-6)
    assert room(300 / 24) == pytest.approx(0.008 + 0.45 / 24 / 2, abs=1e-6)


def test_a_row_along_the_road_ends_with_the_table(tmp_path: Path) -> None:
    row = {"id": "row", "piece": "cone", "along": "road", "every": 100, "first": 50, "offset": 120}
    scene = read(broken(("dressing[2]", row)), tmp_path)
    places = [solid.at[0] for solid in solids_of(scene) if solid.id == "row"]
    # The road begins 200 mm before the table of 3000 mm and ends 200 mm after it.
    assert len(places) == 30
    assert (min(places), max(places)) == pytest.approx((0.05, 2.95), abs=1e-6)


SCENES = Path(__file__).parents[2] / "scenes"


@pytest.mark.parametrize("demo", ["quay_lorry", "night_van", "snow_bus"])
def test_nothing_stands_in_the_way_in_the_demo_scenes(demo: str) -> None:
    scene = read_scene(SCENES / f"{demo}.yaml")
    assert [finding for finding in check_set(scene).findings if finding.verdict is not FINE] == []


# --- shots that cannot be laid open at all ---

CANNOT_BE = [
    # The pull ends behind the camera: at y = -400 with the camera at -150.
    (
        [("shots[0].focus", [{"time": "2.05 s", "at": "400 mm"}, {"time": "2.3 s", "at": [1500, -400, 70]}])],
        "shot.focus",
        True,
    ),
    ([("shots[0].aim", [1500, -150, 70])], "shot.aim", True),
    ([("shots[0].start", "9 s"), ("shots[0].duration", None)], "shot.start", True),
    # The vehicle is behind a camera that looks away from the road: focus alone does not mend that, aim and focus do.
    ([("shots[0].aim", [1500, -900, 80])], "shot.focus", True),
]


@pytest.mark.parametrize("changes,name,mendable", CANNOT_BE, ids=[name for _, name, _ in CANNOT_BE])
def test_a_shot_that_cannot_be_is_one_finding(
    changes: list[tuple[str, Any]], name: str, mendable: bool, tmp_path: Path
) -> None:
    data = broken(*changes)
    of_the_shot = [finding for finding in predicted(data, tmp_path).findings if finding.shot]
    assert [(finding.id, finding.verdict) for finding in of_the_shot] == [(name, STOP)]
    assert of_the_shot[0].remedy
    assert bool(of_the_shot[0].changes) is mendable
    if mendable:
        mended = looked(changed(data, of_the_shot[0].changes), tmp_path)
        assert not [finding for finding in mended.findings if finding.id == name]


def test_a_shot_that_has_it_nowhere_on_the_table_is_filmed_half_way(tmp_path: Path) -> None:
    """It is followed off the table's end: 3.4 m of road at 0.75 m/s are driven in 4.533 s, half of them in 2.267 s."""
    late = (("shots[0].aim", "vehicle"), ("shots[0].start", "4.4 s"), ("shots[0].duration", "0.4 s"))
    finding = found(predicted(broken(*late), tmp_path), "room.table")
    assert finding.verdict is STOP
    written = {change.key: change.value for change in finding.changes}
    start, duration = (float(str(written[f"shots[0].{key}"]).split()[0]) for key in ("start", "duration"))
    assert start == pytest.approx(3.4 / 0.75 / 2 - duration / 2, abs=0.005)
    again = looked(broken(*late[:1], *((each.key, each.value) for each in finding.changes)), tmp_path)
    assert found(again, "room.table").verdict is FINE


def test_a_shot_that_would_run_on_until_the_vehicle_is_too_near_is_filmed_while_it_is_there(tmp_path: Path) -> None:
    """It comes towards the camera at x = 2600: begun once its tail is on the table, and ended where it ended, for as
    long as before it would drive past the lens. A little later it is large enough in the picture too: one stretch."""
    coming = (
        ("shots[0].at", [2600, 330, 60]), ("shots[0].aim", [0, 330, 60]), ("shots[0].start", "0 s"),
        ("shots[0].duration", "3.5 s"), ("dressing", []), ("set.backdrop", None),
    )  # fmt: skip
    data = broken(*coming)
    finding = found(predicted(data, tmp_path), "room.table")
    assert finding.verdict is STOP and "(shot's start)" in finding.remedy
    begins, lasts = (float(str(change.value).removesuffix(" s")) for change in finding.changes)
    on = (LENGTH / 2 + 0.2) / 0.75  # its tail comes over the edge
    assert on - 1 / 240 <= begins <= on + 0.15 and begins + lasts == pytest.approx(3.5, abs=0.01)
    then = looked(changed(data, finding.changes), tmp_path)
    assert [found(then, name).verdict for name in ("room.table", "focus.nearest", "framing.small")] == [FINE] * 3
    long = looked(broken(*coming, ("shots[0].start", f"{begins} s")), tmp_path)
    assert found(long, "shot.focus").verdict is STOP  # it has driven past the lens


def test_a_fence_through_the_backdrop_is_told_to_its_end(tmp_path: Path) -> None:
    """Over the table's edge it may run on, through a sheet not: 700 mm and half of 400, past 890 mm. By hand."""
    fence = {"id": "paling", "piece": "fence", "at": [1500, 700], "turn": "90 deg", "length": 400}
    told = found(looked(broken(("dressing[2]", fence)), tmp_path), "set.backdrop.paling")
    assert told.value == pytest.approx(0.010, abs=1e-3)
    assert told.message.startswith("paling reaches 10")
