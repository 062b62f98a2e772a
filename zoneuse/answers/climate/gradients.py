"""Do the zones differ, in what, when: differences at the same moments against what the sensors can tell."""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...study import ANY_TIME, SLOTS, Declaration
from .series import Climate, difference_bound
from .summary import quantities_of, told_within

LEAST_HOURS = 12.0
COLUMNS = [
    "enclosure", "slot", "quantity", "zone", "other", "difference", "difference_p05", "difference_p95",
    "bound", "sensors_tell", "measurable", "hours",
]  # fmt: skip


def gradients(declared: Declaration, climate: Climate, keep: NDArray[np.bool_]) -> pd.DataFrame:
    """Every two zones of an enclosure, by slot: the median of zone - other at the same moments, always positive.

    Where no lights are declared all hours are one slot, and the mean stands for the median.

    ``sensors_tell``: the accuracies of both in quadrature; below it nothing is ``measurable``.
    """
    rows: list[dict[str, Any]] = []
    for enclosure in declared.enclosures:
        zones = [z for z in climate.zones if declared.zones[z].enclosure == enclosure]
        slots = climate.slots[enclosure]
        for quantity in quantities_of(climate):
            there = [z for z in zones if climate.has(z, quantity)]
            for one, other in combinations(there, 2):
                apart = np.where(keep, climate.of(one, quantity) - climate.of(other, quantity), np.nan)
                tell = _tell(declared, climate, one, other, quantity)
                rows += _by_slot(climate, slots, apart, (enclosure, quantity, one, other), tell)
    return pd.DataFrame(rows, columns=COLUMNS)


def _tell(declared: Declaration, climate: Climate, one: str, other: str, quantity: str) -> float:
    first, second = (told_within(declared, climate, z, quantity)[0] for z in (one, other))
    return float(np.hypot(first, second))


def _by_slot(
    climate: Climate, slots: NDArray[np.str_], apart: NDArray[np.float64], key: tuple[str, str, str, str],
    tell: float,
) -> list[dict[str, Any]]:  # fmt: skip
    enclosure, quantity, one, other = key
    rows = []
    for slot in (*SLOTS, ANY_TIME):
        there = (slots == slot) & ~np.isnan(apart)
        here = apart[there]
        hours = len(here) * climate.step_ms / 3_600_000
        if hours < LEAST_HOURS:
            continue
        low, middle, high = (float(v) for v in np.percentile(here, [5, 50, 95]))
        # Without lights all hours are one slot, and a median of day and night together may tell of neither.
        if slot == ANY_TIME:
            middle = float(here.mean())
        names, limits = ((one, other), (low, high)) if middle >= 0 else ((other, one), (-high, -low))
        rows.append(
            {
                "enclosure": enclosure, "slot": slot, "quantity": quantity, "zone": names[0], "other": names[1],
                "difference": abs(middle), "difference_p05": limits[0], "difference_p95": limits[1],
                "bound": difference_bound(climate, quantity, *names, there, mean=slot == ANY_TIME),
                "sensors_tell": tell, "measurable": abs(middle) > tell, "hours": hours,
            }
        )  # fmt: skip
    return rows
