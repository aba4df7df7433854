"""Lamps on the mains: which shutters and rates hide their pulse.

A lamp fed from the mains without a driver pulses at twice the mains frequency. A shutter open for whole pulses
gathers the same light in every frame; so does a rate that meets the same part of the pulse each time.
"""

import math

#: Left-over ripple that still counts as even light. Common practice, no source. [-]
EVEN_LIGHT = 0.01

#: Pulses of light a second for each mains frequency [Hz]. dial.de on IEEE 1789; davidsatz.com.
PULSES = {50: 100, 60: 120}


def residual_ripple(exposure_time: float, pulses: float) -> float:
    """Ripple left in the frames of a lamp with full ripple: |sin(x) / x|, x = pi p t. [-]

    The mean of 1 + cos(2 pi p t) over a window t swings by that share about its own mean, as the window's start moves.

    Parameters
    ----------
    exposure_time : float
        t. [s]
    pulses : float
        p, pulses of light a second. [1/s]

    Examples
    --------
    >>> round(residual_ripple(1 / 50, 100), 6), round(residual_ripple(1 / 48, 100), 4)
    (0.0, 0.0395)
    """
    x = math.pi * pulses * exposure_time
    return abs(math.sin(x) / x)


def steady(rate: float, exposure_time: float, pulses: float) -> bool:
    """Whether every frame gets the same light.

    Either the shutter spans whole pulses, or the rate divides the pulses (each frame meets the same part of one).
    With a rolling read-out the second leaves bands that stand still.

    Examples
    --------
    >>> steady(25, 1 / 50, 100), steady(24, 1 / 48, 120), steady(24, 1 / 48, 100)
    (True, True, False)
    """
    pulses_a_frame = pulses / rate
    same_part_each_frame = round(pulses_a_frame) >= 1 and abs(pulses_a_frame - round(pulses_a_frame)) < 1e-6
    return same_part_each_frame or residual_ripple(exposure_time, pulses) <= EVEN_LIGHT


def steady_shutters(rate: float, pulses: float) -> tuple[float, ...]:
    """Exposure times that are safe at a rate, shortest first: n / p up to a whole frame. [s]

    Empty above `pulses` frames a second: a frame is then shorter than a pulse and no shutter is safe.

    Examples
    --------
    >>> [round(360 * 25 * time) for time in steady_shutters(25, 120)]
    [75, 150, 225, 300]
    >>> steady_shutters(240, 120)
    ()
    """
    return tuple(n / pulses for n in range(1, math.floor(pulses / rate + 1e-9) + 1))


def steady_rates(pulses: int, slowest: int = 10) -> tuple[float, ...]:
    """Frame rates that are safe with any shutter: p / k. [frames/s]

    Examples
    --------
    >>> steady_rates(120, slowest=20)
    (120.0, 60.0, 40.0, 30.0, 24.0, 20.0)
    """
    return tuple(pulses / k for k in range(1, pulses // slowest + 1))
