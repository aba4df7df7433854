"""In what a shot that another camera takes over differs from what was asked; the refusal where nothing is near."""

from dataclasses import dataclass

from previz.errors import PrevizError
from previz.scene import Shot
from previz.units import LENGTH, text_of


class CannotMatch(PrevizError):
    """Nothing near is possible for a camera; the message says why, beginning with the camera's name.

    remedy: what would make it possible.
    """

    def __init__(self, message: str, remedy: str = "") -> None:
        super().__init__(message)
        self.remedy = remedy


@dataclass(frozen=True)
class Difference:
    """One thing in which a shot taken over differs from what was asked for.

    Parameters
    ----------
    of : str
        `framing` (width of the picture over the width asked for), `focal_length` [m], `moved` (backward, below zero
        nearer [m]), `light` (on the sensor, above zero more [stops]), `exposure` (too bright, below zero too dark
        [stops]), `depth` (of field [m]), `slowdown` (capture over playback rate), `speed` (on screen, over that of the
        shot's own camera), `picture` (pixels over the shot's), `want` (the figure of one that is missed).
    value : float
    words : str
    """

    of: str
    value: float
    words: str


@dataclass(frozen=True)
class Taken:
    """A shot as another camera takes it over, and every difference from what was asked for."""

    shot: Shot
    differences: tuple[Difference, ...] = ()


# --- numbers in words ---


def millimetres(focal_length: float) -> str:
    """A focal length [m] as it is engraved; one that was worked out no finer than a hundredth or so.

    >>> millimetres(0.0104), millimetres(0.006779)
    ('10.4 mm', '6.78 mm')
    """
    return text_of(LENGTH, float(f"{focal_length:.3g}"))


def percent(share: float) -> str:
    """A share, finer where it is small.

    >>> percent(0.0154), percent(0.354)
    ('1.5 %', '35 %')
    """
    return f"{100 * share:.2g} %" if share < 0.1 else f"{100 * share:.0f} %"


def stops_of(count: float) -> str:
    """Stops of light, to the tenth.

    >>> stops_of(1.0), stops_of(0.33)
    ('1.0 stop', '0.3 stops')
    """
    text = f"{count:.1f}"
    return f"{text} stop{'' if text == '1.0' else 's'}"
