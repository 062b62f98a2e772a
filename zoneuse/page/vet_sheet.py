"""A sheet for the veterinarian: the last 30 days on record, facts with their dates, nothing else."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from ..answers.climate import median_said, wet_said
from ..answers.quantities_said import label, said
from ..answers.records.on_record import NOTED, ContextEvent
from ..answers.records.veterinarian import DAYS, VetRecord, vet_record
from ..answers.showing.plain import rows
from ..pictures import clock_said, span_said
from ..study import DERIVED, Group
from ..study.model import Animal
from .gathered import Gathered
from .markup import name, paragraph, section, table

if TYPE_CHECKING:
    from ..answers.study import Study

_MOST = 80


def vet_section(study: Study, found: Gathered, now: datetime) -> str:
    """The sheet as a section on a printed page of its own."""
    record = vet_record(study.declared, study.journals, study.moments, now)
    declared, zone = found.declared, found.declared.timezone
    span = span_said(record.since.astimezone(zone).date(), record.until.astimezone(zone).date())
    intro = (
        f"What the keeper put on record from {span}: {DAYS} days. It diagnoses nothing and advises nothing."
    )
    if record.stale:
        intro += f" Nothing is on record after {clock_said(record.until, zone)}."
    who = [one.label for kind in (declared.animals, declared.groups) for one in kind.values()]
    species = f"<i>{name(declared.species)}</i>" if declared.species else "not given"
    head = (
        f"<dl><dt>Species</dt><dd>{species}</dd><dt>Animals</dt><dd>{', '.join(name(w) for w in who)}</dd>"
        '<dt>Keeper, telephone</dt><dd class="write"></dd><dt>Reason for the visit</dt><dd class="write"></dd></dl>'
    )
    return section(
        "vet", "For the veterinarian", paragraph(intro), head, _seen(found, record),
        _weights(found, record), _listed(found, "Feeds", record.feeds), _listed(found, "Sheds", record.sheds),
        _listed(found, "Signs and notes", record.signs),
        _listed(found, "Handling and disturbance", record.handling), _changes(found, record),
        _readings(study, found, record),
        paragraph("To print this sheet alone, open it by its link at the top of the page, then print.", kind="screen"),
    )  # fmt: skip


def _who(found: Gathered, animal: str | None) -> str:
    return "all" if animal is None else found.zones.labels.get(animal) or _label(found, animal)


def _label(found: Gathered, one: str) -> str:
    kinds: dict[str, Animal | Group] = {**found.declared.animals, **found.declared.groups}
    return kinds[one].label if one in kinds else one


def _when(found: Gathered, event: ContextEvent) -> str:
    zone = found.declared.timezone
    if event.running:
        return f"since {clock_said(event.at, zone)}"
    if event.until is not None and event.until != event.at:
        return f"{clock_said(event.at, zone)} to {clock_said(event.until, zone)}"
    return clock_said(event.at, zone)


def _what(event: ContextEvent) -> str:
    value = (
        ""
        if event.value is None
        else f"{event.value:g}"
        if isinstance(event.value, float)
        else str(event.value)
    )
    if event.what in (NOTED, "fed"):
        return value or "–"
    return f"{event.what}: {value}" if value else event.what


def _listed(found: Gathered, heading: str, listed: Sequence[ContextEvent]) -> str:
    if not listed:
        return _none(heading)
    shown = [(_when(found, e), _who(found, e.animal), _what(e)) for e in listed[-_MOST:]]
    cut = f" (the last {_MOST} of {len(listed)})" if len(listed) > _MOST else ""
    return table(f"{heading}{cut}", ("When", "Who", "What"), shown, left=(1, 2))


def _none(heading: str) -> str:
    return paragraph(f"{heading}: none on record in these days.")


def _weights(found: Gathered, record: VetRecord) -> str:
    if not record.weights and not record.earlier:
        return _none("Weights")
    zone = found.declared.timezone
    listed: Iterable[ContextEvent] = sorted(
        [*record.earlier, *record.weights], key=lambda e: (e.animal or "", e.at)
    )
    numbers = [
        (
            _who(found, e.animal),
            clock_said(e.at, zone) + (" (before)" if e.at < record.since else ""),
            f"{e.value} g",
        )
        for e in listed
    ]
    return table("Weights", ("Who", "When", "Weight"), numbers, left=(1,))


def _seen(found: Gathered, record: VetRecord) -> str:
    zone = found.declared.timezone
    numbers = [
        (
            _label(found, s.who), "never" if s.last is None else clock_said(s.last, zone),
            "–" if s.where is None else found.zones.labels.get(s.where, s.where), s.found, s.not_found,
        )
        for s in record.seen
    ]  # fmt: skip
    heads = ("Who", "Last seen", "Where", "Times seen", "Times not found")
    return table("Seen in these 30 days", heads, numbers, left=(1, 2))


def _changes(found: Gathered, record: VetRecord) -> str:
    if not record.changes:
        return _none("Changes to the enclosure")
    zones = found.declared.zones
    numbers = [
        (
            clock_said(c.at, found.declared.timezone), c.what, ", ".join(zones[z].label for z in c.zones if z in zones),
            f"{c.amount:g} {c.unit}" if c.amount is not None else "–",
        )
        for c in record.changes
    ]  # fmt: skip
    return table("Changes to the enclosure", ("When", "What", "Where", "Amount"), numbers, left=(1, 2, 3))


def _readings(study: Study, found: Gathered, record: VetRecord) -> str:
    """The loggers' summary of those days, as the climate answer gives it."""
    if not found.declared.loggers:
        return _none("Readings")
    answer = study.climate(since=record.since, until=record.until)
    f = found.declared.fahrenheit
    numbers = []
    for r in rows(answer.parts["zones"]) if "zones" in answer.parts else ():
        if r["quantity"] in DERIVED:
            continue
        outside = [v for v in (r["below_limit_h"], r["above_limit_h"]) if v is not None]
        swing = "–" if r["daily_swing"] is None else said(r["quantity"], r["daily_swing"], f, True)
        numbers.append(
            (
                f"{answer.labels.get(r['zone'], r['zone'])}, {label(r['quantity'])}",
                median_said(r, f), swing, wet_said(r), f"{sum(outside):.0f} h" if outside else "–",
                f"{100 * r['covered']:.0f} %",
            )
        )  # fmt: skip
    heads = (
        "Zone", "Median (5–95 % of the time)", "Daily swing", "Saturated", "Outside limits", "Time covered"
    )  # fmt: skip
    return table("Logger readings of these days; limits are the keeper's own", heads, numbers) or _none(
        "Readings"
    )
