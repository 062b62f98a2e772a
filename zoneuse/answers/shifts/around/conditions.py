"""Did a change reach the animal's world at all: conditions in the changed zones before and after, by days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....stats.intervals import t_quantile, t_tail
from ....study import QUANTITIES, Declaration, to_ms
from ....tables import Adjustment, choices, conditions
from ....tables.conditions import Readings
from ..moved import Moved, moved_condition
from ..phases import Sides, windows

_STEP = timedelta(hours=2)
# A recharge fades: the days just before and just after it tell what it did, later ones how it dried.
_MOST_DAYS = 4
_FOLLOWED_DAYS = 60
USED = ("temperature_c", "humidity_pct")
# What a change of each kind is made for; the others are looked at too and stand in the table.
_MEANT: Mapping[str, tuple[str, ...]] = {
    "water": ("humidity_pct", "soil_moisture_pct"),
    "heat": ("temperature_c", "surface_c"),
    "light": ("light_lux", "uv_index"),
    "feeding": (),
    "company": (),
}


def conditions_moved(
    declared: Declaration, changes: Sequence[Adjustment], readings: Readings | None
) -> list[dict[str, Any]]:
    """Daily means of each quantity in each changed zone, up to four days either side, with the step between them.

    Limits by Welch's t over days. ``meant`` marks the quantities a change of its kind is made for; ``lasted_d`` are
    the days until half of the step was gone (``faded``), or those known of so far.
    """
    if not declared.loggers or not changes:
        return []
    times = [_around(changes, change) for change in changes]
    # One join for all changes: reading the loggers through costs more than looking up a few days of them.
    asked = [t for own in times for t in own]
    found = conditions(declared, np.array([to_ms(t) for t in asked], np.int64), changes, readings=readings)
    told, at = [], 0
    for change, own in zip(changes, times, strict=True):
        part = slice(at, at + len(own))
        at = part.stop
        day = np.array([int((t - change.at) // timedelta(days=1)) for t in own])
        for zone in change.zones:
            if zone in found.zones:
                column = found.zones.index(zone)
                told += _of_zone(change, zone, {q: v[part, column] for q, v in found.values.items()}, day)
    return told


def _around(changes: Sequence[Adjustment], change: Adjustment) -> list[datetime]:
    """Times from up to four days before a change, to the next change or as long as it is followed."""
    few_days = timedelta(days=_MOST_DAYS)
    seen = windows(changes, change)
    start = max(change.at - few_days, seen.before[0] or change.at - few_days)
    end = change.at + timedelta(days=_FOLLOWED_DAYS)
    end = min(end, min((c.at for c in changes if c.at > change.at), default=end))
    return [start + k * _STEP for k in range(int((end - start) / _STEP))]


def _of_zone(
    change: Adjustment, zone: str, values: dict[str, Floats], day: NDArray[np.int64]
) -> list[dict[str, Any]]:
    told = []
    meant = [q for q in _MEANT.get(change.what, USED) if q in values]
    near = np.abs(day + 0.5) < _MOST_DAYS
    for quantity in [q for q in values if q in QUANTITIES]:
        column = values[quantity]
        sides = [_daily(column[part], day[part])[1] for part in (near & (day < 0), near & (day >= 0))]
        if min(len(s) for s in sides) < 2:
            continue
        before, after = float(sides[0].mean()), float(sides[1].mean())
        half, p = _welch(sides, after - before)
        lasted, faded = _lasted(*_daily(column[day >= 0], day[day >= 0]), before, after)
        told.append(
            {
                "adjustment": change.id, "what": "condition", "name": quantity, "zone": zone, "before": before,
                "after": after, "change": after - before, "change_low": after - before - half,
                "change_high": after - before + half, "p": p, "p_holm": None, "nap": None,
                "n_eff": None, "df": None, "se": None,
                "sessions_before": len(sides[0]), "sessions_after": len(sides[1]), "meant": quantity in meant,
                "lasted_d": lasted, "faded": faded,
            }
        )  # fmt: skip
    return told


def _welch(sides: Sequence[Floats], step: float) -> tuple[float, float | None]:
    """Half width of the 95 % limits of a step between daily means, and its p."""
    errors = [float(s.var(ddof=1)) / len(s) for s in sides]
    error = sum(errors)
    if error <= 0:
        return 0.0, None
    free = error**2 / sum(e**2 / (len(s) - 1) for e, s in zip(errors, sides, strict=True))
    spread = float(np.sqrt(error))
    return t_quantile(0.975, free) * spread, 2 * t_tail(abs(step) / spread, free)


def _lasted(days: NDArray[np.int64], means: Floats, before: float, after: float) -> tuple[int, bool]:
    """Days until the first of two daily means in a row below half of the step, and whether that came."""
    gone = (means - before) * np.sign(after - before) < abs(after - before) / 2
    for k in range(len(days)):
        if gone[k] and (k + 1 == len(days) or gone[k + 1]):
            return int(days[k]), True
    return (int(days[-1]) + 1 if len(days) else 0), False


def _daily(values: Floats, day: NDArray[np.int64]) -> tuple[NDArray[np.int64], Floats]:
    """The days with at least half of their times known, and the mean of each."""
    known = ~np.isnan(values)
    days = np.array([d for d in np.unique(day) if (known & (day == d)).sum() >= 6], np.int64)
    return days, np.array([values[known & (day == d)].mean() for d in days])


def with_conditions(
    declared: Declaration, rows: pd.DataFrame, changes: Sequence[Adjustment], readings: Readings | None
) -> pd.DataFrame:
    """The moments with ``used_QUANTITY``: the condition where the animal was, NaN where unknown."""
    if not declared.loggers or not len(rows) or rows["zone"].isna().all():
        return rows
    seen = rows["zone"].notna()
    found = choices(declared, rows, changes, readings=readings)
    told = {}
    for quantity in USED:
        if quantity in found.conditions:
            column = pd.Series(np.nan, index=rows.index)
            column[seen] = found.conditions[quantity][np.arange(len(found)), found.chosen]
            told[f"used_{quantity}"] = column
    return rows.assign(**told)


def conditions_used(found: Sides, draws: int, seed: int) -> list[Moved]:
    """The mean condition used in each unit, before and after."""
    told = []
    for quantity in USED:
        if f"used_{quantity}" in found.rows and min(found.counts) >= 2:
            means = found.rows[f"used_{quantity}"].groupby(found.unit).mean().sort_index().to_numpy(float)
            moved = moved_condition(found, quantity, means, draws, seed)
            told += [] if moved is None else [moved]
    return told
