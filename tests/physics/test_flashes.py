"""Flashes in made-up clips, on both sides of each threshold.

The thresholds are those of WCAG 2.2, "general flash and red flash thresholds" and "three flashes or below threshold":
both seen.
"""

import numpy as np
import pytest

from previz.physics.flashes import CELLS, Flashes, cells_of, flashes_in_a_second

RATE = 24


def flashing(times: int, low: float = 0.0, high: float = 1.0, seconds: int = 1) -> np.ndarray:
    """Dark, then so many flashes evenly over each second, then dark; (n,)."""
    light = np.full(RATE * seconds, low)
    for flash in range(times * seconds):
        light[round((flash + 0.25) * RATE / times) : round((flash + 0.75) * RATE / times)] = high
    return np.concatenate([np.full(RATE, low), light, np.full(RATE, low)])


@pytest.mark.parametrize("times", [1, 2, 3, 4, 6])
def test_flashes_are_counted(times: int) -> None:
    assert flashes_in_a_second(flashing(times), RATE).general == times


def test_three_flashes_a_second_pass_and_four_do_not() -> None:
    # WCAG 2.2: no more than three in any one second, for as long as it goes on
    assert not flashes_in_a_second(flashing(3, seconds=3), RATE).too_many
    assert flashes_in_a_second(flashing(4, seconds=3), RATE).too_many


@pytest.mark.parametrize("rate", [24, 25, 30, 60])
def test_flashes_that_come_3_43_times_a_second_are_too_many(rate: int) -> None:
    # Seven frames of 24 from one to the next: a second holds seven opposing changes, more than three pairs (WCAG 2.2,
    # 2.3.1, "more than three flashes in any one second": seen). Three a second have six, wherever it begins.
    for times, seconds, told in ((24 / 7, 4, True), (3, 4, False), (2.9, 4, False)):
        phase = np.arange(rate * seconds) / rate * times % 1
        found = flashes_in_a_second((phase >= 0.5).astype(float), rate)
        assert found.too_many is told, (times, found)
    assert Flashes(3.5, 0, 1.0).too_many


def test_four_flashes_within_a_second_that_starts_anywhere_are_found() -> None:
    # Two at the end of one second of the clip, two at the beginning of the next.
    light = np.zeros(3 * RATE)
    light[[RATE - 8, RATE - 4, RATE + 2, RATE + 6]] = 1.0
    assert flashes_in_a_second(light, RATE).general == 4


def test_the_same_flashes_played_twice_as_slowly_are_half_as_many() -> None:
    assert flashes_in_a_second(flashing(6, seconds=2), RATE).general == 6
    assert flashes_in_a_second(flashing(6, seconds=2), RATE / 2).general == 3


@pytest.mark.parametrize("low,high,counted", [(0.30, 0.40, 6), (0.30, 0.399, 0), (0.79, 0.95, 6), (0.80, 0.95, 0)])
def test_a_change_counts_from_a_tenth_on_where_the_darker_is_under_0_80(low: float, high: float, counted: int) -> None:
    # WCAG 2.2: a pair of opposing changes of 10 % or more of the largest luminance, the darker below 0.80
    assert flashes_in_a_second(flashing(6, low, high), RATE).general == counted


def test_a_flash_that_rises_over_several_frames_counts_once() -> None:
    ramp = np.array([0, 0.06, 0.12, 0.18, 0.24, 0.18, 0.12, 0.06])
    assert flashes_in_a_second(np.tile(ramp, 6), 24).general == 3
    assert flashes_in_a_second(np.tile(ramp, 6), 32).general == 4


def test_a_fade_and_grain_are_no_flashes() -> None:
    assert flashes_in_a_second(np.linspace(0, 1, 60), RATE).worst == 0
    grain = 0.4 + 0.04 * np.random.default_rng(2).uniform(-1, 1, 100)
    assert flashes_in_a_second(grain, RATE).worst == 0


@pytest.mark.parametrize("wide,counted", [(4, 6), (3, 6), (2, 0)])
def test_a_flash_counts_over_a_quarter_of_a_10_degree_field(wide: int, counted: int) -> None:
    # WCAG 2.2: a quarter of any 10 degree field. A field is 8 by 6 of the 24 by 18 cells; so wide by 4 high are 16, 12
    # and 8 of its 48: a third, a quarter, a sixth.
    pictures = np.zeros((3 * RATE, CELLS[1], CELLS[0], 3))
    pictures[:, 7:11, 9 : 9 + wide] = flashing(6)[:, None, None, None]
    found = flashes_in_a_second(pictures, RATE)
    assert found.general == counted
    assert found.share == pytest.approx(4 * wide / 48)


def test_opposite_corners_are_not_one_field() -> None:
    pictures = np.zeros((3 * RATE, CELLS[1], CELLS[0], 3))
    pictures[:, :4, :2] = pictures[:, -4:, -2:] = flashing(6)[:, None, None, None]
    assert flashes_in_a_second(pictures, RATE).general == 0


def coloured(one: list[float], other: list[float], times: int = 6) -> np.ndarray:
    light = flashing(times)[:, None, None, None]
    return light * np.array(one) + (1 - light) * np.array(other)


GREY, CYAN = [0.09, 0.09, 0.09], [0.0, 0.09, 0.09]


@pytest.mark.parametrize(
    "one,other,counted",
    [
        ([0.160, 0.020, 0.020], CYAN, 6),  # R / (R + G + B) = 0.80
        ([0.158, 0.021, 0.021], CYAN, 0),  # 0.79: not saturated
        # From grey (u' 0.1978, v' 0.4683) it is 0.198 in the diagram to a red of 0.90, and 0.208 to one of 0.92.
        ([0.180, 0.010, 0.010], GREY, 0),
        ([0.184, 0.008, 0.008], GREY, 6),
        ([0.0, 0.0, 0.5], GREY, 0),  # a blue
    ],
)
def test_a_saturated_red_counts_without_much_light(one: list[float], other: list[float], counted: int) -> None:
    # WCAG 2.2, note on saturated red: R / (R + G + B) of 0.8 and a change of more than 0.2 in the CIE 1976 diagram. The
    # light itself changes by less than a tenth.
    found = flashes_in_a_second(coloured(one, other), RATE)
    assert (found.red, found.general) == (counted, 0)


def test_cells_keep_the_mean_and_cut_what_is_brighter_than_white() -> None:
    frame = np.zeros((50, 70, 3))
    frame[:, :35] = 40.0
    small = cells_of(frame)
    assert small.shape == (CELLS[1], CELLS[0], 3)
    assert small.mean() == pytest.approx(0.5, abs=1e-12)
    assert small.max() == 1.0


@pytest.mark.parametrize("size", [(48, 36), (640, 360), (101, 77), (10, 7)])
def test_each_cell_is_the_mean_of_its_pixels(size: tuple[int, int]) -> None:
    """Also where cells are not of one size; of fewer pixels than cells each is one."""
    frame = np.random.default_rng(5).random((size[1], size[0], 3), np.float32)
    small = cells_of(frame)
    down, across = (
        np.linspace(0, n, min(n, cells) + 1).round().astype(int)
        for n, cells in zip(frame.shape[:2], (18, 24), strict=True)
    )
    for row, column in ((0, 0), (len(down) // 2, len(across) // 2), (len(down) - 2, len(across) - 2)):
        part = frame[down[row] : down[row + 1], across[column] : across[column + 1]].astype(float)
        assert small[row, column] == pytest.approx(part.mean(axis=(0, 1)), abs=1e-6)


def test_what_is_no_clip_is_refused() -> None:
    with pytest.raises(ValueError, match=r"\(3, 4\) are neither"):
        flashes_in_a_second(np.zeros((3, 4)), 24)
    with pytest.raises(ValueError, match="rate of 0"):
        flashes_in_a_second(np.zeros(3), 0)


def test_the_worst_is_the_larger_count() -> None:
    assert Flashes(2, 4, 0.5).worst == 4
    assert Flashes(2, 4, 0.5).too_many
    assert not Flashes(3, 3, 1.0).too_many


def passing(rng: np.random.Generator, frames: int = 84) -> np.ndarray:
    """A body of patches of its own light that moves to the right before even grey, in cells; (n, 18, 24, 3)."""
    fine = 8  # columns to a cell
    body = np.repeat(rng.uniform(0.05, 0.6, (8, 12)), 2 * fine, axis=1)
    picture = np.full((frames, CELLS[1], CELLS[0] * fine + 2 * body.shape[1]), 0.3)
    for frame in range(frames):
        left = round(frame / frames * (CELLS[0] * fine + body.shape[1]))
        picture[frame, 5:13, left : left + body.shape[1]] = body
    seen = picture[:, :, body.shape[1] : -body.shape[1]]
    cells = seen.reshape(frames, CELLS[1], CELLS[0], fine).mean(axis=3)
    return np.repeat(cells[..., None], 3, axis=3)


def test_what_moves_smoothly_does_not_flash_for_a_thousandth_more_or_less_light() -> None:
    for seed in range(6):
        rng = np.random.default_rng([seed, 13])
        body = passing(rng)
        told = {
            flashes_in_a_second(body * (1 + 0.001 * rng.standard_normal(body.shape)), RATE).general for _ in range(4)
        }
        assert max(told) - min(told) <= 0.5, (seed, told)


@pytest.mark.parametrize("times", [2, 3, 4, 6])
def test_stripes_that_pass_flash_as_often_as_each_place_is_lit(times: int) -> None:
    """Half of each field is lit at any moment; each cell is lit so many times a second, in its own time."""
    place, frame = np.arange(CELLS[0]), np.arange(3 * RATE)
    lit = (frame[:, None] / RATE * times - place[None] / 8) % 1 < 0.5
    pictures = np.broadcast_to(lit[:, None, :, None], (len(frame), CELLS[1], CELLS[0], 3)).astype(float)
    assert flashes_in_a_second(pictures, RATE).general == times


def test_what_flashes_beside_something_that_moves_is_still_counted() -> None:
    """A whole picture that flashes, with a body that passes through it."""
    body = passing(np.random.default_rng(5))
    light = np.tile([1.0, 1.0, 1.0, 0.5, 0.5, 0.5], len(body) // 6)  # four times in each second
    assert flashes_in_a_second(body * light[:, None, None, None], RATE).general == 4


def blinking(frames: int) -> np.ndarray:
    """Light on every third frame and the one before it: four flashes in twelve frames; (n,)."""
    return np.asarray(np.arange(frames) % 3 > 0, dtype=float)


def test_places_that_flash_one_after_the_other_are_not_added_up() -> None:
    """WCAG 2.2: the combined area of flashes that occur concurrently. Each row is a sixth of a field; 12 cells of its
    48 are a quarter. At 24 frames a second two rows that flash in one second make a third: at once, or by turns."""
    for later, told in ((0, True), (1, True), (13, False)):
        pictures = np.full((3 * RATE, CELLS[1], CELLS[0], 3), 0.0)
        for row, start in ((8, 0), (10, later)):
            pictures[start : start + 12, row] = blinking(12)[:, None, None]
        found = flashes_in_a_second(pictures, RATE)
        assert found.too_many is told, (later, found)


def test_what_flashes_says_when_and_whether_at_once() -> None:
    at_once = flashes_in_a_second(np.concatenate([np.zeros(2 * RATE), flashing(5)]), RATE)
    assert at_once.too_many and not at_once.passing
    assert 3 <= at_once.when[0] < at_once.when[1] <= 4.01
    place, frame = np.arange(CELLS[0]), np.arange(2 * RATE)
    lit = ((frame[:, None] / RATE * 4 - place[None] / 8) % 1 < 0.5) & (frame[:, None] >= RATE)
    pictures = np.broadcast_to(lit[:, None, :, None], (len(frame), CELLS[1], CELLS[0], 3)).astype(float)
    passing = flashes_in_a_second(pictures, RATE)
    assert passing.too_many and passing.passing
    assert 1 <= passing.when[0] < passing.when[1] <= 2
