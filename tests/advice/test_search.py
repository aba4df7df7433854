"""The search finds nothing worse than trying everything does; on 200 problems in `tests/benchmarks/advice.py`."""

from dataclasses import replace
from pathlib import Path

import pytest
from exhaustive import best_on_a_grid, worse
from random_problems import problem

from previz.advice.demands import Demand, miss
from previz.advice.problem import problem_of
from previz.advice.search import key_of, search
from previz.scene import Fills, IsoWanted, Range


@pytest.mark.parametrize("number", range(3))
def test_it_is_never_worse_than_a_grid_of_everything(number: int, tmp_path: Path) -> None:
    scene = problem(number, tmp_path)
    found = problem_of(scene, scene.shots[0])
    best, tried = search(found)[0], best_on_a_grid(found)
    assert not worse(best, tried, found), (best, tried)


FILLS = Fills(fills="40 to 50 %")  # type: ignore[arg-type]
ISO = IsoWanted(iso="at most 800")  # type: ignore[arg-type]


def demand(want: object, name: str, *, must: bool = False) -> Demand:
    wanted = want.model_copy(update={"must": must})  # type: ignore[attr-defined]
    return Demand(wanted, "wants[0]", name, "iso_needed", Range(most=1.0))


def test_a_want_that_is_met_counts_for_more_than_all_below_it() -> None:
    three = [demand(FILLS, "width"), demand(ISO, "iso"), demand(ISO, "edges")]
    assert key_of(0, (0.0, 9.0, 9.0), three, 0, 9) < key_of(0, (0.1, 0.0, 0.0), three, 0, 0)


def test_a_want_that_is_missed_as_written_is_given_up_no_further_for_one_below_it() -> None:
    two = [replace(demand(FILLS, "width"), was=1.0), demand(ISO, "iso")]
    assert key_of(0, (1.0, 9.0), two, 0, 9) < key_of(0, (1.6, 0.0), two, 0, 0)
    assert key_of(0, (1.4, 0.0), two, 0, 9) < key_of(0, (1.0, 0.1), two, 0, 0)  # not to speak of
    stopped = [demand(FILLS, "width"), demand(ISO, "iso")]
    assert key_of(0, (1.6, 0.0), stopped, 0, 0) < key_of(0, (1.0, 9.0), stopped, 0, 9)


def test_hard_wants_come_before_soft_ones_whatever_their_order() -> None:
    two = [demand(FILLS, "width"), demand(ISO, "iso", must=True)]
    assert key_of(0, (9.0, 0.0), two, 0, 0) < key_of(0, (0.0, 0.1), two, 0, 0)


def test_what_check_stops_comes_before_all_wants() -> None:
    one = [demand(FILLS, "width", must=True)]
    assert key_of(0, (9.0,), one, 0, 0) < key_of(0.5, (0.0,), one, 0, 0)


def test_noise_is_taken_to_meet_a_want_and_not_to_come_half_a_stop_nearer() -> None:
    one = [demand(FILLS, "width")]
    assert key_of(0, (0.0,), one, 2.0, 0) < key_of(0, (0.3,), one, 0.0, 0)
    assert key_of(0, (1.5,), one, 0.0, 0) < key_of(0, (1.0,), one, 1.0, 0)


def test_of_ways_that_do_alike_the_one_nearest_to_the_shot_as_written_is_best() -> None:
    one = [demand(FILLS, "width")]
    assert key_of(0, (0.3,), one, 0, 0.1) < key_of(0, (0.3,), one, 0, 0.2)


@pytest.mark.parametrize(
    ("value", "range_", "stops"),
    # Doublings, by hand.
    [(1600.0, Range(most=800.0), 1.0), (0.1, Range(least=0.4), 2.0), (0.3, Range(0.2, 0.4), 0.0)],
)
def test_misses_are_doublings(value: float, range_: Range, stops: float) -> None:
    assert float(miss(value, range_)) == pytest.approx(stops)


def test_every_camera_is_followed_to_its_end(tmp_path: Path) -> None:
    """What is found of a camera is no worse for the others in the kit."""
    scene = problem(0, tmp_path)
    both = problem_of(scene, scene.shots[0])
    names = {option.name for option in both.options}
    assert len(names) == 2
    ways = search(both)
    for name in names:
        alone = replace(both, options=tuple(each for each in both.options if each.name == name))
        mine = min(way.key for way in ways if both.options[way.option].name == name)
        assert mine[:-1] <= search(alone)[0].key[:-1]
