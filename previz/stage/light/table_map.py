"""Maps over the table: row 0 at the far edge."""

from typing import TypeVar

import numpy as np

from previz.light import Floats, Mask, floats

Some = TypeVar("Some", Floats, Mask)


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


def finer(values: Floats, times: int) -> Floats:
    """The map in texels a `times`th as long, between those it has as it is drawn. (times h, times w, 3)

    >>> finer(floats([[[0.0], [3.0]]]), 3)[..., 0].round(3).tolist()[0]
    [0.0, 0.0, 1.0, 2.0, 3.0, 3.0]
    """
    if times == 1:
        return values
    for axis in (0, 1):
        count = values.shape[axis]
        places = np.clip((np.arange(times * count) + 0.5) / times - 0.5, 0, count - 1)
        before = np.minimum(places.astype(int), max(count - 2, 0))
        share = floats(places - before).reshape(-1, *[1] * (values.ndim - 1 - axis))
        values = (
            np.take(values, before, axis) * (1 - share)
            + np.take(values, np.minimum(before + 1, count - 1), axis) * share
        )
    return floats(values)


def about(values: Some, of: np.ufunc) -> Some:
    """The greatest or the least, np.maximum or np.minimum, of each (h, w) and the eight around it."""
    for axis in (0, 1):
        padded = np.pad(values, [(1, 1) if k == axis else (0, 0) for k in range(2)], mode="edge")
        before, own, after = (np.take(padded, np.arange(values.shape[axis]) + k, axis) for k in range(3))
        values = of(of(before, own), after)
    return values


#: Of a texel and the eight around it: how far down and across, and how much each counts in a `tent` along both.
_AROUND = [(down, across, 0.25 / 2 ** (abs(down) + abs(across))) for down in (-1, 0, 1) for across in (-1, 0, 1)]


def filled(values: Floats, covered: Mask) -> Floats:
    """The map with covered texels as bright as those around, or their darkness would fringe the foot of each piece."""
    light = np.pad(values * ~covered[..., None], ((1, 1), (1, 1), (0, 0)), mode="edge")
    known = np.pad(~covered, 1, mode="edge")
    for _ in range(3):
        fresh = ~known & about(known, np.maximum)
        fresh[[0, -1]] = fresh[:, [0, -1]] = False
        rows, columns = np.nonzero(fresh)
        spread, count = np.zeros((len(rows), values.shape[2]), np.float32), np.zeros((len(rows), 1), np.float32)
        for down, across, weight in _AROUND:
            there = (rows + down, columns + across)
            counts = np.float32(weight) * known[there][:, None]
            spread += counts * light[there]
            count += counts
        light[fresh], known[fresh] = spread / count, True
    return light[1:-1, 1:-1]


def tent(values: Floats, axis: int) -> Floats:
    """Each with a quarter of either neighbour; the border repeats."""
    padded = np.pad(values, [(1, 1) if k == axis else (0, 0) for k in range(3)], mode="edge")
    count = values.shape[axis]
    before, own, after = (np.take(padded, np.arange(count) + k, axis=axis) for k in range(3))
    return floats(0.25 * before + 0.5 * own + 0.25 * after)
