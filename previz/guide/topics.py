"""The topics of the guide, in the order in which one reads them."""

from pathlib import Path

#: Each is a file of `words/`: a title, an empty line, and a page of text that is as wide as a terminal.
TOPICS = ("example", "axes", "cameras", "launch", "lamps", "wants", "shots", "cut", "fake")

_WORDS = Path(__file__).parent / "words"


def guide_page(topic: str) -> str:
    """The page on a topic of `TOPICS`, as it is printed.

    What is indented by four spaces is a command to run, or keys to write into a scene.

    Raises
    ------
    KeyError
        Where there is no such topic.

    >>> guide_page("axes").splitlines()[0]
    'Axes and units: where things are, and how lengths are written'
    """
    if topic not in TOPICS:
        raise KeyError(topic)
    return (_WORDS / f"{topic}.txt").read_text(encoding="utf-8")


def guide_titles() -> tuple[tuple[str, str], ...]:
    """Every topic and its title.

    >>> dict(guide_titles())["lamps"]
    'Lamps: how much light, from where, and how hard'
    """
    return tuple((topic, guide_page(topic).partition("\n")[0]) for topic in TOPICS)
