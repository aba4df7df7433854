"""Walls of brick, plaster or boards around their openings, with what trims them."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np

from previz.mesh import Array, Mesh
from previz.scene import FLOOR_HEIGHT
from previz.stage.pieces.buildings.parts import add_ledge, bar_sides, box_at, framed, recess, rectangles
from previz.stage.pieces.buildings.site import MOST_WINDOWS, RICH_FLOORS, STONE, House, Rect, Site, darker
from previz.stage.pieces.street import brick_size, bricks, snow_bank
from previz.stage.shapes import solids
from previz.stage.shapes.finish import GLASS, MATT, Colour, sheet, subdivided, toned

MORTAR: Colour = (0.30, 0.28, 0.25)

#: Of the back of a house of brick.
_RENDER: Colour = (0.33, 0.31, 0.28)

#: How long a piece of the joints' sheet is, in bricks: with longer ones lit hairs run between bricks into the shadow.
_JOINT = 1.3

#: How high and how long the boards of a wall are. Common practice, no source. [m]
_BOARD = (0.30, 2.0)


def wall_around(
    site: Site,
    width: float,
    high: float,
    openings: list[Rect],
    y: float,
    laid: tuple[float, float],
    relief: float,
    covered: list[Rect],
    longest: float = math.inf,
) -> None:
    """The surface around the openings: mortar and bricks, boards above each other, or plaster with a bare patch or two.

    laid: of `laid_in`. Bricks and boards stand out by `relief` [m]; none are laid where stone covers the wall, for half
    hidden ones would look black. longest: of a piece of the joints' sheet. [m]
    """
    house, rng = site.house, site.rng
    margins: list[Rect] = (
        [] if site.walls != "plaster" else [_around_trim(r, high / house.floors / FLOOR_HEIGHT) for r in openings]
    )
    x_cuts = _cuts([-width / 2, width / 2, *(x for r in [*openings, *margins] for x in r[:2])], width / 2)
    z_cuts = _cuts([0.0, high, *(z for r in [*openings, *margins] for z in r[2:])], high)
    if site.walls == "brick":
        x_cuts, z_cuts = _no_longer(x_cuts, longest), _no_longer(z_cuts, longest)
    cells = []
    for x0, x1 in pairwise(x_cuts):
        for z0, z1 in pairwise(z_cuts):
            middle = ((x0 + x1) / 2, (z0 + z1) / 2)
            if not any(r[0] < middle[0] < r[1] and r[2] < middle[1] < r[3] for r in openings):
                cells.append([(x0, y, z0), (x1, y, z0), (x1, y, z1), (x0, y, z1)])
    if site.walls != "plaster":
        site.parts.append(_sharing_corners(sheet(np.array(cells), _joint(site))))
        courses = bricks(width, high, openings + covered, *laid, relief, house.colour, rng)
        (site.parts if site.walls == "brick" else site.far).append(solids.placed(courses, (0, y, 0)))
        return
    site.parts.append(_sharing_corners(sheet(np.array(cells), house.colour)))
    for _ in range(int(rng.integers(1, 4))):
        site.parts += _bare_patch(width, high, openings, y, rng)


def laid_in(site: Site, wide: float, high: float) -> tuple[float, float]:
    """How high a course of walls is and how long a brick or board of them. [m]

    wide: of all walls that are laid in courses together.
    """
    if site.walls == "boards":
        return high / max(2, round(high / _BOARD[0])), _BOARD[1]
    return brick_size(high, wide, 0.09, most=2100)


def gable_wall(site: Site, wide: float, high: float, laid: tuple[float, float]) -> list[Mesh]:
    """The triangle of wall under a gable, on the xz plane facing −y, its foot from −wide/2 to wide/2 on z = 0."""
    points = np.array([(-wide / 2, 0.0, 0.0), (wide / 2, 0.0, 0.0), (0.0, 0.0, high)])
    colour = site.house.colour if site.walls == "plaster" else _joint(site)
    flat = Mesh(points, np.array([[0, 1, 2]]), np.tile((0.0, -1.0, 0.0), (3, 1)), np.tile(colour, (3, 1)))
    if site.walls == "plaster":
        return [flat]
    course, length = laid
    beside: list[Rect] = []
    for row in range(int(high / course)):
        half = wide / 2 * (1 - min((row + 1) * course / high, 1.0))
        span = (row * course, (row + 1) * course)
        beside += [(-wide / 2, -half, *span), (half, wide / 2, *span)]
    whole = int(high / course) * course
    laid_on = bricks(wide, whole, beside, course, length, 0.012, site.house.colour, site.rng)
    return [subdivided(flat, math.sqrt(2) * _JOINT * length), laid_on]


def _joint(site: Site) -> Colour:
    """What is seen between bricks or boards."""
    return MORTAR if site.walls == "brick" else darker(site.house.colour, 0.35)


def _sharing_corners(flat: Mesh) -> Mesh:
    """A flat sheet whose faces share their corners."""
    _, first, back = np.unique(np.round(flat.vertices, 6), axis=0, return_index=True, return_inverse=True)
    faces = back.reshape(-1)[flat.faces]
    return replace(
        flat, vertices=flat.vertices[first], normals=flat.normals[first], colours=flat.colours[first], faces=faces
    )


def covered_by_trim(
    site: Site, width: float, high: float, windows: list[Rect], storey: float, unit: float
) -> list[Rect]:
    """Where sills, lintels, string courses and corner stones lie on the wall."""
    out = 0.09 * unit
    covered: list[Rect] = [(a - out, b + out, c - out, c) for a, b, c, _ in windows]
    covered += [(a - out, b + out, d, d + 0.19 * unit) for a, b, _, d in windows]
    half = 0.06 * unit
    covered += [(-width / 2, width / 2, z - half, z + half) for z in _string_courses(site.house, storey)]
    if _has_corner_stones(site):
        covered += _quoin_rects(site.house, width, high, unit)
    return covered


def _has_corner_stones(site: Site) -> bool:
    return site.house.floors <= RICH_FLOORS and site.walls != "boards"


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


def _no_longer(cuts: Array, longest: float) -> Array:
    """The same, and evenly between them where they are further apart than that."""
    parts = [
        np.linspace(a, b, max(math.ceil((b - a) / longest), 1), endpoint=False) for a, b in pairwise(cuts.tolist())
    ]
    return np.concatenate([*parts, cuts[-1:]])


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


def trimmed(site: Site, width: float, high: float, y: float, setback: float, storey: float, unit: float) -> None:
    """Plinth, string courses, corner stones, a stepped cornice and a rain pipe."""
    house, rng = site.house, site.rng
    out = min(0.28 * unit, 0.9 * setback)
    pale = toned(
        STONE if site.walls == "brick" else house.colour if site.walls == "boards" else (0.48, 0.45, 0.40), rng, 0.04
    )
    if not house.shop:
        # Between the door's jambs the step covers the plinth.
        add_ledge(
            site, (-width / 2, width / 2), (y - 0.05 * unit, y + 0.05), (0.0, 0.12 * unit), toned(STONE, rng, 0.08)
        )
    for z in _string_courses(house, storey):
        band = (z - 0.07 * unit, z + 0.07 * unit)
        add_ledge(site, (-width / 2, width / 2), (y - 0.05 * unit, y + 0.02), band, pale)
    if _has_corner_stones(site):
        _quoins(site, width, high, y, unit, pale)
    for k, (drop, share) in enumerate(((0.40, 0.35), (0.26, 0.65), (0.12, 1.0))):
        top = high - (drop - 0.14) * unit if k < 2 else high
        add_ledge(
            site,
            (-width / 2, width / 2),
            (y - share * out, y + 0.05),
            (high - drop * unit, top),
            toned(pale, rng, 0.03),
        )
    if house.snow > 0 and not house.gable:
        bank = snow_bank(width, 0.8 * out, 0.12 * unit * house.snow, high, site.edge, rng)
        site.rooms.append(solids.placed(bank, (0, y - 0.55 * out, 0)))
    x = (width / 2 - 0.14 * unit) * (1 if rng.uniform() < 0.5 else -1)
    foot = 0.15 if not house.shop else storey
    pipe = solids.tube([(x, y - 0.10 * unit, z) for z in np.linspace(foot, high - 0.30 * unit, 5)], 0.05 * unit, 6)
    site.parts.append(solids.coloured(pipe, (0.09, 0.09, 0.09), MATT))


def _quoins(site: Site, width: float, high: float, y: float, unit: float, pale: Colour) -> None:
    gap = 0.012 * unit
    for a, b, low, top in _quoin_rects(site.house, width, high, unit):
        rect = (a, b, low + gap, top - gap)
        tint = toned(pale, site.rng, 0.07)
        site.parts.append(rectangles([rect], y - 0.03 * unit, tint))
        site.parts.append(sheet(np.array(bar_sides(rect, y - 0.03 * unit, 0.03 * unit)), tint))


def plain_walls(site: Site, side: float, high: float, front: float, back: float, laid: tuple[float, float]) -> None:
    """Sides, of what the front is of, and back, each with a few small dark windows.

    The back of a brick house is plastered: bricks that hardly any camera sees would be drawn in every frame.
    """
    house, rng = site.house, site.rng
    storey = high / house.floors
    middle = (front + back) / 2
    faces = [(back - front, side, middle, 90.0), (back - front, -side, middle, -90.0), (2 * side, 0.0, back, 180.0)]
    for width, x, y, turn in faces:
        walls, colour = site.walls, house.colour
        if turn == 180 and walls == "brick":
            walls, colour = "plaster", _RENDER
        openings: list[Rect] = []
        bays = max(1, min(int(width / (3.4 * storey / FLOOR_HEIGHT)), MOST_WINDOWS // house.floors))
        for floor in range(house.floors):
            for bay in range(bays):
                at = -width / 2 + (bay + 0.5) * width / bays
                if house.windows and width > 1.5 and rng.uniform() < 0.6:
                    half = min(0.42 * storey / FLOOR_HEIGHT, 0.3 * width)
                    sill, head = (site.snapped((floor + share) * storey, laid[0]) for share in (0.32, 0.70))
                    openings.append((at - half, at + half, sill, head))
        other = Site(replace(house, colour=colour, snow=0.0), rng, site.frame, walls, site.edge)
        wall_around(other, width, high, openings, 0.0, laid, 0.01, [], _JOINT * laid[1])
        for rect in openings:
            other.parts.append(recess(rect, 0.0, 0.12, darker(colour, 0.8)))
            other.parts += framed(rect, 0.08, 0.06, 0.04, (0.5,), (), site.frame)
            other.parts.append(
                box_at(site, (rect[0] - 0.06, rect[1] + 0.06), (-0.06, 0.02), (rect[2] - 0.07, rect[2]), STONE)
            )
            other.rooms.append(rectangles([rect], 0.12, toned((0.020, 0.023, 0.027), rng, 0.25), GLASS))
        site.far += [solids.placed(part, (x, y, 0), turn=turn) for part in (*other.parts, *other.far)]
        site.rooms += [solids.placed(part, (x, y, 0), turn=turn) for part in other.rooms]
