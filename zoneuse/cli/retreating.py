"""`zoneuse retreats`: which retreats are used, by whom, together or apart."""

from __future__ import annotations

from pathlib import Path

import click

from .answering import filter_options, open_for
from .options import json_csv_options, study_option
from .output import print_answer


@click.command(epilog="Example:  zoneuse retreats --study my-demo")
@filter_options
@json_csv_options
@study_option
def retreats(folder: Path, as_json: bool, csv_file: Path | None, **asked: str | None) -> None:
    """Which retreats are used, by whom, does each keep to one, and who is found together."""
    study, filters = open_for(folder, asked)
    print_answer(study.retreats(**filters), as_json, csv_file)
