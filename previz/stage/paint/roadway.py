"""The road as it is painted on the ground: carriageway, worn tracks, lines, edges, pavements.

Which lines there are and how they are broken is told by `layout.road_lines`, what is raised beside it by
`layout.strips_of`. Measures here are typical, from memory.
"""

import numpy as np

from previz.layout import Strip, dash_period, half_road, road_colour, road_lines, softness
from previz.physics.noise import Array, Canvas, Texels, noise
from previz.physics.paths import Curve
from previz.scene import PAVEMENT_SLAB, Road
from previz.stage.paint.jobs import PaintJob
from previz.stage.paint.loose import Mud
from previz.stage.paint.painting import grain, lay, smoothstep, tinted
from previz.stage.paint.places import fields_along
from previz.stage.paint.surfaces import SURFACES

#: How soft a place is where no tyre and no water gets.
RAISED = -1.0

_TRACK = 0.90  # from the middle of a lane to each wheel track, full size [m]

#: How ragged the road's edge is and how far the ground creeps over it, full size [m]; what the verge is made of.
_VERGES: dict[str, tuple[float, float, tuple[float, float, float] | None]] = {
    "snow": (0.30, 0.55, None),
    "grass": (0.16, 0.22, (0.15, 0.125, 0.085)),
    "earth": (0.16, 0.30, (0.17, 0.135, 0.095)),
    "sand": (0.26, 0.50, None),
    "gravel": (0.22, 0.12, None),
    "mud": (0.24, 0.20, None),
}
_CRISP = (0.02, 0.03, None)
_BROKEN = (0.17, 0.05, None)  # the edge of a hard road in hard ground that is asked to be ragged
_SLOW = 0.6  # how far the ragged edge wanders over some metres, by how ragged it is
_JOINT = 0.012  # between slabs [m]
_GUTTER = 0.30  # how far dirt lies from a kerb [m]


class Roadway:
    """Paints one road over the rows of a ground. `beyond` is the surface it lies in, `strips` what is raised there."""

    def __init__(
        self,
        road: Road,
        curve: Curve,
        canvas: Canvas,
        scale: float,
        beyond: str,
        rng: np.random.Generator,
        strips: tuple[Strip, ...] = (),
    ) -> None:
        self.road, self.canvas, self.scale = road, canvas, scale
        self.length = curve.length
        self.half = road.lane * road.lanes / 2
        self.beyond, self.strips = beyond, strips
        self.left, self.along, self.away = fields_along(curve, canvas)
        self.ragged, self.creep, self.verge = _CRISP if road.edge == "ruled" else _VERGES.get(beyond, _CRISP)
        if road.edge == "ragged" and beyond not in _VERGES:
            self.ragged, self.creep, self.verge = _BROKEN
        self.surface = SURFACES[road.surface](PaintJob(canvas, scale, road_colour(road), rng, mended=False))
        self.soft = softness(road.surface)
        self.edge = noise(canvas, rng, 1.6 / scale, 4, roughness=0.6)
        self.wear = noise(canvas, rng, 2.5 / scale, 4, roughness=0.7)
        self.chips = grain(canvas, rng, 1.0)
        self.slow = noise(canvas, rng, 8.0 / scale, 3)
        self.shades = 1 + 0.07 * rng.standard_normal(4096, dtype=np.float32)

    def lay_on(self, ground: Texels, rows: slice, film: Texels | None = None, soft: Texels | None = None) -> None:
        """Paint the road over those rows of the ground, (3, n, w) in place; and over what of them gleams and how deep
        tyres press into them (`RAISED` on kerb and pavement), (n, w) each, where that is asked for."""
        # `left` jumps where two stretches of the road are equally far; `away` tells those places from the road.
        away = self.away.rows(rows)
        reach = max(self.half + 4.0 / self.scale, *(strip.outer + 0.5 / self.scale for strip in self.strips), 0.0)
        near = np.flatnonzero((away < reach).any(axis=0))
        if not len(near):
            return
        columns = slice(int(near[0]), int(near[-1]) + 1)
        left, along = (field.rows(rows)[:, columns] for field in (self.left, self.along))
        edge, wear, chip = (field.rows(rows)[:, columns] for field in (self.edge, self.wear, self.chips))
        surface = self.surface(rows)[:, :, columns].copy()
        aside = np.where(away[:, columns] < reach, np.abs(left), away[:, columns])
        ends = np.minimum(along, self.length - along)  # negative beyond the ends of the road
        self._drive_over(surface, left, wear)
        self._lines(surface, left, along, wear + 0.6 * chip)
        under = ground[:, :, columns]
        over_edge = aside - half_road(self.road, self.scale)
        ruled = self._kerbed(left)
        wander = self.ragged * (edge + 0.25 * chip)
        if self.ragged > _CRISP[0]:
            wander = wander + _SLOW * self.ragged * self.slow.rows(rows)[:, columns]
        over_edge = over_edge + np.where(ruled, 0.0, wander / self.scale)
        over_edge = np.maximum(over_edge, -ends)
        fade = np.where(ruled, 0.0, self.creep / self.scale)
        fade = np.maximum(fade, 0.6 * self.canvas.texel)
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
        dirty = ruled * smoothstep(over_edge + 0.05 * wear / self.scale, -_GUTTER / self.scale, 0.0)
        surface *= 1 - 0.30 * dirty[None]
        cover = smoothstep(over_edge / fade, 1.0, -1.0)
        lay(under, surface, cover)
        if film is not None:
            gleam = self.surface.film(rows)[:, columns] if isinstance(self.surface, Mud) else 0.0
            film[:, columns] += cover * (gleam - film[:, columns])
        if soft is not None:
            soft[:, columns] += cover * (self.soft - soft[:, columns])
        for strip in self.strips:
            self._pave(under, strip, strip.side * left, np.where(ends >= 0, along, -1.0), wear + 0.3 * chip)
            on_it = (strip.side * left > strip.face) & (strip.side * left < strip.outer) & (ends >= 0)
            on_it &= away[:, columns] < reach
            if film is not None:
                film[:, columns][on_it] = 0.0
            if soft is not None:
                soft[:, columns][on_it] = RAISED

    def _kerbed(self, left: Texels) -> Texels:
        """Where the edge lies along a kerb."""
        sides = [strip.side * left > 0 for strip in self.strips]
        return np.any(sides, axis=0) if sides else np.zeros(left.shape, dtype=bool)

    def _pave(self, under: Texels, strip: Strip, off: Texels, along: Texels, wear: Texels) -> None:
        """The slabs behind a kerb, in courses that break joints, and the back of its stones; `off` is from the road's
        middle, `along` below 0 where there is no road."""
        pavement, texel = self.road.pavement, self.canvas.texel
        on_it = np.clip((off - strip.face) / texel + 0.5, 0, 1) * np.clip((strip.outer - off) / texel + 0.5, 0, 1)
        on_it *= (along >= 0) & (off < strip.outer + texel)
        if pavement is None or not on_it.any():
            return
        slab = pavement.slab or PAVEMENT_SLAB / self.scale
        course = np.floor((off - strip.back) / np.float32(slab))
        place = along / np.float32(slab) + 0.5 * (course % 2)
        number = (np.floor(place).astype(np.int64) * 53 + course.astype(np.int64) * 911) & 4095
        from_joint = np.minimum(
            0.5 - np.abs(place - np.floor(place) - 0.5), 0.5 - np.abs((off - strip.back) / slab - course - 0.5)
        )
        width = max(_JOINT / self.scale, 0.8 * texel)
        joint = np.clip((width / 2 - from_joint * slab) / texel + 0.5, 0, 1)
        tone = self.shades[number] * (1 + 0.05 * wear) * (1 - 0.5 * joint)
        tone *= 1 - 0.12 * smoothstep(from_joint * slab * self.scale, 0.08, 0.0)
        lay(under, tinted(tone.astype(np.float32), pavement.colour), on_it)

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
        pale = self.road.surface in ("snow", "sand", "earth", "gravel", "mud")
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
