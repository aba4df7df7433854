"""What is to be seen now. One thread puts it up, any number of pages look at it."""

import json
from collections import deque
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from threading import Lock
from typing import Any

#: Of each kind, so many pictures stay: a page may ask for one just as the next is put up.
_KEPT = 3


@dataclass(frozen=True)
class ShotShown:
    """A shot that can be chosen: its frames, the first one's time on set and from one to the next. [s]"""

    id: str
    frames: int
    first: float
    step: float


@dataclass(frozen=True)
class Told:
    """One fault: where it is (`line 12`, or "" where it has no line), what it is, and that line of the file."""

    place: str
    message: str
    source: str = ""


@dataclass(frozen=True)
class FindingShown:
    """What will not work as planned: its first sentence, what else there is to say of it, and what to change."""

    verdict: str
    shot: str
    first: str
    rest: str
    remedy: str


@dataclass(frozen=True)
class CareShown:
    """Where somebody can be hurt, and the usual precaution."""

    because: str
    precaution: str


@dataclass(frozen=True)
class ClipShown:
    """A clip of a shot: frames from one of its pictures to the next, and pictures a second. flashes: a warning."""

    name: str
    shot: str
    step: int
    rate: float
    flashes: str


@dataclass(frozen=True)
class SheetShown:
    """A sheet of the plan: its picture, and what it is in a word or two."""

    picture: str
    says: str


@dataclass(frozen=True)
class Shown:
    """All that a page shows. Pictures go by name.

    still, at
        The picture of the frame `at` of the shot `shot`.
    faults
        Of the file as it was saved last; the rest is then as it was before.
    doing
        What is being worked on; "" at rest.
    took
        From the save to the picture; None where no save led to it. [s]
    """

    title: str = ""
    shots: tuple[ShotShown, ...] = ()
    shot: str = ""
    at: int = 0
    still: str = ""
    clip: ClipShown | None = None
    plan: tuple[SheetShown, ...] = ()
    findings: tuple[FindingShown, ...] = ()
    fine: int = 0
    cautions: tuple[CareShown, ...] = ()
    faults: tuple[Told, ...] = ()
    doing: str = ""
    took: float | None = None


class Board:
    """What is shown, numbered anew with every change, and the pictures it names."""

    def __init__(self) -> None:
        self._lock = Lock()
        self._version, self._shown = 0, Shown()
        self._pictures: dict[str, bytes] = {}
        self._names: dict[str, deque[tuple[str, ...]]] = {}
        self._hung = 0
        self.over = False

    @property
    def shown(self) -> Shown:
        """What is shown now."""
        return self._shown

    def show(self, **changes: Any) -> None:
        """Change some of what is shown, all at once."""
        with self._lock:
            new = replace(self._shown, **changes)
            if new != self._shown:
                self._shown, self._version = new, self._version + 1

    def hang(self, data: bytes, kind: str) -> str:
        """Keep a picture of a kind (`png`, `mp4`, `svg`); returns the name by which it can be fetched."""
        (name,) = self.hang_all([data], kind)
        return name

    def hang_all(self, pictures: Sequence[bytes], kind: str) -> tuple[str, ...]:
        """The same of several, kept as long as each other."""
        with self._lock:
            names = tuple(f"{self._hung + number}.{kind}" for number in range(1, len(pictures) + 1))
            self._hung += len(pictures)
            self._pictures.update(zip(names, pictures, strict=True))
            hung = self._names.setdefault(kind, deque())
            hung.append(names)
            if len(hung) > _KEPT:
                for name in hung.popleft():
                    del self._pictures[name]
        return names

    def picture(self, name: str) -> bytes | None:
        """The picture of that name, if it is still kept."""
        return self._pictures.get(name)

    def news(self) -> tuple[int, str]:
        """What is shown and its number, as JSON."""
        with self._lock:
            version, shown = self._version, self._shown
        return version, json.dumps(asdict(shown))

    @property
    def version(self) -> int:
        """The number of what is shown."""
        return self._version

    def take_down(self) -> None:
        """Nothing new will come."""
        self.over = True
