"""How much a rough surface mirrors, and how widely: the reflection of glTF's materials, integrated once.

The formulas are those of the glTF 2.0 specification, appendix B (ISO/IEC 12113:2022): a GGX distribution of facets
(Trowbridge and Reitz 1975; Walter et al. 2007, doi 10.2312/EGWR/EGSR07/195-206) of width alpha = roughness squared,
Smith's masking for each direction apart, and Schlick's Fresnel term. The integral over all directions is split into a
part that the reflectance at normal incidence f0 is multiplied by, and one that is added.
"""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from previz.frames.mirror import MIRROR_WIDTHS

Array = NDArray[np.float64]

SIDE = 32
_LOOKS = 32  # squared: half vectors that an entry is integrated over


@cache
def reflection_table() -> NDArray[np.float32]:
    """What a surface mirrors of an even surround (SIDE, SIDE, 4): rows by roughness, columns by the cosine to the eye.

    Entries go from 0 to 1 in SIDE - 1 equal steps. An even surround of radiance 1 is seen as
    f0 * first + second. It is looked up third of the way from the normal to the mirror's direction, blurred as
    `mirror.mirrors` is at fourth of the way through its levels: so a surround that grows evenly brighter to one side is
    mirrored as it should be, for the mean direction of what is mirrored is as long and lies so.

    >>> table = reflection_table()
    >>> bool(abs(table[0, -1, 0] + table[0, -1, 1] - 1) < 0.01)  # a smooth surface of f0 = 1 mirrors all
    True
    """
    steps = np.clip(np.linspace(0, 1, SIDE), 1e-3, 1 - 1e-4)  # straight from above there is no way to lean
    return np.stack([_row(steps, float(roughness)) for roughness in steps]).astype(np.float32)


def _row(cosine: Array, roughness: float) -> Array:
    """For cosines to the eye (c,), what `reflection_table` holds. (c, 4)"""
    across, up, weight, crossing = _mirrored(cosine, roughness)
    total = weight.sum(axis=1)
    across, up = (weight * across).sum(axis=1) / total, (weight * up).sum(axis=1) / total
    # Where the way from the normal (0, 1) to the mirror's direction (-flat, cosine) meets the line of the mean.
    part = across / (across * (1 - cosine) - np.sqrt(1 - cosine**2) * up)
    # The mean cosine of a von Mises-Fisher lobe (Mardia and Jupp 2000, Directional statistics, 9.3).
    lengths = np.array([1 / np.tanh(1 / width**2) - width**2 for width in MIRROR_WIDTHS])
    level = np.interp(-np.hypot(across, up), -lengths, np.linspace(0, 1, len(lengths)))
    added = (weight * crossing).sum(axis=1)
    return np.stack([total - added, added, np.clip(part, 0, 2), level], axis=1)


def _mirrored(cosine: Array, roughness: float) -> tuple[Array, Array, Array, Array]:
    """For facets as frequent as they are, where their light comes from, its weight, and Schlick's term. (c, n) each

    The eye is towards +x and the normal up; of the light's direction its parts along x and up are told.
    """
    alpha = roughness**2
    steps = (np.arange(_LOOKS) + 0.5) / _LOOKS
    u, v = (each.ravel() for each in np.meshgrid(steps, steps))
    # Half vectors by D(h) cos(h): Walter et al. 2007, equations 35 and 36.
    rise = np.sqrt((1 - u) / (1 + (alpha**2 - 1) * u))
    side = np.sqrt(np.maximum(1 - rise**2, 0)) * np.cos(2 * np.pi * v)
    eye, flat = cosine[:, None], np.sqrt(1 - cosine[:, None] ** 2)
    along = side * flat + rise * eye
    across, up = 2 * along * side - flat, 2 * along * rise - eye
    down, along = np.maximum(up, 0), np.maximum(along, 0)
    masked = 2 * down / (down + np.sqrt(alpha**2 + (1 - alpha**2) * down**2))
    masked *= 2 * eye / (eye + np.sqrt(alpha**2 + (1 - alpha**2) * eye**2))
    weight = masked * along / np.maximum(rise * eye, 1e-9) / len(u)
    return across, up, weight, (1 - np.minimum(along, 1)) ** 5
