"""Did a change reach the animal's world at all: conditions in the changed zones before and after, by days."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..stats.quantiles import t_quantile, t_tail
from ..study.model import Declaration
from ..tables.conditions import conditions, to_ms
from ..tables.phases import Adjustment
from .shift_phases import windows

Floats = NDArray[np.float64]
_STEP = timedelta(hours=2)
# A recharge fades: the days just before and just after it tell what it did, later ones how it dried.
_MOST_DAYS = 4


def conditions_moved(
    declared: Declaration, changes: Sequence[Adjustment], rows: pd.DataFrame
) -> list[dict[str, Any]]:
    """Daily means of each quantity in each changed zone, four days either side, with the step between them.

    Limits by Welch's t over days.
    """
    if not declared.loggers or not changes:
        return []
    told = []
    for change in changes:
        seen = windows(changes, change)
        start = max(
            change.at - timedelta(days=_MOST_DAYS), seen.before[0] or change.at - timedelta(days=_MOST_DAYS)
        )
        end = min(
            change.at + timedelta(days=_MOST_DAYS), seen.after[1] or change.at + timedelta(days=_MOST_DAYS)
        )
        times = [start + k * _STEP for k in range(int((end - start) / _STEP))]
        found = conditions(declared, np.array([to_ms(t) for t in times], np.int64), changes)
        late = np.array([t >= change.at for t in times])
        day = np.array([int((t - change.at) // timedelta(days=1)) for t in times])
        for zone in change.zones:
            if zone in found.zones:
                told += _of_zone(
                    change,
                    zone,
                    {q: v[:, found.zones.index(zone)] for q, v in found.values.items()},
                    late,
                    day,
                )
    return told


def _of_zone(
    change: Adjustment, zone: str, values: dict[str, Floats], late: NDArray[np.bool_], day: NDArray[np.int64]
) -> list[dict[str, Any]]:
    told = []
    for quantity in ("temperature_c", "humidity_pct", "soil_moisture_pct", "surface_c"):
        if quantity not in values:
            continue
        sides = [_daily(values[quantity][part], day[part]) for part in (~late, late)]
        if min(len(s) for s in sides) < 2:
            continue
        before, after = float(sides[0].mean()), float(sides[1].mean())
        errors = [float(s.var(ddof=1)) / len(s) for s in sides]
        error = sum(errors)
        free = (
            error**2 / sum(e**2 / (len(s) - 1) for e, s in zip(errors, sides, strict=True))
            if error > 0
            else 1.0
        )
        half = t_quantile(0.975, free) * float(np.sqrt(error))
        p = 2 * t_tail(abs(after - before) / float(np.sqrt(error)), free) if error > 0 else None
        told.append(
            {
                "adjustment": change.id, "what": "condition", "name": quantity, "zone": zone, "before": before,
                "after": after, "change": after - before, "change_low": after - before - half,
                "change_high": after - before + half, "p": p, "p_holm": None, "nap": None,
                "sessions_before": len(sides[0]), "sessions_after": len(sides[1]),
            }
        )  # fmt: skip
    return told


def _daily(values: Floats, day: NDArray[np.int64]) -> Floats:
    """Mean of each day with at least half of its times known."""
    known = ~np.isnan(values)
    return np.array(
        [values[known & (day == d)].mean() for d in np.unique(day) if (known & (day == d)).sum() >= 6]
    )
