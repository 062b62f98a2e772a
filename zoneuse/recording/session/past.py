"""Read what was recorded before, for the start of a session."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from ...journal import read_journals
from ...study import Declaration
from .recall import Recall, recall


def read_past(declared: Declaration, folder: Path) -> Recall:
    """What every journal of the study tells a session that starts now."""
    return recall(declared, read_journals(folder), datetime.now(UTC))
