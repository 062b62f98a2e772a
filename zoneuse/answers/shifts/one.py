"""One change: all that moved after it, each share with its verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.intervals import PART_OF_LEVEL, t_quantile
from ...stats.resampling import Together, smallest_p_within
from ...study import Declaration
from ...tables import Adjustment, places_of
from .. import reasons
from ..finding import TOO_EARLY, Confounder, Finding, numbers
from ..question import ELSE, Question
from .around.conditions import conditions_used
from .around.unseen import FoundByUnit, stands_unseen
from .by_animal import one_of_several
from .come_and_gone import answered, unmoved
from .compared.measures import measures
from .designs.controls import Controls, least_p
from .expected import expectations
from .judge import (
    ALPHA,
    CONFOUNDED,
    FELL,
    HELD,
    ROSE,
    family,
    family_by_lot,
    grade_of,
    limits_that_agree,
    more_to_show,
    moved_numbers,
    side_counts,
    stands,
    too_few,
    verdict_of,
)
from .moved import Moved, moved_condition, moved_shares
from .phases import Sides


@dataclass(frozen=True, slots=True)
class Basis:
    """What one change is judged from: its two sides, and what else bears on it.

    ``seen`` is how much was found on each side, ``alike`` false where hours, observer, method or the seen part
    differ; ``animals`` the changes of each animal.
    """

    change: Adjustment
    found: Sides
    controls: Controls | None
    by_lot: Mapping[tuple[str, str], float]
    others: tuple[Confounder, ...]
    held_within: float
    draws: int
    seen: FoundByUnit | None = None
    alike: bool = True
    animals: Sequence[dict[str, Any]] = ()


@dataclass(frozen=True, slots=True)
class JudgedChange:
    """Rows of the answer's table, of the finer part and of forecasts, findings, and all that moved."""

    rows: list[dict[str, Any]]
    finer: list[dict[str, Any]]
    findings: list[Finding]
    forecasts: list[dict[str, Any]]
    moved: list[Moved]
    main: list[str]


def families(declared: Declaration, found: Sides) -> list[tuple[str, str, list[str]]]:
    """What is compared as shares: zones, and the behaviours that last where more than one was seen."""
    states = [
        b.id for b in declared.behaviours.values() if b.lasts and (found.rows["behaviour"] == b.id).any()
    ]
    # What fills up a time budget makes shares of it; it is nothing that is judged.
    states += [ELSE] if (found.rows["behaviour"] == ELSE).any() else []
    zones = [("zone", "place", places_of(declared))]
    return zones + ([("behaviour", "behaviour", states)] if len(states) > 1 else [])


def one_change(question: Question, basis: Basis) -> JudgedChange:
    """All that one change moved: zones, behaviours and the conditions used, each with its verdict."""
    declared, change, found = question.declared, basis.change, basis.found
    expected = expectations(declared, change)
    kept_out = unmoved(declared, found)
    places = {name: way for (what, name), way in expected.items() if what == "zone"}
    of_others, their_rows = answered(question, change, found, kept_out, places)
    if min(found.counts) < 2:
        few = too_few(change, found, len(places_of(declared)), question.unit)
        return JudgedChange(their_rows, [], [few, *of_others], [], [], [])
    moved = _moved(question, basis, kept_out.places)
    main = np.array([(m.what, m.name) in expected for m in moved], bool)
    told, level = _all_told(question, basis, moved, main, expected=expected)
    rows = [*their_rows, *(_row(change, m, told[i], found.sessions()) for i, m in enumerate(moved))]
    findings = _clear(question, basis, moved, told, main=main)
    least = smallest_p_within(found.late, found.slot)
    if moved and least > level and not basis.by_lot:
        findings = [too_few(change, found, len(moved), question.unit)]
        rows = [{**row, "p": np.nan, "p_holm": np.nan} for row in rows]
    if not findings and not of_others:
        findings = [_nothing_clear(question, basis, moved, told)]
    finer = [_finer(change, m) for m in moved]
    return JudgedChange(
        rows, finer, [*findings, *of_others], _forecasts(change, moved), moved, _places(moved, main)
    )


def _places(moved: Sequence[Moved], main: NDArray[np.bool_]) -> list[str]:
    """The places something was expected of."""
    return [m.name for m, own in zip(moved, main, strict=True) if own and m.what == "zone"]


def _all_told(
    question: Question,
    basis: Basis,
    moved: Sequence[Moved],
    main: NDArray[np.bool_],
    *,
    expected: Mapping[Any, Any],
) -> tuple[list[_Told], float]:
    """What was decided on every share, and the largest level any was held against."""
    p, now = _chances(basis, [m.p for m in moved], moved, main)
    _, sure = _chances(basis, [m.p_sure for m in moved], moved, main, PART_OF_LEVEL * ALPHA)
    told = [
        _told(question, basis, m, expected, chances=_Chances(*map(float, chances)))
        for m, *chances in zip(
            moved, p, now.adjusted, now.level, now.itself, sure.adjusted, sure.level, strict=True
        )
    ]
    return told, float(now.level.max(initial=0.0))


def _clear(
    question: Question,
    basis: Basis,
    moved: Sequence[Moved],
    told: Sequence[_Told],
    *,
    main: NDArray[np.bool_],
) -> list[Finding]:
    """The findings of shares something was expected of, and of those that moved clearly."""
    return [
        _finding(question, basis, m, one, len(moved))
        for m, one, own in zip(moved, told, main, strict=True)
        if own or one.claimed
    ]


@dataclass(frozen=True, slots=True)
class _Told:
    """What was decided on one share: ``holds`` where it stands however often one asks."""

    verdict: str
    why: str
    expected: str | None
    p: float
    adjusted: float
    by_luck: float
    limits: tuple[float, float]
    holds: bool
    claimed: bool
    itself: float


@dataclass(frozen=True, slots=True)
class _Chances:
    """The chances of one share: its own, over all and what that is held against, its own that would first pass by
    ``itself``; and ``strict`` ones over all, of what stands always, with what they are held against."""

    p: float
    adjusted: float
    level: float
    itself: float
    strict: float
    strict_level: float


def _told(
    question: Question, basis: Basis, m: Moved, expected: Mapping[Any, Any], *, chances: _Chances
) -> _Told:
    """The verdict on one share, and whether it stands however often one asks."""
    adjusted, level = chances.adjusted, chances.level
    verdict, why = _verdict(question, basis, m, adjusted, level)
    claimed = verdict in (ROSE, FELL) or (verdict == CONFOUNDED and adjusted <= level)
    # What comes from one animal of several may be that it moved house that day, unless the day was drawn.
    whose = None if basis.by_lot else _one_animal(basis, m)
    alike = basis.alike and whose is None
    holds = verdict == HELD or (alike and stands(m, chances.strict, chances.strict_level, bool(basis.by_lot)))
    return _Told(
        verdict, why, expected.get((m.what, m.name)), chances.p, adjusted,
        adjusted * ALPHA / level if level > 0 else 1.0, limits_that_agree(m, claimed, adjusted, level), holds,
        claimed, chances.itself,
    )  # fmt: skip


def _one_animal(basis: Basis, m: Moved) -> tuple[str, int] | None:
    """The one animal that makes up a place's whole change, and of how many."""
    return one_of_several(basis.animals, m.name) if m.what == "zone" else None


def _finding(question: Question, basis: Basis, m: Moved, told: _Told, compared: int) -> Finding:
    """What the sentence needs beside numbers stands in ``facts``: the change, what was expected, what it rests on."""
    verdict, steady = told.verdict, m.series.steady
    grade = grade_of(basis.found, told.holds) if verdict in (ROSE, FELL, HELD) else ""
    before = -steady.breaks if steady is not None and steady.begun_before and not basis.by_lot else 0
    one = _one_animal(basis, m)
    facts = {
        "change": basis.change, "what": m.what, "expected": told.expected, "by_lot": bool(basis.by_lot),
        "trend": m.series.trend, "by_step": m.by_step,
        "begun_before": before, "labels": question.labels, "one_animal": one,
        # What a row of the picture cannot say, and no claim may be read without.
        "aside": verdict in (ROSE, FELL) and (one is not None or before > 0 or m.series.trend),
    }  # fmt: skip
    named = moved_numbers(m, told.p, told.limits, basis.found)
    if verdict in (ROSE, FELL):
        named |= numbers(by_luck=(told.by_luck, "chance"))
    ahead = None
    if told.why == reasons.SPREAD and not basis.by_lot:
        ahead = more_to_show(m, told.itself, basis.found.counts)
    return Finding(
        (basis.change.id, m.name), verdict, grade, told.why, named, ahead, question.unit, compared, facts,
        confounders=basis.others,
    )  # fmt: skip


def _nothing_clear(
    question: Question, basis: Basis, moved: Sequence[Moved], told: Sequence[_Told]
) -> Finding:
    """Nothing stood out, or something that rests on too little watching to be said."""
    counts = side_counts(basis.found)
    short = reasons.TOO_FEW_UNITS in {one.why for one in told}
    reason = reasons.TOO_FEW_UNITS if short else reasons.SPREAD if moved else reasons.NOTHING_SEEN
    ahead, clearest = None, None
    if moved:
        clearest, itself = min(zip(moved, (one.itself for one in told), strict=True), key=lambda m: m[0].p)
        counts |= {"clearest_p": (clearest.p, "chance")}
        if reason == reasons.SPREAD and not basis.by_lot:
            ahead = more_to_show(clearest, itself, basis.found.counts)
    return Finding(
        (basis.change.id,), TOO_EARLY, reason=reason, numbers=numbers(**counts), forecast=ahead, unit=question.unit,
        compared=len(moved), facts={"change": basis.change, "clearest": clearest and clearest.name},
    )  # fmt: skip


def _moved(question: Question, basis: Basis, kept_out: Collection[str]) -> list[Moved]:
    """Every share, without the places that cannot have moved, and the conditions used."""
    shares = [
        m
        for what, column, names in families(question.declared, basis.found)
        for m in moved_shares(basis.found, what, column, names, draws=basis.draws, seed=question.seed)
        if m.name != ELSE and (what != "zone" or m.name not in kept_out)
    ]
    return [*shares, *_rated(question, basis), *conditions_used(basis.found, basis.draws, question.seed)]


def _rated(question: Question, basis: Basis) -> list[Moved]:
    """Events an hour, the active share where it says more than two behaviours do, and moves an hour where expected."""
    found, wanted = basis.found, expectations(question.declared, basis.change)
    if not len(found.late):
        return []
    lasting = set(found.rows["behaviour"].dropna().unique())
    told = []
    for m in measures(question, found.rows, found.unit):
        usual = m.what == "event" or (m.what == "active" and len(lasting) > 2)
        if not usual and (m.what not in ("active", "moves") or (m.what, m.name) not in wanted):
            continue
        values = np.divide(m.of, m.among, out=np.full(m.of.size, np.nan), where=m.among > 0)
        moved = moved_condition(found, m.name, values, basis.draws, question.seed)
        told += [] if moved is None else [replace(moved, what=m.what)]
    return told


def _chances(
    basis: Basis, own: Sequence[float], moved: Sequence[Moved], main: NDArray[np.bool_], alpha: float = ALPHA
) -> tuple[Floats, Together]:
    """p of each (``own``, or its lot's), and over all that is compared at ``alpha``."""
    p = np.array([basis.by_lot.get((m.what, m.name), one) for m, one in zip(moved, own, strict=True)])
    # Where enough enclosures were left alone, what was expected must stand out against them too.
    floor = [least_p(basis.controls, m.name) if own else 0.0 for m, own in zip(moved, main, strict=True)]
    p = np.maximum(p, floor)
    if basis.by_lot and main.any():
        return p, family_by_lot(p, main, _comparisons(moved), alpha)
    return p, family(p, main, moved, alpha)


def _comparisons(moved: Sequence[Moved]) -> NDArray[np.int64]:
    """A number for each comparison: of two shares that complete each other one tells what the other does."""
    of_kind = Counter(m.what for m in moved)
    numbers: dict[str, int] = {}
    names = [
        m.what if m.what in ("zone", "behaviour") and of_kind[m.what] == 2 else f"{m.what} {m.name}"
        for m in moved
    ]
    return np.array([numbers.setdefault(name, len(numbers)) for name in names], np.int64)


def _verdict(question: Question, basis: Basis, m: Moved, p: float, level: float) -> tuple[str, str]:
    verdict, why = verdict_of(
        m, p, level, held_within=basis.held_within, by_lot=bool(basis.by_lot), counts=basis.found.counts
    )
    if verdict not in (ROSE, FELL, HELD):
        return verdict, why
    if not grade_of(basis.found):
        return TOO_EARLY, reasons.TOO_FEW_UNITS
    if m.what == "zone" and verdict != HELD and basis.seen is not None:
        place = places_of(question.declared).index(m.name)
        if not stands_unseen(
            basis.found, basis.seen, place, level=level, draws=basis.draws, seed=question.seed
        ):
            return TOO_EARLY, reasons.UNSEEN_DECIDE
    return (CONFOUNDED, reasons.CONFOUNDED_BY) if basis.others else (verdict, why)


def _row(change: Adjustment, m: Moved, told: _Told, sessions: tuple[int, int]) -> dict[str, Any]:
    low, high = told.limits
    return {
        "adjustment": change.id, "what": m.what, "name": None if m.what == "zone" else m.name,
        "zone": m.name if m.what == "zone" else None, "before": m.before, "after": m.after,
        "change": m.after - m.before, "change_low": low, "change_high": high, "p": told.p,
        # Without the arrangements in which what was expected comes, it may lie below its own.
        "p_holm": max(told.p, told.adjusted), "n_eff": m.looks, "df": m.df, "se": m.se, "nap": m.series.nap.nap,
        "sessions_before": sessions[0], "sessions_after": sessions[1],
    }  # fmt: skip


def _finer(change: Adjustment, m: Moved) -> dict[str, Any]:
    s = m.series
    half = t_quantile(0.975, s.beside_trend.degrees) * s.beside_trend.se
    return {
        "adjustment": change.id, "what": m.what, "name": m.name, "own_low": m.low, "own_high": m.high,
        "spells": m.spells, "nap": s.nap.nap, "nap_low": s.nap.low,
        "nap_high": s.nap.high, "tau_u": s.tau_u, "log_odds_ratio": m.log_odds, "typical_shift": s.typical.shift,
        "typical_low": s.typical.low, "typical_high": s.typical.high, "lag_one": s.lag_one, "trend": s.trend,
        "step_beside_trend": s.beside_trend.step, "step_low": s.beside_trend.step - half,
        "step_high": s.beside_trend.step + half, "by_dependent_step": m.by_step,
        "breaks_at": np.datetime64(int(s.breaks_at), "ms") if np.isfinite(s.breaks_at) else None,
    }  # fmt: skip


def _forecasts(change: Adjustment, moved: Sequence[Moved]) -> list[dict[str, Any]]:
    """Each forecast on record against what came."""
    if not change.forecast:
        return []
    came = {m.name: m.after for m in moved if m.what == "zone"}
    return [
        {"adjustment": change.id, "zone": zone, "forecast": f["share"], "low": f["low"], "high": f["high"],
         "came": came[zone], "inside": bool(f["low"] <= came[zone] <= f["high"])}
        for zone, f in change.forecast.items()
        if isinstance(f, dict) and zone in came
    ]  # fmt: skip
