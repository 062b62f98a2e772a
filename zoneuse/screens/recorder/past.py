"""Read what was recorded before, for the start of a session."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from ...journal.reader import Journals, read_journals
from ...study.model import Declaration
from .recall import Recall, recall


def read_past(declared: Declaration, folder: Path) -> tuple[Recall, Journals]:
    """Every journal of the study and what it tells a session that starts now."""
    journals = read_journals(folder)
    return recall(declared, journals, datetime.now(UTC)), journals
