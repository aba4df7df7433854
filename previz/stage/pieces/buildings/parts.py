"""The simple parts of a front: boxes, ledges, flat rectangles, recesses and frames."""

import numpy as np

from previz.mesh import Material, Mesh
from previz.stage.pieces.buildings.site import Rect, Site
from previz.stage.shapes import solids
from previz.stage.shapes.finish import MATT, Colour, sheet

Span = tuple[float, float]  # from where to where [m]


def box_at(site: Site, x: Span, y: Span, z: Span, colour: Colour) -> Mesh:
    """A box from where to where along each axis. [m]"""
    (x0, x1), (y0, y1), (z0, z1) = x, y, z
    # A little finer than asked for, so that a narrow one's diagonals are short enough too.
    block = solids.slab((x1 - x0, y1 - y0, z1 - z0), 0.95 * site.edge)
    return solids.placed(solids.coloured(block, colour), ((x0 + x1) / 2, (y0 + y1) / 2, (z0 + z1) / 2))


def add_ledge(site: Site, x: Span, y: Span, z: Span, colour: Colour, material: Material = MATT) -> None:
    """A box against the wall: without the face that is in the wall."""
    whole = box_at(site, x, y, z, colour)
    seen = ~(whole.normals[whole.faces][:, 0, 1] > 0.9)
    used, back = np.unique(whole.faces[seen], return_inverse=True)
    vertices, normals, colours = whole.vertices[used], whole.normals[used], whole.colours[used]
    site.parts.append(Mesh(vertices, back.reshape(-1, 3), normals, colours, material))


def rectangles(rects: list[Rect], y: float, colour: Colour, material: Material = MATT) -> Mesh:
    """Flat rectangles in the plane y, facing −y."""
    corners = [[(a, y, c), (b, y, c), (b, y, d), (a, y, d)] for a, b, c, d in rects]
    return sheet(np.array(corners), colour, material)


def recess(rect: Rect, y: float, deep: float, colour: Colour, material: Material = MATT) -> Mesh:
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


def framed(
    rect: Rect, y: float, thick: float, deep: float, across: tuple[float, ...], up: tuple[float, ...], colour: Colour
) -> list[Mesh]:
    """A frame around the rectangle with bars at shares `across` its width and `up` its height, front faces at y."""
    a, b, c, d = rect
    strips: list[Rect] = [(a, a + thick, c, d), (b - thick, b, c, d), (a, b, c, c + thick), (a, b, d - thick, d)]
    thin = 0.55 * thick
    strips += [(a + t * (b - a) - thin / 2, a + t * (b - a) + thin / 2, c, d) for t in across]
    strips += [(a, b, c + t * (d - c) - thin / 2, c + t * (d - c) + thin / 2) for t in up]
    sides = [np.asarray(bar_sides(strip, y, deep)) for strip in strips]
    return [rectangles(strips, y, colour), sheet(np.concatenate(sides), colour)]


def bar_sides(rect: Rect, y: float, deep: float) -> list[list[tuple[float, float, float]]]:
    """The left, right and top sides of a bar that stands out from y + deep to y."""
    a, b, c, d = rect
    e = y + deep
    return [
        [(a, e, c), (a, y, c), (a, y, d), (a, e, d)],
        [(b, y, c), (b, e, c), (b, e, d), (b, y, d)],
        [(a, y, d), (b, y, d), (b, e, d), (a, e, d)],
    ]


def faces_of(count: int, wanted: tuple[int, ...]) -> list[int]:
    """Rows of the faces of a `sheet` of `count` quads that make up the wanted ones."""
    return [k + half for k in wanted for half in (0, count)]
