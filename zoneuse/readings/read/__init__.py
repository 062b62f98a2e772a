"""A file read through, and what is said of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .intake import Staged, already_taken_in, stage, undo_file
    from .summary import describe, taken_words
    from .workbook import as_text_table, is_workbook

__all__ = [
    "Staged",
    "already_taken_in",
    "as_text_table",
    "describe",
    "is_workbook",
    "stage",
    "taken_words",
    "undo_file",
]
__getattr__ = opened(
    __name__,
    {
        "intake": "Staged already_taken_in stage undo_file",
        "summary": "describe taken_words",
        "workbook": "as_text_table is_workbook",
    },
)
