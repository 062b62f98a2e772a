"""From line to line and field to field: adding, opening, typing over, asking since when, taking out."""

from __future__ import annotations

from collections.abc import Callable

from ...study import FormLine, Thing, parse_when, written
from ...study.draft import enclosures, forms, things
from ...study.draft.dated import When
from ..text_line import TextLine
from .desk import PAGES, AskedBelow, Desk, DeskItem


def open_page(desk: Desk, page: str) -> None:
    desk.page, desk.focus, desk.corner, desk.pen = page, "list", None, ""
    rows = desk.rows()
    there = [i for i, row in enumerate(rows) if row.thing is not None]
    go_to(desk, 0 if there else next((i for i, row in enumerate(rows) if row.adds), 0))


def go_to(desk: Desk, at: int) -> None:
    rows = desk.rows()
    desk.at = max(0, min(at, len(rows) - 1))
    row = rows[desk.at]
    desk.thing = row.thing or (desk.thing if row.adds and is_here(desk, desk.thing) else None)
    desk.line, desk.typed, desk.field_at = TextLine(), False, 0


def turn(desk: Desk, step: int) -> None:
    open_page(desk, PAGES[(PAGES.index(desk.page) + step) % len(PAGES)])


def in_list(desk: Desk, key: str, character: str | None) -> None:
    row = desk.row()
    if key in ("up", "down"):
        go_to(desk, desk.at + (1 if key == "down" else -1))
    elif key == "enter":
        enter(desk, row)
    elif key == "tab":
        open_form(desk)
    elif key == "escape":
        desk.line, desk.typed = TextLine(), False
    elif row.adds:
        desk.line.press(key, character)
        desk.typed = bool(desk.line.value)
    elif key == "right":
        open_form(desk)
    elif key == "delete":
        remove(desk)
    elif character and character.isprintable():
        mine = [i for i, one in enumerate(desk.rows()) if one.key == character]
        if mine:
            go_to(desk, mine[0])


def enter(desk: Desk, row: DeskItem) -> None:
    if row.thing is not None:
        open_form(desk)
    elif row.plain:
        thing, edits = things.chosen_behaviour(desk.values, row.plain)
        desk.draft.do(edits)
        desk.told = f"{desk.named(thing)} is in, with the key {desk.key_of(thing)}."
        go_to(desk, desk.at + 1)
    elif desk.line.value.strip():
        add(desk, row.adds, desk.line.value.strip())
    else:
        desk.told = "Type its name, then Enter."


def add(desk: Desk, kind: str, label: str) -> None:
    if kind == "enclosures":
        add_enclosure(desk, label)
    elif kind == "phases":
        ask_when(
            desk,
            f"Since when has it been {label}?",
            lambda since: added(desk, kind, label, since),
            always=False,
        )
    elif desk.recorded and kind not in ("behaviours", "treatments"):
        ask_when(desk, f"Since when has {label} been there?", lambda since: added(desk, kind, label, since))
    else:
        added(desk, kind, label, None)


def add_enclosure(desk: Desk, label: str) -> None:
    """Another enclosure: what the first one is called, and whether the new one has the same rooms."""

    def name_first(text: str) -> None:
        if not text.strip():
            raise ValueError("It needs a name, as on its lid: Tub 1")
        ask_rooms(text.strip())

    def ask_rooms(first: str) -> None:
        desk.asking = AskedBelow(
            f"Does {label} have the same rooms as {first}, with the same keys? Enter: yes; no: none yet.",
            lambda text: ask_since(first, not text.strip().lower().startswith("n")), TextLine(),
        )  # fmt: skip

    def ask_since(first: str, rooms: bool) -> None:
        if desk.recorded:
            ask_when(desk, f"Since when has {label} been there?", lambda since: do(first, rooms, since))
        else:
            do(first, rooms, None)

    def do(first: str, rooms: bool, since: When | None) -> None:
        like, edits = enclosures.named_first(desk.values, first)
        name, more = enclosures.another(desk.values, label, like, rooms, since)
        if desk.draft.do([*edits, *more]):
            desk.line, desk.typed = TextLine(), False
            then = "Say on the page Animals who lives where." if rooms else "Add its rooms on the page Rooms."
            desk.told = f"{name} is in beside {like}. {then}"

    there = list(forms.section(desk.values, ("enclosures",)))
    if there:
        ask_rooms(there[0])
    else:
        asks = "What is the enclosure you already have called? Its rooms and animals will say so: Tub 1"
        desk.asking = AskedBelow(asks, name_first, TextLine())


def added(desk: Desk, kind: str, label: str, since: When | None) -> None:
    thing, edits = things.added(desk.values, kind, label, since)
    if not desk.draft.do(edits):
        return
    desk.line, desk.typed = TextLine(), False
    desk.at = next(i for i, row in enumerate(desk.rows()) if row.thing == thing)
    desk.thing = thing
    desk.told = f"{desk.named(thing)} has the key {desk.key_of(thing)}." if kind != "loggers" else ""
    missing = first_missing(desk)
    if missing is None:
        to_add(desk, kind)
    else:
        open_form(desk, missing)


def first_missing(desk: Desk) -> int | None:
    """The field to ask for next: the one a fault speaks of, or for a new room how much of it there is."""
    faults = [p.place for p in desk.problems() if not p.hint]
    base = ".".join(map(str, forms.base(desk.thing))) if desk.thing else ""
    for i, one in enumerate(desk.fields()):
        place = f"{base}.{one.place[0]}"
        if any(f == place or f.startswith((f"{place}.", f"{place}[")) for f in faults):
            return i
        if one.place == ("amount",) and not desk.value(one):
            return i
    return None


def to_add(desk: Desk, kind: str = "") -> None:
    rows = desk.rows()
    desk.focus = "list"
    at = next((i for i, row in enumerate(rows) if row.adds and (not kind or row.adds == kind)), None)
    if at is None:
        desk.told = "Nothing is added here; Page Down turns to the next page."
    else:
        thing = desk.thing
        go_to(desk, at)
        desk.thing = thing if is_here(desk, thing) else None


def open_form(desk: Desk, at: int = 0) -> None:
    if desk.thing is None:
        desk.told = desk.told or "Nothing is here yet: add it first."
        return
    desk.focus, desk.field_at = "form", at
    load(desk)


def load(desk: Desk) -> None:
    one = desk.field_here()
    text = desk.value(one) if one else ""
    desk.line, desk.typed = TextLine(text, len(text)), False


def in_form(desk: Desk, key: str, character: str | None) -> None:
    one = desk.field_here()
    if one is None or (key == "escape" and not desk.typed):
        desk.focus = "list"
        desk.line = TextLine()
    elif key == "escape":
        load(desk)
    elif key in ("enter", "tab", "down", "up", "shift+tab"):
        step = -1 if key in ("up", "shift+tab") else 1
        commit(desk, lambda: next_field(desk, step, by_enter=key == "enter"))
    elif one.options and one.how == "choice" and key in ("left", "right"):
        cycle(desk, one, 1 if key == "right" else -1)
    else:
        desk.line.press(key, character)
        desk.typed = desk.line.value != desk.value(one)


def cycle(desk: Desk, one: FormLine, step: int) -> None:
    options = ["", *one.options] if not one.required else list(one.options)
    at = options.index(desk.line.value) if desk.line.value in options else 0
    text = options[(at + step) % len(options)]
    desk.line, desk.typed = TextLine(text, len(text)), text != desk.value(one)


def next_field(desk: Desk, step: int, by_enter: bool = False) -> None:
    """Enter after the last thing that was asked for goes on to the next thing; else from field to field."""
    fresh = desk.thing is not None and (desk.thing.kind, desk.thing.id) not in desk.stood
    one = desk.field_here()
    if (
        by_enter
        and fresh
        and one
        and one.place[0] in ("amount", "placed", "size")
        and first_missing(desk) is None
    ):
        to_add(desk, desk.thing.kind if desk.thing else "")
        return
    last = len(desk.fields()) - 1
    if desk.field_at + step > last and by_enter:
        desk.focus, desk.line = "list", TextLine()
        return
    desk.field_at = max(0, min(desk.field_at + step, last))
    load(desk)


def commit(desk: Desk, then: Callable[[], None]) -> None:
    """Take what is typed over, asking since when where it changes with time; then go on."""
    one = desk.field_here()
    if not desk.typed or one is None or desk.thing is None:
        then()
        return
    text = desk.line.value

    def take(since: When | None) -> None:
        desk.typed = not desk.draft.do(desk.edits_of(one, text, since))
        then()

    if forms.dated_now(one) and desk.value(one) and desk.kept(desk.thing):
        ask_when(desk, f"Since when has it been {text or 'so'}?", take)
    else:
        take(None)


def ask_when(desk: Desk, asks: str, then: Callable[[When | None], None], always: bool = True) -> None:
    def answer(text: str) -> None:
        words = text.strip().lower()
        if always and words and "always".startswith(words):
            then(None)
            return
        then(written(parse_when(words or "now", desk.clock(), desk.zone), desk.zone))

    hint = " Enter: now; always: it was always so; or a date." if always else " Enter: now; or a date."
    desk.asking = AskedBelow(asks + hint, answer, TextLine())


def remove(desk: Desk) -> None:
    thing = desk.thing
    if thing is None or thing.kind in ("study", "enclosure", "enclosures", "watching"):
        desk.told = "First go to what is to be removed; the study itself stays."
    elif not desk.kept(thing) or thing.kind in ("limits", "phases"):
        removed(desk, thing, None)
        desk.told = desk.told or "Taken out. F5 or Ctrl+Z brings it back."
    elif things.can_be_dated(thing):
        ask_when(
            desk,
            f"Until when was {desk.named(thing)} there?",
            lambda until: removed(desk, thing, until),
            always=False,
        )
    else:
        desk.told = "Records may mention it, and it has no dates of its own: it stays."


def removed(desk: Desk, thing: Thing, until: When | None) -> None:
    if desk.draft.do(things.removed(desk.values, thing, until)):
        desk.focus = "list"
        go_to(desk, desk.at)


def is_here(desk: Desk, thing: Thing | None) -> bool:
    return thing is not None and any(row.thing == thing for row in desk.rows())


def settle(desk: Desk) -> bool:
    """Before something else is done, what was typed is taken over; False where that asks something first."""
    if desk.focus == "form" and desk.typed:
        commit(desk, lambda: None)
    return desk.asking is None
