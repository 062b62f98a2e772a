"""Shapes as PNG and PDF, by matplotlib: loaded only when such a file is asked for."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any, Literal

from ...pictures import Figure
from ...study import visible
from ..drawn.shapes import Area, Disc, Drawing, Stroke, Words
from ..drawn.sheet import card, laid_out
from .svg import LIGHT

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MARGIN, _PX, _DPI = 12.0, 96.0, 300.0


def on_paper(figure: Figure, kind: Literal["png", "pdf"], width: float, *, as_card: bool = False) -> bytes:
    """A picture as the bytes of a PNG (300 dots an inch) or PDF; ``width`` in pixels of 1/96 inch."""
    drawing, scale = card(figure) if as_card else (laid_out(figure, width, _MARGIN), 1.0)
    # A card is so many dots, whatever the inch.
    return _written(drawing, kind, figure.title, _PX * scale if as_card else _DPI)


def _written(drawing: Drawing, kind: str, title: str, dpi: float) -> bytes:
    import matplotlib as mpl
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure as Sheet

    # Letters as letters in PDF, in a typeface that comes along with the library.
    rc: Any = {"pdf.fonttype": 42, "font.family": "DejaVu Sans", "axes.unicode_minus": False}
    with mpl.rc_context(rc), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sheet = Sheet(figsize=(drawing.width / _PX, drawing.height / _PX), dpi=dpi)
        FigureCanvasAgg(sheet)
        sheet.patch.set_facecolor(LIGHT["paper"])
        axes = sheet.add_axes((0, 0, 1, 1))
        axes.set_xlim(0, drawing.width)
        axes.set_ylim(drawing.height, 0)
        axes.axis("off")
        for number, shape in enumerate(drawing.shapes):
            _draw(axes, shape, number)
        out = io.BytesIO()
        about = (
            {"Title": visible(title), "CreationDate": None} if kind == "pdf" else {"Title": visible(title)}
        )
        sheet.savefig(out, format=kind, dpi=dpi, metadata=about)
    return out.getvalue()


def _draw(axes: Axes, shape: Stroke | Area | Disc | Words, order: int) -> None:
    from matplotlib.patches import Circle, PathPatch
    from matplotlib.path import Path

    point = 72.0 / _PX
    match shape:
        case Stroke():
            dashes = (0, tuple(d / shape.width for d in shape.dashes)) if shape.dashes else "-"
            xs, ys = zip(*shape.points, strict=True)
            axes.plot(
                xs, ys, color=LIGHT[shape.colour], lw=shape.width * point, ls=dashes, zorder=order, clip_on=False,
                solid_capstyle="butt", solid_joinstyle="round" if shape.round else "miter",
            )  # fmt: skip
        case Area():
            rings = [Path([*ring, ring[0]], closed=True) for ring in shape.rings]
            axes.add_patch(
                PathPatch(
                    Path.make_compound_path(*rings), facecolor=LIGHT[shape.fill], alpha=shape.see_through,
                    edgecolor=LIGHT[shape.edge], lw=shape.width * point, zorder=order, clip_on=False,
                )
            )  # fmt: skip
        case Disc():
            axes.add_patch(
                Circle(
                    (shape.x, shape.y), shape.radius, facecolor=LIGHT[shape.fill], edgecolor=LIGHT[shape.edge],
                    lw=shape.width * point, zorder=order, clip_on=False,
                )
            )  # fmt: skip
        case Words():
            axes.text(
                shape.x, shape.y, visible(shape.says), fontsize=shape.size * point, color=LIGHT[shape.colour],
                ha={"start": "left", "middle": "center", "end": "right"}[shape.anchor], va="baseline",
                fontweight="bold" if shape.bold else "normal", rotation=90 if shape.upright else 0,
                rotation_mode="anchor", parse_math=False, zorder=order, clip_on=False,
            )  # fmt: skip
