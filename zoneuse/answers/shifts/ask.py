"""Did a change alter anything: what moved after it, against what was expected, and how sure is that."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import pandas as pd

from ...journal import SHIFTING
from ...study import QUANTITIES
from ...tables import Adjustment, adjustments, places_of
from .. import reasons
from ..answer import Answer
from ..columns import names, typed
from ..finding import TOO_EARLY, Caution, Confounder, Finding, Note, in_words
from ..phrases import change_said, counted, day_said, speaks_for
from ..quantities_said import label
from ..question import Question
from ..records.budgets import EITHER, with_budgets
from ..records.budgets import said as budgets_said
from ..watched import whole_sessions
from .around.background import edits, hours_part, linked_said, other_hours, season_between
from .around.conditions import conditions_moved, with_conditions
from .around.unseen import bounds_part, seen_of, watched_alike
from .by_animal import by_animal
from .columns import PARTS, ROWS, SHOWN
from .compared.ask import ComparedSides, compared
from .compared.ask import between as held_between
from .compared.changed import looks_of, sides_of_units
from .compared.rehoused import rehoused
from .confounders import confounders
from .designs.controls import concerning, controls, controls_said, rows_of_change, tested_part
from .designs.lottery import lottery_p, not_as_drawn
from .designs.reversals import reversals
from .designs.strength import against_controls, out_of_a_spell
from .one import Basis, JudgedChange, families, one_change
from .phases import Sides, sides, windows
from .words import forecasts_said, headline, reached_said, sentence


@dataclass(slots=True)
class _Parts:
    """The answer's pieces as one change after another adds to them."""

    table: list[dict[str, Any]] = field(default_factory=list)
    overlap: list[dict[str, Any]] = field(default_factory=list)
    forecasts: list[dict[str, Any]] = field(default_factory=list)
    controls: list[dict[str, Any]] = field(default_factory=list)
    units: list[dict[str, Any]] = field(default_factory=list)
    hours: list[dict[str, Any]] = field(default_factory=list)
    animals: list[dict[str, Any]] = field(default_factory=list)
    unseen: list[dict[str, Any]] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    cautions: list[Caution] = field(default_factory=list)
    notes: list[Note] = field(default_factory=list)

    def add(self, found: ComparedSides) -> None:
        """What two sides held against each other came to."""
        self.table += found.rows
        self.units += found.by_unit
        self.findings += found.findings
        self.cautions += found.cautions
        self.notes += found.notes


def shifts(
    question: Question,
    *,
    held_within: float = 0.10,
    draws: int = 9_999,
    between: Sequence[str] = (),
    expects: Sequence[str] = (),
    controls: Sequence[str] = (),
) -> Answer:
    """What moved after each change on record: zones, behaviours, the conditions used and those of the changed zones.

    By session or day, settling time left out, within slots; all together at .05 by the same exchanges of units,
    of which what was written down as expected has .04 and more first. ``held``: the 90 % interval of the change lies
    within ``held_within`` either way. A terminal shows the rows that findings speak of.
    """
    question = with_budgets(question, EITHER, whole=False)
    # The moments are those asked for from here on, each session in one time of day.
    question = replace(question, moments=whole_sessions(question.rows), budgets=True)
    declared = question.declared
    changes = adjustments(question.journals)
    if between:
        return _of_names(
            question,
            changes,
            between,
            held_within=held_within,
            draws=draws,
            expects=expects,
            controls=controls,
        )
    named = {c.id: day_said(c, declared.timezone) for c in changes}
    labels = {**named, **question.labels, **{q: label(q) for q in QUANTITIES}}
    rows = with_conditions(declared, question.rows, changes, question.readings)
    reached = conditions_moved(declared, changes, question.readings)
    parts = _Parts()
    looks = looks_of(question)
    whole, by_units = _by_units(looks, question.cluster, changes, rows, held_within=held_within, draws=draws)
    parts.add(whole)
    for change in changes:
        if change.id in by_units:
            continue
        found = _judged(looks, changes, change, rows, parts, held_within=held_within, draws=draws)
        parts.cautions += _cautions(question, change, found)
        said = (linked_said(declared, change), reached_said(change, reached, labels, declared))
        parts.notes += [Note(s, (change.id,)) for s in said if s]
    homes = compared(question, rehoused(question, changes, rows), held_within=held_within, draws=draws)
    parts.add(homes)
    back = reversals(looks, changes, rows, draws=draws)
    findings = [*parts.findings, *back.findings]
    if not findings:
        findings = [Finding((), TOO_EARLY, reason=reasons.NO_RECORD, unit=question.unit)]
    frame = _in_order(parts, reached, findings)
    finer = {
        "by_unit": parts.units, "overlap": parts.overlap, "by_animal": parts.animals, "unseen": parts.unseen,
        "forecasts": parts.forecasts, "controls": parts.controls,
        "reversals": back.rows, "hours": parts.hours, "reached": reached,
    }  # fmt: skip
    return Answer(
        answer="shifts",
        study=declared.title,
        filters=question.filters,
        table=typed(frame, ROWS, labels),
        findings=in_words(findings, lambda f: sentence(f, labels, declared)),
        cautions=(
            *dict.fromkeys(parts.cautions),
            *budgets_said(rows, question.unit),
            Caution("speaks-for", speaks_for(declared, rows)),
        )
        if len(rows)
        else (),
        effort=question.effort.to_dict(),
        parts={name: _part(name, part, labels) for name, part in finer.items()},
        seed=question.seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(changes, question.effort),
        notes=(*parts.notes, *map(Note, forecasts_said(parts.forecasts))),
        first_rows=tuple(int(i) for i in frame.index[frame["shown"]]) if len(frame) else None,
    )


def _by_units(
    looks: Question, per: str | None, changes: Sequence[Adjustment], rows: pd.DataFrame, *, held_within: float,
    draws: int,
) -> tuple[ComparedSides, set[str | None]]:  # fmt: skip
    """The changes of which animals or enclosures are the units, each as a comparison of its own; and their ids."""
    found, ids = ComparedSides(), set()
    for change in changes:
        asked = sides_of_units(looks, per, changes, change, rows)
        if asked is not None:
            found.add(compared(replace(looks, cluster=per), [asked], held_within=held_within, draws=draws))
            ids.add(asked.adjustment)
    return found, ids


def _of_names(
    question: Question,
    changes: Sequence[Adjustment],
    names_asked: Sequence[str],
    *,
    held_within: float,
    draws: int,
    expects: Sequence[str],
    controls: Sequence[str],
) -> Answer:
    """Treatments or phases held against each other; changes on record play no part in it."""
    declared = question.declared
    labels = {**question.labels, **{q: label(q) for q in QUANTITIES}}
    rows = with_conditions(declared, question.rows, changes, question.readings)
    found = held_between(
        question,
        rows,
        names_asked,
        changes,
        held_within=held_within,
        draws=draws,
        expects=expects,
        controls=controls,
    )
    parts = _Parts(found.rows, findings=found.findings)
    frame = _in_order(parts, [], found.findings)
    finer: dict[str, list[dict[str, Any]]] = {name: [] for name in PARTS} | {"by_unit": found.by_unit}
    did = question.effort
    whom = [Caution("speaks-for", speaks_for(declared, rows))] if len(rows) else []
    said = "; ".join(dict.fromkeys(found.said)) or "nothing to compare"
    return Answer(
        answer="shifts",
        study=declared.title,
        filters=question.filters,
        table=typed(frame, ROWS, labels),
        findings=in_words(found.findings, lambda f: sentence(f, labels, declared)),
        cautions=(*dict.fromkeys(found.cautions), *budgets_said(rows, question.unit), *whom),
        effort=did.to_dict(),
        parts={name: _part(name, part, labels) for name, part in finer.items()},
        seed=question.seed,
        shown=SHOWN,
        labels=labels,
        headline=f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}. {said}.",
        notes=tuple(found.notes),
        first_rows=tuple(int(i) for i in frame.index[frame["shown"]]) if len(frame) else None,
    )


def _part(name: str, rows: Sequence[Mapping[str, Any]], labels: Mapping[str, str]) -> pd.DataFrame:
    schema = PARTS[name]
    return typed(pd.DataFrame(rows, columns=[f.name for f in schema if not f.label_of]), schema, labels)


def _judged(
    question: Question, changes: Sequence[Adjustment], change: Adjustment, rows: pd.DataFrame, parts: _Parts, *,
    held_within: float, draws: int,
) -> Sides:  # fmt: skip
    """One change beside everything that bears on it; its rows go into ``parts``."""
    declared = question.declared
    near = concerning(declared, changes, change)
    seen = windows(near, change)
    touched = rows_of_change(declared, rows, change)
    others = rows_of_change(declared, rows, change, elsewhere=True)
    found = sides(touched, seen, question.unit)
    left = controls(question, changes, change, rows, seen)
    by_lot = lottery_p(question, change, touched, seen, families(declared, found))
    beside: tuple[Confounder, ...] = ()
    if len(found.late):
        beside = (
            *confounders(declared, question.journals, near, change, found),
            *edits(declared, near, seen),
        )
    places = places_of(declared)
    seen_parts = seen_of(found, places, draws, question.seed)
    hours, name = hours_part(change, found), change_said(change, declared.timezone)
    uneven = [*other_hours(name, hours), *watched_alike(name, found, seen_parts)]
    animals = by_animal(change, found, places)
    parts.hours, parts.cautions = parts.hours + hours, parts.cautions + uneven
    parts.animals, parts.unseen = (
        parts.animals + animals,
        parts.unseen + bounds_part(change, found, seen_parts, places),
    )
    told: JudgedChange = one_change(
        question,
        Basis(change, found, left, by_lot, beside, held_within, draws, seen_parts, not uneven, animals),
    )
    parts.findings += told.findings
    parts.table += told.rows
    parts.overlap += told.finer
    parts.forecasts += told.forecasts
    parts.controls += tested_part(against_controls(question, change, told.moved, others, seen), left)
    if left is not None:
        said = (controls_said(name, left, zone, question.labels) for zone in told.main)
        parts.notes += [Note(s, (change.id,)) for s in said]
    return found


def _in_order(
    parts: _Parts, reached: Sequence[Mapping[str, Any]], findings: Sequence[Finding]
) -> pd.DataFrame:
    """The whole table, zones first, then behaviours and conditions; ``shown`` marks the rows findings speak of."""
    spoken = {(*f.about, f.facts["what"]) for f in findings if "what" in f.facts}
    rows = [
        {
            "compared": None, **row,
            "shown": (row["adjustment"] or row["compared"], row["name"] or row["zone"], row["what"]) in spoken,
        }
        for row in parts.table
    ]  # fmt: skip
    rows += [{"compared": None, **row, "shown": False} for row in reached]
    rows.sort(key=lambda row: SHIFTING.index(row["what"]))
    return pd.DataFrame(rows, columns=[*(n for n in names(ROWS) if not n.endswith("_label")), "shown"])


def _cautions(question: Question, change: Adjustment, found: Sides) -> list[Caution]:
    told = not_as_drawn(question, change)
    told += [
        Caution("spell", says) for says in out_of_a_spell(question.declared, found, change, question.labels)
    ]
    name = change_said(change, question.declared.timezone)
    told += season_between(name, found)
    if found.left_out:
        says = f"{name}: left out, as watched on one side only: {', '.join(found.left_out)}."
        told.append(Caution("slots", says))
    later = found.rows["at"][found.rows["at"] > pd.Timestamp(change.at)]
    if not change.expects:
        says = f"{name}: nothing was predicted, so treat what it shows as a lead."
        told.append(Caution("looking-around", says))
    elif len(later) and pd.Timestamp(change.entered) > later.min():
        says = f"{name}: the expectation was written down after sessions that followed."
        told.append(Caution("entered-late", says))
    return told
