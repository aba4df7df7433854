"""What a scenic painter puts on a backdrop: a sky, and layers from far to near with the air between them.

Each layer kind makes a `Cut`: what it covers, how light or dark it is, and what is bright in it. Reflectances are
paint on a sheet that the set's lamps will light, so even a bright sky stays below 0.9.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np

from previz.layout import SKIES, air_colour
from previz.physics.noise import Array, Canvas, Texels, noise
from previz.scene import Layer, Painting
from previz.stage.paint.painting import Colour, PaintRows, lay, smoothstep

#: Colour of the clouds (None: the sky's own, lighter and darker), how much they show, and how ragged they are.
_CLOUDS: dict[str, tuple[Colour | None, float, float]] = {
    "clear": ((0.82, 0.83, 0.84), 0.55, 0.55),
    "overcast": (None, 0.10, 0.55),
    "dusk": ((0.10, 0.075, 0.115), 0.50, 0.55),
    "dawn": ((0.60, 0.45, 0.47), 0.45, 0.55),
    "night": ((0.030, 0.032, 0.045), 0.45, 0.5),
    "snow": (None, 0.035, 0.45),
}


#: By how much haze is thicker at the foot of a layer than at its top. Chosen by eye.
_THICKER_LOW = 0.38

#: Of a mountain's height, from its top, what lies under snow where the set does; and above and below that line, how far
#: it runs out. Chosen by eye.
_SNOWED, _PATCHY = 0.52, 0.14


@dataclass(frozen=True)
class Easel:
    """Where a layer is painted: rows at `heights` (h,) above the table, a `base` line it stands on. [m]

    snow: share of its height, from the top, that lies under snow where it does not say so itself.
    """

    canvas: Canvas
    heights: Texels
    base: float
    top: float
    rng: np.random.Generator
    snow: float = 0.0

    def up(self, rows: slice) -> Texels:
        """Height of each row as a share of the layer's, (n, 1)."""
        return ((self.heights[rows] - self.base) / (self.top - self.base))[:, None]


@dataclass(frozen=True)
class Cut:
    """One layer, by rows: the share of each texel it covers, its tone about 1, and optional highlights."""

    cover: Callable[[slice], Texels]
    tone: Callable[[slice], Texels]
    bright: Callable[[slice], Texels] | None = None
    bright_colour: Colour = (1.0, 1.0, 1.0)


def paint_scenery(
    painting: Painting, canvas: Canvas, heights: Array, top: float, ground: Colour, snowed: bool = False
) -> PaintRows:
    """The painter of a whole backdrop.

    Parameters
    ----------
    canvas : Canvas
        The sheet's picture.
    heights : (h,) float
        Height of each row above the table; row 0 is the top. [m]
    top : float
        Height of the sheet. [m]
    ground : (3,) float
        Colour that the painting goes towards at its foot, below the horizon.
    snowed : bool
        Whether the set's ground is snow, so that mountains are too unless they say otherwise.
    """
    rng = np.random.default_rng([painting.seed, 11])
    z = np.asarray(heights, dtype=np.float32)
    sky = _sky(painting, canvas, z, top, ground, rng)
    air = air_colour(painting.sky)
    snow = _SNOWED if snowed else 0.0
    layers = [
        _layer(layer, CUTS[layer.shape](layer, easel), easel, air)
        for layer, easel in _easels(painting, canvas, z, snow)
    ]

    def paint(rows: slice) -> Texels:
        picture = sky(rows)
        for lay_layer in layers:
            lay_layer(picture, rows)
        return picture

    return paint


def _easels(painting: Painting, canvas: Canvas, z: Texels, snow: float = 0.0) -> Iterator[tuple[Layer, Easel]]:
    """Where each layer is painted, far ones first."""
    for k, layer in enumerate(painting.layers):
        base = float(np.clip(painting.horizon, 0.0, 0.6 * layer.height))
        yield (
            layer,
            Easel(canvas, z, base, layer.height, np.random.default_rng([painting.seed, 12, k, layer.seed]), snow),
        )


def covers_of_layers(painting: Painting, canvas: Canvas, heights: Array) -> Iterator[tuple[Layer, float, Texels]]:
    """What of the sheet each layer covers, far ones first: the layer, the height of its foot [m], and (h, w) 0..1."""
    z = np.asarray(heights, dtype=np.float32)
    for layer, easel in _easels(painting, canvas, z):
        cut, down_to = CUTS[layer.shape](layer, easel), _down_to(layer, easel)
        yield layer, easel.base, cut.cover(slice(0, canvas.height)) * down_to[:, None]


def _down_to(layer: Layer, easel: Easel) -> Texels:
    """How much of a layer is painted at each row (h,): all down to its base, where the painted ground goes on."""
    if layer.shape == "flat" or easel.base <= 0:
        return np.ones_like(easel.heights)
    soft = 0.10 * (easel.top - easel.base)
    return smoothstep(easel.heights, easel.base - soft, easel.base + 0.2 * soft)


def _layer(layer: Layer, cut: Cut, easel: Easel, air: Colour) -> Callable[[Texels, slice], None]:
    """Lays a cut over a picture in its colour, paler by its haze and more so towards its foot, down to its base.

    Below its base the painted ground goes on; only what is flat, water or a plain, is ground itself.
    """
    colour, veil = (np.array(c, dtype=np.float32)[:, None, None] for c in (layer.colour, air))
    down_to = _down_to(layer, easel)
    light = np.array(cut.bright_colour, dtype=np.float32)[:, None, None]

    def lay_on(picture: Texels, rows: slice) -> None:
        if not down_to[rows].any():
            return
        cover = cut.cover(rows) * down_to[rows, None]
        if not cover.any():
            return
        shade = colour * cut.tone(rows)[None]
        if cut.bright is not None:
            shade += (light - shade) * cut.bright(rows)[None]
        low = 1 - smoothstep(easel.up(rows), -0.1, 0.7)
        thick = np.clip(layer.haze * (1 + _THICKER_LOW * low), 0, 1)
        shade += (veil - shade) * thick[None]
        lay(picture, shade, cover)

    return lay_on


# --- sky ---


def _sky(
    painting: Painting, canvas: Canvas, z: Texels, top: float, ground: Colour, rng: np.random.Generator
) -> PaintRows:
    from scipy.ndimage import gaussian_filter1d  # here: a set kept on disk need not wait for it

    stops = SKIES[painting.sky]
    span = max(top - painting.horizon, 0.05)
    share = (z - painting.horizon) / span
    # Mixed in square roots, about as the eye sees steps, then smoothed so that no stop shows as an edge.
    # Rows round a cove are closer together in height; a blur over rows is as good there.
    codes = np.sqrt(np.array([colour for _, colour in stops]))
    ramp = np.stack([np.interp(share, [place for place, _ in stops], codes[:, i]) for i in range(3)])
    ramp = gaussian_filter1d(ramp, max(0.05 * canvas.height, 0.5), axis=1, mode="nearest") ** 2
    below = np.clip(-share * span / max(painting.horizon, 0.05), 0, 1)
    # The ground goes on to the horizon: hazy there, the set's own colour at the foot of the sheet.
    far = 0.5 * np.array(air_colour(painting.sky)) + 0.5 * np.array(ground)
    plain = far[:, None] + (np.array(ground) - far)[:, None] * below**0.8
    ramp = np.where(share < 0, plain, ramp).astype(np.float32)
    fields = noise(canvas, rng, 0.012 * canvas.width * canvas.texel, 4, roughness=0.6, stretch=(9.0, 1.0))
    clouds = _clouds(painting.sky, canvas, share, rng)
    stars = _stars(canvas, share, rng) if painting.sky == "night" else None
    glow = _glow(painting.sky, canvas, share, rng)

    def paint(rows: slice) -> Texels:
        picture = np.repeat(ramp[:, rows, None], canvas.width, axis=2)
        glow(picture, rows)
        clouds(picture, rows)
        if share[rows][-1] < 0:
            picture *= 1 + np.where(share[rows, None] < 0, 0.045 * fields.rows(rows), 0)[None]
        if stars is not None:
            picture += stars[rows][None]
        return picture

    return paint


def _clouds(sky: str, canvas: Canvas, share: Texels, rng: np.random.Generator) -> Callable[[Texels, slice], None]:
    """Clouds drawn out along the horizon: large above, thin streaks low down."""
    colour, strength, roughness = _CLOUDS[sky]
    width = canvas.width * canvas.texel
    high = noise(canvas, rng, 0.11 * width, 6, roughness=roughness, stretch=(3.2, 1.0))
    low = noise(canvas, rng, 0.035 * width, 5, roughness=roughness, stretch=(7.0, 1.0))
    mix = smoothstep(share, 0.08, 0.45)[:, None]
    seen = smoothstep(share, -0.02, 0.12)[:, None] * (1 - 0.35 * smoothstep(share, 0.5, 1.1))[:, None]

    def lay_on(picture: Texels, rows: slice) -> None:
        cloud = mix[rows] * high.rows(rows) + (1 - mix[rows]) * low.rows(rows)
        if colour is None:
            picture *= (1 + strength * seen[rows] * cloud)[None]
            return
        thick = smoothstep(cloud, 0.1, 1.9) * (strength * seen[rows])
        if sky in ("dusk", "dawn"):  # lit from below the horizon: the lower the cloud, the warmer
            warm = picture * np.array((1.25, 0.92, 0.80), dtype=np.float32)[:, None, None]
            lay(picture, warm, smoothstep(share, 0.55, 0.0)[rows, None] * thick)
            thick = thick * smoothstep(share, 0.02, 0.40)[rows, None]
        lay(picture, colour, thick)

    return lay_on


def _glow(sky: str, canvas: Canvas, share: Texels, rng: np.random.Generator) -> Callable[[Texels, slice], None]:
    """Where the sun went, or a town beyond the horizon: a wide soft light off the middle."""
    colour, strength = {
        "dusk": ((0.90, 0.55, 0.20), 0.55), "dawn": ((0.90, 0.78, 0.58), 0.50), "night": ((0.11, 0.085, 0.070), 0.55),
        "clear": ((0.74, 0.78, 0.82), 0.35), "overcast": ((0.74, 0.74, 0.73), 0.40), "snow": ((0.78, 0.79, 0.80), 0.40),
    }[sky]  # fmt: skip
    middle = rng.uniform(0.25, 0.75)
    x = (np.arange(canvas.width, dtype=np.float32) / canvas.width - np.float32(middle)) / np.float32(0.30)
    sideways = np.exp(-x * x)[None]
    upward = np.where(share < 0, 0, np.exp(-np.maximum(share, 0) / np.float32(0.22)))[:, None].astype(np.float32)

    def lay_on(picture: Texels, rows: slice) -> None:
        lay(picture, colour, strength * upward[rows] * sideways)

    return lay_on


def _stars(canvas: Canvas, share: Texels, rng: np.random.Generator) -> Texels:
    """A few faint stars above the glow of the horizon, (h, w)."""
    stars = np.zeros((canvas.height, canvas.width), dtype=np.float32)
    count = 130
    rows, columns = rng.integers(0, canvas.height, count), rng.integers(0, canvas.width, count)
    bright = 0.035 + 0.16 * rng.random(count) ** 4
    bright *= np.clip((share[rows] - 0.25) / 0.4, 0, 1)
    for down in (-1, 0, 1):
        for right in (-1, 0, 1):
            near = np.exp(-(down * down + right * right) / 0.9)
            np.maximum.at(
                stars,
                ((rows + down).clip(0, canvas.height - 1), (columns + right).clip(0, canvas.width - 1)),
                bright * near,
            )
    return stars


# --- layers with a ridge ---


def _wave(easel: Easel, cell: float, octaves: int, roughness: float) -> Texels:
    """Smooth noise along x only, (w,)."""
    line = Canvas(easel.canvas.width, 4, easel.canvas.texel)
    return noise(line, easel.rng, cell, octaves, roughness=roughness).rows(slice(0, 1))[0]


def _under(ridge: Texels, easel: Easel) -> Callable[[slice], Texels]:
    """Cover of everything below a ridge (w,) [m], its edge a texel wide however steep it is."""
    texel = easel.canvas.texel
    slope = np.gradient(ridge, texel)
    sharp = (1 / (texel * np.hypot(1, slope)))[None].astype(np.float32)
    return lambda rows: np.clip((ridge[None] - easel.heights[rows, None]) * sharp + 0.5, 0, 1)


def _fitted(shape: Texels, easel: Easel, depth: float) -> Texels:
    """A ridge whose highest point is the layer's height and whose lowest is `depth` of the way down to its base."""
    share = (shape - shape.min()) / (shape.max() - shape.min() + 1e-9)
    return easel.base + (easel.top - easel.base) * (1 - depth * (1 - share))


def hills(layer: Layer, easel: Easel) -> Cut:
    """Rolling hills with fields, hedges and the shade of clouds."""
    size = easel.top - easel.base
    ridge = _fitted(_wave(easel, 4.5 * size, 5, 0.25 + 0.25 * layer.roughness), easel, 0.55)
    fields = noise(easel.canvas, easel.rng, 0.5 * size, 5, roughness=0.6, stretch=(3.0, 1.0))
    woods = noise(easel.canvas, easel.rng, 0.22 * size, 4, roughness=0.7, stretch=(2.2, 1.0))

    def tone(rows: slice) -> Texels:
        wood = smoothstep(woods.rows(rows), 0.3, 1.4)
        return 1 + 0.10 * fields.rows(rows) - 0.26 * wood + 0.10 * np.clip(easel.up(rows), 0, 1)

    return Cut(_under(ridge, easel), tone)


def mountains(layer: Layer, easel: Easel) -> Cut:
    """Peaks with lit and shaded flanks; snow from above and in the gullies, as far down as the layer says."""
    from scipy.ndimage import gaussian_filter1d  # here: a set kept on disk need not wait for it

    size, texel = easel.top - easel.base, easel.canvas.texel
    shape = np.zeros(easel.canvas.width, dtype=np.float32)
    for octave in range(6):
        # Folded noise has sharp crests; the finer folds roughen them.
        fold = 1 - np.abs(_wave(easel, 2.0 * size / 2**octave, 1, 0.5)) / 1.6
        shape += (0.45 + 0.16 * layer.roughness) ** octave * fold
    ridge = _fitted(shape, easel, 0.72)
    slopes = [
        np.tanh(1.3 * np.gradient(gaussian_filter1d(ridge, s / texel), texel)) for s in (0.010 * size, 0.05 * size)
    ]
    lean = noise(easel.canvas, easel.rng, 0.35 * size, 4, roughness=0.55)
    rock = noise(easel.canvas, easel.rng, 0.16 * size, 5, roughness=0.7, stretch=(1.0, 1.8))
    columns = np.arange(easel.canvas.width, dtype=np.float32)[None]
    last = easel.canvas.width - 1

    def lit(rows: slice) -> Texels:
        """−1 in the shade, 1 in the light: flanks run down from the ridge, leaning as the noise says."""
        down = np.maximum(ridge[None] - easel.heights[rows, None], 0)
        shifted = columns + down * (0.42 * lean.rows(rows)) / texel
        index = np.clip(shifted, 0, last).astype(np.intp)
        fine = np.exp(-down / np.float32(0.25 * size))
        return fine * slopes[0][index] + (1 - 0.4 * fine) * slopes[1][index] + 0.28 * rock.rows(rows)

    lies = easel.snow if layer.snow is None else layer.snow
    line, runs_out = 1 - lies, min(_PATCHY, lies / 2)

    def snow(rows: slice) -> Texels:
        high = easel.up(rows) + 0.13 * rock.rows(rows) + 0.08 * lean.rows(rows)
        return smoothstep(high, line - runs_out, line + runs_out) * (0.58 + 0.36 * np.clip(lit(rows), -1, 1))

    return Cut(_under(ridge, easel), lambda rows: 1 + 0.26 * np.clip(lit(rows), -1.2, 1.2), snow if lies > 0 else None)


def flat(layer: Layer, easel: Easel) -> Cut:
    """Water or a plain: level, streaked towards the horizon."""
    ridge = np.full(easel.canvas.width, easel.top, dtype=np.float32)
    width = easel.canvas.width * easel.canvas.texel
    streaks = noise(easel.canvas, easel.rng, 0.012 * width, 3, roughness=0.6, stretch=(16.0, 0.8))
    broad = noise(easel.canvas, easel.rng, 0.05 * width, 3, stretch=(6.0, 0.7))
    strength = 0.04 + 0.10 * layer.roughness
    return Cut(
        _under(ridge, easel),
        lambda rows: (
            1 + strength * (streaks.rows(rows) + 0.7 * broad.rows(rows)) + 0.18 * np.clip(easel.up(rows), 0, 1) ** 3
        ),
    )


# --- layers cut out piece by piece ---


def _held(cover: Texels, tone: Texels, bright: Texels | None = None, colour: Colour = (1.0, 1.0, 1.0)) -> Cut:
    """A cut from whole pictures (h, w)."""
    return Cut(
        lambda rows: cover[rows].astype(np.float32),
        lambda rows: tone[rows].astype(np.float32),
        None if bright is None else lambda rows: bright[rows].astype(np.float32),
        colour,
    )


def _row_at(easel: Easel, height: float) -> int:
    """The first row whose middle lies below `height`."""
    return int(np.searchsorted(-easel.heights, -height))


def skyline(layer: Layer, easel: Easel) -> Cut:
    """Buildings shoulder to shoulder, some windows lit; edges lie on texels, so nothing needs smoothing."""
    canvas, rng, size = easel.canvas, easel.rng, easel.top - easel.base
    cover = np.zeros((canvas.height, canvas.width), dtype=np.float16)
    tone, bright = np.ones_like(cover), np.zeros_like(cover)
    floor = max(round(size / 26 / canvas.texel), 4)  # rows a floor
    foot = _row_at(easel, easel.base)
    cover[foot:] = 1
    rise = 0.5 + 0.32 * np.tanh(_wave(easel, 2.2 * size, 2, 0.5))  # downtown and suburbs
    heights: list[tuple[int, int, int]] = []
    column = -int(rng.integers(0, 6 * floor))
    while column < canvas.width:
        wide = int(rng.integers(5, 16)) * floor // 2
        share = rise[int(np.clip(column + wide // 2, 0, canvas.width - 1))] * rng.uniform(
            0.55, 1.0 + 0.6 * layer.roughness
        )
        heights.append((column, wide, max(int(share * 26), 3)))
        column += wide + (int(rng.integers(0, floor)) if rng.random() < 0.25 else 0)
    highest = max(floors for _, _, floors in heights)
    for column, wide, floors in heights:
        # The tallest reaches the layer's height; the others keep their measure against it.
        top = _row_at(easel, easel.base + size * floors / highest)
        _building(layer, easel, (cover, tone, bright), (max(column, 0), min(column + wide, canvas.width), top), floor)
    return _held(cover, tone, bright, (0.88, 0.66, 0.36))


def _building(
    layer: Layer, easel: Easel, pictures: tuple[Texels, Texels, Texels], box: tuple[int, int, int], floor: int
) -> None:
    """One front: its shade, roof and windows, between columns `box[0]`, `box[1]` and from row `box[2]` down."""
    cover, tone, bright = pictures
    left, right, top = box
    rng = easel.rng
    if right - left < 3:
        return
    cover[top:, left:right] = 1
    tone[top:, left:right] = 1 + 0.14 * rng.standard_normal()
    tone[top : top + max(floor // 6, 1), left:right] *= 1.18  # the parapet catches the sky
    tone[top:, right - 1 : right] *= 0.86
    if rng.random() < 0.45 and right - left > 3 * floor:  # lift house or tank on the roof
        start = int(rng.integers(left + floor, right - 2 * floor + 1))
        roof = max(top - int(rng.integers(floor // 2, floor + 1)), 0)
        cover[roof:top, start : start + floor + floor // 2] = 1
        tone[roof:top, start : start + floor + floor // 2] = tone[min(top + floor // 2, len(tone) - 1), left] * 0.92
    pitch, glass = max(round(0.62 * floor), 3), max(round(0.34 * floor), 1)
    down = np.arange(top + floor // 2, tone.shape[0] - floor, floor)
    across = np.arange(left + pitch // 2, right - glass, pitch)
    lit = rng.random((len(down), len(across))) < layer.lit
    # Offices light whole floors, homes single windows.
    lit |= (rng.random(len(down)) < 0.25 * layer.lit)[:, None]
    level = rng.uniform(0.35, 1.0, lit.shape)
    tall = max(round(0.52 * floor), 1)
    for drop in range(tall):
        for shift in range(glass):
            where = np.ix_(down + drop, across + shift)
            tone[where] *= 0.80
            bright[where] = np.where(lit, level, 0)


def trees(layer: Layer, easel: Easel) -> Cut:
    """A wood of conifers, tree before tree, each its own height and shade, over low growth."""
    canvas, rng, size = easel.canvas, easel.rng, easel.top - easel.base
    count = min(max(int(canvas.width * canvas.texel / (0.055 * size)), 3), canvas.width)  # more would share a texel
    middles = rng.uniform(-0.02, 1.02, count) * canvas.width
    stand = 0.45 + 0.35 * (_wave(easel, 3.0 * size, 3, 0.5) / 2.5 + 0.5)  # the wood is higher here, lower there
    tall = rng.uniform(0.66, 1.15, count) * stand[np.clip(middles.astype(int), 0, canvas.width - 1)]
    seen = (middles > 0) & (middles < canvas.width)  # the tallest may stand beside the sheet
    tall = np.minimum(tall / tall[seen].max(initial=1e-6), 1) * size
    growth = size * np.clip(0.075 + 0.03 * _wave(easel, 0.15 * size, 4, 0.7), 0.02, None)
    cover = np.array(_under(growth + np.float32(easel.base), easel)(slice(0, canvas.height)), dtype=np.float16)
    tone = np.full_like(cover, 0.68)
    needles = noise(canvas, rng, 0.05 * size, 4, roughness=0.8)
    for nearer, middle, height in zip(np.linspace(0, 1, count), middles, tall, strict=True):
        # Behind others stand the palest, with air between.
        shade = 1.10 - 0.22 * nearer + 0.09 * rng.standard_normal()
        _conifer(layer, easel, (cover, tone), (middle, height), shade)
    return Cut(
        lambda rows: cover[rows].astype(np.float32),
        lambda rows: tone[rows].astype(np.float32) * (1 + 0.12 * needles.rows(rows)),
    )


def _conifer(
    layer: Layer, easel: Easel, pictures: tuple[Texels, Texels], place: tuple[float, float], shade: float
) -> None:
    """One tree laid over what is there, around column `place[0]` and `place[1]` high [m].

    Tier below tier of boughs hang over the shade of the next; the light comes from the left and above.
    """
    cover, tone = pictures
    middle, height = place
    rng, texel = easel.rng, easel.canvas.texel
    half = rng.uniform(0.13, 0.20 + 0.06 * layer.roughness) * height / texel
    rows = slice(max(_row_at(easel, easel.base + height), 0), _row_at(easel, easel.base) + 1)
    columns = slice(max(int(middle - half) - 1, 0), min(int(middle + half) + 3, easel.canvas.width))
    if rows.stop <= rows.start or columns.stop <= columns.start:
        return
    down = np.clip(1 - (easel.heights[rows, None] - easel.base) / height, 0, 1)
    across = (np.arange(columns.start, columns.stop) + 0.5 - middle)[None] / half
    tiers = float(rng.uniform(7, 11))
    # Boughs hang lower the further out, and no two sides grow alike.
    left = across < 0
    step = (tiers * down - 0.8 * np.abs(across) + np.where(left, *rng.uniform(0, 1, 2))) % 1
    ragged = 0.10 * (0.5 + layer.roughness) * rng.standard_normal((2, len(down), 1))
    reach = np.where(left, *rng.uniform(0.85, 1.1, 2)) * down**0.9 * (0.66 + 0.34 * step + np.where(left, *ragged))
    share = np.clip((reach - np.abs(across)) * half + 0.5, 0, 1)
    light = shade * (0.84 + 0.24 * (1 - step) - 0.20 * across + 0.10 * (1 - down))
    part = tone[rows, columns]
    part += (light - part) * share
    np.maximum(cover[rows, columns], share, out=cover[rows, columns])


def cranes(layer: Layer, easel: Easel) -> Cut:
    """Quay cranes: portal, tower, boom and stays, some with the boom raised."""
    canvas, rng, size = easel.canvas, easel.rng, easel.top - easel.base
    cover = np.zeros((canvas.height, canvas.width), dtype=np.float32)
    width = canvas.width * canvas.texel
    count = min(max(round(width / (1.7 * size)), 1), canvas.width // 8)  # smaller ones would be specks
    for k in range(count):
        x = width * (k + 0.5 + rng.uniform(-0.28, 0.28)) / count
        raised = rng.random() < 0.35
        tall = size if k == 0 else size * rng.uniform(0.72, 0.95)
        flip = -1.0 if rng.random() < 0.3 else 1.0
        for start, end, thick in _crane(raised):
            ends = [(x + flip * tall * across, easel.base + tall * up) for across, up in (start, end)]
            _stroke(cover, easel, ends[0], ends[1], max(thick * tall, 1.2 * canvas.texel))
    return _held(cover, np.ones_like(cover))


Spot = tuple[float, float]


def _crane(raised: bool) -> list[tuple[Spot, Spot, float]]:
    """Strokes (start, end, thickness) of a crane one unit high, its middle at 0."""
    beam, apex, hinge = 0.56, (0.02, 0.97 if raised else 1.0), (0.10, 0.56)
    tip = (0.34, 0.975) if raised else (0.78, 0.56)
    inner = (0.22, 0.77) if raised else (0.42, 0.56)
    return [
        ((-0.13, -0.02), (-0.13, beam), 0.026), ((0.11, -0.02), (0.11, beam), 0.026),  # legs
        ((-0.13, 0.20), (0.11, 0.20), 0.024), ((-0.13, 0.02), (0.11, 0.02), 0.020),  # portal and sill beams
        ((-0.13, 0.22), (0.11, beam), 0.012),  # brace
        ((-0.42, beam), hinge, 0.030), (hinge, tip, 0.024),  # back reach and boom
        ((-0.13, beam), apex, 0.016), ((0.11, beam), apex, 0.018),  # tower
        (apex, tip, 0.006), (apex, inner, 0.006), (apex, (-0.40, beam), 0.007),  # stays
        ((-0.36, beam + 0.035), (-0.22, beam + 0.035), 0.065),  # machine house
        ((0.02, beam - 0.045), (0.05, beam - 0.045), 0.040),  # cab
    ]  # fmt: skip


def _stroke(cover: Texels, easel: Easel, start: Spot, end: Spot, thick: float) -> None:
    """A straight stroke with square ends, smoothed over a texel, laid into `cover` in place. [m]"""
    texel = easel.canvas.texel
    margin = thick + 2 * texel
    columns = slice(
        max(int((min(start[0], end[0]) - margin) / texel), 0), max(int((max(start[0], end[0]) + margin) / texel) + 1, 0)
    )
    rows = slice(_row_at(easel, max(start[1], end[1]) + margin), _row_at(easel, min(start[1], end[1]) - margin))
    part = cover[rows, columns]
    if not part.size:
        return
    x = (np.arange(columns.start, columns.start + part.shape[1]) + 0.5) * texel - start[0]
    z = easel.heights[rows] - start[1]
    length = float(np.hypot(end[0] - start[0], end[1] - start[1]))
    way = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
    along = way[0] * x[None] + way[1] * z[:, None]
    aside = np.abs(way[0] * z[:, None] - way[1] * x[None])
    inside = np.minimum(thick / 2 - aside, np.minimum(along, length - along))
    np.maximum(part, np.clip(inside / texel + 0.5, 0, 1), out=part)


CUTS: dict[str, Callable[[Layer, Easel], Cut]] = {
    "hills": hills,
    "mountains": mountains,
    "trees": trees,
    "skyline": skyline,
    "cranes": cranes,
    "flat": flat,
}
