"""Does each zone serve what the keeper says it serves, against the open at the same moments."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...study import ANY_TIME, SLOTS, Declaration
from ...study.model import Zone
from .gradients import LEAST_HOURS
from .series import Climate
from .summary import told_within

COLUMNS = ["zone", "serves", "quantity", "over", "slot", "difference", "sensors_tell", "serving", "hours"]
_RECENT_MS = 7 * 86_400_000
# What a zone that serves this must have more of than the open; a warm or a cool refuge only has to differ.
_MEASURE = {"humidity": ("humidity_pct",), "temperature": ("temperature_c",),
            "radiation": ("uv_index", "surface_c", "temperature_c")}  # fmt: skip


def open_values(declared: Declaration, climate: Climate, zone: Zone, quantity: str) -> Floats | None:
    """The mean over the open zones of a zone's enclosure, or over all its other zones where none is open."""
    others = [
        z for z in declared.zones.values()
        if z.enclosure == zone.enclosure and z.id != zone.id and climate.has(z.id, quantity)
    ]  # fmt: skip
    chosen = [z for z in others if z.role == "open"] or others
    if not chosen:
        return None
    all_of_them = np.column_stack([climate.of(z.id, quantity) for z in chosen])
    there = ~np.isnan(all_of_them)
    total = np.where(there, all_of_them, 0).sum(axis=1)
    count = there.sum(axis=1)
    mean = np.divide(total, count, out=np.full(len(total), np.nan), where=count > 0)
    return np.asarray(mean, np.float64)


def serving(declared: Declaration, climate: Climate, keep: NDArray[np.bool_]) -> pd.DataFrame:
    """One row per zone, purpose, time span (all, last 7 days) and slot: the median difference from the open."""
    rows: list[dict[str, Any]] = []
    for zone in declared.zones.values():
        for purpose in zone.serves:
            quantity = next((q for q in _MEASURE.get(purpose, ()) if climate.has(zone.id, q)), None)
            outside = open_values(declared, climate, zone, quantity) if quantity else None
            if quantity is None or outside is None:
                continue
            apart = np.where(keep, climate.of(zone.id, quantity) - outside, np.nan)
            rows += _rows(declared, climate, zone, purpose, quantity, apart=apart)
    return pd.DataFrame(rows, columns=COLUMNS)


def _rows(
    declared: Declaration, climate: Climate, zone: Zone, purpose: str, quantity: str, *, apart: Floats
) -> list[dict[str, Any]]:
    tell = float(
        np.sqrt(2) * told_within(declared, climate, zone.id, quantity)[0]
    )  # The open is taken to be told as well as the zone itself.
    slots = climate.slots[zone.enclosure]
    recent = climate.times > climate.newest[zone.id, quantity].at_ms - _RECENT_MS
    rows = []
    for over, part in (("all", np.ones_like(recent)), ("last 7 days", recent)):
        for slot in (*SLOTS, ANY_TIME):
            # Radiation is only there while the lights are on.
            if purpose == "radiation" and slot not in ("day", ANY_TIME):
                continue
            here = apart[part & (slots == slot)]
            here = here[~np.isnan(here)]
            hours = len(here) * climate.step_ms / 3_600_000
            if hours < (LEAST_HOURS if over == "all" else LEAST_HOURS / 3):
                continue
            middle = float(np.median(here))
            ok = abs(middle) > tell if purpose == "temperature" else middle > tell
            rows.append(
                {"zone": zone.id, "serves": purpose, "quantity": quantity, "over": over, "slot": slot,
                 "difference": middle, "sensors_tell": tell, "serving": ok, "hours": hours}
            )  # fmt: skip
    return rows
