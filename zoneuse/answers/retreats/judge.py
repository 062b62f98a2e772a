"""Verdicts on retreats: unused, kept to, together or apart, moved from when dry; and what holds one back."""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.association import LEVEL_APART, LEVEL_TOGETHER, Company, Fidelity, Sharing
from ...stats.intervals import (
    APART_PART,
    COMPANY_PART,
    DRY_PART,
    KEEPING_PART,
    chance_of_limits,
    level_any_time,
    normal_quantile,
)
from ...stats.resampling import cochran, mcnemar
from .. import reasons
from ..finding import TOO_EARLY, Finding, Number, numbers, standing
from .checks import Checks
from .company import LEAST_LOOKS
from .dry_or_hot import NOT_PARTED, UNKNOWN
from .keeping import Own, compared_animals
from .use import places_unused

KEEPS, UNUSED, TOGETHER, APART, MOVES = "keeps to it", "unused", "together", "apart", "moves when dry"
# In the same place from check to check, and nothing shows that it comes back to one: a stay that lasts is no home.
STAYS = "stays on"
VERDICTS = (KEEPS, STAYS, UNUSED, TOGETHER, APART, MOVES, TOO_EARLY)
# A retreat that holds at most this share may be called unused.
RARE = 0.05
ALPHA = 0.05
# With fewer moves there is next to nothing to swap.
FEWEST_MOVES = 10
# Pairs named one by one; more are counted, and stand in the pairs part.
MOST_NAMED = 3
# Animals found unlike often are told at this level.
_UNEVEN = 0.01


def trust_of(checks: Checks, holds: bool = True) -> str:
    return standing(len(checks), len(set(checks.days)), holds)


def stands_always(p: float, units: int, part: float, compared: int = 1) -> bool:
    """Whether a p on so many checks or days, one of ``compared``, holds however often one asks.

    ``part`` is the share of the level that its question has: all questions of the answer stand together.
    """
    return p <= part * float(level_any_time(units)) / max(compared, 1)


def unused(checks: Checks, several: bool) -> Iterator[Finding]:
    """Retreats nobody was found in, and what that is worth: an animal's stay is one look, a check at most one."""
    alike: dict[tuple[int, float, float], list[str]] = {}
    strict = float(level_any_time(len(checks))) / max(len(checks.retreats), 1)
    for place, looked, could_be, could_ever in places_unused(checks, strict):
        alike.setdefault((looked, could_be, could_ever), []).append(place)
    for (looked, could_be, could_ever), places in alike.items():
        trust = trust_of(checks, could_ever <= RARE)
        enough = bool(trust) and could_be <= RARE
        yield Finding(
            tuple(places), UNUSED if enough else TOO_EARLY, trust if enough else "",
            "" if enough else reasons.TOO_FEW_CHECKS,
            numbers(
                checks=(looked, "checks"), share_high=(could_be, "share"),
                # As many looks to the check as so far: animals that stay put need more checks.
                enough=(math.ceil(looked * np.log1p(-could_be) / np.log1p(-RARE) - 1e-9), "checks"),
                by_luck=(ALPHA ** (np.log1p(-RARE) / np.log1p(-could_be)), "chance"),
            ),
            unit="check", compared=len(checks.retreats),
            facts={"kind": "unused", "enclosure": checks.enclosure if several else ""},
        )  # fmt: skip


def dry_moves(every: Sequence[Checks], dry: pd.DataFrame) -> Iterator[Finding]:
    """Where animals that moved went in dry spells; a verdict where the difference leaves zero out."""
    by_enclosure = {c.enclosure: c for c in every}
    for row in dry.to_dict("records"):
        animals = by_enclosure[row["enclosure"]].animals
        facts = {"kind": "dry"}
        if not row["spells"]:
            yield Finding(animals, TOO_EARLY, reason=reasons.NO_RECORD, unit="check", facts=facts)
            continue
        days = int(row["days_with_moves_dry"])
        trust = standing(
            int(row["checks_with_moves_dry"]), days, _dry_always(row, days) and row["heat"] != UNKNOWN
        )
        stands = bool(trust) and moves_when_dry(row)
        facts["heat"] = row["heat"]
        moved = bool(row["moves_dry"]) and np.isfinite(row["moister_dry"])
        early = reasons.TOO_FEW_MOVES if not moved else reasons.SPREAD if trust else reasons.TOO_FEW_CHECKS
        if moved and trust and _either_moister(row):
            early = reasons.DRY_OR_HOT
        yield Finding(
            animals, MOVES if stands else TOO_EARLY, trust if stands else "", "" if stands else early,
            _dry_numbers(row), unit="check", compared=len(every), facts=facts,
        )  # fmt: skip


def _dry_numbers(row: Mapping[Hashable, Any]) -> dict[str, Number]:
    points = [f"{n}{end}" for n in ("moister_dry", "than_usual") for end in ("", "_low", "_high")]
    named = {name: Number(row[name], "points") for name in points}
    named |= {f"cooler_dry{end}": Number(row[f"cooler_dry{end}"], "°C") for end in ("", "_low", "_high")}
    named |= {name: Number(row[name], "share") for name in ("moved_dry", "moved_other")}
    if moves_when_dry(row):
        limits = [[row[f"{n}{end}"] for end in ("", "_low", "_high")] for n in ("moister_dry", "than_usual")]
        named |= numbers(by_luck=(min(chance_of_limits(*three) for three in limits), "chance"))
    return named | numbers(
        spells=(int(row["spells"]), "dry spells"), checks=(int(row["checks_with_moves_dry"]), "checks")
    )


def _dry_always(row: Mapping[Hashable, Any], days: int) -> bool:
    """Whether moves to moister retreats hold however often one asks: the 95 % limits drawn out to that level."""
    wider = normal_quantile(1 - DRY_PART * float(level_any_time(days)) / 2) / normal_quantile(0.975)
    return any(
        row[name] - wider * (row[name] - row[f"{name}_low"]) > 0 for name in ("than_usual", "moister_dry")
    )


def moves_when_dry(row: Mapping[Hashable, Any]) -> bool:
    """Whether a row of the dry spells part shows moves to moister retreats, than usual or than those left, and
    heat does not explain them."""
    return _either_moister(row) and row["heat"] != NOT_PARTED


def _either_moister(row: Mapping[Hashable, Any]) -> bool:
    return bool(row["than_usual_low"] > 0 or row["moister_dry_low"] > 0)


def company(checks: Checks, found: Sharing, calls: Company, enclosures: int) -> Iterator[Finding]:
    """The colony first, then the pairs that stand out; nothing where no two were ever found at one check.

    ``enclosures`` is how many are judged beside each other.
    """
    trust = trust_of(checks)
    facts = {"kind": "company", "enclosure": checks.enclosure if enclosures > 1 else ""}
    counts = numbers(
        checks=(len(checks), "checks"), moves=(found.moves, "moves"), beyond=(found.beyond, "arrivals"),
        beyond_low=(found.beyond_low, "arrivals"), beyond_high=(found.beyond_high, "arrivals"),
        short=(found.short, "arrivals"), short_low=(found.short_low, "arrivals"),
        short_high=(found.short_high, "arrivals"), p_together=(found.p_together, "chance"),
        p_apart=(found.p_apart, "chance"), **_pair_of_two(checks),
    )  # fmt: skip
    if not trust or not (calls.together or calls.apart):
        if ((checks.where >= 0).sum(axis=1) > 1).any():
            reason = _company_reason(checks, found, trust)
            yield Finding(checks.animals, TOO_EARLY, "", reason, counts, unit="check", facts=facts)
        return
    verdict = TOGETHER if calls.together else APART
    p, part = (found.p_together, COMPANY_PART) if calls.together else (found.p_apart, APART_PART)
    trust = trust_of(checks, stands_always(p, len(checks), part, enclosures))
    level = LEVEL_TOGETHER if calls.together else LEVEL_APART
    counts |= numbers(by_luck=(p * enclosures * ALPHA / level, "chance"))
    yield Finding(checks.animals, verdict, trust, "", counts, unit="check", facts=facts)
    named = calls.pairs_together if calls.together else calls.pairs_apart
    pairs = sorted(
        zip(*np.nonzero(named), strict=True),
        key=lambda p: -abs(found.arrivals[p] - found.expected_arrivals[p]),
    )
    for number, (i, j) in enumerate(pairs[:MOST_NAMED], 1):
        last = number == min(MOST_NAMED, len(pairs))
        yield Finding(
            (checks.animals[i], checks.animals[j]), verdict, trust,
            numbers=numbers(
                arrivals=(int(found.arrivals[i, j]), "times"), expected=(float(found.expected_arrivals[i, j]), "times"),
                by_luck=(p * enclosures * ALPHA / level, "chance"),
                more_pairs=(len(pairs) - MOST_NAMED if last else 0, "pairs"),
            ),
            unit="check", compared=len(checks.animals) * (len(checks.animals) - 1) // 2, facts={"kind": "pair"},
        )  # fmt: skip


def _pair_of_two(checks: Checks) -> dict[str, tuple[float | int | None, str]]:
    """How often the only two animals there are were found, and found in one retreat."""
    if len(checks.animals) != 2:
        return {}
    both = (checks.where >= 0).all(axis=1)
    same = int((checks.where[both, 0] == checks.where[both, 1]).sum())
    return {"both_found": (int(both.sum()), "checks"), "same_retreat": (same, "checks")}


def _company_reason(checks: Checks, found: Sharing, trust: str) -> str:
    if len(checks.animals) == 2:
        return reasons.NEVER_WITH_THIS_DESIGN
    if not trust:
        return reasons.TOO_FEW_CHECKS
    if np.isnan(found.p_together):
        return reasons.CANNOT_BE_TESTED
    return reasons.TOO_FEW_MOVES if found.moves < FEWEST_MOVES else reasons.SPREAD


def _parted(
    checks: Checks, kept: Fidelity, known: NDArray[np.intp], compared: int, own: Own
) -> list[tuple[list[int], str, str, str]]:
    """The animals by what can be said of them, with verdict, standing and the reason where it is too early."""
    trust = trust_of(checks)
    if not trust:
        return [(known.tolist(), TOO_EARLY, "", reasons.TOO_FEW_CHECKS)]
    grades = {True: trust, False: trust_of(checks, False)}
    parted: dict[tuple[str, str, str], list[int]] = {}
    for i in known.tolist():
        verdict, sure, reason = _kept(checks, i, float(kept.p[i]), own, compared=compared)
        parted.setdefault((verdict, "" if reason else grades[sure], reason), []).append(i)
    return [(some, *said) for said, some in parted.items()]


def _kept(checks: Checks, i: int, p: float, own: Own, *, compared: int) -> tuple[str, bool, str]:
    """What can be said of one animal, whether it holds however often one asks, and the reason where it is too early."""
    if np.isnan(p):
        return TOO_EARLY, False, reasons.CANNOT_BE_TESTED
    if p > ALPHA / compared:
        return TOO_EARLY, False, reasons.SPREAD
    animal, back = checks.animals[i], float(own.back[i])

    def always(chance: float) -> bool:
        return stands_always(chance, len(checks), KEEPING_PART, compared)

    if animal in own.homes or back <= ALPHA / compared:
        return KEEPS, always(p) and (animal in own.sure or always(back)), ""
    return STAYS, always(p), ""


def keeping(checks: Checks, kept: Fidelity, own: Own, compared: int) -> Iterator[Finding]:
    """One finding for the animals that keep to their retreat, one for those that only stay on, one for the others.

    ``compared`` are the enclosures judged.
    """
    known = np.flatnonzero(kept.checks > 0)
    if len(checks.animals) > 1:
        known = np.flatnonzero(compared_animals(checks))
    if not len(known):
        return
    if len(checks.animals) == 1:
        counts = numbers(same=(float(kept.same[0]), "share"), steps=(int(kept.checks[0]), "times"))
        yield Finding(
            checks.animals, TOO_EARLY, "", reasons.NOBODY_TO_COMPARE, counts, unit="check",
            facts={"kind": "keeping", "known": 1, "homes": {}, "never_elsewhere": dict(own.never)},
        )  # fmt: skip
        return
    for some, verdict, grade, reason in _parted(checks, kept, known, compared, own):
        if not some:
            continue
        about = tuple(checks.animals[i] for i in some)
        same, expected = kept.same[some], kept.expected[some]
        yield Finding(
            about, verdict, grade, reason,
            numbers(
                same_low=(float(same.min()), "share"), same_high=(float(same.max()), "share"),
                expected_low=(float(expected.min()), "share"), expected_high=(float(expected.max()), "share"),
                steps=(int(kept.checks[some].sum()), "steps"),
                by_luck=(float(kept.p[some].min()) * compared, "chance"),
            ),
            unit="check", compared=compared,
            facts={
                "kind": "keeping", "known": len(known), "homes": {a: own.homes[a] for a in about if a in own.homes},
                "never_elsewhere": {a: place for a, place in own.never.items() if a in about},
            },
        )  # fmt: skip


def crowded_always(crowded: float, even: float, days: int, groups: int) -> bool:
    """Whether either tail of crowding holds however often one asks."""
    return stands_always(crowded, days, COMPANY_PART, groups) or stands_always(even, days, APART_PART, groups)


def crowding(days: pd.DataFrame) -> Iterator[Finding]:
    """One finding for all groups of one verdict."""
    trust = [
        standing(int(looks), int(n), crowded_always(crowded, even, int(n), len(days)))
        for looks, n, crowded, even in zip(
            days["looks"], days["days"], days["p_crowded"], days["p_even"], strict=True
        )
    ]
    verdict = [v if t else TOO_EARLY for v, t in zip(days["verdict"], trust, strict=True)]
    told = days.assign(
        trust=[t if v != TOO_EARLY else "" for v, t in zip(verdict, trust, strict=True)], called=verdict
    )
    told["rarely"] = (told["called"] == TOO_EARLY) & (told["looks"] < LEAST_LOOKS)
    for (called, rarely, grade), part in told.groupby(["called", "rarely", "trust"], sort=True):
        early = reasons.TOO_FEW_MOVES if rarely else reasons.SPREAD
        ends = {
            f"{name}_{end}": (float(getattr(part[name], how)()), unit)
            for name, unit in (
                ("shared", "share"),
                ("expected", "share"),
                ("days", "days"),
                ("looks", "looks"),
            )
            for end, how in (("low", "min"), ("high", "max"))
        }
        yield Finding(
            tuple(str(g) for g in part["group"]), str(called), str(grade), early if called == TOO_EARLY else "",
            numbers(**ends), unit="day", compared=len(days), facts={"kind": "crowding"},
        )  # fmt: skip


def found_unlike(checks: Checks) -> tuple[str, int, str, int, int] | None:
    """The animals found most and least often, how often, and of how many checks; None where all are found alike.

    Over the checks at which all were there (McNemar for two, else Cochran's Q).
    """
    whole = checks.lives.all(axis=1)
    seen = ((checks.where >= 0) | checks.out)[whole].astype(np.int64)
    if seen.shape[1] < 2 or len(seen) < 5:
        return None
    if seen.shape[1] == 2:
        only = int((seen[:, 0] > seen[:, 1]).sum()), int((seen[:, 1] > seen[:, 0]).sum())
        p = mcnemar(*only).p_exact
    else:
        p = cochran(seen)[1]
    if not np.isfinite(p) or p > _UNEVEN:
        return None
    most, least = int(seen.sum(axis=0).argmax()), int(seen.sum(axis=0).argmin())
    counts = [int(seen[:, i].sum()) for i in (most, least)]
    return checks.animals[most], counts[0], checks.animals[least], counts[1], len(seen)
