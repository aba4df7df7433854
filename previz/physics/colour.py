"""Colour as numbers: linear Rec. 709, its luminance and its codes, the white of a black body.

Light is photometric, carried in linear Rec. 709: a radiance [cd/m2], intensity [cd] or irradiance [lx] is an RGB
triple whose luminance (0.2126 R + 0.7152 G + 0.0722 B) is the photometric number.
"""

from functools import cache, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
RGB = tuple[float, float, float]
Reals = NDArray[np.floating[Any]]

#: Luminance of linear Rec. 709 (ITU-R BT.709-6, Y row of its RGB to XYZ matrix).
LUMINANCE = np.array([0.2126, 0.7152, 0.0722])

# IEC 61966-2-1: XYZ (D65) to linear Rec. 709.
_RGB_FROM_XYZ = np.array([[3.2406, -1.5372, -0.4986], [-0.9689, 1.8758, 0.0415], [0.0557, -0.2040, 1.0570]])


def _lobe(wavelength: Array, peak: float, below: float, above: float) -> Array:
    spread = np.where(wavelength < peak, below, above)
    return np.exp(-0.5 * ((wavelength - peak) / spread) ** 2)


#: At which wavelengths spectra are told. [nm]
_WAVELENGTHS = np.arange(380.0, 781.0, 5.0)


@cache
def _observer() -> Array:
    """CIE 1931 2 degree colour matching functions at those wavelengths, (3, n).

    Multi-lobe fit of Wyman, Sloan and Shirley, "Simple Analytic Approximations to the CIE XYZ Color Matching
    Functions", JCGT 2(2), 2013 (coefficients from memory, checked against colour-science).
    """
    w = _WAVELENGTHS
    x = 1.056 * _lobe(w, 599.8, 37.9, 31.0) + 0.362 * _lobe(w, 442.0, 16.0, 26.7) - 0.065 * _lobe(w, 501.1, 20.4, 26.2)
    y = 0.821 * _lobe(w, 568.8, 46.9, 40.5) + 0.286 * _lobe(w, 530.9, 16.3, 31.1)
    z = 1.217 * _lobe(w, 437.0, 11.8, 36.0) + 0.681 * _lobe(w, 459.0, 26.0, 13.8)
    return np.stack([x, y, z])


@lru_cache(maxsize=256)
def _white(kelvin: float) -> RGB:
    metres = _WAVELENGTHS * 1e-9
    planck = metres**-5 / np.expm1(1.438777e-2 / (metres * kelvin))  # second radiation constant [m K], CODATA 2018
    rgb = np.maximum(_RGB_FROM_XYZ @ (_observer() @ planck), 0.0)
    return with_unit_luminance(rgb)


def with_unit_luminance(rgb: Array) -> RGB:
    """The same colour with luminance 1."""
    r, g, b = rgb / (LUMINANCE @ rgb)
    return float(r), float(g), float(b)


def white_rgb(kelvin: float) -> Array:
    """Colour of a black body at `kelvin`, (3,) linear Rec. 709 with luminance 1.

    Negative parts (below about 1900 K) are clipped to 0.

    >>> white_rgb(6500).round(2).tolist()
    [1.04, 0.98, 1.03]
    """
    return np.array(_white(kelvin))


def colour_temperature(rgb: ArrayLike) -> float:
    """Correlated colour temperature of linear Rec. 709 light (3,), from 1500 K to 20000 K. [K]

    That of the black body nearest to it in the CIE 1960 UCS diagram, u', 2 v' / 3 (CIE 15). To a mired.

    >>> round(colour_temperature(white_rgb(3125)))
    3125
    """
    mired, bodies = _black_bodies()
    away = (chromaticity(rgb) - bodies) * (1.0, 2 / 3)
    return float(1e6 / mired[np.argmin(np.einsum("ni,ni->n", away, away))])


@lru_cache(maxsize=1)
def _black_bodies() -> tuple[Array, Array]:
    """Reciprocal temperatures [mired] (n,) and u', v' (n, 2)."""
    mired = np.arange(50.0, 668.0)
    return mired, chromaticity([_white(1e6 / each) for each in mired])


def chromaticity(rgb: ArrayLike) -> Array:
    """CIE 1976 u', v' of linear Rec. 709 light (..., 3), (..., 2); of no light nan.

    u' = 4X / (X + 15Y + 3Z), v' = 9Y / (X + 15Y + 3Z) (CIE 15).

    >>> chromaticity([1.0, 1.0, 1.0]).round(4).tolist()
    [0.1978, 0.4683]
    """
    x, y, z = np.moveaxis(np.asarray(rgb, dtype=float) @ np.linalg.inv(_RGB_FROM_XYZ).T, -1, 0)
    whole = x + 15 * y + 3 * z
    return np.stack([4 * x, 9 * y], axis=-1) / np.where(whole > 0, whole, np.nan)[..., None]


def srgb_encoded(linear: ArrayLike) -> Reals:
    """Codes 0..1 of linear light (...), IEC 61966-2-1 (sRGB). Less than none is black, more than 1 is white.

    >>> [round(float(code), 5) for code in srgb_encoded([0.002, 0.18, 7.0])]
    [0.02584, 0.46136, 1.0]
    """
    light = _held(linear)
    return np.where(light <= 0.0031308, light * 12.92, 1.055 * np.maximum(light, 0.0031308) ** (1 / 2.4) - 0.055)


def srgb_linear(code: ArrayLike) -> Array:
    """Linear light of codes 0..1 (...), in double precision: the inverse of `srgb_encoded`.

    >>> round(float(srgb_linear(139 / 255)), 4)
    0.2582
    """
    x = np.asarray(code, dtype=float)
    return np.where(x <= 0.04045, x / 12.92, ((np.maximum(x, 0) + 0.055) / 1.055) ** 2.4)


def bt709_encoded(linear: ArrayLike) -> Reals:
    """Camera signal 0..1 of linear light (...), ITU-R BT.709 transfer; cut off like `srgb_encoded`.

    >>> [round(float(code), 5) for code in bt709_encoded([0.01, 0.18])]
    [0.045, 0.40901]
    """
    light = _held(linear)
    return np.where(light < 0.018, light * 4.5, 1.099 * np.maximum(light, 0.018) ** 0.45 - 0.099)


def bt709_linear(code: ArrayLike) -> Array:
    """Linear light of camera signals 0..1 (...), in double precision: the inverse of `bt709_encoded`.

    >>> round(float(bt709_linear(0.40901)), 4)
    0.18
    """
    x = np.asarray(code, dtype=float)
    return np.where(x < 0.081, x / 4.5, ((np.maximum(x, 0) + 0.099) / 1.099) ** (1 / 0.45))


def _held(linear: ArrayLike) -> Reals:
    """Between nothing and saturation; in single precision where that is what is given, else in double."""
    light = np.asarray(linear)
    return np.clip(light if light.dtype == np.float32 else light.astype(float), 0.0, 1.0)
