"""Everything that can be wrong with what a person gave us.

    PrevizError                 one message a person can act on; exit code 2
    ├── SceneErrors             every fault found in one scene file, each with its line
    ├── ShotFault               a shot asks of its camera what cannot be at some moment
    └── MachineError            this machine lacks something (no OpenGL, no video encoder, a full disk)

A shot that is described well but will not work is *not* an error: it is a `previz.predictions.Finding`.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any


class PrevizError(Exception):
    """A fault the user can mend; `str(error)` is the whole message, ready to print."""

    def __reduce__(self) -> tuple[Any, ...]:
        """As it is sent from a process: whatever its parts, they arrive as they are."""
        return _arrived, (type(self), self.args, self.__dict__)


def _arrived(kind: type[PrevizError], said: tuple[Any, ...], parts: dict[str, Any]) -> PrevizError:
    error = kind.__new__(kind, *said)
    error.__dict__.update(parts)
    return error


class ShotFault(PrevizError):
    """A shot asks what cannot be at some moment: to focus behind its camera, to begin when the run is over.

    shot is its id, key which of its keys asks it (`focus`); said is what is wrong, remedy what to do; quantity, value
    and limit are those of a finding. [SI]
    """

    def __init__(self, shot: str, key: str, said: str, remedy: str, *, quantity: str, value: float, limit: float):
        self.shot, self.key, self.said, self.remedy = shot, key, said, remedy
        self.quantity, self.value, self.limit = quantity, value, limit
        super().__init__(f"shot {shot!r}: {said}. {remedy}")


class FileFault(PrevizError):
    """What a scene names or measured turns out not to be usable: a file, or timed runs.

    steps lead to the key that says it: ("dressing", 2, "mesh").
    """

    def __init__(self, steps: tuple[str | int, ...], said: str):
        self.steps, self.said = steps, said
        super().__init__(said)


class MachineError(PrevizError):
    """This machine lacks something the job needs; the message says what to install or free."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in a scene file.

    line is 1-based, or None where the fault belongs to the whole file; key is the dotted place
    (`shots[0].f_number`), message says what was found, what is allowed and what to do.
    """

    line: int | None
    key: str
    message: str


class SceneErrors(PrevizError):
    """All faults of one scene file, in the order of their lines."""

    def __init__(self, path: Path, faults: list[Fault]) -> None:
        self.path = path
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.line or 0, fault.key)))
        super().__init__("\n".join(self._sentence(fault) for fault in self.faults))

    def _sentence(self, fault: Fault) -> str:
        place = f"{self.path}:{fault.line}" if fault.line else f"{self.path}"
        return f"{place}: {fault.key}: {fault.message}" if fault.key else f"{place}: {fault.message}"
