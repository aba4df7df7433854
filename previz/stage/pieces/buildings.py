"""Buildings: a detailed front with windows, door and shop front, plainer sides, a flat or gabled roof.

Drawn at full size in metres with a storey of about 3.2 m, front on the plane y = front facing −y, and brought to
the table by one factor. A lit window is a small room behind its opening: walls, ceiling, curtains and furniture send
out light of a few steps (few materials, for each is a draw call), so it has depth and is never a flat rectangle.
"""

from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from previz.physics.colour import LUMINANCE
from previz.physics.smooth import smoothstep
from previz.stage.mesh import Array, Material, Mesh, merged
from previz.stage.pieces.street import brick_size, bricks, snow_bank
from previz.stage.shapes import solids
from previz.stage.shapes.finish import (
    DARK,
    GLASS,
    LEAF,
    LONGEST_EDGE,
    MATT,
    PAINT,
    SNOW,
    Colour,
    blended,
    fitted,
    glowing,
    mottle,
    sheet,
    subdivided,
    toned,
    weathered,
)

STOREY = 3.2  # [m] full size
ROOF_PITCH = 0.62  # rise over half the span, common practice, no source
MOST_CUTS = 50  # along the longest side: a building of metres on the table is cut no finer
MOST_WINDOWS = 320  # on a face: many squat storeys get wider bays
RICH_FLOORS = 8  # taller buildings are seen from further away
STEPS = (1.0, 0.55, 0.26, 0.10)  # of a lit room: lamp-lit ceiling, wall, curtain, shade
FRAMES: tuple[Colour, ...] = ((0.60, 0.59, 0.55), (0.60, 0.59, 0.55), (0.07, 0.10, 0.07), (0.10, 0.06, 0.035))
DOORS: tuple[Colour, ...] = ((0.05, 0.10, 0.07), (0.16, 0.03, 0.025), (0.03, 0.05, 0.10), (0.12, 0.07, 0.04))
STONE: Colour = (0.40, 0.37, 0.32)
MORTAR: Colour = (0.30, 0.28, 0.25)
SLATE: Colour = (0.060, 0.062, 0.070)
TILE: Colour = (0.20, 0.075, 0.045)

Rect = tuple[float, float, float, float]  # x0, x1, z0, z1 on a wall [m]


@dataclass(frozen=True)
class House:
    """What was asked for, at full size. [m], [cd/m2]

    light is linear Rec. 709 with luminance 1; lit is the share of windows with a light on.
    """

    width: float
    depth: float
    height: float
    floors: int
    colour: Colour
    gable: bool
    shop: bool
    lit: float
    glow: float
    light: Colour
    snow: float


@dataclass
class _Site:
    """A house being put up: its finishes, its parts, and the random generator that all of it shares."""

    house: House
    rng: np.random.Generator
    frame: Colour
    brick: bool
    edge: float  # [m] longest triangle edge
    parts: list[Mesh] = field(default_factory=list)  # weathered later
    far: list[Mesh] = field(default_factory=list)  # weathered later; sides and roof, in larger triangles
    rooms: list[Mesh] = field(default_factory=list)  # left clean

    def glow(self, step_number: int) -> Material:
        """Light of a room, by step; dimmer ones have passed cloth and are warmer."""
        warm = np.asarray(self.house.light) * np.array([1.0, 0.93, 0.80]) ** step_number
        warm /= warm @ LUMINANCE
        red, green, blue = warm.tolist()
        return glowing((red, green, blue), self.house.glow * STEPS[step_number])


def lit_windows(count: int, share: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Which of `count` windows have a light on: the nearest whole number to the share, at random places.

    >>> int(lit_windows(12, 0.25, np.random.default_rng(1)).sum())
    3
    """
    lit = np.zeros(count, dtype=bool)
    lit[rng.permutation(count)[: round(share * count)]] = True
    return lit


def building(house: House, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A building standing on z = 0, its front towards −y, within exactly its width, depth and height over `scale`.

    Brick where the colour is warm (red well above blue), else plaster with a few bricks showing.
    """
    red, _, blue = house.colour
    edge = max(1.1 * LONGEST_EDGE * scale, max(house.width, house.height) / MOST_CUTS)
    site = _Site(house, rng, FRAMES[int(rng.integers(len(FRAMES)))], red > 1.6 * blue, edge)
    if house.floors > RICH_FLOORS:
        site.edge *= 2
    setback = min(1.0 if house.shop else 0.32, 0.22 * house.depth)
    front, back = -house.depth / 2 + setback, house.depth / 2 - min(0.12, 0.05 * house.depth)
    side = house.width / 2 - min(0.10, 0.02 * house.width)
    eaves = eaves_height(house)
    _front(site, 2 * side, eaves, front, setback)
    _plain_walls(site, side, eaves, front, back)
    (_gable_roof if house.gable else _flat_roof)(site, side, eaves, front, back)
    # By materials: hundreds of parts one by one would take several times as long.
    fine = [subdivided(part, site.edge) for part in merged(site.parts)]
    aged = [_stained(part, site) for part in [*fine, *(subdivided(part, 1.7 * site.edge) for part in merged(site.far))]]
    return fitted(
        (solids.scaled(part, 1 / scale) for part in merged([*aged, *site.rooms])),
        (house.width / scale, house.depth / scale, house.height / scale),
    )


def eaves_height(house: House) -> float:
    """Where walls end and the roof begins. [m]"""
    if house.gable:
        span = min(house.width, house.depth)
        return house.height - min(ROOF_PITCH * span / 2 + 0.25, 0.45 * house.height)
    return house.height - min(0.55, 0.12 * house.height)


def _stained(mesh: Mesh, site: _Site) -> Mesh:
    """Splash dirt at the foot, damp streaks and grime under ledges."""
    rng = site.rng
    mesh = weathered(mesh, rng, 1.0, tone=0.07, foot=0.42, rise=0.5, moss=0.10, grain=2.2)
    points = mesh.vertices
    upright = np.abs(mesh.normals[:, 2]) < 0.4
    columns = mottle(np.column_stack([points[:, :2] * 1.3, 0.12 * points[:, 2]]), 1.4, rng)
    top = np.exp(-np.clip(site.house.height - points[:, 2], 0, None) / (0.35 * site.house.height))
    return replace(
        mesh, colours=blended(mesh.colours, (0.045, 0.042, 0.038), 0.42 * upright * top * smoothstep(columns, 0.2, 1.6))
    )


# --- the front ---


def _front(site: _Site, width: float, high: float, y: float, setback: float) -> None:
    house, rng = site.house, site.rng
    storey = high / house.floors
    unit = storey / STOREY
    bays = max(1, min(round(width / (2.7 * unit)), MOST_WINDOWS // house.floors))
    pitch = width / bays
    course, brick = brick_size(high, width, 0.09, most=1250)
    wide, tall = min(1.15 * unit, 0.55 * pitch), 1.62 * unit

    def snapped(z: float) -> float:
        return round(z / course) * course if site.brick else z

    door_bay = int(rng.integers(bays))
    openings: list[Rect] = []
    windows: list[Rect] = []
    door: Rect | None = None
    for floor in range(house.floors):
        sill = snapped(floor * storey + 0.88 * unit)
        head = snapped(floor * storey + 0.88 * unit + tall)
        for bay in range(bays):
            x = -width / 2 + (bay + 0.5) * pitch
            if floor == 0 and house.shop:
                continue
            if floor == 0 and bay == door_bay:
                door = (x - 0.52 * unit, x + 0.52 * unit, 0.0, snapped(2.55 * unit))
            else:
                windows.append((x - wide / 2, x + wide / 2, sill, head))
    lit = lit_windows(len(windows), house.lit, rng)
    if house.shop:
        openings.append((-width / 2, width / 2, 0.0, snapped(storey * 0.98)))
    openings += windows + ([door] if door else [])
    _wall(site, width, high, openings, y, course, brick, 0.012, _covered(site, width, high, windows, storey, unit))
    rich = house.floors <= RICH_FLOORS
    for rect, on in zip(windows, lit, strict=True):
        _window(site, rect, y, bool(on), unit, rich)
    if door:
        _door(site, door, y, unit, house.lit > 0 and rng.uniform() < 0.7)
    if house.shop:
        _shop(site, width, openings[0][3], y, setback, unit)
    _trim(site, width, high, y, setback, storey, unit)


def _wall(
    site: _Site,
    width: float,
    high: float,
    openings: list[Rect],
    y: float,
    course: float,
    brick: float,
    proud: float,
    covered: list[Rect],
) -> None:
    """The surface around the openings: mortar and bricks, or plaster with a bare patch or two.

    No bricks are laid where stone covers the wall: half hidden ones would look black.
    """
    house, rng = site.house, site.rng
    margins: list[Rect] = [] if site.brick else [_around_trim(r, high / house.floors / STOREY) for r in openings]
    x_cuts = _cuts([-width / 2, width / 2, *(x for r in [*openings, *margins] for x in r[:2])], width / 2)
    z_cuts = _cuts([0.0, high, *(z for r in [*openings, *margins] for z in r[2:])], high)
    cells = []
    for x0, x1 in pairwise(x_cuts):
        for z0, z1 in pairwise(z_cuts):
            middle = ((x0 + x1) / 2, (z0 + z1) / 2)
            if not any(r[0] < middle[0] < r[1] and r[2] < middle[1] < r[3] for r in openings):
                cells.append([(x0, y, z0), (x1, y, z0), (x1, y, z1), (x0, y, z1)])
    if site.brick:
        site.parts.append(_joined(sheet(np.array(cells), MORTAR)))
        laid = bricks(width, high, openings + covered, course, brick, proud, house.colour, rng)
        site.parts.append(solids.placed(laid, (0, y, 0)))
        return
    site.parts.append(_joined(sheet(np.array(cells), house.colour)))
    for _ in range(int(rng.integers(1, 4))):
        site.parts += _bare_patch(width, high, openings, y, rng)


def _joined(flat: Mesh) -> Mesh:
    """A flat sheet whose faces share their corners."""
    _, first, back = np.unique(np.round(flat.vertices, 6), axis=0, return_index=True, return_inverse=True)
    faces = back.reshape(-1)[flat.faces]
    return replace(
        flat, vertices=flat.vertices[first], normals=flat.normals[first], colours=flat.colours[first], faces=faces
    )


def _covered(site: _Site, width: float, high: float, windows: list[Rect], storey: float, unit: float) -> list[Rect]:
    """Where sills, lintels, string courses and corner stones lie on the wall."""
    out = 0.09 * unit
    covered: list[Rect] = [(a - out, b + out, c - out, c) for a, b, c, _ in windows]
    covered += [(a - out, b + out, d, d + 0.19 * unit) for a, b, _, d in windows]
    half = 0.06 * unit
    covered += [(-width / 2, width / 2, z - half, z + half) for z in _string_courses(site.house, storey)]
    if site.house.floors <= RICH_FLOORS:
        covered += _quoin_rects(site.house, width, high, unit)
    return covered


def _string_courses(house: House, storey: float) -> list[float]:
    return [floor * storey for floor in range(1, house.floors) if house.floors <= RICH_FLOORS or floor % 4 == 0]


def _quoin_rects(house: House, width: float, high: float, unit: float) -> list[Rect]:
    """Corner stones, long and short by turns, above the shop front if there is one."""
    start = house.shop * high / house.floors
    levels = np.linspace(start, high - 0.42 * unit, max(2, round((high - start - 0.45 * unit) / (0.42 * unit))) + 1)
    rects: list[Rect] = []
    for k, (low, top) in enumerate(pairwise(levels.tolist())):
        long = (0.42 if k % 2 else 0.26) * unit
        rects += [(-width / 2, -width / 2 + long, low, top), (width / 2 - long, width / 2, low, top)]
    return rects


def _around_trim(rect: Rect, unit: float) -> Rect:
    """Just outside the sill and lintel of an opening: what they hide of the wall must not darken what is seen."""
    a, b, c, d = rect
    return a - 0.12 * unit, b + 0.12 * unit, c - 0.12 * unit, d + 0.22 * unit


def _cuts(places: list[float], most: float) -> Array:
    """Where the wall is cut, in order, none outside −most..most."""
    cuts = np.unique(np.round(places, 6))
    return np.asarray(cuts[(cuts >= -most - 1e-6) & (cuts <= most + 1e-6) & ((cuts >= 0) | (min(places) < 0))])


def _bare_patch(width: float, high: float, openings: list[Rect], y: float, rng: np.random.Generator) -> list[Mesh]:
    """A few bricks where plaster has come off, kept clear of the openings."""
    middle = np.array([rng.uniform(-0.45, 0.45) * width, rng.uniform(0.05, 0.85) * high])
    reach = np.array([rng.uniform(0.3, 0.7), rng.uniform(0.2, 0.45)])
    faces = []
    for row in range(-6, 7):
        for place in range(-4, 5):
            x, z = middle[0] + (place + 0.5 * (row % 2)) * 0.25, middle[1] + row * 0.083
            inside = ((x - middle[0]) / reach[0]) ** 2 + ((z - middle[1]) / reach[1]) ** 2 < rng.uniform(0.5, 1.1)
            clear = all(x + 0.13 < a or x - 0.13 > b or z + 0.05 < c or z - 0.05 > d for a, b, c, d in openings)
            if inside and clear and abs(x) + 0.13 < width / 2 and 0.05 < z < high - 0.1:
                box = [(x - 0.115, z - 0.034), (x + 0.115, z - 0.034), (x + 0.115, z + 0.034), (x - 0.115, z + 0.034)]
                faces.append([(a, y - 0.012, b) for a, b in box])
    if not faces:
        return []
    laid = sheet(np.array(faces), (0.20, 0.085, 0.055))
    tint = np.exp(rng.normal(0, 0.2, len(faces))).repeat(4)[:, None]
    return [replace(laid, colours=np.clip(laid.colours * tint, 0, 1))]


def _darker(colour: Colour, factor: float) -> Colour:
    return (colour[0] * factor, colour[1] * factor, colour[2] * factor)


def _box(site: _Site, x0: float, x1: float, y0: float, y1: float, z0: float, z1: float, colour: Colour) -> Mesh:
    # A little finer than asked for, so that a narrow one's diagonals are short enough too.
    block = solids.slab((x1 - x0, y1 - y0, z1 - z0), 0.95 * site.edge)
    return solids.placed(solids.coloured(block, colour), ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2))


def _ledge(site: _Site, x0: float, x1: float, y0: float, y1: float, z0: float, z1: float, colour: Colour) -> Mesh:
    """A box against a wall: without the face that is in the wall."""
    whole = _box(site, x0, x1, y0, y1, z0, z1, colour)
    seen = ~(whole.normals[whole.faces][:, 0, 1] > 0.9)
    used, back = np.unique(whole.faces[seen], return_inverse=True)
    return replace(
        whole,
        vertices=whole.vertices[used],
        normals=whole.normals[used],
        colours=whole.colours[used],
        faces=back.reshape(-1, 3),
    )


def _upright(rects: list[Rect], y: float, colour: Colour, material: Material = MATT) -> Mesh:
    """Flat rectangles in the plane y, facing −y."""
    corners = [[(a, y, c), (b, y, c), (b, y, d), (a, y, d)] for a, b, c, d in rects]
    return sheet(np.array(corners), colour, material)


def _reveal(rect: Rect, y: float, deep: float, colour: Colour, material: Material = MATT) -> Mesh:
    """The four inner sides of a recess, front edge at y."""
    a, b, c, d = rect
    e = y + deep
    return sheet(
        np.array(
            [
                [(a, y, c), (a, e, c), (a, e, d), (a, y, d)],
                [(b, e, c), (b, y, c), (b, y, d), (b, e, d)],
                [(a, y, c), (b, y, c), (b, e, c), (a, e, c)],
                [(a, e, d), (b, e, d), (b, y, d), (a, y, d)],
            ]
        ),
        colour,
        material,
    )


def _bars(
    rect: Rect, y: float, thick: float, deep: float, across: tuple[float, ...], up: tuple[float, ...], colour: Colour
) -> list[Mesh]:
    """A frame around the rectangle with bars at shares `across` its width and `up` its height, front faces at y."""
    a, b, c, d = rect
    strips: list[Rect] = [(a, a + thick, c, d), (b - thick, b, c, d), (a, b, c, c + thick), (a, b, d - thick, d)]
    thin = 0.55 * thick
    strips += [(a + t * (b - a) - thin / 2, a + t * (b - a) + thin / 2, c, d) for t in across]
    strips += [(a, b, c + t * (d - c) - thin / 2, c + t * (d - c) + thin / 2) for t in up]
    sides = [np.asarray(_reveal_outside(strip, y, deep)) for strip in strips]
    return [_upright(strips, y, colour), sheet(np.concatenate(sides), colour)]


def _reveal_outside(rect: Rect, y: float, deep: float) -> list[list[tuple[float, float, float]]]:
    """The left, right and top sides of a bar that stands out from y + deep to y."""
    a, b, c, d = rect
    e = y + deep
    return [
        [(a, e, c), (a, y, c), (a, y, d), (a, e, d)],
        [(b, y, c), (b, e, c), (b, e, d), (b, y, d)],
        [(a, y, d), (b, y, d), (b, e, d), (a, e, d)],
    ]


def _window(site: _Site, rect: Rect, y: float, on: bool, unit: float, rich: bool) -> None:
    """Reveal, sash frame, sill, lintel, and behind the glass a lit room or the dark with curtains."""
    a, b, c, d = rect
    house, rng, deep = site.house, site.rng, 0.16 * unit
    ledge = STONE if site.brick else toned((0.46, 0.44, 0.40), rng, 0.03)
    site.parts.append(_reveal(rect, y, deep, _darker(house.colour, 0.9)))
    level = (0.5,) if rich else ()
    site.parts += _bars(rect, y + deep - 0.05 * unit, 0.065 * unit, 0.05 * unit, (0.5,), level, site.frame)
    out = 0.09 * unit
    site.parts.append(_ledge(site, a - out, b + out, y - out, y + 0.02, c - 0.09 * unit, c, toned(ledge, rng, 0.05)))
    site.parts.append(
        _ledge(site, a - out, b + out, y - 0.03 * unit, y + 0.02, d, d + 0.19 * unit, toned(ledge, rng, 0.05))
    )
    if house.snow > 0:
        bank = snow_bank(b - a + 1.6 * out, 0.95 * out, 0.10 * unit * house.snow, c, site.edge, rng)
        site.rooms.append(solids.placed(bank, ((a + b) / 2, y - 0.5 * out, 0)))
    if on:
        _room(site, rect, y + deep, unit, rich)
    else:
        _dark_window(site, rect, y + deep, rich)


def _dark_window(site: _Site, rect: Rect, y: float, rich: bool) -> None:
    """Dark glass; behind it, to be seen by daylight, curtains or a blind."""
    a, b, c, d = rect
    rng, wide, high = site.rng, rect[1] - rect[0], rect[3] - rect[2]
    site.rooms.append(_upright([rect], y, toned((0.020, 0.023, 0.027), rng, 0.25), GLASS))
    kind = rng.uniform()
    cloth = toned((0.22, 0.21, 0.19), rng, 0.3)
    if kind < 0.45 and rich:
        part = rng.uniform(0.14, 0.30) * wide
        hangings: list[Rect] = []
        for k in range(3):  # folds
            hangings += [
                (a + part * k / 3, a + part * (k + 0.72) / 3, c, d),
                (b - part * (k + 0.72) / 3, b - part * k / 3, c, d),
            ]
        site.rooms.append(_upright(hangings, y - 0.004, cloth, GLASS))
    elif kind < 0.70:
        site.rooms.append(_upright([(a, b, d - rng.uniform(0.2, 0.65) * high, d)], y - 0.004, cloth, GLASS))
    elif kind < 0.85 and rich:
        foot = c + rng.uniform(0.08, 0.2) * high  # plants and things on the sill
        at = a + rng.uniform(0.2, 0.7) * wide
        site.rooms.append(_upright([(at, at + 0.16 * wide, c, foot)], y - 0.004, (0.10, 0.055, 0.03), GLASS))
        site.rooms.append(
            _upright(
                [(at - 0.05 * wide, at + 0.21 * wide, foot, foot + 0.12 * high)], y - 0.004, (0.03, 0.05, 0.02), GLASS
            )
        )


def _room(site: _Site, rect: Rect, y: float, unit: float, rich: bool) -> None:
    """A lit room behind an opening: back wall, bright ceiling, dim sides and floor, and what stands in it."""
    a, b, c, d = rect
    rng, wide, high, deep = site.rng, rect[1] - rect[0], rect[3] - rect[2], 0.75 * unit
    brightness = int(rng.choice([0, 0, 1]))  # some rooms are dimmer
    back = site.glow(min(1 + brightness, 3))
    site.rooms.append(_upright([rect], y + deep, DARK, back))
    sides = _reveal(rect, y, deep, DARK, site.glow(min(2 + brightness, 3)))
    site.rooms.append(replace(sides, faces=sides.faces[_quads(4, (0, 1))]))
    site.rooms.append(replace(sides, faces=sides.faces[_quads(4, (2,))], material=site.glow(3)))
    site.rooms.append(replace(sides, faces=sides.faces[_quads(4, (3,))], material=site.glow(brightness)))
    if not rich:
        return
    _furniture(site, rect, y, deep)
    kind = rng.uniform()
    cloth = site.glow(min(1 + brightness, 3)) if rng.uniform() < 0.5 else site.glow(2)
    if kind < 0.5:  # curtains in folds, the shaded half of each fold dimmer
        part, folds = rng.uniform(0.16, 0.34) * wide, 4
        bright = [(a + part * k / folds, a + part * (k + 0.6) / folds, c, d) for k in range(folds)]
        dim = [(a + part * (k + 0.6) / folds, a + part * (k + 1) / folds, c, d) for k in range(folds)]
        both = (
            [(a + b - r[1], a + b - r[0], r[2], r[3]) for r in bright],
            [(a + b - r[1], a + b - r[0], r[2], r[3]) for r in dim],
        )
        site.rooms.append(_upright(bright + both[0], y + 0.03, DARK, cloth))
        site.rooms.append(_upright(dim + both[1], y + 0.03, DARK, site.glow(3)))
    elif kind < 0.72:  # a blind, with a hem
        foot = d - rng.uniform(0.25, 0.7) * high
        site.rooms.append(_upright([(a, b, foot, d)], y + 0.03, DARK, cloth))
        site.rooms.append(_upright([(a, b, foot - 0.03 * unit, foot)], y + 0.028, (0.2, 0.19, 0.17)))
    elif kind < 0.85:  # a half curtain
        foot = c + 0.42 * high
        site.rooms.append(_upright([(a, b, c, foot)], y + 0.03, DARK, cloth))


def _quads(count: int, wanted: tuple[int, ...]) -> list[int]:
    """Rows of the faces of a `sheet` of `count` quads that make up the wanted ones."""
    return [k + half for k in wanted for half in (0, count)]


def _furniture(site: _Site, rect: Rect, y: float, deep: float) -> None:
    """Silhouettes: a picture, a shelf or a cupboard, a lamp, sometimes somebody."""
    a, _, c, d = rect
    rng, wide, high = site.rng, rect[1] - rect[0], rect[3] - rect[2]
    dark = toned((0.10, 0.07, 0.05), rng, 0.3)

    def at(x0: float, x1: float, z0: float, z1: float) -> Rect:
        return (a + x0 * wide, a + x1 * wide, c + z0 * high, c + z1 * high)

    x = float(rng.uniform(0.05, 0.55))
    tall = float(rng.uniform(0.25, 0.7))
    site.rooms.append(_upright([at(x, x + 0.36, 0.0, tall)], y + 0.8 * deep, dark, site.glow(3)))
    p = float(rng.uniform(0.1, 0.6))
    site.rooms.append(_upright([at(p, p + 0.24, 0.55, 0.80)], y + 0.97 * deep, dark, site.glow(2)))
    site.rooms.append(_upright([at(p + 0.03, p + 0.21, 0.59, 0.76)], y + 0.96 * deep, dark, site.glow(3)))
    if rng.uniform() < 0.6:
        s = float(rng.uniform(0.2, 0.7))
        shade = a + s * wide
        low, top, half = c + 0.74 * high, c + 0.86 * high, 0.11 * wide
        corners = [[(shade - half, y + 0.5 * deep, low), (shade + half, y + 0.5 * deep, low)]]
        corners[0] += [(shade + 0.5 * half, y + 0.5 * deep, top), (shade - 0.5 * half, y + 0.5 * deep, top)]
        site.rooms.append(sheet(np.array(corners), DARK, site.glow(0)))
        site.rooms.append(_upright([(shade - 0.01 * wide, shade + 0.01 * wide, top, d)], y + 0.5 * deep, DARK))
    if rng.uniform() < 0.18:
        s = float(rng.uniform(0.25, 0.65))
        person = [
            at(s - 0.13, s + 0.13, 0.0, 0.42),
            at(s - 0.10, s + 0.10, 0.42, 0.46),
            at(s - 0.06, s + 0.06, 0.48, 0.62),
        ]
        site.rooms.append(_upright(person, y + 0.4 * deep, dark))


def _door(site: _Site, rect: Rect, y: float, unit: float, lit: bool) -> None:
    """A panelled door in a recess with a light above it, a surround and a step."""
    a, b, c, d = rect
    rng, deep = site.rng, 0.22 * unit
    paint = DOORS[int(rng.integers(len(DOORS)))]
    head = d - 0.42 * unit
    site.parts.append(_reveal(rect, y, deep, toned(STONE, rng, 0.04)))
    leaf = (a, b, c, head)
    site.parts.append(replace(_upright([leaf], y + deep, paint), material=PAINT))
    wide = b - a
    for x0, x1 in ((0.12, 0.46), (0.54, 0.88)):
        for z0, z1 in ((0.08, 0.34), (0.42, 0.92)):
            box = _ledge(
                site,
                a + x0 * wide,
                a + x1 * wide,
                y + deep - 0.03,
                y + deep + 0.01,
                z0 * head,
                z1 * head,
                toned(paint, rng, 0.06),
            )
            site.parts.append(replace(box, material=PAINT))
    knob = _ledge(
        site, b - 0.11 * wide, b - 0.06 * wide, y + deep - 0.06, y + deep, 0.42 * head, 0.46 * head, (0.40, 0.28, 0.10)
    )
    site.parts.append(replace(knob, material=PAINT))
    site.parts += _bars((a, b, head, d), y + deep - 0.04, 0.05 * unit, 0.04, (0.33, 0.67), (), site.frame)
    above = site.glow(1) if lit else GLASS
    site.rooms.append(_upright([(a, b, head, d)], y + deep, (0.02, 0.023, 0.027), above))
    jamb = 0.16 * unit
    for x0, x1 in ((a - jamb, a), (b, b + jamb)):
        site.parts.append(_ledge(site, x0, x1, y - 0.06 * unit, y + 0.02, 0.0, d, toned(STONE, rng, 0.04)))
    site.parts.append(
        _ledge(
            site, a - 1.4 * jamb, b + 1.4 * jamb, y - 0.10 * unit, y + 0.02, d, d + 0.22 * unit, toned(STONE, rng, 0.04)
        )
    )
    site.parts.append(
        _ledge(site, a - jamb, b + jamb, y - 0.26 * unit, y + 0.02, 0.0, 0.13 * unit, toned(STONE, rng, 0.05))
    )


# --- shop front ---


def _shop(site: _Site, width: float, top: float, y: float, setback: float, unit: float) -> None:
    """Pilasters, a fascia left blank, an awning, display windows either side of a door, goods on shelves."""
    house, rng = site.house, site.rng
    paint = DOORS[int(rng.integers(len(DOORS)))]
    fascia, riser = top - 0.62 * unit, 0.45 * unit
    lit = house.lit > 0
    posts = [-width / 2, -0.6 * unit, 0.6 * unit, width / 2]
    if width < 4 * unit:
        posts = [-width / 2, width / 2 - 1.3 * unit, width / 2]
    for k, x in enumerate(posts):
        half = 0.13 * unit
        x0, x1 = max(x - half, -width / 2), min(x + half, width / 2)
        site.parts.append(
            replace(_ledge(site, x0, x1, y - 0.05, y + 0.15, 0.0, fascia, toned(paint, rng, 0.05)), material=PAINT)
        )
        door = (k == 1 and len(posts) == 4) or (k == 1 and len(posts) == 3)
        if k == len(posts) - 1:
            continue
        bay = (x + half if k else x1, posts[k + 1] - half, 0.0, fascia)
        if door:
            _shop_door(site, bay, y + 0.35 * unit, y, paint, lit)
        else:
            _display(site, (bay[0], bay[1], riser, fascia), y, unit, paint, lit)
    board = _ledge(site, -width / 2, width / 2, y - 0.10, y + 0.1, fascia, top - 0.08 * unit, toned(paint, rng, 0.04))
    site.parts.append(replace(board, material=PAINT))
    panel = _upright(
        [(-0.42 * width, 0.42 * width, fascia + 0.14 * unit, top - 0.24 * unit)], y - 0.104, (0.52, 0.48, 0.38), PAINT
    )
    site.parts.append(panel)
    site.parts.append(
        _ledge(site, -width / 2, width / 2, y - 0.20, y + 0.1, top - 0.08 * unit, top, toned(STONE, rng, 0.04))
    )
    if setback > 0.3:
        _awning(site, 0.90 * width, y, -house.depth / 2, fascia - 0.02 * unit, unit)


def _display(site: _Site, rect: Rect, y: float, unit: float, paint: Colour, lit: bool) -> None:
    a, b, c, _ = rect
    rng = site.rng
    riser = _ledge(site, a, b, y, y + 0.12, 0.0, c, toned(paint, rng, 0.05))
    site.parts.append(replace(riser, material=PAINT))
    site.parts.append(_ledge(site, a, b, y - 0.06, y + 0.10, c - 0.06 * unit, c, toned(STONE, rng, 0.04)))
    posts = tuple(np.linspace(0, 1, max(2, round((b - a) / (1.5 * unit))) + 1)[1:-1].tolist())
    site.parts += _bars(rect, y + 0.06, 0.06 * unit, 0.06, posts, (0.78,), paint)
    if not lit:
        site.rooms.append(_upright([rect], y + 0.12, (0.020, 0.023, 0.027), GLASS))
    _goods(site, rect, y + 0.12, 1.1 * unit, lit)


def _goods(site: _Site, rect: Rect, y: float, deep: float, lit: bool) -> None:
    """The inside of a display window: bright ceiling, back wall with shelves, boxes and bottles on them."""
    if not lit:
        return
    a, b, c, _ = rect
    rng, high = site.rng, rect[3] - rect[2]
    site.rooms.append(_upright([rect], y + deep, DARK, site.glow(1)))
    shell = _reveal(rect, y, deep, DARK)
    for quads, number in (((0, 1), 1), ((2,), 2), ((3,), 0)):
        site.rooms.append(replace(shell, faces=shell.faces[_quads(4, quads)], material=site.glow(number)))
    kinds: dict[int, list[Rect]] = {0: [], 2: [], 3: []}
    for shelf in (0.0, 0.30, 0.58):
        z = c + shelf * high
        if shelf:
            kinds[3].append((a, b, z - 0.03 * high, z))
        x = a + rng.uniform(0.05, 0.2)
        while x < b - 0.25:
            wide, tall = rng.uniform(0.10, 0.30), rng.uniform(0.10, 0.23) * high
            kinds[int(rng.choice([0, 2, 2, 3]))].append((x, min(x + wide, b - 0.02), z, z + tall))
            x += wide + rng.uniform(0.02, 0.18)
    for number, rects in kinds.items():
        if rects:
            site.rooms.append(_upright(rects, y + (0.55 + 0.08 * number) * deep, DARK, site.glow(number)))
    at = a + rng.uniform(0.1, 0.4)
    while at < b - 0.3:  # things in the window itself, against the light
        wide, tall = rng.uniform(0.08, 0.28), rng.uniform(0.08, 0.34) * high
        thing = _upright([(at, at + wide, c, c + tall)], y + rng.uniform(0.15, 0.35) * deep, (0.25, 0.10, 0.06))
        tone = np.exp(rng.normal(0, 0.6, 3))
        own = site.glow(3) if rng.uniform() < 0.5 else MATT
        site.rooms.append(replace(thing, colours=np.clip(thing.colours * tone, 0, 1), material=own))
        at += wide + rng.uniform(0.1, 0.7)


def _shop_door(site: _Site, bay: Rect, y: float, front: float, paint: Colour, lit: bool) -> None:
    a, b, _, d = bay
    site.parts.append(_reveal((a, b, 0.0, d), front, y - front, toned(paint, site.rng, 0.05), PAINT))
    pane = (a + 0.12, b - 0.12, 0.5, d - 0.5)
    site.parts += _bars((a, b, 0.0, d), y - 0.05, 0.12, 0.05, (), (), paint)
    site.parts.append(replace(_upright([(a, b, 0.0, 0.5)], y, paint), material=PAINT))
    site.rooms.append(_upright([(a, b, 0.5, d)], y, (0.02, 0.023, 0.027), site.glow(1) if lit else GLASS))
    if lit:
        low, middle = pane[2], (pane[0] + pane[1]) / 2
        rects: list[Rect] = [(pane[0], middle, low, low + 0.5), (middle, pane[1], low, low + 0.3)]
        site.rooms.append(_upright(rects, y - 0.004, DARK, site.glow(2)))
    plate = _box(site, a + 0.3 * (b - a), b - 0.3 * (b - a), y - 0.02, y, 1.5, 1.75, (0.5, 0.48, 0.42))
    site.parts.append(plate)


def _awning(site: _Site, width: float, y: float, reach: float, z: float, unit: float) -> None:
    """A striped cloth sloping down and out to `reach`, with a valance."""
    rng = site.rng
    dye = DOORS[int(rng.integers(len(DOORS)))]
    pale: Colour = (0.55, 0.52, 0.45)
    count = max(4, round(width / (0.42 * unit)))
    drop, hem = 0.42 * unit, 0.17 * unit
    stops = np.linspace(-width / 2, width / 2, count + 1)
    for k, (a, b) in enumerate(pairwise(stops)):
        tint = toned(pale if k % 2 else dye, rng, 0.05)
        low = z - drop
        tip = min((b - a) * 0.35, hem * 0.6)
        cloth = sheet(np.array([[(a, reach, low), (b, reach, low), (b, y, z), (a, y, z)]]), tint)
        edge = sheet(
            np.array([[(a + tip, reach, low - hem), (b - tip, reach, low - hem), (b, reach, low), (a, reach, low)]]),
            tint,
        )
        site.parts += [replace(part, material=LEAF) for part in (cloth, edge)]
    for x in (-width / 2, width / 2):
        arm = solids.tube([(x, y, z - drop - 0.1), (x, reach + 0.02, z - drop + 0.01)], 0.025, 5)
        site.parts.append(solids.coloured(arm, (0.2, 0.2, 0.2), MATT))


# --- trim, walls, roofs ---


def _trim(site: _Site, width: float, high: float, y: float, setback: float, storey: float, unit: float) -> None:
    """Plinth, string courses, corner stones, a stepped cornice and a rain pipe."""
    house, rng = site.house, site.rng
    out = min(0.28 * unit, 0.9 * setback)
    pale = toned(STONE if site.brick else (0.48, 0.45, 0.40), rng, 0.04)
    if not house.shop:
        # Between the door's jambs the step covers the plinth.
        site.parts.append(
            _ledge(site, -width / 2, width / 2, y - 0.05 * unit, y + 0.05, 0.0, 0.12 * unit, toned(STONE, rng, 0.08))
        )
    for z in _string_courses(house, storey):
        band = (z - 0.07 * unit, z + 0.07 * unit)
        site.parts.append(_ledge(site, -width / 2, width / 2, y - 0.05 * unit, y + 0.02, *band, pale))
    if house.floors <= RICH_FLOORS:
        _quoins(site, width, high, y, unit, pale)
    for k, (drop, share) in enumerate(((0.40, 0.35), (0.26, 0.65), (0.12, 1.0))):
        top = high - (drop - 0.14) * unit if k < 2 else high
        site.parts.append(
            _ledge(
                site, -width / 2, width / 2, y - share * out, y + 0.05, high - drop * unit, top, toned(pale, rng, 0.03)
            )
        )
    if house.snow > 0 and not house.gable:
        bank = snow_bank(width, 0.8 * out, 0.12 * unit * house.snow, high, site.edge, rng)
        site.rooms.append(solids.placed(bank, (0, y - 0.55 * out, 0)))
    x = (width / 2 - 0.14 * unit) * (1 if rng.uniform() < 0.5 else -1)
    foot = 0.15 if not house.shop else storey
    pipe = solids.tube([(x, y - 0.10 * unit, z) for z in np.linspace(foot, high - 0.30 * unit, 5)], 0.05 * unit, 6)
    site.parts.append(solids.coloured(pipe, (0.09, 0.09, 0.09), MATT))


def _quoins(site: _Site, width: float, high: float, y: float, unit: float, pale: Colour) -> None:
    gap = 0.012 * unit
    for a, b, low, top in _quoin_rects(site.house, width, high, unit):
        rect = (a, b, low + gap, top - gap)
        tint = toned(pale, site.rng, 0.07)
        site.parts.append(_upright([rect], y - 0.03 * unit, tint))
        site.parts.append(sheet(np.array(_reveal_outside(rect, y - 0.03 * unit, 0.03 * unit)), tint))


def _plain_walls(site: _Site, side: float, high: float, front: float, back: float) -> None:
    """Sides and back in plaster, each with a few small dark windows."""
    house, rng = site.house, site.rng
    grey = np.array([0.33, 0.31, 0.28])
    red, green, blue = (0.5 * np.asarray(house.colour) + 0.5 * grey).tolist()
    plaster = toned((red, green, blue), rng, 0.05)
    storey = high / house.floors
    middle = (front + back) / 2
    faces = [(back - front, side, middle, 90.0), (back - front, -side, middle, -90.0), (2 * side, 0.0, back, 180.0)]
    for width, x, y, turn in faces:
        openings: list[Rect] = []
        bays = max(1, min(int(width / (3.4 * storey / STOREY)), MOST_WINDOWS // house.floors))
        for floor in range(house.floors):
            for bay in range(bays):
                at = -width / 2 + (bay + 0.5) * width / bays
                if width > 1.5 and rng.uniform() < 0.6:
                    half = min(0.42 * storey / STOREY, 0.3 * width)
                    openings.append((at - half, at + half, (floor + 0.32) * storey, (floor + 0.70) * storey))
        other = _Site(house, rng, site.frame, False, site.edge)
        other.house = replace(house, colour=plaster, snow=0.0)
        _wall(other, width, high, openings, 0.0, 0.1, 0.3, 0.01, [])
        for rect in openings:
            other.parts.append(_reveal(rect, 0.0, 0.12, _darker(plaster, 0.8)))
            other.parts += _bars(rect, 0.08, 0.06, 0.04, (0.5,), (), site.frame)
            other.parts.append(_box(site, rect[0] - 0.06, rect[1] + 0.06, -0.06, 0.02, rect[2] - 0.07, rect[2], STONE))
            other.rooms.append(_upright([rect], 0.12, toned((0.020, 0.023, 0.027), rng, 0.25), GLASS))
        site.far += [solids.placed(part, (x, y, 0), turn=turn) for part in other.parts]
        site.rooms += [solids.placed(part, (x, y, 0), turn=turn) for part in other.rooms]


def _flat_roof(site: _Site, side: float, eaves: float, front: float, back: float) -> None:
    """A parapet with coping around gravelled felt, a hatch, a vent and a chimney."""
    house, rng = site.house, site.rng
    top = house.height
    drift = 0.12 * house.snow * min(1.0, top - eaves)
    rim, coping = min(0.22, 0.1 * side), 0.08
    wall_top = top - drift - coping
    tint = toned(house.colour, rng, 0.04)
    x, depth = house.width / 2, house.depth / 2
    runs = [(-side, side, front, front + rim), (-side, side, back - rim, back)]
    runs += [(-side, -side + rim, front, back), (side - rim, side, front, back)]
    for x0, x1, y0, y1 in runs:
        site.far.append(_box(site, x0, x1, y0, y1, eaves - 0.02, wall_top, tint))
    lips = [(-x, x, front - 0.06, front + rim + 0.04), (-x, x, back - rim - 0.04, depth)]
    lips += [(-x, -side + rim + 0.04, front, back), (side - rim - 0.04, x, front, back)]
    for x0, x1, y0, y1 in lips:
        site.far.append(_box(site, x0, x1, y0, y1, wall_top, wall_top + coping, toned(STONE, rng, 0.06)))
        if house.snow > 0:
            _bank_on(site, (x0, x1, y0, y1), wall_top + coping, drift)
    deck = sheet(
        np.array([[(-side, front, eaves), (side, front, eaves), (side, back, eaves), (-side, back, eaves)]]),
        (0.10, 0.10, 0.10),
    )
    site.far.append(_whitened(subdivided(deck, site.edge), house.snow, rng))
    room = min(side, (back - front) / 2)
    if room > 1.2 and wall_top - eaves > 0.2:
        site.far.append(
            _box(
                site,
                -0.5 * side,
                -0.5 * side + 0.9,
                back - 1.6,
                back - 0.8,
                eaves,
                wall_top,
                toned((0.25, 0.25, 0.24), rng, 0.1),
            )
        )
        site.far.append(
            _box(
                site,
                0.4 * side,
                0.4 * side + 0.5,
                front + 1.2,
                front + 1.7,
                eaves,
                wall_top - 0.1,
                toned((0.33, 0.33, 0.32), rng, 0.1),
            )
        )


def _bank_on(site: _Site, ledge: Rect, z: float, deep: float) -> None:
    """Snow along a ledge (x0, x1, y0, y1), whichever way it runs."""
    x0, x1, y0, y1 = ledge
    along_x = x1 - x0 >= y1 - y0
    long, thick = (x1 - x0, y1 - y0) if along_x else (y1 - y0, x1 - x0)
    bank = snow_bank(long, thick, deep, z, site.edge, site.rng)
    site.rooms.append(solids.placed(bank, ((x0 + x1) / 2, (y0 + y1) / 2, 0), turn=0 if along_x else 90))


def _whitened(mesh: Mesh, snow: float, rng: np.random.Generator) -> Mesh:
    cover = (
        smoothstep(mottle(mesh.vertices, 1.6, rng) + 2.2 * snow, 0.9, 1.4) if snow > 0 else np.zeros(len(mesh.vertices))
    )
    return replace(mesh, colours=blended(mesh.colours, SNOW, cover))


def _gable_roof(site: _Site, side: float, eaves: float, front: float, back: float) -> None:
    """Two slopes of tiles in overlapping courses, gable walls, a ridge and a chimney.

    The ridge runs along the longer side of the plan.
    """
    house, rng = site.house, site.rng
    along_x = house.width >= house.depth
    half_x, half_y = house.width / 2, house.depth / 2
    pot = 0.25 if house.height - eaves > 0.6 else 0.0
    ridge = house.height - pot
    tint = TILE if rng.uniform() < 0.55 else SLATE
    if along_x:
        middle, overhang = (front + back) / 2, min(0.25, half_y + front)
        low_y = (front - overhang, back + min(0.12, half_y - back))
        slopes = [(half_x, low_y[0], middle, 0.0), (half_x, low_y[1], middle, 180.0)]
        for x in (-side, side):
            ends = [(x, front, eaves), (x, back, eaves), (x, middle, ridge - 0.1)]
            site.parts.append(_gable_end(ends, x > 0, house.colour))
    else:
        slopes = [(half_y, -half_x, 0.0, -90.0), (half_y, half_x, 0.0, 90.0)]
        for y in (front, back):
            ends = [(-side, y, eaves), (side, y, eaves), (0.0, y, ridge - 0.1)]
            site.parts.append(_gable_end(ends, y == front, house.colour))
    for half, low, high, turn in slopes:
        _tiles(site, half, abs(high - low), eaves - 0.05, ridge, high if along_x else 0.0, turn, tint)
    _ridge_and_chimney(site, along_x, (front + back) / 2 if along_x else 0.0, side, ridge, pot, eaves, tint)


def _gable_end(corners: list[tuple[float, float, float]], outward: bool, colour: Colour) -> Mesh:
    """The triangle of wall under a gable; `outward` tells which way round its corners are given."""
    points = np.array(corners if outward else corners[::-1])
    normal = np.cross(points[1] - points[0], points[2] - points[0])
    normal /= np.linalg.norm(normal)
    return Mesh(points, np.array([[0, 1, 2]]), np.tile(normal, (3, 1)), np.tile(colour, (3, 1)))


def _tiles(
    site: _Site, half: float, run: float, low: float, ridge: float, middle: float, turn: float, tint: Colour
) -> None:
    """One slope, drawn falling towards −y from the ridge at y = 0: courses that lap over each other. [m]"""
    house, rng = site.house, site.rng
    slope = float(np.hypot(run, ridge - low))
    count = int(np.clip(round(slope / 0.34), 4, 16))
    wide = int(np.clip(round(2 * half / 0.45), 6, 34))
    lap = 0.035
    xs = np.linspace(-half, half, wide + 1)
    shares = np.linspace(0, 1, count + 1)
    normal = np.array([0.0, -(ridge - low), run]) / slope
    quads, butts = [], []
    for k in range(count):
        lower = np.array([0, -run * (1 - shares[k]), low + (ridge - low) * shares[k]]) + lap * normal
        upper = np.array([0, -run * (1 - shares[k + 1]), low + (ridge - low) * shares[k + 1]])
        shift = (0.25 * (xs[1] - xs[0])) * (1 if k % 2 else -1)
        stops = np.clip(xs + shift, -half, half)
        stops[0], stops[-1] = -half, half
        for a, b in pairwise(stops):
            ax, bx = np.array([a, 0, 0]), np.array([b, 0, 0])
            quads.append([ax + lower, bx + lower, bx + upper, ax + upper])
        butts.append(
            [
                xs[0] * np.eye(3)[0] + lower - 1.3 * lap * normal,
                xs[-1] * np.eye(3)[0] + lower - 1.3 * lap * normal,
                xs[-1] * np.eye(3)[0] + lower,
                xs[0] * np.eye(3)[0] + lower,
            ]
        )
    tiles = sheet(np.array(quads), tint, LEAF)  # two-sided: the gaps at the verge are seen from below
    tone = np.exp(rng.normal(0, 0.14, (len(quads), 1))).repeat(4, axis=0)
    tiles = replace(tiles, colours=np.clip(tiles.colours * tone, 0, 1))
    butt = sheet(np.array(butts), _darker(tint, 0.6))
    under = sheet(
        np.array([[(half, -run, low), (-half, -run, low), (-half, 0, ridge), (half, 0, ridge)]]), (0.1, 0.08, 0.06)
    )
    for part in (tiles, replace(butt, material=LEAF), replace(under, material=LEAF)):
        at = (0.0, middle, 0.0)
        site.parts.append(solids.placed(_whitened(part, house.snow if part is tiles else 0.0, rng), at, turn=turn))
    if house.snow > 0.15:
        site.rooms.append(
            solids.placed(
                _roof_snow(half, run, low, ridge, normal, lap, house.snow, site.edge, rng),
                (0.0, middle, 0.0),
                turn=turn,
            )
        )


def _roof_snow(
    half: float,
    run: float,
    low: float,
    ridge: float,
    normal: Array,
    lap: float,
    snow: float,
    edge: float,
    rng: np.random.Generator,
) -> Mesh:
    """A blanket over the slope: thick where snow lies, with holes where it has slid off."""
    across = int(np.clip(np.ceil(3.5 * half / edge), 10, 48)) + 1
    up = int(np.clip(np.ceil(1.8 * np.hypot(run, ridge - low) / edge), 6, 24)) + 1
    x, t = np.meshgrid(np.linspace(-half, half, across), np.linspace(0, 1, up), indexing="ij")
    base = np.stack([x, -run * (1 - t), low + (ridge - low) * t], 2).reshape(-1, 3)
    cover = smoothstep(mottle(base, 2.0, rng) + 2.6 * snow - 0.4, 0.5, 1.3)
    rim = np.minimum(np.minimum((half - np.abs(x)) / 0.12, t * 8), (1 - t) * 12 + 0.6).ravel()
    thick = 0.13 * cover * (0.5 + 0.5 * snow) * np.clip(rim, 0, 1) + 0.014
    points = base + np.outer(thick + lap * 0.7, normal)
    i, j = (grid.ravel() for grid in np.meshgrid(np.arange(across - 1), np.arange(up - 1), indexing="ij"))
    a, b = i * up + j, (i + 1) * up + j
    faces = np.concatenate([np.stack([a, b, b + 1], 1), np.stack([a, b + 1, a + 1], 1)])
    kept = faces[(cover[faces] > 0.08).all(1)]
    return solids.coloured(solids.shaped(points, kept if len(kept) else faces[:1], crease=80.0), SNOW, LEAF)


def _ridge_and_chimney(
    site: _Site, along_x: bool, middle: float, side: float, ridge: float, pot: float, eaves: float, tint: Colour
) -> None:
    rng, house = site.rng, site.house
    half = house.width / 2 if along_x else house.depth / 2
    count = int(np.clip(round(2 * half / 0.5), 4, 30))
    stops = np.linspace(-half, half, count + 1)
    for a, b in pairwise(stops):
        roll = solids.extrude(
            np.array([(-0.13, -0.09), (0.13, -0.09), (0.06, 0.035), (-0.06, 0.035)]), 0.97 * (b - a), axis="x"
        )
        white = house.snow > 0.15 and rng.uniform() < house.snow + 0.2
        tile = solids.placed(
            solids.coloured(roll, SNOW if white else toned(tint, rng, 0.12)), ((a + b) / 2, 0, ridge - 0.035)
        )
        site.parts.append(solids.placed(tile, (0, middle, 0)) if along_x else solids.placed(tile, (0, 0, 0), turn=90))
    if not pot:
        return
    at = 0.62 * side * (1 if rng.uniform() < 0.5 else -1)
    x, y = (at, middle) if along_x else (0.0, middle + 0.3 * half)
    wide, foot = min(0.35, 0.2 * side), ridge - 0.45 * (ridge - eaves)
    stack_top = house.height - 0.14
    red: Colour = (0.22, 0.09, 0.06)
    site.parts.append(_box(site, x - wide, x + wide, y - 0.24, y + 0.24, foot, stack_top - 0.06, toned(red, rng, 0.1)))
    site.parts.append(
        _box(
            site,
            x - wide - 0.05,
            x + wide + 0.05,
            y - 0.29,
            y + 0.29,
            stack_top - 0.06,
            stack_top,
            toned(STONE, rng, 0.1),
        )
    )
    for offset in (-0.5 * wide, 0.5 * wide):
        tube = solids.revolve(
            [(0.09, stack_top), (0.075, house.height), (0.05, house.height), (0.05, stack_top + 0.02)], 8
        )
        site.parts.append(solids.placed(solids.coloured(tube, (0.30, 0.13, 0.08), MATT), (x + offset, y, 0)))
