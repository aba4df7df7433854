"""What is wrong with a file: pydantic's errors and slips of the text in our words, each with its line and key."""

from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import ValidationError

from previz.errors import Fault
from previz.scene.fields import Misspelt
from previz.scene.yaml_tree import Node, Slip, Steps
from previz.units import LENGTH, UnitMissing, shown


@dataclass(frozen=True)
class Wrong:
    """A fault by its place in the data; its line and key are looked up when all are known.

    meant: the key that was most likely meant, of one that is misspelt.
    """

    steps: Steps
    message: str
    line: int | None = None
    meant: str | None = None


def faults_of(root: Node, slips: Sequence[Slip], found: Sequence[Wrong]) -> list[Fault]:
    """Everything wrong with a file, each once, with its line and key.

    What is wrong with the text of a value explains whatever else is said about it.
    """
    slipped = {slip.path for slip in slips}
    wrongs = [Wrong(slip.path, slip.message, slip.line) for slip in slips]
    wrongs += [each for each in found if not any(each.steps[:size] in slipped for size in range(len(each.steps) + 1))]
    return list(
        dict.fromkeys(
            Fault(each.line or root.line_of(each.steps), key_of(root, each.steps), each.message) for each in wrongs
        )
    )


def translated(root: Node, error: ValidationError) -> list[Wrong]:
    """Pydantic's errors as ours. Bare lengths in a file without `units` are one fault, however many there are."""
    wrongs: list[Wrong] = []
    bare_lengths: list[Wrong] = []
    for each in error.errors(include_url=False):
        reason = each.get("ctx", {}).get("error")
        message = str(reason) if isinstance(reason, ValueError) else f"{shown(each['input'])} does not belong here"
        meant = reason.meant if isinstance(reason, Misspelt) else None
        wrong = Wrong(_steps(root, each["loc"]), message, meant=meant)
        bare = isinstance(reason, UnitMissing) and reason.dimension is LENGTH
        (bare_lengths if bare else wrongs).append(wrong)
    if len(bare_lengths) < 2:
        return wrongs + bare_lengths
    first = min(bare_lengths, key=lambda wrong: root.line_of(wrong.steps))
    advice = "write units: mm at the top of the file, or a unit behind each of them, like 35 mm"
    return [*wrongs, Wrong(first.steps, f"this and {len(bare_lengths) - 1} more lengths have no unit; {advice}")]


def _steps(root: Node, location: tuple[int | str, ...]) -> Steps:
    """Pydantic's location as a path in the file: without its marks, and not into what a short form stands for."""
    node, steps = root, []
    for step in location:
        child = node.child(step)
        if child is not None:
            node = child
            steps.append(step)
        elif isinstance(node.value, dict) and isinstance(step, str) and not step.startswith(("<", "[")):
            return (*steps, step)  # a key that is missing
    return tuple(steps)


def key_of(root: Node, steps: Steps) -> str:
    """The dotted key: `shots[pass].capture.rate`."""
    node: Node | None = root
    text = ""
    for step in steps:
        node = node.child(step) if node else None
        if isinstance(step, str):
            text += f".{shown(step)}" if text else shown(step)
        else:
            named = node.child("id") if node else None
            text += f"[{shown(named.value, 40) if named and isinstance(named.value, str) else step}]"
    return text
