"""Each finding between shots fires on a cut broken on purpose, and on that alone; the good cut has none.

What fires is known from how the cut was broken, and its value from the numbers written there.
"""

import math
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from previz.continuity import Between, between_shots, continuity, light
from previz.physics.colour import chromaticity, white_rgb
from previz.predictions import GLOSSARY, Compromise, predict
from previz.sequence import running_order
from tests.continuity.cuts import HOLDS, HUT, between, cut_with, torn
from tests.predictions.broken_scenes import GOOD, read
from tests.predictions.turned_scenes import turned

ALL = {"rate": "120 fps", "shutter": "180 deg"}
FIFTY = ALL | {"rate": "50 fps"}
PLACES: dict[str, Any] = {
    "at": [1300, -250, 80], "start": "1.8 s", "place": "village", "wide": {"place": "harbour"},
    "scene": {"dressing": [HUT]},
}  # fmt: skip
SKYLINE = {"sky": "overcast", "layers": [{"shape": "skyline", "height": 300, "colour": "#334455"}]}
HILLS = {"sky": "overcast", "layers": [{"shape": "hills", "height": 300, "colour": "#223311"}]}
PAINTED = GOOD["set"] | {"backdrop": {"distance": 890, "height": 900, "painting": SKYLINE}}
SMALL = GOOD["cameras"]["small"] | {"modes": ["1080p240", "1440x1080 at 240 fps"]}
EMPTY = {"wide": {"start": "0.1 s", "focus": "650 mm"}}
OVER = {"at": [1700, 780, 60]}

#: How the near shot is broken, what then fires, and its value where the numbers written give it.
BROKEN: dict[str, tuple[dict[str, Any], set[str], float | None]] = {
    "camera over the line": (OVER, {"between.line"}, None),
    # The lamps stay, so that they light its other side.
    "run from the other end": ({"run": "from the other end"}, {"between.direction", "between.light"}, None),
    "the same look again": ({"at": [1320, -250, 80], "start": "2.3 s"}, {"between.angle"}, None),
    "the same empty road again": (
        EMPTY | {"at": [1320, -250, 80], "start": "0.3 s", "focus": "650 mm"}, {"between.angle"}, None,
    ),
    "far larger": (
        {"focal_length": 25, "f_number": "f/11", "aim": "vehicle", "at": [1500, -200, 60]}, {"between.size"}, None,
    ),
    "faster": (
        {"vehicle": {"speed": "1.0125 m/s"}, "start": "1.63 s", "capture": FIFTY, "wide": {"capture": FIFTY}},
        {"between.speed"}, 1.35,
    ),
    "from a mast": ({"at": [1800, 10, 500]}, {"between.height"}, 500 / 80),
    "from another lamp": ({"moved": {"key": {"at": [2900, -500, 1000]}}}, {"between.light"}, None),
    "balanced for another light": ({"capture": ALL | {"white_balance": "3200 K"}}, {"between.colour"}, None),
    "lit in another colour": ({"lights": {"key": {"colour": "3200 K"}}}, {"between.colour"}, None),
    "stopped down": ({"f_number": "f/8"}, {"between.blur"}, 2.8 / 8),
    # Half as slow is twice as fast.
    "less slowed": ({"capture": ALL | {"rate": "60 fps"}}, {"between.pace", "between.speed"}, None),
    "a shorter shutter": ({"capture": ALL | {"shutter": "90 deg"}}, {"between.shutter"}, 0.5),
    "played otherwise": ({"playback": "25 fps"}, {"between.playback"}, 25.0),
    "of another shape": (
        {"capture": ALL | {"mode": "1440x1080 at 240 fps"}, "scene": {"cameras": {"small": SMALL}}},
        {"between.shape"}, 4 / 3,
    ),
    "the same house elsewhere": (PLACES, {"between.place"}, None),
    "the same skyline elsewhere": (PLACES | {"scene": {"set": PAINTED}}, {"between.place"}, None),
    "the same stretch again": (
        {"scene": {"sequence": [{"shot": "wide", "out_point": "0.3 s"}, {"shot": "wide", "in_point": "0.4 s"}]}},
        {"between.angle"}, None,
    ),
}  # fmt: skip


#: How a remedy is followed: a pattern of its words, and the keys of the near shot that they then stand for.
FOLLOWED: dict[str, tuple[str, Any]] = {
    "the same look again": (
        r"to (-?\d+) mm, (-?\d+) mm, (\d+) mm up", lambda x, y, z: {"at": [float(x), float(y), float(z)]}),
    "faster": (r"record that at (\d+) fps", lambda rate: {"capture": ALL | {"rate": f"{rate} fps"}}),
    "from a mast": (r"to (\d+) mm over the table", lambda z: {"at": [1800, 10, float(z)]}),
    "balanced for another light": (r"to (\d+) K", lambda kelvin: {"capture": ALL | {"white_balance": f"{kelvin} K"}}),
    "stopped down": (r"to f/([\d.]*\d)", lambda stop: {"f_number": f"f/{stop}"}),
    "less slowed": (r"at (\d+) fps", lambda rate: {"capture": ALL | {"rate": f"{rate} fps"}}),
    "a shorter shutter": (r"to (\d+) deg", lambda angle: {"capture": ALL | {"shutter": f"{angle} deg"}}),
    "played otherwise": (r"to (\d+) fps", lambda rate: {"playback": f"{rate} fps"}),
}  # fmt: skip


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_broken_is_found_and_nothing_else_and_a_number_in_its_remedy_mends_it(
    name: str, tmp_path: Path
) -> None:
    near, fires, value = BROKEN[name]
    found = torn(cut_with(**near), tmp_path)
    assert found.keys() == fires
    for each in found.values():
        assert each.events == (1, 2) and each.remedy and each.value != each.limit
    first = min(fires)
    if value is not None:
        assert found[first].value == pytest.approx(value, rel=1e-6)
    if name in FOLLOWED:
        pattern, keys = FOLLOWED[name]
        said = re.search(pattern, found[first].remedy)
        assert said, found[first].remedy
        assert torn(cut_with(**near | keys(*said.groups())), tmp_path).keys() <= fires - {first}  # and nothing else is


@pytest.mark.parametrize(
    "other",
    [{"at": [1800, 10, 60]}, {"at": [2600, -250, 80], "aim": [2600, 400, 80]}, {"moved": {"hut": [1600, 720]}},
     {"lights": {"room": {"ambient": "500 lx"}}}, {"place": "harbour", "wide": EMPTY["wide"] | {"place": "village"}}],
    ids=["from elsewhere", "elsewhere", "dressed anew", "lit anew", "another place"],
)  # fmt: skip
def test_another_look_at_an_empty_road_is_no_jump(other: dict[str, Any], tmp_path: Path) -> None:
    empty = EMPTY | {"scene": {"dressing": [HUT]}, "at": [1320, -250, 80], "start": "0.3 s", "focus": "650 mm"} | other
    assert "between.angle" not in torn(cut_with(**empty), tmp_path)


def test_a_rate_that_would_tear_the_slowing_apart_is_not_told(tmp_path: Path) -> None:
    """1.6 times as fast: recorded at as many times the frames it would be slowed by more than eyes take for alike."""
    told = torn(cut_with(vehicle={"speed": "1.2 m/s"}, start="1.375 s"), tmp_path)["between.speed"].remedy
    assert told == "Let it drive 0.62 times as fast at the start of near."


@pytest.mark.parametrize("key", ["60 klm", "3 klm"], ids=["enough as it is", "too little as it is"])
def test_a_stop_that_takes_more_light_than_there_is_says_how_much(key: str, tmp_path: Path) -> None:
    """As much as the shot's own check finds lacking once that stop is set: no way round from the one to the other."""
    lights = [GOOD["lights"][0] | {"output": key}, {"id": "room", "ambient": "20 lx"}]
    dim = {"wide": {"f_number": "f/5.6"}, "scene": {"lights": lights}}
    remedy = torn(cut_with(**dim, f_number="f/2"), tmp_path)["between.blur"].remedy
    said = re.fullmatch(r"Set near to f/4, with ([\d.]+) stops more light, or the picture shows noise\.", remedy)
    assert said, remedy
    stopped = predict(read(cut_with(**dim, f_number="f/4"), tmp_path))
    (noise,) = [each for each in stopped.findings if each.id == "light.iso" and each.shot == "near"]
    assert -0.01 < float(said[1]) - math.log2(noise.value / noise.limit) < 0.1  # and no less, rounded


@pytest.mark.parametrize(("near", "wide"), [("f/2.8", "f/11"), ("f/11", "f/2.8"), ("f/8", "f/2"), ("f/2", "f/5.6")])
def test_a_stop_that_has_two_alike_is_not_one_that_its_own_check_calls_out(
    near: str, wide: str, tmp_path: Path
) -> None:
    """Else the compromise of that shot sends it back: set to f/4.5, stopped down to f/16, opened up, in a circle."""
    before = cut_with(f_number=near, wide={"f_number": wide})
    remedy = torn(before, tmp_path)["between.blur"].remedy
    said = re.match(r"Set (near|wide) to (f/\d+(?:\.\d+)?)", remedy)
    if said is None:
        assert "which check calls out there" in remedy or remedy.startswith("No stop of")
        return
    stops = {"near": near, "wide": wide} | {said[1]: said[2]}
    after = cut_with(f_number=stops["near"], wide={"f_number": stops["wide"]})
    assert "between.blur" not in torn(after, tmp_path)
    was, then = (
        {each.id for each in predict(read(cut, tmp_path), remedies=False).findings
         if each.shot == said[1] and each.verdict != "fine" and each.id.startswith(("focus.", "scale."))}
        for cut in (before, after)
    )  # fmt: skip
    assert then <= was


@pytest.mark.parametrize(
    ("near", "wide", "set_to"), [("f/2", "f/5.6", "near to f/4"), ("f/2.8", "f/11", "wide to f/2.8")]
)
def test_a_stop_that_a_compromise_has_weighed_is_not_told_otherwise(
    near: str, wide: str, set_to: str, tmp_path: Path
) -> None:
    """Whether it is the later shot's or the earlier one's."""
    scene = read(cut_with(f_number=near, wide={"f_number": wide}), tmp_path)
    shot = set_to.split()[0]
    told = []
    for settled in ((), (Compromise(shot, "Leave it as it is.", (), (), (), ()),)):
        predictions = replace(predict(scene, remedies=False), compromises=settled)
        (blur,) = [each for each in continuity(running_order(scene), predictions) if each.id == "between.blur"]
        told.append(blur.remedy)
    assert told[0].startswith(f"Set {set_to}")
    assert told[1] == f"The compromise of {shot} comes first; only to have the two alike: s{told[0][1:]}"


@pytest.mark.parametrize(
    ("least", "told"),
    [(0.5, "to 180 deg"), (1.3, r"to 147 deg|to 122 deg"), (1.9, "At 180 deg near .* too bright.*let the two differ")],
)
def test_a_shutter_that_the_shot_needs_is_not_undone_for_the_cut(least: float, told: str, tmp_path: Path) -> None:
    """Its camera's lowest ISO is so many times that which the shot takes at 180 deg; at 90 deg it takes 2 times that.

    By hand: 180 deg x 1.5^-0.5 = 147 deg takes 1.22 times as much, 180 deg x 1.5^-0.95 = 122 deg 1.47 times.
    """
    takes = predict(read(cut_with(), tmp_path), remedies=False).shot("near").value("iso_needed")
    bright = GOOD["cameras"]["small"] | {"iso": [round(least * takes), 25600]}
    near: dict[str, Any] = {"camera": "bright", "capture": ALL | {"shutter": "90 deg"}}
    near["scene"] = {"cameras": GOOD["cameras"] | {"bright": bright}}
    found = torn(cut_with(**near), tmp_path)
    assert found.keys() == {"between.shutter"}
    remedy = found["between.shutter"].remedy
    assert re.search(told, remedy), remedy
    followed = re.match(r"Set the shutter of near to ([\d.]+) deg\.$", remedy)
    assert (followed is None) == (least > 1.5)
    if followed is not None:
        then = cut_with(**near | {"capture": ALL | {"shutter": f"{followed[1]} deg"}})
        assert not torn(then, tmp_path)
        bad = [each.id for each in predict(read(then, tmp_path), remedies=False).findings if each.verdict != "fine"]
        assert "light.iso_range" not in bad


def white_of(data: dict[str, Any], found: dict[str, Between]) -> dict[str, Any]:
    """With the white balance that the remedy says of each shot."""
    said = dict(re.findall(r"(\w+) to (\d+) K", found["between.colour"].remedy))
    common = re.match(r"Set the white balance of (.*) to (\d+) K", found["between.colour"].remedy)
    if common:
        said = dict.fromkeys(re.split(r", | and ", common[1]), common[2])
    assert said
    shots = [
        shot | ({"capture": shot["capture"] | {"white_balance": f"{said[shot['id']]} K"}} if shot["id"] in said else {})
        for shot in data["shots"]
    ]
    return data | {"shots": shots}


@pytest.mark.parametrize(
    ("whites", "lamp", "said"),
    [
        ((None, "3200 K", None), "5600 K", "Set the white balance of near to 5600 K, as in wide and last."),
        (("3200 K", "3200 K", None), "5600 K", "Set the white balance of last to 3200 K, as in wide and near."),
        # What each shot's own check says leads to the same.
        ((None, "3200 K", None), "3200 K", "Set the white balance of wide and last to 3200 K, as in near."),
    ],
    ids=["one is off", "a look", "as the light is"],
)
def test_one_white_balance_is_told_for_all_shots_of_a_cut(
    whites: tuple[str | None, ...], lamp: str, said: str, tmp_path: Path
) -> None:
    """Told of each cut by itself, the one set A as B and the next B as A."""
    data = cut_with(scene={"lights": [each | {"colour": lamp} for each in GOOD["lights"]]})
    data["shots"].append(data["shots"][0] | {"id": "last", "aim": [1400, 400, 80]})
    for shot, white in zip(data["shots"], whites, strict=True):
        shot["capture"] = ALL | ({"white_balance": white} if white else {})
    found = torn(data, tmp_path)
    assert found["between.colour"].remedy.startswith(said)
    assert "between.colour" not in torn(white_of(data, found), tmp_path)


def test_shots_in_the_light_of_other_lamps_are_each_balanced_for_their_own(tmp_path: Path) -> None:
    """No one setting does for a shot by daylight and one by lamps."""
    data = cut_with(lights={"key": {"colour": "3200 K"}, "room": {"colour": "3200 K"}}, capture=ALL)
    found = torn(data, tmp_path)
    assert found["between.colour"].remedy.startswith("Balance each shot for its own light: ")
    after = white_of(data, found)
    assert "between.colour" not in torn(after, tmp_path)
    own = [each for each in predict(read(after, tmp_path)).findings if each.id == "light.white"]
    assert own and all(each.verdict == "fine" for each in own)


def test_lamps_that_stand_on_the_set_are_seen_to_colour_what_drives_past_them(tmp_path: Path) -> None:
    """Motivated light: the warm patch under a street lamp is no fault of the cut, though the share of it is another."""
    posts = {"id": "posts", "piece": "lamp_post", "at": [1850, 240], "turn": "-90 deg", "lit": "60 lm"}
    later = {"start": "2.6 s", "aim": [1800, 400, 80], "at": [1900, -250, 80]}
    dim = [{"id": "room", "ambient": "20 lx"}]
    data = cut_with(scene={"dressing": [posts], "lights": dim}, **later)
    lit = [
        {each.of: each.value for each in shot.figures if each.quantity == "illuminance_vehicle"}
        for shot in predict(read(data, tmp_path), remedies=False).shots
    ]
    wide, near = (each["posts"] / each["all lamps"] for each in lit)
    assert near > 0.6 and wide < 0.4
    assert "between.colour" not in torn(data, tmp_path)
    # Where the light of a lamp over the set is another, that is told as ever.
    other = cut_with(scene={"dressing": [posts], "lights": dim}, **later, lights={"room": {"colour": "3200 K"}})
    assert "between.colour" in torn(other, tmp_path)


@pytest.mark.parametrize("iso", ["auto", 400])
def test_lamps_moved_back_to_their_side_give_what_is_told(
    iso: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Moved as the remedy says and checked, the shot takes the ISO that it told, and the light comes from one side."""
    moved: list[Any] = []
    exposed = light._exposed_with
    monkeypatch.setattr(light, "_exposed_with", lambda end, lights: moved.extend(lights) or exposed(end, lights))
    data = cut_with(moved={"key": {"at": [2600, 900, 700]}}, capture=ALL | {"iso": iso})
    remedy = torn(data, tmp_path)["between.light"].remedy

    def figure(data: dict[str, Any]) -> float:
        return predict(read(data, tmp_path), remedies=False).shots[1].value("iso_needed")

    now = figure(data)
    (key,) = [{"at": [f"{1e3 * x:.3f} mm" for x in each.at], "aim": [f"{1e3 * x:.3f} mm" for x in each.aim]}
              for each in moved if each.id == "key"]  # fmt: skip
    after = cut_with(moved={"key": key}, capture=ALL | {"iso": iso})
    assert "between.light" not in torn(after, tmp_path)
    then = figure(after)
    if iso == "auto":
        said = re.search(r"It then takes about ISO (\d+)[^;]*; now about (\d+)\.", remedy)
        assert said, remedy
        assert [float(each) for each in said.groups()] == pytest.approx([then, now], rel=0.15)  # in third stops
    else:
        said = re.search(r"It then gets ([\d.]+) stops (less|more) light than now\.", remedy)
        assert said, remedy
        stops = math.log2(now / then) * (1 if said[2] == "more" else -1)
        assert float(said[1]) == pytest.approx(stops, abs=0.06)


def test_a_cut_that_holds_has_no_finding(tmp_path: Path) -> None:
    found = between(HOLDS, tmp_path)
    assert {each.verdict for each in found} == {"fine"}
    of_two = {name for name, each in GLOSSARY.items() if each.group == "Between the shots"}
    assert {each.quantity for each in found} == of_two - {"same_share"}
    # Everything was looked at, but for what no shot says: at which place it is.
    of_a_run = {"between.direction" if each == "between.line" else each for each in (each.id for each in found)}
    assert of_a_run >= {id for _, ids, _ in BROKEN.values() for id in ids} - {"between.place", "between.line"}


@pytest.mark.parametrize(
    "near",
    [
        OVER | {"scene": {"sequence": ["wide", {"shot": "near", "dissolve": "12 frames"}]}},  # time passes
        {
            "scene": {"sequence": [{"shot": "wide", "out_point": "0.3 s"}, {"shot": "wide", "in_point": "0.3 s"}]}
        },  # runs on
        {"scene": {"sequence": ["near"]}},  # nothing is cut to it
        # Nothing moves in it, so that neither its pace nor its shutter shows.
        {
            "capture": {"rate": "24 fps", "shutter": "90 deg"},
            "vehicle": {"speed": 0, "path": [[1500, 327], [3200, 327]]},
        },
        PLACES | {"place": "harbour"},  # the same place may look it
        PLACES | {"moved": {"hut": [1550, 720]}},
        PLACES | {"moved": {"hut": {"colour": "#884422"}}},
        PLACES | {"at": [1800, 10, 60], "start": "2.2 s"},  # seen from elsewhere
        PLACES | {"scene": {"set": PAINTED}, "backdrop": {"painting": HILLS}},  # painted otherwise behind
    ],
)
def test_what_is_no_break_is_silent(near: dict[str, Any], tmp_path: Path) -> None:
    assert not torn(cut_with(**near), tmp_path)


def test_nothing_stops_between_shots_that_nobody_put_in_order(tmp_path: Path) -> None:
    """A file may hold other takes on one shot; they need not fit each other."""
    scene = read(cut_with(playback="25 fps"), tmp_path)
    found = {
        ordered: next(
            each.verdict
            for each in continuity(running_order(scene), predict(scene, remedies=False), ordered=ordered)
            if each.id == "between.playback"
        )
        for ordered in (True, False)
    }
    assert found == {True: "stop", False: "watch"}


def test_a_look_from_straight_ahead_is_of_neither_side(tmp_path: Path) -> None:
    ahead = {"at": [2300, 420, 100], "aim": "vehicle"}
    order = {"scene": {"sequence": ["wide", "ahead", "near"]}}
    data = cut_with(**OVER, **order)
    data["shots"].insert(1, data["shots"][1] | {"id": "ahead", **ahead})
    assert not {"between.line", "between.direction"} & torn(data, tmp_path).keys()


def test_a_run_of_another_time_is_on_the_same_line_and_only_another_way_is_another_run(tmp_path: Path) -> None:
    """To let it run as in the other shot would change nothing where it goes the same way already."""
    later = torn(cut_with(**OVER, vehicle={"start": "0.01 s"}), tmp_path)
    assert "between.line" in later and "let it run" not in later["between.line"].remedy
    turned = {"run": "from the other end"}
    direction = torn(cut_with(**turned), tmp_path)["between.direction"]
    assert "let it run as in wide" in direction.remedy
    assert "between.direction" not in torn(cut_with(**OVER, **turned), tmp_path)  # filmed from the other side


def test_the_angle_round_the_line_is_that_of_the_camera_s_place(tmp_path: Path) -> None:
    # The vehicle is at 0.75 m/s times 2.2 s, mid-shutter, less the 200 mm by which its road begins off the table, in
    # its lane; the camera stands 380 mm less half a lane (3.5 m / 24 / 2) to its left.
    found = torn(cut_with(**OVER), tmp_path)["between.line"]
    x, y = 1700 - (750 * (2.2 + 1 / 480) - 200), 780 - (400 - 3500 / 24 / 2)
    assert found.value == pytest.approx(math.atan2(y, abs(x)), rel=1e-6)


def test_chromaticity_is_that_of_the_standards_white() -> None:
    # D65 has u' 0.1978, v' 0.4683 (CIE 15; from memory); a black body of 3200 K lies at 0.2459, 0.5208 by Planck's law
    # with the CIE 1931 observer (colour-science 0.4.7, xy 0.4234, 0.3990), to what the fit of the observer allows.
    assert chromaticity([1, 1, 1]) == pytest.approx([0.1978, 0.4683], abs=1e-4)
    x, y = 0.4234, 0.3990
    expected = [4 * x / (-2 * x + 12 * y + 3), 9 * y / (-2 * x + 12 * y + 3)]
    assert chromaticity(white_rgb(3200)) == pytest.approx(expected, abs=2e-3)


#: Another camera beside the one there, by the fastest rate of its one mode.
def beside(rate: int, **scene: Any) -> dict[str, Any]:
    other = GOOD["cameras"]["small"] | {"modes": [f"1080p{rate}"]}
    return scene | {"cameras": GOOD["cameras"] | {"other": other}}


@pytest.mark.parametrize(
    "fastest,wide,said",
    [
        # Ten times slow is 240 fps, which a camera that ends at 100 does not have; 120 is 1.2 times as slow as 100.
        (100, 240, "Record wide at 120 fps,"),
        (200, 240, "Record near at 200 fps,"),
    ],
)
def test_a_pace_is_mended_at_a_rate_that_the_camera_has(fastest: int, wide: int, said: str, tmp_path: Path) -> None:
    rate = min(fastest, 100)
    near = {"camera": "other", "capture": ALL | {"rate": f"{rate} fps"}, "scene": beside(fastest)}
    found = torn(cut_with(**near, wide={"capture": ALL | {"rate": f"{wide} fps"}}), tmp_path)
    assert found["between.pace"].remedy.startswith(said)
    shot, rate = re.findall(r"Record (\w+) at (\d+) fps", said)[0]
    followed = {"capture": ALL | {"rate": f"{rate} fps"}}
    mended = near | followed if shot == "near" else near
    slow = followed if shot == "wide" else {"capture": ALL | {"rate": f"{wide} fps"}}
    assert "between.pace" not in torn(cut_with(**mended, wide=slow), tmp_path)


def test_cameras_without_a_rate_for_one_pace_are_told_so(tmp_path: Path) -> None:
    """One camera ends at 24 fps, played at 24; the other is played at 120, and then at 4 frames a second."""
    near = {"camera": "other", "capture": ALL | {"rate": "24 fps"}, "scene": beside(24)}
    fast = {"capture": ALL | {"rate": "240 fps"}, "playback": "120 fps"}
    # Near would have to be recorded at 48 fps and ends at 24; wide at 120, which its camera has.
    assert torn(cut_with(**near, wide=fast), tmp_path)["between.pace"].remedy.startswith("Record wide at 120 fps")
    slowest = {"capture": ALL | {"rate": "240 fps"}, "playback": "4 fps"}  # wide at 4 fps: none goes below 8
    told = torn(cut_with(**near, wide=slowest), tmp_path)["between.pace"].remedy
    assert told.startswith("No rate that either camera has slows both alike") and "Record" not in told


def test_a_launched_vehicle_is_made_slower_by_its_release(tmp_path: Path) -> None:
    ramp = {"height": 150, "length": 600, "foot_radius": 600, "foot": 210}
    launched = GOOD["vehicle"] | {"launch": {"ramp": ramp}}
    del launched["speed"]
    time = {"start": "0.6 s", "duration": "0.4 s", "aim": "vehicle", "capture": ALL | {"rate": "120 fps"}}
    data = cut_with(**time, wide=time | {"capture": ALL | {"rate": "240 fps"}}, scene={"vehicle": launched})
    told = torn(data, tmp_path)["between.speed"].remedy
    assert re.match(
        r"Let it drive 0\.\d+ times as fast at the start of near \(release it from lower on its ramp\)", told
    )


@pytest.mark.parametrize("side", ["left", "front"])
def test_a_cut_on_a_turned_set_is_torn_by_as_much(side: str, tmp_path: Path) -> None:
    """The same skyline behind another place is known again wherever the backdrop stands."""
    data = cut_with(**(PLACES | {"scene": {"set": PAINTED}}))
    there, here = torn(turned(data, side), tmp_path), torn(data, tmp_path)
    assert there.keys() == here.keys() == {"between.place"}
    assert there["between.place"].value == pytest.approx(here["between.place"].value, rel=1e-6)


@pytest.mark.parametrize(
    ("name", "other"),
    [
        ("camera over the line", {"body": "van"}),
        ("the same look again", {"colour": "navy"}),
        ("far larger", {"length": "200 mm"}),
    ],
)
def test_another_vehicle_is_not_taken_for_the_same(name: str, other: dict[str, Any], tmp_path: Path) -> None:
    """A second vehicle may drive to the other side, be seen from beside the first, and be of another size."""
    broken, fires, _ = BROKEN[name]
    found = torn(cut_with(**(broken | {"vehicle": other})), tmp_path)
    assert not found.keys() & fires


def test_two_that_meet_are_lit_from_one_side_of_the_set(tmp_path: Path) -> None:
    """The light on the one comes from its left and on the other from its right, for they drive past each other."""
    back = {"body": "lorry", "path": [[3000, 440], [0, 440]], "speed": "0.75 m/s", "colour": "navy", "start": "0.2 s"}
    found = torn(cut_with(subject="back", scene={"vehicles": {"back": back}}), tmp_path)
    assert "between.light" not in found


def test_where_only_the_vehicle_is_elsewhere_no_lamp_is_to_be_moved(tmp_path: Path) -> None:
    """A lamp just beside the way: it shines from ahead before the vehicle passes it, then from behind."""
    near = {"lights": [{"id": "key", "panel": [300, 300], "at": [1700, 200, 400], "aim": [1700, 400, 0],
                        "output": "9 klm", "mains": False}]}  # fmt: skip
    there = cut_with(wide={"start": "1.6 s"}, start="2.6 s", at=[2100, 10, 60], aim="vehicle", scene=near)
    light = torn(there, tmp_path)["between.light"]
    assert light.remedy.startswith("The lamps are as they were") and "Move the lamps" not in light.remedy
    moved = torn(cut_with(**BROKEN["from another lamp"][0]), tmp_path)["between.light"]
    assert moved.remedy.startswith("Move the lamps of near")


def test_two_cameras_at_one_run_are_no_jump_in_speed(tmp_path: Path) -> None:
    """To choose from, the cut may be at any moment; in a running order the end meets the start, and it says so."""
    ramp = {"height": 150, "length": 600, "foot_radius": 600, "foot": 210}
    launched = GOOD["vehicle"] | {"launch": {"ramp": ramp, "rolling": "8 %"}}
    del launched["speed"]
    time = {"start": "0 s", "duration": "1.2 s", "aim": "vehicle"}
    data = cut_with(**time, wide=time, scene={"vehicle": launched})
    scene = read(data, tmp_path)
    (told,) = (each for each in between_shots(scene, predict(scene, remedies=False)) if each.id == "between.speed")
    assert told.verdict == "fine" and told.value == pytest.approx(1)
    ordered = torn(data | {"sequence": ["wide", "near"]}, tmp_path)["between.speed"]
    assert re.search(r"\d+ km/h at the start of 2 near and at \d+ km/h at the end of 1 wide", ordered.message)
    begins, ends = map(float, re.findall(r"from ([\d.]+) to ([\d.]+) s on set", ordered.remedy)[0])
    moment = (begins + ends) / 2 * scene.shots[0].capture.rate / scene.shots[0].playback  # on screen
    cut = [{"shot": each, key: f"{float(moment):.3f} s"} for each, key in (("wide", "out_point"), ("near", "in_point"))]
    assert "between.speed" not in torn(data | {"sequence": cut}, tmp_path)


def test_a_place_from_which_nothing_can_be_focused_loses_no_finding(tmp_path: Path) -> None:
    """A camera that looks past a vehicle and is led round it has it beside the lens before its cut jumps no more."""
    again = {"at": [1850, 330, 60], "aim": [0, 420, 80], "focus": "vehicle", "focal_length": 25}
    scene = read(cut_with(wide=again, **again), tmp_path)
    told = {each.id: each for each in between_shots(scene, predict(scene, remedies=False))}
    assert told["between.angle"].verdict == "watch" and told["between.angle"].value == pytest.approx(0, abs=0.01)
    assert "between.colour" in told and "between.blur" in told
