"""`zoneuse climate`: is there a gradient, is a retreat drying, when must water go in."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import ANY_TIME, SLOTS
from ..narration import ExitStatus, say, say_problems
from ..options import answer_options, asked_time, study_option, wall_clock
from ..output import print_answer
from ..progress import working
from .answering import open_for

if TYPE_CHECKING:
    from ...answers.climate import ClimateAnswer
    from ...study import Declaration


@click.command(epilog="Example:  zoneuse climate --study my-demo")
@click.option("--since", metavar="TIME", help="Only readings from this time on.")
@click.option("--until", metavar="TIME", help="Only readings before this time.")
@click.option("--slot", type=click.Choice([*SLOTS, ANY_TIME]), help="Only this time of day.")
@click.option("--now", "now", metavar="TIME", help="Count days from then, not from the newest reading.")
@click.option("--backtest", is_flag=True, help="Show how earlier forecasts would have done.")
@click.option(
    "--alert",
    is_flag=True,
    help="Count from the clock on the wall; exit status 3 if something needs you today, 4 if it cannot be told.",
)
@answer_options
@study_option
def climate(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    alert: bool,
    backtest: bool,
    now: str | None,
    **asked: str | None,
) -> None:
    """Do the zones differ, in what, when; is a retreat drying; when must water go in."""
    study, filters = open_for(
        folder, {"animals": None, "behaviours": None, "treatments": None, "phases": None, **asked}
    )
    wall = wall_clock()
    # What a keeper asks for by hand counts from the newest reading; a watch at night counts from now.
    then = asked_time(now, study.declared, wall) if now is not None else wall if alert else None
    with working("Working out the climate"):
        answer = study.climate(now=then, clock=wall, backtest=backtest, **filters)
    print_answer(answer, as_json, csv_file)
    if alert and (status := _watched(folder, study.declared, answer)):
        sys.exit(status)


def _watched(folder: Path, declared: Declaration, answer: ClimateAnswer) -> ExitStatus:
    """What a watch at night is told: something needs the keeper, or it cannot tell; done only where all is well."""
    from ...readings.store import intakes

    needed = answer.parts["alerts"]["why"].tolist()
    unknown = answer.parts["untold"]["why"].tolist()
    damaged = intakes(folder)[1]
    say_problems(damaged)
    if damaged:
        unknown.append(
            "Some readings are damaged and were left out, so whether the limits hold cannot be told."
        )
    if not any(declared.limits.values()):
        unknown.append("No limit is set in study.toml, so there is nothing to watch: add [limits.ZONE].")
    for why in (*needed, *unknown):
        say(why)
    if needed:
        return ExitStatus.NEEDS_KEEPER
    return ExitStatus.CANNOT_TELL if unknown else ExitStatus.DONE
