"""Every file in broken/ is told exactly what its first lines say: `# expect: <line> | <beginning of the message>`."""

import re
from pathlib import Path

import pytest

from previz.errors import SceneErrors
from previz.scene import read_scene

BROKEN = sorted((Path(__file__).parent / "broken").glob("*.yaml"))


def test_there_are_broken_scenes_to_read() -> None:
    assert len(BROKEN) >= 45


@pytest.mark.parametrize("path", BROKEN, ids=lambda path: path.stem)
def test_a_broken_scene_is_told_exactly_its_faults(path: Path) -> None:
    lines = path.read_text(encoding="utf-8").splitlines()
    expected = [re.fullmatch(r"# expect: (\d+) \| (.+)", line) for line in lines if line.startswith("# expect:")]
    assert expected and all(expected)
    with pytest.raises(SceneErrors) as caught:
        read_scene(path)
    told = [f"{fault.line} | {fault.key + ': ' if fault.key else ''}{fault.message}" for fault in caught.value.faults]
    wanted = [f"{match[1]} | {match[2]}" for match in expected if match]
    assert len(told) == len(wanted), "\n".join(told)
    for line, beginning in zip(told, wanted, strict=True):
        assert line.startswith(beginning)
    # What is printed is one line a fault, with the file's name and the line before it.
    printed = str(caught.value).splitlines()
    assert len(printed) == len(told)
    assert all(each.startswith(f"{path}:") for each in printed)
    # Nothing of the libraries behind it shows.
    assert not re.search(r"pydantic|ruamel|Traceback|Value error|Input should|errors\.py", str(caught.value))
