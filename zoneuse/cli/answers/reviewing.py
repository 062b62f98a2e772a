"""``zoneuse review``: the answers in terminal screens."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from ...study import load_declaration
from ..options import study_option, wall_clock


@click.command(epilog="Example:  zoneuse review --study my-demo")
@click.argument("answer", required=False, metavar="[ANSWER]")
@study_option
def review(folder: Path, answer: str | None) -> None:
    """The answers to look through: the enclosure with its shares, and the sessions and records behind each finding.

    ANSWER opens one of them at once: zones, activity, prefer, shifts, retreats, climate, observers or plan.
    """
    # The screen is drawn on stderr: stdout may go anywhere.
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        raise click.UsageError("review needs a terminal; zoneuse zones and the other answers print theirs.")
    declared = load_declaration(folder)
    from ...answers.registry import ANSWERS
    from ...screens.review.app import ReviewApp

    names = [q.name for q in ANSWERS]
    if answer is not None and answer not in names:
        raise click.UsageError(f"{answer!r} is not an answer here; known: {', '.join(names)}.")
    app = ReviewApp(declared, wall_clock, answer or "")
    app.run()
    if app.return_code:
        click.echo("The review stopped on a fault of its own; nothing in the study was touched.", err=True)
        sys.exit(app.return_code)
