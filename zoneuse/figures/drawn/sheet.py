"""A picture as shapes on a sheet: title, subtitle, panels one under the other, source."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ...pictures import Chart, EstimateRows, Figure, Ground, Matrix, RoomsShown
from .charts import chart_drawn, chart_height
from .ground import ground_drawn, ground_height
from .matrix import matrix_drawn, matrix_height
from .rooms import rooms_drawn, rooms_height
from .rows import rows_drawn, rows_height
from .shapes import SMALL, TITLE, Drawing, Shape, Words, lines_of

WIDE, NARROW_WIDE = 736.0, 358.0
# A card to share is twice as wide as it is high, near enough; its words grow with it.
CARD = (1200, 630)
_MARGIN, _BETWEEN, _LINE = 12.0, 14.0, 20.0

AnyPanel = EstimateRows | RoomsShown | Matrix | Chart | Ground


def laid_out(figure: Figure, width: float, margin: float = 0.0) -> Drawing:
    """All shapes of a picture of so many pixels across, ``margin`` left free around it."""
    inner = width - 2 * margin
    shapes: list[Shape] = []
    y = 0.0
    for line in lines_of(figure.title, inner, TITLE, True):
        shapes.append(Words(0, y + 15, line, TITLE, bold=True))
        y += _LINE
    for line in lines_of(figure.subtitle, inner, SMALL):
        shapes.append(Words(0, y + 13, line, SMALL, "muted"))
        y += 16
    y += 8 if y else 0
    for number, panel in enumerate(figure.panels):
        y += _BETWEEN if number else 0
        drawn, high = _panel(panel, y, inner)
        shapes += drawn
        y += high
    for number, line in enumerate(lines_of(figure.source, inner, 10.0)):
        y += 8 if not number else 0
        shapes.append(Words(0, y + 10, line, 10.0, "muted"))
        y += 14
    return Drawing(
        width, y + 2 * margin, tuple(_moved(s, margin) for s in shapes) if margin else tuple(shapes)
    )


def card(figure: Figure) -> tuple[Drawing, float]:
    """A picture's first panel laid out for a card, and by how much it is enlarged to fill it."""
    figure = replace(figure, panels=figure.panels[:1])
    wanted = CARD[1] / CARD[0]
    drawn = laid_out(figure, 560.0, _MARGIN)
    for width in range(560, 1800, 40):
        drawn = laid_out(figure, float(width), _MARGIN)
        if drawn.height <= wanted * width:
            break
    scale = min(CARD[0] / drawn.width, CARD[1] / drawn.height)
    whole = Drawing(CARD[0] / scale, CARD[1] / scale, drawn.shapes)
    return whole, scale


def _panel(panel: AnyPanel, top: float, width: float) -> tuple[Iterator[Shape], float]:
    match panel:
        case EstimateRows():
            return rows_drawn(panel, top, width), rows_height(panel, width)
        case RoomsShown():
            return rooms_drawn(panel, top, width), rooms_height(panel, width)
        case Matrix():
            return matrix_drawn(panel, top, width), matrix_height(panel, width)
        case Chart():
            return chart_drawn(panel, top, width), chart_height(panel, width)
        case Ground():
            return ground_drawn(panel, top, width), ground_height(panel, width)


def _moved(shape: Shape, by: float) -> Shape:
    from .shapes import Area, Stroke

    if isinstance(shape, Stroke):
        return replace(shape, points=tuple((x + by, y + by) for x, y in shape.points))
    if isinstance(shape, Area):
        return replace(shape, rings=tuple(tuple((x + by, y + by) for x, y in ring) for ring in shape.rings))
    return replace(shape, x=shape.x + by, y=shape.y + by)
