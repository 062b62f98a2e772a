"""`zoneuse retreats`: which retreats are used, by whom, together or apart."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path

import click

from ..options import answer_options, study_option
from ..output import print_answer
from ..progress import working
from .answering import filter_options, open_for, second_opinion_option


@click.command(epilog="Example:  zoneuse retreats --study my-demo --together")
@second_opinion_option
@filter_options
@click.option(
    "--all", "every_row", is_flag=True, help="Show every animal and retreat, not only where each is most."
)
@click.option("--months", "by_month", is_flag=True, help="Draw the share of each retreat month by month.")
@click.option(
    "--together", "matrix", is_flag=True, help="Draw who is found with whom, alike ones side by side."
)
@answer_options
@study_option
def retreats(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    every_row: bool,
    by_month: bool,
    matrix: bool,
    second: bool,
    **asked: str | None,
) -> None:
    """Which retreats are used, by whom, does each keep to one, and who is found together."""
    study, filters = open_for(folder, asked)
    with working("Working out who uses which retreat"):
        answer = study.retreats(second_opinion=second, **filters)
    print_answer(replace(answer, first_rows=None, full=True) if every_row else answer, as_json, csv_file)
    if as_json or not (by_month or matrix):
        return
    from ...answers.retreats import months_drawn, together_drawn

    width = shutil.get_terminal_size().columns
    lines = months_drawn(answer.parts.get("months"), answer.labels, width) if by_month else []
    lines += together_drawn(answer.parts.get("matrix"), answer.labels, width) if matrix else []
    click.echo("\n".join(lines))
