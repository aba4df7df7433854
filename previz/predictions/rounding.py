"""Numbers as people read them."""

from previz.units import beyond_numbers


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


def small_percent(share: float) -> str:
    """A share of a picture in percent; what is there at all is never told as none.

    >>> small_percent(0.0123), small_percent(0.0004), small_percent(1e-6)
    ('1.2%', '0.04%', 'less than 0.01%')
    """
    return f"{share:.1%}" if share >= 0.001 else f"{share:.2%}" if share >= 1e-4 else "less than 0.01%"
