"""Readings kept as Parquet, a logger each."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .live_days import Day, LiveRow, append, day_path, last_written, live_taken, newest_packets, read_days
    from .sealing import crc_of
    from .store import PartWriter, Readings, commit, intakes, new_id, parts_of, read, undo
    from .taken import Intake, Mark, Part
    from .through import read_through

__all__ = [
    "Day",
    "Intake",
    "LiveRow",
    "Mark",
    "Part",
    "PartWriter",
    "Readings",
    "append",
    "commit",
    "crc_of",
    "day_path",
    "intakes",
    "last_written",
    "live_taken",
    "new_id",
    "newest_packets",
    "parts_of",
    "read",
    "read_days",
    "read_through",
    "undo",
]
__getattr__ = opened(
    __name__,
    {
        "live_days": "Day LiveRow append day_path last_written live_taken newest_packets read_days",
        "sealing": "crc_of",
        "store": "PartWriter Readings commit intakes new_id parts_of read undo",
        "taken": "Intake Mark Part",
        "through": "read_through",
    },
)
