"""The answer itself, on stdout or in a file: text for people, JSON for programs, CSV for spreadsheets."""

from __future__ import annotations

import csv
import io
import json
import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..study import defused, refuse_overwriting, write_whole
from .narration import say
from .options import FORCE, FULL, PLOT, WIDTH

if TYPE_CHECKING:
    from ..answers.answer import Answer
    from ..pictures import Figure


def print_answer(answer: Answer, as_json: bool, csv_file: Path | None) -> None:
    """Print an answer as text or JSON, and write its table where asked."""
    if csv_file is not None:
        write_csv(answer, csv_file)
    context = click.get_current_context(silent=True)
    asked = context.meta if context else {}
    if asked.get(PLOT) is not None:
        plot(answer, asked[PLOT], asked.get(WIDTH) or "180")
    if as_json:
        click.echo(json_text(answer.to_dict()))
        return
    from rich.console import Console

    shown = replace(answer, full=True) if asked.get(FULL) else answer
    Console(file=sys.stdout, highlight=False, emoji=False).print(shown)


def plot(answer: Answer, path: Path, width: str) -> None:
    """The answer's picture in a file of its own."""
    drawn = answer.figure()
    if not drawn.panels:
        say(f"Nothing to draw yet: {answer.headline}")
        return
    plot_figure(drawn, path, width)


def plot_figure(drawn: Figure, path: Path, width: str = "180") -> None:
    """A picture in a file of its own. Raises UsageError for a name or a width that is none."""
    from ..figures import drawn_as

    refuse_overwriting(path, force=_forced())
    try:
        data = drawn_as(drawn, path.suffix, width)
    except ValueError as error:
        raise click.UsageError(f"--plot {path}: {error}") from None
    write_file(path, data)
    say(f"Drawn: {path}")


def json_text(value: Any) -> str:
    """JSON for people to read too: what is no plain letter (direction marks, controls) as its escape.

    >>> json_text("Büschel\u202e")
    '"Büschel\\\\u202e"'
    """
    text = json.dumps(value, ensure_ascii=False, indent=1, allow_nan=False)
    return "".join(c if c.isprintable() or c == "\n" else json.dumps(c)[1:-1] for c in text)


def write_csv(answer: Answer, path: Path) -> None:
    """The answer's table as CSV; cells a spreadsheet would run as a formula are defused."""
    from ..answers.showing.plain import rows

    table = io.StringIO(newline="")
    writer = csv.writer(table)
    writer.writerow(answer.table.columns)
    writer.writerows([defused(value) for value in row.values()] for row in rows(answer.table))
    write_file(path, table.getvalue().encode())


def write_file(path: Path, data: bytes) -> None:
    """A file asked for, whole or not at all; what is no file of its own (a pipe, /dev/stdout) is written to.

    Raises ProblemError where the file exists and the command was not given ``--force``.
    """
    refuse_overwriting(path, force=_forced())
    if path.exists() and not path.is_file():
        path.write_bytes(data)
    else:
        write_whole(path.resolve(), data)


def _forced() -> bool:
    context = click.get_current_context(silent=True)
    return bool(context and context.meta.get(FORCE))
