"""Which retreats are used, by whom, whether each keeps to one, and who is found together more than by chance."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..stats.association import association
from ..stats.fidelity import Fidelity, fidelity
from ..stats.shares import wilson
from ..stats.sharing import Sharing, sharing
from ..study.model import Declaration
from .answer import TOO_EARLY, Answer, Caution, Column, Finding, standing
from .evidence import Filters, counted, effort, labels_of, select, speaks_for
from .retreat_checks import Checks, check_rows, checks_by_enclosure, retreats_of

COLUMNS = [
    "animal", "group", "zone", "share", "share_low", "share_high", "visits", "stay_probability", "home",
]  # fmt: skip
SHOWN = (
    Column("animal or group", "Who", "first"),
    Column("zone", "Retreat"),
    Column("share", "Found there", "share"),
    Column("share", "95 %", "share-range", narrow=False),
    Column("visits", "Checks", "count"),
    Column("stay_probability", "Stays", "share", narrow=False),
)
ALPHA = 0.05
# A retreat that holds at most this share may be called unused.
RARE = 0.05


def retreats(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    draws: int = 1000,
    seed: int = 1,
) -> Answer:
    """The retreats answer. Shares are of the checks at which the animal (or group member) was found.

    A check is a retreat round, a spot check, or the first scan of a session of scans.
    """
    rows = check_rows(select(moments, filters))
    labels = labels_of(declared)
    did = effort(rows, journals, "session")
    if not rows["zone"].notna().any():
        says = "Nothing was found in what was asked for, so nothing can be said yet."
        empty = pd.DataFrame(columns=COLUMNS)
        return Answer(
            "retreats", declared.title, empty, (Finding((), TOO_EARLY, "", says),), effort=did.to_dict()
        )
    findings: list[Finding] = []
    pairs: list[dict[str, object]] = []
    table = _table(declared, rows)
    for checks in checks_by_enclosure(declared, rows):
        days = checks.rows["day"].nunique()
        trust = standing(len(checks.where), days)
        findings += _unused(checks, trust, labels)
        kept = fidelity(checks.where, draws - 1, seed)
        findings += _keeping(checks, kept, trust, labels)
        if len(checks.animals) > 1:
            company = sharing(checks.where, draws, seed)
            findings += _company(checks, company, trust, labels)
            pairs += _pairs(checks, company)
    return Answer(
        answer="retreats",
        study=declared.title,
        table=table,
        findings=tuple(findings),
        cautions=(
            Caution("one-enclosure", speaks_for(declared, rows)),
            Caution(
                "season", "Within one year season, ageing and any change made since cannot be told apart."
            ),
            Caution(
                "unseen", "A check at which only one of two was found is no evidence that they were apart."
            ),
        ),
        effort=did.to_dict(),
        parts={"pairs": pd.DataFrame(pairs)},
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=f"{counted(did.sessions, 'check')} on {counted(did.days, 'day')}.",
    )


def _table(declared: Declaration, rows: pd.DataFrame) -> pd.DataFrame:
    """One row for each animal or group and retreat."""
    found = rows[rows["zone"].notna()]
    stays = {
        (animal, place): _stay(checks.where[:, i], j)
        for checks in checks_by_enclosure(declared, rows)
        for i, animal in enumerate(checks.animals)
        for j, place in enumerate(checks.retreats)
    }
    table = []
    for kind in ("animal", "group"):
        for who, part in found[found[kind].notna()].groupby(kind, sort=True):
            weight = part.groupby("place")["weight"].sum()
            home = weight.reindex(list(retreats_of(declared))).fillna(0).idxmax()
            total, looks = float(part["weight"].sum()), _looks(part, kind)
            for place in retreats_of(declared):
                here = float(weight.get(place, 0.0))
                low, high = wilson(here / total * looks, looks)
                table.append(
                    (
                        who if kind == "animal" else None, who if kind == "group" else None, place,
                        here / total, float(low), float(high), part[part["place"] == place]["session"].nunique(),
                        stays.get((str(who), place), np.nan), bool(here) and place == home,
                    )
                )  # fmt: skip
    return pd.DataFrame(table, columns=COLUMNS)


def _looks(part: pd.DataFrame, kind: str) -> int:
    """How many independent looks: an animal's moves and one more; for animals not told apart, the checks.

    An animal that stays put from check to check repeats itself: a stay counts as one look, however long.
    """
    if kind == "group":
        return int(part["session"].nunique())
    return int((part["place"] != part["place"].shift()).sum())


def _stay(where: NDArray[np.int64], place: int) -> float:
    """Chance to be in the same retreat at the next check, from this one; NaN where it was never followed."""
    known = (where[:-1] == place) & (where[1:] >= 0)
    return float((where[1:][known] == place).mean()) if known.any() else float("nan")


def _unused(checks: Checks, trust: str, labels: Mapping[str, str]) -> Iterator[Finding]:
    """Retreats nobody was found in, and what that is worth: an animal's stay is one look, a check at most one."""
    looks = min(sum(_looks(part, "animal") for _, part in _by_animal(checks.rows)), len(checks.where))
    if not looks:
        return
    for place in checks.retreats:
        if (checks.rows["place"] == place).any():
            continue
        could_be = 1 - 0.05 ** (1 / looks)
        enough = bool(trust) and could_be <= RARE
        says = (
            f"{labels[place]}: nobody found in {counted(len(checks.where), 'check')}. That fits a share of up to "
            f"{100 * could_be:.0f} %; 59 checks without a visit are needed to call a 5 % retreat unused."
        )
        yield Finding((place,), "unused" if enough else TOO_EARLY, trust if enough else "", says)


def _by_animal(rows: pd.DataFrame) -> Iterator[tuple[object, pd.DataFrame]]:
    yield from rows[rows["zone"].notna()].groupby("animal", sort=True)


def _keeping(checks: Checks, kept: Fidelity, trust: str, labels: Mapping[str, str]) -> Iterator[Finding]:
    for i, animal in enumerate(checks.animals):
        if not kept.checks[i]:
            continue
        sure = bool(trust) and kept.p[i] <= ALPHA
        says = (
            f"{labels[animal]} was in the same retreat at the next check {100 * kept.same[i]:.0f} % of "
            f"{counted(int(kept.checks[i]), 'time')}; {100 * kept.expected[i]:.0f} % if it did not matter who is who."
        )
        if not sure:
            says += " That could be luck."
        yield Finding((animal,), "keeps to it" if sure else TOO_EARLY, trust if sure else "", says)


def _company(checks: Checks, company: Sharing, trust: str, labels: Mapping[str, str]) -> Iterator[Finding]:
    """Pairs beyond chance by name; one sentence where there is none."""
    named = 0
    for i in range(len(checks.animals)):
        for j in range(i + 1, len(checks.animals)):
            together = company.pair_p_together[i, j] <= ALPHA / 2
            if not trust or not (together or company.pair_p_apart[i, j] <= ALPHA / 2):
                continue
            named += 1
            one, other = checks.animals[i], checks.animals[j]
            yield Finding(
                (one, other),
                "together" if together else "apart",
                trust,
                f"{labels[one]} and {labels[other]} came into one retreat {company.arrivals[i, j]:.0f} times; "
                f"{company.expected_arrivals[i, j]:.0f} by their own uses of the retreats.",
            )
    if not named:
        yield Finding(
            checks.animals,
            TOO_EARLY,
            "",
            f"No pair was found together or apart more than luck would give, in {counted(company.moves, 'move')}.",
        )


def _pairs(checks: Checks, company: Sharing) -> Iterator[dict[str, object]]:
    found = association(checks.where)
    for i, one in enumerate(checks.animals):
        for j in range(i + 1, len(checks.animals)):
            yield {
                "enclosure": checks.enclosure, "animal": one, "other": checks.animals[j],
                "simple_ratio": found.simple_ratio[i, j], "half_weight": found.half_weight[i, j],
                "arrivals": company.arrivals[i, j], "expected": company.expected_arrivals[i, j],
                "p_together": company.pair_p_together[i, j], "p_apart": company.pair_p_apart[i, j],
            }  # fmt: skip
