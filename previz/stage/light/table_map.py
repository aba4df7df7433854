"""Maps over the table: row 0 at the far edge."""

import numpy as np

from previz.light import Floats, Mask, floats


def on_table(values: Floats, table: tuple[float, float], points: Floats) -> Floats:
    """A map over the table (h, w, 3), row 0 at the far edge, at places (n, 3); 0 beyond the table. (n, 3)"""
    rows, columns = values.shape[:2]
    u, v = points[:, 0] / table[0], 1 - points[:, 1] / table[1]
    x = np.clip(u * columns - 0.5, 0, columns - 1)
    y = np.clip(v * rows - 0.5, 0, rows - 1)
    left, top = np.minimum(x.astype(int), max(columns - 2, 0)), np.minimum(y.astype(int), max(rows - 2, 0))
    right, below = np.minimum(left + 1, columns - 1), np.minimum(top + 1, rows - 1)
    s, t = floats(x - left)[:, None], floats(y - top)[:, None]
    upper = values[top, left] * (1 - s) + values[top, right] * s
    lower = values[below, left] * (1 - s) + values[below, right] * s
    inside = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1)
    return floats((upper * (1 - t) + lower * t) * inside[:, None])


def filled(values: Floats, covered: Mask) -> Floats:
    """The map with covered texels as bright as those around, or their darkness would fringe the foot of each piece."""
    known = (~covered).astype(np.float32)[..., None]
    light = values * known
    for _ in range(3):
        spread, count = tent(tent(light, 0), 1), tent(tent(known, 0), 1)
        fresh = (known == 0) & (count > 0)
        light = np.where(fresh, spread / np.maximum(count, 1e-6), light)
        known = np.where(fresh, 1, known).astype(np.float32)
    return floats(light)


def tent(values: Floats, axis: int) -> Floats:
    """Each with a quarter of either neighbour; the border repeats."""
    padded = np.pad(values, [(1, 1) if k == axis else (0, 0) for k in range(3)], mode="edge")
    count = values.shape[axis]
    before, own, after = (np.take(padded, np.arange(count) + k, axis=axis) for k in range(3))
    return floats(0.25 * before + 0.5 * own + 0.25 * after)
