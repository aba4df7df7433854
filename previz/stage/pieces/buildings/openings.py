"""Windows and doors.

A lit window is a small room behind its opening: walls, ceiling, curtains and furniture send out light of a few steps
(few materials, for each is a draw call), so it has depth and is never a flat rectangle.
"""

import itertools
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.stage.pieces.buildings.parts import add_ledge, faces_of, framed, recess, rectangles
from previz.stage.pieces.buildings.site import DOORS, STONE, Rect, Site, darker
from previz.stage.pieces.street import snow_bank
from previz.stage.shapes import solids
from previz.stage.shapes.finish import DARK, GLASS, PAINT, Colour, sheet, toned


def lit_windows(count: int, share: float, rng: np.random.Generator) -> NDArray[np.bool_]:
    """Which of `count` windows have a light on: the nearest whole number to the share, at random places.

    >>> int(lit_windows(12, 0.25, np.random.default_rng(1)).sum())
    3
    """
    lit = np.zeros(count, dtype=bool)
    lit[rng.permutation(count)[: round(share * count)]] = True
    return lit


def front_window(site: Site, rect: Rect, y: float, on: bool, unit: float, rich: bool) -> None:
    """Reveal, sash frame, sill, lintel, and behind the glass a lit room or the dark with curtains."""
    a, b, c, d = rect
    house, rng, deep = site.house, site.rng, 0.16 * unit
    ledge = STONE if site.walls == "brick" else toned((0.46, 0.44, 0.40), rng, 0.03)
    site.parts.append(recess(rect, y, deep, darker(house.colour, 0.9)))
    level = (0.5,) if rich else ()
    site.parts += framed(rect, y + deep - 0.05 * unit, 0.065 * unit, 0.05 * unit, (0.5,), level, site.frame)
    out = 0.09 * unit
    add_ledge(site, (a - out, b + out), (y - out, y + 0.02), (c - 0.09 * unit, c), toned(ledge, rng, 0.05))
    add_ledge(site, (a - out, b + out), (y - 0.03 * unit, y + 0.02), (d, d + 0.19 * unit), toned(ledge, rng, 0.05))
    if house.snow > 0:
        bank = snow_bank(b - a + 1.6 * out, 0.95 * out, 0.10 * unit * house.snow, c, site.edge, rng)
        site.rooms.append(solids.placed(bank, ((a + b) / 2, y - 0.5 * out, 0)))
    if on:
        _room(site, rect, y + deep, unit, rich)
    else:
        _dark_window(site, rect, y + deep, rich)


def barn_door(site: Site, rect: Rect, y: float, unit: float) -> None:
    """Two leaves of upright boards, each held by three ledges and the braces between them."""
    a, b, c, d = rect
    wood = darker(site.house.colour, 0.6)
    site.parts.append(recess(rect, y, 0.08 * unit, darker(wood, 0.7)))
    site.parts.append(rectangles([rect], y + 0.08 * unit, darker(wood, 0.15)))  # seen between boards
    gap = 0.02 * unit
    middle = (a + b) / 2
    for hinge, edge in ((a + gap, middle - gap), (b - gap, middle + gap)):
        _braced_leaf(site, (hinge, edge), (c + gap, d - gap), y, unit, wood)


def _braced_leaf(
    site: Site, across: tuple[float, float], up: tuple[float, float], y: float, unit: float, wood: Colour
) -> None:
    """A leaf from its hinge to its free edge.

    No corner of a board lies under a ledge or brace: it would be in the dark, and a smudge on what is seen of it.
    """
    (hinge, edge), (low, high) = across, up
    wide, face, half = 0.14 * unit, y + 0.05 * unit, 0.08 * unit  # of a ledge; of the boards; of a brace, upwards
    ledges = [low + share * (high - low) for share in (0.08, 0.48, 0.88)]
    inside = [(z + wide, after) for z, after in itertools.pairwise(ledges)]
    cuts = np.linspace(hinge, edge, max(round(abs(edge - hinge) / (0.24 * unit)), 2) + 1)
    for x0, x1 in itertools.pairwise(np.sort(cuts)):
        ends = np.array([x0 + 0.012 * unit, x1 - 0.012 * unit])
        strips = [(np.full(2, low), np.full(2, ledges[0])), (np.full(2, ledges[-1] + wide), np.full(2, high))]
        for foot, head in inside:
            under, over = _brace(ends, across, (foot, head), half)
            strips += [(np.full(2, foot), under), (over, np.full(2, head))]
        quads = [
            [(ends[0], face, z0), (ends[1], face, z1), (ends[1], face, z3), (ends[0], face, z2)]
            for (z0, z1), (z2, z3) in strips
        ]
        site.parts.append(sheet(np.array(quads), toned(wood, site.rng, 0.12)))
    stout = toned(wood, site.rng, 0.06)
    for z in ledges:
        add_ledge(site, (min(across), max(across)), (y + 0.01 * unit, face + 0.01 * unit), (z, z + wide), stout)
    ends = np.sort(np.array(across))
    for span in inside:
        under, over = _brace(ends, across, span, half)
        x0, x1 = ends
        front = y + 0.015 * unit
        lower = [(x0, front, under[0]), (x1, front, under[1])]
        upper = [(x0, front, over[0]), (x1, front, over[1])]
        back = [[(x, face, z) for x, _, z in line] for line in (lower, upper)]
        quads = [[*lower, *upper[::-1]], [*back[0], *lower[::-1]], [*upper, *back[1][::-1]]]
        site.parts.append(sheet(np.array(quads), stout))


def _brace(
    x: NDArray[np.float64], across: tuple[float, float], up: tuple[float, float], half: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Heights of the lower and upper side of a brace at places along the leaf: it rises from the hinge."""
    share = (x - across[0]) / (across[1] - across[0])
    middle = up[0] + half + share * (up[1] - up[0] - 2 * half)
    return middle - half, middle + half


def _dark_window(site: Site, rect: Rect, y: float, rich: bool) -> None:
    """Dark glass; behind it, to be seen by daylight, curtains or a blind."""
    a, b, c, d = rect
    rng, wide, high = site.rng, rect[1] - rect[0], rect[3] - rect[2]
    site.rooms.append(rectangles([rect], y, toned((0.020, 0.023, 0.027), rng, 0.25), GLASS))
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
        site.rooms.append(rectangles(hangings, y - 0.004, cloth, GLASS))
    elif kind < 0.70:
        site.rooms.append(rectangles([(a, b, d - rng.uniform(0.2, 0.65) * high, d)], y - 0.004, cloth, GLASS))
    elif kind < 0.85 and rich:
        foot = c + rng.uniform(0.08, 0.2) * high  # plants and things on the sill
        at = a + rng.uniform(0.2, 0.7) * wide
        site.rooms.append(rectangles([(at, at + 0.16 * wide, c, foot)], y - 0.004, (0.10, 0.055, 0.03), GLASS))
        site.rooms.append(
            rectangles(
                [(at - 0.05 * wide, at + 0.21 * wide, foot, foot + 0.12 * high)], y - 0.004, (0.03, 0.05, 0.02), GLASS
            )
        )


def _room(site: Site, rect: Rect, y: float, unit: float, rich: bool) -> None:
    """A lit room behind an opening: back wall, bright ceiling, dim sides and floor, and what stands in it."""
    a, b, c, d = rect
    rng, wide, high, deep = site.rng, rect[1] - rect[0], rect[3] - rect[2], 0.75 * unit
    brightness = int(rng.choice([0, 0, 1]))  # some rooms are dimmer
    back = site.glow(min(1 + brightness, 3))
    site.rooms.append(rectangles([rect], y + deep, DARK, back))
    sides = recess(rect, y, deep, DARK, site.glow(min(2 + brightness, 3)))
    site.rooms.append(replace(sides, faces=sides.faces[faces_of(4, (0, 1))]))
    site.rooms.append(replace(sides, faces=sides.faces[faces_of(4, (2,))], material=site.glow(3)))
    site.rooms.append(replace(sides, faces=sides.faces[faces_of(4, (3,))], material=site.glow(brightness)))
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
        site.rooms.append(rectangles(bright + both[0], y + 0.03, DARK, cloth))
        site.rooms.append(rectangles(dim + both[1], y + 0.03, DARK, site.glow(3)))
    elif kind < 0.72:  # a blind, with a hem
        foot = d - rng.uniform(0.25, 0.7) * high
        site.rooms.append(rectangles([(a, b, foot, d)], y + 0.03, DARK, cloth))
        site.rooms.append(rectangles([(a, b, foot - 0.03 * unit, foot)], y + 0.028, (0.2, 0.19, 0.17)))
    elif kind < 0.85:  # a half curtain
        foot = c + 0.42 * high
        site.rooms.append(rectangles([(a, b, c, foot)], y + 0.03, DARK, cloth))


def _furniture(site: Site, rect: Rect, y: float, deep: float) -> None:
    """Silhouettes: a picture, a shelf or a cupboard, a lamp, sometimes somebody."""
    a, _, c, d = rect
    rng, wide, high = site.rng, rect[1] - rect[0], rect[3] - rect[2]
    dark = toned((0.10, 0.07, 0.05), rng, 0.3)

    def at(x0: float, x1: float, z0: float, z1: float) -> Rect:
        return (a + x0 * wide, a + x1 * wide, c + z0 * high, c + z1 * high)

    x = float(rng.uniform(0.05, 0.55))
    tall = float(rng.uniform(0.25, 0.7))
    site.rooms.append(rectangles([at(x, x + 0.36, 0.0, tall)], y + 0.8 * deep, dark, site.glow(3)))
    p = float(rng.uniform(0.1, 0.6))
    site.rooms.append(rectangles([at(p, p + 0.24, 0.55, 0.80)], y + 0.97 * deep, dark, site.glow(2)))
    site.rooms.append(rectangles([at(p + 0.03, p + 0.21, 0.59, 0.76)], y + 0.96 * deep, dark, site.glow(3)))
    if rng.uniform() < 0.6:
        s = float(rng.uniform(0.2, 0.7))
        shade = a + s * wide
        low, top, half = c + 0.74 * high, c + 0.86 * high, 0.11 * wide
        corners = [[(shade - half, y + 0.5 * deep, low), (shade + half, y + 0.5 * deep, low)]]
        corners[0] += [(shade + 0.5 * half, y + 0.5 * deep, top), (shade - 0.5 * half, y + 0.5 * deep, top)]
        site.rooms.append(sheet(np.array(corners), DARK, site.glow(0)))
        site.rooms.append(rectangles([(shade - 0.01 * wide, shade + 0.01 * wide, top, d)], y + 0.5 * deep, DARK))
    if rng.uniform() < 0.18:
        s = float(rng.uniform(0.25, 0.65))
        person = [
            at(s - 0.13, s + 0.13, 0.0, 0.42),
            at(s - 0.10, s + 0.10, 0.42, 0.46),
            at(s - 0.06, s + 0.06, 0.48, 0.62),
        ]
        site.rooms.append(rectangles(person, y + 0.4 * deep, dark))


def front_door(site: Site, rect: Rect, y: float, unit: float, lit: bool) -> None:
    """A panelled door in a recess with a light above it, a surround and a step."""
    a, b, c, d = rect
    rng, deep = site.rng, 0.22 * unit
    paint = DOORS[int(rng.integers(len(DOORS)))]
    head = d - 0.42 * unit
    site.parts.append(recess(rect, y, deep, toned(STONE, rng, 0.04)))
    leaf = (a, b, c, head)
    site.parts.append(rectangles([leaf], y + deep, paint, PAINT))
    wide = b - a
    for x0, x1 in ((0.12, 0.46), (0.54, 0.88)):
        for z0, z1 in ((0.08, 0.34), (0.42, 0.92)):
            add_ledge(
                site,
                (a + x0 * wide, a + x1 * wide),
                (y + deep - 0.03, y + deep + 0.01),
                (z0 * head, z1 * head),
                toned(paint, rng, 0.06),
                PAINT,
            )
    add_ledge(
        site,
        (b - 0.11 * wide, b - 0.06 * wide),
        (y + deep - 0.06, y + deep),
        (0.42 * head, 0.46 * head),
        (0.40, 0.28, 0.10),
        PAINT,
    )
    site.parts += framed((a, b, head, d), y + deep - 0.04, 0.05 * unit, 0.04, (0.33, 0.67), (), site.frame)
    above = site.glow(1) if lit else GLASS
    site.rooms.append(rectangles([(a, b, head, d)], y + deep, (0.02, 0.023, 0.027), above))
    jamb = 0.16 * unit
    for x0, x1 in ((a - jamb, a), (b, b + jamb)):
        add_ledge(site, (x0, x1), (y - 0.06 * unit, y + 0.02), (0.0, d), toned(STONE, rng, 0.04))
    add_ledge(
        site,
        (a - 1.4 * jamb, b + 1.4 * jamb),
        (y - 0.10 * unit, y + 0.02),
        (d, d + 0.22 * unit),
        toned(STONE, rng, 0.04),
    )
    add_ledge(site, (a - jamb, b + jamb), (y - 0.26 * unit, y + 0.02), (0.0, 0.13 * unit), toned(STONE, rng, 0.05))
