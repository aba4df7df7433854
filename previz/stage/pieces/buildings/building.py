"""A building as a whole: a detailed front, plainer sides, its roof, then its weather."""

from dataclasses import replace
from functools import partial

import numpy as np

from previz.layout import ROOF_PITCH
from previz.mesh import Mesh, merged
from previz.physics.smooth import smoothstep
from previz.scene import FLOOR_HEIGHT
from previz.stage.pieces.buildings.openings import barn_door, front_door, front_window, lit_windows
from previz.stage.pieces.buildings.roofs import flat_roof, gable_roof
from previz.stage.pieces.buildings.shop import shop_front
from previz.stage.pieces.buildings.site import FRAMES, MOST_WINDOWS, RICH_FLOORS, House, Rect, Site
from previz.stage.pieces.buildings.walls import covered_by_trim, laid_in, plain_walls, trimmed, wall_around
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LONGEST_EDGE, blended, fitted, mottle, subdivided, weathered

MOST_CUTS = 50  # along the longest side: a building of metres on the table is cut no finer


def building(house: House, scale: float, rng: np.random.Generator) -> tuple[Mesh, ...]:
    """A building standing on z = 0, its front towards −y, within exactly its width, depth and height over `scale`.

    Its end walls and gables are of what the front is of; plaster has a few bricks showing.
    """
    red, _, blue = house.colour
    walls = house.walls or ("brick" if red > 1.6 * blue else "plaster")
    edge = max(1.1 * LONGEST_EDGE * scale, max(house.width, house.height) / MOST_CUTS)
    site = Site(house, rng, FRAMES[int(rng.integers(len(FRAMES)))], walls, edge)
    if house.floors > RICH_FLOORS:
        site.edge *= 2
    setback = min(1.0 if house.shop else 0.32, 0.22 * house.depth)
    front, back = -house.depth / 2 + setback, house.depth / 2 - min(0.12, 0.05 * house.depth)
    side = house.width / 2 - min(0.10, 0.02 * house.width)
    eaves = eaves_height(house)
    laid = laid_in(site, 2 * side + 2 * (back - front), eaves)
    _front(site, 2 * side, eaves, front, setback, laid)
    plain_walls(site, side, eaves, front, back, laid)
    if house.gable:
        gable_roof(site, side, eaves, front, back, laid)
    else:
        flat_roof(site, side, eaves, front, back)
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


def _stained(mesh: Mesh, site: Site) -> Mesh:
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


def _front(site: Site, width: float, high: float, y: float, setback: float, laid: tuple[float, float]) -> None:
    house, rng = site.house, site.rng
    storey = high / house.floors
    unit = storey / FLOOR_HEIGHT
    bays = 1 if site.is_barn else max(1, min(round(width / (2.7 * unit)), MOST_WINDOWS // house.floors))
    pitch = width / bays
    wide, tall = min(1.15 * unit, 0.55 * pitch), 1.62 * unit
    snapped = partial(site.snapped, course=laid[0])
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
                half = min(1.5 * unit, 0.45 * pitch) if site.is_barn else 0.52 * unit
                door = (x - half, x + half, 0.0, snapped(2.55 * unit))
            elif house.windows:
                windows.append((x - wide / 2, x + wide / 2, sill, head))
    lit = lit_windows(len(windows), house.lit, rng)
    if house.shop:
        openings.append((-width / 2, width / 2, 0.0, snapped(storey * 0.98)))
    openings += windows + ([door] if door else [])
    wall_around(site, width, high, openings, y, laid, 0.012, covered_by_trim(site, width, high, windows, storey, unit))
    rich = house.floors <= RICH_FLOORS
    for rect, on in zip(windows, lit, strict=True):
        front_window(site, rect, y, bool(on), unit, rich)
    if door and site.is_barn:
        barn_door(site, door, y, unit)
    elif door:
        front_door(site, door, y, unit, house.lit > 0 and rng.uniform() < 0.7)
    if house.shop:
        shop_front(site, width, openings[0][3], y, setback, unit)
    trimmed(site, width, high, y, setback, storey, unit)
