"""What is told of a scene file's keys is what the reader reads: in `previz keys`, in the schema, and in their examples.

Schemas are judged by jsonschema, a validator that we did not write.
"""

import random
import re
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from damaged import GOOD, mutated
from jsonschema import Draft202012Validator
from pydantic import TypeAdapter

from previz import units
from previz.errors import PrevizError, SceneErrors
from previz.scene import (
    PIECES,
    Camera,
    FileUnits,
    Kit,
    MeshPiece,
    Scatter,
    Scene,
    json_schema,
    key_groups,
    key_places,
    read_kit,
    read_scene,
    setups_of,
)
from previz.scene import keys as keys_of
from previz.scene.called import TAKEN
from previz.scene.fields import Part
from previz.scene.values import _reader
from previz.scene.yaml_tree import read_tree, tree_of

ROOT = Path(__file__).parents[2]
MM_AT_1_50 = FileUnits(1e-3, 50.0)


schema_of = cache(json_schema)


@cache
def check() -> Draft202012Validator:
    return Draft202012Validator(schema_of(Scene))


def parts() -> list[type[Part]]:
    """Every group of keys that a file may have, found without the walk that is under test."""
    found, waiting = [], [Part]
    while waiting:
        waiting += (new := waiting.pop().__subclasses__())
        found += new
    return [part for part in found if not part.__name__.startswith("_") and part.__name__ not in ("Standing", "Want")]


def fields_and_keys() -> list[Any]:
    return [
        pytest.param(part, key, id=f"{part.__name__}.{key.name}")
        for part in parts()
        for key in keys_of._keys(part)
    ]  # fmt: skip


def data_of(text: str) -> Any:
    root, slips = tree_of(f"key: {text}")
    assert not slips
    return root.plain()["key"]


def read_key(part: type[Part], name: str, found: Any) -> Any:
    if name == "piece":  # a plain word, without a reader of its own
        return TypeAdapter(part.model_fields[name].annotation).validate_python(found)
    return _reader(part, name).validate_python(found, context=MM_AT_1_50)


# --- keys ---


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.__name__)
def test_a_part_says_what_it_is_and_each_of_its_keys_too(part: type[Part]) -> None:
    assert part.__doc__ and not part.__doc__.startswith("A group of keys")
    hidden = {"folder", "tape_unit", "written"} | ({"subject"} if part is Scene else set())
    told = keys_of._keys(part)
    assert [key.name for key in told] == [name for name in part.model_fields if name not in hidden]
    for key in told:
        assert key.says and key.says != "None" and key.form and key.example, key
        assert key.required == part.model_fields[key.name].is_required()


@pytest.mark.parametrize(("part", "key"), fields_and_keys())
def test_an_example_is_one_that_is_read(part: type[Part], key: Any) -> None:
    if "…" in key.example:  # a shot or a camera in full is longer than a line
        assert (part.__name__, key.name) in {("Scene", "cameras"), ("Kit", "cameras"), ("Scene", "shots")}
        return
    assert read_key(part, key.name, data_of(key.example)) is not None


@pytest.mark.parametrize(("part", "key"), fields_and_keys())
def test_what_holds_unless_a_key_is_given_reads_as_the_models_own_default(part: type[Part], key: Any) -> None:
    field = part.model_fields[key.name]
    if field.is_required():
        assert key.default == "must be given"
    elif field.default is None:
        assert re.search("[a-z]", key.default)  # words
        full_size = re.findall(r"[0-9.]+ m full size", key.default)
        assert bool(full_size) == ("full size" in key.default)  # as a file would have it
    elif field.default == ():
        assert key.default == "none"
    else:
        read = read_key(part, key.name, data_of(key.default))
        default = field.default
        if key.form == "colour":
            half_a_code = [abs(one - other) for one, other in zip(read, default, strict=True)]
            assert max(half_a_code) < 0.5 / 255 * 2.3  # the steepest that sRGB gets: d linear / d code at white
        elif isinstance(default, float):
            assert read == pytest.approx(default)
        else:
            assert read == default or plain(read) == plain(default)


def plain(part: Any) -> Any:
    """A part's keys and values; a default may have been made with text that was read since."""
    return {name: getattr(part, name) for name in type(part).model_fields} if isinstance(part, Part) else part


def test_every_place_is_listed_and_can_be_asked_for() -> None:
    places = dict(key_places())
    assert {"scene", "set.table", "dressing.lamp_post", "lights.spot", "cameras", "shots.capture.shutter"} <= {*places}
    for place, says in places.items():
        assert says
        (*_, group) = key_groups(place)
        assert group.place == place and group.keys
        assert all(further in places or key_groups(further) for further in group.further)


def test_kinds_that_share_keys_tell_them_once() -> None:
    shared, *kinds = key_groups("dressing")
    assert shared.place.startswith("dressing: container, lamp_post, ") and "mesh" in shared.place
    assert "scatter" not in shared.place
    names = {key.name for key in shared.keys}
    assert {"id", "at", "along", "every"} <= names
    for kind in kinds:
        assert kind.place == "dressing.scatter" or not names & {key.name for key in kind.keys}
    (whole,) = key_groups("dressing.cone")
    assert names < {key.name for key in whole.keys}


def test_a_key_alone_may_be_asked_for() -> None:
    (group,) = key_groups("shots.f_number")
    assert [(key.name, key.form) for key in group.keys] == [("f_number", "f-number")]


@pytest.mark.parametrize(
    ("place", "said"),
    [
        ("ligths", "did you mean lights?"),
        ("shots.captur", "did you mean shots.capture?"),
        ("capture", "did you mean shots.capture?"),
        ("lamp_post", "did you mean dressing.lamp_post?"),
        ("lights.spotty", "did you mean lights.spot?"),
        ("shots.zebra", "shots has id, camera, focal_length"),
        ("zebra", "a scene file has title, scale"),
        ("x" * 500, "a scene file has title, scale"),
    ],
)
def test_a_place_that_is_none_is_told_with_what_was_meant(place: str, said: str) -> None:
    with pytest.raises(PrevizError, match="is not a place in a scene file") as caught:
        key_groups(place)
    assert said in str(caught.value)


# --- the schema ---


def test_the_schema_is_one_of_2020_12() -> None:
    assert schema_of(Scene)["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    for schema in (schema_of(Scene), schema_of(Kit)):
        Draft202012Validator.check_schema(schema)


@pytest.mark.parametrize("part", parts(), ids=lambda part: part.__name__)
def test_the_schema_has_the_keys_that_are_told(part: type[Part]) -> None:
    schema = schema_of(Kit if part is Kit else Scene)
    group = schema if part in (Scene, Kit) else schema["$defs"][part.__name__]
    keys = {key.name: key for key in keys_of._keys(part)}
    named = {key: TAKEN["a key"].get(key, ()) for key in keys}
    assert {*group["properties"]} == {*keys}.union(*named.values())
    assert group["additionalProperties"] is False
    # A scene may have a kit instead of cameras, and a lens may say how wide it opens.
    elsewhere = {Scene: {"cameras"}, Camera: {"widest"}}.get(part, set())
    required = {name for name, key in keys.items() if key.required} - elsewhere
    either = [{rule["required"][0] for rule in each["anyOf"]} for each in group.get("allOf", []) if "anyOf" in each]
    assert {*group.get("required", [])} == {key for key in required if not named[key]}
    assert all({key, *named[key]} in either for key in required if named[key])
    for name, key in keys.items():
        told = group["properties"][name]
        assert told["description"].startswith(key.says)
        assert "title" not in told and "default" not in told  # the program's names and SI are none of the maker's
        for example in told.get("examples", []):
            assert Draft202012Validator({**told, "$defs": schema["$defs"]}).is_valid(example), (name, example)


def test_every_definition_is_used_and_none_is_empty() -> None:
    used = set(re.findall(r"#/\$defs/([\w-]+)", str(schema_of(Scene))))
    assert used == schema_of(Scene)["$defs"].keys()
    assert all(schema_of(Scene)["$defs"].values())
    kinds = {kind.__name__ for kind in (*PIECES.values(), Scatter, MeshPiece)}
    assert kinds <= schema_of(Scene)["$defs"].keys()


def plain_of(text: str) -> Any:
    root, slips = tree_of(text)
    assert not slips
    return root.plain()


@pytest.mark.parametrize("path", [GOOD, *sorted((ROOT / "scenes").glob("*.yaml"))], ids=lambda path: path.stem)
def test_a_scene_that_is_read_is_valid(path: Path) -> None:
    read_scene(path)
    assert [error.message for error in check().iter_errors(read_tree(path)[0].plain())] == []


def test_the_readmes_scenes_and_a_kit_are_valid(tmp_path: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    text, traffic, own, more, cards, street, wants = re.findall(r"```yaml\n(.*?)```", readme, re.DOTALL)
    assert list(plain_of(own)) == ["vehicle"] and check().is_valid({**plain_of(text), **plain_of(own)})
    assert check().is_valid(plain_of(text)) and check().is_valid(plain_of(f"{text}\n{traffic}\n{wants}"))
    assert check().is_valid({**plain_of(text), **plain_of(cards)})
    stage = {"set": {**plain_of(text)["set"], **plain_of(street)["set"]}}
    assert list(plain_of(street)) == ["set"] and check().is_valid({**plain_of(text), **stage})
    both = f"{text}\n{more.removeprefix('shots:')}"
    assert len(plain_of(both)["shots"]) == 2 and check().is_valid(plain_of(both))
    (tmp_path / "scene.yaml").write_text(both, encoding="utf-8")
    assert len(setups_of(read_scene(tmp_path / "scene.yaml"))) == 2
    kit = ROOT / "scenes" / "kits" / "tabletop.yaml"
    assert read_kit(kit) and Draft202012Validator(schema_of(Kit)).is_valid(read_tree(kit)[0].plain())


def test_whatever_is_read_is_valid(tmp_path: Path) -> None:
    """Damaged scenes from a seed: an editor marks nothing that the reader takes."""
    path, read, caught = tmp_path / "scene.yaml", 0, 0
    for seed in range(200):
        path.write_text(mutated(random.Random(seed)), encoding="utf-8", newline="")
        try:
            root, slips = read_tree(path)
        except SceneErrors:
            continue
        valid = check().is_valid(root.plain())
        try:
            read_scene(path)
        except SceneErrors:
            caught += not slips and not valid
            continue
        read += 1
        assert valid, path.read_text(encoding="utf-8")
    assert read > 3 and caught > 12  # or nothing was tried


@pytest.mark.parametrize(
    "dimension", [value for value in vars(units).values() if isinstance(value, units.Dimension)], ids=lambda d: d.name
)
def test_all_text_that_is_read_as_a_quantity_matches_its_pattern(dimension: units.Dimension) -> None:
    """Texts from a seed, right and wrong: the pattern lets pass whatever the reader takes."""
    rng = random.Random(13)
    numbers = ["35", "1.5", ".5", "1/120", "1 1/2", "-3", "+2", "1e3", "2e-3", "7.", "1,5"]
    names = [*dimension.factors, "", "mm", "lm", "stop"]
    read = refused = 0
    for _ in range(4000):
        parts = [
            f"{rng.choice(numbers)}{rng.choice(['', ' ', '  '])}{rng.choice(names)}"
            for _ in range(rng.choice([1, 1, 1, 2]))
        ]
        text = (
            rng.choice(["", " "])
            + rng.choice([" ", ""]).join(parts)
            + rng.choice(["", " full size", " full-size", " "])
        )
        for bare in (None, 1.0):
            matches = re.search(units.pattern_of(dimension, bare=bare is not None), text) is not None
            try:
                units.parse(dimension, text, bare=bare, scale=50.0)
            except units.QuantityError:
                refused += not matches
                continue
            read += 1
            # Of quantities only lengths are ever read at full size.
            assert matches or ("full" in text and dimension is not units.LENGTH), text
    assert read > 300 and refused > 300


#: What is wrong with them is what one value says of another, or a limit in units: a schema knows each value by itself.
BEYOND_A_SCHEMA = {
    "focus_on_a_body_mid_frame",
    *("absolute_mesh", "along_without_every", "backslash_in_name", "colour_word", "control_character_in_title"),
    *("bare_brush", "stones_with_a_style", "tufts_of_foam"),
    *("black_gel", "corners_that_cross", "cove_too_large", "diffusion_below_none"),
    *("copies_without_step", "corners_without_area", "exposure_beside_a_set_iso", "f_number_too_small"),
    *("f_number_too_wide", "focal_length_not_on_lens", "focus_inside_focal_length", "image_in_parent", "infinite"),
    *("iso_range_reversed", "keys_out_of_order", "lamp_aimed_at_itself", "mesh_of_another_kind", "missing_image"),
    *("missing_mesh", "mode_of_another_camera", "no_road", "no_units_line", "not_a_number", "path_point_twice"),
    *(
        "piece_called_vehicle",
        "ramp_too_steep",
        "ramp_past_the_path",
        "range_in_the_written_unit",
        "rate_past_the_mode",
        "rate_too_fast",
    ),
    *(
        "puddles_sizes_in_reverse",
        "puddles_without_area",
        "range_backwards",
        "readout_longer_than_a_frame",
        "road_point_twice",
        "same_id",
        "same_light_id",
        "scattered_target",
    ),
    *("shutter_longer_than_a_frame", "stands_nowhere", "unknown_camera", "unknown_sensor", "unknown_target"),
    "zoom_backwards",
}


def broken() -> list[Path]:
    """The broken scenes that are YAML at all."""
    found = []
    for path in sorted((Path(__file__).parent / "broken").glob("*.yaml")):
        try:
            _, slips = read_tree(path)
        except SceneErrors:
            continue
        if not slips:
            found.append(path)
    return found


def test_the_schema_catches_what_is_wrong_with_a_value() -> None:
    tried = broken()
    missed = {path.stem for path in tried if check().is_valid(read_tree(path)[0].plain())}
    assert missed == BEYOND_A_SCHEMA
    assert len(missed) < len(tried) / 2
