"""The answer itself, on stdout or in a file: text for people, JSON for programs, CSV for spreadsheets."""

from __future__ import annotations

import csv
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from ..answers.answer import Answer

# What a spreadsheet would run as a formula when a cell begins with it.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def print_answer(answer: Answer, as_json: bool, csv_file: Path | None) -> None:
    """Print an answer as text or JSON, and write its table where asked."""
    if csv_file is not None:
        write_csv(answer, csv_file)
    if as_json:
        click.echo(json.dumps(answer.to_dict(), ensure_ascii=False, indent=1, allow_nan=False))
        return
    from rich.console import Console

    Console(file=sys.stdout, highlight=False, emoji=False).print(answer)


def write_csv(answer: Answer, path: Path) -> None:
    """The answer's table as CSV; cells a spreadsheet would run as a formula are defused."""
    from ..answers.answer import rows

    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream)
        writer.writerow(answer.table.columns)
        writer.writerows([defused(value) for value in row.values()] for row in rows(answer.table))


def defused(value: Any) -> Any:
    """A text that would run as a formula, with an apostrophe before it; numbers stay numbers.

    >>> defused("=1+1"), defused(-0.5), defused("moss")
    ("'=1+1", -0.5, 'moss')
    """
    return f"'{value}" if isinstance(value, str) and value.startswith(_FORMULA) else value
