"""How far a trembling hand moves the picture: an order of magnitude, and a lower bound.

Published figures are of a bare outstretched hand, not of one with a camera in it: peak acceleration and frequency of
its tremor. Taken as one sine they give a shift of the camera, which at close range moves the picture by the
magnification. Slow sway and turning move it further; no figure for them was found, so they are left out. A stabiliser
rated in stops (ISO 20954-1:2019 scope, as quoted: yaw and pitch only) works against turning and does not help here.
"""

import math

from previz.physics.ramp import GRAVITY

#: Most common frequency of tremor up to the age of 70 [Hz]; it peaks between 6 and 12 Hz. Arch Neurol 1982;39(6):358,
#: abstract, 97 subjects, and J Physiol 2015;593(19):4411, key points: both seen.
TREMOR_RATE = 7.0

#: Peak acceleration of tremor over gravity by hand: the least, the most common and the largest of the same 97 subjects.
TREMOR_ACCELERATIONS = {"steady": 0.0015, "usual": 0.01, "shaky": 0.035}


def tremor_amplitude(acceleration: float, rate: float = TREMOR_RATE, gravity: float = GRAVITY) -> float:
    """How far a hand swings to either side: a g / (2 pi f)^2, of a sine with that peak acceleration. [m]

    Parameters
    ----------
    acceleration : float
        a, peak acceleration over gravity. [-]
    rate : float
        f. [Hz]
    gravity : float
        g. [m/s2]

    Examples
    --------
    >>> round(tremor_amplitude(0.01) * 1e6, 1)  # um
    50.7
    """
    return acceleration * gravity / (2 * math.pi * rate) ** 2


def wobble_pixels(amplitude: float, magnification: float, pixel_pitch: float) -> float:
    """Swing of the picture from side to side as the camera shifts by +- amplitude: 2 A m / p. [px]

    Parameters
    ----------
    amplitude : float
        A. [m]
    magnification : float
        m, image over object size where it is sharp. [-]
    pixel_pitch : float
        p, width of a pixel on the sensor. [m]

    Examples
    --------
    >>> round(wobble_pixels(50e-6, 1 / 9, 5.6e-6), 2)
    1.98
    """
    return 2 * amplitude * magnification / pixel_pitch
