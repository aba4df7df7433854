"""The edge of a lamp's beam where it cuts but a corner of what the picture shows of the backdrop."""

from pathlib import Path

import pytest
from broken_scenes import broken, changed, found, looked, predicted

from previz.predictions import Verdict

# The picture shows the backdrop, 890 mm behind the front edge, from about 806 to 2194 mm across and up to 490 mm high.
# Seen from this lamp its upper left corner lies 24.0 degrees off the axis, its lower left one, at 90 mm, 21.7, its
# upper right one 18.9: arc cosines of the ways there, (-694, 1990, -10), (-694, 1990, -410) and (694, 1990, -10) mm,
# with the axis, (100, 1990, -350) mm.
LAMP = {
    "id": "hard",
    "at": [1500, -1100, 500],
    "aim": [1600, 890, 150],
    "output": "8 klm",
    "mains": False,
}


def lit(beam: str, **keys: object) -> dict:
    return broken(("lights[0]", {**LAMP, "spot": beam, **keys}), ("lights[1].ambient", "300 lx"))


def test_an_edge_that_cuts_only_a_corner_is_found_and_its_remedy_covers_it(tmp_path: Path) -> None:
    broken_one = lit("45 deg")
    predictions = predicted(broken_one, tmp_path)
    cut = found(predictions, "lamps.edge")
    assert cut.verdict is Verdict.WATCH
    assert cut.message.startswith("The edge of the beam of hard cuts the upper left of the backdrop")
    # On its axis 8000 lm / (2 pi (1 - cos 22.5 deg)) at least, 2.1 m off; past it half of the room's 300 lx, and what
    # the set throws back.
    assert 2.0 < cut.value < 4.5
    assert {change.key for change in cut.changes} <= {"lights[0].aim", "lights[0].at"}
    assert cut.changes
    (rest,) = (each for each in predictions.findings if each.id == "lamps.backdrop")
    assert rest.message.startswith("But for that edge")
    mended = looked(changed(broken_one, cut.changes), tmp_path)
    assert "lamps.edge" not in {each.id for each in mended.findings}


@pytest.mark.parametrize(
    "beam, keys",
    [
        ("60 deg", {}),  # an edge that no corner of the picture reaches
        ("45 deg", {"output": "80 lm"}),  # one of a lamp so weak that hardly any light ends there
    ],
)
def test_no_edge_is_told_where_none_is_seen(beam: str, keys: dict, tmp_path: Path) -> None:
    predictions = looked(lit(beam, **keys), tmp_path)
    assert "lamps.edge" not in {each.id for each in predictions.findings}
    assert found(predictions, "lamps.backdrop").message.startswith("The backdrop is lit within")


@pytest.mark.parametrize("sky, seen", [("clear", True), ("dusk", False)])
def test_a_softer_edge_is_seen_on_a_sky_by_day(sky: str, seen: bool, tmp_path: Path) -> None:
    """All of it fades over more than a fourteenth of the picture's width, the darker half over less."""
    backdrop = {**broken()["set"]["backdrop"], "painting": {"sky": sky}}
    del backdrop["colour"]
    lamp = {**LAMP, "spot": "52 deg", "aim": [2100, 890, 250]}
    soft = broken(("lights[0]", lamp), ("lights[1].ambient", "300 lx"), ("set.backdrop", backdrop))
    told = [each for each in looked(soft, tmp_path).findings if each.id == "lamps.edge"]
    assert bool(told) == seen
    assert all("left of the backdrop" in each.message and each.value > 1 for each in told)


def test_a_fixed_lamp_is_not_aimed_otherwise(tmp_path: Path) -> None:
    cut = found(predicted(lit("45 deg", fixed=True), tmp_path), "lamps.edge")
    assert cut.verdict is Verdict.WATCH
    assert not any("hard" in str(change) or change.key.startswith("lights[0]") for change in cut.changes)
