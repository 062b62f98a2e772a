"""`zoneuse report`: the answers as one page to look at, print, or take to a veterinarian."""

from __future__ import annotations

import shlex
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from ...study import write_whole
from ..narration import say
from ..options import study_option, wall_clock
from .answering import filter_options, open_for

DEFAULT_NAME = "report.html"


@click.command(epilog="Example:  zoneuse report --study my-demo -o my-demo.html")
@filter_options
@click.option(
    "-o", "--out", type=click.Path(path_type=Path, dir_okay=False), default=Path(DEFAULT_NAME), metavar="FILE.html",
    help="Where to write it (default: report.html in the current folder; - for standard output).",
)  # fmt: skip
@click.option("--vet", is_flag=True, help="Add a sheet for the veterinarian: the last 30 days on record.")
@click.option("--force", is_flag=True, help="Replace a file that is there already.")
@study_option
def report(folder: Path, out: Path, vet: bool, force: bool, **asked: str | None) -> None:
    """Write the answers as one self-contained page: for the screen, the phone and paper."""
    from ...page import PageMade, place_for, report_html

    # Before anything is worked out: a refusal should not take ten seconds.
    final = None if str(out) == "-" else place_for(out, force)
    study, filters = open_for(folder, asked)
    made = PageMade(wall_clock(), _command(folder, out, vet, force, asked), vet)
    with _telling() as step:
        page = report_html(study, filters, made, step)
    if final is None:
        click.echo(page, nl=False)
        return
    data = page.encode()
    write_whole(final, data)
    say(f"Written: {out} ({len(data) / 1e6:.1f} MB). Open it in a browser; it needs no network.")


def _command(folder: Path, out: Path, vet: bool, force: bool, asked: dict[str, Any]) -> str:
    """The command that makes this page again, as it would be typed."""
    words = ["zoneuse", "report"]
    names = {
        "animals": "--animal", "behaviours": "--behaviour", "treatments": "--treatment", "phases": "--phase",
    }  # fmt: skip
    for name, value in asked.items():
        if value is not None:
            words += [names.get(name, f"--{name}"), value]
    words += ["-o", str(out)] if str(out) != DEFAULT_NAME else []
    words += ["--vet"] if vet else []
    words += ["--force"] if force else []
    words += ["--study", str(folder)] if folder != Path() else []
    return shlex.join(words)


@contextmanager
def _telling() -> Iterator[Callable[[str], None]]:
    """A bar on a terminal that says what is being worked out; nothing where nobody looks."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    from ...page import STEPS

    console = Console(stderr=True)
    columns = (BarColumn(20), TextColumn("{task.description}"), TimeElapsedColumn())
    with Progress(*columns, console=console, transient=True) as bar:
        task = bar.add_task("", total=len(STEPS))

        def step(name: str) -> None:
            bar.update(task, description=name, completed=STEPS.index(name))

        yield step
