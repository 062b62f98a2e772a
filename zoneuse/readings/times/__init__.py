"""Instants from times as files write them."""

from __future__ import annotations

from .local_time import to_utc, zone_words
from .written import read_written

__all__ = [
    "read_written",
    "to_utc",
    "zone_words",
]
