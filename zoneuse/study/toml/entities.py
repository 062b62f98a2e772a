"""Each kind of table in study.toml, read into its record."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import cast

from ..keys import (
    ANIMAL_KEY,
    BEHAVIOUR_KEY,
    ZONE_KEY,
    cells_of,
    composed,
    may_be_animal,
    may_be_behaviour,
    may_be_zone,
)
from ..model import (
    MEASURES,
    METHODS,
    ONLY,
    ROLES,
    SERVES,
    Animal,
    Behaviour,
    Bounds,
    ClockCheck,
    Dated,
    Enclosure,
    Group,
    Lights,
    Logger,
    Method,
    Placement,
    Presence,
    SaltPoint,
    SetRange,
    Span,
    Watching,
    Worn,
    Zone,
)
from ..quantities import QUANTITIES
from ..watching_times import WINDOW_FORMS, parse_window
from .fields import Table, is_number, overlap
from .tracked import outlines

SALTS = ("LiCl", "CH3COOK", "MgCl2", "K2CO3", "Mg(NO3)2", "NaBr", "NaCl", "KCl", "KNO3", "K2SO4")


def enclosure(name: str, table: Table) -> Enclosure:
    read = Enclosure(
        id=name,
        measured_in=table.choice("measured_in", MEASURES, required=True),
        sketch=cells_of(table.texts("sketch", expected='a list of rows such as ["ccccww", "cccc.."]')),
        lights=table.timeline("lights", _lights, expected='{on = "07:30", off = "19:00"}'),
    )
    table.done()
    return read


def _lights(table: Table, key: str) -> Lights | None:
    inner = table.table(key)
    if inner is None:
        return None
    on, off = inner.clock("on", True), inner.clock("off", True)
    standard = inner.choice("clock", ("local", "standard"), default="local") == "standard"
    inner.done()
    if on is None or off is None:
        return None
    if on == off:
        inner.wrong("off", inner.values.get("off"), "another time than on")
        return None
    return Lights(on, off, standard)


# Hours of the week when somebody can watch: every hour of it would be 168.
_MOST_WINDOWS = 200
_HOW_MUCH = "how much of it there is, in measured_in"


def _amount(table: Table, key: str) -> float | None:
    value = table.values.get(key)
    if not is_number(value) or float(cast(float, value)) <= 0:
        table.wrong(key, value, "a number above 0, in the enclosure's measured_in")
        return None
    return table.number(key)


def _cover(table: Table, key: str) -> float | None:
    value = table.values.get(key)
    if not is_number(value) or not 0 <= float(cast(float, value)) <= 1:
        table.wrong(key, value, "a number from 0 (exposed) to 1 (enclosed)")
        return None
    return table.number(key)


def _size(table: Table, key: str) -> int | None:
    value = table.values.get(key)
    if isinstance(value, bool) or not isinstance(value, int) or value < 0:
        table.wrong(key, value, "a whole number of animals")
        return None
    table.take(key)
    return value


def _home(table: Table, enclosures: Mapping[str, Enclosure]) -> str:
    """The enclosure a zone stands in; one that has no name is the only one."""
    if ONLY in enclosures or not enclosures:
        table.take("enclosure")
        return ONLY
    return table.choice("enclosure", enclosures, required=True)


def zone(name: str, table: Table, enclosures: Mapping[str, Enclosure]) -> Zone:
    daily = table.clock_pair("daily")
    rows = table.rows("present")
    present = []
    for row in rows:
        present.append(Presence(row.span(), row.clock_pair("daily") or daily))
        row.done()
    # What turned up on a date may not have been measured yet; what was always there has been.
    dated = any(row.span.start is not None for row in present)
    read = Zone(
        id=name,
        label=table.text("label", True),
        key=_key(table, ZONE_KEY, may_be_zone),
        enclosure=_home(table, enclosures),
        place=table.text("place", default=name),
        amount=table.timeline("amount", _amount, not dated, _HOW_MUCH),
        role=table.choice("role", ROLES, default="other"),
        serves=table.texts("serves", SERVES),
        cover=table.timeline("cover", _cover),
        present=tuple(present) or (Presence(Span(), daily),),
        common=table.text("as"),
        outlines=outlines(table),
    )
    if dated and "amount" not in table.values:
        table.notes.hint(
            "no-amount", table.at("amount"), "is not given yet", _HOW_MUCH,
            "Measure it and write it; until then answers leave this zone out, and say so",
        )  # fmt: skip
    table.done()
    return read


def _key(table: Table, expected: str, fits: Callable[[str], bool]) -> str:
    """A key, or none: what only comes from tables needs none."""
    key = composed(table.text("key", expected=expected))
    if key and not fits(key):
        table.wrong("key", key, expected)
        return ""
    return key


def _lives(table: Table, enclosures: Mapping[str, Enclosure]) -> tuple[Dated[str], ...]:
    if ONLY in enclosures or not enclosures:
        table.take("lives")
        return (Dated(Span(), ONLY),)
    lives = []
    for row in table.rows("lives", required=True):
        lives.append(Dated(row.span(), row.choice("enclosure", enclosures, required=True)))
        row.done()
    for i, one in enumerate(lives):
        if any(overlap(one.span, other.span) for other in lives[i + 1 :]):
            table.wrong(
                "lives", table.values.get("lives"), "one enclosure at a time", "Give the earlier one an until"
            )
            break
    return tuple(lives)


def _present(table: Table) -> tuple[Span, ...]:
    spans = []
    for row in table.rows("present"):
        spans.append(row.span())
        row.done()
    return tuple(spans) or (Span(),)


def animal(name: str, table: Table, enclosures: Mapping[str, Enclosure]) -> Animal:
    read = Animal(
        id=name,
        label=table.text("label", True),
        key=_key(table, ANIMAL_KEY, may_be_animal),
        lives=_lives(table, enclosures),
        present=_present(table),
    )
    table.done()
    return read


def group(name: str, table: Table, enclosures: Mapping[str, Enclosure]) -> Group:
    read = Group(
        id=name,
        label=table.text("label", True),
        key=_key(table, ANIMAL_KEY, may_be_animal),
        lives=_lives(table, enclosures),
        size=table.timeline("size", _size, True, "how many animals, such as 6"),
        present=_present(table),
    )
    table.done()
    return read


def behaviour(name: str, table: Table) -> Behaviour:
    read = Behaviour(
        id=name,
        label=table.text("label", True),
        key=_key(table, BEHAVIOUR_KEY, may_be_behaviour),
        lasts=bool(table.flag("lasts", required=True)),
        active=table.flag("active"),
        means=table.text("means"),
    )
    table.done()
    return read


def logger(name: str, table: Table) -> Logger:
    worn, model, placed = _worn(table), bool(table.flag("model")), []
    for row in table.rows("placed", required=not worn):
        span = row.span()
        placed.append(
            Placement(
                row.text("zone", True, expected="a zone's id"), span.start, span.until, row.text("spot")
            )
        )
        row.done()
    clock = []
    for row in table.rows("clock"):
        true, seen = row.moment("true", True), row.moment("shown", True)
        if true is not None and seen is not None:
            clock.append(ClockCheck(true, seen))
        row.done()
    accuracy = table.table("accuracy")
    lies = tuple(placed)
    read = Logger(
        name,
        () if model else lies,
        tuple(clock),
        _salt_points(table),
        _accuracy(accuracy),
        lies if model else (),
        worn,
    )
    table.done()
    return read


def _worn(table: Table) -> tuple[Worn, ...]:
    found = []
    for row in table.rows("worn"):
        found.append(Worn(row.text("animal", True, expected="an animal's id"), row.span()))
        row.done()
    return tuple(found)


def _salt_points(table: Table) -> tuple[SaltPoint, ...]:
    points = []
    for row in table.rows("salt_points"):
        salt, on = row.choice("salt", SALTS, required=True), row.day("on", True)
        at_c, shown_pct = row.number("at_c", True), row.number("shown_pct", True)
        if on is not None and at_c is not None and shown_pct is not None:
            points.append(SaltPoint(salt, at_c, shown_pct, on))
        row.done()
    return tuple(points)


def _accuracy(table: Table | None) -> dict[str, float]:
    if table is None:
        return {}
    read = {}
    for quantity in QUANTITIES:
        value = table.number(quantity)
        if value is not None and value <= 0:
            table.wrong(quantity, value, "a number above 0")
        elif value is not None:
            read[quantity] = value
    table.done()
    return read


def _bounds(table: Table, key: str) -> Bounds | None:
    inner = table.table(key)
    if inner is None:
        return None
    low, high = inner.number("low"), inner.number("high")
    inner.done()
    if low is None and high is None:
        inner.notes.fault(
            "value", inner.place, "has neither low nor high", "{low = 75} or {low = 12, high = 20}", ""
        )
        return None
    if low is not None and high is not None and low >= high:
        inner.wrong("low", low, "less than high")
        return None
    return Bounds(low, high)


def limits(table: Table) -> dict[str, tuple[Dated[Bounds], ...]]:
    read = {q: line for q in QUANTITIES if (line := table.timeline(q, _bounds, expected="{low = 75}"))}
    # A limit that is misspelt would warn of nothing.
    table.done(must_count=True)
    return read


def set_ranges(table: Table | None) -> dict[str, SetRange]:
    if table is None:
        return {}
    read = {}
    for quantity in QUANTITIES:
        inner = table.table(quantity)
        if inner is None:
            continue
        low, high, source = inner.number("low", True), inner.number("high", True), inner.text("source", True)
        inner.done()
        if low is not None and high is not None and low >= high:
            inner.wrong("low", low, "less than high")
        elif low is not None and high is not None:
            read[quantity] = SetRange(low, high, source)
    table.done()
    return read


def watching(table: Table | None) -> Watching:
    if table is None:
        return Watching()
    read = Watching(
        observer=table.text("observer", default="keeper") or "keeper",
        method=cast(Method, table.choice("method", METHODS, default="scan")),
        every_s=table.whole("every_s", 60, most=7 * 86_400),
        minutes=table.whole("minutes", 10, most=7 * 1440),
        says_minutes=table.take("minutes") is not None,
        can=table.texts("can", expected='a list such as ["weekdays 19:00-23:00"]'),
    )
    if len(read.can) > _MOST_WINDOWS:
        table.wrong("can", f"{len(read.can)} windows", f"at most {_MOST_WINDOWS}")
    for window in read.can[:_MOST_WINDOWS]:
        if parse_window(window) is None:
            table.wrong("can", window, WINDOW_FORMS)
    table.done()
    return read
