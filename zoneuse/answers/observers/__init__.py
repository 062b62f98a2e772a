"""Do two observers agree."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import observers

__all__ = [
    "observers",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "observers",
    },
)
