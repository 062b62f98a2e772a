"""The `choices` table, as arrays: each moment an animal was seen, against every zone it could be in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..study.clock import from_ms
from ..study.model import Declaration, Zone, value_at
from .conditions import Conditions, conditions
from .offered import amount_at, amounts_offered, places_of
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
    listed = list(declared.zones.values())
    offered, chosen = offers(declared, rows, equal)
    cover = np.full(offered.shape, np.nan)
    for j, zone in enumerate(listed):
        if len(zone.cover) == 1:
            cover[:, j] = zone.cover[0].value
        elif zone.cover:
            cover[:, j] = [_or_nan(value_at(zone.cover, at)) for at in _times(rows)]
    found = Conditions(zones, {})
    if join and declared.loggers:
        found = conditions(declared, _milliseconds(rows), changes, max_gap_ms)
    return Choices(rows, zones, tuple(z.place for z in listed), offered, chosen, found.values, cover)


def offers(
    declared: Declaration, rows: pd.DataFrame, equal: bool = False
) -> tuple[Floats, NDArray[np.int64]]:
    """(moments x zones) each zone's share of what was on offer, and the column of the zone used (-1: not found).

    ``rows`` are of `moments`, in any order; ``equal`` counts every zone alike.
    """
    column = {zone: i for i, zone in enumerate(declared.zones)}
    listed = list(declared.zones.values())
    chosen = np.asarray(rows["zone"].map(column).fillna(-1), np.int64)
    times_ms = _milliseconds(rows)
    amounts = amounts_offered(declared, listed, rows["enclosure"].tolist(), times_ms, equal)
    _offer_what_was_used(amounts, listed, chosen, times_ms, equal)
    total = amounts.sum(axis=1, keepdims=True)
    return np.divide(amounts, total, out=np.zeros(amounts.shape), where=total > 0), chosen


def by_place(
    declared: Declaration, offered: Floats, chosen: NDArray[np.int64]
) -> tuple[Floats, NDArray[np.int64]]:
    """The same by place: zones of one layout in several enclosures are one column."""
    places = places_of(declared)
    to_place = np.array([places.index(zone.place) for zone in declared.zones.values()])
    return offered @ np.eye(len(places))[to_place], np.where(chosen >= 0, to_place[chosen], -1)


def _times(rows: pd.DataFrame) -> list[datetime]:
    return [at.to_pydatetime() for at in rows["at"]]


def _or_nan(value: float | None) -> float:
    return float("nan") if value is None else value


def _milliseconds(rows: pd.DataFrame) -> NDArray[np.int64]:
    return np.asarray(rows["at"].astype("datetime64[ms, UTC]").astype("int64"), np.int64)


def _offer_what_was_used(
    amounts: Floats,
    listed: Sequence[Zone],
    chosen: NDArray[np.int64],
    times_ms: NDArray[np.int64],
    equal: bool,
) -> None:
    """Put a used zone that was not on the plan among those on offer."""
    for i in np.flatnonzero((chosen >= 0) & (amounts[np.arange(len(chosen)), chosen] <= 0)):
        amounts[i, chosen[i]] = amount_at(listed[int(chosen[i])], from_ms(int(times_ms[i])), equal)
