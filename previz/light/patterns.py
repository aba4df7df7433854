"""Which way rays go: well-spread patterns over lamps and all round, the same at every point.

No randomness: an error that differs from one corner to the next shows as blotches, and one that does not is an even,
small offset. (`shift` turns the pattern, for a caller that averages neighbours again.)
"""

import math

import numpy as np

from previz.layout import AreaEmitter, BulbEmitter, Emitter, SpotEmitter
from previz.light.receivers import Floats, floats

#: Probes on the rim of a spot.
RIM = 4


def targets_on(lamp: Emitter, count: int) -> tuple[Floats, float]:
    """Points on a lamp, and how far before them a ray ends so as not to meet the lamp's own body [m]."""
    if isinstance(lamp, AreaEmitter):
        return on_rectangle(lamp, count), 0.0
    if isinstance(lamp, SpotEmitter):
        return on_disc(lamp, count), 0.0
    assert isinstance(lamp, BulbEmitter)  # the sky is no lamp to aim at
    return on_ball(lamp, count), 1.3 * lamp.radius


def lattice(count: int, shift: float = 0.0) -> Floats:
    """`count` points over the unit square, each alone in its row and column. (count, 2)

    The two-dimensional lattice of golden steps: an edge of any slant crosses the points one by one, so a soft
    shadow falls off in `count` small steps.
    """
    number = np.arange(count)
    across = ((number + 0.5) / count + shift) % 1
    return np.stack([across, (0.5 + shift + number * 0.6180339887498949) % 1], axis=1).astype(np.float32)


def on_rectangle(emitter: AreaEmitter, count: int, shift: float = 0.0, spread: float = 1.0) -> Floats:
    """Points on a panel (count, 3) [m]; `spread` above 1 brings more of them to its rim."""
    across = np.clip(spread * (2 * lattice(count, shift) - 1), -0.98, 0.98).astype(np.float32)
    return floats(emitter.centre) + across @ floats([emitter.half_u, emitter.half_v])


def on_disc(emitter: SpotEmitter, count: int, shift: float = 0.0) -> Floats:
    """Points on a spot's opening (count, 3); `RIM` of them stand on its rim, where they disagree first. [m]"""
    if count == RIM:
        turn = (np.arange(count) + shift) * (2 * math.pi / count)
        flat = 0.9 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    else:
        c, s = math.cos(2 * math.pi * shift), math.sin(2 * math.pi * shift)
        rotation = np.array([[c, s], [-s, c]])
        flat = cosine_directions(count)[:, :2] @ rotation
    on_plane = floats(np.pad(flat, [(0, 0), (0, 1)]) * (emitter.size / 2))
    return np.asarray(floats(emitter.centre) + directions_about(floats([emitter.axis]), on_plane)[:, 0])


def on_ball(bulb: BulbEmitter, count: int) -> Floats:
    """Points in a bulb, its middle first (count, 3), five at most. [m]"""
    if count == 1:
        return floats([bulb.centre])
    corners = floats([[0, 0, 0], [1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1]])[:count]
    return np.asarray(floats(bulb.centre) + corners * np.float32(0.45 * bulb.radius))


def cosine_directions(count: int) -> Floats:
    """Directions about +z, as dense as their cosine: a sunflower disc raised to the hemisphere. (count, 3)"""
    number = np.arange(count)
    radius = np.sqrt((number + 0.5) / count)
    turn = number * (math.pi * (3 - math.sqrt(5)))
    return np.stack([radius * np.cos(turn), radius * np.sin(turn), np.sqrt(1 - radius**2)], axis=1).astype(np.float32)


def directions_about(normals: Floats, local: Floats) -> Floats:
    """`local` (k, 3) directions about z turned to be about each normal (n, 3). (k, n, 3)

    The turn varies smoothly with the normal but at z = -0.5, so neighbours see through the same pattern (basis of
    Duff et al., "Building an Orthonormal Basis, Revisited", JCGT 6(1), 2017, its seam moved off upright walls).
    """
    x, y, z = normals.T
    sign = np.where(z < -0.5, np.float32(-1), np.float32(1))
    a = -1 / (sign + z)
    b = x * y * a
    across = np.stack([1 + sign * x * x * a, sign * b, -sign * x], axis=1)
    along = np.stack([b, sign + y * y * a, -y], axis=1)
    basis = np.stack([across, along, normals]).reshape(3, -1)
    return np.asarray((local @ basis).reshape(len(local), len(normals), 3))
