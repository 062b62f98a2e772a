"""Cycles of a drying zone: from one water in to the next, on record or found in the readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...readings.trust import span_ms
from ...stats.arrays import Floats
from ...stats.drying import Cycle, centred_medians, days_back, find_rises
from ...study import Declaration, to_ms
from ...tables import Adjustment
from .series import DAY_MS, Climate

# What dries and is topped up: humidity before the substrate.
DRIES = ("humidity_pct", "soil_moisture_pct")
WATER, FOUND, CHANGED, MOVED, FIRST = "water", "found", "changed", "moved", "first reading"
_SAME_DAYS = 1.5


@dataclass(frozen=True, slots=True)
class CycleTurn:
    """Something that ends a cycle and begins the next; ``day`` counts from the first reading."""

    day: float
    kind: str
    adjustment: str = ""


@dataclass(frozen=True)
class ZoneCycles:
    """One zone's readings of one quantity: ``t`` days since ``start_ms`` (its first reading), even grid."""

    zone: str
    quantity: str
    start_ms: int
    t: Floats
    values: Floats
    newest: float
    turns: tuple[CycleTurn, ...]

    def at_ms(self, day: float) -> int:
        return self.start_ms + round(day * DAY_MS)

    @property
    def recharges(self) -> tuple[CycleTurn, ...]:
        return tuple(t for t in self.turns if t.kind in (WATER, FOUND))

    def spans(self, until: float | None = None) -> list[tuple[CycleTurn, float]]:
        """Each cycle's beginning and its end (the next turn, or ``until``), oldest first."""
        end = self.newest if until is None else until
        turns = [t for t in self.turns if t.day < end]
        ends = [*(t.day for t in turns[1:]), end]
        return [(turn, ends[i]) for i, turn in enumerate(turns)]

    def medians(self, turn: CycleTurn, end: float) -> Cycle:
        """Daily medians counted back from ``end``, days since the turn; the first 12 h after it are left out."""
        settle = 0.0 if turn.kind in (FIRST, MOVED) else 0.5
        at = days_back(turn.day, end, settle)
        part = slice(*np.searchsorted(self.t, [turn.day, end + 1e-9]))
        y = centred_medians(self.t[part], self.values[part], at)
        good = ~np.isnan(y)
        return Cycle(at[good] - turn.day, y[good])

    def past(self, before: CycleTurn) -> list[Cycle]:
        return [
            self.medians(turn, end) for turn, end in self.spans(before.day) if turn.day < before.day
        ]  # fmt: skip


def zone_cycles(
    declared: Declaration, changes: Sequence[Adjustment], climate: Climate, zone: str, quantity: str
) -> ZoneCycles:
    """A zone's cycles, up to its newest reading. The zone must have readings of the quantity."""
    low, high = climate.spans[zone, quantity]
    part = slice(*np.searchsorted(climate.times, [low, high + 1]))
    t = (climate.times[part] - low) / DAY_MS
    values = climate.of(zone, quantity)[part]
    newest = (high - low) / DAY_MS
    known = [CycleTurn(0.0, FIRST)]
    for change in changes:
        day = (to_ms(change.at) - low) / DAY_MS
        if zone in change.zones and 0 < day < newest:
            known.append(CycleTurn(day, WATER if change.what == "water" else CHANGED, change.id))
    known += [
        CycleTurn(day, MOVED) for day in _moves(declared, climate, zone, quantity, low) if 0 < day < newest
    ]
    # In the open the weather rises and falls; only water on record counts there.
    indoors = declared.zones[zone].role != "open"
    for day in find_rises(t, values) if indoors else ():
        if all(abs(day - turn.day) > _SAME_DAYS for turn in known[1:]):
            known.append(CycleTurn(day, FOUND))
    return ZoneCycles(
        zone, quantity, low, t, values, newest, tuple(sorted(known, key=lambda k: (k.day, k.kind != FIRST)))
    )


def _moves(declared: Declaration, climate: Climate, zone: str, quantity: str, low: int) -> list[float]:
    """When another logger, or the same in another spot, began to tell of the zone."""
    return [
        (start - low) / DAY_MS
        for name in climate.loggers[zone, quantity]
        for placement in declared.loggers[name].placed
        if placement.zone == zone and (start := span_ms(placement)[0]) > low
    ]


@dataclass(frozen=True, slots=True)
class Response:
    """What one water did: 24-hour median before, highest 6-hour median within 3 days, hours to it, days it held.

    ``held_until`` says what ended it: "limit", "half of the rise", "next water" or "gap in readings" (it held at
    least until then), or "" while it still holds. ``half_d``: days until half of the rise was gone; ``above_d``: days
    at or above the limit.
    """

    zone: str
    quantity: str
    turn: CycleTurn
    before: float
    peak: float
    to_peak_h: float
    held_d: float
    held_until: str
    half_d: float = np.nan
    above_d: float = np.nan


_PEAK_WITHIN_D = 3.0


def response(cycles: ZoneCycles, turn: CycleTurn, end: float, limit: float | None) -> Response:
    """Read a recharge off the readings between it and the end of its cycle."""
    t, v = cycles.t, cycles.values
    before = float(centred_medians(t, v, [turn.day - 0.5])[0])
    at = np.arange(turn.day + 0.125, min(turn.day + _PEAK_WITHIN_D, end - 0.125), 1 / 24)
    six = centred_medians(t, v, at, 0.25) if len(at) else np.empty(0)
    if not len(six) or np.isnan(six).all():
        return Response(cycles.zone, cycles.quantity, turn, before, np.nan, np.nan, np.nan, "")
    top = int(np.nanargmax(six))
    peak, to_peak = float(six[top]), float(at[top] - turn.day)
    bar, word = (limit, "limit") if limit is not None else ((before + peak) / 2, "half of the rise")
    silent = _gap(cycles, turn, end)
    passed = crossing(cycles, turn, silent, bar)
    held = (silent if passed is None else passed) - turn.day
    ended = word if passed is not None else "gap in readings" if silent < end else (
        "" if end >= cycles.newest else "next water")  # fmt: skip
    half = crossing(cycles, turn, silent, (before + peak) / 2)
    return Response(
        cycles.zone, cycles.quantity, turn, before, peak, 24 * to_peak, held, ended,
        np.nan if half is None or peak <= before else half - turn.day, _above(cycles, turn, silent, limit),
    )  # fmt: skip


_GAP_D = 1.0


def _gap(cycles: ZoneCycles, turn: CycleTurn, end: float) -> float:
    """When readings stop for more than a day within a cycle; its end where they do not."""
    part = slice(*np.searchsorted(cycles.t, [turn.day, end]))
    known = cycles.t[part][~np.isnan(cycles.values[part])]
    edges = np.r_[turn.day, known, end]
    far = np.flatnonzero(np.diff(edges) > _GAP_D)
    return float(edges[far[0]]) if len(far) else end


def _above(cycles: ZoneCycles, turn: CycleTurn, end: float, limit: float | None) -> float:
    """Days on which the readings lay at the limit or above it, from the turn to the end; NaN without a limit."""
    if limit is None:
        return np.nan
    part = slice(*np.searchsorted(cycles.t, [turn.day, end]))
    values = cycles.values[part]
    with np.errstate(invalid="ignore"):
        return float((values >= limit).sum() * (cycles.t[1] - cycles.t[0])) if len(cycles.t) > 1 else np.nan


def crossing(cycles: ZoneCycles, turn: CycleTurn, end: float, limit: float) -> float | None:
    """When the centred 24-hour median first passed below a limit, from half a day after the turn on; or None."""
    if not np.isfinite(limit):
        return None
    at = np.arange(turn.day + 1.0, end - 0.5 + 1e-9, 1 / 12)
    daily = centred_medians(cycles.t, cycles.values, at)
    below = np.flatnonzero(daily < limit)
    return float(at[below[0]]) if len(below) else None
