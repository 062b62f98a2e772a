"""One change: all that moved after it, what each share's verdict is, and what held it back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.intervals.quantiles import t_quantile
from ...stats.resampling.permutation import smallest_p_within
from ...study.model import Declaration
from ...tables.offered import places_of
from ...tables.phases import Adjustment
from ..finding import TOO_EARLY, standing
from .conditions import conditions_used
from .controls import Controls, least_p
from .judge import CONFOUNDED, FELL, HELD, ROSE, Moved, family, moved_shares, verdict_of
from .phases import Sides
from .words import too_few

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Basis:
    """What one change is judged from: its two sides, and what else bears on it."""

    change: Adjustment
    found: Sides
    controls: Controls | None
    drawn: Mapping[tuple[str, str], float]
    others: tuple[str, ...]
    held_within: float
    draws: int
    seed: int


@dataclass(frozen=True, slots=True)
class Told:
    """Rows of the answer's table, of the finer part and of forecasts, findings to be said, and all that moved."""

    rows: list[dict[str, Any]]
    finer: list[dict[str, Any]]
    findings: list[dict[str, Any]]
    forecasts: list[dict[str, Any]]
    moved: list[Moved]
    main: list[str]


def families(declared: Declaration, found: Sides) -> list[tuple[str, str, list[str]]]:
    """What is compared as shares: zones, and the behaviours that last where more than one was seen."""
    states = [
        b.id for b in declared.behaviours.values() if b.lasts and (found.rows["behaviour"] == b.id).any()
    ]
    zones = [("zone", "place", places_of(declared))]
    return zones + ([("behaviour", "behaviour", states)] if len(states) > 1 else [])


def one_change(declared: Declaration, basis: Basis) -> Told:
    """All that one change moved: zones, behaviours and the conditions used, each with its verdict."""
    change, found = basis.change, basis.found
    sessions = found.sessions() if len(found.late) else (0, 0)
    days = found.days() if len(found.late) else (0, 0)
    about = {"adjustment": change, "sessions": sessions, "days": days}
    if min(found.counts) < 2:
        says = too_few(change, found.late, found.slot, len(places_of(declared)))
        return Told([], [], [{**about, "verdict": TOO_EARLY, "says": says}], [], [], [])
    moved = _moved(declared, basis)
    expected = {_place(declared, e.get("zone")): e.get("direction") for e in change.expects}
    main = np.array([m.what == "zone" and m.name in expected for m in moved], bool)
    p, adjusted, level = _chances(basis, moved, main)
    rows, finer, findings = [], [], []
    for i, m in enumerate(moved):
        verdict, why = _verdict(basis, m, float(adjusted[i]), float(level[i]), sessions, days)
        rows.append(_row(change, m, float(p[i]), float(adjusted[i]), sessions))
        finer.append(_finer(change, m))
        claimed = verdict in (ROSE, FELL) or (verdict == CONFOUNDED and adjusted[i] <= level[i])
        if main[i] or claimed:
            findings.append(
                {**about, "moved": m, "verdict": verdict, "why": why, "others": basis.others, "p": float(p[i]),
                 "expected": expected.get(m.name) if m.what == "zone" else None, "drawn": bool(basis.drawn)}
            )  # fmt: skip
    least = smallest_p_within(found.late, found.slot)
    if moved and least > float(level.max(initial=0.0)) and not basis.drawn:
        says = too_few(change, found.late, found.slot, len(moved))
        findings = [{**about, "verdict": TOO_EARLY, "says": says}]
    if not findings:
        findings.append({**about, "verdict": TOO_EARLY, "says": _nothing_said(change, moved, sessions)})
    named = [m.name for m, own in zip(moved, main, strict=True) if own]
    return Told(rows, finer, findings, _forecasts(change, moved), moved, named)


def _moved(declared: Declaration, basis: Basis) -> list[Moved]:
    shares = [
        m
        for what, column, names in families(declared, basis.found)
        for m in moved_shares(basis.found, what, column, names, basis.draws, basis.seed)
    ]
    return shares + conditions_used(basis.found, basis.draws, basis.seed)


def _chances(basis: Basis, moved: Sequence[Moved], main: NDArray[np.bool_]) -> tuple[Floats, Floats, Floats]:
    """p of each, the same over all that is compared, and the level it is held against."""
    p = np.array([basis.drawn.get((m.what, m.name), m.p) for m in moved])
    # Where enough enclosures were left alone, what was expected must stand out against them too.
    floor = [least_p(basis.controls, m.name) if own else 0.0 for m, own in zip(moved, main, strict=True)]
    p = np.maximum(p, floor)
    return p, *family(p, main, bool(basis.drawn))


def _verdict(
    basis: Basis, m: Moved, p: float, level: float, sessions: tuple[int, int], days: tuple[int, int]
) -> tuple[str, str]:
    verdict, why = verdict_of(m, p, level, basis.held_within, bool(basis.drawn), basis.found.counts)
    if verdict not in (ROSE, FELL, HELD):
        return verdict, why
    if not standing(min(sessions), min(days)):
        return TOO_EARLY, "few"
    return (CONFOUNDED, why) if basis.others else (verdict, why)


def _place(declared: Declaration, zone: Any) -> str:
    return declared.zones[zone].place if zone in declared.zones else str(zone)


def _row(
    change: Adjustment, m: Moved, p: float, adjusted: float, sessions: tuple[int, int]
) -> dict[str, Any]:
    return {
        "adjustment": change.id, "what": m.what, "name": None if m.what == "zone" else m.name,
        "zone": m.name if m.what == "zone" else None, "before": m.before, "after": m.after,
        "change": m.after - m.before, "change_low": m.low, "change_high": m.high, "p": p, "p_holm": adjusted,
        "nap": m.series.nap.nap, "sessions_before": sessions[0], "sessions_after": sessions[1],
    }  # fmt: skip


def _finer(change: Adjustment, m: Moved) -> dict[str, Any]:
    s = m.series
    half = t_quantile(0.975, s.beside_trend.degrees) * s.beside_trend.se
    return {
        "adjustment": change.id, "what": m.what, "name": m.name, "nap": s.nap.nap, "nap_low": s.nap.low,
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


def _nothing_said(change: Adjustment, moved: Sequence[Moved], sessions: tuple[int, int]) -> str:
    if not moved:
        return (
            f"{change.id}: nobody was found in a zone ({sessions[0]} sessions before, {sessions[1]} after), so "
            "there is nothing to compare yet."
        )
    least = min(m.p for m in moved)
    return (
        f"{change.id}: nothing can be told from chance yet ({sessions[0]} sessions before, {sessions[1]} after; the "
        f"clearest of {len(moved)} shares and conditions looked at has p {least:.2f})."
    )
