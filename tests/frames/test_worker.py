"""What a process that draws keeps from one piece of work to the next: one upload for all frames of a film."""

from dataclasses import dataclass, field

import pytest

from previz.frames import studio
from previz.frames.worker import Bench, Filed, written


@dataclass(frozen=True)
class Of:
    """A setup that names its film, and knows of no meshes."""

    film: str
    measured: dict = field(default_factory=dict)


class Pretended:
    """A studio that writes down what becomes of it, and draws the number it is asked for."""

    happened: list[str]

    def __init__(self, setup: Of) -> None:
        self.setup = setup.film
        self.happened.append(f"{self.setup} uploaded")

    def light(self, lighting: str, spent: object) -> None:
        self.happened.append(f"{self.setup} lit by {lighting}, {'timed' if spent else 'untimed'}")

    def frame(self, number: int) -> int:
        return number

    def close(self) -> None:
        self.happened.append(f"{self.setup} closed")


@pytest.fixture
def happened(monkeypatch) -> list[str]:
    Pretended.happened = []
    monkeypatch.setattr(studio, "Studio", Pretended)
    return Pretended.happened


def draws(bench: Bench, folder, film: str, *numbers: int, timed: bool = False) -> list[int]:
    setup, lighting = (Filed(str(folder / f"{film}.{kind}")) for kind in ("setup", "lighting"))
    written(setup.name, Of(film))
    written(lighting.name, f"light of {film}")
    return [bench.draw(setup, lighting, timed, number)[0] for number in numbers]


def test_a_film_is_uploaded_and_lit_once(tmp_path, happened):
    bench = Bench()
    written(str(tmp_path / "one.setup"), Of("one"))
    bench.studio(Filed(str(tmp_path / "one.setup")))  # ahead of its light
    assert happened == ["one uploaded"]
    assert draws(bench, tmp_path, "one", 3, 4, 5) == [3, 4, 5]
    assert happened == ["one uploaded", "one lit by light of one, untimed"]


def test_another_film_takes_the_place_of_the_one_before(tmp_path, happened):
    bench = Bench()
    draws(bench, tmp_path, "one", 0)
    draws(bench, tmp_path, "two", 0, 1, timed=True)
    # Closed first: two stages may be more than the graphics side holds.
    assert happened[2:] == ["one closed", "two uploaded", "two lit by light of two, timed"]


def test_two_benches_know_nothing_of_each_other(tmp_path, happened):
    for bench in (Bench(), Bench()):
        draws(bench, tmp_path, "one", 0)
    assert happened.count("one uploaded") == 2 and "one closed" not in happened
