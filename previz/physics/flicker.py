"""Lamps on the mains: which shutters and rates hide their pulse.

A lamp fed from the mains without a driver pulses at twice the mains frequency. A shutter open for whole pulses gathers
the same light in every row of every frame. Any other leaves a ripple, and it shows in two ways: from frame to frame,
unless the rate meets the same part of the pulse each time; and as bands across each frame, where the sensor reads out
row by row and so exposes its rows at different parts of a pulse.
"""

import math

# Limits of ripple, a swing about the mean. Common practice, no source. [-]
EVEN_LIGHT = 0.01  # still counts as even light
HALF_A_STOP = 0.17  # (1 + r) / (1 - r) = sqrt(2): half a stop from the darkest to the brightest, which nobody overlooks

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


def ripple_between_frames(rate: float, exposure_time: float, pulses: float) -> float:
    """Ripple of a row's light from one frame to the next, for a lamp with full ripple. [-]

    None where the rate divides the pulses: each frame then meets the same part of one. Else all that the shutter
    leaves; with a rolling read-out it shows as bands that travel.

    Parameters
    ----------
    rate : float
        Frames a second. [1/s]
    exposure_time, pulses
        As in `residual_ripple`.

    Examples
    --------
    >>> [round(ripple_between_frames(rate, time, 100), 4) for rate, time in ((25, 1 / 1000), (24, 1 / 48))]
    [0.0, 0.0395]
    """
    pulses_a_frame = pulses / rate
    same_part_each_frame = round(pulses_a_frame) >= 1 and abs(pulses_a_frame - round(pulses_a_frame)) < 1e-6
    return 0.0 if same_part_each_frame else residual_ripple(exposure_time, pulses)


def bands(readout: float, exposure_time: float, pulses: float) -> float:
    """Ripple across the rows of one frame, for a lamp with full ripple. [-]

    Rows are exposed one after the other over the read-out r. Of what the shutter leaves they show all where the
    read-out spans half a pulse or more; over less the most that a cosine swings in it, |sin(pi p r)| of that.

    Parameters
    ----------
    readout : float
        r, from the first row's exposure to the last one's; 0 where all rows are exposed at once. [s]
    exposure_time, pulses
        As in `residual_ripple`.

    Examples
    --------
    >>> [round(bands(readout, 1 / 1000, 100), 3) for readout in (0.012, 0.001, 0.0)]
    [0.984, 0.304, 0.0]
    """
    return residual_ripple(exposure_time, pulses) * math.sin(math.pi * min(pulses * readout, 0.5))


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
