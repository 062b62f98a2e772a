"""What a key or a touch does.

Keys come as their names (``f2``, ``enter``) and what they type; touches as the target that was touched.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

from .desk import Desk
from .moves import (
    add,
    enter,
    go_to,
    in_form,
    in_list,
    is_here,
    load,
    open_form,
    open_page,
    remove,
    settle,
    to_add,
    turn,
)
from .sketching import in_sketch, to_sketch, touch_cell

# What each key of the program does; none needs Shift, and each has a second for keyboards without F keys.
KEYS = {
    "f1": "help", "ctrl+g": "help", "f2": "add", "ctrl+n": "add", "f3": "paint", "ctrl+p": "paint",
    "f4": "remove", "ctrl+r": "remove", "f5": "undo", "ctrl+z": "undo", "pagedown": "next", "pageup": "previous",
    "f6": "next", "f10": "leave", "ctrl+q": "leave", "ctrl+c": "leave", "ctrl+s": "saved",
}  # fmt: skip


def press(desk: Desk, key: str, character: str | None = None) -> None:
    """One key."""
    if desk.help:
        desk.help = False
        return
    if desk.asking is not None:
        answer(desk, key, character)
        return
    desk.told = ""
    if key in KEYS:
        do(desk, KEYS[key])
    elif desk.focus == "list" and desk.page == "Rooms" and key == "tab":
        to_sketch(desk)
    else:
        {"list": in_list, "form": in_form, "sketch": in_sketch}[desk.focus](desk, key, character)
    desk.told = desk.told or desk.draft.told
    desk.draft.told = ""


def do(desk: Desk, action: str) -> None:
    """One of the program's actions, by its key or by a touch."""
    if action != "leave" and not settle(desk):
        return
    actions: dict[str, Callable[[Desk], None]] = {
        "help": show_help, "add": to_add, "paint": to_sketch, "remove": remove, "undo": undo,
        "next": partial(turn, step=1), "previous": partial(turn, step=-1), "leave": leave, "saved": say_saved,
        "back": partial(in_form, key="escape", character=None),
    }  # fmt: skip
    actions[action](desk)


def paste(desk: Desk, text: str) -> None:
    """Pasted text, of use where text is written."""
    line = desk.asking.line if desk.asking else desk.line if desk.writes() else None
    if line is not None:
        line.insert(text)
        desk.typed = desk.typed or desk.asking is None


def touch(desk: Desk, target: tuple[Any, ...]) -> None:
    """What was touched: ("page", name), ("row", i), ("field", i), ("cell", row, column), ("do", action)."""
    if desk.help:
        desk.help = False
        return
    if desk.asking is not None:
        if target[0] == "ask":
            answer(desk, "enter", None)
        return
    desk.told = ""
    if target[0] != "cell" and not settle(desk):
        return
    if target[0] == "page":
        open_page(desk, target[1])
    elif target[0] == "row":
        touch_row(desk, target[1])
    elif target[0] == "field":
        open_form(desk, target[1])
    elif target[0] == "cell":
        touch_cell(desk, (target[1], target[2]))
    elif target[0] == "do":
        do(desk, target[1])


def touch_row(desk: Desk, at: int) -> None:
    again = desk.focus == "list" and at == desk.at
    desk.focus = "list"
    typed = desk.line.value if again else ""
    go_to(desk, at)
    row = desk.row()
    if row.adds and typed:
        add(desk, row.adds, typed)
    elif row.plain or (again and row.thing):
        enter(desk, row)


def answer(desk: Desk, key: str, character: str | None) -> None:
    question = desk.asking
    assert question is not None
    if key == "escape":
        desk.asking = None
        desk.told = "Nothing was changed."
        if desk.focus == "form":
            load(desk)
    elif key == "enter":
        desk.asking = None
        try:
            question.then(question.line.value)
        except ValueError as error:
            question.wrong = f"{error}."
            desk.asking = question
    else:
        question.line.press(key, character)


def show_help(desk: Desk) -> None:
    desk.help = True


def say_saved(desk: Desk) -> None:
    desk.told = (
        "Not in study.toml while there is a fault; it is kept beside it."
        if desk.draft.unsaved
        else "Everything is in study.toml."
    )


def leave(desk: Desk) -> None:
    if settle(desk):
        desk.left = True


def undo(desk: Desk) -> None:
    desk.draft.undo()
    desk.told = desk.draft.told
    if not is_here(desk, desk.thing):
        desk.focus, desk.thing = "list", None
    if desk.focus == "list":
        go_to(desk, desk.at)
    elif desk.focus == "form":
        load(desk)
