"""What a logger's file is: its table, its columns, their times and units."""

from __future__ import annotations

from .understand import understand
from .value_columns import column_meaning

__all__ = [
    "column_meaning",
    "understand",
]
