"""The thin lens: where it focuses, how large it draws, what it blurs.

Every function takes floats or arrays of equal shape. Distances run from the lens along its axis [m], positive towards
the subject; a tape or a camera's scale runs from the sensor mark, `sensor_to_subject` away. Magnification m is
positive for the real, upside-down image a camera makes: what textbooks write as -m.
"""

import math
from typing import Any

import numpy as np

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: First zero of the Bessel function J1, over pi, doubled: Airy diameter over wavelength times f-number
#: (scipy.special.jn_zeros; textbooks round it to 2.44).
AIRY_COEFFICIENT = 2 * 3.8317059702075125 / math.pi

# Where contrast falls to a half (MTF50), for a uniform disc of diameter d and for a perfect lens at f-number N:
#   x = pi d f      with 2 J1(x) / x = 1/2
#   nu = lambda N f with (2 / pi) (acos nu - nu sqrt(1 - nu^2)) = 1/2
# One f for both gives d = x / (pi nu) lambda N. Source: Goodman, Introduction to Fourier Optics, ch. 6; from memory.
_DISC_HALF = 2.215089367724233
_DIFFRACTION_HALF = 0.4039727532995172

#: Diameter of the uniform disc that blurs as much as diffraction, over wavelength times f-number.
#: 0.716 of the first dark ring.
DIFFRACTION_COEFFICIENT = _DISC_HALF / (math.pi * _DIFFRACTION_HALF)

#: Middle of the visible band, where the eye sees best. [m]
GREEN = 550e-9


def image_distance(focal_length: Number, object_distance: Number) -> Number:
    """Lens to sensor when the object is sharp: v = f s / (s - f). [m]

    Negative for an object inside the focal length, whose image is virtual; no sensor can record it.

    Parameters
    ----------
    focal_length, object_distance : float or (n,) float
        f and s, from the lens. [m]

    Source: OpenStax University Physics 3, sec. 2.4 (thin-lens equation).

    Examples
    --------
    >>> round(image_distance(0.100, 0.500), 6)
    0.125
    """
    return focal_length * object_distance / (object_distance - focal_length)


def object_distance(focal_length: Number, image_distance: Number) -> Number:
    """Lens to the object that is sharp on a sensor at that image distance: s = f v / (v - f). [m]

    Examples
    --------
    >>> round(object_distance(0.022, 0.033), 6)
    0.066
    """
    return focal_length * image_distance / (image_distance - focal_length)


def magnification(focal_length: Number, object_distance: Number) -> Number:
    """Size on the sensor over size of the object: m = f / (s - f). [-]

    Positive for the real image of a camera (textbooks: -m), negative for a virtual one.

    Examples
    --------
    >>> round(magnification(0.050, 0.500), 6)
    0.111111
    """
    return focal_length / (object_distance - focal_length)


def distance_for_magnification(focal_length: Number, magnification: Number) -> Number:
    """Lens to the object drawn at that magnification: s = f (1 + 1/m). [m]

    Examples
    --------
    >>> round(distance_for_magnification(0.050, 1 / 9), 6)
    0.5
    """
    return focal_length * (1 + 1 / magnification)


def sensor_to_subject(focal_length: Number, object_distance: Number) -> Number:
    """What a tape from the sensor mark shows: s + v, with both principal planes in one. [m]

    Examples
    --------
    >>> round(sensor_to_subject(0.050, 0.500), 5)
    0.55556
    """
    return object_distance + image_distance(focal_length, object_distance)


def entrance_pupil(focal_length: Number, f_number: Number) -> Number:
    """Diameter of the opening as seen from the subject: A = f / N. [m]

    Examples
    --------
    >>> round(entrance_pupil(0.013, 4.0), 6)
    0.00325
    """
    return focal_length / f_number


def circle_of_confusion(
    focal_length: Number, f_number: Number, focus_distance: Number, object_distance: Number
) -> Number:
    """Diameter on the sensor of the blur disc of a point: c = A |d - s| / d * f / (s - f). [m]

    Parameters
    ----------
    focal_length, f_number : float or (n,) float
        f [m] and N [-]; A = f / N.
    focus_distance : float or (n,) float
        s, from the lens; beyond f. [m]
    object_distance : float or (n,) float
        d, from the lens, above zero; `inf` gives the blur of the far distance. [m]

    Raises
    ------
    ValueError
        If the focus is not beyond the focal length.

    Source: Wikipedia "Circle of confusion", from the object field; exact for a thin lens.

    Examples
    --------
    >>> round(circle_of_confusion(0.050, 2.8, 0.5, 0.6) * 1000, 4)
    0.3307
    >>> round(circle_of_confusion(0.050, 2.8, 0.5, math.inf) * 1000, 5)
    1.98413
    """
    _check_focus(focal_length, focus_distance)
    pupil = entrance_pupil(focal_length, f_number)
    return pupil * abs(1 - focus_distance / object_distance) * magnification(focal_length, focus_distance)


def blur_angle(pupil: Number, focus_distance: Number, object_distance: Number) -> Number:
    """Angle over which a pupil smears a point: b = A |1/z0 - 1/z1|. [rad]

    Parameters
    ----------
    pupil, focus_distance, object_distance : float or (n,) float
        A, z0, z1. [m]

    Source: Held, Cooper, O'Brien, Banks, ACM TOG 29(2), 2010, doi 10.1145/1731047.1731057.

    Examples
    --------
    >>> round(blur_angle(0.0046, 0.5, 1.0) * 1000, 3)
    4.6
    """
    return pupil * abs(1 / focus_distance - 1 / object_distance)


def field_of_view(sensor_side: Number, image_distance: Number) -> Number:
    """Full angle that a side of the sensor sees: 2 atan(w / 2v). [rad]

    v, not f: a lens focused close sees less.

    Examples
    --------
    >>> round(math.degrees(field_of_view(0.036, 0.050)), 2)  # focused at infinity, v = f
    39.6
    """
    angle = 2 * np.arctan(sensor_side / (2 * np.asarray(image_distance)))
    return float(angle) if np.ndim(angle) == 0 else angle


def crop_factor(sensor: tuple[float, float]) -> float:
    """Diagonal of full frame, 36 mm by 24 mm, over that of a sensor (width, height) [m]. [-]

    A lens on the sensor takes in, from corner to corner, what one of its focal length times this takes in on full
    frame: its equivalent. Source: Wikipedia, "Image sensor format", crop factor; seen.

    >>> round(crop_factor((0.0173, 0.0130)), 2)  # of the 4/3 type
    2.0
    """
    return math.hypot(0.036, 0.024) / math.hypot(*sensor)


def sensor_sides(trade_size: float) -> tuple[float, float]:
    """Width and height [m] of a 4:3 sensor by the size that it is sold by, such as 1/1.28 (of an inch).

    That size is nominal: nothing on the sensor measures it. It goes back to camera tubes, whose picture took up about
    two thirds of their glass; so a diagonal of some 16 mm to the inch, and of some 18 mm to the inch below 1/2. Within
    some 4 % of the sizes that are known by name here. About 16 mm to the inch: Wikipedia, "Image sensor format", seen;
    the 18 mm of small ones are common practice, no source.

    >>> width, height = sensor_sides(1 / 1.28)
    >>> round(width * 1000, 2), round(height * 1000, 2)
    (10.0, 7.5)
    """
    diagonal = (0.016 if trade_size >= 0.5 else 0.018) * trade_size
    return 0.8 * diagonal, 0.6 * diagonal


def field_width(sensor_side: Number, image_distance: Number, distance: Number) -> Number:
    """Width of what that side of the sensor sees on a plane facing it: w d / v. [m]

    Examples
    --------
    >>> round(field_width(0.036, image_distance(0.050, 0.5), 0.9), 4)  # a backdrop 400 mm behind the focus
    0.5832
    """
    return sensor_side * distance / image_distance


def depth_of_field(
    focal_length: float, f_number: float, focus_distance: float, blur_limit: float
) -> tuple[float, float]:
    """Nearest and farthest distance blurred by no more than the limit. [m]

    From `circle_of_confusion` solved for d: d = s / (1 +- c / (A m)). Far is `inf` from the hyperfocal distance on.

    Parameters
    ----------
    focal_length, f_number, focus_distance : float
        f [m], N [-], s from the lens [m].
    blur_limit : float
        c, the largest blur disc on the sensor that still counts as sharp. [m]

    Raises
    ------
    ValueError
        If the focus is not beyond the focal length.

    Examples
    --------
    >>> [round(limit * 1000, 3) for limit in depth_of_field(0.050, 8.0, 0.5, 0.03e-3)]
    [479.294, 522.575]
    """
    _check_focus(focal_length, focus_distance)
    share = blur_limit / (entrance_pupil(focal_length, f_number) * magnification(focal_length, focus_distance))
    near = focus_distance / (1 + share)
    far = focus_distance / (1 - share) if share < 1 else math.inf
    return near, far


def hyperfocal_distance(focal_length: float, f_number: float, blur_limit: float) -> float:
    """The focus from which on infinity is sharp: H = f^2 / (N c) + f. [m]

    Source: Wikipedia "Hyperfocal distance".

    Examples
    --------
    >>> round(hyperfocal_distance(0.050, 8.0, 0.03e-3) * 1000)
    10467
    """
    return focal_length**2 / (f_number * blur_limit) + focal_length


def diffraction_disc(working_f_number: Number, wavelength: float = GREEN) -> Number:
    """Diameter on the sensor of the uniform disc that blurs as much as diffraction does: 1.7454 lambda N_w. [m]

    Both bring contrast to a half at the same fineness. The first dark ring of diffraction is wider, 2.4393 lambda N_w,
    but most of the light falls well inside it. Give the working f-number: close up, N alone flatters the lens.

    Examples
    --------
    >>> round(diffraction_disc(17.6) * 1e6, 1)
    16.9
    """
    return DIFFRACTION_COEFFICIENT * wavelength * working_f_number


def blur_together(defocus: Number, diffraction: Number) -> Number:
    """Diameter of the uniform disc that blurs as much as defocus and diffraction together, added by cubes. [m]

    The two are one wave through one pupil, so they add less than by squares. Against the contrast of a defocused round
    pupil (half of it left) cubes are within 3 % at any defocus: 1.7 % too small to 2.9 % too large. Squares are up to
    13.5 % too large, where the two are about alike, and within 3 % only where defocus is under a third of diffraction
    or over six times as large.

    Parameters
    ----------
    defocus, diffraction : float or (n,) float
        `circle_of_confusion` and `diffraction_disc`. [m]

    Examples
    --------
    >>> round(blur_together(3e-6, 3e-6) * 1e6, 3)
    3.78
    """
    return (defocus**3 + diffraction**3) ** (1 / 3)


def defocus_allowed(blur_limit: float, diffraction: float) -> float:
    """Blur disc that diffraction leaves free of what counts as sharp: the inverse of `blur_together`. [m]

    0 where the diffraction disc alone is as large as the limit: then nothing is sharp, at no distance.

    Parameters
    ----------
    blur_limit, diffraction : float
        c, the largest blur on the sensor that still counts as sharp, and `diffraction_disc`. [m]

    Examples
    --------
    >>> round(defocus_allowed(5e-6, 4e-6) * 1e6, 3), defocus_allowed(5e-6, 6e-6)
    (3.936, 0.0)
    """
    return float(max(blur_limit**3 - diffraction**3, 0.0) ** (1 / 3))


def sharp_f_numbers(defocus: float, diffraction: float, blur_limit: float) -> tuple[float, float] | None:
    """The f-numbers between which a point is sharp: defocus blurs it below, diffraction above. [-]

    Defocus goes with 1/N and diffraction with N, so (c1/N)^3 + (a1 N)^3 = c^3 at both ends, a quadratic in N^3.

    Parameters
    ----------
    defocus, diffraction : float
        c1 and a1: `circle_of_confusion` and `diffraction_disc` at f/1 and that focus. [m]
    blur_limit : float
        c. [m]

    Returns
    -------
    (float, float) or None
        None where it is sharp at no stop.

    Examples
    --------
    >>> ends = sharp_f_numbers(24e-6, 1e-6, 10e-6)
    >>> [round(float(blur_together(24e-6 / n, n * 1e-6)) * 1e6, 9) for n in ends]
    [10.0, 10.0]
    >>> sharp_f_numbers(70e-6, 1e-6, 10e-6)
    """
    inside = blur_limit**6 - 4 * (diffraction * defocus) ** 3
    if inside < 0:
        return None
    sum_of_both = blur_limit**3 + math.sqrt(inside)
    return (2 / sum_of_both) ** (1 / 3) * defocus, (sum_of_both / 2) ** (1 / 3) / diffraction


def _check_focus(focal_length: Number, focus_distance: Number) -> None:
    if np.any(np.asarray(focus_distance) <= np.asarray(focal_length)):
        raise ValueError(
            f"a focus of {np.min(focus_distance) * 1000:.4g} mm is not beyond the focal length of "
            f"{np.max(focal_length) * 1000:.4g} mm; no lens makes an image from there"
        )
