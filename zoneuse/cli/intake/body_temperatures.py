"""`zoneuse note temp --table FILE`: body temperatures from a table, or the spot table of a thermal camera."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import Declaration, Problem, ProblemError
from ..narration import ExitStatus, confirm, say, say_problems, tell, tell_saved
from ..options import someone_there

if TYPE_CHECKING:
    from ...journal import Cells, Temperatures

_SHOWN = 12


def take_in_table(
    declared: Declaration, path: Path, dates: str | None, now: datetime, take_out: bool
) -> None:
    """Say what was understood, ask where somebody is there, take in what is new, and say what came of it."""
    from ...journal import not_yet_here, read_journals, take_in_temperatures, undo_temperatures

    journals = read_journals(declared.folder)
    say_problems(p for p in journals.problems if not p.hint)
    if take_out:
        number = undo_temperatures(declared, path.name, journals, now)
        tell_saved(f"{path.name}: {number:,} body temperatures taken back." if number else
             f"{path.name}: nothing on record came from a table of that name.")  # fmt: skip
        if not number:
            raise click.exceptions.Exit(ExitStatus.WRONG_DATA)
        return
    read = _read(declared, path, dates)
    fresh = not_yet_here(read, journals)
    say(
        f"{path.name}: column {read.column!r} read as °{read.unit}; {len(read.good):,} body temperatures of "
        f"{len({one.animal for one in read.good})} animals, {len(read.good) - len(fresh):,} of them here already; "
        f"{len(read.refused)} rows refused."
    )
    say_problems(read.refused[:_SHOWN])
    if len(read.refused) > _SHOWN:
        say(f"  and {len(read.refused) - _SHOWN} more.")
    if not read.good:
        raise click.exceptions.Exit(ExitStatus.WRONG_DATA)
    if not fresh:
        tell(f"{path.name}: nothing new.")
        return
    if someone_there() and not confirm("Take them in", default=True):
        say("Nothing was taken in.")
        return
    take_in_temperatures(declared, read, fresh, now)
    tell_saved(f"{path.name}: {len(fresh):,} body temperatures taken in (°{read.unit}).")


def _read(declared: Declaration, path: Path, dates: str | None) -> Temperatures:
    from ...journal import UndecidedDatesError, read_temperatures
    from ...readings.times import read_written

    try:
        return read_temperatures(declared, _cells(path), read_written, [dates] if dates else [])
    except UndecidedDatesError as error:
        asks = f"Dates such as {error.example} can be read {' or '.join(error.orders)}"
        remedy = f"Give --dates {' or --dates '.join(error.orders)}"
        raise ProblemError([Problem("dates", str(path), "", asks, "", remedy)]) from None


def _cells(path: Path) -> Cells:
    from ...journal import read_cells
    from ...readings.read import as_text_table, is_workbook

    if not is_workbook(path):
        return read_cells(path)
    with as_text_table(path, None) as text:
        return read_cells(path, text)
