"""The enclosure with the use of each zone written into its room: a bar and the ratio."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from rich.cells import cell_len
from textual import events
from textual.content import Content
from textual.widget import Widget

from ....answers.showing.said import times
from ....study import Declaration, Room, SketchDrawing, draw, grid_for, visible, with_all
from ...walls import laid_in
from ..background.crossing import Given, number, text
from .bars import bar, fit

_LEGEND = (
    "bar: share of the time  │ what it offers  ×: times its share  ? too early",
    "│ offers  × times its share  ? early",
)
_LEAST_BAR = 4
# A bar behind a name is not shorter: all bars would be.
_LEAST_BESIDE = 10
_MOST_LISTED = 12
_RATIO_CELLS = 8
# Cells for a zone in a list: its key and its ratio; without a key, enough of its name.
_LEAST_LISTED, _LEAST_NAMED = 7, 26


class SharedRooms(Widget):
    """Drawn to fill its space; touching a room opens the sessions behind it."""

    DEFAULT_CSS = "SharedRooms { height: 1fr; }"

    def __init__(self, declared: Declaration, on_press: Callable[[str], None]) -> None:
        super().__init__()
        self._on_press = on_press
        sketches = {tuple(e.sketch) for e in declared.enclosures.values()}
        self._sketch = next(iter(sketches)) if len(sketches) == 1 else ()
        self._places: dict[str, str] = {}
        self._labels: dict[str, str] = {}
        # Rooms go by their keys, as the sketch does; a place without one by its id, which no key looks like.
        self._keys: dict[str, str] = {}
        for zone in declared.zones.values():
            cell = zone.key or f"[{zone.place}]"
            self._places.setdefault(cell, zone.place)
            self._labels.setdefault(cell, visible(zone.label))
            self._keys.setdefault(cell, f"{zone.key} " if zone.key else "")
        self._rows: dict[str, Mapping[str, Any]] = {}
        self._verdicts: dict[str, str] = {}
        self._footer: tuple[str, ...] = _LEGEND
        self._drawn: tuple[object, SketchDrawing | None] = (None, None)

    def show(self, zones: Given | None, problems: Sequence[str]) -> None:
        """Shares where they are known; without them the rooms stand empty."""
        self._rows = {text(r, "zone"): r for r in zones.series.get("rows", ())} if zones else {}
        self._verdicts = {f.about[0]: f.verdict for f in zones.findings if f.about} if zones else {}
        self._footer = ("Zones cannot be answered: see 1",) if problems else _LEGEND
        self.refresh()

    def least_height(self) -> int:
        """Lines in which every zone has one of its own, and the legend."""
        return min(len(self._places), _MOST_LISTED) + 1

    def _drawing(self) -> SketchDrawing | None:
        width, height, keys = self.size.width, self.size.height - 1, tuple(self._places)
        if self._drawn[0] != (width, height):
            drawing = draw(with_all(self._sketch, keys), width, height) if self._sketch else None
            if drawing is None:
                drawing = draw(grid_for(keys, width, height), width, height)
            if (
                drawing is not None
                and self._per_row() == 1
                and all(r.height == 1 for r in drawing.rooms.values())
            ):
                # Rooms of a line have no bar; a list of lines has one for each.
                drawing = None
            self._drawn = ((width, height), drawing)
        return self._drawn[1]

    def render(self) -> Content:
        drawing, width, height = self._drawing(), self.size.width, self.size.height
        if drawing is None:
            lines = self._list(max(1, height - 1), width)
        else:
            lines = self._walls(drawing)
        footer = next((w for w in self._footer if cell_len(w) <= width), "")
        return Content("\n").join([*lines[: max(0, height - 1)], Content.styled(footer, "$muted")])

    def _walls(self, drawing: SketchDrawing) -> list[Content]:
        shown = {key: room for key, room in drawing.rooms.items() if key in self._places}
        cells = self._bar_cells(shown)
        return laid_in(drawing, {key: self._words(key, room, cells) for key, room in shown.items()})

    def _bar_cells(self, shown: Mapping[str, Room]) -> int:
        """Cells of a bar, alike in all rooms: as many as the smallest has, in low rooms behind the name."""
        high = min((r.width for r in shown.values() if r.height >= 3 and r.width >= _LEAST_BAR), default=0)
        low = min((r.width - self._named(k) - 1 for k, r in shown.items() if r.height == 2), default=high)
        return min(high, low) if low >= _LEAST_BESIDE else high

    def _named(self, key: str) -> int:
        return cell_len(f"{self._keys[key]}{self._labels[key]}")

    def _words(self, key: str, room: Room, cells: int) -> list[Content]:
        """Name, bar, ratio, verdict; what matters most where not all of it fits."""
        row = self._rows.get(self._places[key])
        if row is None:
            return [Content.styled(fit(f"{self._keys[key]}{self._labels[key]}", room.width), "$key")]
        ratios = self._ratios(key, row)
        if room.height == 1:
            return [self._one_line(key, room.width, ratios)]
        lines = self._name_and_bar(key, row, room, cells)
        verdict = self._verdicts.get(self._places[key], "")
        own_line = len(lines) + 1 < room.height and cell_len(verdict) <= room.width
        # A question mark says that it is too early; any other verdict goes before the limits.
        beside = "" if own_line or verdict == "too early" else f" {verdict}".rstrip()
        whole = [f"{r}{beside}" for r in ratios[:-1]]
        fitting = [r for r in (*whole, *ratios) if cell_len(r) <= room.width]
        lines.append(Content.styled(fit(fitting[0] if fitting else ratios[-1], room.width), "bold $who"))
        if own_line and verdict:
            lines.append(Content.styled(fit(verdict, room.width), "$muted"))
        return lines

    def _name_and_bar(self, key: str, row: Mapping[str, Any], room: Room, cells: int) -> list[Content]:
        words = f"{self._keys[key]}{self._labels[key]}"
        if room.height == 2 and room.width > self._named(key) + cells >= cells > 0:
            drawn = fit(self._bar(row, cells), room.width - cell_len(words) - 1)
            return [Content.assemble((f"{words} ", "$key"), (drawn, "$foreground"))]
        name = Content.styled(fit(words, room.width), "$key")
        if room.height >= 3 and room.width >= cells > 0:
            return [name, Content.styled(fit(self._bar(row, cells), room.width), "$foreground")]
        return [name]

    def _one_line(self, key: str, width: int, ratios: Sequence[str]) -> Content:
        """Name and ratio where both fit, else the ratio alone."""
        label = self._labels[key]
        # The last of the ratios is a mark alone: it stands only where nothing else fits.
        tails = [f" {label} {r}" for r in ratios[:-1]] + [f" {r}" for r in ratios[1:]]
        tail = next((t for t in tails if cell_len(t) + cell_len(self._keys[key].strip()) <= width), tails[-1])
        head = self._keys[key].strip()
        tail = tail if head else tail.lstrip()
        return Content.assemble((head, "$key"), (fit(tail, width - len(head)), "bold $who"))

    def _ratios(self, key: str, row: Mapping[str, Any]) -> list[str]:
        """The ratio from the most said to the least; a question mark where it is too early to say."""
        ratio, low, high = (number(row, n) for n in ("ratio", "ratio_low", "ratio_high"))
        if ratio is None:
            return ["not offered", "–"]
        early = self._verdicts.get(self._places[key]) == "too early"
        mark, told = "?" if early else "", times(ratio)
        limits = (
            [f"{told} × ({times(low)} to {times(high)}){mark}"]
            if low is not None and high is not None
            else []
        )
        # The mark is the last to go: a ratio without it would be a claim.
        return [
            *limits, f"{told} ×{mark}", f"{told}×{mark}", f"{told}{mark}", mark or f"{ratio:.0f}"
        ]  # fmt: skip

    def _bar(self, row: Mapping[str, Any], cells: int) -> str:
        """All rooms on one scale, that of the smallest one that holds a bar."""
        most = max(
            (max(number(r, "used") or 0, number(r, "available") or 0) for r in self._rows.values()), default=0
        )
        return bar(number(row, "used"), most, cells, number(row, "available"))

    def _per_row(self) -> int:
        needed = -(-len(self._places) // max(1, self.size.height - 1))
        least = _LEAST_LISTED if all(self._keys.values()) else _LEAST_NAMED
        return max(1, min(needed, self.size.width // least))

    def _list(self, rows: int, width: int) -> list[Content]:
        """Where there is no room for rooms: a line each, in columns if they are many."""
        per_row = self._per_row()
        each = width // per_row
        cells = [self._listed(key, each) for key in self._shown()]
        lines = [Content("").join(cells[i : i + per_row]) for i in range(0, len(cells), per_row)][:rows]
        left = len(self._places) - len(cells)
        if left:
            lines[-1:] = [
                Content.styled(fit(f"and {left} more zones of {len(self._places)}: 1", width), "$muted")
            ]
        return lines

    def _shown(self) -> list[str]:
        """The zones there is room for; without a key each wants enough of its name to be known by."""
        rows, per_row = max(1, self.size.height - 1), self._per_row()
        places = list(self._places)
        return places if per_row * rows >= len(places) else places[: per_row * (rows - 1)]

    def _listed(self, key: str, width: int) -> Content:
        """Key, name, ratio and bar, as far as there is room; a ratio never without its mark."""
        head = self._keys[key]
        row, room = self._rows.get(self._places[key]), width - 1 - len(head)
        cells = max(1, min(_RATIO_CELLS, room))
        label = max(0, min(16, room - cells - 1))
        ratios = self._ratios(key, row) if row is not None else [""]
        said = next((r for r in ratios if cell_len(r) <= cells), "")
        name = f"{fit(self._labels[key], label)} " if label else ""
        words = f"{head}{name}{fit(said, cells, True)} "
        drawn = self._bar(row, max(0, min(30, width - cell_len(words) - 1))) if row is not None else ""
        padding = " " * max(0, width - cell_len(words) - cell_len(drawn))
        return Content.assemble((words, "$who"), (drawn, "$foreground"), padding)

    def on_click(self, event: events.Click) -> None:
        drawing = self._drawing()
        key = ""
        if drawing is None:
            listed, per_row = self._shown(), self._per_row()
            index = event.y * per_row + min(per_row - 1, event.x // max(1, self.size.width // per_row))
            key = listed[index] if index < len(listed) else ""
        elif event.y < len(drawing.owner) and event.x < len(drawing.owner[0]):
            key = drawing.owner[event.y][event.x]
        if key in self._places:
            self._on_press(self._places[key])
