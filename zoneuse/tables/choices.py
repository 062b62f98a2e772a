"""The `choices` table, as arrays: each moment an animal was seen, against every zone it could be in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..study.model import Declaration, Zone, value_at
from .conditions import Conditions, conditions
from .offered import amount_at, amounts_offered
from .phases import Adjustment

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Choices:
    """Moments x zones. ``offered`` is each zone's share (0: not there); ``chosen`` the zone's column.

    ``rows`` is the part of `moments` they come from, one row per moment; ``conditions`` by quantity and
    ``cover`` are NaN where unknown.
    """

    rows: pd.DataFrame
    zones: tuple[str, ...]
    places: tuple[str, ...]
    offered: Floats
    chosen: NDArray[np.int64]
    conditions: Mapping[str, Floats]
    cover: Floats

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
) -> Choices:
    """What was on offer at each moment of `moments` in which the animal's zone is known.

    A zone the animal was in is always on offer to it then, whatever the plan of the lamp says; it then
    counts with its amount. ``join`` False leaves the loggers out.
    """
    rows = moments[moments["zone"].notna()].reset_index(drop=True)
    zones = tuple(declared.zones)
    column = {zone: i for i, zone in enumerate(zones)}
    chosen = np.asarray(rows["zone"].map(column), np.int64)
    times: list[datetime] = [at.to_pydatetime() for at in rows["at"]]
    enclosures = rows["enclosure"].tolist()
    listed = list(declared.zones.values())
    amounts = amounts_offered(declared, listed, enclosures, times, equal)
    _offer_what_was_used(amounts, listed, chosen, times, equal)
    offered = amounts / amounts.sum(axis=1, keepdims=True)
    cover = np.full(offered.shape, np.nan)
    for j, zone in enumerate(listed):
        if len(zone.cover) == 1:
            cover[:, j] = zone.cover[0].value
        elif zone.cover:
            cover[:, j] = [_or_nan(value_at(zone.cover, at)) for at in times]
    found = Conditions(zones, {})
    if join and declared.loggers:
        found = conditions(declared, _milliseconds(rows), changes, max_gap_ms)
    return Choices(rows, zones, tuple(z.place for z in listed), offered, chosen, found.values, cover)


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _milliseconds(rows: pd.DataFrame) -> NDArray[np.int64]:
    return np.asarray(rows["at"].astype("datetime64[ms, UTC]").astype("int64"), np.int64)


def _offer_what_was_used(
    amounts: Floats, listed: Sequence[Zone], chosen: NDArray[np.int64], times: Sequence[datetime], equal: bool
) -> None:
    """Put a used zone that was not on the plan among those on offer."""
    for i in np.flatnonzero(amounts[np.arange(len(chosen)), chosen] <= 0):
        amounts[i, chosen[i]] = amount_at(listed[int(chosen[i])], times[int(i)], equal)
