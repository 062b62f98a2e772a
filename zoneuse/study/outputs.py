"""Files that answers are written to: none that exists is replaced unasked, and never a study's own records."""

from __future__ import annotations

from pathlib import Path

from .labels import visible
from .problems import fault

STUDY_FILE = "study.toml"
_RECORDS = ("journal", "readings")


def refuse_overwriting(path: Path, force: bool) -> None:
    """Raise ProblemError where a file may not be written: it exists, or it lies among a study's records.

    What is no file of its own (a pipe, /dev/stdout) may always be written to.
    """
    final = path.resolve()
    shown = visible(str(path))
    own = (p for p in final.parents if p.name in _RECORDS and (p.parent / STUDY_FILE).exists())
    if next(own, None) is not None or (final.name == STUDY_FILE and final.exists()):
        raise fault(
            "output-place", shown, "", "is the study itself, or lies among its records", "a file outside of them",
            remedy="Name another file; nothing was written",
        )  # fmt: skip
    if final.is_file() and not force:
        raise fault(
            "output-exists", shown, "", "is there already", "a new name",
            remedy="Name another file, or replace it with --force; nothing was written",
        )  # fmt: skip
