"""Who is found with whom: pairs beyond chance, the colony as a whole, and crowding of animals not told apart."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.association import (
    Company,
    Crowding,
    Sharing,
    association,
    company,
    crowding,
    crowding_of_each,
    sharing,
)
from ...stats.space_use import dispersion
from ...study import Declaration, home, value_at
from ..finding import TOO_EARLY
from .association_order import ordered_matrix
from .checks import Checks

Ints = NDArray[np.int64]

# Crowding is what is asked of a group, keeping apart stands at a stricter level: colonies that stay put look
# more even than they are (docs/methods/retreats.md).
LEVEL_CROWDED, LEVEL_EVEN = 0.04, 0.01
# A p up to this is drawn anew with more draws, so that it can show whether it holds however often one asks.
NEAR = 0.01
# Cells (checks x animals) dealt, and numbers of pairs kept, in those draws: about three seconds, and 160 MB.
MOST_CELLS, MOST_PAIRS = 200_000_000, 20_000_000
# As few independent looks as sessions for any verdict.
LEAST_LOOKS = 5.0

PAIR_COLUMNS = [
    "enclosure", "animal", "other", "together", "apart", "simple_ratio", "half_weight", "arrivals", "expected",
    "p_together", "p_apart", "verdict",
]  # fmt: skip
COMPANY_COLUMNS = [
    "enclosure", "animals", "checks", "moves", "beyond", "beyond_low", "beyond_high", "p_together",
    "short", "short_low", "short_high", "p_apart", "verdict",
]  # fmt: skip
CROWDING_COLUMNS = [
    "enclosure", "group", "days", "shared", "expected", "p_crowded", "p_even", "stay", "looks", "verdict",
]  # fmt: skip
CHECK_COLUMNS = [
    "enclosure", "group", "at", "found", "shared", "expected", "p_crowded", "p_even", "morisita", "dispersion",
    "degrees", "dispersion_p_crowded", "dispersion_p_even",
]  # fmt: skip


def company_of(checks: Checks, draws: int, seed: int, compared: int) -> tuple[Sharing, Company] | None:
    """The test of company, one of ``compared`` enclosures; None with fewer than two animals told apart."""
    if len(checks.animals) < 2 or not (checks.where >= 0).any():
        return None
    found = sharing(checks.where, draws, seed)
    if min(found.p_together, found.p_apart) <= NEAR / compared:
        more = finer_draws(checks, draws)
        found = sharing(checks.where, more, seed) if more > draws else found
    return found, company(found, compared)


def finer_draws(checks: Checks, draws: int) -> int:
    """Draws for a p that is to be told from one ten times smaller, as far as time and memory go."""
    cells, pairs = max(checks.where.size, 1), max(len(checks.animals), 1) ** 2
    return max(draws, min(10 * draws, MOST_CELLS // cells, MOST_PAIRS // pairs))


def company_row(checks: Checks, found: Sharing, calls: Company) -> tuple[Any, ...]:
    verdict = "together" if calls.together else "apart" if calls.apart else TOO_EARLY
    return (
        checks.enclosure, len(checks.animals), len(checks), found.moves, found.beyond, found.beyond_low,
        found.beyond_high, found.p_together, found.short, found.short_low, found.short_high, found.p_apart, verdict,
    )  # fmt: skip


def pair_rows(checks: Checks, found: Sharing, calls: Company) -> Iterator[tuple[Any, ...]]:
    """One row a pair: how often together and apart, association, and arrivals into each other's company."""
    index = association(checks.where)
    for i, one in enumerate(checks.animals):
        for j in range(i + 1, len(checks.animals)):
            verdict = "together" if calls.pairs_together[i, j] else "apart" if calls.pairs_apart[i, j] else ""
            yield (
                checks.enclosure, one, checks.animals[j], index.together[i, j], index.apart[i, j],
                index.simple_ratio[i, j], index.half_weight[i, j], found.arrivals[i, j], found.expected_arrivals[i, j],
                found.pair_p_together[i, j], found.pair_p_apart[i, j], verdict,
            )  # fmt: skip


def matrix_table(pairs: pd.DataFrame) -> pd.DataFrame:
    """Half-weight association, animals in the order that puts alike ones side by side, one row a cell.

    ``position`` and ``other_position`` count from 1 in that order, in each enclosure by itself.
    """
    rows: list[tuple[Any, ...]] = []
    for enclosure, part in pairs.groupby("enclosure", sort=True):
        matrix = ordered_matrix(part)
        values = matrix.to_numpy(float)
        for i, one in enumerate(matrix.index):
            rows += [
                (enclosure, i + 1, one, j + 1, other, values[i, j]) for j, other in enumerate(matrix.columns)
            ]
    columns = ["enclosure", "position", "animal", "other_position", "other", "half_weight"]
    return pd.DataFrame(rows, columns=columns)


def crowding_tables(
    declared: Declaration, every: Sequence[Checks], draws: int, seed: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Crowding of each group over its days (the first check of each), and of all animals at each check."""
    days_rows: list[tuple[Any, ...]] = []
    check_rows: list[tuple[Any, ...]] = []
    many = sum(len(checks.groups) for checks in every)
    for checks in every:
        for group, counts in checks.groups.items():
            found = _over_days(declared, checks, group, counts, draws, seed=seed)
            if found is not None:
                days_rows.append((checks.enclosure, group, *found))
            check_rows += _each_check(checks, group, counts, seed)
        if len(checks.groups) != 1 or checks.counts.sum() > sum(int(c.sum()) for c in checks.groups.values()):
            check_rows += _each_check(checks, None, checks.counts, seed)
    days = pd.DataFrame(days_rows, columns=CROWDING_COLUMNS[:-1])
    crowded = (days["looks"] >= LEAST_LOOKS) & (days["p_crowded"] * many <= LEVEL_CROWDED)
    even = (days["looks"] >= LEAST_LOOKS) & (days["p_even"] * many <= LEVEL_EVEN)
    days["verdict"] = np.where(crowded, "together", np.where(even, "apart", TOO_EARLY))
    return days, pd.DataFrame(check_rows, columns=CHECK_COLUMNS)


def _over_days(
    declared: Declaration, checks: Checks, group: str, counts: Ints, draws: int, *, seed: int
) -> tuple[Any, ...] | None:
    first = np.array([i for i, day in enumerate(checks.days) if day not in checks.days[:i]], np.int64)
    first = first[(counts[first].sum(axis=1) > 1) & ((checks.capacity > 0).sum(axis=1)[first] > 1)]
    if not len(first):
        return None
    one = declared.groups[group]
    alive = [
        (value_at(one.size, checks.at[i]) or 0) if home(one, checks.at[i]) == checks.enclosure else 0
        for i in first
    ]
    room = np.where(checks.looked | (counts > 0), checks.capacity, 0.0)[first]
    found: Crowding = crowding(counts[first], room, alive, draws, seed)
    return len(first), found.shared, found.expected, found.p_crowded, found.p_even, found.stay, found.looks


def _each_check(checks: Checks, group: str | None, counts: Ints, seed: int) -> Iterator[tuple[Any, ...]]:
    room = np.where(checks.looked, checks.capacity, 0.0)
    good = np.flatnonzero((counts.sum(axis=1) > 1) & ((room > 0).sum(axis=1) > 1))
    if not len(good):
        return
    shared, crowded, even = crowding_of_each(counts[good], room[good], 999, seed)
    expected = ((room[good] / room[good].sum(axis=1, keepdims=True)) ** 2).sum(axis=1)
    for k, i in enumerate(good):
        one = dispersion(counts[i][room[i] > 0])
        yield (
            checks.enclosure, group, checks.at[i], int(counts[i].sum()), shared[k], expected[k], crowded[k], even[k],
            one.morisita, one.index, one.degrees, one.p_crowded, one.p_even,
        )  # fmt: skip
