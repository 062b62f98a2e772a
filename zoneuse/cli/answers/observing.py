"""`zoneuse observers`: can two people agree."""

from __future__ import annotations

import re
from pathlib import Path

import click

from ..options import answer_options, study_option
from ..output import print_answer
from ..progress import working
from .answering import filter_options, open_for

_LENGTH = re.compile(r"(?P<n>\d+(?:\.\d+)?)\s*(?P<unit>s|sec|min|m)?")


class Seconds(click.ParamType[float]):
    """A short length of time: ``30s``, ``1.5 min``, or plain seconds."""

    name = "length"

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> float:
        if isinstance(value, float):
            return value
        found = _LENGTH.fullmatch(str(value).strip().lower())
        if not found:
            self.fail(f"{value!r} is not a length of time; it can be 30s or 1.5min", param, ctx)
        seconds = float(found["n"]) * (60.0 if found["unit"] in ("min", "m") else 1.0)
        if seconds > 86_400:
            self.fail("records more than a day apart are not of one moment", param, ctx)
        return seconds


@click.command(epilog="Example:  zoneuse observers --study my-demo")
@filter_options
@click.option(
    "--within",
    type=Seconds(),
    metavar="30s",
    help="How far apart two records of one moment may be (default: half the time between scans).",
)
@click.option(
    "--match",
    "by",
    type=click.Choice(["auto", "scan", "time"]),
    default="auto",
    show_default=True,
    help="Match records by scan number or by time; auto takes scan numbers where the scans began together.",
)
@click.option("--offset", is_flag=True, help="Allow for the difference between the two clocks, as estimated.")
@answer_options
@study_option
def observers(
    *,
    folder: Path,
    as_json: bool,
    csv_file: Path | None,
    within: float | None,
    by: str,
    offset: bool,
    **asked: str | None,
) -> None:
    """Do two observers agree on zone and behaviour, what do they confuse, and does one agree with the own past."""
    study, filters = open_for(folder, asked)
    with working("Comparing the observers"):
        answer = study.observers(within_s=within, by=by, use_offset=offset, **filters)
    print_answer(answer, as_json, csv_file)
