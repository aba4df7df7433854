"""The vehicle's light at any place along its path, interpolated between the stations where it was baked."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from previz.frames.mirror import mirror_maps
from previz.stage import Station

Floats = NDArray[np.float32]


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
    """

    body: Floats
    shadow: Floats
    beam: Floats | None
    mirror: Floats


class PathLight:
    """Light along the path.

    One frame has one light, that of its mid-shutter: between two stations light is linear in the distance, so the
    mean over the shutter is the same, and views need not mix.
    """

    def __init__(self, stations: Sequence[Station]) -> None:
        self._distances = np.array([station.distance for station in stations])
        self._stations = stations
        self._mirrors = [mirror_maps(station.surround) for station in stations]

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

        return Light(
            body=mixed(a.body, b.body),
            shadow=mixed(a.shadow, b.shadow),
            beam=None if a.beam is None or b.beam is None else mixed(a.beam, b.beam),
            mirror=mixed(self._mirrors[first], self._mirrors[second]),
        )
