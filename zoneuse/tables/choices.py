"""The `choices` table, as arrays: each moment an animal was seen, against every zone it could be in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..readings.arrow_arrays import Values
from ..study import Declaration, value_at
from .availability import milliseconds, offers
from .conditions import Conditions, Readings, conditions
from .phases import Adjustment


@dataclass(frozen=True, slots=True)
class Choices:
    """Moments x zones. ``availability`` is each zone's share (0: not there); ``chosen`` the zone's column.

    ``rows`` is the part of `moments` they come from, one row per moment; ``conditions`` by quantity and
    ``cover`` are NaN where unknown.
    """

    rows: pd.DataFrame
    zones: tuple[str, ...]
    places: tuple[str, ...]
    availability: Values
    chosen: NDArray[np.int64]
    conditions: Mapping[str, Values]
    cover: Values

    def __len__(self) -> int:
        return len(self.rows)


def choices(
    declared: Declaration,
    moments: pd.DataFrame,
    changes: Sequence[Adjustment] = (),
    *,
    equal: bool = False,
    max_gap_ms: int | None = None,
    join: bool = True,
    readings: Readings | None = None,
) -> Choices:
    """What was on offer at each moment of `moments` in which the animal's zone is known.

    A zone the animal was in is always on offer to it then, whatever the plan of the lamp says; it then
    counts with its amount. ``join`` False leaves the loggers out.
    """
    rows = moments[moments["zone"].notna()].reset_index(drop=True)
    zones = tuple(declared.zones)
    listed = list(declared.zones.values())
    availability, chosen = offers(declared, rows, equal)
    cover = np.full(availability.shape, np.nan)
    for j, zone in enumerate(listed):
        if len(zone.cover) == 1:
            cover[:, j] = zone.cover[0].value
        elif zone.cover:
            cover[:, j] = [_or_nan(value_at(zone.cover, at)) for at in _times(rows)]
    found = Conditions(zones, {})
    if join and declared.loggers:
        found = conditions(declared, milliseconds(rows), changes, max_gap_ms, readings)
    return Choices(rows, zones, tuple(z.place for z in listed), availability, chosen, found.values, cover)


def _times(rows: pd.DataFrame) -> list[datetime]:
    return [at.to_pydatetime() for at in rows["at"]]


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value
