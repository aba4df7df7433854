"""A scene file's text with other values in it says what was meant, and differs where it must and nowhere else."""

import difflib
import io
import random
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ruamel.yaml import YAML

from previz.errors import PrevizError, SceneErrors
from previz.scene import edited, read_scene, rewritten
from previz.scene.changes import changed
from previz.scene.splicing import in_braces, same
from previz.scene.yaml_tree import tree_of

SCENES = Path(__file__).parents[2] / "scenes"
DEMOS = [SCENES / name for name in ("quay_lorry.yaml", "snow_bus.yaml", "night_van.yaml")]
TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in DEMOS}


def in_blocks(text: str) -> str:
    """The same scene laid out in lines of its own throughout, with a comment behind every tenth."""
    out = io.StringIO()
    writer = YAML(typ="safe", pure=True)
    writer.default_flow_style = False
    writer.dump(YAML(typ="safe", pure=True).load(text), out)
    lines = out.getvalue().splitlines()
    return "\n".join(f"{line}  # nr {n} – é𝄞" if n % 10 == 3 else line for n, line in enumerate(lines)) + "\n"


LAYOUTS = {
    **TEXTS,
    "in_blocks": in_blocks(TEXTS["snow_bus"]),
    "other_line_breaks": TEXTS["night_van"].replace("\n", "\r\n"),
    "unfinished_line": TEXTS["quay_lorry"].rstrip("\n"),
    "good": (Path(__file__).parent / "good.yaml").read_text(encoding="utf-8"),
}


def plain(text: str) -> Any:
    root, slips = tree_of(text)
    assert not slips
    return root.plain()


def places(found: Any, key: str = "") -> list[tuple[str, Any]]:
    """Every place of plain data by its dotted key, and what is there."""
    inner = list(found.items()) if isinstance(found, dict) else [*enumerate(found)] if isinstance(found, list) else []
    below = [each for name, value in inner for each in places(value, f"{key}.{name}" if key else f"{name}")]
    return ([(key, found)] if key else []) + below


VALUES: list[Any] = [
    *(4, 4.0, -0.25, 1e-5, True, "12 lm", "f/8", "1:50", "#8b8a86", "a: b", "4", "true", "é – 𝄞", "[x", "x, y", ""),
    *([1, "2 cm", 3], ["a"], [], {"a": 1}, {"a": {"b": [1, 2]}, "c": "x"}, [{"id": "new", "at": [1, 2]}], None),
]


def some_places(text: str) -> list[tuple[str, Any]]:
    """Every place of a short file, some of a long one."""
    found = places(plain(text))
    return random.Random(3).sample(found, min(len(found), 25))


def random_change(rng: random.Random, data: Any) -> dict[str, Any]:
    key, there = rng.choice(places(data))
    match rng.randrange(5):
        case 0 if isinstance(there, dict):
            return {f"{key}.newly": rng.choice(VALUES[:-1])}
        case 1 if isinstance(there, list):
            return {f"{key}[{len(there)}]": rng.choice(VALUES[:-1])}
        case 2:
            return {key: None}
        case 3 if isinstance(there, dict) and there:
            some = dict(rng.sample([*there.items()], rng.randint(1, len(there))))
            return {key: {**some, rng.choice(["angle", "time"]): rng.choice(VALUES[:-1])}}
        case _:
            return {key: rng.choice(VALUES)}


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_what_is_edited_reads_as_what_was_meant(text: str) -> None:
    """Random changes from a seed, one or a few at once; nothing is refused."""
    rng = random.Random(7)
    for _ in range(10):
        root, _ = tree_of(text)
        changes: dict[str, Any] = {}
        wanted = root
        for _ in range(rng.choice([1, 1, 1, 3])):
            more = random_change(rng, wanted.plain())
            changes = {**{key: value for key, value in changes.items() if key not in more}, **more}
            try:
                wanted = changed(root, changes)
            except PrevizError:  # one of them took out what another names
                changes = more
                wanted = changed(root, changes)
        found = edited(text, changes)
        # By a reader of YAML that is not ours. Duration and the like are text in both.
        theirs = YAML(typ="safe", pure=True).load(found)
        assert same(plain(found), wanted.plain()), changes
        assert same(_texts(theirs), _texts(wanted.plain())), changes


def _texts(found: Any) -> Any:
    """Data with plain values as text: another reader takes 0o7 or 1e3 for other numbers than the core schema does."""
    if isinstance(found, dict):
        return {str(key): _texts(value) for key, value in found.items()}
    if isinstance(found, list):
        return [_texts(value) for value in found]
    return str(float(found)) if isinstance(found, int | float) else str(found)


def lines_apart(one: str, other: str) -> tuple[list[str], list[str]]:
    """The lines of either that are not in the other."""
    compared = difflib.ndiff(one.splitlines(keepends=True), other.splitlines(keepends=True))
    told = list(compared)
    return [line[2:] for line in told if line[0] == "-"], [line[2:] for line in told if line[0] == "+"]


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_a_line_without_a_changed_value_stays_as_it_is_byte_for_byte(text: str) -> None:
    """Each plain value alone: one line goes, one comes, and the two differ in the value only."""
    for key, there in some_places(text):
        if isinstance(there, dict | list):
            continue
        found = edited(text, {key: "new value"})
        gone, came = lines_apart(text, found)
        assert len(gone) == len(came) == 1, key
        before, behind = came[0].split("new value")
        assert gone[0].startswith(before) and gone[0].endswith(behind), key
        old = gone[0][len(before) : len(gone[0]) - len(behind)]
        assert old.strip("\"'") == str(there) or plain(f"a: {old}")["a"] == there, key


@pytest.mark.parametrize("text", LAYOUTS.values(), ids=LAYOUTS.keys())
def test_taking_out_and_putting_behind_leave_all_other_lines(text: str) -> None:
    for key, there in some_places(text):
        if isinstance(there, dict):
            put = edited(text, {f"{key}.newly": "x"})
            gone, came = lines_apart(text, put)
            assert len(gone) <= 1 and len(came) <= len(gone) + 1, key
            assert edited(put, {f"{key}.newly": None}) == text or not there, key


def test_comments_stay_but_that_of_what_is_taken_out() -> None:
    for text in LAYOUTS.values():
        comments = re.findall(r"(?m)(?:^|\s)(#\s.*)$", text)
        for key, there in [*some_places(text)][::2]:
            if not isinstance(there, dict | list):
                assert re.findall(r"(?m)(?:^|\s)(#\s.*)$", edited(text, {key: 7.5})) == comments, key


@pytest.mark.parametrize("path", DEMOS, ids=lambda path: path.stem)
@settings(max_examples=8, deadline=None)
@given(
    f_number=st.sampled_from([None, "f/5.6", 8]),
    at=st.lists(st.integers(-400, 900), min_size=3, max_size=3),
    capture=st.fixed_dictionaries(
        {"rate": st.sampled_from(["50 fps", 25])},
        optional={"shutter": st.sampled_from(["90 deg", {"time": "1/200 s"}]), "iso": st.sampled_from([400, "auto"])},
    ),
    hand=st.sampled_from([None, {"wobble": "steady"}, {}]),
    lamp=st.sampled_from([None, {"id": "more", "ambient": "30 lx"}]),
)
def test_the_edited_file_is_the_scene_that_was_read_again(
    path: Path, f_number: Any, at: list[int], capture: dict[str, Any], hand: Any, lamp: Any
) -> None:
    scene = read_scene(path)
    changes = {"shots[0].at": [f"{each} mm" for each in at], "shots[0].capture": capture, "shots[0].hand": hand}
    changes |= {"shots[0].f_number": f_number} if f_number else {}
    changes |= {f"lights[{len(scene.lights)}]": lamp} if lamp else {}
    try:
        wanted = rewritten(scene, changes)
    except SceneErrors:  # a phone has one stop
        return
    assert _read(edited(path.read_text(encoding="utf-8"), changes), path) == wanted


def _read(text: str, beside: Path) -> Any:
    """The scene of a text as if it stood beside a file."""
    root, slips = tree_of(text)
    assert not slips
    gone = plain_keys(beside) - {*root.plain()}
    return read_scene(beside, changes={**root.plain(), **dict.fromkeys(gone)})


def plain_keys(path: Path) -> set[str]:
    return {*plain(path.read_text(encoding="utf-8"))}


@pytest.mark.parametrize(
    ("text", "changes", "new"),
    [
        # A comment keeps its line; a value keeps its place in it.
        ("a: 1   # why\nb: 2\n", {"a": "3 mm"}, "a: 3 mm   # why\nb: 2\n"),
        # A plain number in the file's unit stays one.
        ("units: mm\na: [700, 50 mm, 3]\n", {"a": ["71.5 mm", "60 mm", "3 cm"]}, "units: mm\na: [71.5, 60 mm, 3 cm]\n"),
        # One way to say it in the place of another.
        ("s: {angle: 180 deg, x: 1}\n", {"s": {"time": "1/100 s", "x": 1}}, "s: {time: 1/100 s, x: 1}\n"),
        ("s: 180 deg  # half\n", {"s.time": "1/100 s"}, "s: {time: 1/100 s}  # half\n"),
        # Lines of their own.
        ("s:  # why\n  x: 1\n  y: 2\nt: 3\n", {"s": "none"}, "s: none  # why\nt: 3\n"),
        ("s:\n  x: 1  # a\n  y: 2  # b\nt: 3\n", {"s.y": None}, "s:\n  x: 1  # a\nt: 3\n"),
        ("s:\n  x: 1  # a\n  y: 2  # b", {"s.y": None}, "s:\n  x: 1  # a"),
        ("s:\n  x: 1  # a\nt: 3\n", {"s.x": None}, "s: {}\nt: 3\n"),
        ("s:\n  x: 1  # a\nt: 3\n", {"s.y": 2}, "s:\n  x: 1  # a\n  y: 2\nt: 3\n"),
        ("s:\n  x: 1", {"s.y": [1, 2], "z": 3}, "s:\n  x: 1\n  y: [1, 2]\nz: 3"),
        ("s:\n  x: {a: 1,\n      b: 2}\n", {"s.y": 2, "s.x.c": 3}, "s:\n  x: {a: 1,\n      b: 2, c: 3}\n  y: 2\n"),
        # The last of a group goes, and one comes behind the group.
        ("s:\n  x: 1\n  y: 2\n", {"s.y": None, "z": 3}, "s:\n  x: 1\nz: 3\n"),
        ("s:\n  x:\n    y: 2\n", {"s.x": 1, "z": 3, "s.w": 4}, "s:\n  x: 1\n  w: 4\nz: 3\n"),
        # Lists.
        ("l:\n- id: a\n  x: 1\n- id: b\n  x: 2\n", {"l[a]": None}, "l:\n- id: b\n  x: 2\n"),
        ("l:\n- id: a\n  x: 1\n- id: b\n", {"l[2]": {"id": "c"}}, "l:\n- id: a\n  x: 1\n- id: b\n- {id: c}\n"),
        ("l:\n  - x: 1  # first\n    y: 2\n", {"l[0].x": None}, "l:\n  - y: 2\n"),
        ("l: [1, 2, 3]  # three\n", {"l": [1, 3]}, "l: [1, 3]  # three\n"),
        ("l: [1, 2, 3]\n", {"l": [2, 3, 4]}, "l: [2, 3, 4]\n"),
        ("l: [\n  1,  # one\n  2,  # two\n]\n", {"l": [1]}, "l: [\n  1  # one\n  ,  # two\n]\n"),
        # Quotes as they must be, and only then.
        ("c: '#112233'\n", {"c": "#445566"}, 'c: "#445566"\n'),
        ("c: '#112233'\n", {"c": "darkred"}, "c: darkred\n"),
        ("c: {}\n", {"c.d": "x, y"}, 'c: {d: "x, y"}\n'),
        ("t: |\n  many\n  lines\n\nu: 1\n", {"t": "one"}, "t: one\n\nu: 1\n"),
        # Line breaks and marks of other systems.
        ("\ufeffa: 1\r\nb: 2\r\n", {"b": 3, "c": 4}, "\ufeffa: 1\r\nb: 3\r\nc: 4\r\n"),
        ("s:\r\n  x: 1\r\n  y: 2\r\nt: 3\r\n", {"s.y": None}, "s:\r\n  x: 1\r\nt: 3\r\n"),
        # What names a value for others stays out of it.
        ("a: &n {x: 1}\nb: *n\n", {"b.x": 2}, "a: &n {x: 1}\nb: {x: 2}\n"),
        ("a: &n 1\nb: 2\n", {"a": 3}, "a: 3\nb: 2\n"),
        # Nothing to do.
        ("a: 1\nb: 'x'\n", {"b": "x", "c": None}, "a: 1\nb: 'x'\n"),
    ],
)  # fmt: skip
def test_it_is_spliced_as_a_careful_hand_would(text: str, changes: dict[str, Any], new: str) -> None:
    assert edited(text, changes) == new


@pytest.mark.parametrize(
    ("text", "changes", "said"),
    [
        ("a: &n {x: 1}\nb: *n\n", {"a.x": 2}, "line 1: &n names this value and *n repeats it; write it out"),
        ("a: {x: &n 1}\nb: *n\n", {"a": None}, "line 1: *n repeats this value; write it out where it is repeated"),
        ("a: 1\na: 2\n", {"a": 3}, "line 2: is given twice"),
        ("a: [1\n", {"a": 3}, "line 1: a bracket"),
        ("shots: [{id: pass}]\n", {"shots[pas].x": 1}, "did you mean pass?"),
        ("x: 1\n? a\n: 1\n", {"a": None}, "line 2: as the file is laid out here, it cannot be changed"),
    ],
)
def test_what_cannot_be_changed_alone_is_refused(text: str, changes: dict[str, Any], said: str) -> None:
    with pytest.raises(PrevizError, match=re.escape(said)):
        edited(text, changes)


@settings(max_examples=150, deadline=None)
@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"]), max_size=20))
def test_any_text_is_written_so_that_it_is_read_as_itself(text: str) -> None:
    assert "\n" not in in_braces(text)
    assert plain(f"a: [{in_braces(text)}]\nb: {in_braces(text)}\n") == {"a": [text], "b": text}
