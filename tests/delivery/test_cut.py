"""The cut: kept without loss, joined to the frame, its lists true of its clip. Frames are made up; nothing is drawn."""

import csv
import io
import json
import wave
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import av
import numpy as np
import pytest
from PIL import Image
from timecode import Timecode

from previz.delivery import (
    SHOTS_FOLDER,
    CutWritten,
    KeptShot,
    Slate,
    Stretch,
    clock_of,
    deliver_cut,
    keep_shot,
    kept_shot,
)
from previz.delivery.clip.decoder import decoded
from previz.delivery.cut.joining import Joining, joined
from previz.errors import PrevizError
from previz.frames import Facts, Frame
from previz.predictions import Finding, Predictions
from previz.scene import read_scene
from previz.sequence import running_order
from tests.sequence.small_cuts import written

SIZE = (64, 36)
FACTS = Facts(iso=400, exposure_time=1 / 48, working_f_number=1.9, views=2, vehicle_illuminance=900.0)
NOTHING = Predictions((), (), (), ())

#: Level of each shot, in linear light.
LEVELS = {"wide": 0.1, "near": 0.4, "back": 0.02}

ORDER = """\
sequence: [wide, {shot: near, dissolve: 7 frames}, {shot: wide, in_point: 0.5 s}, {shot: back, dissolve: 4 frames}]
"""


def oetf(level: np.ndarray) -> np.ndarray:
    """ITU-R BT.709 item 1.2 (from memory), written again here so that the product's own is checked."""
    return np.where(level < 0.018, 4.5 * level, 1.099 * level**0.45 - 0.099)


def drawn(shot: str, numbers: range) -> Iterator[Frame]:
    """A level for each shot, and in the first pixels the frame's number."""
    for number in numbers:
        linear = np.full((SIZE[1], SIZE[0], 3), LEVELS[shot], np.float32)
        linear[0, :8] = [[float(number >> bit & 1)] * 3 for bit in range(8)]
        yield Frame(number, Fraction(number, 24), linear, FACTS)


def number_in(picture: np.ndarray) -> int:
    return sum(int(picture[0, bit, 0] > 128) << bit for bit in range(8))


@dataclass
class Made:
    path: Path
    stretches: tuple[Stretch, ...]
    films: dict[str, KeptShot]

    @property
    def total(self) -> int:
        return self.stretches[-1].event.ends

    def deliver(
        self,
        start: str | None = None,
        sound: Path | None = None,
        predictions: Predictions = NOTHING,
        between: tuple[Finding, ...] = (),
        limit: int = 10**8,
    ) -> CutWritten:
        first = self.stretches[0].event
        clock = clock_of(first.shot.playback, start, self.total)
        return deliver_cut(
            self.path, first.scene, self.stretches, clock, predictions, between, purpose="post", sound=sound,
            limit=limit, advance=lambda _: None,
        )  # fmt: skip


def made(
    folder: Path, sequence: str = ORDER, rate: str = "24 fps", *, slates: bool = False, title: str = "Three looks"
) -> Made:
    scene = read_scene(written(folder, sequence, rate)).model_copy(update={"title": title})
    events = running_order(scene)
    out = folder / "cut"
    films = {}
    for event in events:
        if event.shot.id not in films:
            numbers = range(40)
            films[event.shot.id] = keep_shot(
                out / SHOTS_FOLDER, event.shot.id, "d", drawn(event.shot.id, numbers), numbers, SIZE, Fraction(24)
            )
    stretches = tuple(
        Stretch(each, films[each.shot.id], Slate.of(each.scene, each.shot) if slates else None) for each in events
    )
    return Made(out, stretches, films)


# --- kept ---


def test_what_is_kept_comes_back_to_the_code(tmp_path: Path) -> None:
    """Noise, which no lossy encoder keeps; codes by the recommendation's formula, rounded. Read by ours and by PyAV."""
    draw = np.random.default_rng(3)
    linear = draw.random((5, SIZE[1], SIZE[0], 3), np.float32)
    frames = [Frame(number, Fraction(number), each, FACTS) for number, each in enumerate(linear)]
    kept = keep_shot(tmp_path, "noise", "d", iter(frames), range(5), SIZE, Fraction(24))
    back = np.stack(list(decoded(kept.path, SIZE, range(5))))
    wanted = oetf(linear.astype(float)) * 255
    assert np.abs(back - wanted).max() < 0.5 + 0.05  # of a table of 65536 levels, where the curve is steepest
    with av.open(str(kept.path)) as container:
        theirs = [frame.to_ndarray(format="rgb24") for frame in container.decode(video=0)]
    assert (np.stack(theirs) == back).all()


def test_part_of_a_film_is_the_part(tmp_path: Path) -> None:
    kept = keep_shot(tmp_path, "wide", "d", drawn("wide", range(20, 40)), range(20, 40), SIZE, Fraction(24))
    assert [number_in(each) for each in decoded(kept.path, SIZE, kept.in_film(range(25, 29)))] == [25, 26, 27, 28]


@pytest.mark.parametrize(
    ("digest", "wanted", "spoilt", "found"),
    [
        ("d", range(5, 10), None, True),
        ("d", range(6, 9), None, True),
        ("other", range(5, 10), None, False),
        ("d", range(4, 10), None, False),
        ("d", range(5, 11), None, False),
        ("d", range(5, 10), "wide.mkv", False),
        ("d", range(5, 10), "wide.json", False),
    ],
)
def test_a_film_is_used_again_only_if_it_is_of_the_same_and_whole(
    tmp_path: Path, digest: str, wanted: range, spoilt: str | None, found: bool
) -> None:
    kept = keep_shot(tmp_path, "wide", "d", drawn("wide", range(5, 10)), range(5, 10), SIZE, Fraction(24))
    if spoilt:
        data = bytearray((tmp_path / spoilt).read_bytes())
        data[len(data) // 2] ^= 255
        (tmp_path / spoilt).write_bytes(data)
    assert kept_shot(tmp_path, "wide", digest, wanted) == (kept if found else None)


# --- joined ---


def test_frames_follow_each_other_as_the_running_order_says(tmp_path: Path) -> None:
    cut = made(
        tmp_path, "sequence: [{shot: near, in_point: 0.25 s, out_point: 0.5 s}, wide, {shot: near, in_point: 0.75 s}]"
    )
    pictures = list(joined(cut.stretches, Joining()))
    assert [number_in(each) for each in pictures] == [*range(6, 12), *range(24), *range(18, 24)]
    levels = [round(float(each[20, 20, 0]) / 255, 2) for each in pictures]
    near, wide = (round(round(float(oetf(np.array(LEVELS[shot]))) * 255) / 255, 2) for shot in ("near", "wide"))
    assert levels == [near] * 6 + [wide] * 24 + [near] * 6


def test_the_middle_of_a_dissolve_is_the_mean_of_both_in_light(tmp_path: Path) -> None:
    cut = made(tmp_path, "sequence: [wide, {shot: near, dissolve: 7 frames}]")
    pictures = list(joined(cut.stretches, Joining()))
    assert len(pictures) == 24 + 24 - 7
    found = [float(each[20, 20, 0]) for each in pictures[16:25]]
    light = [LEVELS["wide"] + (LEVELS["near"] - LEVELS["wide"]) * step / 8 for step in range(9)]
    assert light[4] == pytest.approx((LEVELS["wide"] + LEVELS["near"]) / 2)
    # Codes of either are rounded before they are mixed, and so is the sum.
    assert np.abs(np.array(found) - oetf(np.array(light)) * 255).max() < 1
    codes = (found[0] + found[-1]) / 2
    assert abs(found[4] - codes) > 5  # the mean of the codes is another


def test_two_single_frames_that_dissolve_both_have_a_picture(tmp_path: Path) -> None:
    one = "out_point: 0.0417 s"
    cut = made(tmp_path, f"sequence: [{{shot: wide, {one}}}, {{shot: near, {one}, dissolve: 1 frame}}]")
    seen = Joining()
    assert len(list(joined(cut.stretches, seen))) == 1
    assert seen.stills.keys() == {1, 2}


def test_the_slate_is_that_of_the_shot_that_is_seen_more(tmp_path: Path) -> None:
    cut = made(tmp_path, "sequence: [wide, {shot: near, dissolve: 7 frames}]", slates=True)
    pictures = list(joined(cut.stretches, Joining()))
    strips = [each[SIZE[1] :] for each in pictures]
    assert all(len(each) > 30 for each in strips)
    wide, near = cut.stretches
    for number, strip in enumerate(strips):
        of = wide.strip(number) if number < 20 else near.strip(number - 17)  # the fourth of seven is the middle
        assert (strip == of).all(), number


# --- the clip and its lists ---


RATES = [("24 fps", "24", None), ("25 fps", "25", "10:00:00:00"), ("30000/1001", "29.97", "00:59:59;20"),
         ("30000/1001", "29.97", "00:59:59:20")]  # fmt: skip


@pytest.mark.parametrize(("rate", "name", "start"), RATES)
def test_the_lists_sum_to_the_clip_to_the_frame(tmp_path: Path, rate: str, name: str, start: str | None) -> None:
    """Read back by PyAV, by the `timecode` package and as plain CSV and JSON, none of which wrote them."""
    cut = made(tmp_path, rate=rate)
    done = cut.deliver(start)
    exact = Fraction({"29.97": "30000/1001"}.get(name, name))
    with av.open(str(done.files["clip"])) as container:
        video, audio = container.streams.video[0], container.streams.audio[0]
        shown = sum(1 for _ in container.decode(video))
        assert video.average_rate == exact
        assert video.duration * video.time_base == shown / exact
        assert abs(audio.duration * audio.time_base - shown / exact) <= Fraction(1, 48000)
    rows = list(csv.DictReader(io.StringIO(done.files["list"].read_text())))
    assert sum(int(row["adds"]) for row in rows) == shown == cut.total
    assert sum(int(row["frames"]) for row in rows) - sum(int(row["dissolve"]) for row in rows) == shown

    drop = start is not None and ";" in start

    def frames(label: str, *, dropped: bool = drop) -> int:
        return int(Timecode(name, label, force_non_drop_frame=not dropped).frames)

    assert rows[0]["cut_in"] == (start or "01:00:00:00")
    for row in rows:
        assert frames(row["cut_out"]) - frames(row["cut_in"]) == int(row["frames"])
        assert frames(row["shot_out"]) - frames(row["shot_in"]) == int(row["frames"])
        assert frames(row["cut_in"]) - frames(rows[0]["cut_in"]) == int(row["first"])
    for before, row in pairwise(rows):
        assert frames(before["cut_out"]) - frames(row["cut_in"]) == int(row["dissolve"])
    assert frames(rows[-1]["cut_out"]) - frames(rows[0]["cut_in"]) == shown


@pytest.mark.parametrize(("rate", "name", "start"), RATES)
def test_the_timeline_is_as_long_as_the_clip(tmp_path: Path, rate: str, name: str, start: str | None) -> None:
    """Its JSON is read as JSON: clips follow each other, and a dissolve reaches over its cut point."""
    cut = made(tmp_path, rate=rate)
    done = cut.deliver(start)
    timeline = json.loads(done.files["timeline"].read_text())
    drop = start is not None and ";" in start
    first = Timecode(name, start or "01:00:00:00", force_non_drop_frame=not drop)
    assert timeline["global_start_time"]["value"] == first.frames - 1  # theirs counts from 1
    (track,) = timeline["tracks"]["children"]
    at, found = 0.0, []
    for each in track["children"]:
        if each["OTIO_SCHEMA"].startswith("Transition"):
            assert each["transition_type"] == "SMPTE_Dissolve"
            found.append(("dissolve", at - each["in_offset"]["value"], at + each["out_offset"]["value"]))
            continue
        span = each["source_range"]
        (media,) = each["media_references"].values()
        held = media["available_range"]
        assert span["start_time"]["rate"] == pytest.approx(float(Fraction({"29.97": "30000/1001"}.get(name, name))))
        assert held["start_time"]["value"] <= span["start_time"]["value"]
        assert (cut.path / media["target_url"]).is_file()
        found.append((each["name"], at, at + span["duration"]["value"]))
        at += span["duration"]["value"]
    assert at == cut.total
    events = [each.event for each in cut.stretches]
    assert [(start, end) for name, start, end in found if name == "dissolve"] == [
        (event.starts, event.starts + event.dissolve) for event in events if event.dissolve
    ]
    assert [name for name, *_ in found if name != "dissolve"] == [event.shot.id for event in events]


def tone(path: Path, seconds: float, samples: int = 44100) -> Path:
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(samples)
        level = 8000 * np.sin(np.arange(round(seconds * samples)) * 2 * np.pi * 440 / samples)
        out.writeframes(level.astype("<i2").tobytes())
    return path


@pytest.mark.parametrize(
    ("seconds", "said"), [(3.0, "its last 1.000 s left off"), (0.5, "with 1.500 s of silence after")]
)
def test_the_sound_is_as_long_as_the_picture_and_what_was_done_is_said(
    tmp_path: Path, seconds: float, said: str
) -> None:
    cut = made(tmp_path, "sequence: [wide, near]")
    done = cut.deliver(sound=tone(tmp_path / "tone.wav", seconds))
    assert said in done.sound
    with wave.open(str(done.files["sound"])) as beside:  # what the timeline names
        assert beside.getnframes() == 2 * 48000
    timeline = json.loads(done.files["timeline"].read_text())
    _, track = timeline["tracks"]["children"]
    assert track["kind"] == "Audio" and track["children"][0]["source_range"]["duration"]["value"] == 48
    with av.open(str(done.files["clip"])) as container:
        audio = container.streams.audio[0]
        assert audio.duration * audio.time_base == 2
        heard = np.concatenate([each.to_ndarray()[0] for each in container.decode(audio)])
    loud = np.abs(heard.reshape(-1)[: 2 * 48000])
    assert loud[10000:20000].max() > 0.1
    assert (loud[60000:90000].max() > 0.1) == (seconds > 2)


def test_what_is_no_sound_is_told(tmp_path: Path) -> None:
    cut = made(tmp_path, "sequence: [wide]")
    (tmp_path / "words.wav").write_text("not a sound at all")
    with pytest.raises(PrevizError, match="is not a WAV file"):
        cut.deliver(sound=tmp_path / "words.wav")
    assert not (cut.path / "cut.mp4").exists()


def test_a_join_that_flashes_is_told_where_no_shot_does(tmp_path: Path) -> None:
    """Two steady shots, dark and bright, in turn of three frames: four flashes a second at 24 fps."""
    dark, light = "{shot: back, out_point: 0.125 s}", "{shot: near, out_point: 0.125 s}"
    cut = made(tmp_path, f"sequence: [{', '.join([dark, light] * 5)}]")
    done = cut.deliver()
    assert done.flashes.worst == 4 and not done.alone
    assert done.warning and "though no shot of it does by itself" in done.warning
    assert made(tmp_path, "sequence: [back, near]").deliver().warning is None


def test_the_contact_sheet_has_a_picture_of_each_event_and_the_page_its_clip(tmp_path: Path) -> None:
    cut = made(tmp_path)
    done = cut.deliver()
    with Image.open(done.files["contact_sheet"]) as sheet:
        colours = {tuple(pixel) for pixel in np.asarray(sheet.convert("RGB")).reshape(-1, 3)}
    for level in LEVELS.values():  # in sRGB, IEC 61966-2-1 (from memory)
        code = 12.92 * level if level <= 0.0031308 else 1.055 * level ** (1 / 2.4) - 0.055
        assert any(max(abs(part - code * 255) for part in colour) < 2 for colour in colours), level
    assert isinstance(done.page, Path)
    page = done.page.read_text()
    assert page.count("<li>\n    <button") == 4
    assert "default-src 'none'" in page
    assert all(f"</span> {each.event.shot.id}</h2>" in page for each in cut.stretches)
