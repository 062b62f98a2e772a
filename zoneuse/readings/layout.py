"""What was understood of an export: where its times, values and marks stand, and what is still to be asked."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, tzinfo
from typing import Any

# Fixed-width tables: cells apart by two spaces or more, or by any.
GAPS, SPACES = "  ", " "
DELIMITER_WORDS = {
    ",": "commas",
    ";": "semicolons",
    "\t": "tabs",
    "|": "bars",
    GAPS: "spaces",
    SPACES: "spaces",
}
CALENDAR, EPOCH, SERIAL, ELAPSED = "calendar", "epoch", "serial", "elapsed"
# Where --tz goes before the offset that each time carries, since the file contradicts itself.
TZ_OVER_EACH = "--tz, not each time"
ORDERS = ("DMY", "MDY", "YMD")


@dataclass(frozen=True, slots=True)
class Hints:
    """What the keeper said about a file, by flags or answers. None and empty: not said.

    ``columns``: pairs of a column (its header, or its number from 1) and what it holds:
    ``humidity_pct``, ``L1:temperature_f``, ``at``. ``by``: columns that tell the loggers apart.
    ``series``: pairs of a name in those columns and the logger's id. ``where``: pairs of a column and the
    value its rows must have. ``doubled``: "first" or "second" for an hour the clock went through twice.
    ``as_written``: times that go back, leap or repeat are true all the same, and all rows are one series.
    ``sheet``: the sheet of a workbook. ``now``: the time on the wall, after which nothing was measured.
    """

    logger: str | None = None
    zone: tzinfo | None = None
    unit: str | None = None
    dates: str | None = None
    decimal: str | None = None
    columns: tuple[tuple[str, str], ...] = ()
    by: tuple[str, ...] = ()
    series: tuple[tuple[str, str], ...] = ()
    where: tuple[tuple[str, str], ...] = ()
    start: datetime | None = None
    doubled: str | None = None
    as_written: bool = False
    sheet: str | None = None
    now: datetime | None = None


@dataclass(frozen=True, slots=True)
class LeftOpen:
    """What the file leaves open. ``hint`` names the field of Hints the answer goes to; ``flag`` is what a
    script gives; ``options`` are the possible answers (empty: free text)."""

    hint: str
    asks: str
    flag: str
    options: tuple[str, ...] = ()


class UndecidedError(Exception):
    """Raised where two readings of a file both fit; carries what to ask."""

    def __init__(self, questions: tuple[LeftOpen, ...]) -> None:
        self.questions = questions
        super().__init__("; ".join(q.asks for q in questions))


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """How a row's time is written: one column, or a date and a clock column (``columns``, from 0).

    ``kind``: calendar, epoch, serial (spreadsheet days), elapsed. ``per_unit_ms``: ms in one unit of a
    numeric time. ``order``: of day, month and year where the text leaves it open. ``own_offset``: the texts
    carry their offset; else ``zone`` is theirs. ``iso``: "local" or "utc" where all are plain ISO times.
    ``start``: when elapsed time begins, UTC ms. ``roles``: what each column is where a date or its clock stands
    in columns of numbers (see ``times.number_parts``); empty where both are plain text. ``dated_only``: there is
    no clock at all. ``seconds``: the clock is written to the second.
    """

    columns: tuple[int, ...]
    kind: str = CALENDAR
    per_unit_ms: float = 1.0
    order: str = "YMD"
    own_offset: bool = False
    zone: tzinfo | None = None
    zone_from: str = ""
    iso: str = ""
    fraction_digits: int = 0
    start_ms: int = 0
    roles: tuple[str, ...] = ()
    dated_only: bool = False
    seconds: bool = True


@dataclass(frozen=True, slots=True)
class ValueColumn:
    """A column of numbers: its quantity, how to turn them into the stored unit, and whose they are."""

    column: int
    quantity: str
    unit: str = ""
    logger: str | None = None
    header: str = ""
    # Humidity that the keeper did not name: a share if no value is above 1, and then it is asked.
    unit_open: bool = False

    @property
    def given_as(self) -> str:
        """What --column is to say for it: ``temperature_f``."""
        return f"{self.quantity.removesuffix('_c')}_f" if self.unit == "F" else self.quantity


@dataclass(frozen=True, slots=True)
class LongColumns:
    """A row per value: what each name in the quantity (or unit) column stands for."""

    value: int
    name: int
    unit: int | None
    meanings: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class Layout:
    """A file's layout as understood; lines count from 1, columns from 0.

    ``labels``: columns of names or whole numbers that may tell several series apart. ``untaken``: columns of
    numbers that are not taken in, each with why. ``above``: lines above the table that hold a time and a number.
    ``widths``: how many cells its rows were seen to have; ``last``: what stands in its last column, where that is
    words. ``steady``: columns that say in words how the others are meant, and must say one thing throughout.
    ``preamble``: the lines above the header.
    """

    encoding: str
    bom: int
    delimiter: str
    decimal: str
    first_line: int
    width: int
    headers: tuple[str, ...]
    header_lines: tuple[str, ...]
    time: TimeColumns
    values: tuple[ValueColumn, ...]
    long: LongColumns | None = None
    by: tuple[int, ...] = ()
    series: tuple[tuple[str, str], ...] = ()
    where: tuple[tuple[int, str], ...] = ()
    events: tuple[int, ...] = ()
    labels: tuple[int, ...] = ()
    logger: str | None = None
    untaken: tuple[tuple[str, str], ...] = ()
    above: tuple[tuple[int, str], ...] = ()
    widths: frozenset[int] = frozenset()
    last: frozenset[str] = frozenset()
    steady: tuple[int, ...] = ()
    preamble: frozenset[str] = frozenset()
    notes: tuple[str, ...] = field(default=())

    def column_name(self, column: int) -> str:
        name = self.headers[column] if column < len(self.headers) else ""
        return name or f"column {column + 1}"

    def record(self) -> dict[str, Any]:
        """The layout as the intake's record keeps it."""
        time = self.time
        return {
            "encoding": self.encoding,
            "cells_parted_by": DELIMITER_WORDS[self.delimiter],
            "decimal": self.decimal,
            "first_reading_line": self.first_line,
            "time": {
                "columns": [self.column_name(c) for c in time.columns],
                "kind": time.kind,
                "order": time.order,
                "zone": "in each time" if time.own_offset else str(time.zone),
                "zone_from": time.zone_from,
            },
            "values": [
                {"column": v.header or self.column_name(v.column), "quantity": v.quantity, "unit": v.unit}
                for v in self.values
            ],
            "columns_not_taken": [list(pair) for pair in self.untaken],
            "lines_above_with_a_time": [list(pair) for pair in self.above],
            "notes": list(self.notes),
        }
