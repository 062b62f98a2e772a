"""One glyph for one thing, as shapes; and the key that names those a picture uses."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ...pictures import Key
from .shapes import SMALL, Area, Colour, Disc, Shape, Stroke, Words, box, width_of

DOT, KEY_HIGH = 4.3, 20.0
LIMIT_DASHES, AHEAD_DASHES, FOUND_DASHES = (5.0, 3.0), (3.5, 2.5), (1.5, 2.5)
# How little of the paper shows through each shade, rare to core; apart without colour too.
SHADES = (0.16, 0.36, 0.62, 1.0)


def interval(
    left: float, right: float, y: float, colour: Colour = "blue", *, strong: bool = True, open_left: bool = False,
    open_right: bool = False,
) -> list[Shape]:  # fmt: skip
    """The limits of an estimate: a line with ends; an open end goes on beyond the scale."""
    width = 2.2 if strong else 1.5
    drawn: list[Shape] = [Stroke(((left, y), (right, y)), colour, width)]
    for x, beyond, way in ((left, open_left, 1), (right, open_right, -1)):
        if beyond:
            drawn.append(Stroke(((x + 5 * way, y - 4), (x, y), (x + 5 * way, y + 4)), colour, width))
        else:
            drawn.append(Stroke(((x, y - 4), (x, y + 4)), colour, width))
    return drawn


def after(x: float, y: float, colour: Colour = "blue", radius: float = DOT) -> list[Shape]:
    return [Disc(x, y, radius, colour, "paper", 1.0)]


def before(x: float, y: float, radius: float = DOT) -> list[Shape]:
    return [Disc(x, y, radius, "paper", "ink", 1.4)]


def offered(x: float, y: float, reach: float = 8.0) -> list[Shape]:
    """What an estimate is held against: an upright bar."""
    return [Stroke(((x, y - reach), (x, y + reach)), "ink", 2.4)]


def cross(x: float, y: float, colour: Colour = "muted", reach: float = 3.2) -> list[Shape]:
    return [
        Stroke(((x - reach, y - reach), (x + reach, y + reach)), colour, 1.3),
        Stroke(((x - reach, y + reach), (x + reach, y - reach)), colour, 1.3),
    ]


def pointer(x: float, y: float, found: bool) -> list[Shape]:
    """A triangle pointing down: filled where it was put on record, hollow where the readings show it."""
    outline = ((x - 4.5, y - 8), (x + 4.5, y - 8), (x, y))
    return [Area((outline,), "paper" if found else "ink", "ink", 1.2)]


def shaped(x: float, y: float, shape: str, fill: Colour, edge: Colour, *, reach: float = 3.4) -> list[Shape]:
    """A dot of another shape for another time of day."""
    if shape == "circle":
        return [Disc(x, y, reach, fill, edge, 1.2)]
    r = reach * 1.15
    outline = {
        "square": (
            (x - reach, y - reach),
            (x + reach, y - reach),
            (x + reach, y + reach),
            (x - reach, y + reach),
        ),
        "up": ((x - r, y + r * 0.8), (x + r, y + r * 0.8), (x, y - r)),
        "down": ((x - r, y - r * 0.8), (x + r, y - r * 0.8), (x, y + r)),
    }[shape]
    return [Area((outline,), fill, edge, 1.2)]


def settling(left: float, right: float, top: float, bottom: float) -> list[Shape]:
    """Hatched: not counted."""
    drawn: list[Shape] = []
    high, step = bottom - top, 7.0
    start = left - high
    while start < right:
        # A slanted line from the foot up, kept inside the stretch.
        x0, x1 = max(start, left), min(start + high, right)
        if x1 > x0:
            drawn.append(Stroke(((x0, bottom - (x0 - start)), (x1, bottom - (x1 - start))), "shade", 1.0))
        start += step
    return drawn


def _sample(glyph: str, x: float, y: float) -> list[Shape]:
    """A glyph as it stands in the key, some 20 pixels wide."""
    middle = x + 9
    made: dict[str, list[Shape]] = {
        "interval": [*interval(x, x + 18, y), *after(middle, y)],
        "bars": [
            Stroke(((middle, y - 6), (middle, y + 6)), "blue", 1.6), *after(middle, y, radius=3.2),
        ],
        "offered": offered(middle, y, 6),
        "reference": [Stroke(((middle, y - 7), (middle, y + 7)), "muted", 1.2, LIMIT_DASHES)],
        "before": before(middle, y),
        "after": after(middle, y),
        "aside": cross(middle, y),
        "passing": cross(middle, y, "ink"),
        "recorded": pointer(middle, y + 4, False),
        "found": pointer(middle, y + 4, True),
        "limit": [Stroke(((x, y), (x + 18, y)), "rust", 1.6, LIMIT_DASHES)],
        "band": [Area((box(x, y - 5, 18, 10),), "shade")],
        "line": [Stroke(((x, y), (x + 18, y)), "blue", 2.2)],
        "ahead": [Stroke(((x, y), (x + 18, y)), "blue", 1.6, AHEAD_DASHES)],
        "dark": [Area((box(x, y - 5, 18, 10),), "shade", see_through=0.55)],
        "settling": [*settling(x, x + 18, y - 5, y + 5)],
        "bar": [Area((box(x, y - 4.5, 18, 9),), "blue")],
        **{
            name: [Area((box(x, y - 6, 18, 12),), "blue", see_through=shade)]
            for name, shade in zip(("rare", "some", "much", "core"), SHADES, strict=True)
        },
        "rug": [
            Stroke(((x + 3 * k, y + 5), (x + 3 * k, y + 5 - high)), "ink", 1.4)
            for k, high in enumerate((3, 6, 9, 7, 4, 2))
        ],
    }  # fmt: skip
    return made[glyph]


def key_lines(keys: Sequence[Key], width: float) -> list[list[Key]]:
    """The entries of a key, in as many lines as they need."""
    lines: list[list[Key]] = []
    used = width + 1.0
    for key in keys:
        need = 24 + width_of(key.says, SMALL) + 16
        if used + need > width + 16:
            lines.append([])
            used = 0.0
        lines[-1].append(key)
        used += need
    return lines


def key_height(keys: Sequence[Key], width: float) -> float:
    return KEY_HIGH * len(key_lines(keys, width))


def key_drawn(keys: Sequence[Key], x: float, top: float, width: float) -> Iterator[Shape]:
    for number, line in enumerate(key_lines(keys, width)):
        at, y = x, top + number * KEY_HIGH + 10
        for key in line:
            yield from _sample(key.glyph, at, y)
            yield Words(at + 24, y + 4, key.says, SMALL, "muted")
            at += 24 + width_of(key.says, SMALL) + 16
