"""`zoneuse report`: the answers as one page to look at, print, or take to a veterinarian."""

from __future__ import annotations

import shlex
import sys
from pathlib import Path
from typing import Any

import click

from .answering import filter_options, open_for
from .narration import say
from .options import study_option, wall_clock

DEFAULT_NAME = "report.html"


@click.command(epilog="Example:  zoneuse report --study my-demo -o my-demo.html")
@filter_options
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), default=Path(DEFAULT_NAME), metavar="FILE.html",
    help="Where to write it (default: report.html in the current folder; - for standard output).",
)  # fmt: skip
@click.option("--vet", is_flag=True, help="Add a sheet for the veterinarian: the last 30 days on record.")
@click.option("--force", is_flag=True, help="Replace a file that is no page of zoneuse.")
@study_option
def report(folder: Path, out: Path, vet: bool, force: bool, **asked: str | None) -> None:
    """Write the answers as one self-contained page: for the screen, the phone and paper."""
    from ..page.report import Made, report_html, write_report

    study, filters = open_for(folder, asked)
    command = _command(folder, out, vet, force, asked)
    page = report_html(study, filters, Made(wall_clock(), command, vet), _telling())
    if str(out) == "-":
        click.echo(page, nl=False)
        return
    write_report(out, page, force)
    say(f"Written: {out} ({len(page.encode()) / 1e6:.1f} MB). Open it in a browser; it needs no network.")


def _command(folder: Path, out: Path, vet: bool, force: bool, asked: dict[str, Any]) -> str:
    """The command that makes this page again, as it would be typed."""
    words = ["zoneuse", "report"]
    names = {"animals": "--animal", "behaviours": "--behaviour"}
    for name, value in asked.items():
        if value is not None:
            words += [names.get(name, f"--{name}"), value]
    words += ["-o", str(out)] if str(out) != DEFAULT_NAME else []
    words += ["--vet"] if vet else []
    words += ["--force"] if force else []
    words += ["--study", str(folder)] if folder != Path() else []
    return shlex.join(words)


def _telling() -> Any:
    """One line on a terminal that says what is being worked out; nothing elsewhere."""
    if not sys.stderr.isatty():
        return lambda _: None

    def step(name: str) -> None:
        click.echo(f"\r\x1b[KWorking out: {name} …", err=True, nl=False)
        if name == "page":
            click.echo("\r\x1b[K", err=True, nl=False)

    return step
