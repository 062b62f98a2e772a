"""Spreadsheet files (.xlsx), through pandas' reader: an extra (pip install zoneuse[xlsx])."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time
from pathlib import Path

from zoneuse.study.problems import fault


def is_workbook(path: Path) -> bool:
    return path.suffix.lower() in (".xlsx", ".xlsm") and path.is_file()


@contextmanager
def as_text_table(path: Path) -> Iterator[Path]:
    """The workbook's first sheet as a text table, gone again afterwards."""
    try:
        import pandas as pd

        sheet = pd.read_excel(path, sheet_name=0, header=None, dtype=object)
    except ImportError:
        raise fault("no-xlsx", path, "", "is a spreadsheet, and the reader for those is not installed",
                    "", 'pip install "zoneuse[xlsx]", or save the sheet as CSV') from None  # fmt: skip
    except Exception as error:  # a damaged workbook raises whatever its parts raise
        raise fault("damaged-workbook", path, "", f"cannot be read as a spreadsheet ({type(error).__name__})",
                    "a whole .xlsx file", "Open it in a spreadsheet program and save it as CSV") from None  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        text = Path(folder) / "sheet.csv"
        with text.open("w", encoding="utf-8", newline="") as stream:
            csv.writer(stream).writerows([_cell(v) for v in row] for row in sheet.itertuples(index=False))
        yield text


def _cell(value: object) -> str:
    if isinstance(value, datetime):  # before date: a datetime is one
        return "" if value != value else value.isoformat(sep=" ", timespec="seconds")
    if isinstance(value, date | time):
        return value.isoformat()
    if value is None or value != value:
        return ""
    return str(value)
