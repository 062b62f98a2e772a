"""The pieces of the watching screen: rooms with the animals' keys in them, and keys a finger can press."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from textual import events
from textual.content import Content
from textual.widget import Widget

from ...study import (
    Room,
    SketchDrawing,
    SketchFigure,
    draw,
    figure_at,
    grid_for,
    in_words,
    room_lines,
    with_all,
)
from ...study.sketch import Cells
from ..walls import laid_in

# Narrower columns of a list hold keys alone: the first letters of names tell no zone from another.
_NAMED = 12


@dataclass(frozen=True, slots=True)
class RoomWords:
    """What stands in a zone's room: its label, the marks of who is there, its newest reading."""

    key: str
    label: str
    marks: tuple[str, ...] = ()
    # Its newest values and their age, in ever fewer letters: the first that fits is shown, none of them cut.
    readings: tuple[str, ...] = ()
    # Before the key: where a round is, and where it has been.
    sign: str = ""
    # What is to be seen there, beside what was recorded: the animals of a practice.
    figures: tuple[SketchFigure, ...] = ()


@dataclass(frozen=True, slots=True)
class Chip:
    """A key to press with a finger: ``press`` is a keeper's key, or ``action`` a program's action."""

    key: str
    label: str
    press: str = ""
    action: str = ""


class Rooms(Widget):
    """The enclosure, drawn to fill its space. Touching a room presses its key."""

    DEFAULT_CSS = "Rooms { height: 1fr; }"

    def __init__(self, on_press: Callable[[str, events.Event], None]) -> None:
        super().__init__()
        self._on_press = on_press
        self._sketch: Cells = ()
        self._words: dict[str, RoomWords] = {}
        self._footer, self._half = "", ""
        self._drawn: tuple[object, SketchDrawing | None] = (None, None)

    def show(self, sketch: Cells, words: Sequence[RoomWords], footer: str, half: str = "") -> None:
        """Draw these rooms; nothing is repainted where nothing changed.

        Where they are only listed, ``half`` of a key leaves those that go on from it, with room for their names.
        """
        new = {one.key: one for one in words}
        if (sketch, new, footer, half) != (self._sketch, self._words, self._footer, self._half):
            self._sketch, self._words, self._footer, self._half = sketch, new, footer, half
            self.refresh()

    def _drawing(self) -> SketchDrawing | None:
        width, height, keys = self.size.width, self.size.height - 1, tuple(self._words)
        wanted = (self._sketch, width, height, keys)
        if self._drawn[0] != wanted:
            drawing = draw(with_all(self._sketch, keys), width, height) if self._sketch else None
            if drawing is None:
                drawing = draw(grid_for(keys, width, height), width, height)
            self._drawn = (wanted, drawing)
        return self._drawn[1]

    def render(self) -> Content:
        drawing = self._drawing()
        lines = self._listed() if drawing is None else self._rooms(drawing)
        rows = lines[: max(0, self.size.height - 1)]
        return Content("\n").join([*rows, Content.styled(self._footer, "$muted")])

    def _rooms(self, drawing: SketchDrawing) -> list[Content]:
        """The walls, dim, with each room's words laid into them."""
        shown = {key: room for key, room in drawing.rooms.items() if key in self._words}
        words = {key: _room_content(self._words[key], room) for key, room in shown.items()}
        rows = laid_in(drawing, words)
        self._put_figures(rows, drawing)
        return rows

    def _put_figures(self, rows: list[Content], drawing: SketchDrawing) -> None:
        for key, room in drawing.rooms.items():
            words = self._words.get(key)
            for figure in words.figures if words is not None else ():
                taken = 3 if words is not None and words.readings else 2
                x, y = figure_at(figure, room, taken)
                seen = Content.styled(figure.text, "bold $accent")
                rows[y] = rows[y][:x] + seen + rows[y][x + len(figure.text) :]

    def _listed(self) -> list[Content]:
        """Where there is no room for rooms: a line each, in columns if they are many."""
        words, per_row = self._meant(), self._per_row()
        width = max(3, self.size.width // per_row)
        if width < _NAMED:
            words = [replace(one, label="") for one in words]
        cells = [_one_line(one, width - 1).pad_right(1) for one in words]
        return [Content("").join(cells[i : i + per_row]) for i in range(0, len(cells), per_row)]

    def _per_row(self) -> int:
        rows = max(1, self.size.height - 1)
        return max(1, -(-len(self._meant()) // rows))

    def _meant(self) -> list[RoomWords]:
        return [one for one in self._words.values() if one.key.startswith(self._half)]

    def on_click(self, event: events.Click) -> None:
        drawing = self._drawing()
        if drawing is None:
            per_row = self._per_row()
            index = event.y * per_row + min(per_row - 1, event.x // max(3, self.size.width // per_row))
            listed = self._meant()
            key = listed[index].key if index < len(listed) else ""
        else:
            inside = event.y < len(drawing.owner) and event.x < len(drawing.owner[0])
            key = drawing.owner[event.y][event.x] if inside else ""
        if key:
            self._on_press(key, event)


def _room_content(words: RoomWords, room: Room) -> list[Content]:
    if room.height == 1:
        return [_one_line(words, room.width)]
    marks = " ".join(words.marks)
    reading = next((r for r in words.readings if Content(r).cell_length <= room.width), "")
    key = f"{words.sign}{words.key}"
    label = in_words(words.label, room.width - len(key) - 1)
    texts = room_lines(room, [f"{key} {label}".rstrip(), marks or " ", reading])
    styles = ("$key", "bold $who", "$muted")
    return [
        Content.styled(_padded(text, room.width), style) for text, style in zip(texts, styles, strict=False)
    ]


def _one_line(words: RoomWords, width: int) -> Content:
    """Key and who is there first, then as much of the label as fits."""
    marks = " ".join(words.marks)
    head = f"{words.sign}{words.key} {marks}".rstrip()
    key = f"{words.sign}{words.key}"
    if len(head) > width:
        # Cut with a sign of it: Y:12 must never be read as Y:1, and a key is whole or not there.
        room = width - len(key)
        head = Content(head).truncate(width, ellipsis=True).plain if room > 2 else f"{key}…"[:width]
    seen = "".join(figure.text for figure in words.figures)
    tail = f" {seen}"[: max(0, width - len(head))].rstrip()
    if label := in_words(words.label, width - len(head) - len(tail) - 1):
        tail = f"{tail} {label}"
    return Content.assemble(
        (head, "bold $who" if marks else "$key"), (_padded(tail, width - len(head)), "$muted")
    )


def _padded(text: str, width: int) -> str:
    return (
        Content(text)
        .truncate(width, ellipsis=True)
        .pad_right(max(0, width - Content(text).cell_length))
        .plain
    )


class Chips(Widget):
    """Keys in a row, wrapped; each can be touched."""

    DEFAULT_CSS = "Chips { height: auto; }"

    def __init__(self, on_chip: Callable[[Chip, events.Event], None], most_rows: int = 3) -> None:
        super().__init__()
        self._on_chip, self._most_rows = on_chip, most_rows
        self._chips: tuple[Chip, ...] = ()

    def show(self, chips: Sequence[Chip]) -> None:
        if tuple(chips) != self._chips:
            self._chips = tuple(chips)
            self.refresh(layout=True)

    def rows(self, width: int) -> list[list[tuple[int, Chip]]]:
        """Rows of chips with the column each starts at; labels are shortened before a chip is dropped."""
        for longest in (99, 14, 10, _FIRST_WORD, 8, 7, 6, 5, 4, 0):
            rows: list[list[tuple[int, Chip]]] = [[]]
            at = 0
            for chip in self._chips:
                short = Chip(chip.key, _shorter(chip.label, longest), chip.press, chip.action)
                length = _length(short)
                if at and at + length > width:
                    rows.append([])
                    at = 0
                rows[-1].append((at, short))
                at += length + 2
            if len(rows) <= self._most_rows:
                return rows
        return [*rows[: self._most_rows - 1], _with_more(rows[self._most_rows - 1], width)]

    def get_content_height(self, container: object, viewport: object, width: int) -> int:
        return len(self.rows(width)) if self._chips else 0

    def render(self) -> Content:
        lines = []
        for row in self.rows(self.size.width):
            parts: list[Content] = []
            at = 0
            for left, chip in row:
                parts.append(Content(" " * (left - at)))
                parts.append(
                    Content.assemble((chip.key, "bold $key"), (f" {chip.label}" if chip.label else "", ""))
                )
                at = left + _length(chip)
            lines.append(Content("").join(parts))
        return Content("\n").join(lines)

    def on_click(self, event: events.Click) -> None:
        rows = self.rows(self.size.width)
        for left, chip in rows[event.y] if event.y < len(rows) else ():
            if left <= event.x < left + max(3, _length(chip) + 1):
                self._on_chip(chip, event)
                return


# Of a label its first word, however long: words go before any is cut.
_FIRST_WORD = -1


def _shorter(label: str, longest: int) -> str:
    return label.split(" ", 1)[0] if longest == _FIRST_WORD else in_words(label, longest)


def _with_more(row: list[tuple[int, Chip]], width: int) -> list[tuple[int, Chip]]:
    """The last row there is room for, with a sign that there are more."""
    kept = [(at, chip) for at, chip in row if at + _length(chip) + 3 <= width]
    end = max((at + _length(chip) for at, chip in kept), default=-2)
    return [*kept, (end + 2, Chip("…", "", action="help"))]


def _length(chip: Chip) -> int:
    return Content(f"{chip.key} {chip.label}" if chip.label else chip.key).cell_length
