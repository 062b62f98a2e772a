"""Did a change alter anything."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...door import opened

if TYPE_CHECKING:
    from .ask import shifts
    from .expected import expected_label
    from .over_time import AFTER, BEFORE, SETTLING, expected_places, use_around_changes, use_of_zones
    from .picture import Changed, around

__all__ = [
    "AFTER",
    "BEFORE",
    "SETTLING",
    "Changed",
    "around",
    "expected_label",
    "expected_places",
    "shifts",
    "use_around_changes",
    "use_of_zones",
]
__getattr__ = opened(
    __name__,
    {
        "ask": "shifts",
        "expected": "expected_label",
        "over_time": "AFTER BEFORE SETTLING expected_places use_around_changes use_of_zones",
        "picture": "Changed around",
    },
)
