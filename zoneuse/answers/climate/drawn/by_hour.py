"""Each zone's readings by hour of the clock, and how much it was used at that hour."""

from __future__ import annotations

from datetime import tzinfo

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....study import QUANTITIES, Declaration
from ..series import Climate

COLUMNS = ["zone", "quantity", "hour", "median", "p05", "p95", "days", "used", "sessions"]
# Fewer readings of an hour give no middle 90 %.
LEAST_DAYS = 3


def by_hour(
    declared: Declaration, series: Climate, keep: NDArray[np.bool_], rows: pd.DataFrame
) -> pd.DataFrame:
    """One row per zone, measured quantity and hour with readings on at least three days: median and middle 90 %.

    ``used`` is the share of the moments seen at that hour, over the whole study, that were spent in the zone's place;
    missing where nobody was seen at that hour.
    """
    times = pd.to_datetime(series.times[keep], unit="ms", utc=True).tz_convert(_zone(declared))
    hour = np.asarray(times.hour, np.int64)
    day = series.day[keep]
    used, sessions = _use(rows)
    found = []
    for quantity in (q for q in series.values if q in QUANTITIES):
        for zone in series.zones:
            if not series.has(zone, quantity):
                continue
            values = series.of(zone, quantity)[keep]
            place = declared.zones[zone].place
            for h in range(24):
                mine = (hour == h) & ~np.isnan(values)
                days = len(np.unique(day[mine]))
                if days < LEAST_DAYS:
                    continue
                low, middle, high = np.quantile(values[mine], (0.05, 0.5, 0.95))
                watched = sessions.get(h, 0)
                share = used.get((h, place), 0.0) if watched else np.nan
                found.append((zone, quantity, h, middle, low, high, days, share, watched))
    return pd.DataFrame(found, columns=COLUMNS)


def _zone(declared: Declaration) -> tzinfo:
    return declared.timezone


def _use(rows: pd.DataFrame) -> tuple[dict[tuple[int, str], float], dict[int, int]]:
    """The share of the moments of each hour seen in each place, and the sessions of each hour."""
    seen = rows[rows["place"].notna()] if len(rows) else rows
    if not len(seen):
        return {}, {}
    hour = seen["hour"].astype(int)
    weight = seen.groupby([hour, "place"])["weight"].sum()
    total = seen.groupby(hour)["weight"].sum()
    sessions = seen.groupby(hour)["session"].nunique()
    hours = weight.index.get_level_values(0)
    places = weight.index.get_level_values(1)
    used = {
        (int(h), str(p)): float(w / total[h])
        for h, p, w in zip(hours, places, weight.to_numpy(), strict=True)
    }
    return used, {int(h): int(n) for h, n in zip(sessions.index, sessions.to_numpy(), strict=True)}
