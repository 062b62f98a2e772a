"""Did a change reach the animal's world at all: conditions in the changed zones before and after, by days."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..stats.permutation import permute_phases
from ..stats.quantiles import t_quantile, t_tail
from ..stats.single_case import nap
from ..study.clock import to_ms
from ..study.model import Declaration
from ..tables.choices import choices
from ..tables.conditions import conditions
from ..tables.phases import Adjustment
from .shift_phases import Sides, windows

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


_USED = ("temperature_c", "humidity_pct")


def with_conditions(declared: Declaration, rows: pd.DataFrame, changes: Sequence[Adjustment]) -> pd.DataFrame:
    """The moments with ``used_QUANTITY``: the condition where the animal was, NaN where unknown."""
    if not declared.loggers or not len(rows) or rows["zone"].isna().all():
        return rows
    seen = rows["zone"].notna()
    found = choices(declared, rows, changes)
    told = {}
    for quantity in _USED:
        if quantity in found.conditions:
            column = pd.Series(np.nan, index=rows.index)
            column[seen] = found.conditions[quantity][np.arange(len(found)), found.chosen]
            told[f"used_{quantity}"] = column
    return rows.assign(**told)


def conditions_used(change: Adjustment, found: Sides, draws: int, seed: int) -> list[dict[str, Any]]:
    """The mean condition used in each unit, before and after, exchanged within slots as shares are."""
    told = []
    for quantity in _USED:
        if f"used_{quantity}" not in found.rows or min(found.counts) < 2:
            continue
        means = found.rows[f"used_{quantity}"].groupby(found.unit).mean().sort_index().to_numpy(float)
        known = ~np.isnan(means)
        slots = [s for s in np.unique(found.slot) if 0 < found.late[known & (found.slot == s)].mean() < 1]
        keep = known & np.isin(found.slot, slots)
        late, values = found.late[keep], means[keep]
        if min((~late).sum(), late.sum()) < 2:
            continue
        tested = permute_phases(values[:, None], late, found.slot[keep], draws=draws, seed=seed)
        parts = [values[~late], values[late]]
        errors = [float(v.var(ddof=1)) / len(v) for v in parts]
        free = (
            sum(errors) ** 2 / sum(e**2 / (len(v) - 1) for e, v in zip(errors, parts, strict=True))
            if sum(errors)
            else 1.0
        )
        half = t_quantile(0.975, free) * float(np.sqrt(sum(errors)))
        step, sessions = float(tested.change[0]), found.sessions()
        told.append(
            {
                "adjustment": change.id, "what": "condition", "name": quantity, "zone": None,
                "before": float(parts[0].mean()), "after": float(parts[0].mean()) + step, "change": step,
                "change_low": step - half, "change_high": step + half, "p": float(tested.p[0]), "p_holm": None,
                "nap": nap(parts[0], parts[1]).nap,
                "sessions_before": sessions[0], "sessions_after": sessions[1],
            }
        )  # fmt: skip
    return told
