"""A scene file's own text with other values in it: only what changes is written anew, every other byte stays.

A YAML library that writes out what it read lays the file out anew. Here the text of each value is found by where the
parser saw it, and spliced. The new text is read again: it says what was meant, or nothing is handed back.
"""

import difflib
import json
import math
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from previz.errors import PrevizError
from previz.scene.changes import Changes, changed
from previz.scene.model import Scene
from previz.scene.spelling import as_spelled, spelled
from previz.scene.yaml_tree import Unreadable, resolved, tree_of
from previz.units import LENGTH, QuantityError, parse, shown

_BOM = "\ufeff"


def edited(text: str, changes: Changes) -> str:
    """The text of a scene file with other values written over its own, comments and layout kept.

    Parameters
    ----------
    text : str
        Of a scene file without faults.
    changes : mapping of str to plain data
        As `rewritten` takes them.

    Returns
    -------
    str
        Text that reads as `changed` says; a length in the file's own unit is a plain number where one stood. A value
        that is taken out goes with the comment behind it; a key that is new stands behind the others of its group.

    Raises
    ------
    PrevizError
        Where a change names a place that is not there, or the text cannot be changed there without touching more; it
        says in which line.

    Examples
    --------
    >>> print(edited("shots:\\n  - {id: pass, f_number: 4}  # wide open\\n", {"shots[pass].f_number": "f/8"}), end="")
    shots:
      - {id: pass, f_number: f/8}  # wide open
    """
    bare = text.removeprefix(_BOM)
    try:
        root, slips = tree_of(bare)
    except Unreadable as error:
        raise PrevizError(f"line {error.line}: {error}") from None
    if slips:
        raise PrevizError(f"line {slips[0].line}: {slips[0].message}")
    plain = spelled(root, Scene)
    now = root.plain()
    wanted = as_spelled(now, plain.plain(), changed(plain, changes).plain())
    wanted = _bare_where_bare(now, wanted, plain.plain().get("units"))
    splices = _Splices(bare)
    splices.match(_spot_of(bare), wanted)
    spliced = splices.applied()
    try:
        again, new_slips = tree_of(spliced)
    except Unreadable as error:
        raise PrevizError(_as_laid_out(error.line)) from None
    if new_slips or not same(again.plain(), wanted):
        raise PrevizError(_as_laid_out(splices.first_line))
    return (_BOM if bare != text else "") + spliced


def _as_laid_out(line: int | None) -> str:
    return (
        f"line {line}: as the file is laid out here, it cannot be changed without touching more; write it out plainly"
    )


def _bare_where_bare(now: Any, wanted: Any, unit: Any) -> Any:
    """What is wanted, with plain numbers for lengths in the file's unit where a plain number stands now.

    So does what is as long as it was, in whatever unit that is told.

    >>> _bare_where_bare([700, "5 cm", 30], ["71.0 mm", "60 mm", "3 in"], "mm"), _bare_where_bare(12, "120 mm", "cm")
    ([71, '60 mm', '3 in'], 12)
    """
    if isinstance(now, Mapping) and isinstance(wanted, Mapping):
        return {key: _bare_where_bare(now.get(key), value, unit) for key, value in wanted.items()}
    if isinstance(now, list) and isinstance(wanted, list) and len(now) == len(wanted):
        return [_bare_where_bare(one, other, unit) for one, other in zip(now, wanted, strict=True)]
    bare = isinstance(now, int | float) and not isinstance(now, bool) and isinstance(wanted, str)
    number = re.fullmatch(r"(-?[0-9]{1,9})(\.(?!0+ )[0-9]{1,9})?(?:\.0+)? (.+)", wanted) if bare else None
    if number is None or number[3] != unit:
        return now if bare and _as_long(f"{now} {unit}", wanted) else wanted
    return float(f"{number[1]}{number[2]}") if number[2] else int(number[1])


def _as_long(one: str, other: str) -> bool:
    """Whether two lengths with their units are one and the same; False of what is no length."""
    try:
        return math.isclose(parse(LENGTH, one), parse(LENGTH, other), rel_tol=1e-9, abs_tol=1e-12)
    except QuantityError:
        return False


def same(one: Any, other: Any) -> bool:
    """Whether plain data are alike to the reader of a file: 4 and 4.0 are written differently, true is no 1.

    >>> same([4, {"a": True}], [4, {"a": True}]), same(4, 4.0), same(1, True)
    (True, False, False)
    """
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(same(value, other[key]) for key, value in one.items())
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(map(same, one, other))
    return type(one) is type(other) and bool(one == other)


# --- where each value stands ---


@dataclass(frozen=True)
class _Spot:
    """A value and where its text begins and ends, as indices into the file's.

    kind: value, group, list or alias. column is that of the first key or dash of a group or list in block style.
    """

    kind: str
    start: int
    end: int
    line: int
    column: int = 0
    flow: bool = True
    anchor: str | None = None
    value: Any = None
    members: "dict[str, _Member]" = field(default_factory=dict)
    items: "list[_Spot]" = field(default_factory=list)

    @property
    def plain(self) -> Any:
        """The data without its places."""
        if self.kind == "group":
            return {key: member.value.plain for key, member in self.members.items()}
        return [item.plain for item in self.items] if self.kind == "list" else self.value

    def within(self) -> "Iterator[_Spot]":
        """It and all that it holds."""
        yield self
        for inner in (*(member.value for member in self.members.values()), *self.items):
            yield from inner.within()


@dataclass(frozen=True)
class _Member:
    """One entry of a group: its key from `start` to `key_end`, then its value."""

    start: int
    key_end: int
    value: _Spot

    @property
    def end(self) -> int:
        """Where its text ends."""
        return max(self.value.end, self.key_end)


def _spot_of(text: str) -> _Spot:
    """The places of all values of a file that `tree_of` has read."""
    from ruamel.yaml import YAML

    events = YAML(typ="safe", pure=True).parse(text)
    next(events), next(events)  # the stream and the document begin
    return _Places(text, events).spot(next(events))


class _Places:
    """Follows the parser's events, as `yaml_tree` does, for places instead of lines."""

    def __init__(self, text: str, events: Iterator[Any]) -> None:
        self.text, self.events = text, events
        self.anchored: dict[str, Any] = {}

    def spot(self, event: Any) -> _Spot:
        kind = type(event).__name__.removesuffix("Event")
        start, line, anchor = event.start_mark.index, event.start_mark.line + 1, event.anchor
        if kind == "Alias":
            return _Spot("alias", start, event.end_mark.index, line, anchor=anchor, value=self.anchored[anchor])
        if kind == "Scalar":
            end = event.end_mark.index
            if event.style in ("|", ">"):  # it ends where the next line begins
                end = start + len(self.text[start:end].rstrip())
            found = _Spot("value", start, end, line, anchor=anchor, value=resolved(event))
        else:
            found = self._collection(event, kind, start, line)
        if anchor:
            self.anchored[anchor] = found.plain
        return found

    def _collection(self, event: Any, kind: str, start: int, line: int) -> _Spot:
        members: dict[str, _Member] = {}
        items: list[_Spot] = []
        column = event.start_mark.column
        while not type(ending := next(self.events)).__name__.endswith("EndEvent"):
            if kind == "SequenceStart":
                items.append(self.spot(ending))
            else:
                if not members and not event.flow_style:
                    column = ending.start_mark.column
                key = _Member(ending.start_mark.index, ending.end_mark.index, self.spot(next(self.events)))
                members[str(ending.value)] = key
        if event.flow_style:
            end = ending.end_mark.index
        else:
            end = max([*(member.end for member in members.values()), *(item.end for item in items)], default=start)
        named = "group" if kind == "MappingStart" else "list"
        return _Spot(
            named, start, end, line, column, bool(event.flow_style), event.anchor, members=members, items=items
        )


# --- what is cut and put in ---


class _Splices:
    """Collects pieces of text to cut and to put in their place."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.newline = "\r\n" if "\r\n" in text else "\n"
        self.pieces: list[tuple[int, int, str]] = []
        self.aliased: set[str] = set()

    @property
    def first_line(self) -> int:
        """Of the first piece, 1-based."""
        return self.text.count("\n", 0, min((start for start, _, _ in self.pieces), default=0)) + 1

    def applied(self) -> str:
        """The text with all pieces put in."""
        parts, at = [], 0
        for start, end, new in sorted(self.pieces, key=lambda piece: piece[:2]):
            if start < at:
                raise PrevizError(_as_laid_out(self.text.count("\n", 0, start) + 1))
            parts += [self.text[at:start], new]
            at = end
        return "".join([*parts, self.text[at:]])

    def match(self, root: _Spot, wanted: Any) -> None:
        """Note what turns the file's group into the one that is wanted."""
        self.aliased = {str(spot.anchor) for spot in root.within() if spot.kind == "alias"}
        self._value(root, wanted, None)

    def _value(self, spot: _Spot, wanted: Any, colon: int | None) -> None:
        """Turn a value into another; colon is where its key ends, of a member of a group."""
        if same(spot.plain, wanted):
            return
        if spot.kind != "alias" and spot.anchor in self.aliased:
            name = shown(spot.anchor)
            raise PrevizError(
                f"line {spot.line}: &{name} names this value and *{name} repeats it; write it out where it is repeated"
            )
        if spot.kind == "group" and isinstance(wanted, Mapping) and {*spot.members} & {*wanted}:
            self._group(spot, wanted)
        elif spot.kind == "list" and isinstance(wanted, list | tuple) and spot.items and wanted:
            self._list(spot, wanted, colon)
        else:
            self._replace(spot, in_braces(wanted), colon)

    def _replace(self, spot: _Spot, new: str, colon: int | None) -> None:
        self._let_go(spot)
        if spot.flow or colon is None or "\n" not in self.text[colon : spot.start]:
            self.pieces.append((spot.start, spot.end, new))
            return
        # Lines of their own below the key: the new value stands behind it, and they go.
        behind = self.text.index(":", colon) + 1
        self.pieces.append((behind, behind, f" {new}"))
        self._cut_lines(spot.start, spot.end)

    def _let_go(self, spot: _Spot) -> None:
        """What goes may not be repeated by what stays."""
        for inner in spot.within():
            if inner.kind != "alias" and inner.anchor in self.aliased:
                name = shown(inner.anchor)
                raise PrevizError(f"line {inner.line}: *{name} repeats this value; write it out where it is repeated")

    def _group(self, spot: _Spot, wanted: Mapping[str, Any]) -> None:
        gone = [key for key in spot.members if key not in wanted]
        new = [key for key in wanted if key not in spot.members]
        for key in spot.members.keys() & wanted.keys():
            self._value(spot.members[key].value, wanted[key], spot.members[key].key_end)
        for old, key in zip(gone, new, strict=False):  # one way to say it in the place of another
            member = spot.members[old]
            self._let_go(member.value)
            self.pieces.append((member.start, member.end, entry(key, wanted[key])))
        both = min(len(gone), len(new))
        added = [entry(key, wanted[key]) for key in new[both:]]
        stays = [key not in gone[both:] for key in spot.members]
        self._entries(spot, [*spot.members.values()], stays, added)

    def _list(self, spot: _Spot, wanted: Sequence[Any], colon: int | None) -> None:
        """Members are told by their ids, others by what they are."""
        before, after = [_told_by(item.plain) for item in spot.items], [_told_by(each) for each in wanted]
        runs = difflib.SequenceMatcher(None, before, after, autojunk=False).get_opcodes()
        if len(before) == len(after) and not any(each.startswith("id ") for each in before):
            runs = [("equal", 0, len(before), 0, len(after))]
        cut = sum(max(j - i - (m - k), 0) for _, i, j, k, m in runs)
        between = any(m - k > j - i and j < len(before) for _, i, j, k, m in runs)
        if between or (cut and len(after) > len(before) - cut):
            self._replace(spot, in_braces(wanted), colon)  # other members in another order
            return
        stays, added = [True] * len(before), []
        for _, i, j, k, m in runs:
            both = min(j - i, m - k)
            for item, value in zip(spot.items[i : i + both], wanted[k : k + both], strict=True):
                self._value(item, value, None)
            stays[i + both : j] = [False] * (j - i - both)
            added += [in_braces(value) for value in wanted[k + both : m]]
        self._entries(spot, spot.items, stays, added if spot.flow else [f"- {each}" for each in added])

    def _entries(
        self, spot: _Spot, entries: "Sequence[_Member | _Spot]", stays: Sequence[bool], added: Sequence[str]
    ) -> None:
        """Take entries of a group or list out, and put others behind them; at least one stays."""
        for number, entry_ in enumerate(entries):
            if not stays[number]:
                self._let_go(entry_.value if isinstance(entry_, _Member) else entry_)
        if spot.flow:
            self._out_of_braces(entries, stays)
            if added:
                self.pieces.append((entries[-1].end, entries[-1].end, "".join(f", {each}" for each in added)))
            return
        for number, each in enumerate(entries):
            if not stays[number]:
                start = each.start if isinstance(each, _Member) else self._dash(spot, each)
                self._lines_out(start, each.end)
        if added:
            end = self._line_end(entries[-1].end)
            self.pieces.append((end, end, "".join(f"{self.newline}{' ' * spot.column}{each}" for each in added)))

    def _out_of_braces(self, entries: "Sequence[_Member | _Spot]", stays: Sequence[bool]) -> None:
        last = max(number for number, stay in enumerate(stays) if stay)
        for number in range(last):
            if not stays[number]:
                self.pieces.append((entries[number].start, self._behind_comma(entries[number].end), ""))
        if last + 1 < len(entries):
            gap = self.text[entries[last].end : entries[last + 1].start]
            begin = entries[last + 1].start
            if "#" in gap:  # a comment that belongs to what stays
                self.pieces.append((entries[last].end, entries[last].end + gap.index(",") + 1, gap[: gap.index(",")]))
            else:
                begin = entries[last].end
            self.pieces.append((begin, entries[-1].end, ""))

    def _behind_comma(self, end: int) -> int:
        """Past the comma behind an entry in braces, and the space behind that."""
        at = self.text.index(",", end) + 1
        while self.text[at : at + 1] == " ":
            at += 1
        return at

    def _lines_out(self, start: int, end: int) -> None:
        """Take an entry out with its lines; of one that begins behind a dash, the next line moves up to it."""
        if not self.text[self._line_start(start) : start].strip():
            self._cut_lines(start, end)
            return
        ends = self._line_end(end)
        while self.text[ends : ends + 1] in (" ", "\r", "\n"):
            ends += 1
        self.pieces.append((start, ends, ""))

    def _cut_lines(self, start: int, end: int) -> None:
        """Cut whole lines, each with the break before it, so that what follows the last can be put behind them."""
        begins = self._line_start(start)
        if begins:
            self.pieces.append((self._line_end(begins - 1), self._line_end(end), ""))
            return
        following = self.text.find("\n", end) + 1
        self.pieces.append((0, following or len(self.text), ""))

    def _dash(self, spot: _Spot, item: _Spot) -> int:
        """Where the dash before an item stands."""
        at = item.start
        while at >= 0:
            at = self.text.rfind("-", 0, at)
            if at - self._line_start(at) == spot.column:
                return at
        raise PrevizError(_as_laid_out(item.line))

    def _line_start(self, at: int) -> int:
        return self.text.rfind("\n", 0, at) + 1

    def _line_end(self, at: int) -> int:
        """Before the break of the line that it is in."""
        end = self.text.find("\n", at)
        end = len(self.text) if end < 0 else end
        return end - 1 if self.text[end - 1 : end] == "\r" else end


def _told_by(value: Any) -> str:
    """What tells a member of a list from the others."""
    if isinstance(value, Mapping) and isinstance(value.get("id"), str):
        return f"id {value['id']}"
    return json.dumps(value, sort_keys=True, default=str)


# --- how values are written ---


def entry(key: str, value: Any) -> str:
    """A key with its value: `at: [70 cm, 30 cm]`."""
    return f"{in_braces(key)}: {in_braces(value)}"


def in_braces(value: Any) -> str:
    """Plain data as text that may stand anywhere in a file, on one line.

    >>> in_braces({"at": [700, "30 cm"], "colour": "#8b8a86", "id": "4", "lit": True})
    '{at: [700, 30 cm], colour: "#8b8a86", id: "4", lit: true}'
    """
    if isinstance(value, Mapping):
        return f"{{{', '.join(entry(str(key), each) for key, each in value.items())}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(in_braces, value))}]"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return repr(value)
    text = str(value)
    if "\n" not in text and same(_read_back(text), text):
        return text
    return json.dumps(text, ensure_ascii=False)


def _read_back(text: str) -> Any:
    """What text stands for wherever it stands; None where that is not one and the same."""
    try:
        root, slips = tree_of(f"a: [{{{text}: 0}}, {{b: {text}}}, {text}]\nb: {text}\n")
    except Unreadable:
        return None
    found = root.plain()
    value = found.get("b")
    return value if not slips and same(found, {"a": [{text: 0}, {"b": value}, value], "b": value}) else None
