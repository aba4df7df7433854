"""How large the scene looks, judged by its blur.

Perspective fixes the shape of a scene but not its size: multiply every length, the lens opening included, and the
picture stays the same. So a 1:S model seen through a pupil A gives the picture of the full-size scene seen through a
pupil S A. What a viewer makes of that rests on the pupil the viewer takes for granted.

Two norms are offered. Both model a tendency of viewers; neither is a certainty, and neither says anything where the
picture shows no visible blur.

- The eye's: a viewer assumes an eye's pupil. Held, Cooper, O'Brien, Banks, "Using Blur to Affect Perceived Distance
  and Size", ACM TOG 29(2), 2010, doi 10.1145/1731047.1731057. The mean and spread of the pupil are from memory.
- The photographer's: full-size vehicles on film are mostly seen through pupils of 5 to 45 mm. Common practice, no
  source. Verdicts rest on this one; the eye's norm orders the choices.
"""

from typing import Any

#: A float or an (n,) float array; arrays in give an array out. Any, because numpy's types cannot say so.
Number = Any

#: Mean and standard deviation of the eye's pupil in Held et al. 2010, after Spring and Stiles 1948. From memory. [m]
EYE_PUPIL, EYE_PUPIL_SPREAD = 0.0046, 0.0010

#: Pupils through which full-size vehicles are mostly filmed: 24 mm at f/5.6 to 85 mm at f/2. Common practice. [m]
FILMED_PUPIL = (0.005, 0.045)

#: Width of the format that a "full-size equivalent" lens is quoted for (135). AS ISO 20954.1:2019, 3.5. [m]
FULL_FRAME_WIDTH = 0.036


def full_size_pupil(pupil: Number, scale: float) -> Number:
    """The pupil through which a full-size camera would get this picture: S A. [m]

    Parameters
    ----------
    pupil : float or (n,) float
        A, the model camera's entrance pupil. [m]
    scale : float
        S of 1:S. [-]

    Examples
    --------
    >>> full_size_pupil(0.013 / 4, 50)
    0.1625
    """
    return scale * pupil


def full_size_lens(image_distance: float, pupil: float, scale: float, recorded_width: float) -> tuple[float, float]:
    """Focal length [m] and f-number [-] that a full-frame camera at full size would need for this picture.

    The angle of view is w over v, and v is more than f close up. At full size everything is S times as far: its lens
    is focused as good as at infinity, so that its focal length is v' = v * 36 mm / w (too long by v' / (S s), well
    under a hundredth). The f-number is that over S A.

    Parameters
    ----------
    image_distance, pupil : float
        v and A of the camera on the set. [m]
    scale : float
        S of 1:S. [-]
    recorded_width : float
        w, width of the sensor that ends up in the picture. [m]

    Examples
    --------
    50 mm at f/4 on full frame, focused at 500 mm, where v is 55.6 mm:

    >>> f, n = full_size_lens(0.0556, 0.050 / 4, 50, 0.036)
    >>> round(f * 1000, 1), round(n, 3)
    (55.6, 0.089)
    """
    equivalent = image_distance * FULL_FRAME_WIDTH / recorded_width
    return equivalent, equivalent / full_size_pupil(pupil, scale)


def sensor_of_share(recorded_width: float, focal_length: float, focus_distance: float, share: float) -> float:
    """Width of the sensor that takes this picture from this place at this stop through a pupil of that share. [m]

    At one stop the focal length goes with the pupil, f' = k f, and the framing is kept where sensor and image
    distance stay in proportion: w' = w v'/v = k w (s - f) / (s - k f).

    Parameters
    ----------
    recorded_width, focal_length, focus_distance : float
        w, f and s of the camera on the set. [m]
    share : float
        k, of its pupil, up to 1. [-]

    Examples
    --------
    >>> round(sensor_of_share(0.036, 0.050, 0.500, 0.1125) * 1000, 2)
    3.69
    """
    return share * recorded_width * (focus_distance - focal_length) / (focus_distance - share * focal_length)


def implied_share(pupil: Number, scale: float, assumed_pupil: float = EYE_PUPIL) -> Number:
    """Size that blur suggests, as a share of full size: A_eye / (S A). [-]

    1 reads as full size; 1/S as the model it is seen with the naked eye. Model of a tendency (Held et al. 2010).

    Parameters
    ----------
    pupil : float or (n,) float
        A, of the camera on the set. [m]
    scale : float
        S. [-]
    assumed_pupil : float
        A_eye; one spread up and down gives the range. [m]

    Examples
    --------
    >>> round(implied_share(0.013 / 4, 50), 4)
    0.0283
    """
    return assumed_pupil / full_size_pupil(pupil, scale)


def pupil_for_full_size(scale: float, norm: float = FILMED_PUPIL[1]) -> float:
    """The widest pupil on the set that still reads as full size: norm / S. [m]

    Parameters
    ----------
    scale : float
        S. [-]
    norm : float
        The pupil granted to a full-size camera; `EYE_PUPIL` for the strict norm. [m]

    Examples
    --------
    >>> pupil_for_full_size(50), round(pupil_for_full_size(50, EYE_PUPIL) * 1000, 3)
    (0.0009, 0.092)
    """
    return norm / scale


def f_number_for_full_size(focal_length: float, scale: float, norm: float = FILMED_PUPIL[1]) -> float:
    """The widest stop at which it reads as full size: f S / norm. [-]

    Examples
    --------
    >>> round(f_number_for_full_size(0.013, 50), 1)
    14.4
    """
    return focal_length / pupil_for_full_size(scale, norm)
