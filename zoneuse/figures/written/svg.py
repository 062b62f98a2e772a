"""Shapes as SVG: within a page, coloured by it, or as a file that needs nothing beside it."""

from __future__ import annotations

import html
from collections.abc import Iterable
from dataclasses import replace

from ...pictures import Figure
from ...study import visible
from ..drawn.shapes import Area, Disc, Drawing, Shape, Stroke, Words
from ..drawn.sheet import CARD, NARROW_WIDE, WIDE, card, laid_out

# The page's own colours; in a file of its own those of its light ground.
_OF_PAGE = {
    "ink": "currentColor", "muted": "var(--muted)", "faint": "var(--faint)", "paper": "var(--paper)",
    "blue": "var(--blue)", "rust": "var(--rust)", "shade": "var(--shade)", "none": "none",
}  # fmt: skip
LIGHT = {
    "ink": "#1c1f21", "muted": "#5a5f63", "faint": "#dcdad3", "paper": "#ffffff", "blue": "#0b5a8f",
    "rust": "#a13f06", "shade": "#cbd0d5", "none": "none",
}  # fmt: skip
_FONTS = "Helvetica Neue, Helvetica, Arial, Liberation Sans, DejaVu Sans, sans-serif"
_MARGIN = 12.0


def inline(figure: Figure) -> str:
    """A picture for a page, each panel for itself so that paper may break between them.

    Each is there for wide screens and for phones and columns; the page shows the one that fits.
    """
    bare = figure.bare()
    count = len(bare.panels)
    drawn = []
    for number, panel in enumerate(bare.panels, 1):
        heading = getattr(panel, "heading", "") or figure.title
        says = figure.says if number == 1 else f"{heading}: part {number} of {count} of this picture."
        title = figure.title if number == 1 else f"{figure.title}: {heading}"
        one = replace(bare, panels=(panel,), name=f"{figure.name}-{number}", title=title, says=says)
        for kind, width in (("wide", WIDE), ("narrow", NARROW_WIDE)):
            drawn.append(_element(one, laid_out(one.bare(), width), kind))
    return "".join(drawn)


def _element(figure: Figure, drawing: Drawing, kind: str) -> str:
    name = f"{figure.name}-{kind}"
    return (
        f'<svg class="{kind}" role="img" viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" '
        f'width="{_n(drawing.width)}" height="{_n(drawing.height)}" aria-labelledby="{name}-title" '
        f'aria-describedby="{name}-desc"><title id="{name}-title">{_text(figure.title)}</title>'
        f'<desc id="{name}-desc">{_text(figure.says)}</desc>{"".join(_shapes(drawing.shapes, _OF_PAGE))}</svg>'
    )


def standalone(figure: Figure, width: float, *, as_card: bool = False) -> str:
    """A picture as a file: title, subtitle and source in it, its own colours and fonts; ``width`` in 1/96 inch."""
    if as_card:
        drawing, _ = card(figure)
        size = f'width="{CARD[0]}" height="{CARD[1]}"'
    else:
        drawing = laid_out(figure, width, _MARGIN)
        # Millimetres, so that it has its size where it is placed on paper.
        size = f'width="{drawing.width * 25.4 / 96:.2f}mm" height="{drawing.height * 25.4 / 96:.2f}mm"'
    body = "".join(_shapes(drawing.shapes, LIGHT))
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="0 0 {_n(drawing.width)} {_n(drawing.height)}" '
        f'font-family="{_FONTS}" role="img" aria-labelledby="title" aria-describedby="desc">'
        f'<title id="title">{_text(figure.title)}</title><desc id="desc">{_text(figure.says)}</desc>'
        f'<rect width="100%" height="100%" fill="{LIGHT["paper"]}"/>{body}</svg>\n'
    )


def _shapes(shapes: Iterable[Shape], colours: dict[str, str]) -> Iterable[str]:
    for shape in shapes:
        match shape:
            case Stroke():
                yield _stroke(shape, colours)
            case Area():
                yield _area(shape, colours)
            case Disc():
                yield (
                    f'<circle cx="{_n(shape.x)}" cy="{_n(shape.y)}" r="{_n(shape.radius)}" '
                    f'fill="{colours[shape.fill]}" '
                    f'stroke="{colours[shape.edge]}" stroke-width="{_n(shape.width)}"/>'
                )
            case Words():
                yield _words(shape, colours)


def _stroke(shape: Stroke, colours: dict[str, str]) -> str:
    points = " ".join(f"{_n(x)},{_n(y)}" for x, y in shape.points)
    dashes = f' stroke-dasharray="{" ".join(_n(d) for d in shape.dashes)}"' if shape.dashes else ""
    joined = ' stroke-linejoin="round"' if shape.round else ""
    return (
        f'<polyline points="{points}" fill="none" stroke="{colours[shape.colour]}" stroke-width="{_n(shape.width)}"'
        f"{dashes}{joined}/>"
    )


def _area(shape: Area, colours: dict[str, str]) -> str:
    path = "".join("M" + "L".join(f"{_n(x)} {_n(y)}" for x, y in ring) + "Z" for ring in shape.rings)
    edge = f' stroke="{colours[shape.edge]}" stroke-width="{_n(shape.width)}"' if shape.edge != "none" else ""
    light = f' fill-opacity="{shape.see_through:g}"' if shape.see_through < 1 else ""
    return f'<path d="{path}" fill="{colours[shape.fill]}"{light}{edge}/>'


def _words(shape: Words, colours: dict[str, str]) -> str:
    anchor = f' text-anchor="{shape.anchor}"' if shape.anchor != "start" else ""
    bold = ' font-weight="650"' if shape.bold else ""
    turned = f' transform="rotate(-90 {_n(shape.x)} {_n(shape.y)})"' if shape.upright else ""
    # A style, not an attribute: a page's rule for all words would win over the attribute.
    return (
        f'<text x="{_n(shape.x)}" y="{_n(shape.y)}" font-size="{_n(shape.size)}px"{anchor}{bold}{turned} '
        f'style="fill:{colours[shape.colour]}">{_text(shape.says)}</text>'
    )


def _n(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def _text(words: str) -> str:
    return html.escape(visible(words), quote=True)
