"""What is refused of an export's table as a whole, each with what leads out of it."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

from zoneuse.study import ProblemError, fault

from ..layout import ELAPSED, EPOCH, SERIAL, Hints, TimeColumns
from ..times.time_text import DAY_MS
from .columns import FileColumn
from .headers import read_header
from .splitting import split_line
from .table_shape import TableShape

# The remedy for dates without their clocks, and what is expected beside them.
IN_ONE_COLUMN = "Export it again with date and time in one column, such as 2026-04-03 14:05"
_A_CLOCK = "a clock time such as 14:05 beside each date"
# So many hours over the columns of a table make its rows days. 14, 14:00, H14, 14h.
_FEWEST_HOURS = 4
_PART_OF_DATE = re.compile(r"year|month|day|week|jahr|monat|tag|woche|weekday|wochentag", re.IGNORECASE)
_MONTH_OR_CLOCK = re.compile(
    r"month|monat|mois|mes|mese|time|zeit|uhrzeit|clock|hour|hhmm|heure|hora|ora", re.IGNORECASE
)
_EXPONENT = re.compile(r"[-+]?\d+(?:[.,](\d*))?[eE]([-+]?\d+)")
_EXACT_MS = 1000.0
_HOUR = re.compile(r"[hH]?(?:[01]?\d|2[0-4])(?:[:.h]00(?::00)?)?[hH]?")


def no_table(path: Path, text: str) -> ProblemError:
    lines = sum(1 for line in text.split("\n") if line.strip())
    if (kind := _other_kind(text)) is not None:
        return fault(
            "no-table", path, "", f"is {kind}, not a table of text", "a table of text (CSV), or a workbook",
            remedy="Open it in a spreadsheet program and save it as CSV, or export it as CSV",
        )  # fmt: skip
    return fault(
        "no-readings", path, "", f"none of its {lines} lines holds a time and a number: there are no readings in it",
        "lines with a time and a temperature or humidity",
        remedy="Check in the logger's own program that the recording is not empty, and export it again",
    )  # fmt: skip


def _other_kind(text: str) -> str | None:
    """What a text is that holds no table, where its first letters say so."""
    start = text.lstrip()[:200].casefold()
    if start.startswith(("<html", "<!doctype", "<table", "<?xml", "<")) and ">" in start:
        return "a web page or XML"
    return "JSON" if start.startswith(("{", "[{")) and ":" in start else None


def check_clock(path: Path, time: TimeColumns, rest: list[FileColumn], table: TableShape) -> None:
    """A date alone is a time only where no column beside it is called one, and none is called by an hour."""
    if time.kind == ELAPSED and time.per_unit_ms == DAY_MS:
        _check_days(path, time, rest, table)
    if not time.dated_only:
        return
    _check_hours(path, table)
    called = [c for c in rest if c.meaning.role in ("time", "elapsed") and c.kind != "empty"]
    clock = next((c for c in called if not _PART_OF_DATE.fullmatch(c.header)), None)
    if clock is None and table.doubt and len(_named_times(table)) > 1:
        raise fault(
            "no-clock", path, "", f"the header names {' and '.join(map(repr, _named_times(table)))}, and only dates "
            "were found", _A_CLOCK,
            remedy=IN_ONE_COLUMN,
        )  # fmt: skip
    if clock is not None:
        raise fault(
            "no-clock", path, "", f"the date has no clock, and column {clock.at + 1} {clock.header!r} was not "
            f"understood as one ({clock.distinct[0]!r})", _A_CLOCK,
            remedy=IN_ONE_COLUMN,
        )  # fmt: skip


def _check_hours(path: Path, table: TableShape) -> None:
    """Hours in the header are one time to a column."""
    lines = (*table.preamble[-1:], *table.header_lines)
    hours = [c for line in lines for c in split_line(line, table.delimiter) if _HOUR.fullmatch(c)]
    if len(hours) >= _FEWEST_HOURS:
        raise fault(
            "hours-across", path, "", f"each row holds a day, and its hours stand side by side "
            f"({hours[0]}, {hours[1]} …)", "one time to a row",
            remedy="Put the hours below each other, a row for each time, with date and time in one column",
        )  # fmt: skip


def _check_days(path: Path, time: TimeColumns, rest: list[FileColumn], table: TableShape) -> None:
    """Whole days counted beside a clock or a month are days of a year or a month, and no time passed."""
    counted = [row[time.columns[0]] for row in table.rows]
    beside = next((c for c in rest if _MONTH_OR_CLOCK.fullmatch(c.header) and c.kind != "empty"), None)
    if beside is None or not all(cell.isdigit() for cell in counted if cell):
        return
    if any("year" in c.header.casefold() or "jahr" in c.header.casefold() for c in rest):
        raise fault(
            "no-clock", path, "", f"column {beside.at + 1} {beside.header!r} holds months in words, apart from their "
            "days", "months in numbers, or the date in one column",
            remedy=IN_ONE_COLUMN,
        )  # fmt: skip
    raise fault(
        "no-year", path, "", f"column {time.columns[0] + 1} holds days without a year, beside column {beside.at + 1} "
        f"{beside.header!r}", "a year for each of them",
        remedy="Put a column 'year' before them in a spreadsheet program, and save it as CSV",
    )  # fmt: skip


def no_time(path: Path, table: TableShape, columns: list[FileColumn], hints: Hints) -> ProblemError:
    given = [name for name, what in hints.columns if what == "at"]
    could = [c for c in columns if c.kind in ("full", "date", "clock")]
    if given:
        remedy = "Leave out --column NAME=at" if could else "Export the readings with their times"
        return fault(
            "no-time", path, f"line {table.first + 1}", f"column {' and '.join(given)} cannot be read as a time",
            "a date and time (2026-04-03 14:05, 03.04.2026 14:05, seconds since 1970 …)", remedy=remedy,
        )  # fmt: skip
    return fault(
        "no-time", path, f"line {table.first + 1}", "no column holds a date and time",
        "a time column (2026-04-03 14:05, 03.04.2026 14:05, seconds since 1970 …)",
        remedy="Export the readings with their times in one column, such as 2026-04-03 14:05",
    )  # fmt: skip


def _named_times(table: TableShape) -> list[str]:
    """The names for a time in the lines over the table."""
    lines = (*table.preamble[-1:], *table.header_lines)
    cells = (cell for line in lines for cell in split_line(line, table.delimiter))
    return list(dict.fromkeys(c for c in cells if read_header(c).role in ("time", "elapsed")))


def check_rounded(path: Path, columns: Sequence[FileColumn], time: TimeColumns) -> None:
    """Times written as 1.714723E+09: what a spreadsheet rounded away is gone."""
    if time.kind not in (EPOCH, SERIAL, ELAPSED):
        return
    cells = [c for c in columns[time.columns[0]].cells if c]
    found = [m for c in cells if (m := _EXPONENT.fullmatch(c))]
    if len(found) * 2 <= len(cells):
        return
    coarse = max(10.0 ** (int(m[2]) - len(m[1] or "")) for m in found) * time.per_unit_ms
    if coarse > _EXACT_MS:
        raise fault(
            "rounded-times", path, "", f"its times are rounded ({cells[0]!r}): a spreadsheet shortened long numbers",
            "times with all their digits", remedy="Export it again, and do not save it from a spreadsheet program; or "
            "give that column the format of a whole number before saving",
        )  # fmt: skip


def check_blocks(
    path: Path, columns: Sequence[FileColumn], time: TimeColumns, measured: Sequence[int], hints: Hints
) -> None:
    """Values behind a time of their own are another table, side by side with the first."""
    if any(what == "at" for _, what in hints.columns):
        return
    groups = _times(columns, time)
    used = _group(groups, time.columns[0])
    others = [v for v in sorted(measured) if (own := _group(groups, v)) is not None and own != used]
    measures = any(_group(groups, c.at) == used for c in columns if c.kind == "number")
    second = _group(groups, others[0]) if others else None
    if used is None or second is None or not measures:
        return
    first = time.columns[0]
    mine = next((v for v in sorted(measured) if _group(groups, v) == used), used + 1)
    raise fault(
        "side-by-side", path, "", f"two tables stand side by side: columns {first + 1} {columns[first].header!r} and "
        f"{second + 1} {columns[second].header!r} are both times", "one time to a row",
        remedy=f"Give --column {first + 1}=at and --column {mine + 1}=QUANTITY for the first, then "
        f"--column {second + 1}=at and --column {others[0] + 1}=QUANTITY for the second, each with its --logger",
    )  # fmt: skip


def _times(columns: Sequence[FileColumn], time: TimeColumns) -> list[tuple[int, bool]]:
    """The columns of times, and whether each begins some that touch: those are one and the same, as local and UTC."""
    clocked = any(columns[c].kind == "clock" for c in time.columns)
    found = [c.at for c in columns if _is_time(c, clocked)]
    return [(at, at - 1 not in found) for at in found]


def _is_time(column: FileColumn, clocked: bool) -> bool:
    """Whether a column is a time; a column of clocks, where the time used has one."""
    if column.kind in ("full", "date") or (clocked and column.kind == "clock"):
        return True
    return column.kind == "number" and column.meaning.role == "time"


def _group(groups: Sequence[tuple[int, bool]], at: int) -> int | None:
    """The first column of the times nearest to the left of a column (or at it); None where there is none."""
    return max((start for start, first in groups if first and start <= at), default=None)
