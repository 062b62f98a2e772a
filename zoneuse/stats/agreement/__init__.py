"""Agreement of observers beyond chance."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .agreement import Agreement, CategoryAgreement, agreement, category_agreement, confusion, kappa_lost
    from .clock_offset import Changes, ClockOffset, clock_offset
    from .sample_size import sessions_to_settle
    from .several_observers import agreement_of_several

__all__ = [
    "Agreement",
    "CategoryAgreement",
    "Changes",
    "ClockOffset",
    "agreement",
    "agreement_of_several",
    "category_agreement",
    "clock_offset",
    "confusion",
    "kappa_lost",
    "sessions_to_settle",
]
__getattr__ = opened(
    __name__,
    {
        "agreement": "Agreement CategoryAgreement agreement category_agreement confusion kappa_lost",
        "clock_offset": "Changes ClockOffset clock_offset",
        "sample_size": "sessions_to_settle",
        "several_observers": "agreement_of_several",
    },
)
