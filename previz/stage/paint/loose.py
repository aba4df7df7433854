"""Loose ground: gravel stone by stone, mud with its wet places, and what tyres press into what is soft.

Sizes said in metres are full size, typical, from memory.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

import numpy as np

from previz.layout import TyreTrack
from previz.physics.noise import Canvas, Field, Texels, noise
from previz.physics.water import wetted
from previz.stage.paint.jobs import PaintJob
from previz.stage.paint.painting import Grain, PaintRows, grain, lay, smoothstep, tinted
from previz.stage.paint.places import fields_along

_TREAD = 0.11  # from lug to lug [m]
_WANDER = 0.07  # how far one passage lies off another [m]
_TILE = 768  # texels across a picture of stones, which repeats
_ROWS = 32  # of it made at once: as many as the processor's cache holds


@dataclass(frozen=True)
class Stones:
    """A picture of stones side by side, which repeats: how bright each texel is beside the mean, how far up it lies."""

    tone: Grain
    dome: Grain


def stones(canvas: Canvas, rng: np.random.Generator, size: float, tile: int = _TILE) -> Stones:
    """Stones about `size` across [m], each its own shade, leaning its own way, dark where it meets others.

    They are the cells round points thrown one into each square of a grid (Worley, "A cellular texture basis function",
    SIGGRAPH 1996).
    """
    cells = max(round(tile * canvas.texel / max(size, 3.0 * canvas.texel)), 4)
    points = rng.uniform(0.0, 1.0, (cells, cells, 2)).astype(np.float32)
    shades = rng.standard_normal((cells, cells), dtype=np.float32)
    sizes = rng.uniform(0.0, 0.35, (cells, cells)).astype(np.float32)
    leans = rng.standard_normal((cells, cells, 2), dtype=np.float32)
    at = (np.arange(tile, dtype=np.float32) + 0.5) * np.float32(cells / tile)
    cell = at.astype(np.intp)
    of_cells = (points[..., 0], points[..., 1], sizes, shades, leans[..., 0], leans[..., 1])
    gap, shade, lean = np.empty((tile, tile)), np.empty((tile, tile), np.float32), np.empty((tile, tile))
    for start in range(0, tile, _ROWS):
        rows = slice(start, start + _ROWS)
        near = np.full((len(at[rows]), tile), 9.0, np.float32)
        next_near, own_shade, own_lean = near.copy(), np.zeros_like(near), np.zeros_like(near)
        for up, across in product((-1, 0, 1), (-1, 0, 1)):
            row, column = (cell[rows] + up) % cells, (cell + across) % cells
            point_x, point_y, stone, tone, lean_x, lean_y = (each[row][:, column] for each in of_cells)
            dy = at[rows, None] - (cell[rows] + up)[:, None] - point_y
            dx = at[None] - (cell + across)[None] - point_x
            away = np.hypot(dx, dy) - stone
            nearer = away < near
            next_near = np.where(nearer, near, np.minimum(next_near, away))
            near = np.where(nearer, away, near)
            own_shade = np.where(nearer, tone, own_shade)
            own_lean = np.where(nearer, lean_x * dx + lean_y * dy, own_lean)
        gap[rows], shade[rows], lean[rows] = next_near - near, own_shade, own_lean
    dome = smoothstep(gap, 0.0, 0.42)
    tone = 0.20 * shade + 0.42 * np.clip(lean, -1, 1) + 0.55 * (dome - dome.mean())
    return Stones(_repeated(canvas, tone - tone.mean()), _repeated(canvas, dome))


def _repeated(canvas: Canvas, tile: Texels) -> Grain:
    repeats = -(-canvas.width // tile.shape[1])
    return Grain(np.ascontiguousarray(np.tile(tile.astype(np.float32), (1, repeats))[:, : canvas.width]))


def gravel(job: PaintJob) -> PaintRows:
    """Gravel: two sizes of stones whose repeats do not fall together, sorted in drifts, dusty where it is fine."""
    canvas, rng = job.canvas, job.rng
    coarse, fine = stones(canvas, rng, job.model(0.075)), stones(canvas, rng, job.model(0.032), 611)
    sorting = noise(canvas, rng, job.model(1.6), 5, roughness=0.65)
    drifts = noise(canvas, rng, job.model(9.0), 4)
    dust = grain(canvas, rng, 0.6)

    def paint(rows: slice) -> Texels:
        drift = drifts.rows(rows)
        large = smoothstep(sorting.rows(rows) + 0.4 * drift, -0.6, 0.5)
        tone = large * coarse.tone.rows(rows) + (1 - large) * (0.06 + 0.75 * fine.tone.rows(rows))
        colour = tinted(1 + tone + 0.05 * drift + 0.04 * dust.rows(rows), job.colour)
        lay(colour, np.array(job.colour) * (1.12, 1.04, 0.90), 0.35 * (1 - large))
        return colour

    return paint


class Mud:
    """Mud: clods and smooth places, darker where it is wet; `film` is how much of it gleams."""

    def __init__(self, job: PaintJob) -> None:
        canvas, rng = job.canvas, job.rng
        self._colour = job.colour
        self._wet = noise(canvas, rng, job.model(2.6), 5, roughness=0.55)
        self._clods = noise(canvas, rng, max(job.model(0.35), 6 * canvas.texel), 3, roughness=0.7)
        self._rises = noise(canvas, rng, job.model(6.0), 4)
        self._crumbs = stones(canvas, rng, job.model(0.06))
        self._fine = grain(canvas, rng, 0.7)

    def __call__(self, rows: slice) -> Texels:
        """Its colours."""
        wet, clod = self._wetness(rows), self._clods.rows(rows)
        rough = 1 - wet
        tone = 1.25 + 0.10 * self._rises.rows(rows) + rough * (0.16 * clod + 0.45 * self._crumbs.tone.rows(rows))
        tone += 0.05 * self._fine.rows(rows)
        colour = tinted(np.maximum(tone, 0.15), self._colour)
        lay(colour, wetted(self._colour), 0.85 * wet)
        return colour

    def film(self, rows: slice) -> Texels:
        """How much of each texel gleams, (n, w)."""
        return np.asarray(0.8 * self._wetness(rows) * (1 - 0.25 * np.abs(self._clods.rows(rows))))

    def _wetness(self, rows: slice) -> Texels:
        return smoothstep(self._wet.rows(rows) - 0.5 * self._clods.rows(rows), -0.55, 0.75)


class Tracks:
    """What the tyres of one vehicle press into soft ground along its way: two passages, a little apart."""

    def __init__(self, track: TyreTrack, canvas: Canvas, scale: float, rng: np.random.Generator) -> None:
        self._track, self._scale = track, scale
        self._left, self._along, self._away = fields_along(track.curve, canvas)
        self._worn: Field = noise(canvas, rng, 1.2 / scale, 4, roughness=0.6)
        self._edge = grain(canvas, rng, 1.2)
        self._swerves = [(rng.uniform(0.2, 0.55, 4), rng.uniform(0, 2 * np.pi, 4)) for _ in range(2)]

    def press(self, ground: Texels, film: Texels | None, rows: slice, soft: Texels) -> None:
        """Into those rows of the ground (3, n, w) and what of it gleams (n, w), in place; `soft` (n, w) is how deep."""
        half, left, along = self._track.width / 2, self._left.rows(rows), self._along.rows(rows)
        near = (self._away.rows(rows) < self._track.apart / 2 + 3 * half) & (soft > 0)
        if not near.any():
            return
        worn, edge = self._worn.rows(rows), self._edge.rows(rows)
        soft = soft * near * (0.85 + 0.12 * worn)
        for passage, (ways, phases) in enumerate(self._swerves):
            swerve = sum(
                np.sin(way * along * self._scale + phase) for way, phase in zip(ways.tolist(), phases, strict=True)
            )
            from_wheel = np.abs(left + np.float32(_WANDER / self._scale / 2) * swerve) - self._track.apart / 2
            across = from_wheel / half + 0.10 * edge + 0.06 * worn
            strength = soft * (1.0 if passage else 0.6)
            inside = strength * smoothstep(np.abs(across), 1.08, 0.86)
            pitch = np.float32(2 * np.pi * self._scale / _TREAD)
            lugs = smoothstep(np.sin(along * pitch + 2.2 * np.abs(across)), -0.25, 0.25)
            rim = strength * np.exp(-(((np.abs(across) - 1.22) / 0.16) ** 2))
            ground *= (1 - inside * (0.20 + 0.26 * lugs) + 0.13 * rim)[None]
            if film is not None:
                np.maximum(film, 0.5 * inside * (1 - 0.6 * lugs) * (film > 0), out=film)


def tracks_of(
    tracks: Sequence[TyreTrack], canvas: Canvas, scale: float, rng: np.random.Generator
) -> tuple[Tracks, ...]:
    """Ready to be pressed in, one vehicle after another."""
    return tuple(Tracks(track, canvas, scale, rng) for track in tracks)
