"""From text to plain data, with the line of every key and item.

Only what a scene needs of YAML 1.2 is read: one document of groups, lists and plain values (core schema). The text is
data from a stranger, so nothing in it can make an object, grow without bound or be read two ways.
"""

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from previz.errors import Fault, PrevizError, SceneErrors
from previz.units import shown

_LARGEST_FILE = 1_000_000  # bytes; a long scene is some tens of kilobytes
_MOST_VALUES = 20_000  # counted after aliases are written out
_DEEPEST = 40  # a scene is some eight levels deep
_TOO_DEEP = f"lists and groups are nested deeper than {_DEEPEST}; a scene never is"
_LONGEST_NUMBER = 40  # digits; longer ones stay text, which no field takes for a number

#: So many texts stay as they were parsed, which takes most of reading a scene: a file is read again and again while
#: changes to it are tried, and its kit with it. Nobody changes a node.
_LATELY = 8

_YAML_TAGS = "tag:yaml.org,2002:"
_CORE_TAGS = {f"{_YAML_TAGS}{name}" for name in ("str", "int", "float", "bool", "null", "seq", "map")}
_NULLS = {"", "~", "null", "Null", "NULL"}
_FLAGS = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
_INTEGER = re.compile(r"[-+]?[0-9]+")
_OTHER_BASE = re.compile(r"0o[0-7]+|0x[0-9a-fA-F]+")
_REAL = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)")
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]")
_BARE_COLOUR = re.compile(r"[:,\[{]\s+#[0-9a-fA-F]{6}\b")
_BARE_COLOUR_TOLD = 'a colour stands without quotes, so the rest of its line is a comment; write "#8b8a86" in quotes'

Steps = tuple[str | int, ...]


@dataclass(frozen=True)
class Node:
    """One value of the file: a plain value, a dict of nodes by key or a list of nodes.

    line is that of the key or dash it belongs to, 1-based; values is how many values it holds, itself included;
    height is how many levels lie below it.
    """

    line: int
    value: Any
    values: int = 1
    height: int = 0

    def plain(self) -> Any:
        """The data without its lines."""
        if isinstance(self.value, dict):
            return {key: node.plain() for key, node in self.value.items()}
        return [node.plain() for node in self.value] if isinstance(self.value, list) else self.value

    def child(self, step: str | int) -> "Node | None":
        """The node under that key or number, if there is one."""
        if isinstance(self.value, dict) and isinstance(step, str):
            return self.value.get(step)
        if isinstance(self.value, list) and isinstance(step, int) and 0 <= step < len(self.value):
            return self.value[step]
        return None

    def line_of(self, path: Steps) -> int:
        """The line of the value at `path`, or of the nearest group around it."""
        node = self
        for step in path:
            found = node.child(step)
            if found is None:
                break
            node = found
        return node.line


@dataclass(frozen=True)
class Slip:
    """A fault of the text at a path, before anything is known about scenes."""

    path: Steps
    line: int
    message: str


class Unreadable(Exception):
    """The text cannot be read any further."""

    def __init__(self, line: int | None, message: str) -> None:
        super().__init__(message)
        self.line = line


# Taking a broken part out would make faults that are none: every name it gave would be unknown.
_UNREAD = "; nothing else in the file has been looked at yet, so check again once this is mended"

#: What a scene file begins with, for the advice to who has an empty one.
SCENE_BEGINS = "title:, scale: and set: (or with a copy of scenes/quay_lorry.yaml)"


def read_tree(path: Path, begins: str = SCENE_BEGINS) -> tuple[Node, list[Slip]]:
    """Read a file into its root node and the slips found on the way (a key given twice, a value left out).

    begins: what such a file begins with, for the advice where there is nothing in it.

    Raises
    ------
    SceneErrors
        Where the file cannot be read as one YAML document.
    """
    try:
        return tree_of(_text(path), begins)
    except Unreadable as stop:
        unread = _UNREAD if stop.line is not None else ""
        raise SceneErrors(path, [Fault(stop.line, "", str(stop) + unread)]) from None


def read_text(text: str) -> tuple[Node, list[Slip]]:
    """As `read_tree`, of text that comes from elsewhere than a file.

    Raises
    ------
    PrevizError
        Where it cannot be read as one YAML document.
    """
    try:
        return tree_of(text)
    except Unreadable as stop:
        raise PrevizError(f"{shown(text)}: {stop}") from None


def tree_of(text: str, begins: str = SCENE_BEGINS) -> tuple[Node, list[Slip]]:
    """As `read_tree`, of text. Raises Unreadable.

    >>> root, slips = tree_of("scale: 1:50\\nset: {table: {width: 1400}}\\n")
    >>> root.plain(), root.line_of(("set", "table"))
    ({'scale': '1:50', 'set': {'table': {'width': 1400}}}, 2)
    """
    root, slips = _built(text, begins)
    return root, list(slips)


@lru_cache(_LATELY)
def _built(text: str, begins: str) -> tuple[Node, tuple[Slip, ...]]:
    builder = _Builder(text, begins)
    return builder.document(), tuple(builder.slips.values())


def plain_list(text: str) -> list[Any] | None:
    """Values divided by commas, as they would stand in a list of a file; None where they are not.

    >>> plain_list("2.8, f/4, [1, 2]"), plain_list("1], more: [2"), plain_list("a: [")
    ([2.8, 'f/4', [1, 2]], None, None)
    """
    try:
        root, slips = tree_of(f"values: [{text}]")
    except Unreadable:
        return None
    found = root.plain()
    return found["values"] if not slips and list(found) == ["values"] and isinstance(found["values"], list) else None


def _text(path: Path) -> str:
    try:
        if path.is_dir():
            raise Unreadable(None, "is a folder; name the scene file in it")
        if path.exists() and not path.is_file():
            raise Unreadable(None, "is not a file; name a scene file (YAML text)")
        with path.open("rb") as file:
            raw = file.read(_LARGEST_FILE + 1)
    except FileNotFoundError:
        raise Unreadable(None, "there is no such file; check the name and the folder") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise Unreadable(None, f"cannot be read: {reason}") from None
    if len(raw) > _LARGEST_FILE:
        raise Unreadable(
            None, f"is larger than {_LARGEST_FILE // 1_000_000} MB; a scene file is text, usually a few kilobytes"
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise Unreadable(None, "is UTF-16 text; save it as UTF-8")
    if b"\0" in raw:
        line = raw[: raw.index(b"\0")].count(b"\n") + 1
        raise Unreadable(line, "there is a NUL byte, so this is not plain text; save it as UTF-8 text")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise Unreadable(line, "is not UTF-8 text from here on; save the file as UTF-8") from None
    odd = _UNPRINTABLE.search(text)
    if odd:
        line = text.count("\n", 0, odd.start()) + 1
        raise Unreadable(line, f"there is a character that cannot be printed (U+{ord(odd[0]):04X}); take it out")
    return text


class _Builder:
    """Builds nodes from the parser's events, one document's worth."""

    def __init__(self, text: str, begins: str) -> None:
        self.begins = begins
        self.text_lines = text.splitlines()
        self.text = text
        self.slips: dict[Steps, Slip] = {}
        self.anchors: dict[str, Node | None] = {}  # None while the anchored value is still open
        self.values = 0
        self.line = 1
        self.events = self._events()

    def _events(self) -> Iterator[Any]:
        from ruamel.yaml import YAML
        from ruamel.yaml.error import MarkedYAMLError, YAMLError

        try:
            for event in YAML(typ="safe", pure=True).parse(self.text):
                self.line = event.start_mark.line + 1
                yield event
        except MarkedYAMLError as error:
            mark = error.problem_mark or error.context_mark
            line = min(mark.line + 1 if mark else self.line, max(len(self.text_lines), 1))
            opened = error.context_mark.line + 1 if error.context_mark else line
            if (colour := self._bare_colour(opened, line)) is not None:
                raise Unreadable(colour, _BARE_COLOUR_TOLD) from None
            unclosed_quote = "unexpected end of stream" in (error.problem or "")
            raise Unreadable(opened if unclosed_quote else line, self._syntax(error, line, opened)) from None
        except (YAMLError, ValueError, OverflowError, IndexError, AttributeError, AssertionError, TypeError):
            # The parser itself stumbles over some texts, such as an escape beyond Unicode.
            raise Unreadable(
                self.line, "this is not YAML from here on; check quotes, brackets and backslashes"
            ) from None

    def _bare_colour(self, opened: int, line: int) -> int | None:
        """The line of a colour without quotes, which ends its line, so that the parser stumbles there or in the next
        that holds a word."""
        before = next((each for each in range(opened - 1, 0, -1) if self._text_line(each).strip()), opened)
        return next((each for each in range(before, line + 1) if _BARE_COLOUR.search(self._text_line(each))), None)

    def _syntax(self, error: Any, line: int, opened: int) -> str:
        """The parser's complaint in words for someone who has never read the YAML specification."""
        problem = error.problem or ""
        if re.match(r" *\t", self._text_line(line)):
            return "the line is indented with a tab; use spaces"
        since = f" (opened in line {opened})" if opened != line else ""
        for words, advice in _ADVICE:
            if words in problem:
                return advice.format(since=since)
        return f"this is not YAML: {shown(problem, 120)}{since}"

    # --- building ---

    def document(self) -> Node:
        next(self.events)  # the stream begins
        event = next(self.events)
        if self._kind(event) == "StreamEnd":
            raise Unreadable(None, f"is empty; begin with {self.begins}")
        if event.version not in (None, (1, 2)):
            raise Unreadable(1, "a scene file is YAML 1.2; take the %YAML line out")
        root = self._node(next(self.events), (), 1, 0)
        next(self.events)  # the document ends
        if self._kind(next(self.events)) == "DocumentStart":
            raise Unreadable(self.line, "a second document begins here (---); a scene file holds one scene")
        if not isinstance(root.value, dict):
            found = "nothing but comments" if root.value is None else shown(root.plain())
            begins = self.begins.partition(" (")[0]
            raise Unreadable(root.line, f"{found}, where a group of keys is wanted; begin with {begins}")
        return root

    @staticmethod
    def _kind(event: Any) -> str:
        return type(event).__name__.removesuffix("Event")

    def _node(self, event: Any, path: Steps, line: int, depth: int) -> Node:
        """The value that begins with `event`; line is that of its key or dash."""
        kind = self._kind(event)
        if kind == "Alias":
            return self._alias(event, line, depth)
        if depth > _DEEPEST:
            raise Unreadable(self.line, _TOO_DEEP)
        tag = None if event.tag is None else str(event.tag)
        if tag is not None and tag not in _CORE_TAGS and tag != "!":
            self._slip(path, line, f"the tag {shown(tag.replace(_YAML_TAGS, '!!'))} is not read; write the plain value")
        self._count(1)
        if event.anchor:
            self.anchors[event.anchor] = None
        if kind == "Scalar":
            node = Node(line, self._scalar(event, path, line))
        elif kind == "SequenceStart":
            node = self._sequence(path, line, depth)
        else:
            node = self._mapping(path, line, depth)
        if event.anchor:
            self.anchors[event.anchor] = node
        return node

    def _count(self, more: int) -> None:
        self.values += more
        if self.values > _MOST_VALUES:
            raise Unreadable(
                self.line, f"the file holds more than {_MOST_VALUES} values (aliases written out); shorten it"
            )

    def _alias(self, event: Any, line: int, depth: int) -> Node:
        if event.anchor not in self.anchors:
            raise Unreadable(
                self.line, f"*{shown(event.anchor)} repeats a value that no &{shown(event.anchor)} names above"
            )
        node = self.anchors[event.anchor]
        if node is None:
            raise Unreadable(
                self.line, f"*{shown(event.anchor)} stands inside the value it repeats; write the value out"
            )
        if depth + node.height > _DEEPEST:
            raise Unreadable(self.line, _TOO_DEEP)
        self._count(node.values)
        return replace(node, line=line)

    def _sequence(self, path: Steps, line: int, depth: int) -> Node:
        items: list[Node] = []
        while self._kind(event := next(self.events)) != "SequenceEnd":
            items.append(self._node(event, (*path, len(items)), self.line, depth + 1))
        return self._group(line, items, items)

    def _mapping(self, path: Steps, line: int, depth: int) -> Node:
        members: dict[str, Node] = {}
        before: tuple[str, int, str] | None = None  # the last plain value, with its key and line
        while self._kind(event := next(self.events)) != "MappingEnd":
            key_line = self.line
            if not path and not members:
                line = key_line  # the whole file's group begins with its first key
            opening = next(self.events) if before and self._splits_a_number(event, before[2]) else None
            if before and opening is not None and self._kind(opening) == "Scalar" and opening.value == "":
                before = self._decimal_comma(path, before, event.value)
                members[before[0]] = Node(before[1], before[2])  # as a person means it, so that no more is made of it
                continue
            key = self._key(event, path, depth)
            value = next(self.events) if opening is None else opening
            node = self._node(value, (*path, key), key_line, depth + 1)
            before = (key, key_line, value.value) if self._kind(value) == "Scalar" else None
            if key in members:
                first = members[key].line
                message = f"is given twice, first in line {first}; keep one"
                self._slip((*path, key), key_line, message)
            else:
                members[key] = node
        return self._group(line, members, members.values())

    def _splits_a_number(self, key: Any, value: str) -> bool:
        """Whether a key in braces may be what stands behind a decimal comma: the `8` of `2,8`."""
        if self._kind(key) != "Scalar" or not key.implicit[0] or not key.value[:1].isdigit() or len(value) > 40:
            return False
        text, column = self._text_line(key.start_mark.line + 1), key.start_mark.column
        return value[-1:].isdigit() and text[max(column - 2, 0) : column] == f"{value[-1]},"

    def _decimal_comma(self, path: Steps, before: tuple[str, int, str], rest: str) -> tuple[str, int, str]:
        """Note that a comma stands where a point is meant; returns the value so far, for one comma more."""
        key, line, value = before
        written = f"{value},{rest}"
        pointed, without = written.replace(",", "."), written.replace(",", "")
        advice = f"write {shown(pointed)}"
        if re.search(r"[0-9]\.[0-9]+\.[0-9]", pointed):
            advice = f"write {shown(without)}, with nothing between thousands"
        elif re.search(r",[0-9]{3}(?![0-9])", written):
            advice += f" (or {shown(without)}, if thousands are meant)"
        message = f"{shown(written)} has a comma, which ends a value; {advice}"
        self.slips[(*path, key)] = Slip((*path, key), line, message)  # in the place of that of a comma before
        return key, line, written

    @staticmethod
    def _group(line: int, value: Any, inside: Collection[Node]) -> Node:
        height = 1 + max((node.height for node in inside), default=0)
        return Node(line, value, 1 + sum(node.values for node in inside), height)

    def _key(self, event: Any, path: Steps, depth: int) -> str:
        line, message = self.line, "is not a key; a key is a word, in quotes if it looks like a number"
        if self._kind(event) != "Scalar":
            raise Unreadable(line, f"{shown(self._node(event, path, line, depth + 1).plain())} {message}")
        text = str(event.value)
        if text == "<<":
            raise Unreadable(line, "<< (merging groups) is not read; write the keys out")
        self._count(1)
        value = resolved(event)
        if not isinstance(value, str):
            self._slip((*path, text), line, f"{shown(text)} {message}")
        return text

    def _scalar(self, event: Any, path: Steps, line: int) -> Any:
        value = resolved(event)
        if value is None:
            colour = _BARE_COLOUR.search(self._text_line(line)) or _BARE_COLOUR.search(self._text_line(self.line))
            hint = ' (# begins a comment: a colour stands in quotes, "#8b8a86")' if colour else ""
            self._slip(path, line, f"nothing is given{hint}; write a value, or take the key out")
        return value

    def _text_line(self, line: int) -> str:
        return self.text_lines[line - 1] if 0 < line <= len(self.text_lines) else ""

    def _slip(self, path: Steps, line: int, message: str) -> None:
        """Note a fault of the text; the first one at a place explains the others."""
        self.slips.setdefault(path, Slip(path, line, message))


#: What the parser says, and what to tell a person.
_ADVICE = (
    ("\\t", "there is a tab where a value or key should begin; use spaces"),
    ("mapping values are not allowed", "a colon too many: a second key on the line, or a line indented too far; "
     "put each key on its own line, or the text in quotes"),
    ("unexpected end of stream", "the quote that opens here is not closed; close it"),
    ("expected ',' or ']'", "a bracket [ is not closed{since}, or a comma is missing; check the list"),
    ("expected ',' or '}'", "a brace {{ is not closed{since}, or a comma is missing; check the group"),
    ("expected <block end>", "this line is not in line with those above it{since}; indent the keys of a group alike"),
    ("could not find expected ':'", "a key without its colon; write key: value"),
    ("cannot start any token", "a value cannot begin with this character (@, ` or %); put the text in quotes"),
    ("expected the node content", "a value is missing here, or there is a comma too many"),
    ("sequence entries are not allowed", "a list entry (- ...) cannot begin here; give it its own line under its key"),
    ("mapping keys are not allowed", "a ? cannot begin a key or value; put the text in quotes"),
    ("alphabetic or numeric", "& names a value and * repeats it; put text that begins with one of them in quotes"),
    ("chomping or indentation", "| and > begin a block of text; put text that begins with one of them in quotes"),
    ("comment or a line break", "| and > begin a block of text; put text that begins with one of them in quotes"),
    ("expected URI", "tags (!...) are not read; write the plain value, or put the text in quotes"),
    ("undefined tag handle", "tags (!…) are not read; write the plain value"),
    ("incompatible YAML document", "a scene file is YAML 1.2; take the %YAML line out"),
    ("expected '<document start>'", "this line does not belong to what stands above; indent the keys alike"),
    ("escape", "an escape after \\ is not known; use / in file names, or single quotes"),
)  # fmt: skip


def resolved(event: Any) -> Any:
    """The value of a scalar, of the parser's event: quoted or tagged as text it stays text, else by the core schema."""
    if event.tag is None:
        return _plain_value(event.value) if event.implicit[0] else event.value
    return event.value if event.tag == "!" or event.tag.endswith(":str") else _plain_value(event.value)


def _plain_value(text: str) -> Any:
    """A plain scalar by the core schema of YAML 1.2.2 (section 10.3.2)."""
    if text in _NULLS:
        return None
    if text in _FLAGS:
        return _FLAGS[text]
    if len(text) > _LONGEST_NUMBER:
        return text
    if _INTEGER.fullmatch(text):
        return int(text)
    if _OTHER_BASE.fullmatch(text):
        return int(text, 0)
    if _REAL.fullmatch(text):
        value = float(text.lower().replace(".inf", "inf").replace(".nan", "nan"))
        return text if value in (float("inf"), -float("inf")) and "inf" not in text.lower() else value
    return text
