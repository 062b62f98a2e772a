"""What a logger's file is: its table, its columns, their times and units."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .understand import understand
    from .value_columns import column_meaning

__all__ = [
    "column_meaning",
    "understand",
]
__getattr__ = opened(
    __name__,
    {
        "understand": "understand",
        "value_columns": "column_meaning",
    },
)
