"""Shop fronts: display windows with goods, a door between them, an awning."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from previz.stage.pieces.buildings.parts import add_ledge, box_at, faces_of, framed, recess, rectangles
from previz.stage.pieces.buildings.site import DOORS, STONE, Rect, Site
from previz.stage.shapes import solids
from previz.stage.shapes.finish import DARK, GLASS, LEAF, MATT, PAINT, Colour, sheet, toned


def shop_front(site: Site, width: float, top: float, y: float, setback: float, unit: float) -> None:
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
        add_ledge(site, (x0, x1), (y - 0.05, y + 0.15), (0.0, fascia), toned(paint, rng, 0.05), PAINT)
        if k == len(posts) - 1:
            continue
        bay = (x + half if k else x1, posts[k + 1] - half, 0.0, fascia)
        if k == 1:  # the door is in the second bay, the last of a narrow front
            _shop_door(site, bay, y + 0.35 * unit, y, paint, lit)
        else:
            _display(site, (bay[0], bay[1], riser, fascia), y, unit, paint, lit)
    add_ledge(
        site, (-width / 2, width / 2), (y - 0.10, y + 0.1), (fascia, top - 0.08 * unit), toned(paint, rng, 0.04), PAINT
    )
    panel = rectangles(
        [(-0.42 * width, 0.42 * width, fascia + 0.14 * unit, top - 0.24 * unit)], y - 0.104, (0.52, 0.48, 0.38), PAINT
    )
    site.parts.append(panel)
    add_ledge(site, (-width / 2, width / 2), (y - 0.20, y + 0.1), (top - 0.08 * unit, top), toned(STONE, rng, 0.04))
    if setback > 0.3:
        _awning(site, 0.90 * width, y, -house.depth / 2, fascia - 0.02 * unit, unit)


def _display(site: Site, rect: Rect, y: float, unit: float, paint: Colour, lit: bool) -> None:
    a, b, c, _ = rect
    rng = site.rng
    add_ledge(site, (a, b), (y, y + 0.12), (0.0, c), toned(paint, rng, 0.05), PAINT)
    add_ledge(site, (a, b), (y - 0.06, y + 0.10), (c - 0.06 * unit, c), toned(STONE, rng, 0.04))
    posts = tuple(np.linspace(0, 1, max(2, round((b - a) / (1.5 * unit))) + 1)[1:-1].tolist())
    site.parts += framed(rect, y + 0.06, 0.06 * unit, 0.06, posts, (0.78,), paint)
    if not lit:
        site.rooms.append(rectangles([rect], y + 0.12, (0.020, 0.023, 0.027), GLASS))
    _goods(site, rect, y + 0.12, 1.1 * unit, lit)


def _goods(site: Site, rect: Rect, y: float, deep: float, lit: bool) -> None:
    """The inside of a display window: bright ceiling, back wall with shelves, boxes and bottles on them."""
    if not lit:
        return
    a, b, c, _ = rect
    rng, high = site.rng, rect[3] - rect[2]
    site.rooms.append(rectangles([rect], y + deep, DARK, site.glow(1)))
    shell = recess(rect, y, deep, DARK)
    for quads, number in (((0, 1), 1), ((2,), 2), ((3,), 0)):
        site.rooms.append(replace(shell, faces=shell.faces[faces_of(4, quads)], material=site.glow(number)))
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
            site.rooms.append(rectangles(rects, y + (0.55 + 0.08 * number) * deep, DARK, site.glow(number)))
    at = a + rng.uniform(0.1, 0.4)
    while at < b - 0.3:  # things in the window itself, against the light
        wide, tall = rng.uniform(0.08, 0.28), rng.uniform(0.08, 0.34) * high
        thing = rectangles([(at, at + wide, c, c + tall)], y + rng.uniform(0.15, 0.35) * deep, (0.25, 0.10, 0.06))
        tone = np.exp(rng.normal(0, 0.6, 3))
        own = site.glow(3) if rng.uniform() < 0.5 else MATT
        site.rooms.append(replace(thing, colours=np.clip(thing.colours * tone, 0, 1), material=own))
        at += wide + rng.uniform(0.1, 0.7)


def _shop_door(site: Site, bay: Rect, y: float, front: float, paint: Colour, lit: bool) -> None:
    a, b, _, d = bay
    site.parts.append(recess((a, b, 0.0, d), front, y - front, toned(paint, site.rng, 0.05), PAINT))
    pane = (a + 0.12, b - 0.12, 0.5, d - 0.5)
    site.parts += framed((a, b, 0.0, d), y - 0.05, 0.12, 0.05, (), (), paint)
    site.parts.append(rectangles([(a, b, 0.0, 0.5)], y, paint, PAINT))
    site.rooms.append(rectangles([(a, b, 0.5, d)], y, (0.02, 0.023, 0.027), site.glow(1) if lit else GLASS))
    if lit:
        low, middle = pane[2], (pane[0] + pane[1]) / 2
        rects: list[Rect] = [(pane[0], middle, low, low + 0.5), (middle, pane[1], low, low + 0.3)]
        site.rooms.append(rectangles(rects, y - 0.004, DARK, site.glow(2)))
    plate = box_at(site, (a + 0.3 * (b - a), b - 0.3 * (b - a)), (y - 0.02, y), (1.5, 1.75), (0.5, 0.48, 0.42))
    site.parts.append(plate)


def _awning(site: Site, width: float, y: float, reach: float, z: float, unit: float) -> None:
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
