"""`zoneuse build`: the enclosure declared and changed on a screen."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from ..narration import say
from ..options import study_option, wall_clock


@click.command(epilog="Example:  zoneuse build --study my-demo")
@study_option
def build(folder: Path) -> None:
    """Declare or change the enclosure, animals, behaviours, loggers and limits on a screen.

    What is sound is written to study.toml at once, with your comments and order kept; what is unfinished waits
    beside it.
    """
    if not fits_screen():
        raise click.UsageError(
            "build needs a terminal; edit study.toml in an editor, and zoneuse check says what is wrong."
        )
    on_screen(folder)


def fits_screen() -> bool:
    """Whether there is a terminal that can be drawn on."""
    import os

    return sys.stdin.isatty() and sys.stderr.isatty() and os.environ.get("TERM", "") not in ("dumb",)


def on_screen(folder: Path, blank: str | None = None) -> bool:
    """Open the screen over a study, or over one that is to begin; whether there is a sound study afterwards."""
    from ...screens.build.app import BuildApp
    from ...screens.build.desk import Desk
    from ...study import open_draft

    draft = open_draft(folder, blank)
    app = BuildApp(Desk(draft, wall_clock, lambda: sum(1 for _ in (folder / "journal").glob("*.jsonl"))))
    app.run()
    if app.return_code:
        say("The screen stopped on a fault of its own; every change before that is kept.")
        sys.exit(app.return_code)
    if draft.unsaved:
        faults = [p for p in draft.now.problems if not p.hint]
        many = f"{len(faults)} faults stand" if len(faults) != 1 else "one fault stands"
        say(f"Not in study.toml yet, since {many} in the way; zoneuse build picks up where you left off.")
    return draft.disk is not None
