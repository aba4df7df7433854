"""What vehicles have in common: finishes, panels laid on a body, lamps, mirrors.

Measures are those of the full-size vehicle in metres; `vehicles.build_vehicle` scales the finished draft.
Everything is drawn on the straight, unbent body: x forward, y left, z up. A body's sides are bent last,
panels and all, so a window follows the side it lies on.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from previz.mesh import Array, Material, Mesh, merged
from previz.stage.shapes import bending, outlines, solids

Colour = tuple[float, float, float]
Point = tuple[float, float]  # (x, z) in the side view, (y, z) in the front view
Place = tuple[float, float, float]
Bend = Callable[[Array], Array]  # where it takes points (n, 3)

# Few materials, for each becomes a draw call; the rest is shown by colour. Reflectances chosen by eye.
PAINT = Material(gloss=0.85)
GLOSSY = Material(gloss=1.0)
SATIN = Material(gloss=0.3)
MATT = Material(gloss=0.0)

GLASS: Colour = (0.012, 0.014, 0.016)
CHROME: Colour = (0.62, 0.63, 0.64)
ALLOY: Colour = (0.42, 0.43, 0.44)
CLEAR: Colour = (0.80, 0.82, 0.84)
RED: Colour = (0.40, 0.008, 0.006)
AMBER: Colour = (0.65, 0.20, 0.01)
RUBBER: Colour = (0.020, 0.020, 0.021)
TRIM: Colour = (0.028, 0.028, 0.030)
SHADOW: Colour = (0.008, 0.008, 0.008)
BLANK: Colour = (0.72, 0.71, 0.66)  # a number plate without a number


_TRIM_STRAYS = 0.0015  # how far thin trim may be from the surface that it is bent along: half of it shows [m]


@dataclass(frozen=True)
class WheelParts:
    """A wheel about its own axle, outer face towards +y."""

    radius: float
    round: tuple[Mesh, ...]
    turning: tuple[Mesh, ...]


@dataclass
class Draft:
    """A vehicle being put together, full size. [m]

    wheels are (axle middle, parts) on the left; the right side is their mirror image. head and tail are the
    places of lamps on the left, each (centre of the lens face, its radius).
    """

    body: list[Mesh] = field(default_factory=list)
    wheels: list[tuple[Place, WheelParts]] = field(default_factory=list)
    head: list[tuple[Place, float]] = field(default_factory=list)
    tail: list[tuple[Place, float]] = field(default_factory=list)


# Panels -----------------------------------------------------------------------------------------------------


def on_side(outline: Array, y: float, lift: float, colour: Colour, material: Material) -> list[Mesh]:
    """A panel `outline` (x, z) standing `lift` out from the sides at +-`y`, left and right."""
    # Drawn on the right side, where the extrusion's near end faces outwards; the left one mirrors it.
    panel = solids.extrude(outline, 2 * lift, axis="y", back=False)
    return solids.both_sides([solids.placed(solids.coloured(panel, colour, material), (0.0, -y, 0.0))])


def on_strip(
    outline: Array,
    start: Point,
    end: Point,
    lift: float,
    colour: Colour,
    material: Material,
) -> Mesh:
    """A panel on the front, top or rear face that runs in the side view from `start` to `end`.

    `outline` is (y, s), s measured from `start` towards `end`. Go round front, roof, rear: up the front, back
    over the roof, down the rear; the panel then lies on the outside.
    """
    run = np.array([end[0] - start[0], 0.0, end[1] - start[1]])
    run /= np.linalg.norm(run)
    across = np.array([0.0, 1.0, 0.0])
    turn = np.stack([across, run, np.cross(across, run)], axis=1)
    panel = solids.extrude(outline, 2 * lift, back=False)
    return solids.coloured(panel, colour, material).moved(turn, np.array([start[0], 0.0, start[1]]))


def side_window(outline: Array, y: float, lift: float = 0.016) -> list[Mesh]:
    """Dark glass with a rubber seal around it, left and right."""
    seal = outlines.inset(outline, -0.028)
    return [
        *on_side(seal, y, 0.5 * lift, SHADOW, MATT),
        *on_side(outline, y, lift, GLASS, GLOSSY),
    ]


def strip_window(outline: Array, start: Point, end: Point, lift: float = 0.016) -> list[Mesh]:
    """A windscreen or rear window with its seal."""
    seal = outlines.inset(outline, -0.03)
    return [
        on_strip(seal, start, end, 0.5 * lift, SHADOW, MATT),
        on_strip(outline, start, end, lift, GLASS, GLOSSY),
    ]


def trim_line(
    path: Sequence[Place], width: float, colour: Colour, material: Material, bend: Bend | None = None
) -> Mesh:
    """A thin bar of `width` half sunk along `path`, cut where `bend` will bend it: a moulding, a wiper."""
    line = np.asarray(path, dtype=float)
    if bend is not None:
        line = np.concatenate([line[:1], *(_cut_for(bend, start, end) for start, end in pairwise(line))])
    # Four sides, shaded round: too thin for its edges to show.
    return solids.coloured(solids.tube(line, 0.5 * width, 4, crease=100.0), colour, material)


def _cut_for(bend: Bend, start: Array, end: Array) -> Array:
    """Points (n, 3) of a straight line after its start, close enough for a bend that goes either way within it."""
    shares = np.linspace(0.0, 1.0, 9)[:, None]
    course = bend(start + shares * (end - start))
    off = np.linalg.norm(course - course[0] - shares * (course[-1] - course[0]), axis=1).max()
    if off < _TRIM_STRAYS:
        return end[None]
    middle = (start + end) / 2
    return np.concatenate([_cut_for(bend, start, middle), _cut_for(bend, middle, end)])


def gap(path: Sequence[Place], width: float = 0.014, bend: Bend | None = None) -> Mesh:
    """A panel gap: a dark hairline along `path`."""
    return trim_line(path, width, SHADOW, MATT, bend)


def side_gaps(paths: Sequence[Sequence[Point]], y: float, bend: Bend, width: float = 0.014) -> list[Mesh]:
    """Panel gaps drawn in the side view, on both sides."""
    return solids.both_sides([gap([(x, y, z) for x, z in path], width, bend) for path in paths])


def block(size: Place, at: Place, colour: Colour, material: Material, bevel: float = 0.02) -> Mesh:
    """A rounded box in one colour."""
    return solids.placed(solids.coloured(solids.box(size, bevel), colour, material), at)


def bar(path: Sequence[Place], radius: float, colour: Colour, material: Material) -> Mesh:
    """A round bar along `path`."""
    return solids.coloured(solids.tube(path, radius), colour, material)


def side_profile(
    corners: Sequence[tuple[float, float, float]],
    axles: Sequence[tuple[Point, float]],
    sill: float,
) -> tuple[Array, Array]:
    """The side view of a body, front to the right, with wheel arches.

    Parameters
    ----------
    corners : sequence of (x, z, radius)
        From the front end of the sill up, over the roof and down to the rear end of the sill.
    axles : sequence of ((x, z), arch radius)
        From rear to front.
    sill : float
        Height of the lower edge; both end corners lie on it.

    Returns
    -------
    outline : (n, 2) float
        (x, z), counter-clockwise.
    ease : (n,) float
        For `solids.extrude`: soft edges above, crisp ones along sill and arches.
    """
    shell = outlines.rounded([(x, z) for x, z, _ in corners], [r for _, _, r in corners])
    arches: list[tuple[float, float]] = []
    for (x, z), radius in axles:
        dip = float(np.degrees(np.arcsin((z - sill) / radius)))
        arches += outlines.arc((x, z), radius, 180.0 + dip, -dip)
    ease = np.concatenate([np.ones(len(shell)), np.full(len(arches), 0.3)])
    ease[[0, len(shell) - 1]] = 0.3
    return np.concatenate([shell, arches]), ease


def arch_lip(axle: Point, radius: float, sill: float, y: float, colour: Colour, thick: float) -> list[Mesh]:
    """A rolled edge around a wheel arch, left and right; that of plastic trim does not gleam as paint does."""
    dip = float(np.degrees(np.arcsin((axle[1] - sill) / radius)))
    path = [(x, y, z) for x, z in outlines.arc(axle, radius, 180.0 + dip, -dip)]
    return solids.both_sides([bar(path, thick, colour, MATT if colour == TRIM else PAINT)])


def painted_shell(profile: tuple[Array, Array], width: float, bevel: float, grid: float, colour: Colour) -> Mesh:
    """The painted body from a `side_profile`, its edges rounded by `bevel`.

    `grid` is about how far corners lie apart, at which its light is worked out. [m]
    """
    body = solids.extrude(profile[0], width, bevel, "y", grid=grid, ease=profile[1])
    return solids.coloured(body, colour, PAINT)


def bend_all(meshes: Sequence[Mesh], bend: Bend, within: float = bending.BEND) -> list[Mesh]:
    """All meshes bent alike, those of one material as one; no edge strays further than `within` from its bend. [m]"""
    return [bending.bent(mesh, bend, within) for mesh in merged(meshes)]


def bent_place(at: Place, bend: Bend) -> Place:
    """Where `bend` takes one point."""
    x, y, z = bend(np.array([at]))[0].tolist()
    return x, y, z


# Lamps ------------------------------------------------------------------------------------------------------


def round_lamp(at: Place, radius: float, colour: Colour, backwards: bool = False) -> list[Mesh]:
    """A domed lens in a chrome ring, facing forward (or backward), at `at` and at its mirror place."""
    ring = solids.revolve(
        [
            (radius, -0.04),
            (1.22 * radius, 0.0),
            (1.2 * radius, 0.022),
            (1.04 * radius, 0.026),
            (radius, 0.01),
        ],
        axis="x",
    )
    turn = np.linspace(0, np.pi / 2, 4)
    dome = np.column_stack([radius * np.cos(turn), 0.012 + 0.3 * radius * np.sin(turn)])
    lens = solids.revolve(np.concatenate([[[radius, -0.02]], dome]), axis="x")
    parts = [solids.coloured(ring, CHROME, GLOSSY), solids.coloured(lens, colour, GLOSSY)]
    return solids.both_sides([solids.placed(part, at, 180.0 if backwards else 0.0) for part in parts])


def mirrors(root: Place, head: Place, size: Place, colour: Colour = TRIM, material: Material = SATIN) -> list[Mesh]:
    """Door mirrors: an arm from `root` to `head`, a rounded housing, a mirror on its rear face."""
    depth, width, height = size
    housing = block(size, head, colour, material, 0.45 * min(size))
    glass = block((0.02, 0.8 * width, 0.84 * height), (head[0] - depth / 2, *head[1:]), CHROME, GLOSSY, 0.008)
    return solids.both_sides([bar([root, head], 0.018, TRIM, SATIN), housing, glass])
