"""Readings kept as Parquet, a logger each."""

from __future__ import annotations

from .sealing import crc_of
from .store import Intake, Mark, Part, Readings, commit, intakes, parts_of, read, undo
from .through import read_through

__all__ = [
    "Intake",
    "Mark",
    "Part",
    "Readings",
    "commit",
    "crc_of",
    "intakes",
    "parts_of",
    "read",
    "read_through",
    "undo",
]
