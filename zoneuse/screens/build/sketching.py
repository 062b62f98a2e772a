"""Painting rooms on the sketch, by keys, mouse or finger."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ...study.draft import painting
from .desk import Desk
from .moves import open_page, settle

_MOVES = {"up": (-1, 0), "down": (1, 0), "left": (0, -1), "right": (0, 1)}


def to_sketch(desk: Desk) -> None:
    if desk.page != "Rooms":
        open_page(desk, "Rooms")
    rooms = [row.thing for row in desk.rows() if row.thing]
    if not rooms:
        desk.told = "Add a room first: type its name, then Enter."
        return
    desk.thing = desk.thing or rooms[0]
    desk.focus, desk.corner = "sketch", None


def in_sketch(desk: Desk, key: str, character: str | None) -> None:
    rows, columns = len(desk.cells), len(desk.cells[0])
    if key in _MOVES:
        down, right = _MOVES[key]
        desk.cursor = (
            max(0, min(desk.cursor[0] + down, rows - 1)), max(0, min(desk.cursor[1] + right, columns - 1))
        )  # fmt: skip
    elif key in ("escape", "tab"):
        desk.focus, desk.corner = "list", None
    elif key == "space":
        paint(desk, [desk.cursor])
    elif key == "enter":
        if desk.corner is None:
            desk.corner = desk.cursor
            desk.told = "Go to the opposite corner, then Enter again."
        else:
            paint(desk, painting.rectangle(desk.corner, desk.cursor))
            desk.corner = None
    elif key in ("backspace", "delete"):
        paint(desk, painting.rectangle(desk.corner or desk.cursor, desk.cursor), rub=True)
        desk.corner = None
    elif character and character.isprintable():
        pick(desk, character)


def pick(desk: Desk, character: str) -> None:
    """The room of this key is what one paints with; keys of two characters come one after the other."""
    rooms = {
        row.key: row.thing for row in desk.rows() if row.thing and row.key and desk.is_in_sight(row.thing)
    }
    typed = desk.half + character
    desk.half = typed if typed not in rooms and any(key.startswith(typed) for key in rooms) else ""
    if typed in rooms:
        desk.thing = rooms[typed]
        desk.told = f"Painting {desk.named(desk.thing)}." if desk.thing else ""


def paint(desk: Desk, spots: Sequence[tuple[int, int]], rub: bool = False) -> None:
    """Cells in the key of the room one is at, or rubbed out."""
    if not rub and not desk.pot:
        desk.told = "It has no key yet, and the sketch is painted with keys."
        return
    cells = painting.painted(desk.cells, spots, "" if rub else desk.pot)
    desk.draft.do(painting.drawn(desk.values, desk.enclosure, cells))


def touch_cell(desk: Desk, spot: tuple[int, int]) -> None:
    """Pressed on a cell of its own room it rubs out, on any other it paints; so does a drag that begins there."""
    if desk.focus == "form" and not settle(desk):
        return
    to_sketch(desk)
    if desk.focus == "sketch":
        desk.cursor = spot
        desk.pen = "rub" if desk.pot and desk.cells[spot[0]][spot[1]] == desk.pot else "paint"
        paint(desk, [spot], rub=desk.pen == "rub")


def drag(desk: Desk, target: tuple[Any, ...]) -> None:
    if desk.pen and target and target[0] == "cell" and (target[1], target[2]) != desk.cursor:
        desk.cursor = (target[1], target[2])
        paint(desk, [desk.cursor], rub=desk.pen == "rub")


def release(desk: Desk) -> None:
    desk.pen = ""
