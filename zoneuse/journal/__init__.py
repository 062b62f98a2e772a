"""What is on record: journals written, read and folded."""

from __future__ import annotations

from .adjustments import Change, record_change
from .fold import Entry, Place, place_named, reference
from .reader import Journals, Session, read_journals
from .records import Record, RecordError, decode
from .writer import Journal

__all__ = [
    "Change",
    "Entry",
    "Journal",
    "Journals",
    "Place",
    "Record",
    "RecordError",
    "Session",
    "decode",
    "place_named",
    "read_journals",
    "record_change",
    "reference",
]
