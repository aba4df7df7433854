"""Flashes in a finished clip against the limit of three in any one second.

Source: WCAG 2.2, success criterion 2.3.1 and its definition of general and red flash thresholds (repo w3c/wcag, seen):
a flash is a pair of opposing changes of relative luminance of a tenth or more of its maximum, the darker image below
0.80; or a pair of opposing changes to or from a saturated red, R / (R + G + B) of 0.8 or more, over more than 0.2 in
the CIE 1976 UCS diagram. Flashes over less than a quarter of every 10 degree field do not count.

Four assumptions. A change whose opposite falls outside the second is half a flash: seven changes in a second are more
than three flashes; light that flashes 3.4 times a second has seven in its worst. A 10 degree field is a third of the
picture's width and of its height wherever it lies (341 x 256 of 1024 x 768 pixels at a desk, from memory); from three
picture heights away it is larger, so this errs on the strict side. Changes that overlap in time and go the same way
count as one, over the area of all of them, and such a change goes on until that area has halved: where something moves
through the picture always some cells brighten, and were each wavering about the limit counted, a thousandth of the
light more or less would make flashes. What flashes a quarter of a field place by place, each in its own time, counts as
well, where stripes pass say: WCAG asks for "the combined area of flashes occurring concurrently", a flash is a pair of
changes and lasts from the first to the end of the second, and nothing there says that such flashes begin together. So a
place counts while it flashes that often, and only with those that do at the same moment: places that something comes to
one after the other are not added up.

This warns; it is no certificate.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from previz.physics.colour import LUMINANCE

Array = NDArray[np.float64]
Steps = NDArray[np.int8]

#: The limit: more flashes than this in one second are too many.
MOST_FLASHES = 3

#: A change counts from this share of the largest relative luminance on, while the darker image is below DARKER.
CHANGE, DARKER = 0.10, 0.80

#: A red is saturated from this R / (R + G + B) on; a change of it counts over more than that in u', v'.
SATURATED, RED_CHANGE = 0.80, 0.20

#: Share of a 10 degree field over which a flash counts.
FIELD_SHARE = 0.25

#: Cells across and down a picture is looked at in; a field is a third of each.
CELLS = (24, 18)

#: CIE XYZ of linear Rec. 709 (ITU-R BT.709 primaries and D65, from memory to four digits).
_XYZ = np.array([[0.4124, 0.3576, 0.1805], LUMINANCE, [0.0193, 0.1192, 0.9505]])


@dataclass(frozen=True)
class Flashes:
    """The worst second of a clip.

    Parameters
    ----------
    general, red : float
        Flashes of either kind in it: opposing changes, two a flash.
    share : float
        Largest share of a 10 degree field that a change covered anywhere in the clip, of either kind; where more flash
        place by place than at once, the largest share that does so often at one moment. [-]
    when : (float, float)
        From when to when the worst lasts. [s in the clip]
    passing : bool
        Whether more flash place by place, as where something passes, than at once, as where light pulses.
    """

    general: float
    red: float
    share: float
    when: tuple[float, float] = (0.0, 0.0)
    passing: bool = False

    @property
    def worst(self) -> float:
        """The larger count."""
        return max(self.general, self.red)

    @property
    def too_many(self) -> bool:
        """Over the limit."""
        return self.worst > MOST_FLASHES


def flashes_in_a_second(frames: ArrayLike, rate: float) -> Flashes:
    """The most flashes within any one second of a clip.

    Parameters
    ----------
    frames : (n,) or (n, h, w, 3) float
        Relative luminance of the whole picture, or small pictures in linear Rec. 709; 1 is the display's white, and
        what is brighter is cut to it.
    rate : float
        Playback rate. [1/s]

    Returns
    -------
    Flashes

    Raises
    ------
    ValueError
        If `frames` has another shape, or the rate is not above zero.

    Examples
    --------
    Black and white in turn at 24 fps, 12 flashes a second; then a slow fade, none:

    >>> flashes_in_a_second([0.0, 1.0] * 24, 24).general
    12.0
    >>> flashes_in_a_second(np.linspace(0, 1, 48), 24).general
    0.0
    """
    pictures = np.asarray(frames, dtype=float)
    if pictures.ndim == 1:
        pictures = np.repeat(pictures[:, None, None, None], 3, axis=3)
    if pictures.ndim != 4 or pictures.shape[3] != 3:
        raise ValueError(f"frames of shape {pictures.shape} are neither (n,) luminances nor (n, h, w, 3) pictures")
    if not rate > 0:
        raise ValueError(f"a rate of {rate:g} is not above zero")
    pictures = np.clip(pictures, 0.0, 1.0)
    general = _most(_luminance_changes(pictures @ LUMINANCE), rate)
    red = _most(_red_changes(pictures), rate)
    worst = max(general, red, key=lambda found: found.count)
    share = worst.share if worst.passing else max(found.share for found in (general, red) if not found.passing)
    return Flashes(general.count, red.count, share, worst.when, worst.passing)


def cells_of(linear: ArrayLike) -> NDArray[np.float32]:
    """A frame (h, w, 3) as the mean light of its cells (18, 24, 3), cut to the display's white; small to keep.

    >>> cells_of(np.ones((36, 48, 3))).shape
    (18, 24, 3)
    """
    light = np.asarray(linear)
    across, down = (_edges(light.shape[axis], cells) for axis, cells in ((1, CELLS[0]), (0, CELLS[1])))
    # A band of rows at a time stays in the processor's cache.
    bands = [np.clip(light[top:end], 0.0, 1.0).mean(axis=0) for top, end in pairwise(down)]
    sums = np.add.reduceat(np.stack(bands), across[:-1], axis=1, dtype=np.float64)
    return (sums / np.diff(across)[:, None]).astype(np.float32)


def _edges(length: int, cells: int) -> list[int]:
    """Where so many cells begin and end along a side; of fewer pixels each is a cell."""
    return np.linspace(0, length, min(cells, length) + 1).round().astype(int).tolist()


def _luminance_changes(light: Array) -> Steps:
    """For each frame and cell (n, h, w): +1 or -1 while a change that counts goes on, up or down, else 0."""
    steps = np.zeros(light.shape, np.int8)
    for cell in np.ndindex(light.shape[1:]):
        for change in _changes(light[(slice(None), *cell)].tolist()):
            if change.darker < DARKER:
                steps[(slice(change.leaves + 1, change.counts + 1), *cell)] = change.way
    return steps


@dataclass
class _Change:
    """From one turn of the luminance to the next.

    Parameters
    ----------
    leaves, counts : int
        The last frame at the turn it starts from, and the first that is CHANGE away from it.
    way : int
        +1 brighter, -1 darker.
    darker : float
        Luminance of its darker end.
    """

    leaves: int
    counts: int
    way: int
    darker: float


def _changes(light: list[float]) -> list[_Change]:
    """All changes of CHANGE or more; what goes back and forth by less is part of the one it lies in."""
    found: list[_Change] = []
    low = high = (0, light[0])
    for number, value in enumerate(light):
        low = (number, value) if value <= low[1] else low
        high = (number, value) if value >= high[1] else high
        way = found[-1].way if found else 0
        if way < 0:
            found[-1].darker = low[1]
        if way <= 0 and value - low[1] >= CHANGE - 1e-9:
            found.append(_Change(low[0], number, 1, low[1]))
            high = (number, value)
        elif way >= 0 and high[1] - value >= CHANGE - 1e-9:
            found.append(_Change(high[0], number, -1, value))
            low = (number, value)
    return found


def _red_changes(pictures: Array) -> Steps:
    """For each frame and cell (n, h, w): +1 as it turns to a saturated red, -1 as it turns from one, else 0."""
    total = pictures.sum(axis=3)
    share = np.divide(pictures[..., 0], total, out=np.zeros_like(total), where=total > 1e-6)
    red, place = share >= SATURATED, _ucs(pictures)
    steps = np.zeros(total.shape, np.int8)
    was_red, was = red[0], place[0]
    for number in range(1, len(pictures)):
        changed = (red[number] != was_red) & (np.linalg.norm(place[number] - was, axis=-1) > RED_CHANGE)
        steps[number] = np.where(changed, np.where(red[number], 1, -1), 0)
        was_red, was = np.where(changed, red[number], was_red), np.where(changed[..., None], place[number], was)
    return steps


def _ucs(pictures: Array) -> Array:
    """CIE 1976 u', v' (..., 2) of linear Rec. 709; black has white's."""
    x, y, z = np.moveaxis(np.where(pictures.sum(axis=-1, keepdims=True) > 1e-6, pictures, 1.0) @ _XYZ.T, -1, 0)
    return np.stack([4 * x, 9 * y], axis=-1) / (x + 15 * y + 3 * z)[..., None]


@dataclass(frozen=True)
class _Worst:
    """The most flashes in a second in any field, as `Flashes` tells them."""

    count: float
    share: float
    when: tuple[float, float]
    passing: bool = False


def _most(steps: Steps, rate: float) -> _Worst:
    """Of what changes at once, or place by place where that flashes more often."""
    count, when, covered = 0.0, (0, 0), 0.0
    shares = {way: _field_shares(steps == way) for way in (1, -1)}
    for field in np.ndindex(shares[1].shape[1:]):
        over = {way: shares[way][(slice(None), *field)] for way in (1, -1)}
        covered = max(covered, *(float(share.max(initial=0.0)) for share in over.values()))
        found, lasts = _flashes(over, rate)
        if found > count:
            count, when = found, lasts
    passing = _place_by_place(steps, rate)
    return passing if passing.count > count else _Worst(count, covered, (when[0] / rate, when[1] / rate))


def _place_by_place(steps: Steps, rate: float) -> _Worst:
    """The most flashes in a second that a quarter of a field has at one moment of it, each cell in its own time."""
    second, worst = _second(rate), _Worst(0.0, 0.0, (0.0, 0.0))
    after = np.concatenate([steps[1:], np.zeros_like(steps[:1])])
    ends = (steps != 0) & (steps != after)
    in_all = np.concatenate([np.zeros((1, *steps.shape[1:]), np.int32), np.cumsum(ends, axis=0, dtype=np.int32)])
    first = np.arange(len(steps))
    counts = in_all[np.minimum(first + second, len(steps))] - in_all[first]
    most = _of_a_quarter(counts)  # as many as there may be; whether at one moment is not looked at yet
    begins, changes = _begins(steps), 1
    for start in np.argsort(-most, kind="stable").tolist():
        while most[start] > changes:
            flashing = _flashing(
                ends[start : start + second], begins[start : start + second] - start, counts[start], changes + 1
            )
            share = float(_field_shares(flashing).max(initial=0.0))
            if share < FIELD_SHARE - 1e-9:
                break
            changes += 1
            lasts = np.flatnonzero(flashing.any(axis=(1, 2)))
            when = ((start + int(lasts[0])) / rate, (start + int(lasts[-1]) + 1) / rate)
            worst = _Worst(changes / 2, share, when, passing=True)
    return worst


def _of_a_quarter(counts: NDArray[np.int32]) -> NDArray[np.int32]:
    """Of counts (n, h, w), the most that a quarter of the cells of any field have. (n,)"""
    fields = np.lib.stride_tricks.sliding_window_view(counts, _sides(counts.shape[1:]), axis=(1, 2))
    cells = fields.reshape(*fields.shape[:3], -1)
    quarter = math.ceil(FIELD_SHARE * cells.shape[-1] - 1e-9)
    return np.asarray(np.partition(cells, -quarter, axis=-1)[..., -quarter].max(axis=(1, 2), initial=0))


def _begins(steps: Steps) -> NDArray[np.int32]:
    """For each frame and cell, the first frame of the change that goes on then. (n, h, w)

    >>> _begins(np.array([0, 1, 1, -1, 0], np.int8).reshape(5, 1, 1)).ravel().tolist()
    [0, 1, 1, 3, 4]
    """
    same = np.concatenate([np.zeros((1, *steps.shape[1:]), bool), steps[1:] == steps[:-1]])
    frames = np.arange(len(steps), dtype=np.int32)[:, None, None]
    return np.asarray(np.maximum.accumulate(np.where(same, 0, frames), axis=0))


def _flashing(
    ends: NDArray[np.bool_], begins: NDArray[np.int32], counts: NDArray[np.int32], least: int
) -> NDArray[np.bool_]:
    """Which cells flash at each frame of a second (t, h, w): from their first change in it to the end of their last.

    Parameters
    ----------
    ends, begins : (t, h, w)
        Where changes end; where those that go on then began, from the second's first frame on.
    counts : (h, w)
        Of changes that end in it; cells with fewer than the least do not flash that often.
    """
    first, last = np.argmax(ends, axis=0), len(ends) - 1 - np.argmax(ends[::-1], axis=0)
    began = np.take_along_axis(begins, first[None], axis=0)
    frames = np.arange(len(ends))[:, None, None]
    return np.asarray((began <= frames) & (frames <= last[None]) & (counts >= least)[None])


def _second(rate: float) -> int:
    """So many frames a second holds; changes less than that apart are in one."""
    return max(math.ceil(rate - 1e-9), 1)


def _sides(cells: tuple[int, ...]) -> tuple[int, int]:
    """Cells down and across a field, of those of a picture."""
    down, across = (max(round(count / 3), 1) if count > 2 else count for count in cells)
    return down, across


def _field_shares(cells: NDArray[np.bool_]) -> Array:
    """Share of each field that is set, (n, fields down, fields across), for every place a field can lie."""
    sums = np.pad(cells.astype(float).cumsum(axis=1).cumsum(axis=2), ((0, 0), (1, 0), (1, 0)))
    down, across = _sides(cells.shape[1:])
    inside = sums[:, down:, across:] - sums[:, :-down, across:] - sums[:, down:, :-across] + sums[:, :-down, :-across]
    return np.asarray(inside / (down * across))


def _ends(shares: list[float]) -> list[int]:
    """The last frame of each change of a field, of the share of it that is changing.

    One begins where the share is FIELD_SHARE and has doubled, and goes on until it has halved. So where something moves
    through the picture and the share wavers about the limit, that is one change, not one at every wavering.

    >>> _ends([0.0, 0.3, 0.0, 0.24, 0.26, 0.24, 0.26, 0.1]), _ends([0.2, 0.5, 0.2, 0.5, 0.2])
    ([1, 6], [1, 3])
    """
    found: list[int] = []
    least, most = 0.0, None
    for number, share in enumerate(shares):
        if most is None:
            least = min(least, share)
            most = share if share >= max(FIELD_SHARE - 1e-9, 2 * least) else None
        elif share < most / 2:
            found.append(number - 1)
            least, most = share, None
        else:
            most = max(most, share)
    return found if most is None else [*found, len(shares) - 1]


def _flashes(over: dict[int, Array], rate: float) -> tuple[float, tuple[int, int]]:
    """Opposing changes, in turn, that end within one second, two of them a flash, and from which frame to which.

    One alone is none.
    """
    ends = [(frame, way) for way, share in over.items() for frame in _ends(share.tolist())]
    turning: list[tuple[int, int]] = []
    for frame, way in sorted(ends):
        if not turning or turning[-1][1] != way:
            turning.append((frame, way))
        else:
            turning[-1] = (frame, way)
    frames = np.array([frame for frame, _ in turning], dtype=float)
    last = np.searchsorted(frames, frames + _second(rate), side="left")
    changes = last - np.arange(len(frames))
    first = int(np.argmax(changes)) if len(changes) else 0
    if not len(changes) or changes[first] < 2:
        return 0.0, (0, 0)
    return float(changes[first] / 2), (int(frames[first]), int(frames[last[first] - 1]) + 1)
