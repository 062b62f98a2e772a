"""Which retreats are used, by whom, with whom."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import retreats
    from .chart import months_drawn, together_drawn

__all__ = [
    "months_drawn",
    "retreats",
    "together_drawn",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "retreats",
        "chart": "months_drawn together_drawn",
    },
)
