"""Roofs: flat behind a parapet, or two tiled slopes; with chimneys, and snow on them."""

from dataclasses import replace
from itertools import pairwise

import numpy as np

from previz.mesh import Array, Mesh
from previz.physics.smooth import smoothstep
from previz.stage.pieces.buildings.parts import box_at
from previz.stage.pieces.buildings.site import STONE, Rect, Site, darker
from previz.stage.pieces.buildings.walls import gable_wall
from previz.stage.pieces.street import snow_bank
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LEAF, MATT, SNOW, Colour, blended, mottle, sheet, subdivided, toned

SLATE: Colour = (0.060, 0.062, 0.070)
TILE: Colour = (0.20, 0.075, 0.045)


def flat_roof(site: Site, side: float, eaves: float, front: float, back: float) -> None:
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
        site.far.append(box_at(site, (x0, x1), (y0, y1), (eaves - 0.02, wall_top), tint))
    lips = [(-x, x, front - 0.06, front + rim + 0.04), (-x, x, back - rim - 0.04, depth)]
    lips += [(-x, -side + rim + 0.04, front, back), (side - rim - 0.04, x, front, back)]
    for x0, x1, y0, y1 in lips:
        site.far.append(box_at(site, (x0, x1), (y0, y1), (wall_top, wall_top + coping), toned(STONE, rng, 0.06)))
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
            box_at(
                site,
                (-0.5 * side, -0.5 * side + 0.9),
                (back - 1.6, back - 0.8),
                (eaves, wall_top),
                toned((0.25, 0.25, 0.24), rng, 0.1),
            )
        )
        site.far.append(
            box_at(
                site,
                (0.4 * side, 0.4 * side + 0.5),
                (front + 1.2, front + 1.7),
                (eaves, wall_top - 0.1),
                toned((0.33, 0.33, 0.32), rng, 0.1),
            )
        )


def _bank_on(site: Site, ledge: Rect, z: float, deep: float) -> None:
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


def gable_roof(site: Site, side: float, eaves: float, front: float, back: float, laid: tuple[float, float]) -> None:
    """Two slopes of tiles in overlapping courses, gable walls, a ridge and a chimney.

    The ridge runs along the longer side of the plan.
    """
    house, rng = site.house, site.rng
    along_x = house.width >= house.depth
    half_x, half_y = house.width / 2, house.depth / 2
    pot = 0.25 if house.height - eaves > 0.6 and not site.is_barn else 0.0
    ridge = house.height - pot
    tint = TILE if rng.uniform() < 0.55 else SLATE
    if along_x:
        middle, overhang = (front + back) / 2, min(0.25, half_y + front)
        low_y = (front - overhang, back + min(0.12, half_y - back))
        slopes = [(half_x, low_y[0], middle, 0.0), (half_x, low_y[1], middle, 180.0)]
        ends = [((x, middle, eaves), turn) for x, turn in ((-side, -90.0), (side, 90.0))]
    else:
        slopes = [(half_y, -half_x, 0.0, -90.0), (half_y, half_x, 0.0, 90.0)]
        ends = [((0.0, y, eaves), turn) for y, turn in ((front, 0.0), (back, 180.0))]
    for foot, turn in ends:
        gable = gable_wall(site, back - front if along_x else 2 * side, ridge - 0.1 - eaves, laid)
        site.far += [solids.placed(part, foot, turn=turn) for part in gable]
    for half, low, high, turn in slopes:
        _tiles(site, half, abs(high - low), eaves - 0.05, ridge, high if along_x else 0.0, turn, tint)
    _ridge_and_chimney(site, along_x, (front + back) / 2 if along_x else 0.0, side, ridge, pot, eaves, tint)


def _tiles(
    site: Site, half: float, run: float, low: float, ridge: float, middle: float, turn: float, tint: Colour
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
    # One-sided, though the gaps at the verge are seen from below: tiles that face two ways, with butts across between
    # them, are lit as leaves are, by one look for several of them, and were dark in blotches.
    tiles = sheet(np.array(quads), tint)
    tone = np.exp(rng.normal(0, 0.14, (len(quads), 1))).repeat(4, axis=0)
    tiles = replace(tiles, colours=np.clip(tiles.colours * tone, 0, 1))
    butt = sheet(np.array(butts), darker(tint, 0.6))
    under = sheet(
        np.array([[(half, -run, low), (-half, -run, low), (-half, 0, ridge), (half, 0, ridge)]]), (0.1, 0.08, 0.06)
    )
    for part in (tiles, butt, replace(under, material=LEAF)):
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
    faces = solids.grid_faces(across, up)
    kept = faces[(cover[faces] > 0.08).all(1)]
    return solids.coloured(solids.shaped(points, kept if len(kept) else faces[:1], crease=80.0), SNOW, LEAF)


def _ridge_and_chimney(
    site: Site, along_x: bool, middle: float, side: float, ridge: float, pot: float, eaves: float, tint: Colour
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
    site.parts.append(
        box_at(site, (x - wide, x + wide), (y - 0.24, y + 0.24), (foot, stack_top - 0.06), toned(red, rng, 0.1))
    )
    site.parts.append(
        box_at(
            site,
            (x - wide - 0.05, x + wide + 0.05),
            (y - 0.29, y + 0.29),
            (stack_top - 0.06, stack_top),
            toned(STONE, rng, 0.1),
        )
    )
    for offset in (-0.5 * wide, 0.5 * wide):
        tube = solids.revolve(
            [(0.09, stack_top), (0.075, house.height), (0.05, house.height), (0.05, stack_top + 0.02)], 8
        )
        site.parts.append(solids.placed(solids.coloured(tube, (0.30, 0.13, 0.08), MATT), (x + offset, y, 0)))
