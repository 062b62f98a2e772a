"""`zoneuse sightings`: take in tables of past observations."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from ..study.clock import spoken_time
from ..study.problems import Problem
from .narration import ExitStatus, say, say_problems, tell
from .options import someone_there, study_option, wall_clock

if TYPE_CHECKING:
    from ..journal.reader import Journals
    from ..journal.table_file import TableFile
    from ..study.model import Declaration

_SHOWN = 12


@click.command(epilog="Example:  zoneuse sightings evening.csv --study my-demo --column at=Time --yes")
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--column", "columns", multiple=True, metavar="OURS=THEIRS", help="Which column of the file is which."
)
@click.option("--yes", is_flag=True, help="Take it in without asking.")
@click.option(
    "--long-session",
    "long_sessions",
    multiple=True,
    metavar="ID",
    help="This session of the table did last for days.",
)
@click.option("--undo", "take_out", is_flag=True, help="Take what came from FILE back out.")
@study_option
@click.pass_context
def sightings(
    ctx: click.Context,
    *,
    files: tuple[Path, ...],
    columns: tuple[str, ...],
    yes: bool,
    long_sessions: tuple[str, ...],
    take_out: bool,
    folder: Path,
) -> None:
    """Take in tables with columns at, session, animal, zone (and behaviour, observer, group, count, method).

    An empty zone means: looked for and not found. No row is ever taken in twice.
    """
    from ..journal.reader import read_journals
    from ..journal.table_file import read_table
    from ..study.file import load_declaration

    declared = load_declaration(folder)
    renamed = _renamed(columns)
    taken_any = False
    for path in files:
        table = read_table(path, renamed)
        journals = read_journals(folder)
        say_problems(p for p in journals.problems if not p.hint)
        if take_out:
            from ..journal.intake import undo

            count = undo(declared, table.sha256, journals, wall_clock())
            what = f"{count} sessions taken back out" if count else "nothing of it is here"
            tell(f"{path.name}: {what}.")
            taken_any = taken_any or count > 0
        else:
            taken_any = _take_in(declared, table, journals, yes, long_sessions) or taken_any
    if not taken_any:
        ctx.exit(ExitStatus.WRONG_DATA)


def _renamed(columns: tuple[str, ...]) -> dict[str, str]:
    from ..journal.table_file import COLUMNS

    renamed = {}
    for pair in columns:
        ours, equals, theirs = pair.partition("=")
        if not equals or ours not in COLUMNS:
            raise click.UsageError(f"--column {pair}: give it as OURS=THEIRS; ours are {', '.join(COLUMNS)}")
        renamed[ours] = theirs
    return renamed


def _take_in(
    declared: Declaration, table: TableFile, journals: Journals, yes: bool, long_sessions: tuple[str, ...]
) -> bool:
    """Say what was understood, ask, take in, and say what came of it. True where the rows are there now."""
    from ..journal.intake import take_in, understand

    name = table.path.name
    good, refused = understand(declared, table, long_sessions)
    if not good:
        _say_refused(refused)
        say(f"{name}: none of its {len(table.rows)} rows can be taken in.")
        return False
    sessions = {(s.session, s.observer) for s in good}
    first, last = (spoken_time(f(s.at for s in good), declared.timezone) for f in (min, max))
    say(
        f"{name}: {len(good):,} rows in {len(sessions):,} sessions, {first} to {last} "
        f"({declared.timezone}), {len({s.who for s in good})} animals or groups; {len(refused)} rows refused."
    )
    if not yes and someone_there() and not click.confirm("Take it in", default=True, err=True):
        say("Nothing was taken in.")
        return False
    taken = take_in(declared, table, journals, wall_clock(), long_sessions)
    _say_refused(taken.refused)
    already = "".join(
        f", {number:,} {what}"
        for number, what in (
            (taken.skipped, "already here"),
            (taken.corrected, "corrected since, which stay corrected"),
            (taken.taken_back, "taken back since, which stay out"),
        )
        if number
    )
    tell(
        f"{name}: {taken.rows:,} rows taken in as {taken.sessions:,} sessions{already}, "
        f"{len(taken.refused):,} refused."
    )
    return True


def _say_refused(refused: Sequence[Problem]) -> None:
    say_problems(refused[:_SHOWN])
    if len(refused) > _SHOWN:
        say(f"… and {len(refused) - _SHOWN:,} more rows refused.")
