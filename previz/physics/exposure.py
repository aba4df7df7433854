"""How much light reaches the sensor, and the ISO that turns it into a picture.

Light is photometric: luminance L [cd/m2] of a surface, illuminance E [lx] on it, focal-plane exposure H [lx s]
on the sensor. For a matt surface of reflectance R, L = R E / pi.
"""

import math
from typing import Any

import numpy as np

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: Lens transmittance, vignetting, cos^4 of 10 degrees off the axis and pi/4 in one number. ISO 12232:2006 as quoted
#: in colour-hdri 0.2.6, `q_factor`: (pi/4) * 0.9 * 0.98 * cos(10 deg)^4.
Q_FACTOR = math.pi / 4 * 0.9 * 0.98 * math.cos(math.radians(10)) ** 4

#: Reflectance of the photographer's grey card.
GREY_CARD = 0.18

#: Linear level, as a share of saturation, at which an 18 % card records when the exposure is right. The saturation
#: speed of ISO 12232 leaves half a stop (41 %) above a 100 % white: 0.18 / sqrt(2). As quoted in colour-hdri 0.2.6.
GREY_LEVEL = GREY_CARD / math.sqrt(2)

#: ISO settings in third stops under the names cameras give them. Common practice, no source.
# fmt: off
THIRD_STOP_ISOS = (
    12, 16, 20, 25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000,
    2500, 3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600, 32000, 40000, 51200, 64000, 80000, 102400,
    128000, 160000, 204800, 256000, 320000, 409600,
)

#: Stops a diaphragm clicks to, in third stops from f/1, under their engraved names. ISO 517 not seen; common practice.
THIRD_STOP_F_NUMBERS = (
    1.0, 1.1, 1.2, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0,
    13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0, 45.0,
)

#: Shutters that cameras have, in third stops, as parts of a second. Common practice, no source.
THIRD_STOP_SHUTTERS = (
    1, 2, 3, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000,
    1250, 1600, 2000, 2500, 3200, 4000, 5000, 6400, 8000,
)
# fmt: on


def shutter_within(time: float) -> int:
    """The longest shutter that cameras have and that is no longer than that [s], as a part of a second.

    Past the shortest one that part itself.

    Examples
    --------
    >>> [shutter_within(1 / parts) for parts in (60, 169, 8001)]
    [60, 200, 8001]
    """
    needed = math.ceil(1 / time - 1e-6)
    return next((parts for parts in THIRD_STOP_SHUTTERS if parts >= needed), needed)


def shutter_beyond(time: float, most: float) -> int | None:
    """The shortest shutter that cameras have and that is no shorter than one time, as a part of a second; None if none.

    Parameters
    ----------
    time, most : float
        It is no longer than the other, which is a frame: that itself counts too, where it is a part of a second. [s]

    Examples
    --------
    >>> shutter_beyond(1 / 169, 1 / 120), shutter_beyond(1 / 121, 1 / 120), shutter_beyond(1 / 119, 1 / 120)
    (160, 120, None)
    """
    whole = [round(1 / most)] if abs(round(1 / most) - 1 / most) < 1e-6 else []
    able = [parts for parts in (*THIRD_STOP_SHUTTERS, *whole) if time * (1 - 1e-6) <= 1 / parts <= most * (1 + 1e-6)]
    return max(able, default=None)


def working_f_number(f_number: Number, magnification: Number, pupil_magnification: float = 1.0) -> Number:
    """The f-number the sensor sees of a lens focused close: N_w = N (1 + |m| / P). [-]

    Parameters
    ----------
    f_number : float or (n,) float
        N, as set on the lens. [-]
    magnification : float or (n,) float
        m, image over object size; its sign does not matter. [-]
    pupil_magnification : float
        P, exit pupil over entrance pupil; 1 for a symmetric lens. [-]

    Source: Greivenkamp, Field Guide to Geometrical Optics, SPIE FG01 (2004), p. 29, as quoted in Wikipedia
    "F-number"; the book itself was not seen.

    Examples
    --------
    >>> working_f_number(16.0, 0.1)
    17.6
    """
    return f_number * (1 + abs(magnification) / pupil_magnification)


def luminance_of(illuminance: Number, reflectance: float = GREY_CARD) -> Number:
    """Luminance of a matt surface under an illuminance: L = R E / pi. [cd/m2]

    Parameters
    ----------
    illuminance : float
        E, on the surface. [lx]
    reflectance : float
        R, the share of light it gives back. [-]

    Examples
    --------
    >>> round(luminance_of(1000.0), 2)
    57.3
    """
    return reflectance * illuminance / math.pi


def focal_plane_exposure(
    luminance: Number, exposure_time: Number, working_f_number: Number, q: float = Q_FACTOR
) -> Number:
    """Exposure at the sensor of a surface of that luminance: H = q L t / N_w^2. [lx s]

    Parameters
    ----------
    luminance : float or (n,) float
        L, of the surface. [cd/m2]
    exposure_time : float or (n,) float
        t, how long each frame is exposed. [s]
    working_f_number : float
        N_w, which carries the loss of focusing close; never apply that loss a second time. [-]
    q : float
        Lens losses and pi/4. [-]

    Source: ISO 12232:2006 as quoted in colour-hdri 0.2.6, `focal_plane_exposure`, without its flare term; there
    F^2/i^2 is our 1/(1 + m)^2.

    Examples
    --------
    >>> round(focal_plane_exposure(4000.0, 1 / 250, 8.0), 7)
    0.1628937
    """
    return q * luminance * exposure_time / working_f_number**2


def saturation_exposure(iso: float) -> float:
    """Exposure that just fills the sensor at an ISO: H_sat = 78 / S. [lx s]

    Source: ISO 12232 saturation-based speed, as quoted in colour-hdri 0.2.6.

    Examples
    --------
    >>> saturation_exposure(400)
    0.195
    """
    return 78 / iso


def level_of(exposure: Number, iso: float) -> Number:
    """Linear level of an exposure as a share of saturation: H S / 78; above 1 it clips. [-]

    Parameters
    ----------
    exposure : float
        H, at the sensor. [lx s]
    iso : float
        S, the speed set on the camera. [-]

    Examples
    --------
    >>> round(level_of(0.1643937, 400), 4)  # colour-hdri 0.2.6 prints 0.8430447
    0.843
    """
    return exposure / saturation_exposure(iso)


def iso_for_grey(
    illuminance: Number,
    exposure_time: Number,
    working_f_number: Number,
    reflectance: float = GREY_CARD,
    level: float = GREY_LEVEL,
    q: float = Q_FACTOR,
) -> Number:
    """The ISO at which a card of that reflectance under that light records at `level` of saturation. [-]

    S = 78 level / H with H of the card. A white of reflectance 1 then lies half a stop under saturation.

    Parameters
    ----------
    illuminance : float or (n,) float
        E, on the card. [lx]
    exposure_time : float or (n,) float
        t. [s]
    working_f_number : float or (n,) float
        N_w. [-]
    reflectance, level, q : float
        Of the card; the linear level it shall have; lens losses. [-]

    Raises
    ------
    ValueError
        If the illuminance or the time is not above zero: no ISO makes a picture of nothing.

    Examples
    --------
    >>> round(iso_for_grey(1000.0, 1 / 48, 5.6))
    400
    """
    if not np.all(np.asarray(illuminance) > 0) or not np.all(np.asarray(exposure_time) > 0):
        least, shortest = float(np.min(illuminance)), float(np.min(exposure_time))
        raise ValueError(f"no ISO makes grey of {least:g} lx in {shortest:g} s; both must be above zero")
    exposure = focal_plane_exposure(luminance_of(illuminance, reflectance), exposure_time, working_f_number, q)
    return 78 * level / exposure


def nearest_third_stop(iso: float) -> int:
    """The nearest ISO a camera can be set to, in third stops, by its usual name. [-]

    Nearest by ratio, and never past the ends of `THIRD_STOP_ISOS`.

    Raises
    ------
    ValueError
        If `iso` is not above zero.

    Examples
    --------
    >>> [nearest_third_stop(iso) for iso in (92, 400.3, 700, 4900, 70000)]
    [100, 400, 640, 5000, 64000]
    """
    if not iso > 0:
        raise ValueError(f"ISO {iso:g} is not above zero")
    return min(THIRD_STOP_ISOS, key=lambda name: abs(math.log2(iso / name)))


def nearest_stop(f_number: float) -> float:
    """The engraved third stop nearest to an f-number, by ratio. [-]

    Examples
    --------
    >>> [nearest_stop(n) for n in (5.657, 14.4, 0.5)]
    [5.6, 14.0, 1.0]
    """
    return min(THIRD_STOP_F_NUMBERS, key=lambda name: abs(math.log2(f_number / name)))


def exposure_value(f_number: float, exposure_time: float) -> float:
    """Stop and time in one number: EV = log2(N^2 / t). [-]

    Source: Wikipedia "Exposure value".

    Examples
    --------
    >>> round(exposure_value(16.0, 1 / 125), 3)
    14.966
    """
    return math.log2(f_number**2 / exposure_time)
