"""Sheets written as PDF, PNG or SVG, all from the same marks. The only module that draws with matplotlib.

The same sheets give the same bytes: nothing of the day, of this machine or of a user's own settings goes in. The
typeface is embedded.
"""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from previz.paper.letters import POINT, font_file
from previz.paper.sheet import Area, Picture, Sheet, Stroke, Words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_INCH = 25.4  # mm, exactly

#: Of pictures in a PDF, in pixels an inch: as fine as a sheet of paper shows at arm's length.
_PICTURES = 200


def pdf_of(sheets: Sequence[Sheet], title: str) -> bytes:
    """One PDF, a page for each sheet, as large as the sheet; 1 mm is 1 mm.

    Parameters
    ----------
    sheets : sequence of Sheet
        One at least.
    title : str
        Of the document.
    """
    from matplotlib.backends.backend_pdf import PdfPages

    out = io.BytesIO()
    told: dict[str, Any] = {"Title": title, "Creator": "tabletop-previz", "CreationDate": None}
    with _settled(), PdfPages(out, metadata=told) as pages:
        for sheet in sheets:
            pages.savefig(_figure(sheet), dpi=_PICTURES)
    return out.getvalue()


def svg_of(sheet: Sheet, title: str = "") -> bytes:
    """One sheet as SVG as large as the paper, its letters as outlines, so that it needs no typeface."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    out = io.BytesIO()
    told = {"Title": title or sheet.name, "Date": None, "Creator": None, "Format": None, "Type": None}
    with _settled():
        FigureCanvasSVG(_figure(sheet)).print_svg(out, metadata=told)
    return out.getvalue()


def png_of(sheet: Sheet, dots: float = 150.0) -> bytes:
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


def _figure(sheet: Sheet) -> "Figure":
    from matplotlib.figure import Figure
    from matplotlib.transforms import Affine2D

    figure = Figure(figsize=(sheet.width / _INCH, sheet.height / _INCH), dpi=72, facecolor="white")
    from_mm = Affine2D().scale(1 / _INCH) + figure.dpi_scale_trans
    for order, mark in enumerate(sheet.marks):
        artist = _artist(mark, figure, from_mm)
        artist.set_zorder(order)
        artist.set_figure(figure)
        figure.artists.append(artist)
    return figure


def _artist(mark: Stroke | Area | Words | Picture, figure: "Figure", from_mm: Any) -> Any:
    import numpy as np
    from matplotlib.font_manager import FontProperties
    from matplotlib.image import BboxImage
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path
    from matplotlib.text import Text
    from matplotlib.transforms import Bbox, TransformedBbox

    if isinstance(mark, Stroke):
        points = np.concatenate([mark.points, mark.points[:1]]) if mark.closed else mark.points
        weight = mark.weight / POINT
        return PathPatch(
            Path(points, closed=mark.closed),
            transform=from_mm,
            fill=False,
            edgecolor=mark.ink,
            linewidth=weight,
            # Dashes are counted in line widths.
            linestyle=(0, tuple(each / mark.weight for each in mark.dashes)) if mark.dashes else "-",
            capstyle="butt",
            joinstyle="miter",
        )
    if isinstance(mark, Area):
        rings = [np.concatenate([ring, ring[:1]]) for ring in mark.outlines]
        codes = np.concatenate([[Path.MOVETO, *[Path.LINETO] * (len(ring) - 2), Path.CLOSEPOLY] for ring in rings])
        return PathPatch(
            Path(np.concatenate(rings), codes), transform=from_mm, facecolor=mark.ink, edgecolor="none", linewidth=0
        )
    if isinstance(mark, Words):
        align: Any = {"middle": "center"}.get(mark.align, mark.align)
        return Text(
            *mark.at,
            mark.text,
            transform=from_mm,
            fontproperties=FontProperties(fname=font_file(mark.bold), size=mark.size),
            horizontalalignment=align,
            verticalalignment="baseline",
            rotation=mark.turn,
            rotation_mode="anchor",
            color=mark.ink,
            parse_math=False,  # a $ in a stranger's title is a $
        )
    box = Bbox.from_extents(mark.box.left, mark.box.low, mark.box.right, mark.box.high)
    return BboxImage(TransformedBbox(box, from_mm), origin="upper", interpolation="auto", data=mark.pixels)
