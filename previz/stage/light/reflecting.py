"""What triangles send back of the light on them, and what they send out themselves, picture included."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from previz.light import Floats, floats, mean_over_corners
from previz.mesh import Array, Mesh
from previz.physics.colour import LUMINANCE, srgb_linear


def albedo_of(mesh: Mesh) -> Floats:
    """Mean reflectance of every triangle, of a metal too: what it sends back in all directions. (m, 3)"""
    colours = mean_over_corners(mesh.colours, mesh.faces)
    if mesh.image is None or mesh.uv is None:
        return colours
    return floats(colours * _at_triangles(mesh.image, mesh.uv[:, :2], mesh.faces))


def glow_of(mesh: Mesh) -> Array:
    """What every triangle sends out by itself. (m, 3) RGB [cd/m2]"""
    glow = np.tile(mesh.material.glow, (len(mesh.faces), 1))
    shown = None if mesh.surface is None else mesh.surface.emission
    if shown is None or mesh.uv is None:
        return glow
    return glow * _at_triangles(shown.pixels, mesh.uv[:, 2 * shown.way :][:, :2], mesh.faces)


def share_from_around(light: Floats, straight: Floats) -> Floats:
    """Of light on corners (n, 3), the share that does not come straight from lamps (n, 3). (n,)

    >>> share_from_around(np.array([[4.0, 4.0, 4.0]]), np.array([[1.0, 1.0, 1.0]])).tolist()
    [0.75]
    """
    whole, from_lamps = light @ LUMINANCE, straight @ LUMINANCE
    return floats(np.clip(1 - from_lamps / np.maximum(whole, 1e-9), 0, 1))


def _at_triangles(image: NDArray[np.uint8], uv: Array, faces: NDArray[np.int64]) -> Array:
    """What an image shows in the middle of every triangle, linear. (m, 3)"""
    small = shrunk(image, 256)
    rows, columns = small.shape[:2]
    u, v = (uv[faces].mean(axis=1) % 1.0).T
    texels = small[np.minimum((v * rows).astype(int), rows - 1), np.minimum((u * columns).astype(int), columns - 1)]
    return srgb_linear(texels / 255)


def shrunk(image: NDArray[np.uint8], most: int) -> NDArray[Any]:
    """At most about `most` pixels wide and high, each the mean of a block (of codes: near enough for a bounce)."""
    step = max(1, math.ceil(max(image.shape[:2]) / most))
    if step >= 6:
        return shrunk(image[::2, ::2], most)  # every other pixel tells the mean of so many well enough
    rows, columns = (max(side // step, 1) * min(step, side) for side in image.shape[:2])
    down, across = min(step, image.shape[0]), min(step, image.shape[1])
    blocks = image[:rows, :columns].reshape(rows // down, down, columns // across, across, 3)
    return np.asarray(blocks.mean(axis=(1, 3)))
