"""Timecode against the `timecode` package, which did not write it, and against the rule of drop-frame."""

import random
from fractions import Fraction

import pytest
from timecode import Timecode

from previz.delivery import clock_of
from previz.errors import PrevizError

NTSC = Fraction(30000, 1001)

#: Rate, how the other library calls it, a start and whether labels are dropped.
CASES = [
    (Fraction(24), "24", "01:00:00:00", False),
    (Fraction(25), "25", "10:00:00:00", False),
    (NTSC, "29.97", "00:59:59;20", True),
    (NTSC, "29.97", "01:00:00:00", False),
]


@pytest.mark.parametrize(("rate", "name", "start", "drop"), CASES)
def test_frames_have_the_labels_that_another_library_gives_them(
    rate: Fraction, name: str, start: str, drop: bool
) -> None:
    clock = clock_of(rate, start, 10)
    draw = random.Random(7)
    first = Timecode(name, start, force_non_drop_frame=not drop)
    for number in [0, 1, 9, 10, 11, 12, *(draw.randrange(200_000) for _ in range(60))]:
        theirs = Timecode(name, frames=first.frames + number, force_non_drop_frame=not drop)
        assert clock.label(number) == str(theirs), number


def test_drop_frame_leaves_out_two_labels_of_each_minute_but_every_tenth() -> None:
    """SMPTE ST 12-1, as quoted in Wikipedia, "SMPTE timecode", under drop-frame (from memory): labels 0 and 1 of the
    first second of every minute are left out, but of minutes divisible by ten. An hour then has 107892 frames."""
    clock = clock_of(NTSC, "00:00:00;00", 10)
    assert [clock.label(number) for number in (1799, 1800, 17981, 17982)] == [
        "00:00:59;29",
        "00:01:00;02",
        "00:09:59;29",
        "00:10:00;00",
    ]
    assert clock.label(107892) == "01:00:00;00"
    labels = [clock.label(number) for number in range(1790, 20000)]
    assert len({*labels}) == len(labels)
    dropped = [each for each in labels if each[6:] in ("00;00", "00;01")]
    assert {each[3:5] for each in dropped} == {"10"}


def test_an_hour_of_timecode_keeps_step_with_the_clock_where_labels_are_dropped() -> None:
    """108 labels fewer an hour: 3600 s hold 107892.1 frames of 30000/1001."""
    clock = clock_of(NTSC, "00:00:00;00", 10)
    assert clock.label(round(3600 * NTSC)) == "01:00:00;00"
    behind = clock_of(NTSC, "00:00:00:00", 10)
    assert behind.label(round(3600 * NTSC)) == "00:59:56:12"  # 108 frames behind


@pytest.mark.parametrize(
    ("rate", "start", "said"),
    [
        (NTSC, "01:01:00;00", "drop-frame leaves that label out"),
        (Fraction(24), "01:00:00;00", "; means drop-frame"),
        (Fraction(24), "01:00:00:24", "there is no such frame"),
        (Fraction(24), "25:00:00:00", "there is no such frame"),
        (Fraction(24), "1:00", "is not a timecode"),
        (Fraction(24), "23:59:59:20", "past midnight"),
        (NTSC, "23:59:59;25", "past midnight"),
        (Fraction(12), "01:00:00:00", "there is no timecode at 12 fps"),
    ],
)
def test_a_start_that_cannot_be_is_told(rate: Fraction, start: str, said: str) -> None:
    with pytest.raises(PrevizError, match=said):
        clock_of(rate, start, 10)


@pytest.mark.parametrize(
    ("rate", "start"), [(Fraction(24), "23:59:59:14"), (NTSC, "23:59:59;20"), (NTSC, "23:59:59:20")]
)
def test_a_cut_may_end_at_midnight(rate: Fraction, start: str) -> None:
    assert clock_of(rate, start, 10).label(9)[:8] == "23:59:59"


def test_a_rate_without_timecode_has_no_labels() -> None:
    assert clock_of(Fraction(12), None, 10).label(3) == ""
