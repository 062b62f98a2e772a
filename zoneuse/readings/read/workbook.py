"""Spreadsheet files (.xlsx, .xlsm, .xls), by a reader of their own: an extra (pip install zoneuse[xlsx])."""

from __future__ import annotations

import csv
import re
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from zoneuse.study import fault

from ..layout import LeftOpen, UndecidedError
from ..times.time_shapes import MONTHS

_OLD = b"\xd0\xcf\x11\xe0"
_ZIPPED = b"PK\x03\x04"
WORKBOOK_ENDINGS = (".xlsx", ".xlsm", ".xls")
Rows = list[list[Any]]
# What the column is called that says which sheet a row is from: parts of one recording, or places of their own.
_PARTS, _PLACES = "Sheet", "Sheet name"
# What programs and keepers call sheets that are but parts, in the languages spreadsheets are used in.
_PLAIN = frozenset(
    {"", "sheet", "tabelle", "feuil", "hoja", "foglio", "blad", "planilha", "ark", "лист", "data", "daten", "table",
     "part", "page", "export", "readings", "log", "records", "week", "month", "year"}
)  # fmt: skip


def is_workbook(path: Path) -> bool:
    """Whether a file is a spreadsheet by its ending and its first bytes: text that is called .xls is text."""
    if path.suffix.lower() not in WORKBOOK_ENDINGS or not path.is_file():
        return False
    with path.open("rb") as stream:
        start = stream.read(4)
    return start in (_OLD, _ZIPPED) or path.suffix.lower() != ".xls"


@contextmanager
def as_text_table(path: Path, wanted: str | None = None) -> Iterator[Path]:
    """A workbook's sheet as a text table, gone again afterwards.

    ``wanted``: the sheet's name, or its number from 1. Without it the only sheet that holds anything, or all of
    them one below the other where they have one header; raises UndecidedError where sheets differ.
    """
    sheets = {name: rows for name, rows in _sheets(path).items() if any(any(map(_cell, row)) for row in rows)}
    rows = _chosen(path, sheets, wanted)
    with tempfile.TemporaryDirectory() as folder:
        text = Path(folder) / "sheet.csv"
        with text.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([_cell(v) for v in row] for row in rows)
        yield text


def _sheets(path: Path) -> dict[str, Rows]:
    try:
        from python_calamine import CalamineWorkbook
    except ImportError:
        raise fault("no-xlsx", path, "", "is a spreadsheet, and the reader for those is not installed",
                    "", remedy='pip install "zoneuse[xlsx]", or save the sheet as CSV') from None  # fmt: skip
    try:
        book = CalamineWorkbook.from_path(path)
        return {
            name: book.get_sheet_by_name(name).to_python(skip_empty_area=False) for name in book.sheet_names
        }
    except Exception as error:  # a damaged workbook raises whatever its parts raise
        raise fault("damaged-workbook", path, "", f"cannot be read as a spreadsheet ({type(error).__name__})",
                    "a whole spreadsheet file",
                    remedy="Open it in a spreadsheet program and save it as CSV") from None  # fmt: skip


def _sheet(path: Path, sheets: dict[str, Rows], wanted: str) -> Rows:
    """The sheet of that name, or else of that number. Raises ProblemError where there is none."""
    names = list(sheets)
    number = int(wanted) - 1 if wanted.isdigit() else -1
    if wanted not in sheets and not 0 <= number < len(names):
        raise fault("no-sheet", path, "", f"has no sheet {wanted!r}", f"one of: {', '.join(names)}",
                    remedy="Give --sheet one of its sheets, or its number")  # fmt: skip
    return sheets[wanted if wanted in sheets else names[number]]


def _chosen(path: Path, sheets: dict[str, Rows], wanted: str | None) -> Rows:
    names = list(sheets)
    if wanted is not None:
        return _sheet(path, sheets, wanted)
    if len(names) <= 1:
        return sheets[names[0]] if names else []
    timed = {name: rows for name, rows in sheets.items() if _holds_times(rows)}
    if len(timed) == 1:
        return next(iter(timed.values()))
    heads = [_head(rows) for rows in timed.values()]
    if timed and all(head and head == heads[0] for head in heads):
        return _below_each_other(timed)
    listed = ", ".join(f"{i} {name!r}" for i, name in enumerate(names, 1))
    raise UndecidedError(
        (LeftOpen("sheet", f"Its sheets differ: {listed}", f"--sheet {_first_timed(names, timed)}"),)
    )


def _below_each_other(sheets: dict[str, Rows]) -> Rows:
    """Sheets of one header as one table, with a last column that says which sheet a row is from."""
    width = max(len(row) for rows in sheets.values() for row in rows)
    said = _PARTS if _are_parts(list(sheets)) else _PLACES
    found: Rows = []
    for name, rows in sheets.items():
        at = _table_at(rows)
        if not found:
            found += [*rows[: at - 1], _widened(rows[at - 1], width, said)]
        found += [_widened(row, width, name) if any(map(_cell, row)) else row for row in rows[at:]]
    return found


def _widened(row: Sequence[Any], width: int, last: str) -> list[Any]:
    return [*row, *[None] * (width - len(row)), last]


def _are_parts(names: Sequence[str]) -> bool:
    """Whether sheets are called as the parts of one recording are: by number, month or year, and by no place."""
    stems = {re.sub(r"[\W\d_]+", "", name).casefold() for name in names}
    return stems <= _PLAIN | MONTHS.keys()


def _first_timed(names: Sequence[str], timed: dict[str, Rows]) -> int:
    return names.index(next(iter(timed), names[0])) + 1


def _is_time(value: Any) -> bool:
    return isinstance(value, datetime | date)


def _holds_times(rows: Rows) -> bool:
    return sum(1 for row in rows[:400] if any(map(_is_time, row)) or _texted(row)) >= 1


def _texted(row: Sequence[Any]) -> bool:
    """A row of text cells one of which may be a time, beside a number."""
    numbers = any(isinstance(v, int | float) for v in row)
    return numbers and any(isinstance(v, str) and sum(c.isdigit() for c in v) >= 4 for v in row)


def _table_at(rows: Rows) -> int:
    return next((i for i, row in enumerate(rows) if any(map(_is_time, row)) or _texted(row)), 0)


def _head(rows: Rows) -> tuple[str, ...]:
    at = _table_at(rows)
    return tuple(_cell(v).strip().casefold() for v in rows[at - 1]) if at else ()


def _cell(value: object) -> str:
    if isinstance(value, datetime):  # before date: a datetime is one
        if value.year <= 1904 and value.date() in (date(1899, 12, 30), date(1899, 12, 31), date(1904, 1, 1)):
            return value.time().isoformat()
        return value.isoformat(sep=" ", timespec="milliseconds" if value.microsecond else "seconds")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        # A clock time that a sheet shows as hours and minutes may come as a length of time.
        return (
            (datetime.min + value).time().isoformat()
            if timedelta() <= value < timedelta(days=1)
            else str(value)
        )
    if value is None or value != value:
        return ""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return str(value)
