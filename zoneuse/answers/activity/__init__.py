"""What is done, how much, and is that more than usual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import activity

__all__ = [
    "activity",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "activity",
    },
)
