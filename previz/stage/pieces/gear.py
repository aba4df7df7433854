"""What lights the set, as triangles: bounce cards and flags, lamp housings, stands and arms."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from previz.layout import BOARD, Part, card_foot, card_frame, gear_of, light_cards
from previz.light import gives_back
from previz.mesh import Mesh, joined
from previz.scene import BounceCard, FlagCard, Scene
from previz.stage.shapes import solids
from previz.stage.shapes.finish import LONGEST_EDGE, MATT, glowing

#: Of what stands is cut into pieces so long: nobody looks at it for its light. [m]
_CELL = 0.08

#: A lit side lies so far before its housing. [m]
_PROUD = 8e-4


def light_card(spec: BounceCard | FlagCard) -> tuple[Mesh, ...]:
    """A bounce card or flag in its own frame: both its faces, then its edges."""
    board = solids.slab((spec.width, spec.height, BOARD), 0.7 * LONGEST_EDGE)
    board = solids.coloured(board, spec.colour, MATT)
    frame = card_frame(spec)
    middle = card_foot(spec) + frame[1] * spec.height / 2 - frame[2] * BOARD / 2
    on_face = np.abs(board.normals[board.faces[:, 0], 2]) > 0.5
    return tuple(_only(board, some).moved(frame.T, middle) for some in (on_face, ~on_face))


def _only(mesh: Mesh, some: NDArray[np.bool_]) -> Mesh:
    """Some of its triangles, with the corners that they use."""
    used, faces = np.unique(mesh.faces[some], return_inverse=True)
    return Mesh(mesh.vertices[used], faces.reshape(-1, 3), mesh.normals[used], mesh.colours[used], mesh.material)


def put_up(scene: Scene) -> tuple[tuple[Mesh, ...], tuple[Mesh, ...]]:
    """All bounce cards and flags where they are: the faces that give light back, and all else of them."""
    giving: list[Mesh] = []
    rest: list[Mesh] = []
    for card in light_cards(scene):
        faces, edges = (mesh.moved(card.turn, np.array(card.solid.at)) for mesh in light_card(card.spec))
        (giving if gives_back(card) else rest).append(faces)
        rest.append(edges)
    return (joined(giving),) if giving else (), (joined(rest),) if rest else ()


def build_gear(scene: Scene) -> tuple[Mesh, ...]:
    """Bodies and stands of lamps and cards, in few meshes: all that is dull in one, and each lit side."""
    dull: list[Mesh] = []
    lit: list[Mesh] = []
    for each in gear_of(scene):
        for part in each.parts:
            if part.what == "glass" and part.face is not None:
                lit.append(_glass(part, part.face))
                continue
            dull.append(_part(part))
            if part.face is not None and any(part.face):
                lit.append(_lit_side(part, part.face))
    return (*((joined(dull),) if dull else ()), *lit)


def _part(part: Part) -> Mesh:
    sizes = 2 * np.linalg.norm(part.half, axis=1)
    if part.round:
        mesh = solids.cylinder(float(sizes[0]) / 2, float(sizes[2]), segments=_sides(float(sizes[0])))
    else:
        width, height, depth = (float(size) for size in sizes)
        mesh = solids.slab((width, height, depth), _CELL)
    return _along(solids.coloured(mesh, part.colour, MATT), part)


def _glass(part: Part, radiance: tuple[float, float, float]) -> Mesh:
    radius = float(np.linalg.norm(part.half[0]))
    x, y, z = (float(axis) for axis in part.centre)
    material = replace(glowing(radiance, 1.0), globe=(x, y, z, radius))
    return _along(solids.coloured(solids.ball(radius), (0.0, 0.0, 0.0), material), part)


def _sides(width: float) -> int:
    return 12 if width < 0.04 else 32


def _lit_side(part: Part, radiance: tuple[float, float, float]) -> Mesh:
    """A thin sheet before the third face of a part: all of it, within its rim."""
    across, up, out = (2 * float(size) for size in np.linalg.norm(part.half, axis=1))
    material = glowing(radiance, 1.0)
    rim = part.rim
    if part.round:
        turn = np.arange(32) * np.pi / 16
        ring = (across / 2 - rim) * np.column_stack([np.cos(turn), np.sin(turn)])
        flat = np.concatenate([[[0.0, 0.0]], ring])
        faces = np.array([[0, k + 1, (k + 1) % 32 + 1] for k in range(32)])
    else:
        x, y = across / 2 - rim, up / 2 - rim
        flat = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
        faces = np.array([[0, 1, 2], [0, 2, 3]])
    points = np.column_stack([flat, np.full(len(flat), out / 2 + _PROUD)])
    normals = np.tile([0.0, 0.0, 1.0], (len(points), 1))
    sheet = Mesh(points, faces, normals, np.zeros((len(points), 3)), material)
    return _along(sheet, part)


def _along(mesh: Mesh, part: Part) -> Mesh:
    axes = part.half / np.linalg.norm(part.half, axis=1, keepdims=True)
    return mesh.moved(axes.T, part.centre)
