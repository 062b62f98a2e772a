"""What matched records say of two observers: how well they agree, on what, and what they take for each other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.agreement import (
    Agreement,
    CategoryAgreement,
    agreement,
    category_agreement,
    confusion,
    kappa_lost,
    sessions_to_settle,
)
from ...study import Declaration
from ...tables import places_of
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, numbers, standing
from ..nothing import nothing
from ..question import Question
from .matched import NOT_FOUND, Matched

AGREE, SHARPEN = "agree", "sharpen"
VERDICTS = (AGREE, SHARPEN, TOO_EARLY)
# Good enough to pool two observers' records; what to aim for (after Landis & Koch 1977, Biometrics 33:159).
ENOUGH, AIM = 0.60, 0.80
# Fewer moments of a category tell nothing of it.
LEAST_EXAMPLES = 10
# Kappa misleads where one category holds this much and AC1 is higher by this much.
COMMON, HIGHER = 0.80, 0.20
# With fewer moments of anything but the commonest category, or as few that both gave alike where there are not many
# in all, kappa's limits rest on a handful of slips (house rule; docs/methods/observers.md).
FEWEST_UNCOMMON, MANY_UNCOMMON = 10, 80


@dataclass(frozen=True)
class JudgedPair:
    """One pair of observers on zone or behaviour; ``reason`` is the code of what holds a verdict back.

    ``as_a_whole`` is false where the agreement over all falls short of the aim; ``uncommon`` counts the moments at
    which either saw anything but the commonest category, ``alike`` those at which both saw the same of it.
    """

    matched: Matched
    what: str
    found: Agreement
    verdict: str
    reason: str
    grade: str
    sessions: int
    days: int
    misleading: bool
    uncommon: int
    alike: int
    as_a_whole: bool
    sharpen: tuple[tuple[str, str], ...]
    few: dict[str, int]
    counts: list[dict[str, Any]]
    categories: list[dict[str, Any]]
    confusions: list[dict[str, Any]]
    one_sided: int
    more: int | None
    compared: int

    @property
    def rare(self) -> bool:
        """Whether kappa hangs on so few moments that its limits say nothing."""
        return too_rare(self.uncommon, self.alike)

    @property
    def coefficient(self) -> tuple[float, float, float]:
        """AC1 where kappa misleads, else kappa; with its 95 % limits."""
        a = self.found
        return (a.ac1, a.ac1_low, a.ac1_high) if self.misleading else (a.kappa, a.kappa_low, a.kappa_high)


@dataclass(frozen=True, slots=True)
class KappaAims:
    """What kappa must reach: ``enough`` to pool two observers' records, ``aim`` to strive for."""

    enough: float = ENOUGH
    aim: float = AIM


@dataclass(frozen=True, slots=True)
class _Codes:
    """The records of one kind as numbers: what the first and the other said, in which session, out of ``names``."""

    what: str
    one: NDArray[np.int64]
    other: NDArray[np.int64]
    session: NDArray[np.int64]
    names: list[str]
    offered: int


def judge(
    declared: Declaration, pair: Matched, behaviours: Sequence[str], bars: KappaAims
) -> Iterator[JudgedPair]:
    """The pair on zone, and on behaviour where both recorded any."""
    rows = pair.rows
    if behaviours:
        rows = rows[rows["behaviour"].isin(behaviours) | rows["behaviour_other"].isin(behaviours)]
    if not len(rows):
        return
    places = [*places_of(declared), NOT_FOUND]
    both = rows["behaviour"].notna() & rows["behaviour_other"].notna()
    lasting = [b.id for b in declared.behaviours.values() if b.lasts]
    compared = 2 if both.any() else 1
    yield _judged(pair, rows, _codes(rows, "zone", places), bars, compared=compared)
    if both.any():
        one_sided = int((rows["behaviour"].notna() ^ rows["behaviour_other"].notna()).sum())
        codes = _codes(rows[both], "behaviour", lasting)
        yield _judged(pair, rows[both], codes, bars, compared=compared, one_sided=one_sided)


def _codes(rows: pd.DataFrame, what: str, names: list[str]) -> _Codes:
    number = {name: k for k, name in enumerate(names)}
    one, other = (
        np.asarray([number.get(name, -1) for name in rows[c]], np.int64) for c in (what, f"{what}_other")
    )
    session = np.asarray(pd.factorize(rows["together"])[0], np.int64)
    offered = sum(name in set(rows[what]) | set(rows[f"{what}_other"]) for name in names)
    return _Codes(what, one, other, session, names, offered)


def _judged(
    pair: Matched, rows: pd.DataFrame, codes: _Codes, bars: KappaAims, *, compared: int, one_sided: int = 0
) -> JudgedPair:
    names, what = codes.names, codes.what
    sessions, days = int(np.unique(codes.session).size), int(rows["day"].nunique())
    grade = standing(sessions, days)
    counts = confusion(codes.one, codes.other, len(names))
    examples = counts.sum(axis=0) + counts.sum(axis=1) - counts.diagonal()
    seen = np.flatnonzero(examples).tolist()
    enough_of = np.flatnonzero(examples >= LEAST_EXAMPLES).tolist()
    each = category_agreement(
        codes.one, codes.other, len(names), codes.session, compared=max(len(enough_of), 1)
    )
    dull = [k for k in enough_of if each.high[k] < bars.aim] if grade else []
    # The claim of a shortfall holds for zone and behaviour at once; the claim of agreement for each by itself.
    found, claim, even = (_agreement(codes, c) for c in (0.95, 1 - 0.05 / compared, 0.90))
    commonest = int((counts.sum(axis=0) + counts.sum(axis=1)).argmax())
    uncommon = int(counts.sum() - counts[commonest, commonest])
    alike = int(counts.trace() - counts[commonest, commonest])
    misleading = _misleads(found, too_rare(uncommon, alike))
    low = even.ac1_low if misleading else even.kappa_low
    high = claim.ac1_high if misleading else claim.kappa_high
    verdict, reason = _verdict((low, high), grade, len(enough_of), bool(dull), bars)
    value, limit = (found.ac1, found.ac1_low) if misleading else (found.kappa, found.kappa_low)
    more = None
    if reason == reasons.SPREAD:
        more = sessions_to_settle(value, limit, sessions, enough=bars.enough, aim=bars.aim)
    return JudgedPair(
        pair, what, found, verdict, reason, grade if verdict != TOO_EARLY else "", sessions, days, misleading,
        uncommon, alike, high >= bars.aim, _dearest(dull, counts, names),
        {names[k]: int(each.examples[k]) for k in seen if k not in enough_of},
        _counts(pair.pair, what, counts, names), _categories(pair.pair, what, each, names, seen),
        _confusions(pair.pair, codes, counts), one_sided, more, compared,
    )  # fmt: skip


def too_rare(uncommon: int, alike: int) -> bool:
    """Whether so few moments hold anything but the commonest category, or so few of them were given alike, that the
    limits of kappa say nothing."""
    return uncommon < FEWEST_UNCOMMON or (alike < FEWEST_UNCOMMON and uncommon < MANY_UNCOMMON)


def _misleads(found: Agreement, rare: bool) -> bool:
    """Whether AC1 stands in for kappa: a rare code, or nearly all of one category and kappa far below."""
    return rare or far_below(found)


def far_below(found: Agreement) -> bool:
    """Whether nearly all is of one category and kappa lies far below AC1."""
    return found.common >= COMMON and found.ac1 - found.kappa >= HIGHER


def _agreement(codes: _Codes, confidence: float) -> Agreement:
    return agreement(codes.one, codes.other, codes.session, categories=codes.offered, confidence=confidence)


def findings(one: JudgedPair) -> Iterator[Finding]:
    """The verdict on zone or behaviour, then each definition to sharpen."""
    m, a = one.matched, one.found
    counts = numbers(
        moments=(a.n, "moments"), sessions=(one.sessions, "sessions"), days=(one.days, "days"),
        agreement=(a.agreement, "share"), kappa=(a.kappa, "kappa"),
        kappa_low=(None if one.rare else a.kappa_low, "kappa"),
        kappa_high=(None if one.rare else a.kappa_high, "kappa"),
        uncommon=(one.uncommon, "moments"), ac1=(a.ac1, "AC1"), ac1_low=(a.ac1_low, "AC1"),
        ac1_high=(a.ac1_high, "AC1"), commonest=(a.common, "share"), by_luck=(a.expected, "share"),
    )  # fmt: skip
    ahead = Forecast(one.more, None) if one.reason == reasons.SPREAD else None
    yield Finding(
        (*dict.fromkeys(m.observers), one.what), one.verdict, one.grade, one.reason, counts, ahead, "session",
        one.compared, {"judged": one},
    )  # fmt: skip
    for pair in one.sharpen:
        row = next(r for r in one.confusions if {r["one"], r["other"]} == set(pair))
        yield Finding(
            pair, SHARPEN, one.grade, unit="session", compared=one.compared,
            numbers=numbers(
                moments=(row["moments"], "moments"), sessions=(row["sessions"], "sessions"),
                of_sessions=(one.sessions, "sessions"), kappa_lost=(row["kappa_lost"], "kappa"),
            ),
            facts={"judged": one, "confusion": row},
        )  # fmt: skip


def nobody_together(question: Question, rows: pd.DataFrame) -> Finding:
    """Nobody watched beside anybody."""
    names = tuple(sorted(set(rows["observer"])))
    facts = {} if names else {"nothing": nothing(question)}
    return Finding(names, TOO_EARLY, reason=reasons.NO_RECORD, unit="session", facts=facts)


def _verdict(
    limits: tuple[float, float], grade: str, kinds: int, dull: bool, bars: KappaAims
) -> tuple[str, str]:
    """From the lower 90 % limit and the upper limit of the claim to a verdict, and what holds it back."""
    low, high = limits
    if not grade:
        return TOO_EARLY, reasons.TOO_FEW_UNITS
    if kinds < 2:
        return TOO_EARLY, reasons.TOO_FEW_KINDS
    if high < bars.aim or dull:
        return SHARPEN, ""
    return (AGREE, "") if low >= bars.enough else (TOO_EARLY, reasons.SPREAD)


def _dearest(dull: list[int], counts: NDArray[np.int64], names: list[str]) -> tuple[tuple[str, str], ...]:
    """Each category on which they fall short with what it is most often taken for, each pair once."""
    mixed = counts + counts.T
    np.fill_diagonal(mixed, 0)
    pairs = dict.fromkeys(tuple(sorted((k, int(mixed[k].argmax())))) for k in dull)
    ordered = sorted(pairs, key=lambda p: -mixed[p])
    return tuple((names[i], names[j]) for i, j in ordered)


def _confusions(pair: str, codes: _Codes, counts: NDArray[np.int64]) -> list[dict[str, Any]]:
    """Every two categories taken for each other, with how often, in how many sessions, and what it costs."""
    names, one, other = codes.names, codes.one, codes.other
    lost = kappa_lost(counts)
    rows = []
    for i in range(len(names)):
        for j in range(i + 1, len(names)):
            times = int(counts[i, j] + counts[j, i])
            if not times:
                continue
            where = ((one == i) & (other == j)) | ((one == j) & (other == i))
            rows.append(
                {"pair": pair, "what": codes.what, "one": names[i], "other": names[j], "moments": times,
                 "one_other": int(counts[i, j]), "other_one": int(counts[j, i]),
                 "sessions": int(np.unique(codes.session[where]).size), "kappa_lost": float(lost[i, j])}
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
