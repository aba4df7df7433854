"""What `previz new` asks on a terminal, each question with what its answers mean and an example."""

import json
import re
import sys
from collections.abc import Callable, Collection, Iterable, Mapping
from typing import TYPE_CHECKING, TypeVar

import typer

from previz.cli.saying import say, say_fault
from previz.errors import PrevizError

if TYPE_CHECKING:
    from previz.scene import Camera

Answer = TypeVar("Answer")

TABLE = "How large is your table? Its width and depth, like 1400x700 mm, 140 x 70 cm or 55 x 28 in"
SCALE = "What scale are your models? Like 1:43 or H0; or measure one, like 72 mm for 4.5 m"

#: What moves the vehicle; the last where there is room for it and it is filmed from the side.
DRIVES = {
    "motor": "its own motor, at an even speed",
    "thread": "a line that pulls it, wound up at an even speed out of the picture",
    "hand": "your hand, as evenly as it can",
    "ramp": "none of these: it is let go on a ramp beside the picture",
}

_CAMERA = """What do you film with?
  phone    a typical one, 24 mm equivalent
  pocket   a compact camera with a 1-inch sensor and a zoom
  big      a full-frame camera with a 24-70 mm zoom
  own      yours, by a few questions
Which"""

#: What ends the question for further cameras.
_NO_MORE = "no more"

_ANOTHER = f"Another, to compare with: phone, pocket, big or own; or {_NO_MORE}"

#: What is asked of a camera of one's own: the key of a scene file, the question and what is usual.
_OF_ITS_OWN = (
    ("sensor", "Its sensor as it is sold: full frame, APS-C, MFT, 1-inch, 1/1.3", "APS-C"),
    (
        "lens",
        "Its lens as it stands on it: 35 mm f/2, 18-55 mm f/3.5-5.6; of a phone 24 mm equivalent f/1.8",
        "18-55 mm f/3.5-5.6",
    ),
    ("smallest", "Its smallest aperture; a phone mostly has one alone, then that", "f/22"),
    ("nearest", "How near it focuses, from the middle of the lens", "200 mm"),
    ("modes", "What it records, size and the most frames a second, like 1080p120, 4k30", "1080p60"),
    (
        "body",
        "Its body's width, height and depth, like 120 x 70 x 60 mm, so that check sees what it would stand in; or skip",
        "skip",
    ),
)


class Questions:
    """Asked on a terminal for what is not given; keeps the options that would say the same."""

    def __init__(self) -> None:
        self.options: list[str] = []
        self.asked = False

    def answer(
        self, option: str, given: str | None, question: str, usual: str, read: Callable[[str], Answer]
    ) -> Answer:
        """What an option says as `read` has it: given, else typed on a terminal, else as it usually is."""
        text, found = self.found(given, question, usual, read)
        self.options += [option, text]
        return found

    def found(self, given: str | None, question: str, usual: str, read: Callable[[str], Answer]) -> tuple[str, Answer]:
        """The same as it was written, and as read. What cannot be read is told, and on a terminal asked for again."""
        if given is not None or not on_a_terminal():
            text = usual if given is None else given.strip()
            return text, read(text)
        if not self.asked:
            say("A few questions about what you have. Enter takes what stands in brackets.")
        self.asked = True
        while True:
            text = typer.prompt(question, default=usual, err=True).strip()
            try:
                return text, read(text)
            except PrevizError as error:
                say_fault(str(error))


def drive_question(*, rolls: bool) -> str:
    """What moves the vehicle, with a ramp where it rolls off one in the picture that is asked for."""
    ways = "".join(f"\n  {name:9}{says}" for name, says in DRIVES.items() if rolls or name != "ramp")
    return f"What moves it?{ways}\nWhich"


def one_of(choices: Collection[str], what: str) -> Callable[[str], str]:
    """Reads one of a few words; `what` says in an error what they are."""
    from previz.scene import choose_from, taken_for

    def read(text: str) -> str:
        text = taken_for(text, what) or text
        if text not in choices:
            raise PrevizError(choose_from(text, choices, what))
        return text

    return read


def on_a_terminal() -> bool:
    """Whether somebody is there to answer."""
    return sys.stdin.isatty() and sys.stderr.isatty()


# --- cameras ---


def cameras_of(given: Iterable[str] | None, unit: str, questions: Questions) -> "dict[str, tuple[str, Camera]]":
    """By name, each as it stands in a scene file, and as it was read; the first films, others are to compare with.

    unit: that of bare lengths in the file.
    """
    from previz.starters import TYPICAL, camera_text, told_of_its_one_stop

    own: dict[str, tuple[str, Camera]] = {}

    def add(text: str) -> bool:
        """Whether an answer meant a camera, which is among them then."""
        if text == _NO_MORE and own:
            return False
        name, written, camera = (
            _own_camera(own, questions) if text == "own" and questions.asked else camera_text(text, unit)
        )
        if name in own:
            raise PrevizError(f"--camera: {name} is given twice; give each camera a name of its own")
        if told := told_of_its_one_stop(name, written, camera):
            say(told)
        own[name] = (written, camera)
        return True

    wrong = []
    for text in given or ():
        try:
            add(text)
        except PrevizError as error:  # what is wrong with the others is told with it
            wrong.append(str(error))
    if wrong:
        raise PrevizError("\n".join(wrong))
    if not own:
        questions.found(None, _CAMERA, "pocket", add)
        while on_a_terminal() and questions.found(None, _ANOTHER, _NO_MORE, add)[1]:
            pass
    for name, (written, _) in own.items():
        questions.options += ["--camera", name if TYPICAL.get(name) == written else f"{name}: {written}"]
    return own


def _own_camera(known: Collection[str], questions: Questions) -> "tuple[str, str, Camera]":
    """A camera of the maker's own, asked for key by key until it can be read."""
    from previz.starters import camera_text

    name = next(name for name in ("mine", *(f"mine_{number}" for number in range(2, 99))) if name not in known)
    said: dict[str, str] = {}
    while True:
        for key, question, usual in _OF_ITS_OWN:
            usual = said.get(key) or (_only_stop(said) if key == "smallest" else None) or usual
            said[key], _ = questions.found(None, question, usual, str)
        written = ", ".join(f"{key}: {_in_a_file(key, text)}" for key, text in said.items() if text != "skip")
        try:
            return camera_text(f"{name}: {{{written}}}")
        except PrevizError as error:
            say_fault(str(error))
            say("once more; Enter keeps what you wrote")


def _only_stop(said: Mapping[str, str]) -> str | None:
    """Of a phone's lens, which does not close: what is written on it; a phone's sensor is sold as 1 over something."""
    stop = re.search(r"[fF]\s*/?\s*([0-9.]+)\s*$", said["lens"])
    return f"f/{stop[1]}" if stop and said["sensor"].startswith("1/") else None


def _in_a_file(key: str, text: str) -> str:
    """An answer as the file has that key.

    >>> _in_a_file("modes", "1080p60, 4k30"), _in_a_file("body", "12 x 7.5 x 6 cm"), _in_a_file("body", "120x75x60")
    ('[1080p60, 4k30]', '[12 cm, 7.5 cm, 6 cm]', '[120 mm, 75 mm, 60 mm]')
    """
    if key == "modes":
        return f"[{text}]"
    sides = re.split(r"\s*[x×,]\s*", text) if key == "body" else []
    if len(sides) == 1 or not sides:
        return _quoted(text)
    unit = re.sub(r"[0-9. ]+", "", sides[-1])
    written = (f"{side} {unit}".strip() if re.fullmatch("[0-9.]+", side) else side for side in sides)
    return f"[{', '.join(map(_quoted, written))}]"


def _quoted(text: str) -> str:
    """A value as it stands in YAML, a bare length with the unit that cameras go by.

    >>> _quoted("18-55 mm f/3.5-5.6"), _quoted("24 mm equivalent, f/1.8"), _quoted("200")
    ('18-55 mm f/3.5-5.6', '"24 mm equivalent, f/1.8"', '200 mm')
    """
    if re.fullmatch(r"[0-9.]+(\s*[-–]\s*[0-9.]+)?", text):
        return f"{text} mm"
    return text if re.fullmatch(r"[\w./][\w ./–-]*", text) else json.dumps(text, ensure_ascii=False)
