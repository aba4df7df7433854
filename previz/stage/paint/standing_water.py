"""Puddles painted on the ground: darker where it is wet, and a film that gleams where water stands."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from previz.layout import Puddle
from previz.physics.noise import Canvas, Texels, noise
from previz.physics.water import wetted
from previz.stage.paint.painting import grain, lay, smoothstep

_DAMP = 0.45  # how far the damp rim reaches, full size [m]
_RAGGED = 0.07  # how far an outline is off the one on the plan, full size [m]
_WET, _UNEVEN = 0.55, 0.12  # how much of wet ground gleams, and how unevenly; chosen by eye
_SILT = (0.060, 0.052, 0.040)  # what is stirred up in the water, linear reflectance; chosen by eye


class Water:
    """The puddles of one ground."""

    def __init__(self, puddles: Sequence[Puddle], canvas: Canvas, scale: float, rng: np.random.Generator) -> None:
        self.puddles, self._canvas, self._scale = tuple(puddles), canvas, scale
        self._edge = noise(canvas, rng, 0.5 / scale, 4, roughness=0.65)
        self._fine = grain(canvas, rng, 1.0)

    def wet(self, share: float, ground: Texels, film: Texels, rows: slice, gets: NDArray[np.bool_]) -> None:
        """Wet those rows of the ground (3, n, w) all over, and have as much of it gleam (n, w) where water gets."""
        lay(ground, wetted(ground), np.full(film.shape, share, np.float32))
        # In what is rough the film breaks: it gleams more in the hollows, and never as clearly as a puddle.
        gleam = _WET + _UNEVEN * (self._edge.rows(rows) + 0.3 * self._fine.rows(rows))
        np.maximum(film, np.where(gets, share * np.clip(gleam, 0.25, 0.9), 0.0), out=film)

    def stand_on(self, ground: Texels, film: Texels, rows: slice, gets: NDArray[np.bool_]) -> None:
        """Wet those rows of the ground (3, n, w) and what of them gleams (n, w), in place, where water gets (n, w)."""
        canvas = self._canvas
        x = (np.arange(canvas.width) + 0.5) * canvas.texel
        y = (canvas.height - np.arange(rows.start, rows.stop) - 0.5) * canvas.texel
        edge = None
        for puddle in self.puddles:
            outline = puddle.outline
            low, high = outline.min(axis=0) - _DAMP / self._scale, outline.max(axis=0) + _DAMP / self._scale
            if y[0] < low[1] or y[-1] > high[1]:
                continue
            here = slice(*np.searchsorted(x, (low[0], high[0])).tolist())
            if edge is None:
                edge = self._edge.rows(rows) + 0.3 * self._fine.rows(rows)
            within = puddle.radius * puddle.inside(x[None, here], y[:, None])
            within = (within * self._scale + _RAGGED * edge[:, here]).astype(np.float32)  # full size
            within = np.where(gets[:, here], within, np.float32(-1e3))
            lies = smoothstep(within, 0.0, max(0.03, 1.5 * canvas.texel * self._scale))
            damp = smoothstep(within + 0.3 * _DAMP * edge[:, here], -0.8 * _DAMP, 0.02)
            part = ground[:, :, here]
            lay(part, wetted(part), np.maximum(0.8 * damp, lies))
            lay(part, _SILT, 0.25 * smoothstep(within, 0.0, 0.6))
            np.maximum(film[:, here], lies, out=film[:, here])
