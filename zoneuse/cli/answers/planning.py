"""`zoneuse plan`: what to watch next."""

from __future__ import annotations

from pathlib import Path

import click

from ..options import answer_options, asked_time, study_option, wall_clock
from ..output import print_answer, write_file
from ..progress import working
from .answering import filter_options, open_for


@click.command(epilog="Example:  zoneuse plan --study my-demo --now 2026-04-27")
@filter_options
@click.option(
    "--sessions", type=click.IntRange(1, 60), default=6, show_default=True, help="How many to draw."
)
@click.option("--now", metavar="TIME", help="Plan from this time on (default: now).")
@click.option("--seed", type=click.IntRange(0, 2**63 - 1), help="Seed of the draw (default: the day's date).")
@click.option(
    "--ics",
    "ics_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Also write the sessions to FILE for a calendar.",
)
@click.option(
    "--sheet",
    "sheet_file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.pdf|svg",
    help="Also write a sheet for paper: scans by animals, boxes to tick.",
)
@answer_options
@study_option
def plan(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    ics_file: Path | None,
    sheet_file: Path | None,
    sessions: int,
    now: str | None,
    seed: int | None,
    **asked: str | None,
) -> None:
    """What has been watched, what is still open, and which sessions would help most, drawn by lot."""
    study, filters = open_for(folder, asked)
    clock = wall_clock()
    start = asked_time(now, study.declared, clock)
    with working("Looking at what is still open"):
        answer = study.plan(now=start, sessions=sessions, seed=seed, **filters)
    if ics_file is not None:
        from .calendar_file import calendar

        write_file(ics_file, calendar(answer, study.declared, clock))
        click.echo(f"Wrote {len(answer.table)} sessions to {ics_file}.", err=True)
    if sheet_file is not None:
        from ...export import sheets

        for path, data in sheets(study.declared, start, sheet_file):
            write_file(path, data)
            click.echo(f"Wrote a sheet to {path}; zoneuse watch --from-paper types it in.", err=True)
    print_answer(answer, as_json, csv_file)
