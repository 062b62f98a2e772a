"""The two sides of a change: which units came before it and after it, like with like, and what else differed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal.reader import Journals
from ...stats.arrays import Floats
from ...study.model import Declaration
from ...tables.phases import Adjustment

# What touches no animal in any unit of one side and at least this part of all in the other is on one side only.
_ONE_SIDED = 0.2


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


def confounders(
    declared: Declaration, journals: Journals, changes: Sequence[Adjustment], change: Adjustment, found: Sides
) -> list[str]:
    """What else differed between the sides, in words: another change at once, feeds, sheds, lights, moved sensors."""
    times = pd.Series(pd.to_datetime(found.at, unit="ms", utc=True))
    start, end = times.min().to_pydatetime(), times.max().to_pydatetime()
    return [
        *(f"{c.what} was changed too ({c.id})" for c in overlapping(changes, change) if c.id != change.id),
        *_one_sided(journals, found, times),
        *_declared_between(declared, start, end),
    ]


def _one_sided(journals: Journals, found: Sides, times: pd.Series) -> Iterator[str]:
    """Feeds, sheds and the like that concern the animals on one side only."""
    watched = set(found.rows["animal"].dropna()) | set(found.rows["group"].dropna())
    for what, days in (("fed", 3.0), ("shedding", 0.0), ("gravid", 0.0), ("ill", 0.0)):
        touched = _touched(journals, what, times, days, watched)
        shares = [float(touched[side].mean()) if side.any() else 0.0 for side in (~found.late, found.late)]
        none_on_one = min(shares) == 0 and max(shares) >= _ONE_SIDED
        if none_on_one or abs(shares[0] - shares[1]) >= 0.8:
            when = "after" if shares[1] > shares[0] else "before"
            word = "a feed in the last 3 days" if what == "fed" else what
            yield f"{word} on one side only ({when})"


def _declared_between(declared: Declaration, start: datetime, end: datetime) -> Iterator[str]:
    """Lights and loggers that study.toml dates between the first and the last unit."""
    for enclosure in declared.enclosures.values():
        if any(d.span.start and start < d.span.start <= end for d in enclosure.lights):
            yield "the light schedule changed"
    moved = [
        logger.id
        for logger in declared.loggers.values()
        if any(p.start and start < p.start <= end for p in logger.placed)
    ]
    if moved:
        yield f"{'logger' if len(moved) == 1 else 'loggers'} {', '.join(moved)} moved"


def _touched(
    journals: Journals, what: str, times: pd.Series, days: float, watched: Collection[str]
) -> Floats:
    """For each unit, the part of the watched animals in a period (or so many days after) of a kind of context.

    A record that names no animal concerns them all; one of eight animals that was fed is an eighth.
    """
    touched: dict[str, NDArray[np.bool_]] = {}
    for entry in journals.entries("context"):
        record = entry.record
        who = record.get("animal")
        if record.get("what") != what or (who is not None and who not in watched):
            continue
        start = pd.Timestamp(record.get("from") or record.at)
        until = record.get("until")
        end = pd.Timestamp(until) if until else (start + pd.Timedelta(days=days) if days else times.max())
        inside = ((times >= start) & (times <= end)).to_numpy(bool)
        for name in watched if who is None else (who,):
            touched[name] = touched.get(name, np.zeros(len(times), bool)) | inside
    return np.asarray(sum(touched.values(), np.zeros(len(times))) / max(len(watched), 1), np.float64)
