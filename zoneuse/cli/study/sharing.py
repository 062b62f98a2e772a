"""`zoneuse share` and `zoneuse across`: numbers to give away, and what holds between keepers."""

from __future__ import annotations

import shutil
import textwrap
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import visible
from ..narration import confirm, say, say_problems, tell
from ..options import FORCE, json_csv_options, plot_option, someone_there, study_option, width_option
from ..output import json_text, plot_figure, write_csv, write_file
from ..progress import working

if TYPE_CHECKING:
    from ...across.ask import Across

_TOLD = """This is all that is given away. It is pseudonymous, not anonymous: whoever knows your animals and your
sessions could tell that it is you. The tokens stay the same, so you can withdraw by quoting them."""


@click.command(epilog="Example:  zoneuse share --study my-demo -o my-demo.zoneuse.json")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where to write it; NAME.zoneuse.json is found in folders.",
)
@click.option(
    "--purpose",
    default="comparing enclosures of this species",
    show_default=True,
    help="What it may be used for.",
)
@click.option("--licence", default="CC BY 4.0", show_default=True, help="Under which licence.")
@click.option("--until", default="", metavar="DATE", help="Until when it may be used (default: no end).")
@click.option("--force", is_flag=True, help="Replace a file that is there already.")
@study_option
def share(*, folder: Path, out: Path | None, purpose: str, licence: str, until: str, force: bool) -> None:
    """Write one small file of a study's numbers to give away: no names, notes, dates or places.

    It is shown whole before it is written.
    """
    from ...across.shared import Consent, to_json
    from ...across.summary import summarise
    from ...across.tokens import tokens_for
    from ...answers.study import Study

    if until:
        try:
            date.fromisoformat(until)
        except ValueError:
            raise click.UsageError(f"{until!r} is not a date; write it as 2027-12-31.") from None
    study = Study(folder)
    say_problems(p for p in study.problems if not p.hint)
    if not study.declared.species:
        say("Hint: no species is given in study.toml; different species are never pooled.")
    consent = Consent(visible(purpose)[:80], visible(licence)[:80], until)
    with working("Working it out"):
        text = to_json(summarise(study, *tokens_for(folder), consent))
    if out is None:
        click.echo(text, nl=False)
        return
    say(text)
    say(_TOLD)
    if someone_there() and not confirm(f"Write it to {out}?"):
        raise click.Abort
    click.get_current_context().meta[FORCE] = force
    write_file(out, text.encode())
    say(
        f"Written: {out} ({len(text.encode()) / 1000:.0f} kB). Nothing was sent; giving it away is up to you."
    )


@click.command(epilog="Example:  zoneuse across club/ --species 'Salamandra salamandra'")
@click.argument("paths", nargs=-1, required=True, metavar="PATH…")
@click.option("--species", metavar="NAME", help="Which species (default: the one most keepers have).")
@click.option(
    "--without", multiple=True, metavar="TOKEN", help="Leave out a keeper or enclosure who withdrew."
)
@click.option("--jobs", type=click.IntRange(1, 256), help="Processes at once (default: one for each core).")
@click.option("--scheduler", metavar="ADDRESS", help="A dask scheduler to work on instead (extra: cluster).")
@plot_option("the forest", "plot_file")
@width_option()
@json_csv_options
def across(
    *, paths: tuple[str, ...], species: str | None, without: tuple[str, ...], jobs: int | None,
    scheduler: str | None, plot_file: Path | None, width: str, as_json: bool, csv_file: Path | None,
) -> None:  # fmt: skip
    """What holds between enclosures and keepers: from studies, shared files, folders of them or object storage."""
    from ...across.ask import across as ask
    from ...across.executors import in_processes, on_scheduler

    executor = on_scheduler(scheduler) if scheduler else in_processes(jobs)
    with working("Reading the studies") as progress:
        found = ask(paths, species=species, without=without, executor=executor, progress=progress)
    say_problems(p for p in found.problems if not p.hint)
    if found.problems:
        say(f"{len(found.problems)} could not be read and are left out; the rest is answered.")
    if csv_file is not None:
        write_csv(found.answer, csv_file)
    if plot_file is not None:
        from ...across.picture import figure

        rests = f"{found.answer.effort['enclosures']} enclosures of {found.answer.effort['keepers']} keepers"
        plot_figure(figure(found.rows, found.answer.headline, rests), plot_file, width)
    if as_json:
        click.echo(json_text(found.answer.to_dict()))
    else:
        _tell(found)


def _tell(found: Across) -> None:
    """The sentence, each thing with its forest, what to be careful of."""
    from ...across.picture import panel
    from ...pictures import panel_lines

    width = min(shutil.get_terminal_size().columns, 100)

    def lines(text: str, first: str = "", rest: str = "") -> None:
        tell(textwrap.fill(text, width, initial_indent=first, subsequent_indent=rest))

    lines(found.answer.headline)
    for row, finding in zip(found.rows, found.answer.findings, strict=True):
        tell("")
        lines(finding.says)
        for line in panel_lines(panel(row), width):
            tell(line.says.rstrip())
    tell("")
    for caution in found.answer.cautions:
        lines(caution.says, "- ", "  ")
