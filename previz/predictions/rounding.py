"""Numbers as people read them."""

import math

from previz.physics.exposure import THIRD_STOP_ISOS, nearest_third_stop
from previz.predictions.glossary import Quantity
from previz.units import beyond_numbers, in_sixteenths, percent


def rounded(value: float, digits: int) -> str:
    """To significant digits, never in powers of ten; whole numbers keep all their digits.

    >>> rounded(0.0123456, 3), rounded(123456.0, 3), rounded(-0.0, 3), rounded(float("inf"), 3)
    ('0.0123', '123456', '0', 'infinity')
    """
    word = beyond_numbers(value)
    if word:
        return word
    if abs(value) < 1e-9:
        return "0"
    if abs(value) >= 10 ** (digits - 1):
        return f"{value:.0f}" if abs(value) >= 10**digits else f"{value:.{max(digits - len(str(int(abs(value)))), 0)}f}"
    return f"{value:.{digits}g}"


def significant(value: float, digits: int) -> str:
    """To significant digits, also where that rounds a whole number: for estimates.

    >>> significant(2397.0, 2), significant(261.4, 2), significant(16.4, 2), significant(0.0312, 2)
    ('2400', '260', '16', '0.031')
    """
    return rounded(float(f"{value:.{digits}g}"), digits)


def iso_shown(iso: float) -> str:
    """An ISO that was worked out, as a camera has it, in third stops; past those that cameras have to two digits.

    >>> iso_shown(4052.3), iso_shown(23416.0), iso_shown(7.83), iso_shown(25_160_000.0)
    ('4000', '25600', '7.8', '25000000')
    """
    word = beyond_numbers(iso)
    if word or not THIRD_STOP_ISOS[0] / 1.12 <= iso <= THIRD_STOP_ISOS[-1] * 1.12:
        return word or (f"{float(f'{iso:.2g}'):.0f}" if iso >= 10 else f"{iso:.2g}")
    return str(nearest_third_stop(iso))


def in_figures(value: float, quantity: Quantity, *, decimals: bool = False) -> str:
    """A figure as it stands in tables, in the unit it is shown in; decimals: as of `overview.rows`.

    >>> from previz.predictions.glossary import GLOSSARY
    >>> in_figures(0.045000001, GLOSSARY["full_size_pupil"].on("cm")), in_figures(1234.0, GLOSSARY["iso_needed"])
    ('4.5', '1250')
    """
    value = value * quantity.factor
    if quantity.as_scale:
        return f"1:{significant(max(1 / value, 1.0), 2)}"
    if quantity.marked:
        return iso_shown(value)
    if quantity.estimate:
        return significant(value, quantity.digits)
    in_marks = quantity.shown == "in" and not decimals and 0.5 <= abs(value) < math.inf
    return in_sixteenths(value) if in_marks else rounded(value, quantity.digits)


def small_percent(share: float) -> str:
    """A share of a picture in percent; what is there at all is never told as none.

    >>> small_percent(0.0123), small_percent(0.0004), small_percent(1e-6)
    ('1.2 %', '0.04 %', 'less than 0.01 %')
    """
    return percent(share, 1) if share >= 0.001 else percent(share, 2) if share >= 1e-4 else "less than 0.01 %"
