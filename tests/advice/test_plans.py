"""What advice says holds: every plan, written into the file and checked, is as it says, and gives way least."""

import json
import math
import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from random_problems import problem

from previz.advice import Advice, advise, advising, wanted_of
from previz.advice.applied import Checked, checked
from previz.advice.choices import options_of
from previz.advice.demands import Demand
from previz.advice.demands import told as told_of
from previz.advice.problem import Problem, problem_of
from previz.advice.search import Way, key_of
from previz.advice.telling import behind_of, lost_of
from previz.errors import PrevizError
from previz.layout import travel_of
from previz.predictions import SHARP_SHARE, Finding, Verdict, predict
from previz.scene import Range, Scene, Sharp, Shot, as_set_up, read_scene, rewritten
from previz.units import percent

SCENES = Path(__file__).parents[2] / "scenes"


SHOT = {
    "id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [1500, 0, 60], "aim": [1500, 400, 20],
    "focus": "vehicle", "capture": {"rate": "60 fps", "shutter": "180 deg"}, "playback": "24 fps",
    "start": "2.8 s", "duration": "0.8 s",
}  # fmt: skip


def asked(folder: Path, *, wants: list[dict[str, Any]], may: dict[str, Any], **changed: Any) -> Scene:
    """A driven saloon past one camera that stands still, in even light: what is wanted of it has answers by hand."""
    scene = {
        "title": "Known", "scale": "1:24", "units": "mm",
        "set": {
            "table": {"width": 3000, "depth": 1200},
            "road": {"lane": "3.5 m full size", "centre": [[-100, 400], [3100, 400]]},
            "backdrop": {"distance": 1190, "height": 1200, "colour": "#9aa4ad"},
        },
        "vehicle": {"body": "saloon", "path": "road", "speed": "0.5 m/s"},
        "lights": [{"id": "room", "ambient": "2000 lx", "mains": False}],
        "cameras": {"one": {"sensor": "1-inch", "lens": "10-30 mm", "widest": "f/2", "smallest": "f/8", "nearest": 60,
                            "modes": ["1080p120"]}},
        "shots": [SHOT],
        "wants": wants,
        "may_change": {"mode": "no", "rate": "no", "shutter": "no", "distance": "no", "height": "no"} | may,
    }  # fmt: skip
    path = folder / "known.yaml"
    path.write_text(json.dumps(scene | changed), encoding="utf-8")
    return read_scene(path)


def told(findings: Iterable[Finding]) -> set[tuple[Any, ...]]:
    """What findings say, but for what to do about it, which a plan does not go into."""
    return {(each.id, each.shot, each.verdict, each.message, each.value, each.limit) for each in findings}


def best(scene: Scene) -> Advice:
    return advise(scene, scene.shots[0])


@pytest.mark.parametrize("own", ["1080p60", "720p120"])
def test_a_smaller_picture_is_tried_at_rates_alone_that_the_larger_has_not(own: str, tmp_path: Path) -> None:
    """Larger pixels count more blur as sharp: that is no gain. The mode that the shot has stays."""
    scene = asked(tmp_path, wants=[{"sharp": "mid-frame"}], may={"mode": "yes", "rate": "yes"})
    scene = rewritten(scene, {"cameras.one.modes": ["1080p60", "720p120"], "shots[s].capture.mode": own})
    least = {each.mode.width: min(recording.rate for recording in each.recordings)
             for each in options_of(scene, scene.shots[0])}  # fmt: skip
    assert set(least) == {1920, 1280} and least[1920] <= 60
    assert (least[1280] <= 60) is (own == "720p120")


def test_a_smaller_picture_at_the_same_rate_is_tried_where_it_rolls_faster_or_is_the_shot_s_own(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"sharp": "mid-frame"}], may={"mode": "yes", "rate": "yes"})

    def widths(small: Any, own: str) -> set[int]:
        modes = [{"mode": "4k60", "readout": "14 ms"}, small]
        changed = rewritten(scene, {"cameras.one.modes": modes, "shots[s].capture.mode": own})
        return {each.mode.width for each in options_of(changed, changed.shots[0])}

    assert widths("1080p60", "4k60") == {3840}
    assert widths({"mode": "1080p60", "readout": "4 ms"}, "4k60") == {3840, 1920}
    assert widths("1080p60", "1080p60") == {3840, 1920}


@pytest.mark.parametrize("number", [0, 3, 11])
def test_a_plan_written_into_the_scene_is_what_it_says(number: int, tmp_path: Path) -> None:
    scene = problem(number, tmp_path)
    found = best(scene)
    assert found.plans
    for plan in found.plans:
        again = rewritten(scene, {change.key: change.value for change in plan.changes})
        assert again == plan.scene
        assert again.shots[0] == plan.shot
        checked = predict(again, remedies=False).told
        assert told([each for each in checked if each.verdict is not Verdict.FINE]) == told(plan.findings)
        assert not any(each.verdict is Verdict.STOP for each in plan.findings)


def test_plans_are_told_apart_by_camera_or_by_what_they_meet(tmp_path: Path) -> None:
    found = best(problem(5, tmp_path))
    kinds = [(plan.shot.camera, tuple(each.want for each in plan.misses)) for plan in found.plans]
    assert len(set(kinds)) == len(kinds)


def test_the_stop_that_reads_as_full_size_is_the_one_worked_out_by_hand(tmp_path: Path) -> None:
    # S f / N <= 45 mm: 24 * 12 mm / 45 mm = f/6.4, and the next third stop is f/7.1. Nothing else is wanted.
    scene = asked(tmp_path, wants=[{"looks": "full size", "must": True}], may={"focal_length": "no", "camera": "no"})
    found = best(scene)
    assert found.relaxed is None
    assert found.plans[0].shot.f_number == 7.1


def test_a_hard_want_gives_way_by_as_little_as_the_lens_makes_it(tmp_path: Path) -> None:
    # At 30 mm and f/8, its smallest, the pupil is that of 24 * 30 / 8 = 90 mm. It wants 45.
    scene = asked(tmp_path, wants=[{"looks": "full size", "must": True}], may={"focal_length": ["30 mm"]})
    found = best(scene)
    assert found.relaxed is not None
    (given,) = found.relaxed.wants
    assert given.asked == pytest.approx(0.045)
    assert given.given == pytest.approx(0.090, rel=1e-6)
    assert found.plans[0].misses[0].want == "wants[0]"


@pytest.mark.parametrize("first", ["looks", "iso"])
def test_of_two_hard_wants_that_cannot_be_had_together_the_less_important_gives_way(first: str, tmp_path: Path) -> None:
    # f/7.1 takes over ISO 1000 here, and ISO 200 is had at f/2.5: under one light only one of the two can be had.
    looks, iso = {"looks": "full size", "must": True}, {"iso": "at most 200", "must": True}
    wants = [looks, iso] if first == "looks" else [iso, looks]
    found = best(asked(tmp_path, wants=wants, may={"focal_length": "no", "camera": "no"}))
    assert found.relaxed is not None
    assert [each.want for each in found.relaxed.wants] == ["wants[1]"]
    assert found.plans[0].meets[0].want == "wants[0]"


def test_the_less_important_gives_way_by_no_more_than_it_must(tmp_path: Path) -> None:
    wants = [{"looks": "full size", "must": True}, {"iso": "at most 200", "must": True}]
    found = best(asked(tmp_path, wants=wants, may={"focal_length": "no", "camera": "no"}))
    assert found.relaxed is not None
    # Every stop that reads as full size.
    others = [rewritten(found.plans[0].scene, {"shots[0].f_number": f"f/{stop}"}) for stop in (7.1, 8)]
    least = min(predict(each, remedies=False).shots[0].value("iso_needed") for each in others)
    assert found.relaxed.wants[0].given == pytest.approx(least, rel=1e-6)


def test_a_speed_on_screen_is_had_by_another_release(tmp_path: Path) -> None:
    launch = {"ramp": {"height": 60, "length": 600, "foot_radius": 200, "foot": 760}, "rolling": "2 %"}
    scene = asked(
        tmp_path,
        wants=[{"speed": "40 to 45 km/h", "must": True}],
        may={"launch_height": "yes", "camera": "no"},
        vehicle={"body": "saloon", "path": "road", "launch": launch},
        shots=[
            {"id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [1500, 0, 60], "aim": [1500, 400, 20],
             "focus": 400, "capture": {"rate": "60 fps", "shutter": "180 deg"}, "playback": "24 fps", "start": "0.6 s",
             "duration": "0.6 s"}
        ],
    )  # fmt: skip
    assert predict(scene, remedies=False).shots[0].value("apparent_speed") * 3.6 < 38
    plan = best(scene).plans[0]
    assert "vehicle.launch.ramp.height" in {change.key for change in plan.changes}
    assert 40 <= predict(plan.scene, remedies=False).shots[0].value("apparent_speed") * 3.6 <= 45
    # The same stretch of the path is filmed: the vehicle is where it was in the first frame.
    (start,) = [change.value for change in plan.changes if change.key == "shots[0].start"]
    assert float(str(start).split()[0]) < 0.6


@pytest.mark.parametrize("kept", ["camera", "focal_length", "focus", "distance", "shutter"])
def test_what_may_not_change_does_not(kept: str, tmp_path: Path) -> None:
    scene = problem(0, tmp_path)
    may = {kept: "no"} | ({"height": "no"} if kept == "distance" else {})
    scene = rewritten(scene, {"may_change": may})
    now = scene.shots[0]
    for plan in best(scene).plans:
        then = plan.shot
        if kept == "distance":
            assert then.at == now.at
        elif kept in ("rate", "shutter"):
            assert getattr(then.capture, kept) == getattr(now.capture, kept)
        else:
            assert getattr(then, kept) == getattr(now, kept)


def test_a_speed_that_changes_with_the_rate_is_told(tmp_path: Path) -> None:
    """60 km/h on screen at 1:24: 0.694 m/s a time slowed; at 60 fps played at 24 2.5 times that, at 120 fps 5 times."""
    scene = asked(
        tmp_path,
        wants=[{"lasts": "at least 3 s"}],
        may={"rate": ["120 fps"], "shutter": "yes", "mode": "yes"},
        vehicle={"body": "saloon", "path": "road", "speed": "60 km/h on screen"},
    )
    for plan in best(scene).plans:
        rows = [row.value for row in plan.marks if row.label == "vehicle's speed on set"]
        slow = plan.shot.capture.rate / plan.shot.playback
        assert rows == ([] if slow == 2.5 else [f"{60 / 3.6 / 24 * float(slow):.3g} m/s, not 1.74 m/s"])
    assert any(plan.shot.capture.rate != 60 for plan in best(scene).plans)


def _way(scene: Scene, shot: Shot) -> tuple[float, float]:
    """Along its path, where the vehicle is as a shot begins and as it ends. [m]"""
    travel = travel_of(scene)
    assert shot.duration is not None
    return travel.distance(float(shot.start)), travel.distance(float(shot.start) + float(shot.duration))


#: Filmed at 30 fps the vehicle is to drive half as fast on set as at 60, to look as fast.
SLOWER = {"rate": ["30 fps"], "shutter": "yes", "mode": "yes", "focus": "no"}
LOOKS_SO_FAST = {"body": "saloon", "path": "road", "speed": "20 km/h on screen", "start": "0.4 s"}


@pytest.mark.parametrize("focus", ["vehicle", "vehicle at 2.9 s"])
def test_at_another_rate_the_same_part_of_the_way_is_filmed(focus: str, tmp_path: Path) -> None:
    """20 km/h at 1:24, 2.5 times slowed: 0.579 m/s; the stretch that takes 0.8 s at 60 fps takes 1.6 s at 30 fps."""
    scene = asked(tmp_path, wants=[{"framing": "as written"}], may=SLOWER, vehicle=LOOKS_SO_FAST)
    scene = rewritten(scene, {"shots[0].focus": focus})
    for plan in best(scene).plans:
        assert plan.scene.vehicle.speed == pytest.approx(20 / 3.6 / 24 * 1.25, rel=1e-6)  # type: ignore[union-attr]
        assert _way(plan.scene, plan.shot) == pytest.approx(_way(scene, scene.shots[0]), abs=1e-5)
        rows = {row.label: row.value for row in plan.marks}
        assert rows["begin, on set"] == "5.200 s, not 2.800 s" and rows["duration, on set"] == "1.600 s, not 0.800 s"
        moment = getattr(plan.shot.focus.target, "moment", None)
        assert moment is None or travel_of(plan.scene).distance(moment) == pytest.approx(travel_of(scene).distance(2.9))
        assert rewritten(scene, {each.key: each.value for each in plan.changes}).shots[0] == plan.shot


def test_a_shot_that_moves_in_keys_says_how_much_less_of_the_way_it_films(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"framing": "as written"}], may=SLOWER, vehicle=LOOKS_SO_FAST)
    keys = [{"time": "2.8 s", "at": [1500, 0, 60]}, {"time": "3.6 s", "at": [1550, 0, 60]}]
    scene = rewritten(scene, {"shots[0].at": keys})
    for plan in best(scene).plans:
        rows = {row.label: row.value for row in plan.marks}
        assert "begin, on set" not in rows
        assert rows["vehicle's way that is filmed"] == "231 mm, not 463 mm"  # 0.8 s of 0.289 and of 0.579 m/s


@pytest.mark.parametrize("own", [False, True])
def test_of_other_shots_only_those_without_a_speed_of_their_own_drive_otherwise(own: bool, tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"framing": "as written"}], may=SLOWER, vehicle=LOOKS_SO_FAST)
    first = scene.written.root.plain()["shots"][0]
    vehicle = LOOKS_SO_FAST | {"speed": "20 km/h on screen in s"}
    other = first | {"id": "other"} | ({"vehicle": {"speed": "0.3 m/s"}} if own else {})
    scene = asked(tmp_path, wants=[{"framing": "as written"}], may=SLOWER, vehicle=vehicle, shots=[first, other])
    for plan in best(scene).plans:
        labels = [row.label for row in plan.marks if row.label.startswith("vehicle's speed on set")]
        assert labels == ["vehicle's speed on set" if own else "vehicle's speed on set, in every shot"]
        then = rewritten(scene, {each.key: each.value for each in plan.changes})
        vehicles = [as_set_up(each, each.shots[1]).vehicle for each in (scene, then)]
        assert (vehicles[0] == vehicles[1]) == own


def test_no_rate_is_advised_beside_those_that_are_listed(tmp_path: Path) -> None:
    listed = {"sensor": "1-inch", "lens": "10-30 mm", "widest": "f/2", "smallest": "f/8", "nearest": 60}
    cameras = {"one": {**listed, "modes": ["1080p30", "1080p60", "1080p240"]}}
    for may in ({"rate": "yes", "mode": "yes"}, {"rate": "yes"}):
        scene = asked(tmp_path, wants=[{"lasts": "1.6 s"}], may=may, cameras=cameras)
        options = options_of(scene, scene.shots[0], rates=[50.0, 100.0])
        assert {float(each.rate) for option in options for each in option.recordings} == {30, 60, 240}


def test_bounds_are_kept(tmp_path: Path) -> None:
    scene = rewritten(
        problem(3, tmp_path),
        {"may_change": {"f_number": "f/4 to f/8", "distance": "350 to 420 mm", "camera": "no", "height": "no"}},
    )
    for plan in best(scene).plans:
        assert 3.99 < plan.shot.f_number < 8.01


def test_a_set_without_a_vehicle_is_refused(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"edges": "hidden"}], may={})
    bare = rewritten(scene, {"vehicle": None, "shots[0].focus": "400 mm"})
    with pytest.raises(PrevizError, match="the set has none"):
        best(bare)


def test_nothing_that_may_change_is_one_clear_error(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"edges": "hidden"}], may={"focal_length": ["50 mm"]})
    with pytest.raises(PrevizError, match="no camera can film it"):
        best(scene)


def test_a_brighter_lamp_is_named_where_light_binds(tmp_path: Path) -> None:
    dim = [{"id": "room", "ambient": "1000 lx", "mains": False}]
    wants: list[dict[str, Any]] = [{"iso": "at most 400", "must": True}, {"looks": "full size"}]
    found = best(asked(tmp_path, wants=wants, may={"focal_length": "no", "camera": "no"}, lights=dim))
    (plan, *_) = found.plans
    assert [each.want for each in plan.misses] == ["wants[1]"]
    (said,) = [bind.buys for bind in plan.binds if bind.limit == "The light"]
    # What it says that it buys it does, with what it says is set then.
    bought, stop, before, after = said_of_light(said)
    assert bought == "2000 lx"
    again = rewritten(plan.scene, {"lights[0].ambient": bought, "shots[0].f_number": stop})
    for scene, pupil in ((plan.scene, before), (again, after)):
        shot = predict(scene, remedies=False).shots[0]
        assert 1000 * shot.value("full_size_pupil") == pytest.approx(pupil, rel=5e-3)
        assert shot.value("iso_needed") <= 400


def said_of_light(said: str) -> tuple[str, str, float, float]:
    """What it is bright then, at which stop, and the opening in mm before and after."""
    light = r"lamps twice as bright \(room (.*)\), with stop (f/.*)"
    found = re.fullmatch(light + r": looks: full size would come to (.*), not (.*) mm of lens opening", said)
    assert found, said
    return found[1], found[2], float(found[4]), float(found[3])


def test_noise_that_shows_is_told_with_what_rids_of_it(tmp_path: Path) -> None:
    lights = [
        {"id": "key", "panel": [600, 600], "at": [1500, -600, 900], "aim": [1500, 400, 0], "output": "300 lx at 1 m",
         "mains": False},
        {"id": "room", "ambient": "40 lx", "mains": False},
    ]  # fmt: skip
    fixed = {"camera": "no", "focal_length": "no", "f_number": "no", "focus": "no"}
    scene = asked(tmp_path, wants=[{"edges": "hidden"}], may=fixed, lights=lights)
    (plan,) = best(scene).plans
    (iso,) = [row.value for row in plan.settings if row.label == "ISO"]
    assert "noise shows from about" in iso
    (bind,) = plan.binds
    (output,) = re.findall(r"\(key (.*)\)", bind.buys)
    limit = next(each for each in plan.findings if each.id == "light.iso").limit
    lit = rewritten(plan.scene, {"lights[0].output": output})
    # Enough, and no more than a tenth of a stop past that.
    assert limit / 2**0.1 < predict(lit, remedies=False).shots[0].value("iso_needed") <= limit


@pytest.mark.parametrize(("focus", "said"), [("vehicle mid-frame", True), ("vehicle at 3.2 s", False)])
def test_what_is_wanted_sharp_mid_frame_is_told_from_what_is_focused_on_then(
    focus: str, said: bool, tmp_path: Path
) -> None:
    """It drives towards the lens, near the middle of the picture all along, and no one focus keeps it sharp."""
    towards = {"id": "s", "camera": "one", "focal_length": 30, "f_number": 2, "at": [2950, 300, 60],
               "aim": "vehicle", "focus": focus, "capture": {"rate": "60 fps"}, "start": "2.8 s",
               "duration": "0.8 s"}  # fmt: skip
    scene = asked(tmp_path, wants=[{"sharp": "mid-frame"}], may={}, shots=[towards])
    (answered,) = wanted_of(scene, predict(scene, remedies=False), ["s"])
    (missed,) = answered.misses
    assert missed.words.startswith("sharp: mid-frame")
    assert ("all the while it is in the middle third of the picture" in missed.words) == said


def test_a_lamp_that_may_be_brighter_is_and_by_no_more_than_it_takes(tmp_path: Path) -> None:
    lights = [{"id": "key", "panel": [600, 600], "at": [1500, -600, 900], "aim": [1500, 400, 0], "output": "2000 lm",
               "mains": False}]  # fmt: skip
    wants = [{"looks": "full size", "must": True}, {"iso": "at most 1600", "must": True}]
    may = {"focal_length": "no", "camera": "no"}
    dark = best(asked(tmp_path, wants=wants, may=may, lights=lights))
    assert dark.relaxed is not None  # as the set is lit now, one of the two cannot be had
    bright = best(asked(tmp_path, wants=wants, may=may | {"lamp_output": "2000 to 40000 lm"}, lights=lights))
    assert bright.relaxed is None
    (output,) = [change.value for change in bright.plans[0].changes if change.key == "lights[0].output"]
    assert 2000 < float(str(output).split()[0]) < 40000
    assert any(row.label == "lamp key, output" for row in bright.plans[0].marks)


def test_a_backdrop_that_may_be_larger_is_where_the_shot_sees_past_it(tmp_path: Path) -> None:
    low = {
        "table": {"width": 3000, "depth": 1200},
        "road": {"lane": "3.5 m full size", "centre": [[-100, 400], [3100, 400]]},
        "backdrop": {"distance": 1190, "height": 250, "colour": "#9aa4ad"},
    }
    wants = [{"edges": "hidden", "must": True}]
    may = {"focal_length": "no", "camera": "no"}
    now = best(asked(tmp_path, wants=wants, may=may, set=low))
    assert now.relaxed is not None
    built = best(asked(tmp_path, wants=wants, may=may | {"backdrop_height": "250 to 1500 mm"}, set=low))
    assert built.relaxed is None
    assert 0.25 < built.plans[0].scene.set.backdrop.height < 1.5  # type: ignore[union-attr]
    assert predict(built.plans[0].scene, remedies=False).shots[0].value("off_set_pixels") == 0


def test_where_no_plan_hides_the_edges_it_says_how_much_larger_a_backdrop_does(tmp_path: Path) -> None:
    low = {
        "table": {"width": 3000, "depth": 1200},
        "road": {"lane": "3.5 m full size", "centre": [[-100, 400], [3100, 400]]},
        "backdrop": {"distance": 1190, "height": 250, "colour": "#9aa4ad"},
    }
    may = {"focal_length": "no", "camera": "no"}
    plan = best(asked(tmp_path, wants=[{"edges": "hidden"}], may=may, set=low)).nearest
    assert plan is not None
    assert any(each.id == "backdrop.off_set" and each.verdict is Verdict.STOP for each in plan.findings)
    (said,) = [bind.buys for bind in plan.binds if bind.limit == "What stands behind"]
    assert "wider" not in said
    more = float(said.removeprefix("a backdrop ").split(" mm higher")[0])

    def off_the_set(added: float) -> float:
        built = rewritten(plan.scene, {"set.backdrop.height": f"{250 + added:.0f} mm"})
        return predict(built, remedies=False).shots[0].value("off_set_pixels")

    # It does, and 25 mm less does not: 1.5 % of the field, some 6 mm, is to spare, and whole centimetres are told.
    assert off_the_set(more) == 0 < off_the_set(more - 25)


def test_another_aim_is_found_where_nothing_of_the_one_written_works(tmp_path: Path) -> None:
    """It looks up over the backdrop, past the vehicle; wherever it stands and zooms to, check would stop that."""
    shot = {"id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [1500, 0, 60], "aim": [1500, 300, 900],
            "focus": 400, "capture": {"rate": "60 fps", "shutter": "180 deg"}, "playback": "24 fps", "start": "2.8 s",
            "duration": "0.8 s"}  # fmt: skip
    scene = asked(tmp_path, wants=[{"edges": "hidden"}], may={}, shots=[shot])
    plan = best(scene).plans[0]
    assert not [each for each in plan.findings if each.verdict is Verdict.STOP]
    assert "shots[0].aim" in {change.key for change in plan.changes}
    assert any(row.label.startswith("aim") for row in plan.marks)
    again = rewritten(scene, {change.key: change.value for change in plan.changes})
    assert again == plan.scene


def test_an_aim_that_may_be_elsewhere_is_where_that_alone_mends_a_want(tmp_path: Path) -> None:
    """Aimed 150 mm behind where it passes, it is out of the picture at the end; nothing else of the camera may change.

    13.2 mm of sensor at 12 mm see 440 mm there, in which it drives 400 mm: the whole shot shows it from the middle.
    """
    shot = {"id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [1500, 0, 60], "aim": [1350, 400, 20],
            "focus": 400, "capture": {"rate": "60 fps", "shutter": "180 deg"}, "playback": "24 fps", "start": "2.8 s",
            "duration": "0.8 s"}  # fmt: skip
    fixed = {"camera": "no", "focal_length": "no", "f_number": "no", "focus": "no"}
    scene = asked(tmp_path, wants=[{"lasts": "at least 1.95 s"}], may=fixed, shots=[shot])
    (plan, *_) = best(scene).plans
    assert [each.want for each in plan.misses] == ["wants[0]"]
    (plan, *_) = best(rewritten(scene, {"may_change.aim": "at most 300 mm"})).plans
    assert not plan.misses and {change.key for change in plan.changes} == {"shots[0].aim"}
    aim = plan.shot.aim.place
    assert aim is not None and math.dist(aim, (1.35, 0.4, 0.02)) <= 0.301
    assert any(row.label.startswith("aim") for row in plan.marks)
    assert predict(plan.scene, remedies=False).shots[0].value("time_in_frame") >= 1.95


def test_a_plan_that_check_stops_says_what_gives_way(tmp_path: Path) -> None:
    """Without light there is no shot, whatever is set: what stops it stands where wants that give way do."""
    dark = [{"id": "room", "ambient": "0.01 lx", "mains": False}]
    found = best(asked(tmp_path, wants=[{"looks": "full size"}], may={"focal_length": "no"}, lights=dark))
    assert found.relaxed is not None and not found.relaxed.wants
    assert {each.id for each in found.relaxed.stops} == {"light.iso", "light.iso_range"}
    assert not found.plans and found.nearest is not None  # it is none to go on with


def test_a_fixed_lens_is_told_once_longer_or_shorter(tmp_path: Path) -> None:
    fixed = {"sensor": "1-inch", "lens": "12 mm", "widest": "f/2", "smallest": "f/8", "nearest": 60,
             "modes": ["1080p120"]}  # fmt: skip
    wants = [{"fills": "80 %"}, {"looks": "full size"}]
    (plan, *_) = best(asked(tmp_path, wants=wants, may={"f_number": ["f/4"]}, cameras={"one": fixed})).plans
    assert [bind.limit for bind in plan.binds if "lens" in bind.limit] == ["The lens"]


def test_no_plan_is_outdone_by_the_shot_as_it_is_written(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All that the search comes up with is at f/8, which takes four times the light of f/4: the shot is best left."""

    def stopped_down(problem: Problem, way: Way) -> Checked:
        return checked(problem, replace(way, f_number=8.0))

    scene = asked(tmp_path, wants=[{"fills": "1 to 90 %"}, {"iso": "at most 50000"}], may={"f_number": ["f/4", "f/8"]})
    (met,) = [each for each in best(scene).plans[0].meets if each.want == "wants[1]"]
    monkeypatch.setattr(advising, "_held", stopped_down)
    dark = rewritten(scene, {"wants[1]": {"iso": f"at most {met.value * 1.2:.0f}"}})
    (plan,) = best(dark).plans
    assert not plan.changes and not plan.misses
    assert plan.shot == dark.shots[0]


def test_no_plan_gives_up_more_of_a_want_that_is_missed_for_one_below_it(tmp_path: Path) -> None:
    """ISO 200 is missed at f/4 as it is written; f/7.1 looks full size and takes log2(7.1**2 / 16) = 1.7 stops more."""
    wants = [{"iso": "at most 200"}, {"looks": "full size"}]
    may = {"focal_length": "no", "camera": "no", "f_number": ["f/4", "f/7.1"]}
    found = best(asked(tmp_path, wants=wants, may=may))
    assert [(plan.shot.f_number, len(plan.misses)) for plan in found.plans] == [(4, 2)]
    (other,) = best(asked(tmp_path, wants=wants[::-1], may=may)).plans  # the other way round it does
    assert (other.shot.f_number, [each.want for each in other.misses]) == (7.1, ["wants[1]"])


def test_a_focus_that_no_longer_follows_is_told(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"sharp": "run"}], may={"camera": "no", "focal_length": "no"})
    for focus in ("vehicle", "vehicle at 3.2 s"):
        again = rewritten(scene, {"shots[0].focus": focus})
        for plan in best(again).plans:
            (row,) = [row for row in plan.marks if row.label == "focus, from the middle of the lens"]
            set_once = focus == "vehicle" and any(change.key == "shots[0].focus" for change in plan.changes)
            assert row.value.endswith("no longer follows the vehicle") == set_once


def test_a_focus_that_is_pulled_is_told_from_end_to_end(tmp_path: Path) -> None:
    """It drives towards the lens at 0.5 m/s: 0.2 m nearer after 0.4 s, but for half a frame at each end."""
    towards = {"id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [2950, 400, 60],
               "aim": [0, 400, 60], "focus": "vehicle", "capture": {"rate": "60 fps"}, "start": "4 s",
               "duration": "0.4 s"}  # fmt: skip
    scene = asked(tmp_path, wants=[{"framing": "as written"}], may={"focus": "no"}, shots=[towards])
    for plan in best(scene).plans:
        rows = {row.label: row.value for row in plan.marks}
        for label in ("focus, from the middle of the lens", "focus, from the sensor"):
            far, near = map(int, re.fullmatch(r"(\d+) to (\d+) mm", rows[label]).groups())  # type: ignore[union-attr]
            assert far - near == pytest.approx(500 * (0.4 - 1 / 60), abs=1.1)


def test_a_figure_that_reads_like_its_limit_meets_it(tmp_path: Path) -> None:
    """34.8 %, where 34.8 % is wanted, is not told as missed, whatever digits are behind."""
    fixed = {"camera": "no", "focal_length": "no", "f_number": "no", "focus": "no", "iso": "no"}
    (plan,) = best(asked(tmp_path, wants=[{"fills": "1 to 90 %"}], may=fixed)).plans
    (met,) = plan.meets
    almost = f"{met.value * 100 * (1 + 2e-5):.6f} to 90 %"
    (plan,) = best(asked(tmp_path, wants=[{"fills": almost}], may=fixed)).plans
    assert not plan.misses and plan.meets[0].value < plan.meets[0].limit


def test_a_shot_that_ends_too_soon_is_told_how_long_it_should_last(tmp_path: Path) -> None:
    """At 60 fps played at 24 a want of 2.4 s on screen is 0.96 s on set, and the shot lasts 0.8 s."""
    wants = [{"lasts": "at least 2.4 s"}]
    scene = asked(tmp_path, wants=wants, may={"focal_length": "no", "camera": ["one"]})
    plan = best(scene).plans[0]
    (bind,) = (each for each in plan.binds if each.limit == "The shot ends while it is in the picture")
    needed = re.findall(r"a duration of at least ([\d.]+ s) on set", bind.buys)[0]
    assert 0.96 <= float(needed[:-2]) < 1.05
    longer = predict(rewritten(plan.scene, {"shots[0].duration": needed}), remedies=False)
    assert longer.shots[0].value("time_in_frame") >= 2.4


def test_a_shutter_that_suits_the_mains_is_tried_past_half_a_turn(tmp_path: Path) -> None:
    """On 50 Hz lamps pulse 100 times a second: 1/100 s is the one shutter at 60 fps that takes whole pulses."""
    lamp = [{"id": "lamp", "ambient": "4000 lx", "mains": True}]
    scene = asked(
        tmp_path, wants=[{"flicker": "none", "must": True}], may={"shutter": "yes"}, lights=lamp, mains="50 Hz"
    )
    plan = best(scene).plans[0]
    assert not plan.misses and plan.shot.capture.exposure_time == pytest.approx(0.01)


def test_what_gives_up_far_more_than_the_best_is_no_plan(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """At 24 fps, which is all that a second camera has, it drives at 43 km/h: more than twice what is wanted."""
    one = {"sensor": "1-inch", "lens": "10-30 mm", "widest": "f/2", "smallest": "f/4", "nearest": 60}
    small = {"sensor": "1/2.3-type", "lens": "4-12 mm", "smallest": "f/8"}
    cameras = {"one": one | {"modes": ["1080p120"]}, "slow": one | small | {"modes": ["4k24"]}}
    wants = [{"speed": "at most 20 km/h"}, {"looks": "full size"}]
    scene = asked(tmp_path, wants=wants, may={"rate": "yes", "mode": "yes"}, cameras=cameras)
    found = best(scene)
    assert {plan.shot.camera for plan in found.plans} == {"one"}
    assert any(row.value == "slow" for each in found.lost for row in each.settings)
    monkeypatch.setattr(advising, "_TOO_FAR", 2.0)
    assert "slow" in {plan.shot.camera for plan in best(scene).plans}


def test_of_a_camera_that_check_would_stop_anywhere_it_is_told_what_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It focuses from nine metres on: of a way that was only estimated, too, that is the reason."""
    one = {"sensor": "1-inch", "lens": "10-30 mm", "widest": "f/2", "smallest": "f/4", "nearest": 60,
           "modes": ["1080p120"]}  # fmt: skip
    scene = asked(
        tmp_path, wants=[{"looks": "full size"}], may={}, cameras={"one": one, "far": one | {"nearest": 9000}}
    )
    told_of: list[tuple[Any, ...]] = []

    def only_estimated(*given: Any) -> Any:
        told_of.append(given)
        return ()

    monkeypatch.setattr(advising, "lost_of", only_estimated)
    best(scene)
    (given,) = told_of
    _, ways, chosen = given
    (lost,) = [each for each in lost_of((), ways, chosen) if each.settings[0].value == "far"]
    assert "the lens focuses from 9000 mm" in lost.why


def test_a_rate_that_no_mode_is_said_to_have_is_told_as_left_out(tmp_path: Path) -> None:
    scene = asked(tmp_path, wants=[{"sharp": "mid-frame"}], may={"mode": "yes", "rate": "yes"})
    listed = rewritten(scene, {"cameras.one.modes": ["1080p24", "1080p60"]})
    assert best(listed).as_written is not None
    found = best(rewritten(listed, {"shots[s].capture.rate": "25 fps"}))
    first, *others = found.lost
    assert found.plans and found.as_written is None
    assert [row.value for row in first.settings] == ["25 fps as it is written"]
    assert "no mode of one is said to record at 25 fps; it has 1920x1080 at 24 fps, 1920x1080 at 60 fps." in first.why
    assert "add that mode" in first.why and not any("as it is written" in each.why for each in others)


def test_a_want_that_the_estimate_meets_by_a_hair_is_met_when_checked_too(tmp_path: Path) -> None:
    """The search stops at the end of a range, where the check found the vehicle 1 % narrower than was estimated."""
    scene = problem(0, tmp_path)
    plan = best(scene).plans[0]
    assert not plan.misses
    width = next(met for met in plan.meets if met.words.startswith("fills: "))
    assert 0.33 <= width.value <= 0.43


def _looked_down(eye: float, height: Any) -> dict[str, Any]:
    """A camera that looks down at what is 60 mm up, and has to stand further off for what is wanted."""
    shot = {"id": "s", "camera": "one", "focal_length": 12, "f_number": 4, "at": [1500, 0, eye],
            "aim": [1500, 400, 60], "focus": 400, "capture": {"rate": "60 fps", "shutter": "180 deg"},
            "playback": "24 fps", "start": "2.8 s", "duration": "0.8 s"}  # fmt: skip
    fixed = {"camera": "no", "focal_length": "no", "f_number": "no", "distance": "yes", "height": height}
    return {"wants": [{"fills": "at most 35 %"}], "may": fixed, "shots": [shot]}


@pytest.mark.parametrize("eye", [60, 160, 400])
def test_a_camera_whose_height_may_not_change_stays_as_high(eye: int, tmp_path: Path) -> None:
    """Level, tilted, and more steeply than it may be for others: it goes back over the table, and aims anew."""
    (plan, *_) = best(asked(tmp_path, **_looked_down(eye, "no"))).plans
    x, y, z = plan.shot.at
    assert x == pytest.approx(1.5, abs=1e-3) and y < -0.05 and z == pytest.approx(eye / 1000)
    assert not plan.other_height
    (row,) = [row for row in plan.marks if row.label == "lens, above the table top"]
    assert row.value == f"{eye} mm"
    # A focus that was as far off as what it is aimed at is so from there too.
    assert plan.shot.focus.distance - 0.4 == pytest.approx(
        math.hypot(y - 0.4, z - 0.06) - math.hypot(0.4, eye / 1000 - 0.06), abs=2e-3
    )


def test_a_camera_stays_in_the_heights_that_it_is_let(tmp_path: Path) -> None:
    """Looking down from 160 mm, with the axis rising behind it: along that it would stand higher than 170 mm."""
    found = best(asked(tmp_path, **_looked_down(160, "100 to 170 mm")))
    assert found.plans[0].shot.at[1] < -0.05
    assert all(0.0999 <= plan.shot.at[2] <= 0.1701 for plan in found.plans)


def test_a_distance_and_a_height_that_no_place_has_are_told(tmp_path: Path) -> None:
    """460 mm above what it is aimed at nothing is 300 mm off."""
    given = _looked_down(520, "no")
    given["may"]["distance"] = "200 to 300 mm"
    with pytest.raises(PrevizError, match="let go of height or distance"):
        best(asked(tmp_path, **given))


def _as_ranked(scene: Scene, misses: tuple[float, ...], cost: float) -> Checked:
    """A way of which only that is known by which it is ranked."""
    problem = problem_of(scene, scene.shots[0])
    key = (0.0, *key_of(0.0, misses, problem.demands, 0.0, cost))
    return Checked(problem, None, scene, scene.shots[0], (), None, None, {}, (), misses, (), key)  # type: ignore[arg-type]


def test_why_a_plan_is_behind_another_is_the_first_want_in_which_they_differ(tmp_path: Path) -> None:
    wants = [{"lasts": "at least 1 s"}, {"iso": "at most 800"}, {"fills": "at least 30 %", "must": True}]
    scene = asked(tmp_path, wants=wants, may={})
    number = {demand.figure: at for at, demand in enumerate(problem_of(scene, scene.shots[0]).demands)}

    def way(cost: float = 0.0, **missed: float) -> Checked:
        found = [0.0] * len(number)
        for figure, by in missed.items():
            found[number[figure]] = by
        return _as_ranked(scene, tuple(found), cost)

    names = list(number)
    must, first, last = (names[at] for at in sorted(range(3), key=lambda at: (at != 2, at)))
    assert behind_of(way(), way(**{must: 1.0})).startswith("this one misses fills: at least 30 %, a must")
    assert behind_of(way(**{must: 0.5}), way(**{must: 1.0})).startswith("this one misses by more fills")
    for one, other in ((way(**{last: 5.0}), way(**{first: 0.1})), (way(), way(**{first: 1.0}))):
        assert behind_of(one, other) == "this one misses lasts: at least 1 s, the first want in which they differ"
    assert behind_of(way(**{last: 1.0}), way(0.3, **{last: 1.0})).startswith(
        "this one meets the same wants; what it misses"
    )
    assert behind_of(way(**{first: 1.0}), way()) == ""  # its order is not their own


def test_a_speed_wanted_of_all_shots_is_none_of_those_in_which_the_vehicle_stands(tmp_path: Path) -> None:
    for speed, counts in (("0.5 m/s", True), (0, False)):
        vehicle = {"body": "saloon", "path": [[1500, 400], [2500, 400]], "speed": speed}
        for of, wanted in (({}, counts), ({"shot": "s"}, True)):
            wants = [{"speed": "40 to 60 km/h", **of}, {"lasts": "at least 0.1 s"}]
            scene = asked(tmp_path, wants=wants, may={}, vehicle=vehicle)
            kinds = [want.kind for want in scene.wants_of(scene.shots[0])]
            assert ("speed" in kinds) is wanted and "lasts" in kinds


def test_a_vehicle_that_stands_is_not_said_to_be_followed_no_more(tmp_path: Path) -> None:
    fixed = {"camera": "no", "focal_length": "no", "f_number": "no", "iso": "no"}
    followed = []
    for speed in ("0.5 m/s", 0):
        vehicle = {"body": "saloon", "path": [[1500, 400], [1900, 400]], "speed": speed}
        plan = best(
            asked(tmp_path, wants=[{"sharp": "run"}], may=fixed, vehicle=vehicle, shots=[{**SHOT, "start": "0 s"}])
        ).plans[0]
        followed += [row.value for row in plan.marks if row.label == "focus, from the middle of the lens"]
    assert len(followed) == 2 and not any("follows" in each for each in followed[1:])


def test_blur_as_of_full_size_is_met_and_fine_or_neither(tmp_path: Path) -> None:
    """S f / N by hand: 24 * 12 mm / 6.4 = 45 mm, the limit itself; and what prints like it, and what does not."""
    for stop, past in (("f/6.4", False), ("f/6.3999", False), ("f/6.36", True), ("f/6.2", True), ("f/7", False)):
        scene = asked(tmp_path, wants=[{"looks": "full size"}], may={}, shots=[{**SHOT, "f_number": stop}])
        predictions = predict(scene, remedies=False)
        (wanted,) = wanted_of(scene, predictions, ["s"])
        (blur,) = (each for each in predictions.findings if each.id == "scale.blur")
        assert bool(wanted.misses) is past and (blur.verdict is not Verdict.FINE) is past, (stop, blur)
        said = blur.message.partition(" at full size")[0].rpartition(" of ")[2]
        assert (said == "45 mm") <= (not past)


def test_sharp_for_the_run_is_told_by_the_share_of_frames_that_check_goes_by() -> None:
    asked_for = Sharp(sharp="run")
    demand = Demand(asked_for, "wants[0]", "sharp_run", "total_blur", Range(most=1.0), tape="cm")
    frames = f"{percent(SHARP_SHARE)} of the frames that show it"
    assert told_of(demand, 0.9).endswith(f" in {frames}")
    assert frames in str(Sharp.model_fields["sharp"].description)


@pytest.mark.parametrize("lux", [500, 1000])
def test_nearer_to_wants_that_it_misses_all_the_same_a_plan_shows_no_noise(lux: int, tmp_path: Path) -> None:
    """`check` would find the noise and open it up again. Up to where noise shows it is stopped down."""
    wants = [{"looks": "full size"}, {"sharp": "mid-frame"}, {"sharp": "run"}]
    scene = asked(
        tmp_path, wants=wants, may={"focal_length": "no", "f_number": "yes", "focus": "no"},
        lights=[{"id": "room", "ambient": f"{lux} lx", "mains": False}],
        shots=[SHOT | {"f_number": 2, "focal_length": 30}],
    )  # fmt: skip
    written = predict(scene, remedies=False).told
    watched = sum(each.verdict is Verdict.WATCH for each in written)
    first = best(scene).plans[0]
    assert sum(each.verdict is Verdict.WATCH for each in first.findings) <= watched
    assert len(first.misses) == len(wants) and 2.8 <= float(first.shot.f_number) < 8
    (noise,) = [each for each in predict(first.scene, remedies=False).findings if each.id == "light.iso"]
    assert noise.limit / 1.5 < noise.value <= noise.limit  # and not a stop less than it may be
