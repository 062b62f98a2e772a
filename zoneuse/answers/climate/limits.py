"""Which zones are, or were lately, outside the keeper's own limits; zoneuse ships none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from ...study import Declaration, spoken_time
from ...study.model import Bounds
from ..quantities_said import label, said
from .series import DAY_MS, Climate, NewestReading, at_time
from .summary import bounds_at, limits_over

RECENT_DAYS = 7


def broken_limit(bounds: Bounds, value: float) -> str:
    """``below``, ``above`` or nothing."""
    if bounds.low is not None and value < bounds.low:
        return "below"
    return "above" if bounds.high is not None and value > bounds.high else ""


@dataclass(frozen=True, slots=True)
class OutOfLimits:
    """A zone and quantity outside the limits: ``side`` of the newest reading ("" where inside), hours by side in the
    last week, and in all (``total_h``)."""

    zone: str
    quantity: str
    newest: NewestReading
    bounds: Bounds
    side: str
    hours: Mapping[str, float]
    total_h: Mapping[str, float]
    covered: float


def out_of_limits(
    declared: Declaration, climate: Climate, summary: pd.DataFrame, told: set[tuple[str, str]],
    watered: Mapping[tuple[str, str], int],
) -> list[OutOfLimits]:  # fmt: skip
    """Zones whose newest reading, or some of the last week, lies outside the limits.

    ``told`` holds (zone, quantity) whose lower limit the drying sentences speak of already; ``watered`` when water
    last went in (ms): what was too dry before is over.
    """
    found: list[OutOfLimits] = []
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
            total = {"below": float(row["below_limit_h"]), "above": float(row["above_limit_h"])}
            found.append(
                OutOfLimits(zone, quantity, newest, bounds, side, hours, total, float(row["covered"]))
            )
    return found


def bound_of(bounds: Bounds, side: str) -> float:
    found = bounds.low if side == "below" else bounds.high
    return np.nan if found is None else found


def _recent_hours(
    declared: Declaration, climate: Climate, zone: str, quantity: str, watered_ms: int
) -> dict[str, float]:
    """Hours below and above the limits in the week up to the newest reading; only what is above 0."""
    low, high = limits_over(declared, zone, quantity, climate.times)
    recent = climate.times > climate.newest[zone, quantity].at_ms - RECENT_DAYS * DAY_MS
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
            limit = said(quantity, bound_of(bounds, side), declared.fahrenheit)
            value = said(quantity, newest.value, declared.fahrenheit)
            when = spoken_time(at_time(newest.at_ms), declared.timezone)
            why = f"{labels[zone]}: {label(quantity)} {value} at {when}, {side} your limit of {limit}."
            found.append({"zone": zone, "quantity": quantity, "why": why})
    return found
