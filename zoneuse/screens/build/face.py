"""The screen as lines of marked text, and what a touch on each character means. Knows no terminal."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from ...study import NOTHING, ONLY, Problem, SketchDrawing, draw, room_lines, visible
from ...study.draft import forms, things
from ..text_line import TextLine
from .desk import PAGES, Desk, DeskItem

NARROW = 70
Target = tuple[Any, ...]
# Characters with their looks, row by row.
Grid = list[list[tuple[str, str]]]


@dataclass(frozen=True, slots=True)
class Piece:
    """Text in one look, and what touching it means."""

    text: str
    look: str = ""
    target: Target = ()


Line = list[Piece]
_HELP = """\
What you type is checked at once and, if sound, written to study.toml; while there is a fault it is \
kept beside it, and is here again next time.

  Page Down, F6   the next page          Page Up   the one before
  F2  Ctrl+N      add something          Enter     open it, or go on
  F3  Ctrl+P      paint on the sketch    Tab       to the sketch, to the fields
  F4  Ctrl+R      remove it              F5 Ctrl+Z take the last change back
  F10 Ctrl+Q      leave                  Esc       back

On the sketch: arrows move, Space paints a cell, Enter at two corners fills between them, Backspace rubs \
out, a room's key picks up its colour. With a mouse or a finger: touch and drag; started on its own room, \
it rubs out.

In a study with records, each change is asked "since when": what stood before stays true up to then."""


def lines(desk: Desk, width: int, height: int) -> list[Line]:
    """The whole screen."""
    narrow = width < NARROW
    below = _below(desk, width, 3 if height >= 20 else 2)
    middle = height - 1 - len(below)
    if desk.help:
        shown = [[Piece(text)] for text in wrapped(_HELP, width)]
    elif narrow:
        shown = _one_column(desk, width, middle)
    else:
        left = width * 11 // 20
        shown = _beside(_left(desk, left - 1, middle), _right(desk, width - left, middle), left)
    shown = [*shown[:middle], *[[] for _ in range(middle - len(shown))]]
    return [_cut(line, width) for line in (_tabs(desk, width), *shown, *below)]


def _cut(line: Line, width: int) -> Line:
    kept, room = [], width
    for piece in line:
        if room > 0:
            kept.append(Piece(piece.text[:room], piece.look, piece.target))
            room -= len(piece.text)
    return kept


def wrapped(text: str, width: int) -> list[str]:
    import textwrap

    return [line for part in text.split("\n") for line in (textwrap.wrap(part, width) or [""])]


def _beside(left: list[Line], right: list[Line], at: int) -> list[Line]:
    rows = []
    for i in range(max(len(left), len(right))):
        one = _cut(left[i] if i < len(left) else [], at - 1)
        used = sum(len(piece.text) for piece in one)
        rows.append([*one, Piece(" " * (at - used)), *(right[i] if i < len(right) else [])])
    return rows


def _tabs(desk: Desk, width: int) -> Line:
    state = "not written yet" if desk.draft.unsaved else "written"
    if width >= NARROW:
        tabs = [Piece(f"[{p}]" if p == desk.page else f" {p} ", "head" if p == desk.page else "dim", ("page", p))
                for p in PAGES]  # fmt: skip
        used = sum(len(tab.text) for tab in tabs)
        return [*tabs, Piece(state.rjust(max(0, width - used)), "warn" if desk.draft.unsaved else "good")]
    at = PAGES.index(desk.page)
    after, before = PAGES[(at + 1) % len(PAGES)], PAGES[at - 1]
    said = f" {desk.page} {at + 1}/{len(PAGES)} "
    return [
        Piece(" < ", "key", ("page", before)), Piece(said, "head"), Piece(" > ", "key", ("page", after)),
        Piece(state.rjust(max(0, width - len(said) - 6)), "warn" if desk.draft.unsaved else "good"),
    ]  # fmt: skip


# --- columns ------------------------------------------------------------------------------------------------


def _left(desk: Desk, width: int, height: int) -> list[Line]:
    if desk.page != "Rooms":
        return _list(desk, width, height)
    rows = min(max(4, len(desk.rows())), max(4, height - 11))
    return [*_sketch(desk, width, height - rows), *_list(desk, width, rows)]


def _right(desk: Desk, width: int, height: int) -> list[Line]:
    if desk.thing is None:
        return [[Piece(text, "dim")] for text in wrapped(_FIRST[desk.page], width)]
    return _form(desk, width, height)


_FIRST = {
    "Rooms": "Type the name of a place as you think of it, then Enter: Warm end. Four to eight are enough, each "
    "with one purpose. Then how much of it there is.",
    "Animals": "Type a name, then Enter. Animals you cannot tell apart are a group.",
    "Behaviours": "Go to one with ↓ and take it with Enter, or type your own on the + line.",
    "Loggers": "Type the logger's name as it stands in its files, then Enter, then the key of the room it lies in.",
    "Compare": "What you want to compare. A treatment is what a session was under; a phase is a time: "
    "before the lamp, after it. Type its name, then Enter.",
    "Limits": "Limits belong to rooms: add a room first.",
    "Study": "",
}


def _one_column(desk: Desk, width: int, height: int) -> list[Line]:
    if desk.focus == "form":
        return _form(desk, width, height)
    if desk.focus == "sketch":
        return _sketch(desk, width, height)
    if desk.page == "Rooms" and len(desk.rows()) > 1:
        rows = min(len(desk.rows()), max(4, height - 8))
        return [*_sketch(desk, width, height - rows), *_list(desk, width, rows)]
    found = _list(desk, width, height)
    if desk.thing is None and desk.page in _FIRST:
        found += [[], *[[Piece(text, "dim")] for text in wrapped(_FIRST[desk.page], width)]]
    return found


def _list(desk: Desk, width: int, height: int) -> list[Line]:
    rows = desk.rows()
    start = max(0, min(desk.at - height // 2, len(rows) - height))
    return [_row(desk, i, row, width) for i, row in enumerate(rows[start : start + height], start)]


def _row(desk: Desk, i: int, row: DeskItem, width: int) -> Line:
    here = i == desk.at and desk.focus == "list"
    mark = ">" if here else " "
    if row.adds and here and desk.asking is None:
        return [Piece(f"{mark}{row.says}: ", "key", ("row", i)), *_cursored(desk, width - len(row.says) - 3)]
    words = visible(row.says)
    if row.thing is not None:
        if desk.page in ("Rooms", "Animals", "Behaviours"):
            words = f"{row.key:<2} {words}"
        if row.thing.kind == "zones":
            words += _amount(desk, row.thing)
            if home := things.home_of(desk.values, row.thing.id).removeprefix(ONLY):
                words += f"  {visible(home)}"
    look = "here" if here else "dim" if row.gone or not row.thing else ""
    return [Piece(f"{mark}{words}{' (gone)' if row.gone else ''}".ljust(width)[:width], look, ("row", i))]


def _amount(desk: Desk, thing: forms.Thing) -> str:
    field = next(f for f in forms.fields(desk.values, thing) if f.place == ("amount",))
    found = forms.shown(desk.values, thing, field)
    return f"  {found}" if found else ""


def _cursored(desk: Desk, width: int) -> Line:
    return _with_cursor(desk.line, max(4, width))


def _with_cursor(line: TextLine, width: int) -> Line:
    part, at = line.window(width)
    return [Piece(part[:at], "who"), Piece(part[at : at + 1], "cursor"), Piece(part[at + 1 :], "who")]


def _form(desk: Desk, width: int, height: int) -> list[Line]:
    assert desk.thing is not None
    found = desk.fields()
    name = desk.thing.id or {"study": "The study", "enclosure": "The enclosure"}.get(
        desk.thing.kind, "How you watch"
    )
    heading = str(forms.section(desk.values, forms.base(desk.thing)).get("label", name))
    if desk.thing.kind == "limits":
        heading = str(forms.section(desk.values, ("zones", desk.thing.id)).get("label", name))
    wide = max((len(f.label) for f in found), default=0) + 1
    rows: list[Line] = [[Piece(visible(heading)[:width], "head"), Piece(f"  {desk.thing.id}", "dim")]]
    first = max(0, min(desk.field_at - (height - 2) // 2, len(found) - height + 1))
    for i, one in enumerate(found[first : first + height - 1], first):
        active = desk.focus == "form" and i == desk.field_at
        label = Piece(
            f"{'>' if active else ' '}{one.label:<{wide}}", "key" if active else "dim", ("field", i)
        )
        if active and desk.asking is None:
            rows.append([label, *_cursored(desk, width - wide - 2)])
        else:
            text = desk.line.value if active else desk.value(one)
            rows.append([label, Piece(visible(text).ljust(max(0, width - wide - 1)), "who", ("field", i))])
    return rows


# --- the sketch ---------------------------------------------------------------------------------------------


def edges(cells: Sequence[Sequence[str]], width: int, height: int) -> tuple[list[int], list[int]]:
    """Where the walls between columns, and between rows, can stand."""
    columns, rows = len(cells[0]), len(cells)
    return (
        [round(i * (width - 1) / columns) for i in range(columns + 1)],
        [round(i * (height - 1) / rows) for i in range(rows + 1)],
    )


def _sketch(desk: Desk, width: int, height: int) -> list[Line]:
    cells = desk.cells
    drawing = draw(cells, width, height, 1)
    if drawing is None:
        return _plain_sketch(desk, width, height)
    xs, ys = edges(cells, width, height)
    grid = [[(c, "wall") for c in line.ljust(width)[:width]] for line in drawing.lines]
    _lay_names(desk, grid, drawing)
    _dot_nothing(cells, grid, xs, ys)
    if desk.focus == "sketch":
        _mark_cursor(desk, grid, xs, ys)
    return [
        [Piece(text, look, ("cell", _within(ys, y), _within(xs, x))) for x, (text, look) in enumerate(row)]
        for y, row in enumerate(grid)
    ]


def _lay_names(desk: Desk, grid: Grid, drawing: SketchDrawing) -> None:
    """Each room's key and as much of its name as fits."""
    labels = {row.key: visible(row.says) for row in desk.rows() if row.thing and desk.is_in_sight(row.thing)}
    for key, room in drawing.rooms.items():
        words = room_lines(room, [f"{key} {labels.get(key, '?')}"] if room.width > 4 else [key])
        for dy, text in enumerate(words):
            for dx, character in enumerate(text):
                grid[room.top + dy][room.left + dx] = (character, "who" if key == desk.pot else "")


def _dot_nothing(cells: Sequence[Sequence[str]], grid: Grid, xs: list[int], ys: list[int]) -> None:
    """A dot in each cell that is not painted, so that there is something to go to."""
    for r, row in enumerate(cells):
        for c, cell in enumerate(row):
            y, x = (ys[r] + ys[r + 1]) // 2, (xs[c] + xs[c + 1]) // 2
            if cell == NOTHING and grid[y][x][0] == " ":
                grid[y][x] = ("·", "wall")


def _within(edge: Sequence[int], at: int) -> int:
    """The cell a character lies in; on a wall, the one after it."""
    return max(i for i in range(len(edge) - 1) if edge[i] <= at)


def _mark_cursor(desk: Desk, grid: Grid, xs: list[int], ys: list[int]) -> None:
    top, left = desk.cursor
    spots = [(top, left)] if desk.corner is None else [desk.corner, (top, left)]
    r0, r1 = min(s[0] for s in spots), max(s[0] for s in spots)
    c0, c1 = min(s[1] for s in spots), max(s[1] for s in spots)
    for r in range(r0, r1 + 1):
        for c in range(c0, c1 + 1):
            y = (ys[r] + ys[r + 1]) // 2
            for x in range(xs[c] + 1, max(xs[c] + 2, xs[c + 1])):
                if y < len(grid) and x < len(grid[y]):
                    text = grid[y][x][0]
                    grid[y][x] = (text if text not in " ·" else "#", "cursor")


def _plain_sketch(desk: Desk, width: int, height: int) -> list[Line]:
    """Where rooms would be too small for walls: a letter for each cell."""
    cells = desk.cells
    wide = max(1, min(3, (width - 1) // max(1, len(cells[0]))))
    longest = max(len(c) for row in cells for c in row)
    rows: list[Line] = []
    for r, row in enumerate(cells[:height]):
        line: Line = []
        for c, cell in enumerate(row):
            here = desk.focus == "sketch" and (r, c) == desk.cursor
            text = ("#" if here and cell == NOTHING else cell).ljust(max(wide, longest))
            line.append(Piece(text, "cursor" if here else "wall" if cell == NOTHING else "", ("cell", r, c)))
        rows.append(line)
    return rows


# --- below --------------------------------------------------------------------------------------------------


def said(problem: Problem) -> str:
    """A fault or a hint in the words of check, without the file's name."""
    parts = [f"{problem.place}: {problem.found}" if problem.place else problem.found]
    if problem.expected:
        parts.append(f"expected {problem.expected}")
    text = "; ".join(parts)
    return f"{'hint: ' if problem.hint else '! '}{text}. {problem.remedy}".rstrip(". ") + "."


def _below(desk: Desk, width: int, rows: int) -> list[Line]:
    """What is asked, what was just said, what is wrong, and the keys."""
    if desk.asking is not None:
        text = wrapped(f"{desk.asking.wrong} {desk.asking.asks}".strip(), width)
        line = [Piece("> ", "key"), *_with_cursor(desk.asking.line, width - 4)]
        keys = [Piece("Enter answers, Esc leaves it", "dim", ("ask",))]
        return [*[[Piece(t, "warn")] for t in text[-rows:]], line, keys]
    found = [(f"{desk.told} {_hint(desk)}".strip(), "good" if desk.told else "dim")]
    problems = desk.problems()
    faults = [p for p in problems if not p.hint]
    shown = faults or problems
    if shown:
        more = f" (and {len(problems) - 1} more)" if len(problems) > 1 else ""
        found.append((said(shown[0]) + more, "warn" if faults else "dim"))
    spoken = [(line, look) for words, look in found if words for line in wrapped(words, width)]
    said_lines: list[Line] = [[Piece(line, look)] for line, look in spoken[:rows]]
    said_lines += [[] for _ in range(rows - len(said_lines))]
    return [*said_lines, _keys(desk, width)]


def _hint(desk: Desk) -> str:
    """What can be typed in the field one is at."""
    field = desk.field_here() if desk.focus == "form" else None
    if field is None:
        return ""
    hint = " ".join(field.options) or field.hint
    if field.place == ("amount",):
        hint += f", in {things.measured_in(desk.values).replace('_', ' ')}"
    return f"{field.label}: {hint}." if hint else ""


def _keys(desk: Desk, width: int) -> Line:
    narrow = width < NARROW
    chips = [("F2", "add", "add"), ("F3", "paint", "paint"), ("F4", "goes", "remove"), ("F5", "undo", "undo"),
             ("F1", "help", "help"), ("F10", "end", "leave")]  # fmt: skip
    if desk.focus == "form":
        chips = [("Esc", "back", "back"), *chips[3:]]
    elif desk.focus == "sketch":
        chips = [
            ("␣", "cell", ""),
            ("⏎", "corner", ""),
            ("⌫", "rub", ""),
            ("Tab", "back", "back"),
            *chips[3:],
        ]
    elif desk.page != "Rooms":
        chips.pop(1)
    if desk.focus == "list":
        chips.insert(-2, ("F6", "page", "next"))
    if narrow:
        hidden = ("help", "remove") if desk.focus == "list" else ("help",)
        chips = [c for c in chips if c[2] not in hidden]
    line: Line = []
    for key, label, action in chips:
        target = ("do", action) if action else ()
        line += [
            Piece(key, "key", target),
            Piece(f" {label}  " if not narrow else f" {label} ", "dim", target),
        ]
    return line
