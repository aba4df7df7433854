"""Signs' faces, cut-out cards and house fronts at life size and in colour, laid on pages to be cut out."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from previz.errors import FileFault, PrevizError
from previz.files import load_image
from previz.layout import pieces_of
from previz.paper.contours import covered
from previz.paper.letters import width_of
from previz.paper.packing import Blank, laid_on_sheets
from previz.paper.papers import Paper
from previz.paper.plan.labels import Label
from previz.paper.prints.pages import foot, ruler_for
from previz.paper.prints.parts import Part, ink_of
from previz.paper.prints.tiles import FOOT
from previz.paper.sheet import BLACK, GREY, MARGIN, SMALL, THIN, Box, Picture, Sheet, View
from previz.scene import Building, Card, Scene, Sign
from previz.stage import front_of, sign_face
from previz.units import Tape

Array = NDArray[np.float64]

_NAME = 5.0  # room for a name under a card [mm]
_ROUND = 2.0  # free round each, on every side [mm]


@dataclass(frozen=True, eq=False)
class CutOut:
    """One card: its name, what it is, its width and height [m], and what draws it with its lower left corner at 0."""

    name: str
    part_of: str
    width: float
    height: float
    draw: Callable[[View], None]


def cut_outs(scene: Scene) -> list[CutOut]:
    """Every cut-out card and sign's face that stands on the table, each copy. Raises FileFault for a bad image."""
    return list(_cut_outs(scene))


def house_fronts(scene: Scene) -> list[CutOut]:
    """The front of every building that stands on the table, each copy, to be glued on a block of its size."""
    found: list[CutOut] = []
    drawn: dict[bytes, Callable[[View], None]] = {}
    for solid in pieces_of(scene):
        piece = scene.dressing[solid.entry]
        if not isinstance(piece, Building):
            continue
        wide, _, high = solid.size
        front = front_of(scene, solid)
        key = front.tobytes()
        drawn.setdefault(key, _card(wide, high, "", front))
        found.append(CutOut(solid.name, piece.id, wide, high, drawn[key]))
    return found


def _cut_outs(scene: Scene) -> Iterator[CutOut]:
    for solid in pieces_of(scene):
        piece = scene.dressing[solid.entry]
        if isinstance(piece, Card):
            image = _image(scene, solid.entry, piece)
            wide, high = float(piece.width), float(piece.height)
            yield CutOut(solid.name, piece.id, wide, high, _card(wide, high, ink_of(piece.colour), image))
        elif isinstance(piece, Sign):
            face = sign_face(solid.size[2], piece.shape, piece.colour)
            wide, high = np.ptp(face.outline, axis=0).tolist()
            corner = face.outline.min(axis=0)
            outlines = face.outline - corner, face.inner - corner
            yield CutOut(solid.name, piece.id, wide, high, _sign(*outlines, ink_of(face.border), ink_of(face.face)))


def _image(scene: Scene, number: int, card: Card) -> NDArray[np.uint8] | None:
    """What is printed on a card; None where it has one colour."""
    if card.image is None:
        return None
    try:
        return load_image(scene.folder / card.image)
    except PrevizError as error:
        raise FileFault(("dressing", number, "image"), str(error)) from None


def _sign(outline: Array, inner: Array, border: str, face: str) -> Callable[[View], None]:
    def draw(view: View) -> None:
        view.area(outline, border)
        view.area(inner, face)
        view.line(outline, THIN, closed=True)

    return draw


def _card(wide: float, high: float, ink: str, image: NDArray[np.uint8] | None) -> Callable[[View], None]:
    edge = [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]
    clear = image is not None and image.shape[2] == 4
    outline = covered(image[..., 3], wide, high, 127.5) if image is not None and clear else None

    def draw(view: View) -> None:
        if image is None:
            view.area(edge, ink)
        else:
            _pixels(view, image, wide, high)
        if outline is not None:
            for part in shapely.get_parts(shapely.boundary(outline)):
                view.line(shapely.get_coordinates(part), THIN)
        view.line(edge, THIN, ink=BLACK if outline is None else GREY, closed=True)

    return draw


def _pixels(view: View, image: NDArray[np.uint8], wide: float, high: float) -> None:
    """An image stretched over a card, as much of it as lies in a view, on white where it is clear."""
    rows, columns = image.shape[:2]
    left, low, right, high_in = shapely.bounds(view.seen)
    (x0, y0), (x1, y1) = view.placed([(0.0, 0.0), (wide, high)])
    across, down = (x1 - x0) / columns, (y1 - y0) / rows
    first, last = (int(np.clip(round((edge - x0) / across), 0, columns)) for edge in (left, right))
    top, bottom = (int(np.clip(round((y1 - edge) / down), 0, rows)) for edge in (high_in, low))
    part = image[top:bottom, first:last].astype(float)
    if not part.size:
        return
    if part.shape[2] == 4:
        solid = part[..., 3:] / 255
        part = part[..., :3] * solid + 255 * (1 - solid)
    box = Box(x0 + first * across, y1 - bottom * down, x0 + last * across, y1 - top * down)
    view.marks.append(Picture(np.rint(part[..., :3]).astype(np.uint8), box))


def cut_out_sheets(cards: list[CutOut], paper: Paper, name: str, tape: Tape) -> tuple[list[Sheet], list[Part]]:
    """Pages of what fits a page, upright or lying, and a part for each card that is larger; name is the pages'."""
    small: list[CutOut] = []
    large: list[CutOut] = []
    for each in cards:
        fits = any(_room(each, *size) for size in ((paper.short, paper.long), (paper.long, paper.short)))
        (small if fits else large).append(each)
    return _packed(small, paper, name, tape), [_part(each, name) for each in large]


def _room(each: CutOut, width: float, height: float) -> bool:
    wide, high = _box_size(each)
    return wide <= width - 2 * MARGIN and high <= height - 2 * MARGIN - FOOT


def _box_size(each: CutOut) -> tuple[float, float]:
    """With its name and what is free round it. [mm]"""
    return max(each.width * 1000, width_of(each.name, SMALL)) + 2 * _ROUND, each.height * 1000 + _NAME + 2 * _ROUND


def _packed(cards: list[CutOut], paper: Paper, name: str, tape: Tape) -> list[Sheet]:
    if not cards:
        return []
    best: list[Sheet] = []
    for width, height in ((paper.short, paper.long), (paper.long, paper.short)):
        blanks = [Blank(str(number), each.part_of, *(side / 1000 for side in _box_size(each)))
                  for number, each in enumerate(cards)]  # fmt: skip
        inside = (width - 2 * MARGIN) / 1000, (height - 2 * MARGIN - FOOT) / 1000
        laid = laid_on_sheets(blanks, inside, turning=False)
        if laid is None:
            continue
        sheets = [
            Sheet(width, height, f"{name} {number + 1}") for number in range(1 + max(each.sheet for each in laid))
        ]
        for each in laid:
            card = cards[int(each.blank.name)]
            left, low = MARGIN + each.x * 1000 + _ROUND, MARGIN + FOOT + each.y * 1000 + _ROUND
            box = Box(left, low + _NAME, left + card.width * 1000, low + _NAME + card.height * 1000)
            card.draw(View(sheets[each.sheet], box.grown(0.3), 1.0, (-0.0003, -0.0003)))
            sheets[each.sheet].words(card.name, (left, low + 1.0), SMALL)
        if not best or len(sheets) < len(best):
            best = sheets
    for sheet in best:
        foot(sheet, sheet.name, "cut along the outlines", ruler_for(tape))
    return best


def _part(card: CutOut, name: str) -> Part:
    whole = shapely.box(0.0, 0.0, card.width, card.height)

    def labels(view: View) -> list[Label]:
        return []

    return Part(
        card.name,
        f"{name.capitalize().removesuffix('s')} {card.name}",
        "Join the pages and cut along the outline.",
        whole,
        whole,
        card.draw,
        labels,
    )
