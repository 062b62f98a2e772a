"""What is there to choose from: how much of each zone, and which rows answers have, moment by moment."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from ..study.clock import zone_offered
from ..study.model import Declaration, Zone, value_at

Floats = NDArray[np.float64]


def places_of(declared: Declaration) -> list[str]:
    """The rows of the answers: zones, or the places that zones of several enclosures share, in file order."""
    return list(dict.fromkeys(zone.place for zone in declared.zones.values()))


def place_label(declared: Declaration, place: str) -> str:
    """The label a place is shown by; zones of one place usually share it."""
    labels = dict.fromkeys(z.label for z in declared.zones.values() if z.place == place)
    return next(iter(labels)) if len(labels) == 1 else place


def amounts_offered(
    declared: Declaration,
    zones: Sequence[Zone],
    enclosures: Sequence[str],
    times: Sequence[datetime],
    equal: bool = False,
) -> Floats:
    """(moments x zones) how much of each zone is offered then, in measured_in; 0 where it is not there.

    ``enclosures`` and ``times`` give one entry per moment. ``equal`` counts every zone that is there as 1.
    """
    known: dict[tuple[str, datetime], Floats] = {}
    rows = np.empty((len(times), len(zones)))
    for i, key in enumerate(zip(enclosures, times, strict=True)):
        row = known.get(key)
        if row is None:
            row = known[key] = _row(declared, zones, *key, equal)
        rows[i] = row
    return rows


def _row(declared: Declaration, zones: Sequence[Zone], enclosure: str, at: datetime, equal: bool) -> Floats:
    amounts = np.zeros(len(zones))
    for j, zone in enumerate(zones):
        if zone.enclosure == enclosure and zone_offered(declared, zone, at):
            amounts[j] = amount_at(zone, at, equal)
    return amounts


def amount_at(zone: Zone, at: datetime, equal: bool) -> float:
    """How much of a zone there is at a moment; outside all dated values the first one counts."""
    return 1.0 if equal else value_at(zone.amount, at) or zone.amount[0].value
