"""What people call things otherwise is answered with the word that a scene file has for it."""

import re
from typing import Any

import pytest
from pydantic import TypeAdapter, ValidationError

from previz.errors import PrevizError
from previz.scene import key_groups, key_places, places_named
from previz.scene.called import CALLED, NEAREST, OF_THE_SET, TAKEN, called, plainly, taken_for
from previz.scene.fields import ON_OR_OFF, YES_OR_NO, Flag, Paint, QuantityError, Surface, choose_from
from previz.scene.kit import BareUnit
from previz.scene.lights import LAMPS, HeldBy, light_kind
from previz.scene.pieces import (
    PIECES,
    Dressing,
    FenceStyle,
    HedgeStyle,
    HouseWalls,
    Roof,
    Scattered,
    ScatteredStyle,
    SignShape,
    TreeStyle,
    WallStyle,
    dressing_kind,
)
from previz.scene.real_sizes import FENCE_HEIGHTS, VEHICLE_SIZES
from previz.scene.references import _unknown
from previz.scene.shots import Shot
from previz.scene.stage_set import Backdrop, Edge, LayerShape, Markings, Road, Set, Sky
from previz.scene.vehicle import VEHICLE, Body, Drive, Side
from previz.scene.wants import SharpWhen

#: What reads the word, by what it asks for.
WORDS: dict[str, Any] = {
    "a body": Body,
    "a unit for bare lengths": BareUnit,
    "what drives it": Drive,
    "a side": Side,
    "a roof": Roof,
    "something to scatter": Scattered,
    "a style of tree": TreeStyle,
    "a style of hedge": HedgeStyle,
    "a style": ScatteredStyle,
    "a style of fence": FenceStyle,
    "a style of wall": WallStyle,
    "a wall of a house": HouseWalls,
    "a sign's shape": SignShape,
    "a surface": Surface,
    "a road's edge": Edge,
    "a colour": Paint,
    "a time to be sharp": SharpWhen,
    "a kind of marking": Markings,
    "a sky": Sky,
    "a layer's shape": LayerShape,
    "what a lamp or card is held by": HeldBy,
}


def said(kind: Any, found: object) -> str:
    """The one message that refuses it."""
    (wrong,) = errors_of(kind, found)
    return str(wrong["ctx"]["error"])


def errors_of(kind: Any, found: object) -> list[Any]:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(kind).validate_python(found)
    return list(caught.value.errors())


def refused(kind_of: Any, found: object) -> str:
    with pytest.raises(QuantityError) as caught:
        kind_of(found)
    return str(caught.value)


def test_a_word_that_is_taken_is_one_that_there_is_and_no_other_is_its_name() -> None:
    keys = {key.name for place, _ in key_places() for group in key_groups(place) for key in group.keys}
    for what, words in TAKEN.items():
        names = [name for each in words.values() for name in each]
        assert len(names) == len({*names}) and not {*names} & {*words}
        if what == "a key":
            assert {*words} <= keys and not {*names} & keys
            continue
        assert not {*names} & {name for each in CALLED.get(what, {}).values() for name in each}
        if what == "a kind of piece":
            assert {*words} <= {*PIECES}
        elif what not in (YES_OR_NO, ON_OR_OFF):
            assert all(TypeAdapter(WORDS[what]).validate_python(word) == word for word in words)


def names_of(what: str) -> dict[str, tuple[str, ...]]:
    """Every other name with the words that it stands for."""
    return {name: called(name, what) for names in CALLED[what].values() for name in names}


def test_every_list_of_names_has_its_reader_here() -> None:
    assert {*CALLED} | {"a side"} == {*WORDS, "a kind of piece", "a kind of lamp", "a key", "something on this set"}


@pytest.mark.parametrize("what", [what for what in WORDS if what in CALLED])
def test_another_name_is_answered_with_words_that_there_are(what: str) -> None:
    read = TypeAdapter(WORDS[what])
    for name, words in names_of(what).items():
        assert words and all(read.validate_python(word) == word or what == "a colour" for word in words)
        assert f"; did you mean {' or '.join(words)}? " in said(WORDS[what], name).replace(", ", " or ", len(words) - 2)


def test_pieces_lamps_and_keys_are_answered_with_those_that_there_are() -> None:
    for name, words in names_of("a kind of piece").items():
        assert {*words} <= {*PIECES} and name not in PIECES and name not in OF_THE_SET
        assert all(word in refused(dressing_kind, {"piece": name}).partition("?")[0] for word in words)
    for name, words in names_of("a kind of lamp").items():
        assert {*words} <= {*LAMPS} and name not in LAMPS
        assert all(f" {word}: " in refused(light_kind, {name: True}).partition(f"for {name}, ")[2] for word in words)
    keys = {key.name for place, _ in key_places() for group in key_groups(place) for key in group.keys}
    assert {*CALLED["a key"]} <= keys


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("terraced house", "building"), ("cottage", "building"), ("brick wall", "wall"), ("Privet-Hedge", "hedge"),
        ("old street lamp", "lamp_post"),
        ("apple tree", "broadleaf or conifer"), ("farmhouse", "building"), ("tree line", "broadleaf or conifer"),
    ],
)  # fmt: skip
def test_a_name_of_several_words_is_known_by_one_of_them(name: str, meant: str) -> None:
    assert f"{name} is not a kind of piece; did you mean {meant}? " in refused(dressing_kind, {"piece": name})
    assert called("spaceship", "a kind of piece") == called("car length", "a key") == ()


def test_a_bridge_is_built_of_walls_with_lines_to_copy() -> None:
    """They are read as they stand, and the deck lies on both its piers."""
    from previz.scene.yaml_tree import plain_list

    for name in ("bridge", "Foot-bridge", "old stone bridge"):
        told = refused(dressing_kind, {"piece": name})
        assert f"{name} is not a kind of piece; it is built of walls" in told
    lines = plain_list(told[told.index("{") :])
    assert lines is not None
    front, back, deck = (TypeAdapter(Dressing).validate_python(line) for line in lines)
    assert deck.at[2] == front.height == back.height and {front.at[0], back.at[0]} == {deck.at[0]}
    ends = [pier.at[1] + side * pier.thickness / 2 for pier, side in ((front, -1), (back, 1))]
    assert deck.at[1] - deck.length / 2 < ends[0] and ends[1] < deck.at[1] + deck.length / 2


def test_a_lamp_with_its_lumens_is_told_how_to_be_written() -> None:
    for found in ({"id": "a", "lamp": "470 lm"}, {"id": "a", "output": "470 lm"}, {"id": "a", "lumens": "470 lm"}):
        assert "bulb: 60 mm, how wide its glass is, with output: 470 lm, as its box says" in refused(light_kind, found)


@pytest.mark.parametrize(
    ("found", "meant"),
    [
        ({"edges": "ragged"}, "did you mean edge: ragged"),
        ({"edges": "sharp"}, "did you mean edge: ruled"),
        ({"edge": True}, "did you mean edges: true"),
        ({"edge": False}, "did you mean edges: false"),
        ({"edge": "white"}, "did you mean edges: true"),
    ],
)
def test_the_edge_of_a_road_and_the_lines_along_it_answer_with_each_other(found: dict[str, Any], meant: str) -> None:
    written = {"centre": [["0 mm", "1 mm"], ["9 mm", "1 mm"]], "lane": "70 mm"}
    assert Road.model_validate(written | {"edge": "ruled", "edges": False}).edge == "ruled"
    assert meant in said(Road, written | found)


def test_a_key_by_another_name_is_answered_with_one_that_the_group_has() -> None:
    wrong = errors_of(Road, {"points": [], "width": "7 mm"})
    slips = {str(each["loc"][0]): str(each["ctx"]["error"]) for each in wrong}
    assert [*slips] == ["points", "width"]  # and nothing is missing
    assert slips["points"].startswith("is not a key here; did you mean centre?")
    assert slips["width"].startswith("is not a key here; did you mean lane?")
    assert "did you mean" not in str(errors_of(Road, {"aperture": 4, "centre": [], "lane": "7 mm"})[0]["ctx"]["error"])


def test_a_slip_of_a_key_that_is_there_already_is_answered_with_it_too() -> None:
    """So is one of the focal length of a prime, which is put in where nobody wrote it."""
    twice = {"centre": [["0 mm", "1 mm"], ["9 mm", "1 mm"]], "lane": "70 mm", "surface": "gravel", "surfce": "mud"}
    (slip,) = errors_of(Road, twice)
    assert str(slip["ctx"]["error"]).startswith("is not a key here; did you mean surface? The keys here are ")


@pytest.mark.parametrize(
    ("part", "key", "holder"), [(Shot, "iso", "capture"), (Backdrop, "sky", "painting"), (Set, "lane", "road")]
)
def test_a_key_that_stands_one_group_too_high_is_told_where_it_belongs(part: Any, key: str, holder: str) -> None:
    said_of = {each["loc"]: str(each["ctx"]["error"]) for each in errors_of(part, {key: 1})}
    assert said_of[(key,)] == f"is not a key here; it belongs in {holder}, like {holder}: {{{key}: …}}"


def test_what_is_followed_is_the_vehicle_whatever_it_is_called() -> None:
    assert CALLED["something on this set"].keys() == {VEHICLE}
    assert {*map(plainly, VEHICLE_SIZES)} <= {*CALLED["something on this set"][VEHICLE]}
    assert "did you mean vehicle?" in _unknown("car", ["vehicle", "cart"], "something on this set")


def test_what_nobody_calls_so_is_only_told_what_there_is() -> None:
    assert choose_from("spaceship", ["lorry"], "a body") == "spaceship is not a body; choose lorry"
    assert all(re.search(r"; any other is a model of your own, mesh: ", said(Body, each)) for each in ("ship", "truck"))
    assert "; any other is a model" in said(Body, "jeep")
    assert "did you mean" not in said(Flag, "maybe")


def test_what_is_wet_is_told_how_the_ground_is_made_wet() -> None:
    assert "surface: cobbles, and wet: true of the ground" in said(Surface, "wet cobbles")
    assert "surface: asphalt, and wet: true" in said(Surface, "Wet tarmac")
    for key, found in (("weather", "rain"), ("rain", True)):
        told = {each["loc"]: str(each["ctx"]["error"]) for each in errors_of(Set, {key: found})}
        assert "ground: {wet: true}" in told[(key,)] and "puddles: {count: 8}" in told[(key,)]
    assert [place for place, _ in places_named("rain")] == ["set.ground"]


def test_words_of_two_words_are_read_however_they_are_joined() -> None:
    """Of bodies, pieces and styles; what is written with a joint has each other joint for another spelling."""
    for what, words in (("a body", VEHICLE_SIZES), ("a kind of piece", PIECES), ("a style of fence", FENCE_HEIGHTS)):
        for word in words:
            joints = {re.sub("[ _-]", joint, word) for joint in " _-"} - {word}
            assert {taken_for(each, what) for each in joints} <= {word}
    assert taken_for("Articulated Lorry", "a body") == "articulated_lorry"
    assert taken_for("truck", "a body") is None


def test_what_nothing_is_called_by_is_told_with_what_comes_nearest() -> None:
    for what, groups in NEAREST.items():
        for names, words, _ in groups:
            read = TypeAdapter(WORDS[what]) if what in WORDS else None
            assert all(read.validate_python(word) == word if read else word in PIECES for word in words)
            for name in names:
                assert called(name, what) == ()
                told = choose_from(name, [*words], what)
                assert f"none is quite that: {' or '.join(words)} comes nearest, " in told
                assert "did you mean" not in told
    assert "pickup or saloon comes nearest" in said(Body, "Jeep") and "lorry comes" not in said(Body, "Jeep")


def test_a_piece_by_another_name_is_read_on_as_what_is_meant() -> None:
    wrong = errors_of(Dressing, {"id": "a", "piece": "barn", "at": ["1 mm", "2 mm"], "roof": "pitched", "loors": 1})
    told = {each["loc"]: str(each["ctx"]["error"]).partition(";")[0] for each in wrong}
    assert told == {
        ("piece",): "barn is not a kind of piece",
        ("roof",): "pitched is not a roof",
        ("loors",): "is not a key here",
    }
    # What may be one of two is not read on as either.
    assert len(errors_of(Dressing, {"id": "a", "piece": "tree", "at": ["1 mm", "2 mm"], "roof": "pitched"})) == 1


def test_sunlight_is_told_which_lamp_it_takes() -> None:
    told = refused(light_kind, {"id": "sun", "sun": "late afternoon", "at": [-40, 10, 30]})
    assert "spot: 34 deg" in told and "1000 lm" in told and "previz guide lamps" in told


def test_daylight_through_a_window_is_told_how_to_be_written() -> None:
    told = refused(light_kind, {"id": "day", "window": ["1 m", "1.2 m"], "output": "806 lm"})
    assert "panel: [1000 mm, 1200 mm], its glass" in told and "1000 lx at 1 m" in told and "806" not in told


@pytest.mark.parametrize(
    ("asked", "meant"),
    [
        ("dressing.barn", "dressing.building"),
        ("dressing.trees", "dressing.broadleaf or dressing.conifer"),
        ("dressing.kerb", "set.road.kerb"),
        ("lights.softbox", "lights.panel"),
        ("dressing.bulding", "dressing.building"),  # a slip of the pen, as before
    ],
)
def test_places_are_answered_by_what_people_call_what_stands_there(asked: str, meant: str) -> None:
    with pytest.raises(PrevizError, match=rf"did you mean {re.escape(meant)}\?"):
        key_groups(asked)


@pytest.mark.parametrize(
    ("found", "tells"),
    [
        ({"piece": "foam board", "width": "70 cm", "height": "50 cm"}, ("did you mean bounce?",)),
        ({"piece": "tractor"}, ("did you mean parked, with body: tractor?",)),
        ({"piece": "pickup truck"}, ("did you mean parked, with body: pickup?",)),
        ({"piece": "fence", "from": [40, 31], "to": [56, 43]}, ("at: [48, 37], length: 20, turn: 36.9 deg",)),
        ({"piece": "wall", "from": ["1 m", "2 m"], "to": ["2 m", "2 m"]}, ("like at: [480 mm, 310 mm], length:",)),
        ({"piece": "building", "at": ["1 m", "2 m"], "lit": "on"}, ("how many of its windows", "like 30 %")),
    ],
)
def test_a_piece_as_a_newcomer_writes_it_is_told_once_what_to_write(
    found: dict[str, Any], tells: tuple[str, ...]
) -> None:
    told = [str(each["ctx"]["error"]) for each in errors_of(Dressing, {"id": "a", "at": ["1 m", "2 m"]} | found)]
    about = [each for each in told if all(words in each for words in tells)]
    assert len(about) == 1 and not any("is missing" in each for each in told)


def test_a_piece_among_the_lights_is_told_where_it_belongs() -> None:
    assert "bounce is no lamp" in refused(light_kind, {"id": "a", "piece": "bounce", "width": "1 m"})
    assert "under dressing" in refused(light_kind, {"id": "a", "piece": "lamp_post"})
