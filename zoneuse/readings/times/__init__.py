"""Instants from times as files write them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .local_time import to_utc, zone_words
    from .written import read_written

__all__ = [
    "read_written",
    "to_utc",
    "zone_words",
]
__getattr__ = opened(
    __name__,
    {
        "local_time": "to_utc zone_words",
        "written": "read_written",
    },
)
