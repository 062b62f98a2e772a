"""Tables of moments, conditions and choices from what is declared and on record."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .availability import amount_at, by_place, offers, place_label, places_of
    from .choices import Choices, choices
    from .conditions import conditions
    from .phases import Adjustment, adjustments
    from .records import Recorded, recorded
    from .watched import moments_of

__all__ = [
    "Adjustment",
    "Choices",
    "Recorded",
    "adjustments",
    "amount_at",
    "by_place",
    "choices",
    "conditions",
    "moments_of",
    "offers",
    "place_label",
    "places_of",
    "recorded",
]
_WHERE = {
    "Adjustment": "phases",
    "Choices": "choices",
    "Recorded": "records",
    "adjustments": "phases",
    "amount_at": "availability",
    "by_place": "availability",
    "choices": "choices",
    "conditions": "conditions",
    "moments_of": "watched",
    "offers": "availability",
    "place_label": "availability",
    "places_of": "availability",
    "recorded": "records",
}


def __getattr__(name: str) -> Any:
    # Practice takes moments without the tables, and so without pandas.
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    return getattr(import_module(f"{__name__}.{_WHERE[name]}"), name)
