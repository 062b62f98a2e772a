"""Agreement of observers beyond chance."""

from __future__ import annotations

from .agreement import agreement, category_agreement, confusion, kappa_lost
from .clock_offset import clock_offset
from .sample_size import sessions_to_settle
from .several_observers import agreement_of_several

__all__ = [
    "agreement",
    "agreement_of_several",
    "category_agreement",
    "clock_offset",
    "confusion",
    "kappa_lost",
    "sessions_to_settle",
]
