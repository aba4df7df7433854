"""How much of a picture sees past the set: exact along lines, against rays one by one, and thin strips found."""

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broken_scenes import broken, changed, found, looked, predicted, read
from numpy.typing import NDArray

from previz.layout import SEE_THROUGH, hits, solids_of
from previz.predictions import Change, Verdict, predict
from previz.predictions.checks.backdrop import off_set
from previz.predictions.gaps import faces_of
from previz.predictions.reframing import aimed, nudged
from previz.predictions.shot_view import ShotView, view_of
from previz.scene import Scene

#: Nothing on the table but the vehicle, which drives past before the shot.
BARE: list[tuple[str, Any]] = [
    ("dressing[1]", None), ("dressing[0]", None), ("shots[0].start", "20 s"), ("shots[0].duration", "0.1 s"),
    ("vehicle.speed", "0.75 m/s"), ("shots[0].focus", "477 mm"),
]  # fmt: skip


def by_rays(view: ShotView, frame: int, across: int, down: int) -> NDArray[np.bool_]:
    """Whether each of a fine grid's rays (down, across) misses table, backdrop, boxes and vehicle, one by one."""
    u, v = np.meshgrid((np.arange(across) + 0.5) / across, (np.arange(down) + 0.5) / down)
    eye, rays = view.rays(frame, u.ravel(), v.ravel())
    table, backdrop = view.scene.set.table, view.scene.set.backdrop
    with np.errstate(divide="ignore", invalid="ignore"):
        t = -eye[2] / rays[:, 2]
        x, y = eye[0] + t * rays[:, 0], eye[1] + t * rays[:, 1]
        met = (t > 0) & (rays[:, 2] < 0) & (x >= 0) & (x <= table.width) & (y >= 0) & (y <= table.depth)
        if backdrop is not None:
            t = (backdrop.distance - eye[1]) / rays[:, 1]
            x, z = eye[0] + t * rays[:, 0], eye[2] + t * rays[:, 2]
            half = (backdrop.width or table.width) / 2
            met |= (t > 0) & (rays[:, 1] > 0) & (abs(x - table.width / 2) <= half) & (z >= 0) & (z <= backdrop.height)
    solids = [solid for solid in solids_of(view.scene) if solid.kind not in SEE_THROUGH]
    solids.append(view.vehicle_solid(float(view.distances[frame])))
    met |= hits(np.broadcast_to(eye, rays.shape), rays * 1e3, tuple(solids)).any(axis=1)
    return (~met).reshape(down, across)


def shares(scene: Scene, rays: tuple[int, int] = (480, 270)) -> tuple[float, float]:
    """What `check` says of the middle frame, and what so many rays say."""
    view = view_of(scene, scene.shots[0])
    solids = tuple(solid for solid in solids_of(scene) if solid.kind not in SEE_THROUGH)
    return off_set(view, view.middle, faces_of(solids)), float(by_rays(view, view.middle, *rays).mean())


def test_where_no_backdrop_covers_it_the_ground_and_the_backdrop_that_it_says_do(tmp_path: Path) -> None:
    """A narrow table, and a camera that looks past its right edge, down on the floor beyond."""
    narrow = [*BARE, ("set.table.width", 1900), ("shots[0].at", [1500, -60, 160])]
    said = found(looked(broken(*narrow), tmp_path), "backdrop.off_set")
    assert said.verdict is Verdict.STOP
    told = re.fullmatch(
        r"No backdrop alone covers it\. It takes more ground, laid out level with the table: (\d+) mm at its right "
        r"edge; and a backdrop (\d+) mm wide and (\d+) mm high behind all of it\. Else it has to stay out of the "
        r"picture\.",
        said.remedy,
    )
    assert told is not None, said.remedy
    ground, wide, high = map(int, told.groups())

    def past(*more: tuple[str, int]) -> float:
        return looked(broken(*narrow, *more), tmp_path).shots[0].value("off_set_pixels")

    size = ("set.backdrop.width", wide), ("set.backdrop.height", high)
    assert past(("set.table.width", 1900 + ground), *size) == 0
    assert past(("set.table.width", 1900 + ground - 30), *size) > 0
    assert past(("set.table.width", 1900 + ground), ("set.backdrop.width", wide - 60), size[1]) > 0


def test_a_mode_of_more_pixels_sees_no_more_past_the_set(tmp_path: Path) -> None:
    """What rids a shot of flicker is not refused because what is past the set takes more pixels then."""
    fed = [("lights[0].mains", True), ("lights[1].mains", True), ("mains", "50 Hz"), ("shots[0].aim", [1500, 400, 330])]
    modes = ("cameras.small.modes", ["1080p120", "4k60"])
    data = broken(*fed, modes, ("set.backdrop.height", 300), ("set.backdrop.join", "straight"))
    before = predicted(data, tmp_path)
    assert found(before, "backdrop.off_set").verdict is Verdict.STOP
    shown = found(before, "light.flicker_50")
    assert ("shots[0].capture.rate", "60 fps") in [(change.key, change.value) for change in shown.changes], shown.remedy


@pytest.mark.parametrize("strip", [0.005, 0.02])
@pytest.mark.parametrize("side", ["left", "right", "above", "below"])
def test_a_thin_strip_past_any_side_of_the_set_is_found(side: str, strip: float, tmp_path: Path) -> None:
    """A level camera over the table's front edge; the strip is that share of the picture's width or height. By hand.

    v = 4.2 * 477 / 472.8 mm: on the backdrop, 940 mm off, it sees 5.6 / v and 3.15 / v of that; it sees
    the table from 40 / (1.575 / v) = 108 mm off on.
    """
    v = 4.2 * 477 / 472.8
    width, height = 940 * 5.6 / v, 940 * 3.15 / v
    wide, high, x, y, z = 4000.0, 1500.0, 1500.0, -50.0, 40.0
    if side in ("left", "right"):
        wide = width * (1 - 2 * strip) + 2000
        x += 1000.0 if side == "right" else -1000.0
    elif side == "above":
        high = z + height / 2 - strip * height
    else:
        # The table's front edge falls in the picture 1.575 mm less the strip under its middle.
        z = 200.0
        y = -z / (1.575 - strip * 3.15) * v
    shot = [
        ("set.table.width", 6000), ("set.backdrop.width", wide), ("set.backdrop.height", high),
        ("shots[0].at", [x + 1500, y, z]), ("shots[0].aim", [x + 1500, 800, z]),
    ]  # fmt: skip
    finding = found(looked(broken(*BARE, *shot), tmp_path), "backdrop.off_set")
    assert finding.verdict is Verdict.STOP
    assert f"past the set: {side}, throughout" in finding.message
    if side in ("left", "right"):
        # Beside the sheet the table is seen to its far edge, 950 mm off and 40 mm down. Upright edges fall between two
        # of 241 lines.
        beside = 0.5 + 40 / 950 * v / 3.15
        assert finding.value == pytest.approx(strip * beside, abs=0.5 / 240 * beside)
    else:
        assert finding.value == pytest.approx(strip, abs=1e-5)


def random_scene(rng: np.random.Generator, folder: Path) -> Scene:
    """A camera anywhere before the table, aimed anywhere about the set, with boxes strewn over it."""

    def between(*low_high: tuple[float, float]) -> list[float]:
        return [round(float(rng.uniform(low, high)), 2) for low, high in low_high]

    pieces = [
        {"id": f"p{n}", "piece": "building", "at": between((100, 2900), (450, 850)), "floors": 1,
         "turn": f"{rng.uniform(0, 360)} deg", "width": float(rng.uniform(50, 600)),
         "depth": float(rng.uniform(50, 400)), "height": float(rng.uniform(50, 700))}
        for n in range(int(rng.integers(0, 7)))
    ]  # fmt: skip
    backdrop = {"distance": 890, "height": between((100, 1500))[0], "width": between((500, 5000))[0], "colour": "grey"}
    data = broken(
        ("dressing", pieces),
        ("set.backdrop", backdrop if rng.random() < 0.8 else None),
        ("shots[0].at", between((0, 3000), (-900, 200), (20, 900))),
        ("shots[0].aim", between((500, 2500), (300, 1200), (0, 400))),
        ("shots[0].focus", "2 m"),
        ("shots[0].focal_length", between((4.2, 25))[0]),
    )
    return read(data, folder)


def test_on_random_scenes_it_is_what_rays_one_by_one_find(tmp_path: Path) -> None:
    """From a seed, against a grid of 480 x 270 rays: to a 300th of the picture, and nothing over a 300th missed."""
    rng = np.random.default_rng(15)
    some = 0
    for _ in range(20):
        by_lines, counted = shares(random_scene(rng, tmp_path))
        assert by_lines == pytest.approx(counted, abs=1 / 300)
        assert (by_lines > 0) or counted < 1 / 300
        some += 0 < counted < 1
    assert some > 10


def test_among_trees_it_is_what_rays_one_by_one_find(tmp_path: Path) -> None:
    """Solids of many bands with many sides, before, beside and behind the camera; from a seed, as above."""
    rng = np.random.default_rng(16)
    some = 0
    for _ in range(6):
        trees = [
            {"id": f"t{n}", "piece": ("conifer", "broadleaf")[n % 2], "height": float(rng.uniform(60, 400)),
             "at": [float(rng.uniform(100, 2900)), float(rng.uniform(450, 850))]}
            for n in range(30)
        ]  # fmt: skip
        data = broken(
            ("dressing", trees), ("set.backdrop", None), ("shots[0].focus", "2 m"),
            ("shots[0].at", [float(rng.uniform(500, 2500)), float(rng.uniform(0, 600)), float(rng.uniform(150, 250))]),
            ("shots[0].aim", [float(rng.uniform(500, 2500)), 1500, float(rng.uniform(0, 400))]),
        )  # fmt: skip
        by_lines, counted = shares(read(data, tmp_path), (160, 90))
        assert by_lines == pytest.approx(counted, abs=1 / 100)
        some += 0.01 < counted < 0.99
    assert some > 3


def test_from_inside_a_piece_nothing_is_seen_past_it(tmp_path: Path) -> None:
    """Every ray begins in the building, and so meets it; from over its roof most see past the set."""
    building = {"id": "b", "piece": "building", "at": [1500, 600], "floors": 1, "width": 300, "depth": 300,
                "height": 400}  # fmt: skip
    for height, inside in ((200, True), (600, False)):
        at, aim = [1500, 600, height], [1500, 2600, height]
        data = broken(
            ("dressing", [building]), ("set.backdrop", None), ("shots[0].focus", "2 m"),
            ("shots[0].at", at), ("shots[0].aim", aim),
        )  # fmt: skip
        by_lines, counted = shares(read(data, tmp_path), (160, 90))
        assert (by_lines == 0) is (counted == 0) is inside


def test_where_a_little_other_aim_clears_it_nothing_else_is_changed(tmp_path: Path) -> None:
    """A strip of the floor before the table, below: by rays one by one, the aim that is told sees nothing of it any
    more, and one mark of the tape less still does."""
    bare = broken(*BARE, ("shots[0].at", [1500, -450, 160]), ("shots[0].aim", [1500, 400, 161]))
    finding = found(predicted(bare, tmp_path), "backdrop.off_set")
    assert finding.verdict is Verdict.STOP and "below" in finding.message
    (change,) = finding.changes
    assert change.key == "shots[0].aim" and change.value[:2] == ["1500 mm", "400 mm"]
    told = int(change.value[2].removesuffix(" mm"))
    assert told % 5 == 0 and finding.remedy.startswith(f"Aim higher, at 1500 mm, 400 mm, {told} mm from ")

    def past(height: int) -> float:
        aim = Change("shots[0].aim", [1500, 400, height])
        return shares(read(changed(bare, [aim]), tmp_path))[1]

    assert past(told) == 0 < past(told - 5)


def test_the_camera_is_aimed_aside_by_up_to_a_sixth_of_the_picture_s_width(tmp_path: Path) -> None:
    """Past the left end of a backdrop: further aside than a sixth of the height; by rays one by one, no mark less."""
    end = [("set.backdrop.width", 2814), ("shots[0].at", [600, -150, 70]), ("shots[0].aim", [600, 400, 80])]
    bare = broken(*BARE, *end)
    scene = read(bare, tmp_path)
    (way,) = aimed(view_of(scene, scene.shots[0]), [0], ["left"])
    assert way.words.startswith("Aim further right, at ")
    (change,) = way.changes
    x, y, z = (float(each.removesuffix(" mm")) for each in change.value)
    wide = 5.6 / (4.2 * 477 / 472.8) * 550  # at what is aimed at
    assert wide * 9 / 16 / 6 < x - 600 <= wide / 6 and (y, z) == (400, 80)

    def past(x: float) -> float:
        return shares(read(changed(bare, [Change("shots[0].aim", [x, 400, 80])]), tmp_path))[1]

    assert past(x) == 0 < past(x - 5)


def test_where_a_little_other_place_clears_it_the_least_is_told(tmp_path: Path) -> None:
    """The same strip, from another place: by rays one by one as there."""
    bare = broken(*BARE, ("shots[0].at", [1500, -450, 160]), ("shots[0].aim", [1500, 400, 161]))
    scene = read(bare, tmp_path)
    (way,) = nudged(view_of(scene, scene.shots[0]), [0])
    at, *_ = way.changes
    place = [float(each.removesuffix(" mm")) for each in at.value]
    assert at.key == "shots[0].at" and sum(a != b for a, b in zip(place, (1500, -450, 160), strict=True)) == 1

    def past(share: float) -> float:
        then = [was + share * (now - was) for was, now in zip((1500, -450, 160), place, strict=True)]
        return shares(read(changed(bare, [Change("shots[0].at", then)]), tmp_path))[1]

    by = max(abs(now - was) for was, now in zip((1500, -450, 160), place, strict=True))
    assert by % 5 == 0 and past(1) == 0 < past(1 - 5 / by)


def test_a_gap_between_table_and_backdrop_is_told_as_one(tmp_path: Path) -> None:
    """By hand: a level lens 40 mm up sees the table's edge 950 mm off, and past it a backdrop that hangs 960 mm off."""
    v, low = 4.2 * 477 / 472.8, [("set.backdrop.distance", 910), ("set.backdrop.join", "straight")]
    shot = [("shots[0].at", [1500, -50, 40]), ("shots[0].aim", [1500, 400, 40])]
    finding = found(predicted(broken(*BARE, *low, *shot), tmp_path), "backdrop.off_set")
    strip = (40 / 950 - 40 / 960) * v / 3.15
    assert finding.value == pytest.approx(strip, rel=0.01)
    said = "Up to 0.06 % of the picture's height, over 100 % of its width, sees past the set"
    assert finding.message.startswith(said)
    assert finding.message.endswith("It is the gap of 10 mm between the table's edge and the backdrop.")
    assert finding.remedy == "Hang the backdrop at the table's far edge (distance: 900 mm)."


def test_where_no_remedy_is_tried_the_backdrop_that_covers_it_is_told(tmp_path: Path) -> None:
    """Of a scene that was made and not read, as the panels of a comparison are."""
    scene = read(broken(*BARE, ("set.backdrop.height", 250)), tmp_path)
    (shot,) = scene.shots
    made = scene.model_copy(update={"shots": (shot,)})
    told = found(predict(made, remedies=False), "backdrop.off_set")
    high = re.search(r" A backdrop (\d+) mm high covers it\.$", told.message)
    assert told.verdict is Verdict.STOP and high is not None and told.remedy == ""

    def past(height: int) -> float:
        return shares(read(broken(*BARE, ("set.backdrop.height", height)), tmp_path))[1]

    assert past(int(high[1])) == 0 < past(int(high[1]) - 15)


def test_a_camera_that_sees_past_the_set_at_the_end_of_its_pan_may_film_the_part_before(tmp_path: Path) -> None:
    pan = [{"time": "2.05 s", "at": [1500, 400, 80]}, {"time": "2.5 s", "at": [3000, 600, 80]}]
    data = broken(
        ("shots[0].aim", pan), ("shots[0].start", "1.6 s"), ("shots[0].duration", "1 s"), ("dressing", []),
    )  # fmt: skip
    finding = found(predicted(data, tmp_path), "backdrop.off_set")
    assert finding.remedy.startswith("Film while it sees none of that: from 1.600 s on set (shot's start), for ")
    assert finding.frames is not None and finding.frames[1] == 119
    (lasts,) = (float(str(each.value).removesuffix(" s")) for each in finding.changes if each.key.endswith("duration"))
    assert finding.frames[0] - 3 <= lasts * 120 <= finding.frames[0]
    assert found(looked(changed(data, finding.changes), tmp_path), "backdrop.off_set").verdict is Verdict.FINE


def test_a_camera_that_sees_past_the_set_at_both_ends_of_its_pan_has_no_part_without_it(tmp_path: Path) -> None:
    pan = [{"time": "2.05 s", "at": [0, 600, 80]}, {"time": "2.5 s", "at": [3000, 600, 80]}]
    finding = found(predicted(broken(("shots[0].aim", pan), ("dressing", [])), tmp_path), "backdrop.off_set")
    assert finding.verdict is Verdict.STOP and "in frames 0 to 53 " in finding.message
    assert "sees none of that" not in finding.remedy
