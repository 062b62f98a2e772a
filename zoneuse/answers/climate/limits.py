"""Which zones are, or were lately, outside the keeper's own limits; zoneuse ships none."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...study.clock import spoken_time
from ...study.model import Bounds, Declaration
from ..finding import Finding
from ..quantities_said import label, said
from .series import DAY_MS, Climate, Newest, at_time
from .summary import bounds_at, limits_over

OUTSIDE = "outside limits"
_RECENT_DAYS = 7


def broken_limit(bounds: Bounds, value: float) -> str:
    """``below``, ``above`` or nothing."""
    if bounds.low is not None and value < bounds.low:
        return "below"
    return "above" if bounds.high is not None and value > bounds.high else ""


def limit_findings(
    declared: Declaration, climate: Climate, summary: pd.DataFrame, labels: Mapping[str, str],
    told: set[tuple[str, str]], watered: Mapping[tuple[str, str], int],
) -> list[Finding]:  # fmt: skip
    """Zones whose newest reading, or some of the last week, lies outside the limits.

    ``told`` holds (zone, quantity) whose lower limit the drying sentences speak of already; ``watered`` when water
    last went in (ms): what was too dry before is over.
    """
    found: list[Finding] = []
    for row in summary.to_dict("records"):
        zone, quantity = str(row["zone"]), str(row["quantity"])
        if quantity not in declared.limits.get(zone, {}):
            continue
        newest = climate.newest[zone, quantity]
        bounds = bounds_at(declared, zone, quantity, newest.at_ms)
        side = broken_limit(bounds, newest.value)
        hours = _recent_hours(declared, climate, zone, quantity, watered.get((zone, quantity), 0))
        if (zone, quantity) in told:
            side, hours = side.replace("below", ""), {k: h for k, h in hours.items() if k != "below"}
        if side or hours:
            name = labels[zone], label(quantity)
            found.append(_finding(declared, zone, quantity, name, newest, bounds, side, hours, row))
    return found


def _finding(
    declared: Declaration, zone: str, quantity: str, name: tuple[str, str], newest: Newest, bounds: Bounds,
    side: str, hours: Mapping[str, float], row: Mapping[Any, Any],
) -> Finding:  # fmt: skip
    parts = []
    if side:
        limit = said(quantity, _bound(bounds, side), declared.fahrenheit)
        value = said(quantity, newest.value, declared.fahrenheit)
        when = spoken_time(at_time(newest.at_ms), declared.timezone)
        parts.append(f"the newest reading ({value}, {when}) is {side} your limit of {limit}")
    for where, h in hours.items():
        bound = _bound(bounds, where)
        limit = said(quantity, bound, declared.fahrenheit) if np.isfinite(bound) else "then"
        total = row["below_limit_h" if where == "below" else "above_limit_h"]
        parts.append(
            f"{h:.0f} h {where} your limit of {limit} in its last {_RECENT_DAYS} days ({total:.0f} h in all, "
            f"{100 * row['covered']:.0f} % covered)"
        )
    return Finding((zone,), OUTSIDE, "", says=f"{name[0]}, {name[1]}: {'; '.join(parts)}.")


def _bound(bounds: Bounds, side: str) -> float:
    found = bounds.low if side == "below" else bounds.high
    return np.nan if found is None else found


def _recent_hours(
    declared: Declaration, climate: Climate, zone: str, quantity: str, watered_ms: int
) -> dict[str, float]:
    """Hours below and above the limits in the week up to the newest reading; only what is above 0."""
    low, high = limits_over(declared, zone, quantity, climate.times)
    recent = climate.times > climate.newest[zone, quantity].at_ms - _RECENT_DAYS * DAY_MS
    values, hour = climate.of(zone, quantity), climate.step_ms / 3_600_000
    with np.errstate(invalid="ignore"):
        both = {
            "below": (recent & (climate.times >= watered_ms) & (values < low)).sum(),
            "above": (recent & (values > high)).sum(),
        }
    return {word: float(count) * hour for word, count in both.items() if count}


def needs_keeper(declared: Declaration, climate: Climate, labels: Mapping[str, str]) -> list[dict[str, Any]]:
    """Newest readings that break a limit: zone, quantity, why."""
    found = []
    for (zone, quantity), newest in climate.newest.items():
        bounds = bounds_at(declared, zone, quantity, newest.at_ms)
        side = broken_limit(bounds, newest.value)
        if side:
            limit = said(quantity, _bound(bounds, side), declared.fahrenheit)
            value = said(quantity, newest.value, declared.fahrenheit)
            when = spoken_time(at_time(newest.at_ms), declared.timezone)
            why = f"{labels[zone]}: {label(quantity)} {value} at {when}, {side} your limit of {limit}."
            found.append({"zone": zone, "quantity": quantity, "why": why})
    return found
