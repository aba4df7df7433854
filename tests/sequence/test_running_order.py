"""What plays when: stretches in screen time, dissolves that overlap, and faults told at their lines."""

import random
from pathlib import Path

import pytest

from previz.errors import FileFault, SceneErrors
from previz.scene import Dissolve, Entry, at_its_line, read_scene
from previz.sequence import Event, running_order
from tests.sequence.small_cuts import written


def ordered(folder: Path, sequence: str, **how: str) -> tuple[Event, ...]:
    return running_order(read_scene(written(folder, sequence, **how)))


def told(events: tuple[Event, ...]) -> list[tuple[int, str, int, int, int, int]]:
    return [
        (each.number, each.shot.id, each.frames.start, each.frames.stop, each.dissolve, each.starts) for each in events
    ]


def test_without_a_running_order_all_shots_play_whole_in_theirs(tmp_path: Path) -> None:
    assert told(ordered(tmp_path, "")) == [
        (1, "wide", 0, 24, 0, 0),
        (2, "near", 0, 24, 0, 24),
        (3, "back", 0, 24, 0, 48),
    ]


def test_stretches_are_in_screen_time_and_the_same_shot_may_stand_again(tmp_path: Path) -> None:
    order = "sequence: [wide, {shot: near, in_point: 0.25 s, out_point: 0.75 s}, {shot: wide, in_point: 0.5 s}]"
    assert told(ordered(tmp_path, order)) == [
        (1, "wide", 0, 24, 0, 0),
        (2, "near", 6, 18, 0, 24),
        (3, "wide", 12, 24, 0, 36),
    ]


def test_a_slowed_shot_is_cut_by_what_is_seen_on_screen(tmp_path: Path) -> None:
    """48 fps played at 24: 1 s on set is 2 s on screen."""
    slow = {"capture: {rate: 24 fps": "capture: {rate: 48 fps"}
    (event,) = ordered(tmp_path, "sequence: [{shot: wide, in_point: 1.5 s, out_point: 2 s}]", **slow)
    assert event.frames == range(36, 48)


@pytest.mark.parametrize("dissolve", ["6 frames", "0.25 s", "{frames: 6}", "{time: 250 ms}"])
def test_a_dissolve_is_seen_over_the_end_of_the_one_before(tmp_path: Path, dissolve: str) -> None:
    events = ordered(tmp_path, f"sequence: [wide, {{shot: near, dissolve: {dissolve}}}]")
    assert told(events) == [(1, "wide", 0, 24, 0, 0), (2, "near", 0, 24, 6, 18)]
    assert events[-1].ends == 42  # 24 + 24 - 6


@pytest.mark.parametrize(
    ("sequence", "line", "said"),
    [
        ("\n  - wide\n  - {shot: near, out_point: 2 s}", 23, "is past the end: shot near lasts 1.000 s on screen"),
        ("\n  - {shot: near, in_point: 1 s}", 22, "is past the end"),
        ("\n  - wide\n  - shot: near\n    dissolve: 25 frames", 24, "25 frames are longer than what plays of wide, 24"),
        (
            "\n  - wide\n  - {shot: near, dissolve: 13 frames}\n  - {shot: back, dissolve: 12 frames}",
            24,
            "begins before the last dissolve is over: near plays 24 frames, and 13 and 12 of them dissolve",
        ),
        ("\n  - {shot: near, in_point: 0.5 s, out_point: 0.501 s}", 22, "leaves less than a frame to see"),
    ],
)
def test_what_the_shots_are_too_short_for_is_told_at_its_line(
    tmp_path: Path, sequence: str, line: int, said: str
) -> None:
    path = written(tmp_path, f"sequence:{sequence}\n")
    with pytest.raises(FileFault) as caught:
        running_order(read_scene(path))
    (fault,) = at_its_line(path, caught.value).faults
    assert (fault.line, said in fault.message) == (line, True), fault


def test_dissolves_that_just_meet_are_none_of_three_shots(tmp_path: Path) -> None:
    order = "sequence: [wide, {shot: near, dissolve: 12 frames}, {shot: back, dissolve: 12 frames}]"
    assert [each.starts for each in ordered(tmp_path, order)] == [0, 12, 24]


@pytest.mark.parametrize(
    ("sequence", "said"),
    [
        ("[wid]", "wid is not a shot of this file; did you mean wide?"),
        ("[wide, {shot: naer}]", "naer is not a shot of this file; did you mean near?"),
        ("[{shot: wide, dissolve: 3 frames}]", "the first has nothing before it to come in over"),
        ("[wide, {shot: near, dissolve: 12}]", "12 is not a dissolve; write it like 12 frames or 0.5 s"),
        ("[wide, {shot: near, in_point: 0.5 s, out_point: 0.5 s}]", "is not after the in point"),
        ("[wide, {shot: near, inn_point: 0.5 s}]", "did you mean in_point?"),
        ("wide", "is not a list of stretches of shots"),
    ],
)
def test_what_cannot_be_is_told_as_the_file_is_read(tmp_path: Path, sequence: str, said: str) -> None:
    with pytest.raises(SceneErrors) as caught:
        read_scene(written(tmp_path, f"sequence: {sequence}\n"))
    (fault,) = caught.value.faults
    assert fault.line == 21 and said in fault.message, fault


def test_an_event_has_the_scene_as_it_stands_for_its_shot(tmp_path: Path) -> None:
    again = {"{id: near,": "{id: near, without: [key],"}
    wide, near = ordered(tmp_path, "sequence: [wide, near]", **again)
    assert [light.id for light in wide.scene.lights] == ["key", "room"]
    assert [light.id for light in near.scene.lights] == ["room"]


def test_random_orders_fill_the_cut_without_a_gap(tmp_path: Path) -> None:
    """Laid out frame by frame: each is of one shot, or of the two that dissolve, never of none or three."""
    draw = random.Random(20261127)
    base = read_scene(written(tmp_path))
    for _ in range(60):
        entries, before = [], 0  # how much of the one before is free to dissolve
        for number in range(draw.randint(1, 9)):
            first = draw.randrange(0, 20)
            end = draw.randrange(first + 1, 25)
            dissolve = draw.randint(0, min(before, end - first)) if number else 0
            before = end - first - dissolve
            how = Dissolve(frames=dissolve) if dissolve else None
            shot = draw.choice(["wide", "near", "back"])
            entries.append(Entry(shot=shot, in_point=f"{first / 24} s", out_point=f"{end / 24} s", dissolve=how))
        events = running_order(base.model_copy(update={"sequence": tuple(entries)}))
        shown = [0] * events[-1].ends
        for event in events:
            for frame in range(event.starts, event.ends):
                shown[frame] += 1
        assert {*shown} <= {1, 2}
        assert shown.count(2) == sum(event.dissolve for event in events)
        assert len(shown) == sum(len(event.frames) - event.dissolve for event in events)
        assert [event.frames.start for event in events] == [round(float(each.in_point) * 24) for each in entries]
