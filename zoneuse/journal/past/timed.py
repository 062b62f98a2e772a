"""The times of a table's rows, written in one column or two, in whatever order of day, month and year."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from zoneuse.study import Problem, ProblemError

from .headers import find_columns
from .stretches import end_of
from .table import TableFile

_CLOCK = re.compile(r"\d{1,2}[:.h]\d{2}([:.]\d{2})?( ?[ap]\.?m\.?)?", re.IGNORECASE)


class ReadTimes(Protocol):
    """What reading a column of written times comes to: times, or the orders of a date that still fit."""

    @property
    def times(self) -> Sequence[datetime | None]: ...
    @property
    def orders(self) -> Sequence[str]: ...


TimeReader = Callable[[Sequence[str], Sequence[str] | None, str], ReadTimes]


class UndecidedDatesError(ValueError):
    """Day and month could be either way round in the whole table. ``example`` is one of its dates."""

    def __init__(self, orders: Sequence[str], example: str) -> None:
        super().__init__(f"{example!r} can be {' or '.join(orders)}")
        self.orders, self.example = tuple(orders), example


def with_times(table: TableFile, read: TimeReader) -> TableFile:
    """The table with one column ``at`` in ISO form; a text that is no time stays, to be refused with its line.

    Raises UndecidedDatesError where the order of day and month must be asked, ProblemError where a lone column of
    clock times has no dates beside it.
    """
    rows = [dict(row) for _, row in table.rows]
    two = bool(rows) and "date" in rows[0]
    dates = [row["date" if two else "at"] for row in rows]
    clocks = [row["time"] for row in rows] if two else None
    found = read(dates, clocks, table.read_as.dates)
    if found.orders:
        example = next((text for text in dates if text), "")
        raise UndecidedDatesError(found.orders, example)
    if clocks is None and not any(found.times):
        _refuse_hours_alone(table, dates)
    for row, time in zip(rows, found.times, strict=True):
        row["at"] = time.isoformat() if time else _as_written(row)
    _ends(table, rows, found.times, read)
    lines = (line for line, _ in table.rows)
    return replace(table, rows=tuple(zip(lines, rows, strict=True)))


def _refuse_hours_alone(table: TableFile, texts: Sequence[str]) -> None:
    """ProblemError where what was taken for the column of times holds nothing but hours."""
    if not texts or not all(_CLOCK.fullmatch(text) for text in texts):
        return
    column = table.header[find_columns(table.header, table.read_as.columns, table.read_as.wide).places["at"]]
    others = ", ".join(name for name in table.header if name and name != column)
    raise ProblemError([Problem(
        "column", str(table.path), "header", f"{column!r} holds clock times such as {texts[0]!r} and no dates",
        f"a column of dates; the header also has: {others}",
        f"Name it with --column date=HEADER --column 'time={column}'",
    )])  # fmt: skip


def _ends(
    table: TableFile, rows: Sequence[dict[str, str]], starts: Sequence[datetime | None], read: TimeReader
) -> None:
    """``until`` of rows that last, in ISO form: from a clock time, how long it lasted, or a full time."""
    full = []
    for row, start in zip(rows, starts, strict=True):
        if start is None or not (row.get("until") or row.get("lasted")):
            continue
        try:
            end = end_of(row, start, table.read_as.cells)
        except ValueError:
            continue
        if end is None:
            full.append(row)
        else:
            row["until"] = end.isoformat()
    for row, time in zip(
        full, read([r["until"] for r in full], None, table.read_as.dates).times, strict=True
    ):
        row["until"] = time.isoformat() if time else row["until"]


def _as_written(row: Mapping[str, str]) -> str:
    return f"{row['date']} {row['time']}".strip() if "date" in row else row["at"]
