"""What covers a table top: each surface as a painter of rows, at the scene's scale.

Joints, stones and stains have the full-size measures said beside them (typical, from memory) divided by the scale;
wood is the table itself and keeps its own. Colours are linear reflectances; where the scene gives one, the surface
takes that as its mean and keeps its own variation.
"""

from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from previz.files import load_image
from previz.physics.colour import srgb_linear
from previz.physics.noise import Canvas, Texels, noise
from previz.stage.paint.jobs import PaintJob
from previz.stage.paint.loose import Mud, gravel
from previz.stage.paint.painting import PaintRows, grain, lay, smoothstep, tinted


def _line(position: Texels, middle: Texels | float, width: float, texel: float) -> Texels:
    """How much of each texel a line `width` wide covers."""
    return np.clip((width / 2 - np.abs(position - middle)) / texel + 0.5, 0, 1)


def _tiling(position: Texels, size: float, shift: float) -> tuple[NDArray[np.intp], Texels]:
    """Which tile of `size` each position lies in (from 0), and how far it is from the nearest joint. [m]"""
    along = position / size + shift
    tile = np.floor(along)
    return (tile - tile.min()).astype(np.intp), np.asarray((0.5 - np.abs(along - tile - 0.5)) * size, dtype=np.float32)


def concrete(job: PaintJob) -> PaintRows:
    """Cast slabs with sawn joints, stains run into the joints and weathered blotches."""
    canvas, rng = job.canvas, job.rng
    column, from_x = _tiling(job.x(), job.model(4.5), rng.random())
    row, from_y = _tiling(job.y(), job.model(4.5), rng.random())
    slabs = 1 + 0.055 * rng.standard_normal((row.max() + 1, column.max() + 1), dtype=np.float32)
    weather = noise(canvas, rng, job.model(7.0), 6, roughness=0.62)
    stains = noise(canvas, rng, job.model(3.0), 4)
    speckle = grain(canvas, rng, 0.7)
    joint = max(job.model(0.022), 0.9 * canvas.texel)
    dirt_x, dirt_y = np.exp(-from_x / job.model(0.16)), np.exp(-from_y / job.model(0.16))
    line_x, line_y = _line(from_x, 0.0, joint, canvas.texel), _line(from_y, 0.0, joint, canvas.texel)

    def paint(rows: slice) -> Texels:
        aged, stain = weather.rows(rows), stains.rows(rows)
        dirt = np.maximum(dirt_x[None], dirt_y[rows, None])
        tone = 0.05 + slabs[row[rows]][:, column] + 0.085 * aged + 0.030 * speckle.rows(rows)
        tone *= 1 - 0.13 * dirt * (1 + 0.5 * stain)
        tone *= 1 - 0.26 * smoothstep(stain, 1.25, 2.3)
        tone *= 1 - 0.60 * np.maximum(line_x[None], line_y[rows, None])
        colour = tinted(tone, job.colour)
        lay(colour, np.array(job.colour) * (0.80, 0.72, 0.58), 0.30 * smoothstep(aged - stain, 0.6, 2.4))  # rust, algae
        return colour

    return paint


def asphalt(job: PaintJob) -> PaintRows:
    """Rolled asphalt: chippings, mended patches with tarred edges, a few cracks."""
    canvas, rng = job.canvas, job.rng
    blotches = noise(canvas, rng, job.model(5.0), 5)
    crazing = noise(canvas, rng, job.model(6.0), 6, roughness=0.55)
    where = noise(canvas, rng, job.model(9.0), 2)
    chips = grain(canvas, rng, 0.55)
    coarse = grain(canvas, rng, 1.6)
    patches = _patches(job) if job.mended else ()
    x, y, seam = job.x(), job.y(), job.model(0.07)

    def paint(rows: slice) -> Texels:
        chip, rough = chips.rows(rows), coarse.rows(rows)
        tone = 1 + 0.10 * blotches.rows(rows) + 0.085 * chip + 0.055 * rough
        tone += 0.45 * smoothstep(chip, 2.2, 3.4)  # the odd pale chipping
        for left, right, top, bottom, shade in patches:
            down = np.minimum(y[rows] - top, bottom - y[rows])
            if down.max() < -seam:
                continue
            here = slice(*np.searchsorted(x, (left - seam, right + seam)))
            inside = np.minimum(np.minimum(x[here] - left, right - x[here])[None], down[:, None])
            inside += canvas.texel * 0.8 * rough[:, here]
            tone[:, here] *= 1 + shade * smoothstep(inside, -canvas.texel, canvas.texel)
            tone[:, here] *= 1 - 0.35 * smoothstep(np.abs(inside), seam, 0.0)
        crack = smoothstep(np.abs(crazing.rows(rows)), 0.024, 0.004) * smoothstep(where.rows(rows), 1.1, 1.8)
        return tinted(tone * (1 - 0.42 * crack), job.colour)

    return paint


def _patches(job: PaintJob) -> Texels:
    """Mended places (k, 5): left, right, top, bottom [m] and how much darker or lighter than the rest."""
    width, height = job.canvas.width * job.canvas.texel, job.canvas.height * job.canvas.texel
    count = min(int(width * height / job.model(14.0) ** 2) + 1, 12)
    middles = job.rng.uniform((0, 0), (width, height), (count, 2))
    halves = job.rng.uniform(0.4, 1.6, (count, 2)) / job.scale
    shades = job.rng.uniform(-0.22, 0.14, count)
    boxes = np.stack([middles - halves, middles + halves], axis=-1).reshape(count, 4)
    return np.column_stack([boxes, shades])


def cobbles(job: PaintJob) -> PaintRows:
    """Setts in courses, each its own shade, domed, with sand in the joints."""
    canvas, rng = job.canvas, job.rng
    course = max(job.model(0.13), 4 * canvas.texel)
    bend = noise(canvas, rng, 14 * course, 2)
    worn = noise(canvas, rng, job.model(4.0), 4)
    speckle = grain(canvas, rng, 0.6)
    shades = np.asarray(1.20 + 0.18 * rng.standard_normal(1024), dtype=np.float32)
    starts = np.asarray(rng.random(1024), dtype=np.float32)
    x, y = job.x(), job.y()

    def paint(rows: slice) -> Texels:
        across = (y[rows, None] + 0.5 * course * bend.rows(rows)) * np.float32(1 / course) + 8
        lane = across.astype(np.int32)
        along = x[None] * np.float32(1 / (1.15 * course)) + starts[lane & 1023]
        stone = along.astype(np.int32)
        edge = np.minimum(0.5 - np.abs(across - lane - 0.5), 0.5 - np.abs(along - stone - 0.5))
        dome = smoothstep(edge, 0.02, 0.30)
        tone = shades[(stone * 61 + lane * 397) & 1023] * (0.86 + 0.14 * dome)
        tone += 0.06 * worn.rows(rows) + 0.05 * speckle.rows(rows)
        colour = tinted(tone, job.colour)
        lay(colour, np.array(job.colour) * (0.52, 0.50, 0.46), 0.85 * (1 - smoothstep(edge, 0.04, 0.13)))
        return colour

    return paint


def snow(job: PaintJob) -> PaintRows:
    """Settled snow: soft blotches, blue in the hollows, nothing glittering."""
    canvas, rng = job.canvas, job.rng
    drifts = noise(canvas, rng, job.model(9.0), 5, roughness=0.45, stretch=(1.6, 1.0))
    crust = noise(canvas, rng, job.model(1.0), 3)
    fine = grain(canvas, rng, 1.2)
    hollow = np.array(job.colour) * (0.86, 0.90, 0.97)

    def paint(rows: slice) -> Texels:
        drift = drifts.rows(rows)
        colour = tinted(1 + 0.022 * drift + 0.016 * crust.rows(rows) + 0.010 * fine.rows(rows), job.colour)
        lay(colour, hollow, 0.75 * smoothstep(-drift, 0.2, 2.2))
        return colour

    return paint


def grass(job: PaintJob) -> PaintRows:
    """Short grass: blades, darker tussocks, dry and bare places."""
    canvas, rng = job.canvas, job.rng
    meadow = noise(canvas, rng, job.model(12.0), 5, roughness=0.6)
    dry = noise(canvas, rng, job.model(7.0), 5, roughness=0.6)
    tussock = noise(canvas, rng, max(job.model(0.6), 8 * canvas.texel), 2)
    blades, tips = grain(canvas, rng, 0.6), grain(canvas, rng, 1.3)

    def paint(rows: slice) -> Texels:
        blade, tip = blades.rows(rows), tips.rows(rows)
        tone = 0.95 + 0.13 * meadow.rows(rows) + 0.15 * tussock.rows(rows) + 0.16 * blade + 0.14 * tip
        colour = tinted(tone, job.colour)
        dryness = dry.rows(rows) + 0.35 * tip
        lay(colour, np.array(job.colour) * (2.1, 1.45, 1.5), 0.55 * smoothstep(dryness, 0.5, 2.0))
        lay(colour, np.array(job.colour) * (1.35, 0.72, 1.1), 0.60 * smoothstep(-dryness, 1.1, 2.2))
        return colour

    return paint


def sand(job: PaintJob) -> PaintRows:
    """Wind-laid sand: ripples that come and go, darker where it is damp."""
    canvas, rng = job.canvas, job.rng
    banks = noise(canvas, rng, job.model(10.0), 4, stretch=(1.5, 1.0))
    bend = noise(canvas, rng, job.model(4.0), 3)
    grains = grain(canvas, rng, 0.6)
    phase = job.y() * np.float32(2 * np.pi / max(job.model(0.35), 5 * canvas.texel))

    def paint(rows: slice) -> Texels:
        bank, swerve = banks.rows(rows), bend.rows(rows)
        ripple = np.sin(phase[rows, None] + 2.6 * swerve + 1.2 * bank) * smoothstep(bank, -0.4, 1.2)
        tone = 1 + 0.06 * bank + 0.055 * ripple + 0.065 * grains.rows(rows)
        colour = tinted(tone, job.colour)
        lay(colour, np.array(job.colour) * (0.66, 0.62, 0.56), 0.5 * smoothstep(-bank - 0.3 * swerve, 0.9, 2.2))
        return colour

    return paint


def earth(job: PaintJob) -> PaintRows:
    """Trodden earth: clods, pebbles, damp patches."""
    canvas, rng = job.canvas, job.rng
    rises = noise(canvas, rng, job.model(8.0), 6, roughness=0.6)
    damp = noise(canvas, rng, job.model(5.0), 4)
    clods = noise(canvas, rng, max(job.model(0.5), 8 * canvas.texel), 2)
    fine, pebbles = grain(canvas, rng, 0.7), grain(canvas, rng, 1.5)

    def paint(rows: slice) -> Texels:
        tone = 1.04 + 0.11 * rises.rows(rows) + 0.10 * clods.rows(rows) + 0.10 * fine.rows(rows)
        tone *= 1 - 0.30 * smoothstep(damp.rows(rows), 0.5, 1.9)
        colour = tinted(tone, job.colour)
        lay(colour, np.array(job.colour) * (1.6, 1.9, 2.4), 0.75 * smoothstep(pebbles.rows(rows), 2.1, 2.9))
        return colour

    return paint


def wood(job: PaintJob) -> PaintRows:
    """The bare table: planks 95 mm wide along x, in their own grain."""
    canvas, rng = job.canvas, job.rng
    plank, from_seam = _tiling(job.y(), 0.095, rng.random())
    shades = 1 + 0.10 * rng.standard_normal(plank.max() + 1, dtype=np.float32)
    drift = np.asarray(rng.uniform(0, 40, plank.max() + 1), dtype=np.float32)
    figure = noise(canvas, rng, 0.030, 4, roughness=0.6, stretch=(14.0, 1.0))
    fibre = grain(canvas, rng, 0.7, stretch=14.0)
    pores = grain(canvas, rng, 0.5, stretch=8.0)
    phase = job.y() * np.float32(2 * np.pi / 0.009)
    seam = _line(from_seam, 0.0, 0.0009, canvas.texel)

    def paint(rows: slice) -> Texels:
        shape = figure.rows(rows)
        rings = np.sin(phase[rows, None] + drift[plank[rows], None] + 2.4 * shape)
        tone = 0.03 + shades[plank[rows], None] + 0.075 * rings + 0.05 * shape + 0.055 * fibre.rows(rows)
        tone -= 0.16 * smoothstep(pores.rows(rows), 1.6, 2.6)
        tone *= 1 - 0.65 * seam[rows, None]
        colour = tinted(tone, job.colour)
        lay(colour, np.array(job.colour) * (0.78, 0.66, 0.55), 0.35 * smoothstep(rings, 0.2, 1.0))
        return colour

    return paint


def plain(job: PaintJob) -> PaintRows:
    """A painted board: one colour, laid on with a roller."""
    canvas, rng = job.canvas, job.rng
    roller = noise(canvas, rng, 0.12, 4)
    nap = grain(canvas, rng, 1.0)
    return lambda rows: tinted(1 + 0.010 * roller.rows(rows) + 0.010 * nap.rows(rows), job.colour)


SURFACES: dict[str, Callable[[PaintJob], PaintRows]] = {
    "concrete": concrete,
    "asphalt": asphalt,
    "cobbles": cobbles,
    "gravel": gravel,
    "snow": snow,
    "grass": grass,
    "sand": sand,
    "earth": earth,
    "mud": Mud,
    "wood": wood,
    "plain": plain,
}


def laid_image(canvas: Canvas, path: Path, tile: float | None) -> PaintRows:
    """An image laid over the ground in tiles `tile` wide, from the front-left corner; one tile if None. [m]

    Raises PrevizError where the image cannot be read.
    """
    from PIL import Image

    pixels = load_image(path)[..., :3]
    size = tile or canvas.width * canvas.texel
    tall = size * pixels.shape[0] / pixels.shape[1]
    # No more of it than the canvas can show, whatever the tile's size.
    shown = (min(max(round(size / canvas.texel), 1), 8192), min(max(round(tall / canvas.texel), 1), 8192))
    sized = np.asarray(Image.fromarray(pixels).resize(shown, Image.Resampling.LANCZOS))
    x = (np.arange(canvas.width) + 0.5) * canvas.texel
    y = (canvas.height - np.arange(canvas.height) - 0.5) * canvas.texel  # from the front edge
    columns = np.minimum((x % size / size * shown[0]).astype(int), shown[0] - 1)
    lines = shown[1] - 1 - np.minimum((y % tall / tall * shown[1]).astype(int), shown[1] - 1)
    decode = np.asarray(srgb_linear(np.arange(256) / 255), dtype=np.float32)
    return lambda rows: np.stack([decode[sized[lines[rows]][:, columns, channel]] for channel in range(3)])
