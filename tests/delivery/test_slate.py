import dataclasses
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
import pytest
from made_up import frames_of
from PIL import ImageDraw

from previz.delivery import Slate, deliver_clip
from previz.delivery.slate import ascii_of
from previz.scene import FocusKey, read_scene

SLATE = Slate(
    "Quay, first light", "pass", "pocket", "13.2 x 8.8 mm", "20 mm", "f/5.6", "59.94 -> 23.976 fps",
    focus=lambda time: f"{470 + 1000 * time:.0f} mm",
)  # fmt: skip


def _said(monkeypatch: pytest.MonkeyPatch, slate: Slate, width: int) -> list[str]:
    """What is drawn on the strip."""
    said: list[str] = []
    draw = ImageDraw.ImageDraw.text

    def listened(self: ImageDraw.ImageDraw, xy: tuple[float, float], text: str, *rest: object) -> None:
        said.append(text)
        draw(self, xy, text, *rest)

    monkeypatch.setattr(ImageDraw.ImageDraw, "text", listened)
    slate.strip(next(frames_of(1)), width)
    return said


@pytest.mark.parametrize("width", [320, 640, 1280, 1920])
def test_the_slate_names_everything_in_full(monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    said = _said(monkeypatch, SLATE, width)
    values = said[1::2]
    assert values == [
        *("Quay, first light", "pass", "pocket", "13.2 x 8.8 mm", "20 mm", "f/5.6", "1/240 s"),
        *("59.94 -> 23.976 fps", "470 mm", "400", "0", "0.000 s"),
    ]
    assert all(text.isascii() for text in said)


def test_a_title_too_long_for_its_place_is_cut_where_it_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    long = dataclasses.replace(SLATE, scene="A very long title " * 6)
    title = _said(monkeypatch, long, 640)[1]
    assert title.startswith("A very long title")
    assert title.endswith("...")


def test_it_names_the_camera_and_how_far_off_it_is_focused_in_each_frame() -> None:
    """A focus that is pulled from 400 to 500 mm within 0.1 s, read at half of it."""
    scene = read_scene(Path(__file__).parents[2] / "scenes" / "quay_lorry.yaml")
    (shot,) = scene.shots
    keys = [FocusKey(time="0.62 s", at="400 mm"), FocusKey(time="0.72 s", at="500 mm")]
    slate = Slate.of(scene, shot.model_copy(update={"focus": tuple(keys)}))
    assert (slate.camera, slate.focus(0.62), slate.focus(0.67), slate.focus(0.8)) == (
        "pocket", "400 mm", "450 mm", "500 mm"
    )  # fmt: skip


def test_the_strip_is_added_under_the_picture_and_covers_none_of_it() -> None:
    for size in ((640, 360), (1280, 720), (320, 180)):
        frame = next(frames_of(1, size))
        under = SLATE.under(frame)
        width, height = SLATE.with_strip(size)
        assert under.linear.shape == (height, width, 3)
        assert height % 2 == 0
        assert under.linear.dtype == np.float32
        np.testing.assert_array_equal(under.linear[: size[1]], frame.linear)
        strip = under.linear[size[1] :]
        assert strip.max() > 0.5
        # Quiet: nine tenths of it are dark, and so is its border, so no letter is cut off.
        assert np.mean(strip < 0.02) > 0.8
        for edge in (strip[:3], strip[-3:], strip[:, :5], strip[:, -5:]):
            assert edge.max() < 0.02


def test_frame_and_time_move_on() -> None:
    frames = list(frames_of(2, (640, 360)))
    assert not np.array_equal(SLATE.strip(frames[0], 640), SLATE.strip(frames[1], 640))
    np.testing.assert_array_equal(SLATE.strip(frames[0], 640), SLATE.strip(frames[0], 640))


def test_a_clip_with_a_slate_is_higher_by_the_strip(tmp_path: Path) -> None:
    path = tmp_path / "pass.mp4"
    deliver_clip(path, frames_of(3, (640, 360)), Fraction(24), (640, 360), SLATE)
    with av.open(str(path)) as container:
        stream = container.streams.video[0]
        assert (stream.width, stream.height) == SLATE.with_strip((640, 360))
        assert stream.frames == 3


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("Dämmerung", "Dammerung"),
        ("Landstraße – früh", "Landstrasse - fruh"),
        ("Øster Sø, Łódź", "Oster So, Lodz"),
        ("½ m", "1/2 m"),
        ("夜", "?"),
    ],
)
def test_text_is_brought_to_ascii(written: str, shown: str) -> None:
    assert ascii_of(written) == shown
