"""Is a zone drying, and when must water go in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ...stats.drying import LEAST_DAYS, MOST_HOLDING, DryForecast, centred_medians, forecast
from ...stats.time_series import SenLine, theil_sen
from ...study import Declaration
from ...tables import Adjustment
from ..finding import TOO_EARLY
from .cycles import DRIES, FIRST, ZoneCycles, crossing, response, zone_cycles
from .series import DAY_MS, Climate, at_ceiling, doubt_of, median_bound
from .summary import bounds_at

STEADY, DRYING, RECHARGE = "steady", "drying", "recharge now"
# Steady: nine in ten continuations stay above the limit for two weeks; without a limit, the trend of the last
# week lies within half a point a day either way (90 %). Both are house rules, and settable.
STEADY_DAYS = 14
STEADY_PER_DAY = 0.5
_TREND_DAYS = 7
CHART_DAYS, CHART_AHEAD = 14, 7


@dataclass(frozen=True)
class Drying:
    """One zone and quantity: the running cycle, and where it is going. Days count from ``now_day``.

    ``level``: the newest 24-hour median; ``saturated``: it lies at the sensor's ceiling, and so is at least that.
    ``per_day``: points lost a day over the last week of the running cycle.
    """

    cycles: ZoneCycles
    now_day: float
    level: float
    trend: SenLine | None
    limit: float | None
    forecast: DryForecast | None
    verdict: str
    reason: str
    past: int
    saturated: bool = False

    @property
    def per_day(self) -> float:
        return np.nan if self.trend is None else -self.trend.slope

    @property
    def days(self) -> tuple[float, float, float]:
        """Days left, with 80 % limits; NaN where not to be told."""
        if self.verdict == RECHARGE and self.reason == "below":
            return 0.0, 0.0, 0.0
        f = self.forecast
        if f is None or self.verdict == TOO_EARLY:
            return np.nan, np.nan, np.nan
        return f.days, f.low, f.high


def all_drying(
    declared: Declaration, changes: Sequence[Adjustment], climate: Climate, now_ms: int | None = None
) -> list[Drying]:
    """Every zone with humidity or substrate moisture. Days count from ``now_ms``, or from each newest reading."""
    found = [
        one_drying(
            declared, zone_cycles(declared, changes, climate, zone, quantity), now_ms,
            accuracy=doubt_of(declared, climate, zone, quantity),
        )
        for quantity in DRIES
        for zone in climate.zones
        if climate.has(zone, quantity)
    ]  # fmt: skip
    return [replace(one, saturated=_saturated(climate, one)) for one in found]


def _saturated(climate: Climate, one: Drying) -> bool:
    """Whether the median of a zone's newest 24 hours lies at its sensor's ceiling."""
    until = one.cycles.at_ms(one.cycles.newest)
    there = (climate.times > until - DAY_MS) & (climate.times <= until)
    return median_bound(one.cycles.quantity, at_ceiling(climate, one.cycles.zone, there)) is not None


def one_drying(
    declared: Declaration, cycles: ZoneCycles, now_ms: int | None, *, accuracy: float = 0.0
) -> Drying:
    """``accuracy``: how far the sensor may be off, drift since its last check included, points."""
    newest = cycles.newest
    now = newest if now_ms is None else max((now_ms - cycles.start_ms) / DAY_MS, newest)
    limit = bounds_at(declared, cycles.zone, cycles.quantity, cycles.at_ms(now)).low
    turn, _ = cycles.spans()[-1]
    running, past = cycles.medians(turn, newest), cycles.past(turn)
    past = [c for c in past if len(c.t) >= 2]
    level = float(running.y[-1]) if len(running.y) else np.nan
    week = running.t > newest - turn.day - _TREND_DAYS
    trend = theil_sen(running.t[week], running.y[week], 0.90) if week.sum() >= LEAST_DAYS else None
    made = None if limit is None else forecast(running, now - turn.day, limit, past, accuracy=accuracy)
    verdict, reason = _verdict(level, limit, made, trend)
    return Drying(cycles, now, level, trend, limit, made, verdict, reason, len(past))


def _verdict(
    level: float, limit: float | None, made: DryForecast | None, trend: SenLine | None
) -> tuple[str, str]:
    if limit is not None and level < limit:
        return RECHARGE, "below"
    if limit is None:
        if trend is None:
            return TOO_EARLY, "few"
        if max(abs(trend.low), abs(trend.high)) <= STEADY_PER_DAY:
            return STEADY, "trend"
        return (DRYING, "trend") if trend.high < 0 else (TOO_EARLY, "unclear")
    if made is None:
        return TOO_EARLY, "few"
    if not made.dated:
        return TOO_EARLY, "holds"
    if made.days <= 1:
        return RECHARGE, "soon"
    if made.chance_by[STEADY_DAYS] <= 0.10:
        return STEADY, "limit"
    # Past cycles that were never seen to fall tell as little as none.
    endless = made.holding > MOST_HOLDING and not np.isfinite(made.high)
    return (TOO_EARLY, "holds") if endless else (DRYING, "limit")


# --- tables -------------------------------------------------------------------------------------------------


def responses(
    dried: Sequence[Drying], declared: Declaration, changes: Sequence[Adjustment] = (),
    since_ms: int | None = None, until_ms: int | None = None,
) -> pd.DataFrame:  # fmt: skip
    """One row per water, zone and quantity: what it did. ``since_ms`` (included) and ``until_ms`` bound the waters."""
    poured = {change.id: (change.amount, change.unit or None) for change in changes}
    rows: list[dict[str, Any]] = []
    for one in dried:
        cycles = one.cycles
        for turn, end in cycles.spans():
            at_ms = cycles.at_ms(turn.day)
            if turn not in cycles.recharges or (since_ms is not None and at_ms < since_ms):
                continue
            if until_ms is not None and at_ms >= until_ms:
                continue
            amount, unit = poured.get(turn.adjustment, (None, None))
            limit = bounds_at(declared, cycles.zone, cycles.quantity, cycles.at_ms(turn.day)).low
            r = response(cycles, turn, end, limit)
            rows.append(
                {
                    "zone": r.zone, "quantity": r.quantity, "adjustment": turn.adjustment or None,
                    "at": pd.Timestamp(cycles.at_ms(turn.day), unit="ms", tz="UTC"), "source": turn.kind,
                    "before": r.before, "peak": r.peak, "rise": r.peak - r.before, "to_peak_h": r.to_peak_h,
                    "held_days": r.held_d, "held_until": r.held_until or None,
                    "amount": amount, "unit": unit, "half_days": r.half_d, "above_limit_days": r.above_d,
                }
            )  # fmt: skip
    return pd.DataFrame(rows, columns=RESPONSE_COLUMNS)


RESPONSE_COLUMNS = [
    "zone", "quantity", "adjustment", "at", "source", "before", "peak", "rise", "to_peak_h", "held_days", "held_until",
    "amount", "unit", "half_days", "above_limit_days",
]  # fmt: skip
BACKTEST_COLUMNS = [
    "zone", "quantity", "crossed_at", "days_before", "past_cycles", "days_left", "days_left_low", "days_left_high",
    "error", "held",
]  # fmt: skip


def backtest(
    declared: Declaration, dried: Sequence[Drying], before: Sequence[int] = (6, 4, 2)
) -> pd.DataFrame:
    """What the forecasts made some days before each crossing on record would have said, from what was known then."""
    rows: list[dict[str, Any]] = []
    for one in dried:
        cycles = one.cycles
        for turn, end in cycles.spans():
            limit = bounds_at(declared, cycles.zone, cycles.quantity, cycles.at_ms(turn.day)).low
            passed = None if limit is None else crossing(cycles, turn, end, limit)
            if passed is None or limit is None:
                continue
            for ahead in before:
                now = passed - ahead
                if now - turn.day < (1.0 if turn.kind == FIRST else 1.5):
                    continue
                past = [c for c in cycles.past(turn) if len(c.t) >= 2]
                made = forecast(cycles.medians(turn, now), now - turn.day, limit, past)
                rows.append(_tested(cycles, passed, ahead, len(past), made))
    return pd.DataFrame(rows, columns=BACKTEST_COLUMNS)


def _tested(
    cycles: ZoneCycles, passed: float, ahead: int, past: int, made: DryForecast | None
) -> dict[str, Any]:
    low, middle, high = (np.nan,) * 3 if made is None else (made.low, made.days, made.high)
    return {
        "zone": cycles.zone, "quantity": cycles.quantity,
        "crossed_at": pd.Timestamp(cycles.at_ms(passed), unit="ms", tz="UTC"), "days_before": ahead,
        "past_cycles": past, "days_left": middle, "days_left_low": low, "days_left_high": high,
        "error": middle - ahead, "held": None if made is None else bool(low <= ahead <= high),
    }  # fmt: skip


def chart(dried: Sequence[Drying]) -> pd.DataFrame:
    """Daily medians of the last two weeks and the forecast of the next: day 0 is the newest reading."""
    rows: list[tuple[Any, ...]] = []
    for one in dried:
        cycles = one.cycles
        at = cycles.newest - 0.5 - np.arange(CHART_DAYS)[::-1]
        for day, value in zip(at, centred_medians(cycles.t, cycles.values, at), strict=True):
            rows.append((cycles.zone, cycles.quantity, day - cycles.newest, value, np.nan, np.nan, False))
        # Days that do not follow on the newest reading cannot stand beside it.
        follows = one.now_day - cycles.newest < 1
        if one.forecast is not None and one.verdict != TOO_EARLY and follows:
            for step, (low, middle, high) in enumerate(one.forecast.path[1 : CHART_AHEAD + 1], 1):
                day = one.now_day - cycles.newest + step
                rows.append((cycles.zone, cycles.quantity, float(day), middle, low, high, True))
    return pd.DataFrame(rows, columns=["zone", "quantity", "day", "median", "low", "high", "ahead"])
