"""The running order as written: which stretches of which shots follow each other, and how each comes in."""

import re
from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import WithJsonSchema

from previz import units
from previz.scene.fields import FileUnits, Form, Identity, Part, PositiveTime, quantity, series, short, told, whole
from previz.scene.values import groups_of, value_of
from previz.scene.yaml_tree import Steps
from previz.units import QuantityError, shown

#: More than so many stretches are no film from one table; each is a picture on the page.
MOST_ENTRIES = 500

ScreenTime: Any = quantity(units.TIME, at_least=0, at_most=3600)
DissolveFrames: Any = whole(1, 1000)


class Dissolve(Part):
    """For how long two shots are seen at once: `12 frames` or `0.5 s`, or one of these keys."""

    frames: DissolveFrames | None = told("of the cut", None, unless="give this or time", like="12")
    time: PositiveTime | None = told("on screen", None, unless="give this or frames", like="0.5 s")

    exactly_one = ((("frames", "time"), "like 12 frames or 0.5 s"),)


def _dissolve(found: object) -> object:
    if isinstance(found, dict | Dissolve):
        return found
    text = found.strip() if isinstance(found, str) else ""
    if match := re.fullmatch(r"(\d{1,6})\s*frames?", text, flags=re.ASCII):
        return {"frames": int(match[1])}
    if units.unit_of(units.TIME, text):
        return {"time": text}
    raise QuantityError(
        f"{shown(found)} is not a dissolve; write it like 12 frames or 0.5 s, or leave it out for a cut"
    )


def _dissolve_text(dissolve: Dissolve) -> str:
    if dissolve.frames is not None:
        return f"{dissolve.frames} frames"
    assert dissolve.time is not None  # a Dissolve has one of the two
    return units.text_of(units.TIME, dissolve.time)


_FRAMES = Annotated[str, WithJsonSchema({"type": "string", "pattern": r"^\s*[0-9]{1,6}\s*frames?\s*$"})]
AnyDissolve: Any = short(
    _dissolve, Dissolve, _FRAMES, PositiveTime, form=Form("frames or time", "12 frames", write=_dissolve_text)
)


class Entry(Part):
    """One stretch of a shot in the running order: the shot's id alone for the whole of it, or these keys.

    Times are seconds of screen time, from the shot's first frame on; they are taken to the nearest frame. The same shot
    may stand several times.
    """

    shot: Identity = told("its id under shots", like="pass")
    in_point: ScreenTime = told("where it begins, on screen", 0.0, like="0.5 s")
    out_point: PositiveTime | None = told("where it ends, on screen", None, unless="the shot's end", like="2.5 s")
    dissolve: AnyDissolve | None = told("in which it comes in over the end of the one before", None, unless="a cut")


def _entry(found: object) -> object:
    return {"shot": found} if isinstance(found, str) else found


_Id = Annotated[str, WithJsonSchema({"type": "string", "pattern": "^[A-Za-z]"})]
Sequence: Any = series(
    short(_entry, Entry, _Id),
    at_least=1,
    what="stretches of shots",
    example="[approach, {shot: pass, dissolve: 12 frames}]",
)


def sequence_faults(data: Mapping[str, Any], file: FileUnits) -> Iterator[tuple[Steps, str]]:
    """What of a running order cannot be, as far as the file's text alone says it."""
    entries = data.get("sequence")
    if not isinstance(entries, list):
        return
    if len(entries) > MOST_ENTRIES:
        yield ("sequence",), f"{len(entries)} stretches; at most {MOST_ENTRIES} make a cut: take some out"
    for number, entry in groups_of([_entry(each) for each in entries]):
        begins, ends = (value_of(Entry, key, entry, file) for key in ("in_point", "out_point"))
        if begins is not None and ends is not None and ends <= begins:
            yield (
                ("sequence", number, "out_point"),
                f"{shown(entry['out_point'])} is not after the in point, {units.text_of(units.TIME, begins)}; "
                "let it end later",
            )
        if number == 0 and entry.get("dissolve") is not None:
            yield (
                ("sequence", number, "dissolve"),
                "the first has nothing before it to come in over; leave the dissolve out",
            )
