"""Limits of which nobody can tell whether they hold: no reading, an old one, or none that is believed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from ...study import Declaration, spoken_time, to_ms
from ..quantities_said import label
from .series import Climate, at_time
from .summary import bounds_at

# A limit is watched by a reading of the last day; an older one says nothing of the animal now.
YOUNG_H = 24
# A sensor that goes on without a believed value for so long is watched by nobody.
_UNHEARD_MS = 3_600_000


def untold(
    declared: Declaration, climate: Climate | None, now: datetime, labels: Mapping[str, str]
) -> list[dict[str, Any]]:
    """Zone, quantity and why, for each limit that holds ``now`` and is not watched by a young, believed reading."""
    found = []
    for zone, limits in declared.limits.items():
        for quantity in limits:
            bounds = bounds_at(declared, zone, quantity, to_ms(now))
            if bounds.low is None and bounds.high is None:
                continue
            newest = None if climate is None else climate.newest.get((zone, quantity))
            name = f"{labels.get(zone, zone)}: {label(quantity)}"
            if newest is None:
                why = f"{name} has a limit and no believed reading, so it cannot be told."
            elif to_ms(now) - newest.at_ms > YOUNG_H * 3_600_000:
                when = spoken_time(at_time(newest.at_ms), declared.timezone)
                why = f"{name} cannot be told: its newest believed reading is of {when}, more than {YOUNG_H} h ago."
            elif (
                climate is not None
                and climate.newest_of_all.get((zone, quantity), 0) - newest.at_ms > _UNHEARD_MS
            ):
                when = spoken_time(at_time(newest.at_ms), declared.timezone)
                why = f"{name} cannot be told: its readings since {when} are missing or not believed."
            else:
                continue
            found.append({"zone": zone, "quantity": quantity, "why": why})
    return found
