"""What is wanted and what may change, as people write it."""

import math
from pathlib import Path
from typing import Any

import pytest

from previz.errors import SceneErrors
from previz.scene import (
    USUAL_WANTS,
    Fills,
    Lasts,
    MayChange,
    Range,
    Scene,
    ScreenSpeed,
    Sharp,
    Shutter,
    ShutterRange,
    read_scene,
)

LORRY = Path(__file__).parents[2] / "scenes" / "quay_lorry.yaml"


def wanting(wants: Any = None, **may_change: Any) -> Scene:
    said = {"wants": wants} if wants is not None else {}
    return read_scene(LORRY, changes={**said, **({"may_change": may_change} if may_change else {})})


def test_unless_they_are_given_a_shot_wants_what_is_usual_and_nothing_built_may_change() -> None:
    scene = read_scene(LORRY)
    assert scene.wants == USUAL_WANTS and scene.may_change == MayChange()
    assert not any(want.must for want in scene.wants)
    free = {name for name in MayChange.model_fields if getattr(scene.may_change, name) is True}
    assert free == {*("camera", "focal_length", "f_number", "focus", "distance", "mode", "rate", "shutter", "iso")}


def test_wants_keep_their_order_and_say_themselves_as_written() -> None:
    written = [
        *({"speed": "at most  70 km/h", "must": True}, {"sharp": "run", "shot": "pass"}),
        *({"fills": "40 to 50 %"}, {"iso": "at least 200"}),
    ]
    assert [str(want) for want in wanting(written).wants] == [
        *("{speed: at most 70 km/h, must: true}", "{sharp: run, shot: pass}"),
        *("{fills: 40 to 50 %}", "{iso: at least 200}"),
    ]


def test_a_want_of_one_shot_is_none_of_another() -> None:
    second = {
        "id": "again",
        "camera": "pocket",
        "focal_length": "16 mm",
        "f_number": 4,
        "at": ["70 cm", "-16 cm", "5 cm"],
    }
    second |= {"aim": "vehicle", "focus": "vehicle", "capture": {"rate": "60 fps"}}
    wants = [{"sharp": "run", "shot": "again"}, {"lasts": "at least 3 s"}]
    scene = read_scene(LORRY, changes={"shots[1]": second, "wants": wants})
    assert [type(want) for want in scene.wants_of(scene.shots[0])] == [Lasts]
    assert [type(want) for want in scene.wants_of(scene.shots[1])] == [Sharp, Lasts]


@pytest.mark.parametrize(
    ("written", "least", "most"),
    [
        ("60 to 80 km/h", 60 / 3.6, 80 / 3.6),  # a kilometre an hour is 1/3.6 m/s
        ("36 km/h to 20 m/s", 10.0, 20.0),
        ("at least 10 mph", 4.4704, math.inf),  # the international mile: 1609.344 m
        ("  at  most 72 km/h ", -math.inf, 20.0),
        ("0 to 1 m/s", 0.0, 1.0),
    ],
)
def test_a_range_has_an_end_or_both_and_one_unit_may_stand_for_both(written: str, least: float, most: float) -> None:
    (want,) = wanting([{"speed": written}]).wants
    assert isinstance(want, ScreenSpeed)
    assert (want.speed.least, want.speed.most) == pytest.approx((least, most))


@pytest.mark.parametrize(
    ("want", "least", "most"),
    [
        ({"fills": "45 %"}, 0.40, 0.50),
        ({"fills": 0.45, "within": "2 %"}, 0.43, 0.47),
        ({"fills": "3 %"}, 0.0, 0.08),
        ({"fills": "40 to 60 %"}, 0.4, 0.6),
        ({"fills": "at least 40 %"}, 0.4, math.inf),
        ({"fills": "a third"}, 1 / 3 - 0.05, 1 / 3 + 0.05),
        ({"fills": "half to two thirds"}, 1 / 2, 2 / 3),
    ],
)
def test_a_share_alone_is_meant_within_reach(want: dict[str, Any], least: float, most: float) -> None:
    (found,) = wanting([want]).wants
    assert isinstance(found, Fills)
    assert (found.range.least, found.range.most) == pytest.approx((least, most))


@pytest.mark.parametrize(
    ("written", "least", "most"),
    [
        ("3 seconds", 3.0, math.inf),
        ("half a second", 0.5, math.inf),
        ("at most a quarter of a minute", -math.inf, 15.0),
    ],
)
def test_a_time_in_words_is_read_and_alone_is_the_least(written: str, least: float, most: float) -> None:
    (want,) = wanting([{"lasts": written}]).wants
    assert isinstance(want, Lasts)
    assert (want.lasts.least, want.lasts.most) == (least, most)
    assert str(want) == f"{{lasts: {written}}}"


@pytest.mark.parametrize(
    ("key", "written", "read"),
    [
        ("camera", "no", False),
        ("camera", True, True),
        ("camera", ["pocket", "big"], ("pocket", "big")),
        ("distance", "300 to 900", Range(0.3, 0.9)),  # the file's units: mm
        ("distance", "1 to 2 m full size", Range(0.02, 0.04)),  # at 1:50
        ("height", "at most 12 cm", Range(most=0.12)),
        ("f_number", "f/4 to 8", Range(4.0, 8.0)),
        ("f_number", [4, "f/5.6"], (4.0, 5.6)),
        ("iso", "100 to 1600", Range(100.0, 1600.0)),
        ("shutter", "90 to 180 deg", ShutterRange(angle=Range(math.pi / 2, math.pi))),
        ("shutter", "1/500 to 1/100 s", ShutterRange(time=Range(0.002, 0.01))),
        ("shutter", ["1/100 s"], (Shutter(time="1/100 s"),)),
        ("lamp_output", "at most 1.2 klm", Range(most=1200.0)),
        ("lamps", ["sky"], ("sky",)),
    ],
)
def test_what_may_change_is_yes_no_a_range_or_a_list(key: str, written: Any, read: Any) -> None:
    found = getattr(wanting(None, **{key: written}).may_change, key)
    if isinstance(read, Range):
        assert (found.least, found.most) == pytest.approx((read.least, read.most))
    elif isinstance(read, ShutterRange):
        for mine, theirs in ((found.angle, read.angle), (found.time, read.time)):
            assert (mine is None) == (theirs is None)
            assert mine is None or (mine.least, mine.most) == pytest.approx((theirs.least, theirs.most))
    else:
        assert found == read


@pytest.mark.parametrize(
    ("wants", "said"),
    [
        (["sharp"], "wants[0]: sharp is not a want; write it like {fills: 45 %}"),
        ([{"fils": "45 %"}], "wants[0]: says nothing that is wanted (did you mean fills by fils?)"),
        ([{"must": True}], "wants[0]: says nothing that is wanted; give it fills, framing"),
        ([{"fills": "45 %", "sharp": "run"}], "wants[0]: has fills and sharp; give each an entry of its own"),
        ([{"sharp": "whole van"}], "whole van is not a time to be sharp; did you mean run? Choose run or mid-frame"),
        (
            [{"speed": "70 km/h"}],
            "wants[0].speed: 70 km/h is not a range; write it like 63 to 77 km/h, or like at least 70",
        ),
        ([{"speed": "80 to 60 km/h"}], "wants[0].speed: 80 to 60 km/h runs backwards; write the smaller value first"),
        ([{"speed": "60 to 80"}], "wants[0].speed: 60 has no unit"),
        ([{"lasts": "at least 3 m"}], "wants[0].lasts: 3 m: m is not a unit of time"),
        ([{"iso": "at most 8.5"}], "wants[0].iso: 8.5 is not a whole number"),
        ([{"fills": "at least 140 %"}], "wants[0].fills: 140 % is out of range; it must be at least 0 % and at most"),
        ([{"iso": "at most 800", "must": "maybe"}], "wants[0].must: maybe is not a yes or no; write true or false"),
        ([{"iso": "at most 800", "shot": "pas"}], "wants[0].shot: pas is not a shot of this file; did you mean pass?"),
        ({"fills": "45 %"}, "wants: a group of keys (fills) is not a list of wants; write it like"),
    ],
)
def test_a_want_that_is_none_is_told(wants: Any, said: str) -> None:
    with pytest.raises(SceneErrors) as caught:
        wanting(wants)
    assert said in str(caught.value), str(caught.value)
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize(
    ("key", "written", "said"),
    [
        (
            "camera",
            "pocket",
            "pocket does not say whether this may change; write yes, no or a list, like [pocket, big]",
        ),
        ("camera", ["poket"], "may_change.camera[0]: poket is not a camera of this file; did you mean pocket?"),
        ("camera", [], "a list of 0, where 1 or more values are needed"),
        ("distance", "300 mm", "300 mm is not a range; write it like 270 to 330 mm"),
        ("height", "40 mm", "40 mm is not a range; write it like 36 to 44 mm"),
        ("distance", "3 to 4 ft 7 in", "write the unit behind both values"),
        ("distance", ["300 mm"], "a list of 1 does not say whether this may change; write yes, no or a range"),
        ("f_number", "f/2 to f/300", "f/300 is out of range"),
        ("shutter", "90 deg to 1/100 s", "90 deg: deg is not a unit of time"),
        ("lamps", ["room"], "may_change.lamps[0]: room is not a lamp of this file that has a place; there are sky"),
        ("lens", "no", "may_change.lens: is not a key here"),
    ],
)
def test_what_may_change_is_read_strictly(key: str, written: Any, said: str) -> None:
    with pytest.raises(SceneErrors) as caught:
        wanting(None, **{key: written})
    assert said in str(caught.value), str(caught.value)
    assert len(caught.value.faults) == 1


@pytest.mark.parametrize("written", ["10 to 24", [16, 24]])
def test_a_lens_that_may_change_goes_by_millimetres_whatever_the_file_is_in(tmp_path: Path, written: Any) -> None:
    """In a file in centimetres 16 would be a lens of 160 mm, which nobody means: the unit is asked for."""
    kit = LORRY.parent / "kits" / "tabletop.yaml"
    (tmp_path / "kits").mkdir()
    (tmp_path / "kits" / "tabletop.yaml").write_text(kit.read_text(encoding="utf-8"), encoding="utf-8")
    scene = tmp_path / "scene.yaml"
    scene.write_text(LORRY.read_text(encoding="utf-8"), encoding="utf-8")
    with pytest.raises(SceneErrors) as caught:
        read_scene(scene, changes={"units": "cm", "may_change": {"focal_length": written}})
    (said,) = [str(each) for each in caught.value.faults if "may_change.focal_length" in str(each)][:1]
    assert "has no unit, and a bare length in this file is in cm" in said
    assert f"did you mean {'10' if written == '10 to 24' else '16'} mm?" in said and "go by millimetres" in said
    assert wanting(None, focal_length="10 to 24").may_change.focal_length == Range(
        0.010, 0.024
    )  # in one in millimetres
