"""Which conditions are chosen, and why places are avoided."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import preference
    from .words import cause_said, chosen_places, nearness

__all__ = [
    "cause_said",
    "chosen_places",
    "nearness",
    "preference",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "preference",
        "words": "cause_said chosen_places nearness",
    },
)
