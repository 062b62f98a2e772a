"""``zoneuse watch``: the recorder."""

from __future__ import annotations

import gc
import sys
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import METHODS, Declaration, UnknownNameError, find_who, load_declaration, read_under
from ..narration import ExitStatus
from ..options import study_option, wall_clock

if TYPE_CHECKING:
    from ...recording import Plan, Recall


@click.command(epilog="Example:  zoneuse watch --study my-demo --quiet 0")
@study_option
@click.option(
    "--quiet",
    type=click.FloatRange(0, 120),
    metavar="MINUTES",
    help="Minutes to let them settle before the first scan (default: 3).",
)
@click.option(
    "--method",
    type=click.Choice(METHODS),
    help="How to watch (default: as in study.toml).",
)
@click.option(
    "--animal",
    "animals",
    multiple=True,
    metavar="ANIMAL",
    help="Whom to follow (focal): up to four, as in a1,a2.",
)
@click.option("--observer", metavar="NAME", help="Who is watching.")
@click.option(
    "--every", type=click.FloatRange(1, 86400), metavar="SECONDS", help="Seconds from one scan to the next."
)
@click.option("--minutes", type=click.FloatRange(0.05, 14400), metavar="MINUTES", help="How long to watch.")
@click.option(
    "--enclosure", "enclosures", multiple=True, metavar="NAME", help="Only this enclosure (may be repeated)."
)
@click.option(
    "--treatment",
    "treatments",
    multiple=True,
    metavar="[ENCLOSURE=]NAME",
    help="What treatment they are under, from [treatments] (may be repeated, one for each enclosure or animal).",
)
@click.option("--practice", is_flag=True, help="Practise on a made-up enclosure; no study is touched.")
@click.option("--seed", type=click.IntRange(0), metavar="N", help="Repeat a practice by its seed.")
@click.option("--bell", is_flag=True, help="Ring the terminal's bell at each scan (default: silent).")
@click.option(
    "--plain", is_flag=True, help="A line in, a line back: for screen readers and slow connections."
)
@click.option("--from-paper", "paper", is_flag=True, help="Enter a session of scans written down by hand.")
def watch(
    *, folder: Path, quiet: float | None, method: str | None, animals: tuple[str, ...], observer: str | None,
    every: float | None, minutes: float | None, enclosures: tuple[str, ...], treatments: tuple[str, ...],
    practice: bool, seed: int | None, bell: bool, plain: bool, paper: bool,
) -> None:  # fmt: skip
    """Record a session: one key per record, each on the disk before it is shown as saved.

    \b
    zoneuse watch                          as study.toml says under [watching]
    zoneuse watch --method retreat-round   the retreats one after the other: who is in each
    zoneuse watch --practice --minutes 2   practise on made-up animals; no study is needed
    zoneuse watch --from-paper             type in a sheet filled in by hand (zoneuse plan --sheet FILE.pdf)
    """
    from ...recording import PlanError, make_plan

    if practice and (enclosures or treatments or method == "ad-libitum"):
        raise click.UsageError(
            "a practice has one made-up enclosure and no treatments, and is scans, --method focal or "
            "--method retreat-round."
        )
    if seed is not None and not practice:
        raise click.UsageError("--seed belongs to --practice.")
    _refuse_paper(paper, practice, method)
    _need_terminal(plain or paper)
    if practice:
        from .practising import practise

        practise(
            method=method or "scan", animals=split_names(animals), quiet=quiet, observer=observer, every=every,
            minutes=minutes, seed=seed, bell=bell, plain=plain,
        )  # fmt: skip
        return
    declared = load_declaration(folder)
    now = wall_clock()
    try:
        plan = make_plan(
            declared, now, method="scan" if paper else method, observer=observer, every_s=every, minutes=minutes,  # type: ignore[arg-type]
            quiet_min=3.0 if quiet is None else quiet, enclosures=_known(declared, enclosures),
            animals=_named(declared, animals, now), treatment=read_under(declared, treatments),
        )  # fmt: skip
    except (PlanError, UnknownNameError, ValueError) as error:
        raise click.UsageError(f"{error}.") from None
    _on_the_face(plan, now, paper=paper, plain=plain, bell=bell)


def _refuse_paper(paper: bool, practice: bool, method: str | None) -> None:
    if paper and (practice or method not in (None, "scan")):
        raise click.UsageError(
            "--from-paper enters scans of a study; rounds and passing sightings have look and seen."
        )


def _need_terminal(by_lines: bool) -> None:
    """The screen is drawn on stderr: stdout may go anywhere."""
    if not by_lines and not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise click.UsageError(
            "watch needs a terminal; from a script use zoneuse look or seen, or watch --plain."
        )


def _on_the_face(plan: Plan, now: datetime, *, paper: bool, plain: bool, bell: bool) -> None:
    """Lines of a sheet of paper, lines as one watches, or the screen."""
    if paper:
        from .from_paper import enter_paper

        enter_paper(plan, now)
    elif plain:
        from ...recording import run_plain

        if not run_plain(plan, plan.declared.folder):
            raise click.exceptions.Exit(ExitStatus.WRONG_DATA)
    else:
        _full_screen(plan, plan.declared.folder, bell)


def _full_screen(plan: Plan, folder: Path, bell: bool) -> None:
    # Importing makes no garbage worth looking for: the search is put off until the screen is there.
    gc.disable()
    from ...screens.recorder.app import RecorderApp

    def past() -> Recall:
        from ...recording import read_past

        gc.enable()
        return read_past(plan.declared, folder)

    app = RecorderApp(plan, past, bell=bell)
    said = app.run()
    if said:
        click.echo(said, err=True)
    if app.return_code:
        click.echo(
            "The recorder stopped on a fault of its own; what was shown as saved is on the disk.", err=True
        )
        sys.exit(app.return_code)


def split_names(given: tuple[str, ...]) -> tuple[str, ...]:
    """``("a1,a2", "a3")`` as the three names it holds."""
    return tuple(name.strip() for text in given for name in text.split(",") if name.strip())


def _named(declared: Declaration, given: tuple[str, ...], now: datetime) -> tuple[str, ...]:
    return tuple(dict.fromkeys(find_who(declared, name, now).id for name in split_names(given)))


def _known(declared: Declaration, names: tuple[str, ...]) -> tuple[str, ...]:
    for name in names:
        if name not in declared.enclosures:
            raise click.UsageError(f"{name!r} is no enclosure here; known: {', '.join(declared.enclosures)}.")
    return names
