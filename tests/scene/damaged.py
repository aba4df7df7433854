"""A hail of mutations of a good scene: what nobody would write on purpose, and everybody does by a slip."""

import random
from pathlib import Path

GOOD = Path(__file__).parent / "good.yaml"
TEXT = GOOD.read_text(encoding="utf-8")

_SCALARS = [
    *("", "~", "true", "-1", "0", "1e999", ".nan", "999999999999", "road", "vehicle", "1:50", "f/2", "12 mm", "7 %"),
    *("[]", "{}", "[1, 2]", "{a: 1}", "- x", "'", '"', "*a", "&a x", "!!int x", "?", "|", "\t", "\x85", "é", "#"),
]


def mutated(rng: random.Random, text: str = TEXT) -> str:
    """A text, the good scene's unless another is given, with a few pieces or lines deleted, swapped or replaced."""
    for _ in range(rng.randint(1, 4)):
        lines = text.split("\n")
        a, b = rng.randrange(len(lines)), rng.randrange(len(lines))
        start = rng.randrange(len(text) or 1)
        end = min(len(text), start + rng.choice([1, 1, 2, 5, 20]))
        match rng.randrange(7):
            case 0:
                del lines[a]
                text = "\n".join(lines)
            case 1:
                lines[a], lines[b] = lines[b], lines[a]
                text = "\n".join(lines)
            case 2:
                lines.insert(a, lines[b])
                text = "\n".join(lines)
            case 3:
                text = text[:start] + text[end:]
            case 4:
                text = text[:start] + rng.choice(_SCALARS) + text[end:]
            case 5:  # another value for one key
                parts_of_line = lines[a].split(": ", 1)
                lines[a] = ": ".join([parts_of_line[0], rng.choice(_SCALARS)])
                text = "\n".join(lines)
            case _:
                text = text[:start] + rng.choice(list("{}[],:#&*!|>'\"%@`-? \n\t")) + text[start:]
    return text
