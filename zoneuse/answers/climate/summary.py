"""What each zone is like: usual values, day and night, swing, hours outside the keeper's limits."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...study import DERIVED, Declaration, in_order, value_at
from ...study.model import Bounds
from .series import Climate, accuracy_of, at_ceiling, at_time, derived_accuracy, median_bound, one_sided

_HOUR_MS = 3_600_000
# A day of which a quarter is missing has no swing: its warmest hour may be the one that is gone.
_SWING_HOURS = 18


def quantities_of(climate: Climate) -> list[str]:
    return [q for q in in_order() if q in climate.values]


def summary(declared: Declaration, climate: Climate, keep: NDArray[np.bool_]) -> pd.DataFrame:
    """One row per zone and quantity, over the times that ``keep`` marks. Missing is NaN.

    ``covered``: the share of those times, from the quantity's first reading in any zone to its last, with a value.
    """
    rows = [
        _row(declared, climate, zone, quantity, keep)
        for zone in climate.zones
        for quantity in quantities_of(climate)
        if climate.has(zone, quantity) and keep.any()
    ]
    return pd.DataFrame([r for r in rows if r is not None], columns=COLUMNS)


COLUMNS = [
    "zone", "quantity", "median", "p05", "p95", "minimum", "maximum", "wet_h", "at_least", "bound", "lower_by",
    "upper_by", "median_undoubted", "day", "night", "daily_swing", "below_limit_h", "above_limit_h", "covered",
    "hours", "newest_at", "newest", "checked", "check_age_days", "accuracy", "accuracy_declared", "loggers",
]  # fmt: skip


def _row(
    declared: Declaration, climate: Climate, zone: str, quantity: str, keep: NDArray[np.bool_]
) -> dict[str, Any] | None:
    values = climate.of(zone, quantity)
    there = keep & ~np.isnan(values)
    if not there.any():
        return None
    known = values[there]
    enclosure = declared.zones[zone].enclosure
    slots = climate.slots[enclosure]
    low, high = np.percentile(known, [5, 95])
    least, most = _extremes(climate, zone, quantity, keep, known)
    wet, undoubted = _wet(climate, zone, quantity, there)
    bound = median_bound(quantity, at_ceiling(climate, zone, there))
    below, above = outside_hours(declared, climate, zone, quantity, there)
    newest = climate.newest[zone, quantity]
    sure, known_by_keeper, checked = told_within(declared, climate, zone, quantity)
    middle = float(np.median(known))
    down, up = one_sided(climate, zone, quantity, middle, sure) if bound else (sure, sure)
    span = keep & (climate.times >= _first(climate, quantity)) & (climate.times <= _last(climate, quantity))
    return {
        "zone": zone, "quantity": quantity, "median": middle, "p05": float(low), "p95": float(high),
        "minimum": least, "maximum": most, "wet_h": 24 * wet, "at_least": bool(wet >= 0.5),
        "bound": bound, "lower_by": down, "upper_by": up, "median_undoubted": undoubted,
        "day": _median(values[there & (slots == "day")]), "night": _median(values[there & (slots == "night")]),
        "daily_swing": _swing(climate, values, there), "below_limit_h": below, "above_limit_h": above,
        "covered": float(there.sum() / max(span.sum(), 1)), "hours": float(there.sum() * climate.step_ms / _HOUR_MS),
        "newest_at": at_time(newest.at_ms), "newest": newest.value, "checked": checked,
        "check_age_days": np.nan if checked is None else float((at_time(newest.at_ms).date() - checked).days),
        "accuracy": sure, "accuracy_declared": known_by_keeper,
        "loggers": ", ".join(climate.loggers[zone, quantity]),
    }  # fmt: skip


def _extremes(
    climate: Climate, zone: str, quantity: str, keep: NDArray[np.bool_], known: Floats
) -> tuple[float, float]:
    """The least and the greatest reading, of the readings themselves; of the even clock for what is derived."""
    if (zone, quantity) not in climate.raw:
        return float(known.min()), float(known.max())
    at, values = climate.raw[zone, quantity]
    nearest = np.clip(
        np.rint((at - climate.times[0]) / climate.step_ms).astype(np.int64), 0, len(climate.times) - 1
    )
    here = values[keep[nearest]]
    return (float(here.min()), float(here.max())) if len(here) else (float(known.min()), float(known.max()))


def _wet(climate: Climate, zone: str, quantity: str, there: NDArray[np.bool_]) -> tuple[float, float]:
    """The share of the time at the sensor's ceiling, and the median without what may be a stuck sensor (NaN where
    nothing is doubted); both NaN for all but humidity."""
    if quantity != "humidity_pct":
        return float("nan"), float("nan")
    column = climate.zones.index(zone)
    doubted = climate.doubted[there, column] > 0
    known = climate.of(zone, quantity)[there]
    rest = _median(known[~doubted]) if doubted.any() else float("nan")
    return at_ceiling(climate, zone, there), rest


def _first(climate: Climate, quantity: str) -> int:
    return min(s[0] for (_, q), s in climate.spans.items() if q == quantity)


def _last(climate: Climate, quantity: str) -> int:
    return max(s[1] for (_, q), s in climate.spans.items() if q == quantity)


def _median(values: Floats) -> float:
    return float(np.median(values)) if len(values) else float("nan")


def told_within(declared: Declaration, climate: Climate, zone: str, quantity: str) -> tuple[float, bool, Any]:
    """How far a zone's value may be off, whether the keeper declared it, and the date of the last salt check."""
    if quantity not in DERIVED:
        one = accuracy_of(declared, climate, zone, quantity)
        return one.value, one.declared, one.checked
    warm = accuracy_of(declared, climate, zone, "temperature_c")
    moist = accuracy_of(declared, climate, zone, "humidity_pct")
    usual = [float(np.nanmedian(climate.of(zone, q))) for q in ("temperature_c", "humidity_pct")]
    sure = derived_accuracy(quantity, usual[0], usual[1], warm.value, moist.value)
    return sure, warm.declared and moist.declared, moist.checked


def _swing(climate: Climate, values: Floats, there: NDArray[np.bool_]) -> float:
    """The median over days of the warmest hour less the coolest, from hourly medians; NaN without a full day."""
    frame = pd.DataFrame(
        {"day": climate.day[there], "hour": climate.times[there] // _HOUR_MS, "value": values[there]}
    )
    hourly = frame.groupby(["day", "hour"])["value"].median()
    by_day = hourly.groupby(level="day").agg(["max", "min", "size"])
    full = by_day[by_day["size"] >= _SWING_HOURS]
    return float((full["max"] - full["min"]).median()) if len(full) else float("nan")


def limits_over(
    declared: Declaration, zone: str, quantity: str, times: Iterable[int]
) -> tuple[Floats, Floats]:
    """The keeper's low and high limit at each time, NaN where none is set."""
    timeline = declared.limits.get(zone, {}).get(quantity, ())
    at = np.asarray(list(times), np.int64)
    low, high = np.full(len(at), np.nan), np.full(len(at), np.nan)
    # The first value that holds counts, so later ones are laid down first.
    for dated in reversed(timeline):
        start = -(1 << 60) if dated.span.start is None else round(dated.span.start.timestamp() * 1000)
        end = 1 << 60 if dated.span.until is None else round(dated.span.until.timestamp() * 1000)
        inside = (at >= start) & (at < end)
        low[inside] = np.nan if dated.value.low is None else dated.value.low
        high[inside] = np.nan if dated.value.high is None else dated.value.high
    return low, high


def bounds_at(declared: Declaration, zone: str, quantity: str, at_ms: float) -> Bounds:
    found = value_at(declared.limits.get(zone, {}).get(quantity, ()), at_time(at_ms))
    return found or Bounds()


def outside_hours(
    declared: Declaration, climate: Climate, zone: str, quantity: str, there: NDArray[np.bool_]
) -> tuple[float, float]:
    """Hours below and above the keeper's limits; NaN where no such limit is set."""
    low, high = limits_over(declared, zone, quantity, climate.times)
    values, hour = climate.of(zone, quantity), climate.step_ms / _HOUR_MS
    with np.errstate(invalid="ignore"):
        below, above = float((there & (values < low)).sum()), float((there & (values > high)).sum())
    return (
        below * hour if np.isfinite(low).any() else float("nan"),
        above * hour if np.isfinite(high).any() else float("nan"),
    )
