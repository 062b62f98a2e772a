"""What was used of each condition: by animal, then over animals, before any model; and by time of day."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.choice import mean_limits, used_by_animal
from ...stats.time_series import lag_one_within, variance_inflation
from ...study import SLOTS
from ...tables import Choices

COVER = "cover"
# From this many animals on, they are the sample; below, their days are, as far as days do not repeat each other.
ANIMALS_ENOUGH = 6
BY_ANIMAL = ("quantity", "animal", "mean", "median", "q25", "q75", "moments", "sessions")
BY_SLOT = ("quantity", "slot", "used_mean", "used_low", "used_high", "offered_mean", "units", "unit")
SLOTS_APART = (
    "quantity",
    "slot",
    "other",
    "difference",
    "difference_low",
    "difference_high",
    "units",
    "unit",
)


def with_cover(chosen: Choices) -> Choices:
    """The keeper's rating of cover as a condition like those that are logged, where any zone has one."""
    there = chosen.availability > 0
    if np.isnan(chosen.cover[there]).all():
        return chosen
    return replace(chosen, conditions={**chosen.conditions, COVER: chosen.cover})


def who_codes(rows: pd.DataFrame) -> tuple[NDArray[np.int64], list[str]]:
    """A number a row for its animal or group, and their ids."""
    codes, names = pd.factorize(rows["animal"].fillna(rows["group"]))
    return np.asarray(codes, np.int64), [str(n) for n in names]


def by_animal(chosen: Choices, quantities: Sequence[str]) -> pd.DataFrame:
    """Mean, median and central 50 % of each quantity in each animal; a group by its counts."""
    codes, names = who_codes(chosen.rows)
    rows: list[tuple[object, ...]] = []
    for quantity in quantities:
        values = here(chosen, quantity)
        known = ~np.isnan(values) & (codes >= 0)
        present = np.unique(codes[known])
        number = np.searchsorted(present, codes[known])
        weight = chosen.rows["weight"].to_numpy(float)[known]
        found = used_by_animal(values[known], weight, number)
        sessions = chosen.rows["session"][known].groupby(number).nunique()
        for i, who in enumerate(present):
            rows.append(
                (quantity, names[who], found.mean[i], found.median[i], found.q25[i], found.q75[i],
                 int((number == i).sum()), int(sessions[i]))
            )  # fmt: skip
    return pd.DataFrame(rows, columns=BY_ANIMAL)


def over_animals(each: pd.DataFrame) -> dict[str, dict[str, Any]]:
    """By quantity: the columns used_* of the answer, over animals that count once each."""
    told: dict[str, dict[str, Any]] = {}
    for quantity, part in each.groupby("quantity", sort=False):
        low, high = mean_limits(part["mean"])
        told[str(quantity)] = {
            "used_median": part["median"].mean(), "used_q25": part["q25"].mean(), "used_q75": part["q75"].mean(),
            "used_mean": part["mean"].mean(), "used_mean_low": low, "used_mean_high": high,
            "used_mean_se": part["mean"].std() / np.sqrt(len(part)), "animals": len(part),
        }  # fmt: skip
    return told


def here(chosen: Choices, quantity: str) -> Floats:
    """(moments,) the condition where the animal was; NaN where unknown."""
    return np.asarray(chosen.conditions[quantity][np.arange(len(chosen)), chosen.chosen], np.float64)


@dataclass(frozen=True, slots=True)
class _ByUnit:
    """Means of a quantity used by slot (columns) and unit (rows), units in order of time within animals."""

    values: Floats
    animal: NDArray[np.int64]
    unit: str


def slot_tables(chosen: Choices, quantities: Sequence[str]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """What was used by time of day, and day less night (or the two slots watched most) over the same units.

    Units are animals from six on, else days of animals: then the likeness of successive days widens the limits.
    """
    slots = [s for s in SLOTS if (chosen.rows["slot"] == s).any()]
    if len(slots) < 2:
        return pd.DataFrame(columns=BY_SLOT), pd.DataFrame(columns=SLOTS_APART)
    told: list[tuple[object, ...]] = []
    apart: list[tuple[object, ...]] = []
    for quantity in quantities:
        by_unit = _by_unit(chosen, quantity, slots)
        offered = _offered_by_slot(chosen, quantity, slots)
        for j, slot in enumerate(slots):
            mean, low, high, units = _mean_over(by_unit, by_unit.values[:, j])
            if units:
                told.append((quantity, slot, mean, low, high, offered[j], units, by_unit.unit))
        one, other = _pair(slots, by_unit)
        step = by_unit.values[:, slots.index(one)] - by_unit.values[:, slots.index(other)]
        mean, low, high, units = _mean_over(by_unit, step, 1 - 0.05 / len(quantities))
        if units:
            apart.append((quantity, one, other, mean, low, high, units, by_unit.unit))
    return pd.DataFrame(told, columns=BY_SLOT), pd.DataFrame(apart, columns=SLOTS_APART)


def _pair(slots: Sequence[str], by_unit: _ByUnit) -> tuple[str, str]:
    if {"day", "night"} <= set(slots):
        return "day", "night"
    known = ~np.isnan(by_unit.values)
    both = {
        (a, b): int((known[:, i] & known[:, j]).sum()) for (i, a), (j, b) in combinations(enumerate(slots), 2)
    }
    return max(both, key=lambda pair: both[pair])


def _by_unit(chosen: Choices, quantity: str, slots: Sequence[str]) -> _ByUnit:
    codes, names = who_codes(chosen.rows)
    animals = len(names) >= ANIMALS_ENOUGH
    frame = pd.DataFrame(
        {"animal": codes, "day": "" if animals else chosen.rows["day"].astype(str), "slot": chosen.rows["slot"],
         "weight": chosen.rows["weight"].astype(float), "value": here(chosen, quantity)}
    ).dropna()  # fmt: skip
    frame["value"] *= frame["weight"]
    sums = frame.groupby(["animal", "day", "slot"])[["value", "weight"]].sum()
    table = (sums["value"] / sums["weight"]).unstack().reindex(columns=list(slots))
    who = table.index.get_level_values("animal").to_numpy(np.int64)
    return _ByUnit(table.to_numpy(float), who, "animal" if animals else "day of an animal")


def _mean_over(by_unit: _ByUnit, values: Floats, confidence: float = 0.95) -> tuple[float, float, float, int]:
    """Mean over units with limits; successive days of one animal may repeat each other."""
    known = ~np.isnan(values)
    v = values[known]
    if not v.size:
        return np.nan, np.nan, np.nan, 0
    widened = 1.0
    if by_unit.unit != "animal" and v.size > 2:
        series = [v[by_unit.animal[known] == a] for a in np.unique(by_unit.animal[known])]
        # Half a standard error more than was found: in a few days likeness hides.
        likeness = max(lag_one_within(series) + 0.5 / np.sqrt(v.size), 0.0)
        widened = float(variance_inflation(likeness, v.size / len(series)))
    low, high = mean_limits(v, confidence, widened)
    return float(v.mean()), low, high, int(v.size)


def _offered_by_slot(chosen: Choices, quantity: str, slots: Sequence[str]) -> list[float]:
    """Mean over the zones there, weighed by what is there of each, by slot."""
    values, share = chosen.conditions[quantity], chosen.availability
    known = ~np.isnan(values) & (share > 0)
    total = np.where(known, share, 0.0).sum(axis=1)
    mean = np.divide(
        np.where(known, values * share, 0.0).sum(axis=1),
        total,
        out=np.full(len(total), np.nan),
        where=total > 0,
    )
    return [float(np.nanmean(mean[(chosen.rows["slot"] == s).to_numpy()])) for s in slots]


def mixed_times(chosen: Choices) -> Mapping[str, float]:
    """Share of the moments by slot, where a study has watched at several."""
    share = chosen.rows["slot"].value_counts(normalize=True)
    return {str(slot): float(v) for slot, v in share.items()}
