"""`zoneuse export`: the tables, to take away."""

from __future__ import annotations

from pathlib import Path

import click

from ..narration import say, say_problems, tell_saved
from ..options import study_option, wall_clock
from ..progress import working


@click.command(epilog="Example:  zoneuse export my-tables --study my-demo --format csv")
@click.argument("target", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--format", "form", type=click.Choice(["parquet", "csv"]), default="parquet", show_default=True)
@click.option("--force", is_flag=True, help="Replace what is there, even among other files.")
@study_option
def export(folder: Path, target: Path, form: str, force: bool) -> None:
    """Every table of the study as a Data Package, each column described: moments, zones, animals, feeds, readings, …"""
    from ...answers.study import Study
    from ...export import export as write_package

    with working("Writing the tables"):
        study = Study(folder)
        say_problems(p for p in study.problems if not p.hint)
        written = write_package(study, target, form, wall_clock(), force)
    for table in written:
        tell_saved(f"{table.path}: {table.rows:,} rows")
    say("Every column is described in data-dictionary.md, and for programs in datapackage.json.")
