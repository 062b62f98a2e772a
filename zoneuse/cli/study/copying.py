"""`zoneuse check --deep`: a study read to the last byte, and a copy set beside its original."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping
from pathlib import Path

from ...answers.phrases import counted
from ...study import Problem
from .copies import Differences, differences, digests, fingerprint

# Beyond these the rest is counted: a copy that stopped early lacks thousands of files in one way.
_MOST_NAMED = 5
_WIDTH = 80


def read_whole(folder: Path, original: Path | None) -> tuple[list[Problem], str]:
    """What is wrong with files that open and still cannot be read through, how the study differs from its original
    where one is given, and a sentence on what was read."""
    from ...journal import read_journals
    from ...readings.store import read_through

    try:
        held = digests(folder)
    except OSError as error:
        return [_unreadable(folder, error)], ""
    rows, files, problems = read_through(folder)
    journals = [name for name in held if name.startswith("journal/")]
    records = sum(len(s.entries) + len(s.void) for s in read_journals(folder).sessions.values())
    said = (
        f"Read to the last byte: {counted(len(journals), 'journal')} ({counted(records, 'record')}) and "
        f"{counted(files, 'file')} of readings ({counted(rows, 'row')}). "
        f"Fingerprint {fingerprint(held)} over {counted(len(held), 'file')}: a copy that is whole shows the same."
    )
    return problems + (_compared(folder, original, held) if original else []), textwrap.fill(said, _WIDTH)


def _compared(copy: Path, original: Path, held: Mapping[str, str]) -> list[Problem]:
    """Each way in which a copy is not its original, with what to do."""
    try:
        found = differences(copy, original, held)
    except OSError as error:
        return [_unreadable(copy, error)]
    return [
        Problem("not-whole", str(copy), _names(names), what, f"as in {original}", remedy)
        for names, what, remedy in _ways(found)
        if names
    ]


def _ways(found: Differences) -> list[tuple[tuple[str, ...], str, str]]:
    again = "Copy the study again while nothing is recording or taking in, and check again"
    return [
        (found.missing, "not in the copy", again),
        (found.shorter, "shorter in the copy: its end is missing", again),
        (found.other, "not the same bytes in the copy", f"{again}; if it persists, one of them was changed or damaged"),
        (
            found.more,
            "only in the copy",
            "If the original lost them, copy them back; if the copy is older, copy anew into an empty folder",
        ),
    ]  # fmt: skip


def _names(names: tuple[str, ...]) -> str:
    more = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {more} more" if more > 0 else "")


def _unreadable(folder: Path, error: OSError) -> Problem:
    return Problem(
        "unreadable", str(error.filename or folder), "", f"cannot be read ({error.strerror})", "a file of the study",
        "Restore it from a copy",
    )  # fmt: skip
