"""What is compared, in step to the frame; words that cover no picture; a sheet and numbers that agree with it."""

import csv
import dataclasses
import json
from collections.abc import Iterator
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from comparisons import SCENE, colour_at, comparison_of, film, films
from PIL import Image

from previz.delivery import PURPOSES, deliver_comparison
from previz.delivery.clip.clip import mp4_size
from previz.delivery.comparison.arrangement import GROUND, Caption, counter_box, layout_of, lettered
from previz.delivery.comparison.panels import Variation
from previz.delivery.comparison.sheet import sheet_of
from previz.delivery.comparison.side_by_side import caption_of, deliver_side_by_side, head_of, in_step, notes_of
from previz.delivery.lettering import wrapped
from previz.errors import PrevizError
from previz.frames import Frame
from previz.physics.colour import bt709_encoded, srgb_encoded
from previz.physics.exposure import THIRD_STOP_SHUTTERS, nearest_third_stop


def decoded(path: Path) -> list[np.ndarray]:
    with av.open(str(path)) as container:
        return [frame.to_ndarray(format="rgb24", dst_colorspace="ITU709") for frame in container.decode(video=0)]


# --- what is compared ---


def test_without_names_every_camera_is_compared_and_the_impossible_one_is_left_out(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path)
    assert [panel.name for panel in comparison.panels] == ["inch", "large", "tall"]
    assert [panel.cell for panel in comparison.panels] == [(0, 0), (0, 1), (1, 0)]
    (left_out,) = comparison.left_out
    # By hand: 5 mm on 6 mm of width show 6 * 895 / 5 = 1074 mm from 900 mm, and the shot 264 mm.
    assert left_out.sentence == (
        "stuck frames 4.1 times as wide as the shot at best: its lens has 5 mm, and it focuses no nearer "
        "than 900 mm; from the shot's own place it would take a lens of 10.2 mm that focuses from 460 mm"
    )
    assert comparison.rules[0] == "same framing from the same place: the focal length follows the sensor"
    assert comparison.stage_numbers == (0, 0, 0)


def test_a_rule_that_a_panel_cannot_follow_says_so(tmp_path: Path) -> None:
    text = SCENE.replace(
        "lens: 24-120 mm, widest: f/2.8, smallest: f/32", "lens: 40 mm, widest: f/5.6, smallest: f/5.6"
    )
    comparison = comparison_of(tmp_path, text, cameras=["inch", "large"])
    assert {each.of for each in comparison.panels[1].differences} >= {"moved", "light"}
    assert any("f/5.6, its only stop, for f/" in each.words for each in comparison.panels[1].differences)
    assert comparison.rules == (
        "same framing, each camera from where its panel says",
        "same f-number, but where a panel says otherwise",
    )


def test_a_panel_that_is_too_bright_or_too_dark_says_so_beside_its_picture(tmp_path: Path) -> None:
    """By hand: ISO 12800 is 8 stops over ISO 50, whatever light there is; a phone's f/1.8 is 3.3 stops over f/5.6."""
    comparison = comparison_of(tmp_path, vary=["iso=50,12800"])
    dark, bright = ([each for each in panel.differences if each.of == "exposure"] for panel in comparison.panels)
    assert bright[0].value - dark[0].value == pytest.approx(8)
    assert " too dark at ISO 50; it wants about ISO " in dark[0].words and " too bright at ISO 12800" in bright[0].words
    least = SCENE.replace("nearest: 50,", "nearest: 50, iso: [12800, 25600],", 1)
    (stuck, *_) = comparison_of(tmp_path, least, cameras=["inch", "large"]).panels
    assert [each.words.partition(" at ")[2] for each in stuck.differences if each.of == "exposure"] == [
        "ISO 12800, its lowest, so less light or a grey filter"
    ]
    assert "speed" not in {each.of for each in stuck.differences}


def test_a_panel_that_is_too_bright_has_a_shorter_shutter_where_it_moves_as_evenly(tmp_path: Path) -> None:
    """By hand: so many stops off the shutter of the shot, 1/n s, are 2 to that power times n, and of the shutters that
    cameras have it is the next."""
    text = SCENE.replace("nearest: 50,", "nearest: 50, iso: [1600, 25600],", 1).replace("1 m/s", "20 mm/s")
    text = text.replace("mains: true", "mains: false")
    (stuck, _) = comparison_of(tmp_path, text, cameras=["inch", "large"]).panels
    (bright,) = [each for each in stuck.differences if each.of == "exposure"]
    exact = 2**bright.value / stuck.shot.capture.exposure_time
    wanted = next(parts for parts in THIRD_STOP_SHUTTERS if parts >= exact)
    assert f"so less light, a shutter of 1/{wanted} s or a grey filter" in bright.words


def test_panels_that_show_it_at_another_speed_say_so(tmp_path: Path) -> None:
    """By hand: at half the rate, played alike, it is slowed half as much, and looks twice as fast."""
    comparison = comparison_of(tmp_path, vary=["rate=120 fps,60 fps"])
    own, other = comparison.panels
    assert "speed" not in {each.of for each in own.differences}
    (said,) = [each for each in other.differences if each.of == "speed"]
    assert said.value == pytest.approx(2) and "on screen it drives at " in said.words
    assert said.words in caption_of(other, next(films(comparison, 1)[1])).notes  # on the sheet and the clip


def test_values_are_varied_for_the_shot_s_own_camera(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["f_number=2.8,5.6,11"])
    assert [panel.name for panel in comparison.panels] == ["f/2.8", "f/5.6", "f/11"]
    assert [panel.shot.f_number for panel in comparison.panels] == [2.8, 5.6, 11.0]
    assert {panel.shot.camera for panel in comparison.panels} == {"inch"}
    assert (comparison.by, comparison.rules) == ("f-number", ("all else as in the scene, filmed with inch",))


def test_two_things_make_a_grid_the_first_down_the_second_across(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["f_number=2.8,5.6", "shutter=90 deg,180 deg,1/200 s"])
    assert [(panel.name, panel.cell) for panel in comparison.panels][:4] == [
        ("f/2.8, shutter 90 deg", (0, 0)),
        ("f/2.8, shutter 180 deg", (0, 1)),
        ("f/2.8, shutter 1/200 s", (0, 2)),
        ("f/5.6, shutter 90 deg", (1, 0)),
    ]
    cameras = comparison_of(tmp_path, cameras=["inch", "large"], vary=["f_number=1.4,5.6"])
    assert [(panel.name, panel.cell) for panel in cameras.panels] == [
        ("inch, f/1.4", (0, 0)),
        ("inch, f/5.6", (0, 1)),
        ("large, f/1.4", (1, 0)),
        ("large, f/5.6", (1, 1)),
    ]
    assert cameras.by == "camera and f-number"
    assert cameras.panels[2].differences[0].words.startswith("2.0 stops less light: f/2.8 for f/1.4; ")
    places = comparison_of(tmp_path, cameras=["inch", "stuck"], vary=["f_number=4,5.6"])
    assert [panel.cell for panel in places.panels] == [(0, 0), (0, 1)]
    assert [each.name for each in places.left_out] == ["stuck, f/4", "stuck, f/5.6"]


def test_only_what_changes_the_set_or_its_light_is_built_again(tmp_path: Path) -> None:
    assert comparison_of(tmp_path, vary=["lights[key].diffusion=0,2 stops"]).stage_numbers == (0, 1)
    assert comparison_of(tmp_path, vary=["vehicle.speed=1 m/s,0.5 m/s"]).stage_numbers == (0, 0)
    comparison = comparison_of(tmp_path, vary=["lights.key.diffusion=0,1 stop", "f_number=2,4"])
    assert comparison.stage_numbers == (0, 0, 1, 1)
    assert [panel.name for panel in comparison.staged] == [
        "diffusion of key 0 stops, f/2",
        "diffusion of key 1 stop, f/2",
    ]


def test_the_camera_moves_for_each_lens_when_the_lens_is_given(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["focal_length=12,20,40"], framing="lens")
    assert [round(panel.shot.focal_length * 1000) for panel in comparison.panels] == [12, 20, 40]
    distances = [-panel.shot.at[1] for panel in comparison.panels]
    assert distances[1] == pytest.approx(0.16)
    assert distances[0] < 0.1 < 0.3 < distances[2]


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (
            {"cameras": ["inhc"]},
            "--cameras inhc is not a camera of this scene or its kit; did you mean inch? There are",
        ),
        ({"shot": "pas"}, "--shot pas is not a shot of this scene; did you mean pass?"),
        ({"vary": ["f_number"]}, "--vary f_number is not a key and its values; write it like f_number=2.8,5.6,11"),
        ({"vary": ["f_number=2.8"]}, "two values or more make a comparison"),
        ({"vary": ["f_numbr=2.8,4"]}, "--vary f_numbr is not something a shot has; did you mean f_number?"),
        ({"vary": ["f_number=2.8,wide"]}, r"--vary, f/wide: shots\[pass\].f_number: wide is not an f-number"),
        ({"vary": ["camera=inch,large"]}, "to compare cameras, write --cameras big,pocket"),
        ({"vary": ["lights[kye].diffusion=0,1"]}, "the scene has no kye there; there are room, key"),
        ({"vary": ["f_number=2.8,4"], "stop": "best"}, "--vary f_number and --stop best both set the stop"),
        ({"vary": ["f_number=2,4", "f_number=8,11"]}, "--vary f_number is given twice"),
        ({"vary": ["f_number=2,4", "iso=100,200"], "cameras": ["inch", "large"]}, "rows and columns: vary two things"),
        ({"vary": ["f_number=2,3,4,5,6", "iso=100,200,300,400"]}, "that is 20 panels, too small to judge"),
        ({"vary": ["f_number=2],other: [3"]}, "is not a key and its values"),
        ({"cameras": ["inch"]}, "one camera, inch, is no comparison: name another of large, tall, stuck; or vary one"),
        (
            {"cameras": ["inch", "stuck"]},
            "only inch can be shown, and a comparison needs two:\nstuck frames 4.1 times as wide",
        ),
    ],
)
def test_what_cannot_be_compared_is_said(tmp_path: Path, asked: dict[str, Any], said: str) -> None:
    with pytest.raises(PrevizError, match=said.replace("?", r"\?")):
        comparison_of(tmp_path, **asked)


def test_values_may_be_lists_and_keep_their_units() -> None:
    varied = Variation.of("at=[700, -150, 45],[700, -300, 60]", 2)
    assert varied.place == "shots[2].at"
    assert varied.values == ([700, -150, 45], [700, -300, 60])
    assert varied.name_of(varied.values[1]) == "at 700, -300, 60"


@pytest.mark.parametrize(
    ("vary", "by", "names"),
    [
        ("vehicle.speed=1 m/s,0.5 m/s", "vehicle speed [m/s]", ["vehicle speed 1 m/s", "vehicle speed 0.5 m/s"]),
        ("set.table.depth=700,710", "table depth [mm]", ["table depth 700 mm", "table depth 710 mm"]),
        ("at=[700, -160, 60],[700, -260, 60]", "at [mm]", ["at 700, -160, 60 mm", "at 700, -260, 60 mm"]),
        ("focus=460,18 in", "focus", ["focus 460 mm", "focus 18 in"]),
        ("focus=vehicle,460", "focus", ["focus vehicle", "focus 460 mm"]),
        ("rate=60,120", "rate [fps]", ["rate 60 fps", "rate 120 fps"]),
        ("iso=200,400", "iso", ["iso 200", "iso 400"]),
        ("lights[key].diffusion=0,2", "diffusion of key [stops]", [f"diffusion of key {n} stops" for n in (0, 2)]),
        ("shutter=90 deg,180 deg", "shutter [deg]", ["shutter 90 deg", "shutter 180 deg"]),
    ],
)  # fmt: skip
def test_the_heading_names_what_is_varied_and_its_unit(tmp_path: Path, vary: str, by: str, names: list[str]) -> None:
    comparison = comparison_of(tmp_path, vary=[vary])
    assert comparison.by == by
    assert [panel.name for panel in comparison.panels] == names
    assert head_of(comparison)[0] == f"Kai & <Hafen>: pass, by {by}"


def test_the_table_shows_what_the_varied_thing_moves(tmp_path: Path) -> None:
    """Speed for a ramp's height. By hand, energy on a slope with the default losses, before its sharp foot takes some:
    v^2 = 2 g (h - 0.02 sqrt(L^2 - h^2)) / 1.08 is 0.94 and 1.38 m/s; the foot takes 1 - cos of the slope, up to 3 %.
    """
    text = SCENE.replace("speed: 1 m/s", "launch: {ramp: {height: 60, length: 500}}")
    comparison = comparison_of(tmp_path, text, vary=["vehicle.launch.ramp.height=60,120"])
    assert comparison.by == "ramp height [mm]"
    assert [panel.name for panel in comparison.panels] == ["ramp height 60 mm", "ramp height 120 mm"]
    written = deliver_comparison(tmp_path / "out", comparison, films(comparison, 2), 0)
    numbers = json.loads(written["numbers"].read_text(encoding="utf-8"))
    assert numbers["by"] == "ramp height [mm]"
    telling = {row["quantity"]: row["values"] for row in numbers["telling"]}
    assert telling["ramp_height"] == ["60", "120"]
    assert [float(each) for each in telling["exit_speed"]] == pytest.approx([0.94, 1.38], rel=0.04)
    assert {"set_speed", "apparent_speed"} <= set(telling)
    assert all(len(set(values)) > 1 for values in telling.values())  # what all panels share explains nothing
    assert [row["group"] for row in numbers["telling"]][:2] == ["Launch", "Launch"]
    with written["table"].open(encoding="utf-8", newline="") as file:
        assert "speed off the ramp, behind its foot" in {row[1] for row in csv.reader(file)}


def test_light_that_is_varied_is_told_as_light_first(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["lights[key].output=900 lm,1800 lm"])
    written = deliver_comparison(tmp_path / "out", comparison, films(comparison, 2), 0)
    telling = json.loads(written["numbers"].read_text(encoding="utf-8"))["telling"]
    assert telling[0]["group"] == "Light"
    assert "illuminance_road" in {row["quantity"] for row in telling}


def test_an_iso_of_the_picture_that_reads_otherwise_than_the_findings_is_told_beside_theirs(tmp_path: Path) -> None:
    """A tenth of a stop apart, on either side of an edge between two third stops, they read a third apart."""
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])

    def at_iso(frames: Iterator[Frame], iso: float, metered: bool) -> Iterator[Frame]:
        for frame in frames:
            yield dataclasses.replace(frame, facts=dataclasses.replace(frame.facts, iso=round(iso), metered=metered))

    def told(name: str, off: float, *, metered: bool = True) -> list[tuple[str, list[str]]]:
        """The rows of ISO, with the second picture so many times off what the findings go by."""
        isos = [panel.figure("iso_needed") * times for panel, times in zip(comparison.panels, (1, off), strict=True)]
        shown = [at_iso(*each, metered) for each in zip(films(comparison, 2), isos, strict=True)]
        written = deliver_comparison(tmp_path / name, comparison, shown, 0)
        rows = json.loads(written["numbers"].read_text(encoding="utf-8"))["telling"]
        return [(row["label"], row["values"]) for row in rows if row["label"].startswith("ISO")]

    needed = [str(nearest_third_stop(panel.figure("iso_needed"))) for panel in comparison.panels]
    assert told("same", 1) in ([], [("ISO", needed)])
    picture, by_check = told("apart", 1.5)
    assert picture[0] == "ISO of the picture, metered as it is drawn" and picture[1][0] == needed[0]
    assert by_check == ("ISO by check, metered on plain shapes; noise is weighed by it", needed)
    assert picture[1][1] != needed[1]
    assert [label for label, _ in told("set", 1.5, metered=False)] == ["ISO"]


# --- in step ---


def test_panels_are_in_step_to_the_frame(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path)
    path = tmp_path / "side_by_side.mp4"
    shown = deliver_side_by_side(path, comparison, films(comparison, 12), moment=7)
    pictures = decoded(path)
    assert (shown.count, shown.rate, len(pictures)) == (12, Fraction(24), 12)
    assert pictures[0].shape == (shown.layout.size[1], shown.layout.size[0], 3)
    for number, picture in enumerate(pictures):
        for panel, box in enumerate(shown.layout.panels):
            seen = picture[box.rows, box.columns][8:-8, 8:-8].reshape(-1, 3).mean(axis=0)
            # Which frame of which panel is it? The one whose colour is nearest.
            known = np.array([[np.asarray(bt709_encoded(colour_at(p, n))) * 255 for n in range(12)] for p in range(3)])
            nearest = np.linalg.norm(known - seen, axis=2)
            assert np.unravel_index(nearest.argmin(), nearest.shape) == (panel, number)
            assert nearest.min() < 4  # 8-bit YCbCr and the decoder round; a frame on is 8 codes away or more
    assert [frame.number for frame in shown.kept] == [7, 7, 7]


def test_a_panel_that_is_over_holds_its_last_frame_and_a_slower_one_holds_each(tmp_path: Path) -> None:
    sizes = (32, 18)
    with ExitStack() as until:
        steps = [
            [frame.number for frame in together]
            for together in in_step(
                [film(0, 8, sizes), film(1, 3, sizes), film(2, 4, sizes)],
                [Fraction(24), Fraction(24), Fraction(12)],
                Fraction(24),
                until,
            )
        ]
    assert steps == [
        [0, 0, 0], [1, 1, 0], [2, 2, 1], [3, 2, 1], [4, 2, 2], [5, 2, 2], [6, 2, 3], [7, 2, 3],
    ]  # fmt: skip


def test_a_fault_in_one_panel_ends_all_and_leaves_no_file(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])
    ended = []

    def broken(panel: int) -> Iterator[Frame]:
        try:
            yield from film(panel, 3, (64, 36))
            raise PrevizError("the drawing stopped")
        finally:
            ended.append(panel)

    with pytest.raises(PrevizError, match="the drawing stopped"):
        deliver_side_by_side(tmp_path / "out.mp4", comparison, [broken(0), broken(1)], 0)
    assert sorted(ended) == [0, 1]
    assert [path.name for path in tmp_path.iterdir()] == ["scene.yaml"]


def test_no_frames_is_a_fault(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])
    with pytest.raises(PrevizError, match="there are no frames to write"):
        deliver_side_by_side(tmp_path / "out.mp4", comparison, [iter(()), iter(())], 0)


# --- words and places ---


@pytest.mark.parametrize("count", [1, 2, 3, 4, 5, 7, 9])
@pytest.mark.parametrize("width", [320, 640, 1280])
def test_words_cover_no_panel_and_panels_no_other(tmp_path: Path, count: int, width: int) -> None:
    columns = int(np.ceil(np.sqrt(count)))
    sizes = [(width, width * 9 // 16 // 2 * 2)] * count
    notes = ["Left out: a camera whose lens is too short for what is wanted of it, and which is told about at length."]
    long = "stands 199 mm nearer than the camera of the shot as it is written, for from there 6.9 mm frames the same"
    captions = [Caption(f"panel {n}", "20 mm", ("a sensor",), (long,) * (n % 3)) for n in range(count)]
    cells = [divmod(number, columns) for number in range(count)]
    layout = layout_of(sizes, cells, ["Title", "a rule"], notes, captions)
    taken = np.zeros(layout.size[::-1], int)
    for box in [*layout.panels, *layout.captions, layout.notes, layout.head]:
        assert box.x >= 0 and box.y >= 0
        assert box.x + box.width <= layout.size[0] and box.y + box.height <= layout.size[1]
        taken[box.rows, box.columns] += 1
    assert taken.max() == 1
    # Nothing is written outside the boxes, and there is room below the last line.
    written = np.asarray(lettered(layout, ["Title", "a rule"], captions, notes))
    inked = (written != GROUND).any(axis=2)
    assert not inked[taken == 0].any()
    for box in layout.captions:
        assert not inked[box.y + box.height - 4 : box.y + box.height, box.columns].any()
    assert all(side % 2 == 0 for side in layout.size)
    assert all(box.x % 16 == 0 and box.y % 16 == 0 for box in layout.panels)


def test_letters_are_legible_where_a_picture_fills_a_screen() -> None:
    # On a screen 1280 wide the smallest letters are at least 11 px, whatever the size of the panels.
    for width, columns in ((640, 2), (1280, 2), (1280, 3), (640, 3)):
        size = (width, width * 9 // 16)
        layout = layout_of([size] * columns, [(0, at) for at in range(columns)], ["Title"], [])
        assert layout.small * min(1280 / layout.size[0], 1) >= 11


def test_letters_stand_out_from_the_ground(tmp_path: Path) -> None:
    # WCAG 2.2, 1.4.3: a contrast of 4.5 for small letters (from memory).
    from previz.delivery.comparison.arrangement import LOUD, QUIET

    def luminance(code: tuple[int, int, int]) -> float:
        linear = [(each / 255 / 12.92) if each <= 10 else ((each / 255 + 0.055) / 1.055) ** 2.4 for each in code]
        return float(np.dot(linear, [0.2126, 0.7152, 0.0722]))

    for code in (LOUD, QUIET):
        assert (luminance(code) + 0.05) / (luminance(GROUND) + 0.05) > 4.5


def test_the_picture_says_what_was_matched_and_what_was_left_out(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path)
    assert head_of(comparison)[0] == "Kai & <Hafen>: pass, by camera"
    assert "same framing from the same place" in head_of(comparison)[1]
    assert notes_of(comparison)[0].startswith("Left out: stuck frames 4.1 times as wide as the shot at best")
    # Each of these words leaves ink: without them the picture is another.
    sizes = [(320, 180)] * 3
    layout = layout_of(sizes, [panel.cell for panel in comparison.panels], head_of(comparison), notes_of(comparison))
    written = _written(layout, comparison)
    for box in (layout.head, layout.notes, *layout.captions):
        assert (written[box.rows, box.columns] != GROUND).any()


def test_a_caption_is_shortened_by_what_matters_least(tmp_path: Path) -> None:
    from previz.delivery.comparison.side_by_side import caption_of

    comparison = comparison_of(tmp_path, cameras=["inch", "tall"])
    (frame,) = film(0, 1, (320, 240))
    caption = caption_of(comparison.panels[1], frame)
    assert caption.notes == (
        "stands at 700, -160, 60 mm, focused at 460 mm, 1440 x 1080 at 120 fps, slowed 5 times",
        "records 1440 x 1080, the shot 1920 x 1080",
    )
    said = caption.outcomes
    assert said[0].startswith("sensor 17 x 13 mm    sharp 4") and said[0].endswith(" px")
    assert said[-2].startswith("sharp 4") and said[-2].endswith(" px")
    assert [len(each) for each in said] == sorted((len(each) for each in said), reverse=True)


def _written(layout: Any, comparison: Any) -> np.ndarray:
    captions = [Caption(panel.name, "20 mm", ("a sensor",)) for panel in comparison.panels]
    return np.asarray(lettered(layout, head_of(comparison), captions, notes_of(comparison)))


def test_the_count_of_frames_is_that_of_the_shot(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])
    path = tmp_path / "a.mp4"
    shown = deliver_side_by_side(path, comparison, [film(0, 4, (320, 180), 9), film(1, 4, (320, 180), 9)], 0)
    box = counter_box(shown.layout)
    counts = [picture[box.rows, box.columns] for picture in decoded(path)]
    assert all((each > 60).any() for each in counts)
    assert any((counts[0].astype(int) - each).max() > 60 for each in counts[1:])


def test_text_is_wrapped_to_the_room_and_loses_no_word() -> None:
    text = "a camera that cannot reach the framing is left out with a clear sentence"
    lines = wrapped(text, 14, 120)
    assert len(lines) > 3
    assert " ".join(lines) == text


# --- for whom ---


def test_a_message_is_smaller_than_a_post_and_a_post_than_an_archive(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])
    noise = np.random.default_rng(3).normal(0, 0.02, (180, 320, 3)).astype(np.float32)

    def grainy(panel: int) -> Iterator[Frame]:
        for frame in film(panel, 6, (320, 180)):
            yield dataclasses.replace(frame, linear=frame.linear + np.roll(noise, frame.number * 7, axis=1))

    sizes = []
    for purpose in PURPOSES:
        path = tmp_path / f"{purpose}.mp4"
        deliver_side_by_side(path, comparison, [grainy(0), grainy(1)], 0, purpose)
        sizes.append(path.stat().st_size)
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[1] / 2 < sizes[2] / 3
    assert mp4_size("message", (2608, 1616)) == (1920, 1190)


# --- sheet and numbers ---


def test_details_are_pixels_of_the_clip(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, cameras=["inch", "large"])
    rng = np.random.default_rng(5)
    linear = rng.uniform(0, 1, (720, 1280, 3)).astype(np.float32)
    (frame,) = film(0, 1, (16, 9), first=24)
    frame = dataclasses.replace(frame, linear=linear)
    other = dataclasses.replace(frame, linear=rng.uniform(0, 1, (720, 1280, 3)).astype(np.float32))
    sheet = np.asarray(sheet_of(comparison, [frame, other]))
    codes = np.rint(np.asarray(srgb_encoded(linear)) * 255).astype(int)
    # Three rows of noise from where the vehicle's front is (it leads to the right, up to 0.82 of the width) must stand
    # somewhere on the sheet.
    patch = codes[400:403, 900:920]
    rows, columns = np.where(np.abs(sheet[:, :, 0].astype(int) - patch[0, 0, 0]) <= 1)
    found = [
        (y, x)
        for y, x in zip(rows, columns, strict=True)
        if y + 3 <= len(sheet) and x + 20 <= sheet.shape[1]
        and np.abs(sheet[y : y + 3, x : x + 20].astype(int) - patch).max() <= 1
    ]  # fmt: skip
    assert len(found) == 1


def test_everything_is_delivered_and_agrees(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path)
    written = deliver_comparison(tmp_path / "out", comparison, films(comparison, 6, 320), 3)
    assert {kind: path.name for kind, path in written.items()} == {
        "clip": "side_by_side.mp4", "sheet": "sheet.png", "table": "numbers.csv", "numbers": "numbers.json",
    }  # fmt: skip
    numbers = json.loads(written["numbers"].read_text(encoding="utf-8"))
    assert (numbers["frames"], numbers["rate"], numbers["moment"], numbers["slowdown"]) == (6, "24", 3, 5.0)
    assert [panel["name"] for panel in numbers["panels"]] == ["inch", "large", "tall"]
    for told, panel in zip(numbers["panels"], comparison.panels, strict=True):
        depth = next(each["value"] for each in told["figures"] if each["quantity"] == "depth_of_field")
        assert depth == panel.figure("depth_of_field")
        assert told["focal_length"] == panel.shot.focal_length
    with written["table"].open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["group", "quantity", "of", "unit", "inch", "large", "tall"]
    names = [(row[1], row[2]) for row in rows]
    assert len(set(names)) == len(names), "two rows of one name"
    assert {"focus, from the middle of the lens", "focus, from the sensor"} <= {row[1] for row in rows}
    (depths,) = [row for row in rows if row[1] == "depth of field"]
    assert depths[3] == "mm"
    assert depths[4:] == [f"{panel.figure('depth_of_field') * 1000:.3g}" for panel in comparison.panels]
    # Larger sensors keep less in focus (common practice).
    assert float(depths[4]) > float(depths[6]) > float(depths[5])
    with Image.open(written["sheet"]) as sheet:
        assert sheet.size[0] >= 2 * 480
        assert "srgb" in sheet.info or "gamma" in sheet.info


def test_scenes_whose_panels_end_at_different_times_say_so_on_screen(tmp_path: Path) -> None:
    comparison = comparison_of(tmp_path, vary=["rate=60 fps,120 fps"])
    shown = deliver_side_by_side(
        tmp_path / "a.mp4", comparison, [film(0, 3, (320, 180), rate=60), film(1, 6, (320, 180))], 5
    )
    assert shown.count == 6
    assert [frame.number for frame in shown.kept] == [2, 5]


def test_panels_that_last_differently_long_meet_halfway(tmp_path: Path) -> None:
    """By hand: 24 and 6 frames at 24 fps last 1 s and 0.25 s. The shorter waits 0.375 s, 9 frames, and ends at 15; in
    the middle, frame 12, both are half through: frames 12 and 3."""
    slow = SCENE.replace("nearest: 100, modes: [1080p120]}", "nearest: 100, modes: [4k30]}")
    comparison = comparison_of(tmp_path, slow, cameras=["inch", "large"])
    assert any("all show one moment halfway" in rule for rule in comparison.rules)
    assert not any("halfway" in rule for rule in comparison_of(tmp_path).rules)
    with ExitStack() as until:
        drawn = [film(0, 24, (32, 18)), film(1, 6, (32, 18), rate=30)]
        steps = [
            tuple(frame.number for frame in together)
            for together in in_step(drawn, [Fraction(24)] * 2, Fraction(24), until, [0, 9])
        ]
    assert len(steps) == 24
    assert [steps[number] for number in (0, 9, 10, 12, 14, 15, 23)] == [
        (0, 0), (9, 0), (10, 1), (12, 3), (14, 5), (15, 5), (23, 5),
    ]  # fmt: skip
    again = [film(0, 24, (320, 180)), film(1, 6, (320, 180), rate=30)]
    shown = deliver_side_by_side(tmp_path / "a.mp4", comparison, again, 12, counts=[24, 6])
    assert (shown.count, shown.moment) == (24, 12)
    swapped = comparison_of(tmp_path, slow, cameras=["large", "inch"])
    again = [film(0, 6, (320, 180), rate=30), film(1, 24, (320, 180))]
    shown = deliver_side_by_side(tmp_path / "b.mp4", swapped, again, 3, counts=[6, 24])
    assert shown.moment == 12  # of the clip, when its own frame 3 is on screen


def test_the_sheet_shows_one_moment_on_set_of_panels_that_play_at_other_speeds(tmp_path: Path) -> None:
    slow = SCENE.replace("nearest: 100, modes: [1080p120]}", "nearest: 100, modes: [4k30]}")
    comparison = comparison_of(tmp_path, slow, cameras=["inch", "large"])
    assert [panel.shot.capture.rate for panel in comparison.panels] == [120, 30]
    drawn = [film(0, 24, (320, 180)), film(1, 6, (320, 180), rate=30)]
    shown = deliver_side_by_side(tmp_path / "a.mp4", comparison, drawn, 14)
    # Frame 14 at 120 fps is 0.1167 s into it; at 30 fps frame 3, at 0.1 s, and frame 4, at 0.1333 s, are as near.
    assert [frame.number for frame in shown.kept] == [14, 3]
    assert abs(shown.kept[0].time - shown.kept[1].time) <= Fraction(1, 60)
