"""Sheets written as PDF, PNG or SVG, all from the same marks. The only module that draws with matplotlib.

The same sheets give the same bytes: nothing of the day, of this machine or of a user's own settings goes in. The
typeface is embedded.
"""

import io
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from previz.paper.letters import POINT, font_file
from previz.paper.sheet import Area, Picture, Sheet, Stroke, Words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_INCH = 25.4  # mm, exactly

#: Of pictures, in pixels an inch: of those that are looked at from near by, and through a lens; and on sheets that are
#: read at arm's length (0.6 m), where the eye tells apart a minute of arc (from memory), which is 0.17 mm.
_NEAR, ARMS_LENGTH = 200, 150


def pdf_of(
    sheets: Iterable[Sheet], title: str, dots: float = _NEAR, pictures_come: Callable[[], None] | None = None
) -> bytes:
    """One PDF, a page for each sheet, as large as the sheet; 1 mm is 1 mm.

    Parameters
    ----------
    sheets : iterable of Sheet
        One at least.
    title : str
        Of the document.
    dots : float
        Of its pictures, an inch.
    pictures_come : callable or None
        Called when all else is written, to fill the arrays of pictures that were not there yet.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    told: dict[str, Any] = {"Title": title, "Creator": "tabletop-previz", "CreationDate": None}
    late: list[Callable[[], None]] = []
    with _settled(), PdfPages(out, metadata=told) as pages:
        for sheet in sheets:
            pages.savefig(_figure(sheet, late), dpi=dots)
        if pictures_come is not None:
            pictures_come()
            for fill in late:  # images go into the file as they are at its end
                fill()
    return out.getvalue()


def svg_of(sheet: Sheet, title: str = "") -> bytes:
    """One sheet as SVG as large as the paper, its letters as outlines, so that it needs no typeface."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = io.BytesIO()
    told = {"Title": title or sheet.name, "Date": None, "Creator": None, "Format": None, "Type": None}
    with _settled():
        FigureCanvasSVG(_figure(sheet)).print_svg(out, metadata=told)
    return out.getvalue()


def png_of(sheet: Sheet, dots: float = ARMS_LENGTH) -> bytes:
    """One sheet as PNG, so many dots an inch."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    out = io.BytesIO()
    with _settled():
        figure = _figure(sheet)
        figure.dpi = dots
        FigureCanvasAgg(figure).print_png(out, metadata={"Software": None})
    return out.getvalue()


@contextmanager
def _settled() -> Iterator[None]:
    """Matplotlib as it comes, whatever a user's own settings are, and nothing rounded on the way."""
    import matplotlib

    settings: dict[Any, Any] = {
        key: value for key, value in matplotlib.rcParamsDefault.items() if not key.startswith("backend")
    }
    settings |= {
        "path.simplify": False,
        "path.snap": False,
        "pdf.fonttype": 42,  # the typeface itself is embedded
        "pdf.compression": 6,
        "svg.fonttype": "path",
        "svg.hashsalt": "tabletop-previz",
        "agg.path.chunksize": 0,
    }
    with matplotlib.rc_context(settings):
        yield


def _figure(sheet: Sheet, late: list[Callable[[], None]] | None = None) -> "Figure":
    """One artist draws all marks: an artist for each takes several times as long.

    What fills each picture anew, where its pixels come later, is added to `late`.
    """
    from matplotlib.artist import Artist
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(sheet.width / _INCH, sheet.height / _INCH), dpi=72, facecolor="white")
    from_mm = Affine2D().scale(1 / _INCH) + figure.dpi_scale_trans

    class Marks(Artist):
        """The marks of the sheet."""

        def draw(self, renderer: Any) -> None:
            """Each mark in its turn."""
            for mark in sheet.marks:
                if isinstance(mark, Picture):
                    fill = _draw_picture(renderer, figure, mark, from_mm)
                    if late is not None:
                        late.append(fill)
                else:
                    _draw(renderer, mark, from_mm)

    figure.add_artist(Marks())
    return figure


def _draw(renderer: Any, mark: Stroke | Area | Words, from_mm: Any) -> None:
    from matplotlib.colors import to_rgba
    from matplotlib.font_manager import FontProperties
    from matplotlib.path import Path

    pen = renderer.new_gc()
    if isinstance(mark, Stroke):
        points = np.concatenate([mark.points, mark.points[:1]]) if mark.closed else mark.points
        pen.set_linewidth(mark.weight / POINT)
        pen.set_foreground(mark.ink)
        pen.set_capstyle("butt")
        pen.set_joinstyle("round")  # a mitre at a sharp corner reaches far past it
        if mark.dashes:
            pen.set_dashes(0, [each / POINT for each in mark.dashes])
        renderer.draw_path(pen, Path(points, closed=mark.closed), from_mm, None)
    elif isinstance(mark, Area):
        rings = [np.concatenate([ring, ring[:1]]) for ring in mark.outlines]
        codes = [[Path.MOVETO, *[Path.LINETO] * (len(ring) - 2), Path.CLOSEPOLY] for ring in rings]
        pen.set_linewidth(0)
        renderer.draw_path(pen, Path(np.concatenate(rings), np.concatenate(codes)), from_mm, to_rgba(mark.ink))
    else:
        letters = FontProperties(fname=font_file(mark.bold), size=mark.size)
        x, y = from_mm.transform(mark.left_end)
        pen.set_foreground(mark.ink)
        if renderer.flipy():
            y = renderer.height - y
        renderer.draw_text(pen, x, y, mark.text, letters, mark.turn, ismath=False)  # a $ in a title is a $
    pen.restore()


def _draw_picture(renderer: Any, figure: "Figure", mark: Picture, from_mm: Any) -> Callable[[], None]:
    """Returns what draws its pixels, as they are then, over what was drawn."""
    from matplotlib.image import BboxImage
    from matplotlib.transforms import Bbox, TransformedBbox

    box = Bbox.from_extents(mark.box.left, mark.box.low, mark.box.right, mark.box.high)

    def resampled() -> tuple[Any, float, float, Any]:
        image = BboxImage(TransformedBbox(box, from_mm), origin="upper", interpolation="auto", data=mark.pixels)
        image.set_figure(figure)
        found: tuple[Any, float, float, Any] = image.make_image(renderer, renderer.get_image_magnification())
        return found

    drawn, left, low, _ = resampled()
    pen = renderer.new_gc()
    renderer.draw_image(pen, left, low, drawn)
    pen.restore()

    def fill() -> None:
        drawn[:] = resampled()[0]

    return fill
