"""Words laid into the rooms of a drawing: the same dim walls in the recorder and in the review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from textual.content import Content

from ..study import SketchDrawing


def laid_in(drawing: SketchDrawing, words: Mapping[str, Sequence[Content]]) -> list[Content]:
    """The rows of a drawing with the lines of each room, by its key, in place of its blank cells."""
    pieces: dict[int, list[tuple[int, Content]]] = {}
    for key, room in drawing.rooms.items():
        for i, line in enumerate(words.get(key, ())):
            pieces.setdefault(room.top + i, []).append((room.left, line))
    rows = []
    for y, wall in enumerate(drawing.lines):
        parts, at = [], 0
        for left, line in sorted(pieces.get(y, []), key=lambda piece: piece[0]):
            parts += [Content.styled(wall[at:left], "$wall"), line]
            at = left + line.cell_length
        parts.append(Content.styled(wall[at:], "$wall"))
        rows.append(Content("").join(parts))
    return rows
