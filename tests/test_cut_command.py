"""`previz cut`: what is filmed again, what is said, what is refused. Drawing is played by a stand-in that counts."""

import json
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

import previz
from previz.cli import app
from previz.delivery import SHOTS_FOLDER
from previz.delivery.clip.decoder import decoded
from previz.frames import Facts, Frame
from previz.predictions import Predictions
from tests.sequence.small_cuts import written

FACTS = Facts(iso=400, exposure_time=1 / 48, working_f_number=1.9, views=2, vehicle_illuminance=900.0)


@pytest.fixture
def filmed(nobody_draws: None, monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, int]]:
    """Every shot that is filmed, and how many of its frames."""
    found: list[tuple[str, int]] = []

    def render_frames(_scene: object, _stage: object, shot: Any, look: Any, *_: object) -> Iterator[Frame]:
        found.append((shot.id, len(look.frames)))
        for number in look.frames:
            yield Frame(number, Fraction(number, 24), np.full((look.size[1], look.size[0], 3), 0.1, np.float32), FACTS)

    monkeypatch.setattr(previz, "build_stage", lambda *_, **__: SimpleNamespace(), raising=False)
    monkeypatch.setattr(previz, "render_frames", render_frames, raising=False)
    monkeypatch.setattr(previz, "predict", lambda *_, **__: Predictions((), (), (), ()), raising=False)
    monkeypatch.setattr("previz.continuity.between_shots", lambda *_: ())  # it goes by what is predicted
    return found


def cut(path: Path, *more: object) -> Any:
    arguments = ["cut", path, "--size", 64, "--views", 1, "--workers", 1, "--out", path.parent / "out", *more]
    return CliRunner().invoke(app, [str(each) for each in arguments])


def test_only_what_has_changed_is_filmed_again(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    order = "sequence: [wide, {shot: near, dissolve: 6 frames}, {shot: wide, in_point: 0.5 s}, back]"

    def again(sequence: str = order, **changes: str) -> list[tuple[str, int]]:
        filmed.clear()
        result = cut(written(tmp_path, sequence, **changes), "--json")
        assert result.exit_code == 0, result.output
        assert json.loads(result.stdout)["filmed"] == [shot for shot, _ in filmed]
        return list(filmed)

    assert again() == [("wide", 24), ("near", 24), ("back", 24)]
    assert again() == []
    moved = {"at: [200, 20, 60]": "at: [210, 20, 60]"}  # of near alone
    assert again(**moved) == [("near", 24)]
    assert again(**moved) == []
    assert again("sequence: [back, near]", **moved) == []  # another order
    assert again("sequence: [{shot: back, in_point: 0.25 s}]", **moved) == []  # less of it
    assert again(order, **moved, **{"title: Three looks": "title: Three more"}) == []  # nothing that is seen
    redressed = {**moved, "{id: back,": "{id: back, lights: {key: 3000 lm},"}  # before the last alone
    assert again(order, **redressed) == [("back", 24)]
    everything = {**redressed, "room, ambient: 150 lx": "room, ambient: 160 lx"}
    assert again(order, **everything) == [("wide", 24), ("near", 24), ("back", 24)]


def test_only_what_plays_is_filmed_and_more_when_more_plays(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    assert cut(written(tmp_path, "sequence: [{shot: wide, in_point: 0.25 s, out_point: 0.5 s}]")).exit_code == 0
    assert filmed == [("wide", 6)]
    assert cut(written(tmp_path, "sequence: [{shot: wide, in_point: 0.25 s, out_point: 0.75 s}]")).exit_code == 0
    assert filmed == [("wide", 6), ("wide", 12)]


def test_a_draft_leaves_the_whole_films_alone(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    path = written(tmp_path, "sequence: [wide]")
    for more in ([], ["--draft"], [], ["--draft"]):
        assert cut(path, *more).exit_code == 0
    assert filmed == [("wide", 24), ("wide", 24)]


def test_fresh_films_every_shot_anew(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    path = written(tmp_path, "sequence: [wide, near]")
    for more in ([], [], ["--fresh"]):
        assert cut(path, *more).exit_code == 0
    assert filmed == 2 * [("wide", 24), ("near", 24)]


def test_shots_that_another_opengl_drew_are_filmed_with_those_that_changed(
    tmp_path: Path, filmed: list[tuple[str, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Or one clip would hold pictures of two. Where nothing has changed, nobody draws, and all stays."""
    order, moved = "sequence: [wide, near]", {"at: [200, 20, 60]": "at: [210, 20, 60]"}
    assert cut(written(tmp_path, order)).exit_code == 0
    monkeypatch.setattr("previz.frames.crew.Crew.drawn_by", lambda _: "another")
    filmed.clear()
    assert cut(written(tmp_path, order)).exit_code == 0
    assert filmed == []
    result = cut(written(tmp_path, order, **moved))
    assert filmed == [("wide", 24), ("near", 24)]
    assert "filmed anew, for another OpenGL drew them: wide" in result.stderr


def test_a_cut_that_was_stopped_goes_on_within_the_shot(
    tmp_path: Path, filmed: list[tuple[str, int]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the same film, code for code, as one that ran through."""
    through = tmp_path / "through"
    through.mkdir()
    assert cut(written(through, "sequence: [wide, near]")).exit_code == 0
    filmed.clear()
    whole = previz.render_frames

    def stopped(*asked: Any) -> Iterator[Frame]:
        for frame in whole(*asked):
            if asked[2].id == "near" and frame.number == 9:
                raise KeyboardInterrupt
            yield frame

    path = written(tmp_path, "sequence: [wide, near]")
    monkeypatch.setattr(previz, "render_frames", stopped, raising=False)
    assert cut(path).exit_code == 130
    monkeypatch.setattr(previz, "render_frames", whole, raising=False)
    result = cut(path)
    assert result.exit_code == 0 and "near: goes on: 9 of 24 frames are there" in result.stderr
    assert filmed == [("wide", 24), ("near", 24), ("near", 15)]
    for name in ("wide.mkv", "near.mkv"):
        one, other = (
            list(decoded(folder / "out" / SHOTS_FOLDER / name, (64, 36), range(24))) for folder in (through, tmp_path)
        )
        assert len(one) == 24 and all((a == b).all() for a, b in zip(one, other, strict=True))
    assert not list((tmp_path / "out").glob(".*"))  # what is not finished is gone


def test_a_slate_needs_no_filming(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    path = written(tmp_path, "sequence: [wide]")
    plain = json.loads(cut(path, "--json").stdout)
    slated = json.loads(cut(path, "--slate", "--json").stdout)
    assert len(filmed) == 1
    assert slated["size"][1] > plain["size"][1]


def test_what_was_made_is_told(tmp_path: Path, filmed: list[tuple[str, int]]) -> None:
    result = cut(
        written(tmp_path, "sequence: [wide, {shot: near, dissolve: 0.25 s}]"), "--start-timecode", "10:00:00:00"
    )
    assert result.exit_code == 0, result.output
    assert "42 frames, 1.75 s on screen at 24 fps, sound: silent" in result.stdout
    assert "10:00:00:18  near" in result.stdout and "dissolves in over 6 frames" in result.stdout
    for name in ("cut.mp4", "cut.csv", "cut.otio", "contact_sheet.png", "page.html"):
        assert str(tmp_path / "out" / name) in result.stdout and (tmp_path / "out" / name).is_file()


@pytest.mark.parametrize(
    ("sequence", "changes", "line", "said"),
    [
        (
            "sequence:\n  - wide\n  - near",
            {"duration: 1 s,\n     playback: 24 fps, capture: {rate: 24 fps, shutter: 180 deg}}\n  - {id: back":
             "duration: 1 s,\n     playback: 25 fps, capture: {rate: 25 fps, shutter: 180 deg}}\n  - {id: back"},
            23,
            "near plays at 25 fps and wide, the first, at 24 fps; one clip has one rate",
        ),
        ("sequence:\n  - wide\n  - {shot: near, out_point: 1.5 s}", {}, 23, "is past the end"),
    ],
)  # fmt: skip
def test_what_one_clip_cannot_hold_is_told_at_its_line(
    tmp_path: Path, filmed: list[Any], sequence: str, changes: dict[str, str], line: int, said: str
) -> None:
    result = cut(written(tmp_path, sequence, **changes))
    assert result.exit_code == 2 and not filmed
    assert f"three.yaml:{line}: " in result.stderr and said in result.stderr


def test_shots_of_different_shapes_are_told(tmp_path: Path, filmed: list[Any]) -> None:
    """A mode of 4:3 beside those of 16:9; without a running order the shot's own line is told."""
    modes = {"4k60]": "1440x1080 at 60 fps]"}
    last = "}}\n  - {id: back"  # of the second shot
    one = {f"shutter: 180 deg{last}": f"shutter: 180 deg, mode: 1440x1080 at 60 fps{last}"}
    result = cut(written(tmp_path, "", **modes, **one))
    assert result.exit_code == 2 and not filmed
    assert "three.yaml:18: shots[near].capture: near is 64x48 and wide, the first, 64x36" in result.stderr
    # Nor is one of them filmed out of shape where a whole size is asked for.
    result = cut(written(tmp_path, "", **modes, **one), "--size", "64x36")
    assert result.exit_code == 2 and not filmed and "is not the shape of" in result.stderr


def test_what_is_no_sound_is_told_before_any_filming(tmp_path: Path, filmed: list[Any]) -> None:
    (tmp_path / "engine.wav").write_text("no sound")
    result = cut(written(tmp_path, "sound: engine.wav\n"))
    assert result.exit_code == 2 and not filmed and "engine.wav: is not a WAV file" in result.stderr


def test_the_sound_of_the_scene_must_be_there_and_be_one(tmp_path: Path, filmed: list[Any]) -> None:
    for name, said in (("engine.wav", "there is no file engine.wav"), ("three.yaml", "is not a sound this reads")):
        result = cut(written(tmp_path, f"sound: {name}\n"))
        assert result.exit_code == 2 and "three.yaml:21: sound: " in result.stderr and said in result.stderr
