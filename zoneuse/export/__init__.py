"""The tables as a Data Package."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .dictionary import dictionary, every_table
    from .package import export
    from .paper import sheets

__all__ = [
    "dictionary",
    "every_table",
    "export",
    "sheets",
]
__getattr__ = opened(
    __name__,
    {
        "dictionary": "dictionary every_table",
        "package": "export",
        "paper": "sheets",
    },
)
