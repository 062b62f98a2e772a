"""What matched records say of two observers: how well they agree, on what, and what they take for each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.agreement.agreement import (
    Agreement,
    CategoryAgreement,
    agreement,
    category_agreement,
    confusion,
    kappa_lost,
)
from ...stats.agreement.agreement_effort import sessions_to_settle
from ...stats.agreement.several_observers import agreement_of_several
from ...study.model import Declaration
from ...tables.offered import places_of
from ..finding import TOO_EARLY, standing
from .matched import NOT_FOUND, Matched

AGREE, SHARPEN = "agree", "sharpen"
# Good enough to pool two observers' records; what to aim for (after Landis & Koch 1977, Biometrics 33:159).
ENOUGH, AIM = 0.60, 0.80
# Fewer moments of a category tell nothing of it.
LEAST_EXAMPLES = 10
# Kappa misleads where one category holds this much and AC1 is higher by this much.
COMMON, HIGHER = 0.80, 0.20


@dataclass(frozen=True)
class Judged:
    """One pair of observers on zone or behaviour; ``why`` names what holds a verdict back."""

    matched: Matched
    what: str
    found: Agreement
    verdict: str
    why: str
    grade: str
    sessions: int
    days: int
    misleading: bool
    sharpen: tuple[tuple[str, str], ...]
    few: dict[str, int]
    counts: list[dict[str, Any]]
    categories: list[dict[str, Any]]
    confusions: list[dict[str, Any]]
    one_sided: int
    more: int | None

    @property
    def coefficient(self) -> tuple[float, float, float]:
        """AC1 where kappa misleads, else kappa; with its 95 % limits."""
        a = self.found
        return (a.ac1, a.ac1_low, a.ac1_high) if self.misleading else (a.kappa, a.kappa_low, a.kappa_high)


def judge(
    declared: Declaration, pair: Matched, behaviours: Sequence[str], *, enough: float, aim: float
) -> Iterator[Judged]:
    """The pair on zone, and on behaviour where both recorded any."""
    rows = pair.rows
    if behaviours:
        rows = rows[rows["behaviour"].isin(behaviours) | rows["behaviour_other"].isin(behaviours)]
    if not len(rows):
        return
    places = [*places_of(declared), NOT_FOUND]
    both = rows["behaviour"].notna() & rows["behaviour_other"].notna()
    lasting = [b.id for b in declared.behaviours.values() if b.lasts]
    asked = 2 if both.any() else 1
    yield _judged(pair, "zone", rows, "zone", places, 0, enough, aim, asked)
    if both.any():
        one_sided = int((rows["behaviour"].notna() ^ rows["behaviour_other"].notna()).sum())
        yield _judged(pair, "behaviour", rows[both], "behaviour", lasting, one_sided, enough, aim, asked)


def _judged(
    pair: Matched,
    what: str,
    rows: pd.DataFrame,
    column: str,
    names: list[str],
    one_sided: int,
    enough: float,
    aim: float,
    asked: int,
) -> Judged:
    number = {name: k for k, name in enumerate(names)}
    one, other = (
        np.asarray([number.get(name, -1) for name in rows[c]], np.int64) for c in (column, f"{column}_other")
    )
    session = np.asarray(pd.factorize(rows["together"])[0], np.int64)
    offered = sum(name in set(rows[column]) | set(rows[f"{column}_other"]) for name in names)
    found = agreement(one, other, session, categories=offered)
    # The claim of a shortfall holds for zone and behaviour at once; the claim of agreement for each by itself.
    claim = agreement(one, other, session, categories=offered, confidence=1 - 0.05 / asked)
    even = agreement(one, other, session, categories=offered, confidence=0.90)
    counts = confusion(one, other, len(names))
    seen = [k for k in range(len(names)) if counts[k].sum() + counts[:, k].sum() > 0]
    enough_of = [k for k in seen if counts[k].sum() + counts[:, k].sum() - counts[k, k] >= LEAST_EXAMPLES]
    each = category_agreement(one, other, len(names), session, compared=max(len(enough_of), 1))
    sessions, days = int(np.unique(session).size), int(rows["day"].nunique())
    misleading = found.common >= COMMON and found.ac1 - found.kappa >= HIGHER
    grade = standing(sessions, days)
    dull = [k for k in enough_of if each.high[k] < aim] if grade else []
    low = even.ac1_low if misleading else even.kappa_low
    high = claim.ac1_high if misleading else claim.kappa_high
    verdict, why = _verdict(low, high, grade, len(enough_of), bool(dull), enough, aim)
    value = found.ac1 if misleading else found.kappa
    limit = found.ac1_low if misleading else found.kappa_low
    more = sessions_to_settle(value, limit, sessions, enough=enough, aim=aim) if why == "wide" else None
    confusions = _confusions(pair.pair, what, counts, names, one, other, session)
    return Judged(
        pair, what, found, verdict, why, grade if verdict != TOO_EARLY else "", sessions, days, misleading,
        _dearest(dull, counts, names),
        {names[k]: int(each.examples[k]) for k in seen if k not in enough_of},
        _counts(pair.pair, what, counts, names), _categories(pair.pair, what, each, names, seen), confusions,
        one_sided, more,
    )  # fmt: skip


def _verdict(
    low: float, high: float, grade: str, kinds: int, dull: bool, enough: float, aim: float
) -> tuple[str, str]:
    if not grade:
        return TOO_EARLY, "few"
    if kinds < 2:
        return TOO_EARLY, "one kind"
    if high < aim or dull:
        return SHARPEN, "" if high < aim else "a category"
    if low >= enough:
        return AGREE, ""
    return TOO_EARLY, "wide"


def _dearest(dull: list[int], counts: NDArray[np.int64], names: list[str]) -> tuple[tuple[str, str], ...]:
    """Each category on which they fall short with what it is most often taken for, each pair once."""
    mixed = counts + counts.T
    np.fill_diagonal(mixed, 0)
    pairs = dict.fromkeys(tuple(sorted((k, int(mixed[k].argmax())))) for k in dull)
    ordered = sorted(pairs, key=lambda p: -mixed[p])
    return tuple((names[i], names[j]) for i, j in ordered)


def _confusions(
    pair: str,
    what: str,
    counts: NDArray[np.int64],
    names: list[str],
    one: NDArray[np.int64],
    other: NDArray[np.int64],
    session: NDArray[np.int64],
) -> list[dict[str, Any]]:
    lost = kappa_lost(counts)
    rows = []
    for i in range(len(names)):
        for j in range(i + 1, len(names)):
            times = int(counts[i, j] + counts[j, i])
            if not times:
                continue
            where = ((one == i) & (other == j)) | ((one == j) & (other == i))
            rows.append(
                {"pair": pair, "what": what, "one": names[i], "other": names[j], "moments": times,
                 "one_other": int(counts[i, j]), "other_one": int(counts[j, i]),
                 "sessions": int(np.unique(session[where]).size), "kappa_lost": float(lost[i, j])}
            )  # fmt: skip
    return rows


def _counts(pair: str, what: str, counts: NDArray[np.int64], names: list[str]) -> list[dict[str, Any]]:
    """The whole table of what the first and the second said."""
    return [
        {"pair": pair, "what": what, "first_said": names[i], "second_said": names[j], "moments": int(n)}
        for (i, j), n in np.ndenumerate(counts)
        if n
    ]


def _categories(
    pair: str, what: str, each: CategoryAgreement, names: list[str], seen: list[int]
) -> list[dict[str, Any]]:
    return [
        {"pair": pair, "what": what, "category": names[k], "examples": int(each.examples[k]),
         "both": int(each.both[k]), "agreement": float(each.agreement[k]), "low": float(each.low[k]),
         "high": float(each.high[k]), "enough": bool(each.examples[k] >= LEAST_EXAMPLES)}
        for k in seen
    ]  # fmt: skip


def several(declared: Declaration, matched: Sequence[Matched]) -> list[dict[str, Any]]:
    """Three or more observers on the same moments: Krippendorff's alpha, with gaps where one recorded nothing."""
    pairs = [m for m in matched if not m.again and len(m.rows)]
    names = sorted({name for m in pairs for name in m.observers})
    if len(names) < 3:
        return []
    units, sessions = _units(pairs, names)
    zones = [*places_of(declared), NOT_FOUND]
    lasting = [b.id for b in declared.behaviours.values() if b.lasts]
    told = []
    for what, kinds in (("zone", zones), ("behaviour", lasting)):
        number = {kind: k for k, kind in enumerate(kinds)}
        codes = np.array([[number.get(unit[what].get(n), -1) for unit in units] for n in names], np.int64)
        found = agreement_of_several(codes, np.array(sessions))
        if found.n:
            told.append(
                {"observers": " + ".join(names), "what": what, "moments": found.n, "agreement": found.agreement,
                 "alpha": found.alpha, "alpha_low": found.alpha_low, "alpha_high": found.alpha_high,
                 "kappa": found.kappa, "ac1": found.ac1}
            )  # fmt: skip
    return told


def _units(pairs: Sequence[Matched], names: list[str]) -> tuple[list[dict[str, Any]], list[str]]:
    """Records that meet, directly or through a third observer's, are one moment; an observer counts once in it."""
    parent: dict[int, int] = {}
    said: dict[int, tuple[str, Any, Any]] = {}
    where: dict[int, str] = {}

    def root(k: int) -> int:
        while parent.setdefault(k, k) != k:
            k = parent[k]
        return k

    for m in pairs:
        names_of = ("i", "j", "together", "zone", "behaviour", "zone_other", "behaviour_other")
        for i, j, together, *told in zip(*(m.rows[name].tolist() for name in names_of), strict=True):
            said[i] = m.observers[0], told[0], told[1]
            said[j] = m.observers[1], told[2], told[3]
            for k in (i, j):
                where[k] = min(where.get(k, together), together)
            parent[root(j)] = root(i)
    units: dict[int, dict[str, Any]] = {}
    sessions: dict[int, str] = {}
    for k in sorted(said):
        unit = units.setdefault(root(k), {"zone": {}, "behaviour": {}})
        name, zone, behaviour = said[k]
        unit["zone"].setdefault(name, zone)
        unit["behaviour"].setdefault(name, behaviour)
        sessions[root(k)] = min(sessions.get(root(k), where[k]), where[k])
    return list(units.values()), [sessions[k] for k in units]
