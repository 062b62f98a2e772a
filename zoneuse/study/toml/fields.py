"""Typed access to the tables of study.toml: every fault is noted with its key, none stops the reading."""

from __future__ import annotations

import contextlib
import difflib
import re
from collections.abc import Callable, Iterable, Mapping
from datetime import date, datetime, time
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

from ..clock import YEARS, to_utc
from ..model import Dated, Span
from ..problems import Problem

T = TypeVar("T")
# No amount, limit or time of an enclosure comes near.
_LARGEST = 10**15
_CLOCK = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def shown(value: object, most: int = 60) -> str:
    """A value as it stands in the file, short enough to read."""
    text = _written(value)
    return text if len(text) <= most else text[: most - 1] + "…"


def _written(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, datetime | date | time):
        return value.isoformat()
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{k} = {_written(v)}" for k, v in value.items()) + "}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_written, value)) + "]"
    return repr(value)


def parse_clock(text: object) -> time | None:
    if isinstance(text, time):
        return text
    found = _CLOCK.fullmatch(text) if isinstance(text, str) else None
    return time(int(found[1]), int(found[2])) if found else None


class Notes:
    """The faults and hints of one file, and the time zone its local times are read in."""

    def __init__(self, file: str, zone: ZoneInfo) -> None:
        self.file = file
        self.zone = zone
        self.problems: list[Problem] = []

    def fault(self, code: str, place: str, found: str, expected: str = "", remedy: str = "") -> None:
        self.problems.append(Problem(code, self.file, place, found, expected, remedy))

    def hint(self, code: str, place: str, found: str, expected: str = "", remedy: str = "") -> None:
        self.problems.append(Problem(code, self.file, place, found, expected, remedy, hint=True))

    def unknown(self, place: str, name: str, known: Iterable[str], kind: str) -> None:
        names = list(known)
        close = difflib.get_close_matches(name, names, 1)
        remedy = f"Did you mean {close[0]!r}?" if close else f"Known: {', '.join(names) or 'none yet'}"
        self.fault("unknown-id", place, f"{name!r} is not a {kind} of this study", f"a {kind}'s id", remedy)


class Table:
    """One TOML table. Each getter notes what is wrong and returns a usable value, so that reading goes on."""

    def __init__(self, values: Mapping[str, Any], place: str, notes: Notes) -> None:
        self.values = values
        self.place = place
        self.notes = notes
        self.asked: set[str] = set()

    def at(self, key: str) -> str:
        return f"{self.place}.{key}" if self.place else key

    def take(self, key: str, required: bool = False, expected: str = "", remedy: str = "") -> Any:
        """The raw value, or None with a fault where it is required."""
        self.asked.add(key)
        if key not in self.values and required:
            self.notes.fault(
                "missing", self.at(key), "is missing", expected, remedy or f"Add {key} = … there"
            )
        return self.values.get(key)

    def wrong(self, key: str, value: object, expected: str, remedy: str = "") -> None:
        self.notes.fault(
            "value", self.at(key), f"found {shown(value)}", expected, remedy or "Correct it there"
        )

    def text(self, key: str, required: bool = False, default: str = "", expected: str = "a text") -> str:
        value = self.take(key, required, expected)
        if value is None:
            return default
        if not isinstance(value, str) or (required and not value.strip()):
            self.wrong(key, value, expected)
            return default
        return value

    def choice(self, key: str, options: Iterable[str], required: bool = False, default: str = "") -> str:
        names = tuple(options)
        expected = "one of " + ", ".join(names)
        value = self.text(key, required, default, expected)
        if value and value not in names:
            close = difflib.get_close_matches(value, names, 1)
            self.wrong(key, value, expected, f"Did you mean {close[0]!r}?" if close else "")
            return default or names[0]
        return value

    def whole(self, key: str, default: int, least: int = 1, most: int = 10**9) -> int:
        value = self.take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            self.wrong(key, value, f"a whole number from {least} to {most}")
            return default
        return value

    def number(self, key: str, required: bool = False, expected: str = "a number") -> float | None:
        value = self.take(key, required, expected)
        if value is None:
            return None
        if not is_number(value):
            self.wrong(key, value, expected)
            return None
        return float(value)

    def flag(self, key: str, required: bool = False) -> bool | None:
        value = self.take(key, required, "true or false")
        if value is not None and not isinstance(value, bool):
            self.wrong(key, value, "true or false")
            return None
        return value

    def clock(self, key: str, required: bool = False, default: time | None = None) -> time | None:
        value = self.take(key, required, 'a clock time such as "07:30"')
        if value is None:
            return default
        parsed = parse_clock(value)
        if parsed is None:
            self.wrong(key, value, 'a clock time such as "07:30"')
        return parsed or default

    def clock_pair(self, key: str) -> tuple[time, time] | None:
        value = self.take(key)
        if value is None:
            return None
        times = [parse_clock(v) for v in value] if isinstance(value, list) else []
        if len(times) == 2 and times[0] is not None and times[1] is not None and times[0] != times[1]:
            return times[0], times[1]
        self.wrong(key, value, 'two different clock times such as ["07:30", "19:00"]')
        return None

    def moment(self, key: str, required: bool = False) -> datetime | None:
        value = self.take(key, required, "a date or time such as 2026-03-01 or 2026-03-01T10:00:00")
        if value is None:
            return None
        if isinstance(value, str):
            with contextlib.suppress(ValueError):
                value = datetime.fromisoformat(value)
        with contextlib.suppress(ValueError):
            if isinstance(value, date):
                return to_utc(value, self.notes.zone)
        self.wrong(key, value, "a date or time such as 2026-03-01 or 2026-03-01T10:00:00")
        return None

    def day(self, key: str, required: bool = False) -> date | None:
        value = self.take(key, required, "a date such as 2026-03-01")
        if isinstance(value, datetime):
            value = value.date()
        if value is None or (isinstance(value, date) and value.year in YEARS):
            return value
        self.wrong(key, value, "a date such as 2026-03-01")
        return None

    def texts(
        self, key: str, options: Iterable[str] = (), expected: str = 'a list such as ["one", "two"]'
    ) -> tuple[str, ...]:
        value = self.take(key)
        if value is None:
            return ()
        if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
            self.wrong(key, value, expected)
            return ()
        names = tuple(options)
        for item in value:
            if names and item not in names:
                self.wrong(key, item, "one of " + ", ".join(names))
        return tuple(item for item in value if not names or item in names)

    def table(self, key: str, required: bool = False) -> Table | None:
        section = f"a section [{self.at(key)}] with its entries below it"
        value = self.take(key, required, section)
        if value is None:
            return None
        if not isinstance(value, dict):
            self.wrong(key, value, section)
            return None
        return Table(value, self.at(key), self.notes)

    def named(self, key: str) -> dict[str, Table]:
        """A table of tables: ``[zones.moss_end]`` and its neighbours, by name."""
        outer = self.table(key)
        if outer is None:
            return {}
        return {name: inner for name in outer.values if (inner := outer.table(name)) is not None}

    def rows(self, key: str, required: bool = False) -> list[Table]:
        """A list of tables, such as ``placed = [{zone = …}]``; one table alone counts as a list of one."""
        value = self.take(key, required, "a list such as [{from = 2026-03-01}]")
        if value is None:
            return []
        if isinstance(value, dict):
            value = [value]
        if not isinstance(value, list):
            self.wrong(key, value, "a list such as [{from = 2026-03-01}]")
            return []
        good = []
        for i, row in enumerate(value):
            if isinstance(row, dict):
                good.append(Table(row, f"{self.at(key)}[{i + 1}]", self.notes))
            else:
                self.wrong(f"{key}[{i + 1}]", row, "an entry such as {from = 2026-03-01}")
        return good

    def span(self) -> Span:
        """``from`` and ``until`` of this row."""
        span = Span(self.moment("from"), self.moment("until"))
        if span.start is not None and span.until is not None and span.start >= span.until:
            self.wrong("until", self.values.get("until"), "a time after from")
            return Span(span.start)
        return span

    def timeline(
        self,
        key: str,
        read: Callable[[Table, str], T | None],
        required: bool = False,
        expected: str = "a value",
        named: str = "is",
    ) -> tuple[Dated[T], ...]:
        """A plain value, or a list of dated ones ``{from, until, is}``. ``read`` reads the value at a key."""
        value = self.take(key, required, expected)
        if value is None:
            return ()
        dated_list = isinstance(value, list) and value and all(isinstance(row, dict) for row in value)
        if not dated_list:
            plain = read(self, key)
            return () if plain is None else (Dated(Span(), plain),)
        dated = []
        for row in self.rows(key):
            span, inner = row.span(), read(row, named)
            if inner is None and named not in row.values:
                row.take(named, True, expected)
            elif inner is not None:
                dated.append(Dated(span, inner))
            row.done()
        self._overlaps(key, [d.span for d in dated])
        return tuple(dated)

    def _overlaps(self, key: str, spans: list[Span]) -> None:
        for i, one in enumerate(spans):
            for other in spans[i + 1 :]:
                if overlap(one, other):
                    self.notes.fault(
                        "overlap", self.at(key), "two of its dated values hold at the same time",
                        "each from its date until the next begins", "Give the earlier one an until",
                    )  # fmt: skip
                    return

    def done(self, must_count: bool = False) -> None:
        """Note keys nobody asked for: most are typing slips. ``must_count``: one that is not read is a fault."""
        note = self.notes.fault if must_count else self.notes.hint
        for key in self.values:
            if key not in self.asked:
                close = difflib.get_close_matches(key, self.asked, 1)
                remedy = f"Did you mean {close[0]!r}?" if close else "Remove it, or check its spelling"
                note("unknown-key", self.at(key), "is a key zoneuse does not know", "", remedy)


def is_number(value: object) -> bool:
    # Not by math.isfinite alone: it fails for whole numbers beyond what a float holds.
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < _LARGEST


def overlap(one: Span, other: Span) -> bool:
    """Whether two spans share a moment."""
    starts_before = one.start is None or other.until is None or one.start < other.until
    ends_after = one.until is None or other.start is None or one.until > other.start
    return starts_before and ends_after
