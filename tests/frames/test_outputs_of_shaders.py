"""Where a shader writes several pictures, each is numbered: drivers may number what is not as they like."""

import re
from pathlib import Path

import pytest

import previz

SHADERS = Path(previz.__file__).parent / "frames" / "gl" / "shaders"


@pytest.mark.parametrize("name", sorted(path.name for path in SHADERS.glob("*.frag")))
def test_each_of_several_outputs_is_numbered(name: str) -> None:
    text = re.sub(
        r'^#include "([\w.]+)"$', lambda found: (SHADERS / found[1]).read_text(), (SHADERS / name).read_text(),
        flags=re.MULTILINE,
    )  # fmt: skip
    outputs = re.findall(r"^(layout\(location = \d\) )?out \w+ \w+;", text, flags=re.MULTILINE)
    assert len(outputs) < 2 or all(outputs), outputs
    assert len(set(outputs)) == len(outputs)
