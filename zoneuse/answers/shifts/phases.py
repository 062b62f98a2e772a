"""The two sides of a change: which units came before it and after it, like with like."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...tables import Adjustment


@dataclass(frozen=True, slots=True)
class Windows:
    """When a change can be seen: before it (since the one before had settled) and after it had settled."""

    before: tuple[datetime | None, datetime]
    after: tuple[datetime, datetime | None]


def overlapping(changes: Sequence[Adjustment], change: Adjustment) -> list[Adjustment]:
    """The changes that had not settled when another of them was made, this one among them, in order of time."""
    groups: list[list[Adjustment]] = []
    for one in sorted(changes, key=lambda c: (c.at, c.id)):
        if groups and one.at < max(c.settled for c in groups[-1]):
            groups[-1].append(one)
        else:
            groups.append([one])
    return next(group for group in groups if any(c.id == change.id for c in group))


def around(changes: Sequence[Adjustment], group: Sequence[Adjustment]) -> Windows:
    """Before the first of a group, since the change before it had settled; and from the settling of all to the next."""
    own = {c.id for c in group}
    first = min(c.at for c in group)
    earlier = [c for c in changes if c.at < first and c.id not in own]
    later = [c for c in changes if c.at > first and c.id not in own]
    return Windows(
        (max((c.settled for c in earlier), default=None), first),
        (max(c.settled for c in group), min((c.at for c in later), default=None)),
    )


def windows(changes: Sequence[Adjustment], change: Adjustment) -> Windows:
    """A change speaks from its settling until the next one, against the time since the one before had settled.

    Changes that overlap cannot be told apart and are seen as one.
    """
    return around(changes, overlapping(changes, change))


@dataclass(frozen=True, slots=True)
class Sides:
    """Units of both sides: ``unit`` and ``late`` per row of moments, ``slot``, ``at`` and ``late`` per unit.

    Slots with units on one side only are left out and named in ``left_out``.
    """

    rows: pd.DataFrame
    unit: NDArray[np.int64]
    late: NDArray[np.bool_]
    slot: NDArray[np.int64]
    at: NDArray[np.float64]
    left_out: tuple[str, ...]

    @property
    def counts(self) -> tuple[int, int]:
        return int((~self.late).sum()), int(self.late.sum())

    def sessions(self) -> tuple[int, int]:
        """Sessions before and after."""
        late = self.late[self.unit]
        return tuple(int(self.rows["session"][part].nunique()) for part in (~late, late))  # type: ignore[return-value]

    def days(self) -> tuple[int, int]:
        """Days before and after."""
        late = self.late[self.unit]
        return tuple(int(self.rows["day"][part].nunique()) for part in (~late, late))  # type: ignore[return-value]


def sides(rows: pd.DataFrame, seen: Windows, cluster: str) -> Sides:
    """Cut moments into units of one slot each, before and after, and keep the slots both sides have."""
    at = rows["at"]
    before = np.asarray(at < pd.Timestamp(seen.before[1]))
    after = np.asarray(at >= pd.Timestamp(seen.after[0]))
    if seen.before[0] is not None:
        before = before & np.asarray(at >= pd.Timestamp(seen.before[0]))
    if seen.after[1] is not None:
        after = after & np.asarray(at < pd.Timestamp(seen.after[1]))
    place = rows["enclosure"] + "\x1f" + rows["slot"]
    both = set(place[before]) & set(place[after])
    alone = sorted((set(place[before]) | set(place[after])) - both)
    left_out = tuple(_slot_said(name, len(set(rows["enclosure"])) > 1) for name in alone)
    keep = (before | after) & place.isin(both).to_numpy()
    part, late = rows[keep].reset_index(drop=True), after[keep]
    keys = (
        part["enclosure"]
        + "\x1f"
        + part["slot"]
        + "\x1f"
        + part[cluster].astype(str)
        + "\x1f"
        + late.astype(str)
    )
    unit = np.asarray(pd.factorize(keys)[0], np.int64)
    number = int(unit.max()) + 1 if len(unit) else 0
    first = (
        pd.Series(np.arange(len(unit))).groupby(unit).first().to_numpy(int) if number else np.zeros(0, int)
    )
    stamp = part["at"].astype("int64").to_numpy(float)[first] if number else np.zeros(0)
    slot = (
        np.asarray(pd.factorize(part["enclosure"] + part["slot"])[0], np.int64)[first]
        if number
        else np.zeros(0, np.int64)
    )
    return Sides(part, unit, late[first] if number else np.zeros(0, bool), slot, stamp, left_out)


def _slot_said(place: str, several: bool) -> str:
    enclosure, slot = place.split("\x1f")
    return f"{slot} in {enclosure}" if several else slot


def shares_by_unit(found: Sides, column: str, names: Sequence[str]) -> Floats:
    """(units x names) each unit's share of its moments with a known value of that column; NaN without any."""
    place = found.rows[column].map({name: i for i, name in enumerate(names)})
    there = place.notna().to_numpy()
    counts = np.zeros((len(found.late), len(names)))
    weight = found.rows["weight"].to_numpy(float)
    np.add.at(counts, (found.unit[there], place[there].to_numpy(int)), weight[there])
    total = counts.sum(axis=1, keepdims=True)
    shares = np.divide(counts, total, out=np.full(counts.shape, np.nan), where=total > 0)
    return np.asarray(shares, np.float64)


def counts_by_unit(found: Sides, column: str, names: Sequence[str]) -> Floats:
    """(units x animals x names) moments with a known value of that column; groups count as one animal each."""
    place = found.rows[column].map({name: i for i, name in enumerate(names)})
    there = place.notna().to_numpy()
    who = pd.factorize(found.rows["animal"].fillna(found.rows["group"]), use_na_sentinel=False)[0]
    counts = np.zeros((len(found.late), int(who.max(initial=0)) + 1, len(names)))
    weight = found.rows["weight"].to_numpy(float)
    np.add.at(counts, (found.unit[there], who[there], place[there].to_numpy(int)), weight[there])
    seen: Floats = counts[:, counts.sum(axis=(0, 2)) > 0]
    return seen if seen.shape[1] else counts[:, :1]
