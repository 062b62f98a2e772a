"""Tables of moments, conditions and choices from what is declared and on record."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door import opened

if TYPE_CHECKING:
    from .at_once import entered
    from .availability import (
        amount_at,
        by_place,
        milliseconds,
        offers,
        place_label,
        places_of,
        unlooked_places,
    )
    from .choices import Choices, choices
    from .conditions import conditions
    from .moments import AD_LIBITUM, BUDGET, COLUMNS, OUTSIDE
    from .phases import Adjustment, adjustments
    from .records import EVENT, EXPECTED, REMEDIES, Recorded, recorded
    from .rounds import ONE_ROUND, ROUND
    from .watched import DEFAULT_TICK_S, SIGHTINGS, SPENT, moments_of, treatments_of, watched_for
    from .within import in_phase

__all__ = [
    "AD_LIBITUM",
    "BUDGET",
    "COLUMNS",
    "DEFAULT_TICK_S",
    "EVENT",
    "EXPECTED",
    "ONE_ROUND",
    "OUTSIDE",
    "REMEDIES",
    "ROUND",
    "SIGHTINGS",
    "SPENT",
    "Adjustment",
    "Choices",
    "Recorded",
    "adjustments",
    "amount_at",
    "by_place",
    "choices",
    "conditions",
    "entered",
    "in_phase",
    "milliseconds",
    "moments_of",
    "offers",
    "place_label",
    "places_of",
    "recorded",
    "treatments_of",
    "unlooked_places",
    "watched_for",
]
__getattr__ = opened(
    __name__,
    {
        "at_once": "entered",
        "availability": "amount_at by_place milliseconds offers place_label places_of unlooked_places",
        "choices": "Choices choices",
        "conditions": "conditions",
        "moments": "AD_LIBITUM BUDGET COLUMNS OUTSIDE",
        "phases": "Adjustment adjustments",
        "records": "EVENT EXPECTED REMEDIES Recorded recorded",
        "rounds": "ONE_ROUND ROUND",
        "watched": "DEFAULT_TICK_S SIGHTINGS SPENT moments_of treatments_of watched_for",
        "within": "in_phase",
    },
)
