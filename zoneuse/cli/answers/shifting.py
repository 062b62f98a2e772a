"""`zoneuse shifts`: did a change alter anything."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import click

from ..options import answer_options, study_option
from ..output import print_answer
from ..progress import working
from .answering import filter_options, open_for, per_option, second_opinion_option


@click.command(epilog="Example:  zoneuse shifts --study my-demo --slot night")
@second_opinion_option
@filter_options
@per_option()
@click.option(
    "--between",
    metavar="A,B[,C]",
    help="Treatments, phases or enclosures: two names, or each with the first.",
)
@click.option(
    "--controls",
    metavar="NAME[,NAME]",
    default="",
    help="With --between: who was left alone (a treatment, enclosures, animals); changes are compared with theirs.",
)
@click.option(
    "--expects",
    metavar="NAME:up|down",
    multiple=True,
    help="With --between: what you expected of the second (study.toml can say it too).",
)
@click.option(
    "--held-within",
    type=click.FloatRange(0, 0.5, min_open=True),
    default=0.10,
    show_default=True,
    help="How far either way a share may move and still count as held.",
)
@click.option("--all", "every_row", is_flag=True, help="Show every row that was compared.")
@answer_options
@study_option
def shifts(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    every_row: bool,
    cluster: str | None,
    between: str | None,
    expects: tuple[str, ...],
    controls: str,
    held_within: float,
    second: bool,
    **asked: str | None,
) -> None:
    """What moved after each change on record, against what was expected, and how sure is that.

    \b
    zoneuse shifts --between control,spider     two treatments, each animal against itself where it had both
    zoneuse shifts --between one,two,three      phases, each against the first
    zoneuse shifts --between tub_1,tub_2        two homes, by the animals that lived in both
    """
    if expects and not between:
        raise click.UsageError("--expects goes with --between; for a change, say it with zoneuse adjust")
    if controls and not between:
        raise click.UsageError(
            "--controls goes with --between; for a change on record they are found by themselves"
        )
    study, filters = open_for(folder, asked)
    with working("Working out what shifted"):
        answer = study.shifts(
            cluster=cluster,
            held_within=held_within,
            between=between,
            expects=expects,
            controls=controls,
            second_opinion=second,
            **filters,
        )
    print_answer(replace(answer, first_rows=None, full=True) if every_row else answer, as_json, csv_file)
