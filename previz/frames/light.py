"""The vehicle's light at any place along its path, interpolated between the stations where it was baked."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from previz.frames.mirror import mirror_maps
from previz.stage import Station

Floats = NDArray[np.float32]

#: Shadow or beam fainter than this share of the light is left out, so that little has to be drawn again: a quarter of
#: the smallest step an 8-bit picture shows in mid-grey.
_FAINT = 0.002


@dataclass(frozen=True)
class SetLight:
    """The light on what stands still.

    Parameters
    ----------
    still : tuple of (n, 3) float32
        Irradiance on the corners of each of `Unlit.still`. RGB [lx]
    ground : (h, w, 3) float32
        Over the table. RGB [lx]
    room : (3,) float
        Radiance of what lies beyond the set. RGB [cd/m2]
    around : tuple of (n,) float32 or None
        As `LitMesh.around`, of each of `still`; none: of none.
    """

    still: tuple[Floats, ...]
    ground: Floats
    room: tuple[float, float, float]
    around: tuple[Floats | None, ...] = ()


@dataclass(frozen=True)
class Light:
    """The light of one frame.

    Parameters
    ----------
    body : (n, 3) float32
        Irradiance at the vehicle's corners. RGB [lx]
    shadow : (h, w, 3) float32
        Irradiance of the ground with the vehicle over that without it.
    beam : (h, w, 3) float32 or None
        What the vehicle's lamps add to the ground. RGB [lx]
    mirror : (levels, side, side, 3) float32
        What paint mirrors: `previz.frames.mirror.mirror_maps`. RGB [cd/m2]
    touched : (x0, x1, y0, y1)
        The part of the ground's grid where shadow or beam change anything, from rear to front and from the right to
        the left border, 0..1.
    around : (n,) float32 or None
        As `Station.around`.
    sheet : (h, w, 3) float32 or None
        As `shadow`, of the ramp that the vehicle drives on.
    """

    body: Floats
    shadow: Floats
    beam: Floats | None
    mirror: Floats
    touched: tuple[float, float, float, float]
    around: Floats | None = None
    sheet: Floats | None = None

    def smeared(self, length: float) -> "Light":
        """As each view leaves it that stands for a part of the shutter, in which the vehicle goes that far.

        length: of its way in that part over the length of the grid, which lies along it.
        """
        if length * self.shadow.shape[1] < 0.5:
            return self
        shadow = _smeared(self.shadow, length)
        beam = None if self.beam is None else _smeared(self.beam, length)
        sheet = None if self.sheet is None else _smeared(self.sheet, length)
        return replace(self, shadow=shadow, beam=beam, sheet=sheet, touched=_touched(shadow, beam, sheet))


def _smeared(image: Floats, length: float) -> Floats:
    """The mean over that share of its breadth around each place of an image (h, w, 3), whose sides go on for ever."""
    count = image.shape[1]
    half = length * count / 2
    beyond = math.ceil(half) + 1
    padded = np.pad(image, ((0, 0), (beyond, beyond), (0, 0)), mode="edge").astype(np.float64)
    # What lies to the left of each border between texels; between two borders it rises evenly.
    before = np.concatenate([np.zeros_like(padded[:, :1]), np.cumsum(padded, axis=1)], axis=1)

    def left_of(places: NDArray[np.float64]) -> NDArray[np.float64]:
        whole = np.floor(places).astype(int)
        part = (places - whole)[None, :, None]
        return np.asarray(before[:, whole] * (1 - part) + before[:, whole + 1] * part)

    middles = np.arange(count) + beyond + 0.5
    # What was even is the very same even value: what is compared with 1 is 1.
    mean = ((left_of(middles + half) - left_of(middles - half)) / (2 * half)).astype(np.float32)
    even = np.abs(mean - image) < 1e-5
    return np.where(even, image, mean)


class PathLight:
    """Light along the path.

    One frame has one light, that of its mid-shutter: between two stations light is linear in the distance, so the
    mean over the shutter is the same, and views need not mix.
    """

    def __init__(self, stations: Sequence[Station], typical: float) -> None:
        """`typical` is the illuminance of the ground that a beam has to compete with. [lx]"""
        self._distances = np.array([station.distance for station in stations])
        self._stations = stations
        self._mirrors = [mirror_maps(station.surround) for station in stations]
        self._typical = typical

    def at(self, distance: float) -> Light:
        """The light at a distance along the path [m]; before the first and after the last station, theirs."""
        last = len(self._stations) - 1
        first = min(max(int(np.searchsorted(self._distances, distance, side="right")) - 1, 0), max(last - 1, 0))
        second = min(first + 1, last)
        a, b = self._stations[first], self._stations[second]
        # From the two distances alone, so that a frame's light is the same to the bit whatever stations came along.
        share = np.float32(np.clip((distance - a.distance) / (b.distance - a.distance), 0, 1) if last else 0)

        def mixed(before: Floats, after: Floats) -> Floats:
            return np.asarray(before + (after - before) * share, dtype=np.float32)

        def shade(before: Floats, after: Floats) -> Floats:
            shadow = mixed(before, after)
            return np.where(np.abs(shadow - 1) < _FAINT, np.float32(1), shadow)

        shadow, sheet = shade(a.shadow, b.shadow), None
        if a.sheet is not None or b.sheet is not None:
            none = np.ones_like(shadow)
            sheet = shade(*(none if each.sheet is None else each.sheet for each in (a, b)))
        beam = None if a.beam is None or b.beam is None else mixed(a.beam, b.beam)
        if beam is not None:
            beam = np.where(beam < _FAINT * self._typical, np.float32(0), beam)
        mirror = mixed(self._mirrors[first], self._mirrors[second])
        around = None if a.around is None or b.around is None else mixed(a.around, b.around)
        return Light(mixed(a.body, b.body), shadow, beam, mirror, _touched(shadow, beam, sheet), around, sheet)


def _touched(shadow: Floats, beam: Floats | None, sheet: Floats | None) -> tuple[float, float, float, float]:
    """Where shadow or beam are, with the texels between which they fade out."""
    there = (shadow != 1).any(axis=2)
    if sheet is not None:
        there |= (sheet != 1).any(axis=2)
    if beam is not None:
        there |= (beam != 0).any(axis=2)
    if not there.any():
        return 0.5, 0.5, 0.5, 0.5
    rows, columns = np.flatnonzero(there.any(axis=1)), np.flatnonzero(there.any(axis=0))
    height, width = there.shape
    x0, x1 = (columns[0] - 1) / width, (columns[-1] + 2) / width
    y0, y1 = 1 - (rows[-1] + 2) / height, 1 - (rows[0] - 1) / height
    return float(max(x0, 0)), float(min(x1, 1)), float(max(y0, 0)), float(min(y1, 1))
