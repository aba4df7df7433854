"""Water or clear varnish over a surface: how much its face mirrors, and how much darker what lies under it looks."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

#: Index of refraction of water in visible light (1.333 at 589 nm and 20 C; as all tables have it, from memory).
WATER = 1.333


def fresnel(cosine: ArrayLike, index: float = WATER) -> Array:
    """Share of unpolarised light that a smooth face mirrors.

    Parameters
    ----------
    cosine : (...,) float
        Of the angle between the ray in air and the normal, 0..1.
    index : float
        Of what the light falls on.

    Source: Fresnel's equations for a dielectric, as in Born and Wolf, "Principles of Optics", 1.5.2.

    >>> fresnel([1.0, 0.0]).round(4).tolist()
    [0.0204, 1.0]
    """
    c = np.clip(np.asarray(cosine, dtype=float), 0.0, 1.0)
    inside = np.sqrt(index**2 - 1 + c**2)  # index times the cosine of the refracted ray
    across = (c - inside) / (c + inside)
    along = (index**2 * c - inside) / (index**2 * c + inside)
    return np.asarray((across**2 + along**2) / 2)


def mean_mirrored(index: float = WATER) -> float:
    """Share of even light from all round that a smooth face mirrors.

    >>> round(mean_mirrored(), 3)
    0.066
    """
    cosine, weight = np.polynomial.legendre.leggauss(64)
    c = (cosine + 1) / 2
    return float((fresnel(c, index) * 2 * c) @ (weight / 2))


def wetted(reflectance: ArrayLike, index: float = WATER) -> Array:
    """Reflectance (...,) of a matt surface under a thin clear film, what the film's face mirrors left out.

    Light that the surface sends back is partly mirrored down again by the face from below, and gets lost in the surface
    there. Source: Lekner and Dorf, "Why some things are darker when wet", Applied Optics 27(7), 1988,
    doi 10.1364/AO.27.001278 (the model; formula from memory).

    >>> wetted([0.0, 0.3, 1.0]).round(3).tolist()
    [0.0, 0.172, 0.934]
    """
    back = np.asarray(reflectance, dtype=float)
    into = 1 - mean_mirrored(index)
    down_again = 1 - into / index**2  # reciprocity: what gets out is what would get in, over index squared
    return np.asarray(into * (1 - down_again) * back / (1 - down_again * back))
