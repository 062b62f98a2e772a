"""Which zones are avoided or favoured."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import zones
    from .picture import sketch_of

__all__ = [
    "sketch_of",
    "zones",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "zones",
        "picture": "sketch_of",
    },
)
