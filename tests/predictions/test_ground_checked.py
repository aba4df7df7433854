"""What is said of kerbs, pavements, puddles, tracks and loose ground; and the cautions that come with them."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from previz.layout.markings import SHOULDER
from previz.predictions import making_cautions
from tests.predictions.broken_scenes import broken, changed, looked, predicted, read


def found(folder: Path, **keys: Any) -> dict[str, Any]:
    """Findings of the ground that are not fine, by id; `keys` are written with their dots as double underscores."""
    data = broken(*((key.replace("__", "."), value) for key, value in keys.items()))
    return {each.id: each for each in looked(data, folder).findings
            if each.id.startswith(("ground.", "sizes.kerb", "sizes.pave")) and each.verdict != "fine"}  # fmt: skip


def test_a_street_in_order_has_nothing_said_of_it(tmp_path: Path) -> None:
    assert not found(tmp_path, set__road__pavement="right", set__road__kerb="both")  # at the left stands the hut


def test_wheels_that_run_over_a_kerb_stop_it_and_those_that_nearly_do_are_told(tmp_path: Path) -> None:
    over = found(tmp_path, set__road__kerb="both", vehicle__offset="-45 mm")["ground.kerb.vehicle"]
    assert over.verdict == "stop" and over.value < 0
    assert "kerb at the road's right" in over.message
    # The room of one that keeps to its lane, by hand: see tests/layout/test_roadside.py.
    near = found(tmp_path, set__road__kerb="right", vehicle__offset=f"{-1000 * (0.045 + over.value) + 1:.3f} mm")
    assert near["ground.kerb.vehicle"].verdict == "watch"
    assert 0 < near["ground.kerb.vehicle"].value < 0.1 / 24


def test_a_piece_half_on_a_pavement_is_told_and_one_on_it_is_not(tmp_path: Path) -> None:
    edge = 400 + (7.0 / 2 + 0.4 + 2.0) / 24 * 1000
    post = {"id": "post", "piece": "lamp_post", "at": [900, edge - 40]}
    block = {"id": "block", "piece": "container", "at": [900, edge + 40]}
    assert not found(tmp_path, set__road__pavement="left", dressing=[post])
    half = found(tmp_path, set__road__pavement="left", dressing=[block])["ground.in_kerb.block"]
    # A container 2.438 m wide reaches as far in as half of that is more than 40 mm.
    assert half.value == pytest.approx(2.438 / 2 / 24 - 0.040, abs=0.001)


@pytest.mark.parametrize(("side", "onto_the_road"), [("right", True), ("left", False)])
def test_what_is_parked_at_a_kerb_goes_back_to_the_road_and_never_into_the_way(
    side: str, onto_the_road: bool, tmp_path: Path
) -> None:
    """The lorry keeps to a side; a van, 2 m wide, stands 2 mm in the pavement at the left, behind the shoulder."""
    stands = 400 + (7.0 / 2 + SHOULDER - 2.0 / 2) / 24 * 1000 + 2
    van = {"id": "van", "piece": "parked", "body": "van", "at": [700, stands]}
    data = broken(("set.road.pavement", "left"), ("vehicle.keep", side), ("dressing", [van]))
    finding = next(each for each in predicted(data, tmp_path).findings if each.id == "ground.in_kerb.van")
    places = [change.value for change in finding.changes if change.key == "dressing[0].at"]
    by = [float(str(place[1]).removesuffix(" mm")) - stands for place in places]
    assert finding.value == pytest.approx(0.002, abs=1e-5)
    assert by == pytest.approx([-3.0], abs=0.02) if onto_the_road else all(each > 0 for each in by), finding
    then = {each.id: each for each in looked(changed(data, finding.changes), tmp_path).findings}
    assert not finding.changes or then["set.path"].verdict == "fine"


def test_puddles_without_room_and_tracks_on_hard_ground_are_told(tmp_path: Path) -> None:
    many = {"count": 200, "size": ["300 mm", "400 mm"]}
    few = found(tmp_path, set__ground={"surface": "mud", "puddles": many})["ground.puddles"]
    assert few.value < few.limit == 200
    assert "ground.tracks" in found(tmp_path, set__ground={"surface": "mud", "tracks": True})  # it drives on asphalt
    road = {"lane": "3.5 m full size", "centre": [[-200, 400], [3200, 400]], "surface": "sand"}
    assert "ground.tracks" not in found(tmp_path, set__ground={"surface": "mud", "tracks": True}, set__road=road)


@pytest.mark.parametrize(("height", "told"), [("125 mm full size", False), ("125 mm", True)])
def test_a_kerb_of_the_real_thing_on_the_table_is_told(tmp_path: Path, height: str, told: bool) -> None:
    assert ("sizes.kerb" in found(tmp_path, set__road__kerb={"height": height})) == told


def test_dust_and_varnish_are_cautioned_where_they_are_used(tmp_path: Path) -> None:
    def ids(ground: dict[str, Any]) -> set[str]:
        scene = read(broken(("set.ground", ground)), tmp_path)
        return {each.id for each in making_cautions(scene)}

    assert not ids({"surface": "concrete", "puddles": {"count": 0}}) & {"ground.dust", "ground.varnish"}
    assert ids({"surface": "gravel"}) & {"ground.dust", "ground.varnish"} == {"ground.dust"}
    assert {"ground.dust", "ground.varnish"} <= ids({"surface": "mud"})
    told = [each for each in making_cautions(read(broken(("set.ground", {"surface": "mud"})), tmp_path))
            if each.id.startswith("ground")]  # fmt: skip
    assert all("label" in each.precaution and each.source for each in told)
    assert np.all([len(each.precaution) < 300 for each in told])


def test_what_is_under_the_wheels_goes_by_where_they_roll(tmp_path: Path) -> None:
    """A way of points on the road is the road; with a wheel over its edge it is the softer of both."""
    ramp = {"height": 150, "length": 600, "foot_radius": 600}
    across = 400  # the road's middle: see GOOD
    named: dict[float, str] = {}
    for aside in (0.0, 7.0 / 24 / 2 * 1000, 400.0):
        keys: dict[str, Any] = {"set__ground": {"surface": "grass"}, "vehicle__speed": None}
        way = [[300, across + aside], [2700, across + aside]]
        told = found(tmp_path, vehicle__path=way, vehicle__launch={"ramp": ramp}, **keys)
        named[aside] = told["ground.rolling.vehicle"].message if "ground.rolling.vehicle" in told else ""
    assert not named[0.0]
    assert all("launched over grass" in said for aside, said in named.items() if aside)
