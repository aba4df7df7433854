"""The road as it is painted on the ground: carriageway, worn tracks, lines, and the edge where the ground begins.

Which lines there are and how they are broken is told by `layout.road_lines`. Measures here are typical, from memory.
"""

import numpy as np

from previz.layout import dash_period, half_road, road_lines
from previz.physics.noise import Array, Canvas, Field, Texels, field_through, noise
from previz.physics.paths import Curve, along_curve
from previz.scene import Road
from previz.stage.paint.painting import grain, lay, smoothstep
from previz.stage.paint.surfaces import SURFACES, PaintJob

_TRACK = 0.90  # from the middle of a lane to each wheel track, full size [m]
_GRID = 0.008  # where distances to the curve are worked out [m]

#: How ragged the road's edge is and how far the ground creeps over it, full size [m]; what the verge is made of.
_VERGES: dict[str, tuple[float, float, tuple[float, float, float] | None]] = {
    "snow": (0.30, 0.55, None),
    "grass": (0.16, 0.22, (0.15, 0.125, 0.085)),
    "earth": (0.16, 0.30, (0.17, 0.135, 0.095)),
    "sand": (0.26, 0.50, None),
}
_CRISP = (0.02, 0.03, None)


class Roadway:
    """Paints one road over the rows of a ground. `beyond` is the surface it lies in."""

    def __init__(
        self, road: Road, curve: Curve, canvas: Canvas, scale: float, beyond: str, rng: np.random.Generator
    ) -> None:
        self.road, self.canvas, self.scale = road, canvas, scale
        self.length = curve.length
        self.half = road.lane * road.lanes / 2
        self.beyond = beyond
        self.left, self.along, self.away = _fields(curve, canvas)
        self.ragged, self.creep, self.verge = _VERGES.get(beyond, _CRISP)
        self.surface = SURFACES[road.surface](PaintJob(canvas, scale, road.colour, rng, mended=False))
        self.edge = noise(canvas, rng, 1.6 / scale, 4, roughness=0.6)
        self.wear = noise(canvas, rng, 2.5 / scale, 4, roughness=0.7)
        self.chips = grain(canvas, rng, 1.0)

    def lay_on(self, ground: Texels, rows: slice) -> None:
        """Paint the road over those rows of the ground, (3, n, w) in place."""
        # `left` jumps where two stretches of the road are equally far; `away` tells those places from the road.
        away = self.away.rows(rows)
        near = np.flatnonzero((away < self.half + 4.0 / self.scale).any(axis=0))
        if not len(near):
            return
        columns = slice(int(near[0]), int(near[-1]) + 1)
        left, along = (field.rows(rows)[:, columns] for field in (self.left, self.along))
        edge, wear, chip = (field.rows(rows)[:, columns] for field in (self.edge, self.wear, self.chips))
        surface = self.surface(rows)[:, :, columns].copy()
        aside = np.where(away[:, columns] < self.half + 4.0 / self.scale, np.abs(left), away[:, columns])
        ends = np.minimum(along, self.length - along)  # negative beyond the ends of the road
        self._drive_over(surface, left, wear)
        self._lines(surface, left, along, wear + 0.6 * chip)
        under = ground[:, :, columns]
        over_edge = (
            aside - half_road(self.road, self.scale) + (self.ragged * edge + 0.25 * self.ragged * chip) / self.scale
        )
        over_edge = np.maximum(over_edge, -ends)
        soft = max(self.creep / self.scale, 0.6 * self.canvas.texel)
        if self.verge is not None:
            lay(
                under,
                self.verge,
                0.75 * smoothstep(over_edge + 0.12 * edge / self.scale, 1.5 / self.scale, 0.1 / self.scale),
            )
        elif self.beyond not in ("snow", "sand"):  # the joint and the dust along it
            under *= 1 - 0.25 * smoothstep(over_edge, 0.35 / self.scale, 0.0)[None]
        if self.beyond == "snow":
            self._snow_on(surface, under, aside, wear, edge)
        lay(under, surface, smoothstep(over_edge, soft, -soft))

    def _lanes(self) -> Array:
        """Middle of each lane, left of the road's middle. [m]"""
        return (np.arange(self.road.lanes) - (self.road.lanes - 1) / 2) * self.road.lane

    def _tracks(self, left: Texels, spread: float) -> Texels:
        """1 in the wheel tracks, falling off over `spread` full-size metres."""
        from_lane = np.abs(left) - self.road.lane / 2 if self.road.lanes % 2 == 0 else np.abs(left)
        lane = np.round(from_lane / self.road.lane)
        from_middle = np.abs(from_lane - lane * self.road.lane)
        off = (from_middle - _TRACK / self.scale) * (self.scale / spread)
        return np.exp(-0.5 * off * off)

    def _drive_over(self, surface: Texels, left: Texels, wear: Texels) -> None:
        """Polished wheel tracks, and the oil that drips between them."""
        tracks = self._tracks(left, 0.26)
        pale = self.road.surface in ("snow", "sand", "earth")
        surface *= (1 + (-0.10 if pale else 0.12) * tracks * (1 + 0.35 * wear))[None]
        if not pale:
            for lane in self._lanes():
                off = (left - np.float32(lane)) * np.float32(self.scale / 0.24)
                surface *= (1 - 0.12 * np.exp(-0.5 * off * off) * (1 + 0.5 * wear))[None]

    def _lines(self, surface: Texels, left: Texels, along: Texels, wear: Texels) -> None:
        """The painted lines, worn in places but nowhere gone."""
        texel = self.canvas.texel
        first, dash, period = dash_period(self.scale)
        cover = np.zeros_like(left)
        for each in road_lines(self.road, self.scale):
            line = np.clip((each.width / 2 - np.abs(left - np.float32(each.left))) / texel + 0.5, 0, 1)
            if each.broken:
                into = np.mod(along - first, period)
                line *= np.clip((dash / 2 - np.abs(into - dash / 2)) / texel + 0.5, 0, 1)
            np.maximum(cover, line, out=cover)
        cover *= 0.90 - 0.34 * smoothstep(wear, 0.5, 2.4)
        lay(surface, self.road.paint, cover)

    def _snow_on(self, surface: Texels, snow: Texels, aside: Texels, wear: Texels, edge: Texels) -> None:
        """Snow blown on to the road: most at the sides, some between the tracks, none where wheels run."""
        if self.road.surface == "snow":
            return
        cleared = self._tracks(aside, 0.42)
        side = smoothstep(aside + 0.25 * edge / self.scale, self.half - 0.9 / self.scale, self.half + 0.5 / self.scale)
        dust = np.clip(0.26 + 0.09 * wear + 0.07 * edge, 0.05, 0.6) * (1 - 0.85 * cleared) + 0.75 * side
        lay(surface, snow, np.clip(dust, 0, 0.92))


def _fields(curve: Curve, canvas: Canvas) -> tuple[Field, Field, Field]:
    """Distance left of the curve, along it and away from it, for every texel of the ground."""
    width, depth = canvas.width * canvas.texel, canvas.height * canvas.texel
    step = max(_GRID, 4 * canvas.texel)
    columns, lines = int(width / step) + 4, int(depth / step) + 4
    x, y = (np.arange(columns) - 1) * step, depth - (np.arange(lines) - 1) * step
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    found = along_curve(curve, points)
    x_places = 1 + (np.arange(canvas.width) + 0.5) * canvas.texel / step
    y_places = 1 + (np.arange(canvas.height) + 0.5) * canvas.texel / step
    left, along, away = (
        field_through(grid.reshape(lines, columns), x_places, y_places)
        for grid in (found.left, found.along, found.away)
    )
    return left, along, away
