"""Who is found with whom: pairs beyond chance, the colony as a whole, and crowding of animals not told apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.association.association import association
from ...stats.association.crowding import Crowding, crowding, crowding_of_each
from ...stats.association.sharing import Company, Sharing, company, sharing
from ...stats.intervals.dispersion import dispersion
from ...study.model import Declaration, value_at
from ...study.names import home
from ..finding import TOO_EARLY, Finding, standing
from ..phrases import counted
from .association_order import ordered_matrix
from .checks import Checks

Ints = NDArray[np.int64]

# Crowding is what is asked of a group, keeping apart stands at a stricter level: colonies that stay put look
# more even than they are (docs/methods-retreats.md).
LEVEL_CROWDED, LEVEL_EVEN = 0.04, 0.01
# As few independent looks as sessions for any verdict.
LEAST_LOOKS = 5.0
# With fewer moves there is next to nothing to swap.
FEWEST_MOVES = 10
# Pairs named one by one; more are counted, and stand in the pairs part.
MOST_NAMED = 3

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
    return found, company(found, compared)


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


def company_said(
    checks: Checks, found: Sharing, calls: Company, trust: str, labels: Mapping[str, str], several: bool
) -> Iterator[Finding]:
    """The colony first, then the pairs that stand out; nothing where no two were ever found at one check."""
    where = f"{checks.enclosure}: " if several else ""
    if not trust or not (calls.together or calls.apart):
        if ((checks.where >= 0).sum(axis=1) > 1).any():
            yield Finding(checks.animals, TOO_EARLY, "", says=where + _luck(checks, found, trust))
        return
    verdict = "together" if calls.together else "apart"
    yield Finding(checks.animals, verdict, trust, says=where + _beyond(found, calls))
    named = calls.pairs_together if calls.together else calls.pairs_apart
    pairs = sorted(
        zip(*np.nonzero(named), strict=True),
        key=lambda p: -abs(found.arrivals[p] - found.expected_arrivals[p]),
    )
    for i, j in pairs[:MOST_NAMED]:
        one, other = checks.animals[i], checks.animals[j]
        says = (
            f"{labels[one]} and {labels[other]} came into one retreat {counted(int(found.arrivals[i, j]), 'time')}; "
            f"{found.expected_arrivals[i, j]:.0f} by their own uses of the retreats."
        )
        if (i, j) == pairs[min(MOST_NAMED, len(pairs)) - 1] and len(pairs) > MOST_NAMED:
            says += f" {counted(len(pairs) - MOST_NAMED, 'more pair')} stand out as well."
        yield Finding((one, other), verdict, trust, says=says)


def _luck(checks: Checks, found: Sharing, trust: str) -> str:
    if len(checks.animals) == 2:
        both = (checks.where >= 0).all(axis=1)
        same = int((checks.where[both, 0] == checks.where[both, 1]).sum())
        return (
            f"Found in one retreat at {same} of the {counted(int(both.sum()), 'check')} that found both. With two "
            "animals, company cannot be told from both seeking the same place."
        )
    takes = "A pair that joins at 6 of 10 checks takes about 60 checks to show, at 3 of 10 about 120."
    if not trust:
        return f"Company cannot be judged from {counted(len(checks), 'check')}. {takes}"
    if found.moves < FEWEST_MOVES:
        return f"Company cannot be judged from {counted(found.moves, 'move')}. {takes}"
    return (
        f"Company: none of the {len(checks.animals)} together or apart more than luck would give, in "
        f"{counted(found.moves, 'move')}. {takes}"
    )


def _beyond(found: Sharing, calls: Company) -> str:
    if calls.together:
        return (
            f"Some animals seek company: {found.beyond:.0f} arrivals into it beyond what each one's own use of the "
            f"retreats explains; luck gives {found.beyond_low:.0f} to {found.beyond_high:.0f}."
        )
    return (
        f"Some animals keep apart: {found.short:.0f} fewer arrivals into company than each one's own use of the "
        f"retreats explains; luck gives {found.short_low:.0f} to {found.short_high:.0f}."
    )


def crowding_tables(
    declared: Declaration, every: Sequence[Checks], draws: int, seed: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Crowding of each group over its days (the first check of each), and of all animals at each check."""
    days_rows: list[tuple[Any, ...]] = []
    check_rows: list[tuple[Any, ...]] = []
    many = sum(len(checks.groups) for checks in every)
    for checks in every:
        for group, counts in checks.groups.items():
            found = _over_days(declared, checks, group, counts, draws, seed)
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
    declared: Declaration, checks: Checks, group: str, counts: Ints, draws: int, seed: int
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


def crowding_said(days: pd.DataFrame, labels: Mapping[str, str]) -> Iterator[Finding]:
    """One sentence for all groups of one verdict."""
    trust = [standing(int(looks), int(n)) for looks, n in zip(days["looks"], days["days"], strict=True)]
    verdict = [v if t else TOO_EARLY for v, t in zip(days["verdict"], trust, strict=True)]
    told = days.assign(
        trust=[t if v != TOO_EARLY else "" for v, t in zip(verdict, trust, strict=True)], called=verdict
    )
    told["rarely"] = (told["called"] == TOO_EARLY) & (told["looks"] < LEAST_LOOKS)
    for (called, rarely, grade), part in told.groupby(["called", "rarely", "trust"], sort=True):
        groups = [str(g) for g in part["group"]]
        names = [labels[g] for g in groups]
        who = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
        says = (
            f"{who}: two of them share a retreat {_range(part['shared'])} of the time; {_range(part['expected'])} if "
            f"each chose by the room there is ({_span(part['days'], 'day')}, worth {_span(part['looks'], 'look')}, for "
            f"animals that stay repeat themselves). {_called(str(called), bool(rarely))}"
        )
        yield Finding(tuple(groups), str(called), str(grade), says=says)


def _called(verdict: str, rarely: bool) -> str:
    if verdict == "together":
        return "They crowd, in company or for the same retreat: counts cannot tell which."
    if verdict == "apart":
        return "They spread out."
    return "They moved too rarely to say." if rarely else "That could be luck."


def _range(shares: pd.Series) -> str:
    low, high = round(100 * float(shares.min())), round(100 * float(shares.max()))
    return f"{low} %" if low == high else f"{low} to {high} %"


def _span(numbers: pd.Series, what: str) -> str:
    low, high = round(float(numbers.min())), round(float(numbers.max()))
    return counted(low, what) if low == high else f"{low} to {counted(high, what)}"
