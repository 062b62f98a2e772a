"""`zoneuse` alone: what there is to do next in this folder."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from ...study import FILE_NAME, ProblemError, read_declaration
from ..narration import tell

_EARLY = 15
_OLD = timedelta(days=7)


def tell_next(folder: Path, now: datetime) -> None:
    """One or two lines with a command each, for whoever types `zoneuse` and nothing else."""
    for line in next_steps(folder, now):
        tell(line)
    tell("\nEvery command: zoneuse --help")


def next_steps(folder: Path, now: datetime) -> list[str]:
    if not (folder / FILE_NAME).is_file():
        return [
            "There is no study in this folder.",
            "  zoneuse new my-study     start one of your own, no editor needed",
            "  zoneuse demo my-demo     an invented one to play with",
        ]
    try:
        declared, problems = read_declaration(folder)
    except ProblemError as error:
        declared, problems = None, error.problems
    if declared is None:
        faults = sum(not p.hint for p in problems)
        return [
            f"study.toml has {faults} fault{'s' * (faults != 1)}.",
            "  zoneuse check            says where, and what to write",
        ]
    # Loaded on use: a folder without a study needs no journals.
    from ...journal import read_journals
    from ...recording import read_newest

    watched = [s for s in read_journals(folder).sessions.values() if s.watched]
    steps = [f"{declared.title}: {len(watched):,} session{'s' * (len(watched) != 1)} on record."]
    newest = max((n.at for n in read_newest(folder)), default=None)
    if not watched:
        steps += [
            "  zoneuse watch --practice  try it on made-up animals",
            "  zoneuse watch             the first session",
            "  zoneuse sightings FILE    notes you have already",
        ]
    elif len(watched) < _EARLY:
        steps += [
            "  zoneuse plan             what to watch next; it is early for answers",
            "  zoneuse watch            the next session",
        ]
    else:
        steps += [
            "  zoneuse zones            which zones are avoided or favoured",
            "  zoneuse review           the answers in screens",
        ]
    if declared.loggers and newest is None:
        steps.append("  zoneuse readings FILE    what the loggers wrote; none of it is here yet")
    elif declared.loggers and newest is not None and now - newest > _OLD:
        steps.append(f"  zoneuse readings FILE    the newest reading is {(now - newest).days} days old")
    return steps
