"""Did a change alter anything: what moved after it, against what was expected, and how sure is that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from ...journal.reader import Journals
from ...study.model import Declaration
from ...study.quantities import QUANTITIES
from ...tables.conditions import Readings
from ...tables.offered import places_of
from ...tables.phases import Adjustment, adjustments
from ..answer import Answer
from ..columns import Column
from ..effort import effort, usual_cluster
from ..filters import Filters, select
from ..finding import TOO_EARLY, Caution, Finding
from ..phrases import speaks_for
from ..quantities_said import label
from ..question import labels_of
from .background import edits, hours_part, linked_said, other_hours, season_between
from .conditions import conditions_moved, with_conditions
from .controls import concerning, controls_said, rows_of_change, tested_part
from .controls import controls as controls_of
from .designs import against_controls, out_of_a_spell
from .lottery import drawn_p, not_as_drawn
from .one import Basis, Told, families, one_change
from .phases import Sides, confounders, sides, windows
from .reversals import reversals
from .words import headline, reached_said, sentence

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


@dataclass(slots=True)
class _Parts:
    """The answer's pieces as one change after another adds to them."""

    table: list[dict[str, Any]] = field(default_factory=list)
    shown: list[bool] = field(default_factory=list)
    overlap: list[dict[str, Any]] = field(default_factory=list)
    forecasts: list[dict[str, Any]] = field(default_factory=list)
    controls: list[dict[str, Any]] = field(default_factory=list)
    hours: list[dict[str, Any]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


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
    readings: Readings | None = None,
) -> Answer:
    """What moved after each change on record: zones, behaviours, the conditions used and those of the changed zones.

    By session or day, settling time left out, within slots; the expected zone at .04 and all others
    together at .01 (Holm), or all at .05 where nothing was written down. ``held``: the 90 % interval of the
    change lies within ``held_within`` either way. A terminal shows the rows that findings speak of.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    did = effort(rows, journals, unit)
    changes = adjustments(journals)
    labels = {**labels_of(declared), **{q: label(q) for q in QUANTITIES}}
    rows = with_conditions(declared, rows, changes, readings)
    reached = conditions_moved(declared, changes, readings)
    parts = _Parts()
    for change in changes:
        found, told = _judged(
            declared, journals, changes, change, rows, unit, held_within, draws, seed, parts
        )
        parts.findings += [sentence(f, labels, declared) for f in told.findings]
        hours = hours_part(change, found)
        parts.hours += hours
        parts.cautions += _cautions(declared, journals, change, found, hours, labels)
        said = (linked_said(declared, change), reached_said(change, reached, labels, declared))
        parts.notes += [s for s in said if s]
    back = reversals(declared, changes, rows, unit, places_of(declared), labels, draws=draws, seed=seed)
    frame = _in_order(parts, reached)
    return Answer(
        answer="shifts",
        study=declared.title,
        table=frame[COLUMNS],
        findings=(*parts.findings, *back.findings)
        or (Finding((), TOO_EARLY, "", says="No change is on record: see zoneuse adjust."),),
        cautions=(*dict.fromkeys(parts.cautions), Caution("speaks-for", speaks_for(declared, rows)))
        if len(rows)
        else (),
        effort=did.to_dict(),
        parts={
            "overlap": pd.DataFrame(parts.overlap),
            "forecasts": pd.DataFrame(parts.forecasts),
            "controls": pd.DataFrame(parts.controls),
            "reversals": pd.DataFrame(back.rows),
            "hours": pd.DataFrame(parts.hours),
            "reached": pd.DataFrame(reached),
        },
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(changes, did),
        notes=(*parts.notes, *_forecasts_said(parts.forecasts)),
        first_rows=tuple(int(i) for i in frame.index[frame["shown"]]) if len(frame) else None,
    )


def _judged(
    declared: Declaration,
    journals: Journals,
    changes: Sequence[Adjustment],
    change: Adjustment,
    rows: pd.DataFrame,
    unit: str,
    held_within: float,
    draws: int,
    seed: int,
    parts: _Parts,
) -> tuple[Sides, Told]:
    """One change beside everything that bears on it; its rows go into ``parts``."""
    places = places_of(declared)
    near = concerning(declared, changes, change)
    seen = windows(near, change)
    touched = rows_of_change(declared, rows, change)
    others = rows_of_change(declared, rows, change, elsewhere=True)
    found = sides(touched, seen, unit)
    left = controls_of(declared, changes, change, rows, seen, unit, places)
    drawn = drawn_p(declared, journals, change, touched, seen, unit, families(declared, found))
    beside = (
        (*confounders(declared, journals, near, change, found), *edits(declared, near, seen))
        if len(found.late)
        else ()
    )
    told = one_change(declared, Basis(change, found, left, drawn, beside, held_within, draws, seed))
    spoken = {(f["moved"].what, f["moved"].name) for f in told.findings if "moved" in f}
    parts.table += told.rows
    parts.shown += [(r["what"], r["name"] or r["zone"]) in spoken for r in told.rows]
    parts.overlap += told.finer
    parts.forecasts += told.forecasts
    parts.controls += tested_part(
        against_controls(change, told.moved, others, seen, unit, places, seed), left
    )
    if left is not None:
        labels = labels_of(declared)
        parts.notes += [controls_said(change, left, zone, labels) for zone in told.main]
    return found, told


def _in_order(parts: _Parts, reached: Sequence[Mapping[str, Any]]) -> pd.DataFrame:
    """The whole table, zones first, then behaviours and conditions; ``shown`` marks what a terminal shows."""
    rows = [{**row, "shown": shown} for row, shown in zip(parts.table, parts.shown, strict=True)]
    rows += [{**{name: row[name] for name in COLUMNS}, "shown": False} for row in reached]
    rank = {"zone": 0, "behaviour": 1, "condition": 2}
    rows.sort(key=lambda row: rank[row["what"]])
    return pd.DataFrame(rows, columns=[*COLUMNS, "shown"])


def _forecasts_said(scored: Sequence[Mapping[str, Any]]) -> list[str]:
    """The running score of forecasts put on record before what they spoke of."""
    if not scored:
        return []
    inside = sum(bool(f["inside"]) for f in scored)
    return [f"Of {len(scored)} shares forecast on record, {inside} came inside their 90 % limits."]


def _cautions(
    declared: Declaration,
    journals: Journals,
    change: Adjustment,
    found: Sides,
    hours: Sequence[Mapping[str, Any]],
    labels: Mapping[str, str],
) -> list[Caution]:
    told = not_as_drawn(declared, journals, change)
    told += [Caution("spell", says) for says in out_of_a_spell(declared, found, change, labels)]
    told += other_hours(change, hours)
    told += season_between(change, found)
    if found.left_out:
        told.append(
            Caution(
                "slots",
                f"{change.id}: watched on one side only, and left out, at: {', '.join(found.left_out)}.",
            )
        )
    later = found.rows["at"][found.rows["at"] > pd.Timestamp(change.at)]
    if not change.expects:
        told.append(
            Caution("looking-around", f"{change.id}: nothing was written down as expected: looking around.")
        )
    elif len(later) and pd.Timestamp(change.entered) > later.min():
        says = f"{change.id}: the expectation was written down after sessions that followed."
        told.append(Caution("entered-late", says))
    return told
