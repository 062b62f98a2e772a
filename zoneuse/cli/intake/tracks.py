"""`zoneuse tracks`: positions and antenna reads to moments."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from ...study import ProblemError, fault
from ..narration import ExitStatus, say, say_problems, tell, tell_saved
from ..options import asked_time, someone_there, study_option, wall_clock

if TYPE_CHECKING:
    from ...journal import Journals
    from ...live.tracks import StagedTracks
    from ...study import Declaration


@click.command(epilog="Examples:  zoneuse tracks night.parquet    zoneuse tracks run.csv --as overhead "
               "--start '2026-03-01 19:30'")  # fmt: skip
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--as", "name", metavar="NAME", help="Which [tracks.NAME] of study.toml (else by its columns).")
@click.option("--start", metavar="TIME", help="When frame 0 was, where the table counts from a start.")
@click.option("--every", "every_s", type=click.IntRange(1, 86_400), metavar="SECONDS",
              help="Seconds between states (else every_s of the table, 60).")  # fmt: skip
@click.option("--yes", is_flag=True, help="Take it in without asking.")
@click.option(
    "--undo", "take_out", is_flag=True, help="Take what came from FILE back out; its name is enough."
)
@study_option
@click.pass_context
def tracks(
    ctx: click.Context, *, files: tuple[Path, ...], name: str | None, start: str | None, every_s: int | None,
    yes: bool, take_out: bool, folder: Path,
) -> None:  # fmt: skip
    """Take in positions of animals, or reads of antennas, and make moments of them.

    study.toml says how a table is to be read ([tracks.NAME]) and where each zone's outline is. A point outside every
    outline is nowhere; what was not seen well enough is unseen, never absent. No file is taken in twice.
    """
    from ...journal import read_journals
    from ...live.tracks import stage
    from ...study import load_declaration

    declared = load_declaration(folder)
    if name is not None and name not in declared.tracks:
        known = ", ".join(declared.tracks) or "none yet"
        raise click.UsageError(f"--as {name}: the study's tables of tracks are {known}")
    done = False
    for path in files:
        journals = read_journals(folder)
        say_problems(p for p in journals.problems if not p.hint)
        try:
            if take_out:
                done = _undo(declared, path, journals) or done
                continue
            if not path.exists():
                raise fault("no-file", path, "", "there is no such file", "a table of positions",
                            remedy="Check its name and folder")  # fmt: skip
            at = None if start is None else asked_time(start, declared, wall_clock())
            staged = stage(declared, path, name=name, start=at, every_s=every_s)
            done = _take_in(declared, staged, journals, yes) or done
        except ProblemError as error:
            say_problems(error.problems)
    if not done:
        ctx.exit(ExitStatus.WRONG_DATA)


def _take_in(declared: Declaration, staged: StagedTracks, journals: Journals, yes: bool) -> bool:
    from ...live.tracks import described, take_in

    path = staged.path
    for line in described(staged, declared):
        say(line)
    if not yes:
        if not someone_there():
            raise fault("not-asked", path, "", "nobody is here to ask whether this is right", "a terminal, or --yes",
                        remedy="Give --yes to take in what was understood; nothing was taken in")  # fmt: skip
        if not click.confirm("Is that right?", default=True, err=True):
            say(f"{path.name}: not taken in.")
            return False
    written = take_in(declared, staged, journals, wall_clock())
    if not written:
        tell(f"{path.name}: taken in already; nothing new.")
        return True
    animals = len(staged.ticks)
    sessions = f"{len(written)} session{'s' * (len(written) > 1)}"
    tell_saved(f"{path.name}: {sessions} of {animals} animal{'s' * (animals > 1)} on record.")
    return True


def _undo(declared: Declaration, path: Path, journals: Journals) -> bool:
    from ...journal import named, undo

    found = named(journals, path.name)
    if not found:
        raise fault("not-taken-in", path.name, "", "nothing was taken in under this name", "a file taken in before",
                    remedy="zoneuse mend lists what is on record")  # fmt: skip
    undone = undo(declared, found, journals, wall_clock())
    tell_saved(
        f"{path.name}: taken out again ({undone.sessions} session{'s' * (undone.sessions != 1)} no longer count)."
    )
    return True
