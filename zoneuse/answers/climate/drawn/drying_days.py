"""A drying zone day by day, as a picture of it needs: daily medians, waters, limit, forecast, and its use."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import pandas as pd

from ....stats.drying import centred_medians
from ....study import Declaration
from ...finding import TOO_EARLY
from ...quantities_said import label
from ..drying import Drying
from ..judge import meant_moist
from ..series import at_time

DAYS_SHOWN = 180
_MOST_POINTS = 400
_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class Water:
    """A water put in: on record, or ``found`` in the readings."""

    at: datetime
    kind: str


@dataclass(frozen=True, slots=True)
class DryingDays:
    """A zone from ``first`` to ``last``; ``cut`` where there are readings before that.

    ``daily`` has at and median (24 h around it, NaN in gaps); ``ahead`` at, low, median, high (80 %) of the forecast,
    may be empty; ``use`` at, slot and share by unit.
    """

    zone: str
    quantity: str
    quantity_said: str
    verdict: str
    limit: float | None
    daily: pd.DataFrame
    ahead: pd.DataFrame
    waters: Sequence[Water]
    use: pd.DataFrame
    first: datetime
    last: datetime
    cut: bool


def drying_days(
    declared: Declaration, dried: Sequence[Drying], use: pd.DataFrame, days: int = DAYS_SHOWN
) -> list[DryingDays]:
    """The zones that have a limit or are meant to be moist, at most ``days`` back from their newest reading.

    ``use`` is that of ``use_of_zones``.
    """
    return [
        _one(declared, one, use, days)
        for one in dried
        if np.isfinite(one.level) and (one.limit is not None or meant_moist(declared, one.cycles.zone))
    ]


def _one(declared: Declaration, one: Drying, use: pd.DataFrame, days: int) -> DryingDays:
    cycles = one.cycles
    since = max(0.0, cycles.newest - days)
    step = max((cycles.newest - since) / _MOST_POINTS, 0.25)
    at = np.arange(since + 0.5, cycles.newest - 0.5 + 1e-9, step)
    medians = centred_medians(cycles.t, cycles.values, at) if len(at) else np.empty(0)
    first = at_time(cycles.at_ms(since))
    ahead = _ahead(one)
    newest = at_time(cycles.at_ms(cycles.newest))
    last = max([newest, *ahead["at"].tolist()]) + timedelta(hours=12)
    zone = declared.zones[cycles.zone]
    mine = use
    if len(use):
        mine = use[(use["place"] == zone.place) & (use["enclosure"] == zone.enclosure)]
        mine = mine[(mine["at"] >= pd.Timestamp(first)) & (mine["at"] <= pd.Timestamp(last))]
    return DryingDays(
        cycles.zone, cycles.quantity, label(cycles.quantity), one.verdict, one.limit,
        pd.DataFrame({"at": [at_time(cycles.at_ms(d)) for d in at], "median": medians}), ahead,
        [Water(at_time(cycles.at_ms(t.day)), t.kind) for t in cycles.recharges if t.day >= since],
        mine.sort_values("at"), first, last, since > 0,
    )  # fmt: skip


def _ahead(one: Drying) -> pd.DataFrame:
    """The forecast of the next two weeks, from the newest reading on; empty where there is none."""
    columns = ["at", "low", "median", "high"]
    if one.forecast is None or one.verdict == TOO_EARLY or one.now_day - one.cycles.newest >= 1:
        return pd.DataFrame(columns=columns)
    path = one.forecast.path[: _AHEAD_DAYS + 1]
    return pd.DataFrame(
        [
            (at_time(one.cycles.at_ms(one.now_day + k)), *(float(v) for v in row))
            for k, row in enumerate(path)
        ],
        columns=columns,
    )
