"""Did a change alter anything: what moved after it, against what was expected, and how sure is that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..stats.permutation import smallest_p_within
from ..stats.quantiles import t_quantile
from ..study.model import Declaration
from ..study.quantities import QUANTITIES
from ..tables.offered import places_of
from ..tables.phases import Adjustment, adjustments
from .answer import TOO_EARLY, Answer, Caution, Column, Finding, standing
from .evidence import Filters, effort, labels_of, select, speaks_for, usual_cluster
from .quantities_said import label
from .shift_background import edits, hours_part, linked_said, other_hours
from .shift_conditions import conditions_moved, conditions_used, with_conditions
from .shift_controls import Controls, concerning, controls_said, least_p, tested_part
from .shift_controls import controls as controls_of
from .shift_designs import against_controls, out_of_a_spell, touched_rows
from .shift_drawn import drawn_p, not_as_drawn
from .shift_phases import Sides, confounders, sides, windows
from .shift_reversals import reversals
from .shift_verdicts import CONFOUNDED, FELL, HELD, ROSE, Moved, family, moved_shares, verdict_of
from .shifts_said import condition_said, headline, sentence, too_few

Floats = NDArray[np.float64]
COLUMNS = [
    "adjustment", "what", "name", "zone", "before", "after", "change", "change_low", "change_high",
    "p", "p_holm", "nap", "sessions_before", "sessions_after",
]  # fmt: skip
SHOWN = (
    Column("adjustment", "Change"),
    Column("zone or name", "Where, what", "first"),
    Column("before", "Before", "share", narrow=False),
    Column("after", "After", "share"),
    Column("change", "Points", "points"),
    Column("change", "95 %", "points-range", narrow=False),
    Column("p", "By luck", "chance", narrow=False),
)


def shifts(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    held_within: float = 0.10,
    draws: int = 9_999,
    seed: int = 1,
) -> Answer:
    """What moved after each change on record: zones, behaviours, and the conditions in the changed zones.

    By session or day, settling time left out, within slots; the expected zone at .04 and all others
    together at .01 (Holm), or all at .05 where nothing was written down. ``held``: the 90 % interval of the
    change lies within ``held_within`` either way.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    did = effort(rows, journals, unit)
    changes = adjustments(journals)
    labels = {**labels_of(declared), **{q: label(q) for q in QUANTITIES}}
    table: list[dict[str, Any]] = []
    findings: list[Finding] = []
    finer: list[dict[str, Any]] = []
    scored: list[dict[str, Any]] = []
    controls: list[dict[str, Any]] = []
    hours: list[dict[str, Any]] = []
    beside: list[str] = []
    cautions: list[Caution] = []
    used_conditions: list[dict[str, Any]] = []
    places = places_of(declared)
    rows = with_conditions(declared, rows, changes)
    for change in changes:
        near = concerning(declared, changes, change)
        seen = windows(near, change)
        touched, others = touched_rows(declared, change, rows)
        found = sides(touched, seen, unit)
        left = controls_of(declared, changes, change, rows, seen, unit, places)
        unsaid = edits(declared, near, seen)
        drawn = drawn_p(declared, journals, change, touched, seen, unit, _families(declared, found))
        told = _one(declared, journals, near, change, found, left, drawn, unsaid, held_within, draws, seed)
        used_conditions += conditions_used(change, found, draws, seed)
        cautions += not_as_drawn(declared, journals, change)
        table += told.rows
        finer += told.finer
        scored += told.forecasts
        cautions += told.cautions
        cautions += [Caution("spell", says) for says in out_of_a_spell(found, change, places, labels)]
        at = hours_part(change, found)
        hours += at
        cautions += other_hours(change, at)
        compared = against_controls(change, told.moved, others, seen, unit, places, seed)
        controls += tested_part(compared, left)
        if left is not None:
            beside += [controls_said(change, left, z, labels) for z in told.main]
        beside += [s for s in (linked_said(declared, change),) if s]
        findings += [sentence(f, labels, declared) for f in told.findings]
    back = reversals(declared, changes, rows, unit, places, labels, draws=draws, seed=seed)
    findings += back.findings
    conditions = [*conditions_moved(declared, changes, rows), *used_conditions]
    ordered = _zones_first(table)
    frame = pd.DataFrame([*ordered, *conditions], columns=COLUMNS)
    return Answer(
        answer="shifts",
        study=declared.title,
        table=frame,
        findings=tuple(findings)
        or (Finding((), TOO_EARLY, "", "No change is on record: see zoneuse adjust."),),
        cautions=(*dict.fromkeys(cautions), Caution("speaks-for", speaks_for(declared, rows)))
        if len(rows)
        else (),
        effort=did.to_dict(),
        parts={
            "overlap": pd.DataFrame(finer),
            "forecasts": pd.DataFrame(scored),
            "controls": pd.DataFrame(controls),
            "reversals": pd.DataFrame(back.rows),
            "hours": pd.DataFrame(hours),
        },
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(changes, did),
        notes=(
            *beside,
            *_forecasts_said(scored),
            *_conditions_said([c for c in conditions if c["zone"]], labels, declared),
        ),
    )


@dataclass(frozen=True, slots=True)
class Told:
    rows: list[dict[str, Any]]
    finer: list[dict[str, Any]]
    findings: list[dict[str, Any]]
    forecasts: list[dict[str, Any]]
    cautions: list[Caution]
    moved: list[Moved]
    main: list[str]


def _one(
    declared: Declaration,
    journals: Journals,
    changes: Sequence[Adjustment],
    change: Adjustment,
    found: Sides,
    left: Controls | None,
    drawn: Mapping[tuple[str, str], float],
    unsaid: Sequence[str],
    held_within: float,
    draws: int,
    seed: int,
) -> Told:
    """All that one change moved."""
    sessions = found.sessions() if len(found.late) else (0, 0)
    days = found.days() if len(found.late) else (0, 0)
    basis = {"adjustment": change, "sessions": sessions, "days": days}
    if min(found.counts) < 2:
        says = too_few(change, found.counts, len(places_of(declared)), bool(change.expects))
        return Told([], [], [{**basis, "verdict": TOO_EARLY, "says": says}], [], [], [], [])
    moved = [
        m
        for what, column, names in _families(declared, found)
        for m in moved_shares(found, what, column, names, draws, seed)
    ]
    p = np.array([drawn.get((m.what, m.name), m.p) for m in moved])
    expected = {_place(declared, e.get("zone")): e.get("direction") for e in change.expects}
    main = np.array([m.what == "zone" and m.name in expected for m in moved])
    # Where enough enclosures were left alone, what was expected must stand out against them too.
    p = np.maximum(p, [least_p(left, m.name) if own else 0.0 for m, own in zip(moved, main, strict=True)])
    adjusted, level = family(p, main, bool(drawn))
    others = [*confounders(declared, journals, changes, change, found), *unsaid]
    rows, finer, findings = [], [], []
    for i, m in enumerate(moved):
        verdict, why = verdict_of(
            m, float(adjusted[i]), float(level[i]), held_within, bool(drawn), found.counts
        )
        if not standing(min(sessions), min(days)) and verdict in (ROSE, FELL, HELD):
            verdict, why = TOO_EARLY, "few"
        if others and verdict in (ROSE, FELL, HELD):
            verdict = CONFOUNDED
        rows.append(
            {
                "adjustment": change.id, "what": m.what, "name": None if m.what == "zone" else m.name,
                "zone": m.name if m.what == "zone" else None, "before": m.before, "after": m.after,
                "change": m.after - m.before, "change_low": m.low, "change_high": m.high, "p": float(p[i]),
                "p_holm": float(adjusted[i]), "nap": m.nap.nap,
                "sessions_before": sessions[0], "sessions_after": sessions[1],
            }
        )  # fmt: skip
        half = t_quantile(0.975, m.beside_trend.degrees) * m.beside_trend.se
        finer.append(
            {
                "adjustment": change.id, "name": m.name, "nap": m.nap.nap, "nap_low": m.nap.low,
                "nap_high": m.nap.high, "tau_u": m.tau_u, "log_odds_ratio": m.log_odds, "lag_one": m.lag_one,
                "trend": m.trend, "step_beside_trend": m.beside_trend.step,
                "step_low": m.beside_trend.step - half, "step_high": m.beside_trend.step + half,
            }
        )  # fmt: skip
        interesting = (
            main[i] or verdict in (ROSE, FELL) or (verdict == CONFOUNDED and adjusted[i] <= level[i])
        )
        if interesting:
            findings.append({**basis, "moved": m, "verdict": verdict, "why": why, "others": others,
                             "expected": expected.get(m.name) if m.what == "zone" else None,
                             "drawn": bool(drawn)})  # fmt: skip
    least = smallest_p_within(found.late, found.slot)
    if least > float(level.max(initial=0.0)) and not drawn:
        says = too_few(change, found.counts, len(places_of(declared)), bool(change.expects), least)
        findings = [{**basis, "verdict": TOO_EARLY, "says": says}]
    if not findings:
        findings.append({**basis, "verdict": TOO_EARLY, "says": _nothing_said(change, moved, found)})
    scored = _forecasts(change, moved)
    named = [m.name for m, own in zip(moved, main, strict=True) if own]
    return Told(rows, finer, findings, scored, _cautions(change, found, sessions), moved, named)


def _families(declared: Declaration, found: Sides) -> list[tuple[str, str, list[str]]]:
    states = [
        b.id for b in declared.behaviours.values() if b.lasts and (found.rows["behaviour"] == b.id).any()
    ]
    families = [("zone", "place", places_of(declared))]
    return families + ([("behaviour", "behaviour", states)] if len(states) > 1 else [])


def _place(declared: Declaration, zone: Any) -> str:
    return declared.zones[zone].place if zone in declared.zones else str(zone)


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


def _forecasts_said(scored: list[dict[str, Any]]) -> list[str]:
    """The running score of forecasts put on record before what they spoke of."""
    if not scored:
        return []
    inside = sum(bool(f["inside"]) for f in scored)
    return [f"Of {len(scored)} shares forecast on record, {inside} came inside their 90 % limits."]


def _nothing_said(change: Adjustment, moved: Sequence[Moved], found: Sides) -> str:
    before, after = found.sessions()
    least = min((m.p for m in moved), default=1.0)
    return (
        f"{change.id}: nothing can be told from chance yet ({before} sessions before, {after} after; the clearest of "
        f"{len(moved)} shares looked at has p {least:.2f})."
    )


def _cautions(change: Adjustment, found: Sides, sessions: tuple[int, int]) -> list[Caution]:
    told = []
    if found.left_out:
        told.append(
            Caution(
                "slots",
                f"{change.id}: watched on one side only, and left out, at: {', '.join(found.left_out)}.",
            )
        )
    if not change.expects:
        told.append(
            Caution("looking-around", f"{change.id}: nothing was written down as expected: looking around.")
        )
    elif len(found.rows) and (found.rows["at"] > pd.Timestamp(change.at)).any():
        first = found.rows["at"][found.rows["at"] > pd.Timestamp(change.at)].min()
        if pd.Timestamp(change.entered) > first:
            told.append(
                Caution(
                    "entered-late",
                    f"{change.id}: the expectation was written down after sessions that followed.",
                )
            )
    return told


def _zones_first(table: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return sorted(table, key=lambda row: {"zone": 0, "behaviour": 1, "condition": 2}[row["what"]])


def _conditions_said(conditions: list[dict[str, Any]], labels: Any, declared: Declaration) -> list[str]:
    return [condition_said(row, labels, declared) for row in conditions]
