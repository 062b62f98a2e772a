"""How much each retreat is used: by animal, by month, over all, corrected for retreats not looked into."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.intervals import (
    KEEPING_PART,
    effective_sample_size,
    gather,
    level_any_time,
    looks_interval,
    unit_shares,
    wilson,
)
from ...stats.resampling import friedman, holm
from ...stats.space_use import Stays, evenness, home, stays, usual_stay
from ..finding import standing
from .checks import Checks

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

COLUMNS = [
    "animal", "group", "zone", "share", "share_low", "share_high", "n_eff", "df", "se", "visits", "stay_probability",
    "home",
]  # fmt: skip
ANIMAL_COLUMNS = [
    "enclosure", "animal", "group", "checks", "retreats_used", "moves", "stay", "looks", "home", "home_share",
    "home_lead", "home_lead_low", "home_lead_high", "home_standing",
]  # fmt: skip
MONTH_COLUMNS = [
    "enclosure", "month", "zone", "share", "share_low", "share_high", "of_alive", "found_there", "checks",
]  # fmt: skip
ALL_MONTHS = "all"


def corrected_shares(counts: Floats, possible: Floats) -> Floats:
    """Shares from counts, each by the checks (or animal-checks) at which it could have been counted.

    A retreat looked into at half the checks would have been counted at the others as often. 0 where there
    was no such check.

    >>> corrected_shares(np.array([4.0, 4.0]), np.array([10.0, 5.0])).round(3)
    array([0.333, 0.667])
    """
    rate = np.divide(counts, possible, out=np.zeros(len(counts)), where=possible > 0)
    total = rate.sum()
    return rate / total if total > 0 else rate


def use_table(every: Sequence[Checks]) -> tuple[pd.DataFrame, pd.DataFrame]:
    """The answer's rows, one for each animal or group and retreat; and one row for each animal or group."""
    rows: list[tuple[Any, ...]] = []
    each: list[tuple[Any, ...]] = []
    for checks in every:
        for one in (_animals(checks), _groups(checks)):
            rows += one[0]
            each += one[1]
    return pd.DataFrame(rows, columns=COLUMNS), pd.DataFrame(each, columns=ANIMAL_COLUMNS)


_Tables = tuple[list[tuple[Any, ...]], list[tuple[Any, ...]]]


def _animals(checks: Checks) -> _Tables:
    """Rows by animal and retreat, and one for each animal, of one enclosure."""
    rows: list[tuple[Any, ...]] = []
    each: list[tuple[Any, ...]] = []
    days = len(set(checks.days))
    each_found = [_animal(checks, i) for i in range(len(checks.animals))]
    for i, animal in enumerate(checks.animals):
        found = each_found[i]
        if found is None:
            continue
        share, worth, visits = found
        others = usual_stay([f[1] for k, f in enumerate(each_found) if f is not None and k != i])
        low, high = wilson(share * worth.looks, worth.looks)
        low, high = _unlooked(low, high, (checks.looked & checks.lives[:, [i]]).any(axis=0))
        seen = checks.where[:, i] >= 0
        nights = len({day for day, there in zip(checks.days, seen, strict=True) if there})
        at_home = home(Stays(share, worth.stay, worth.looks, worth.moves), days=nights, stays_put=others)
        most = at_home.most
        stay = [_stay(checks.where[:, i], j) for j in range(len(checks.retreats))]
        rows += _rows(
            checks, animal, None, share, (low, high), worth=(worth.looks, np.nan), visits=visits, stay=stay,
            most=most if share.any() else -1,
        )  # fmt: skip
        # Of one that never moved it cannot be told whether it chose the place each day or only stayed.
        trust = standing(len(checks), days, _home_always(checks, worth, share)) if at_home.stands else ""
        each.append(
            _one(checks, animal, None, visits, worth, share=share, most=most, lead=at_home[2:], trust=trust)
        )
    return rows, each


def _groups(checks: Checks) -> _Tables:
    """The same by group."""
    rows: list[tuple[Any, ...]] = []
    each: list[tuple[Any, ...]] = []
    for group, counts in checks.groups.items():
        share, looks, degrees = _group(counts, checks.groups_out[group], checks)
        if not looks:
            continue
        low, high = looks_interval(share, looks, degrees, 0.95)
        low, high = _unlooked(low, high, checks.looked.any(axis=0))
        visits = (counts > 0).sum(axis=0)
        most = int(share.argmax()) if share.any() else -1
        nothing = [float("nan")] * len(checks.retreats)
        rows += _rows(
            checks, None, group, share, (low, high), worth=(looks, degrees), visits=visits, stay=nothing, most=most,
        )  # fmt: skip
        worth = Stays(share, float("nan"), looks, 0)
        nowhere = (float("nan"),) * 3
        each.append(_one(checks, None, group, visits, worth, share=share, most=most, lead=nowhere, trust=""))
    return rows, each


def _home_always(checks: Checks, worth: Stays, share: Floats) -> bool:
    """Whether a home stands however often one asks, beside those of all the animals."""
    strict = KEEPING_PART * float(level_any_time(len(checks))) / len(checks.animals)
    found = Stays(share, worth.stay, worth.looks, worth.moves)
    return worth.moves > 0 and home(found, 1 - strict).stands


def _animal(checks: Checks, i: int) -> tuple[Floats, Stays, Ints] | None:
    """Its share of each retreat (what it spent outside is the rest), what its checks are worth, its visits."""
    where, out = checks.where[:, i], checks.out[:, i]
    seen = (where >= 0) | out
    if not seen.any():
        return None
    retreats = len(checks.retreats)
    outside = np.where(out, retreats, where)[seen]
    visits = np.bincount(outside, minlength=retreats + 1)
    lives = checks.lives[:, i]
    possible = np.append((checks.looked & lives[:, None]).sum(axis=0), lives.sum())
    share = corrected_shares(visits.astype(np.float64), possible.astype(np.float64))
    return share[:-1], stays(outside, retreats + 1), visits[:-1]


def _group(counts: Ints, outside: Ints, checks: Checks) -> tuple[Floats, float, float]:
    """A group's share of each retreat, the looks behind it (0: never found) and their degrees of freedom."""
    every = np.column_stack([counts, outside])
    if not every.any():
        return np.zeros(counts.shape[1]), 0.0, 0.0
    possible = np.append(checks.looked.sum(axis=0), len(checks)).astype(np.float64)
    share = corrected_shares(every.sum(axis=0).astype(np.float64), possible)
    at, place = np.nonzero(every)
    equal = np.full(every.shape[1], 1 / every.shape[1])
    moments = gather(at, np.full(len(at), -1), place, at, equal, weight=every[at, place])
    worth = effective_sample_size(moments, unit_shares(moments), 0.0)
    return share[:-1], worth.looks, worth.degrees


def _unlooked(low: Floats, high: Floats, looked: Flags | np.bool_) -> tuple[Floats, Floats]:
    """A retreat never looked into may hold anything."""
    return np.where(looked, low, 0.0), np.where(looked, high, 1.0)


def _rows(
    checks: Checks,
    animal: str | None,
    group: str | None,
    share: Floats,
    limits: tuple[Floats, Floats],
    *,
    worth: tuple[float, float],
    visits: Ints,
    stay: Sequence[float],
    most: int,
) -> Iterator[tuple[Any, ...]]:
    """``worth``: looks, and the degrees of freedom of the limits."""
    se = np.sqrt(share * (1 - share) / worth[0])
    for j, place in enumerate(checks.retreats):
        yield (
            animal, group, place, float(share[j]), float(limits[0][j]), float(limits[1][j]), *worth, float(se[j]),
            int(visits[j]), stay[j], j == most,
        )  # fmt: skip


def _one(
    checks: Checks,
    animal: str | None,
    group: str | None,
    visits: Ints,
    worth: Stays,
    *,
    share: Floats,
    most: int,
    lead: tuple[float, ...],
    trust: str,
) -> tuple[Any, ...]:
    used = bool(share.any())
    return (
        checks.enclosure, animal, group, int(visits.sum()) if group is None else len(checks),
        int((visits > 0).sum()), worth.moves if group is None else np.nan, worth.stay, worth.looks,
        checks.retreats[most] if used else None, float(share[most]) if used else np.nan, *lead, trust if used else "",
    )  # fmt: skip


def _stay(where: Ints, place: int) -> float:
    """Chance to be in the same retreat at the next check, from this one; NaN where it was never followed."""
    known = (where[:-1] == place) & (where[1:] >= 0)
    return float((where[1:][known] == place).mean()) if known.any() else float("nan")


def months_table(every: Sequence[Checks]) -> pd.DataFrame:
    """Use of each retreat by month and over all: share of those found in retreats, and of all known alive.

    ``of_alive`` is over the checks at which the retreat was looked into: animals found there over animals
    known alive then. ``share`` is that over its sum. Limits are over checks, for one after another repeats it.
    """
    rows: list[tuple[Any, ...]] = []
    for checks in every:
        for month in (*dict.fromkeys(checks.months), ALL_MONTHS):
            inside = checks.months == month if month != ALL_MONTHS else np.ones(len(checks), bool)
            rows += _month(checks, str(month), inside)
    return pd.DataFrame(rows, columns=MONTH_COLUMNS)


def _month(checks: Checks, month: str, inside: Flags) -> Iterator[tuple[Any, ...]]:
    counts, looked = checks.counts[inside], checks.looked[inside]
    alive = np.maximum(checks.alive[inside], checks.found[inside]).astype(np.float64)
    possible = (looked * alive[:, None]).sum(axis=0)
    share = corrected_shares(counts.sum(axis=0).astype(np.float64), possible)
    low, high = _limits_over_checks(counts, share)
    low, high = _unlooked(low, high, looked.any(axis=0))
    for j, place in enumerate(checks.retreats):
        n = int(counts[:, j].sum())
        yield (
            checks.enclosure, month, place, float(share[j]), float(low[j]), float(high[j]),
            n / possible[j] if possible[j] else np.nan, n, int(looked[:, j].sum()),
        )  # fmt: skip


def _limits_over_checks(counts: Ints, share: Floats) -> tuple[Floats, Floats]:
    """95 % limits of a share from the spread between checks and how far successive ones repeat each other."""
    at, place = np.nonzero(counts)
    if not len(at):
        return np.zeros(len(share)), np.ones(len(share))
    equal = np.full(counts.shape[1], 1 / counts.shape[1])
    moments = gather(at, np.full(len(at), -1), place, at, equal, weight=counts[at, place])
    worth = effective_sample_size(moments, unit_shares(moments), 0.0)
    return looks_interval(share, worth.looks, worth.degrees, 0.95)


def evenness_table(every: Sequence[Checks], months: pd.DataFrame) -> pd.DataFrame:
    """By month and over all: Pielou's evenness over all retreats there, checks, known alive, found, not found."""
    rows = []
    for checks in every:
        for month in (*dict.fromkeys(checks.months), ALL_MONTHS):
            inside = checks.months == month if month != ALL_MONTHS else np.ones(len(checks), bool)
            there = (checks.capacity[inside] > 0).any(axis=0) & checks.looked[inside].any(axis=0)
            mine = months[(months["enclosure"] == checks.enclosure) & (months["month"] == month)]
            share = mine["share"].to_numpy()[there]
            alive, found = int(checks.alive[inside].sum()), int(checks.found[inside].sum())
            rows.append(
                (
                    checks.enclosure, str(month), abs(float(evenness(share))) if share.sum() > 0 else np.nan,
                    int(there.sum()), int(inside.sum()), alive, found, max(alive - found, 0),
                    int((checks.looked[inside] < (checks.capacity[inside] > 0)).sum()),
                )
            )  # fmt: skip
    columns = [
        "enclosure", "month", "evenness", "retreats", "checks", "known_alive", "found", "unfound", "not_looked_into",
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=columns)


def seasons_table(every: Sequence[Checks]) -> pd.DataFrame:
    """Does the use of a retreat differ between months: Friedman's test, each animal compared with itself.

    Months of at least three checks; animals found in each of them. p over all retreats (Holm). It speaks for
    these animals; months of one year stand once each, so season and anything else that changed are one.
    """
    rows = []
    for checks in every:
        months = [m for m in dict.fromkeys(checks.months) if (checks.months == m).sum() >= 3]
        shares = np.array([_shares_in(checks, checks.months == m) for m in months])
        if len(months) < 2 or not shares.size:
            continue
        whole = np.isfinite(shares).all(axis=(0, 2))
        tests = []
        for j, place in enumerate(checks.retreats):
            values = shares[:, whole, j].T
            if len(values) >= 3:
                found = friedman(values)
                if np.isfinite(found.p):
                    told = found.chi_square, found.degrees, found.p, len(values), found.concordance
                    tests.append((place, *told))
        for t, p in zip(tests, holm([t[3] for t in tests]), strict=True):
            rows.append((checks.enclosure, *t[:4], float(p), *t[4:], len(months)))
    columns = [
        "enclosure",
        "zone",
        "chi_square",
        "degrees",
        "p",
        "p_holm",
        "animals",
        "concordance",
        "months",
    ]
    return pd.DataFrame(rows, columns=columns)


def _shares_in(checks: Checks, inside: Flags) -> Floats:
    """Animals x retreats: share of the checks at which it was found in a retreat; NaN where in none."""
    where = checks.where[inside]
    counts = np.array([(where == j).sum(axis=0) for j in range(len(checks.retreats))], np.float64).T
    total = counts.sum(axis=1, keepdims=True)
    share = np.divide(counts, total, out=np.full(counts.shape, np.nan), where=total > 0)
    return np.asarray(share, np.float64)


def places_unused(checks: Checks, strict: float) -> Iterator[tuple[str, int, float, float]]:
    """Retreats in which nothing was found: the checks that looked into them, and what share that still fits at 5 %
    and at the ``strict`` level.

    Looks are the animals' own (a stay is one look, however long), at most the checks; 5 % of such colonies
    with that share would show none.
    """
    worth = [_animal(checks, i) for i in range(len(checks.animals))]
    looks = sum(w[1].looks for w in worth if w is not None)
    for group, counts in checks.groups.items():
        looks += _group(counts, checks.groups_out[group], checks)[1]
    for j, place in enumerate(checks.retreats):
        looked = int(checks.looked[:, j].sum())
        if looked and not checks.counts[:, j].any():
            most = max(min(looks * looked / len(checks), looked), 1.0)
            yield place, looked, 1 - 0.05 ** (1 / most), 1 - strict ** (1 / most)
