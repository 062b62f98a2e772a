"""Figures as inline SVG: drawn with matplotlib in CSS pixels, coloured by the page, the same bytes for the same study.

Text stays text (selectable, in the page's own font), colours become the page's custom properties, so that one
drawing serves light, dark and paper.
"""

from __future__ import annotations

import functools
import io
import re
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from ...study.labels import visible
from ..markup import text

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Stand-ins that the SVG holds until the page's own colours take their place.
INK, MUTED, FAINT, PAPER = "#010101", "#020202", "#030303", "#040404"
BLUE, RUST, SHADE = "#050505", "#060606", "#070707"
_PROPERTY = {
    INK: "currentColor", MUTED: "var(--muted)", FAINT: "var(--faint)", PAPER: "var(--paper)",
    BLUE: "var(--blue)", RUST: "var(--rust)", SHADE: "var(--shade)",
}  # fmt: skip
SMALL, USUAL = 11.5, 12.5
WIDE, NARROW = 736, 358


@dataclass(frozen=True)
class Canvas:
    """A drawing of ``width`` by ``height`` CSS pixels; ``narrow`` is the one for a phone."""

    figure: Figure
    width: int
    height: int

    @property
    def narrow(self) -> bool:
        return self.width <= NARROW

    def axes(self, left: float, top: float, width: float, height: float) -> Axes:
        """Axes at a place counted from the top left corner, in pixels, without a frame."""
        w, h = self.width, self.height
        axes = self.figure.add_axes((left / w, 1 - (top + height) / h, width / w, height / h))
        axes.set_facecolor("none")
        for side in ("top", "right", "left"):
            axes.spines[side].set_visible(False)
        axes.spines["bottom"].set_color(FAINT)
        axes.tick_params(length=0, pad=4, labelsize=SMALL, colors=MUTED)
        return axes

    @functools.cached_property
    def sheet(self) -> Axes:
        """The whole drawing as axes whose units are pixels, y downwards. One for all words: axes cost 10 ms each."""
        axes = self.figure.add_axes((0, 0, 1, 1))
        axes.set_xlim(0, self.width)
        axes.set_ylim(self.height, 0)
        axes.axis("off")
        return axes


Paint = Callable[[Canvas], None]


def label_times(axes: Axes, marks: Sequence[tuple[float, str]]) -> None:
    """Words under a time axis, at parts of its width; those at its ends stay inside the drawing."""
    low, high = axes.get_xlim()
    axes.set_xticks([low + part * (high - low) for part, _ in marks], [said for _, said in marks])
    for (part, _), shown in zip(marks, axes.get_xticklabels(), strict=True):
        shown.set_horizontalalignment("right" if part > 0.96 else "left" if part < 0.02 else "center")


def words(
    axes: Axes, x: float, y: float, says: str, size: float = USUAL, *, color: str = INK, **how: Any
) -> None:
    """Words on a drawing: control marks made visible, nothing of them read as a formula."""
    axes.text(x, y, visible(says), fontsize=size, color=color, parse_math=False, clip_on=False, **how)


def width_of(says: str, size: float = USUAL, bold: bool = False) -> float:
    """How wide words will be at most, in pixels: measured in a broad typeface."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import text_to_path

    font = FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # letters the typeface lacks are the browser's to find
        return float(text_to_path.get_text_width_height_descent(visible(says), font, ismath=False)[0])


def fitting(says: str, width: float, size: float = USUAL, bold: bool = False) -> str:
    """Words cut to a width, with an ellipsis where something is gone."""
    shown = visible(says)
    if width_of(shown, size, bold) <= width:
        return shown
    while shown and width_of(shown + "…", size, bold) > width:
        shown = shown[:-1]
    return shown.rstrip() + "…" if shown else ""


def svg(name: str, title: str, says: str, width: int, height: int, *, paint: Paint, kind: str = "") -> str:
    """One drawing as an ``<svg>`` element with a title and a description. ``name`` is unique in the page."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    rc: Any = {"svg.fonttype": "none", "svg.hashsalt": name, "font.family": "DejaVu Sans", "hatch.linewidth": 0.6,
          "axes.unicode_minus": False, "path.simplify_threshold": 0.3}  # fmt: skip
    with mpl.rc_context(rc), warnings.catch_warnings():
        warnings.simplefilter("ignore")
        figure = Figure(figsize=(width / 72, height / 72), dpi=72)
        FigureCanvasSVG(figure)
        figure.patch.set_visible(False)
        paint(Canvas(figure, width, height))
        out = io.StringIO()
        figure.savefig(out, format="svg", metadata={"Date": None})
    return _inline(out.getvalue(), name, title, says, width, height=height, kind=kind)


def both(name: str, title: str, says: str, tall: Callable[[int], int], paint: Paint) -> str:
    """A drawing for wide screens and paper, and one for phones; the page shows the one that fits.

    ``tall`` gives the height for a width.
    """
    return svg(f"{name}-wide", title, says, WIDE, tall(WIDE), paint=paint, kind="wide") + svg(
        f"{name}-narrow", title, says, NARROW, tall(NARROW), paint=paint, kind="narrow"
    )


_NUMBERS = re.compile(r' (d|x|y|transform|points|width|height)="([^"]*)"')
_FONT = re.compile(r"font-family: [^;\"]*;? ?|font: (?P<size>[0-9.]+px) [^;\"]*")
_TAG = re.compile(r"<[^>]*>")


def _inline(drawn: str, name: str, title: str, says: str, width: int, *, height: int, kind: str) -> str:
    """What the library wrote, as an element of a page: no addresses, no styles of its own, ids of its own only."""
    body = drawn[drawn.index("</metadata>") + len("</metadata>") : drawn.rindex("</svg>")]
    body = re.sub(r"<style.*?</style>", "", body, count=1, flags=re.DOTALL)
    tags = "".join(_TAG.findall(body))
    used = frozenset(re.findall(r"(?:url\(|href=\")#([\w.-]+)", tags))
    # Within tags only: what a label says is nobody's to change.
    body = _TAG.sub(lambda m: _tag(m[0], name, used), body)
    body = re.sub(r">\s+<", "><", body.strip())
    return (
        f'<svg class="{kind}" role="img" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'aria-labelledby="{name}-title" aria-describedby="{name}-desc">'
        f'<title id="{name}-title">{text(title)}</title><desc id="{name}-desc">{text(says)}</desc>{body}</svg>'
    )


def _tag(tag: str, name: str, used: frozenset[str]) -> str:
    tag = tag.replace("xlink:href", "href")
    tag = re.sub(r' id="([^"]*)"', lambda m: f' id="{name}-{m[1]}"' if m[1] in used else "", tag)
    tag = re.sub(r"(url\(|href=\")#", rf"\g<1>#{name}-", tag)
    tag = _NUMBERS.sub(lambda m: f' {m[1]}="{_shorter(m[2])}"', tag)
    tag = _FONT.sub(lambda m: f"font-size: {m['size']}" if m["size"] else "", tag)
    for stand_in, colour in _PROPERTY.items():
        tag = tag.replace(stand_in, colour)
    return tag


def _shorter(numbers: str) -> str:
    rounded = re.sub(r"-?\d+\.\d{2,}", lambda m: f"{float(m[0]):.1f}", numbers)
    return re.sub(r"\s+", " ", rounded).strip()
