"""`zoneuse check`: everything that is wrong or missing, each with its place and a remedy."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

import click

from ...journal import Journals, read_journals
from ...study import Declaration, Problem, read_declaration
from ..narration import ExitStatus, say, say_problems, tell
from ..options import study_option


@click.command(
    epilog="Examples:  zoneuse check --study my-demo\n\n"
    "           zoneuse check --deep --study /media/backup/my-demo --original my-demo"
)
@study_option
@click.option(
    "--deep",
    is_flag=True,
    help="Read every byte of every file, and show the fingerprint that a complete copy shares.",
)
@click.option(
    "--original",
    type=click.Path(path_type=Path, file_okay=False, exists=True),
    metavar="FOLDER",
    help="Compare this study, a copy, with FOLDER file by file (with --deep or without).",
)
@click.pass_context
def check(ctx: click.Context, folder: Path, deep: bool, original: Path | None) -> None:
    """List everything that is wrong or missing in a study. Exits 1 for faults, 0 for hints."""
    from ...journal import check_journals

    declared, problems = read_declaration(folder)
    found = list(problems)
    read = ""
    if deep or original:
        from .copying import read_whole

        faults_in_files, read = read_whole(folder, original)
        found += faults_in_files
    if declared is not None:
        journals = read_journals(folder)
        found += journals.problems
        found += check_journals(declared, journals)
        found += _left_out(declared, journals)
        found += _check_readings(folder, declared.loggers.keys())
        found += _check_tracks(folder, journals)
    say_problems(sorted(found, key=lambda p: p.hint))
    faults = sum(not p.hint for p in found)
    if faults:
        rest = len(found) - faults
        say(f"{faults} fault{'s' * (faults != 1)} to mend, {rest} hint{'s' * (rest != 1)}.")
        ctx.exit(ExitStatus.WRONG_DATA)
    hints = f", {len(found)} hint{'s' * (len(found) != 1)}" if found else ""
    tell(f"{folder.resolve().name}: nothing wrong{hints}.")
    if read:
        tell(read)
    if original:
        tell(f"Whole: every file is as in {original}.")


def _left_out(declared: Declaration, journals: Journals) -> list[Problem]:
    """Sightings no answer counts, by session and reason, with what could be done about it."""
    from ...tables import EXPECTED, REMEDIES, recorded

    if not any(session.watched for session in journals.sessions.values()):
        return []
    records = recorded(declared, journals).records
    lost = records[(records["left_out"] != "") & ~records["left_out"].isin(EXPECTED)]
    found = []
    for (session, why), rows in lost.groupby(["session", "left_out"], sort=False):
        numbers = ", ".join(str(n) for n in rows["n"].head(5)) + (" …" if len(rows) > 5 else "")
        what = f"{len(rows)} record{'s' * (len(rows) != 1)} left out of every answer: {why}"
        remedy = REMEDIES[str(why).split(":")[0]]
        found.append(
            Problem("left-out", f"session {session}", f"record {numbers}", what, "", remedy, hint=True)
        )
    return found


def _check_tracks(folder: Path, journals: Journals) -> tuple[Problem, ...]:
    """Files of tracks that are damaged."""
    if not (folder / "tracks").is_dir():
        return ()
    from ...live.tracks import kept_ticks

    return kept_ticks(folder, journals).problems


def _check_readings(folder: Path, loggers: Collection[str]) -> list[Problem]:
    """Records of intakes that cannot be read, and stored loggers study.toml does not declare."""
    from ...readings.store import intakes

    taken_in, problems = intakes(folder)
    unknown = sorted({part.logger for intake in taken_in for part in intake.parts} - set(loggers))
    return [
        *problems,
        *(
            Problem(
                "id-gone",
                str(folder / "study.toml"),
                f"loggers.{name}",
                "has stored readings and is not declared",
                "every logger that was ever taken in",
                f"Put [loggers.{name}] back, with an until date in placed if it is gone",
            )
            for name in unknown
        ),
    ]
