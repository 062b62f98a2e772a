"""Treatments and phases: what study.toml names so that it can be held against something else."""

from __future__ import annotations

from itertools import combinations

from ..model import Declaration, Phase, PhaseSpan, Span, Treatment
from ..quantities import QUANTITIES
from .fields import Notes, Table, overlap

_EXPECTS = 'a list such as ["hide:up", "resting:down"]'


def treatment(name: str, table: Table) -> Treatment:
    read = Treatment(
        name, table.text("label", default=_spoken(name)), table.texts("expects", expected=_EXPECTS)
    )
    table.done()
    return read


def phase(name: str, table: Table) -> Phase:
    """``from`` and ``until`` for all, or ``spans`` by enclosure (or by animal)."""
    label, whole = table.text("label", default=_spoken(name)), table.span()
    expects = table.texts("expects", expected=_EXPECTS)
    spans = []
    for row in table.rows("spans"):
        spans.append(
            PhaseSpan(
                row.span(),
                row.text("enclosure", expected="an enclosure's name"),
                row.text("animal", expected="an animal's or a group's id"),
            )
        )
        row.done()
    if spans and whole != Span():
        table.notes.fault(
            "phase", table.place, "has from or until beside spans", "one of the two",
            "Write the dates into the spans",
        )  # fmt: skip
    if not table.values.keys() & {"from", "until", "spans"}:
        table.notes.fault(
            "phase", table.place, "has no dates", "from, until, or spans = [{from = …, until = …}, …]",
            "Say when it was",
        )  # fmt: skip
    table.done()
    return Phase(name, label, tuple(spans) or (PhaseSpan(whole),), expects)


def _spoken(name: str) -> str:
    return name.replace("_", " ").replace("-", " ").capitalize()


def check_compared(declared: Declaration, notes: Notes) -> None:
    """Each name means one thing, and a span names an enclosure or animal there is."""
    for name in declared.treatments.keys() & declared.phases.keys():
        notes.fault(
            "id-twice", f"phases.{name}", "a treatment has this id too", "an id of its own",
            "Choose another id",
        )  # fmt: skip
    _check_expected(declared, notes)
    everyone = {**declared.animals, **declared.groups}
    for one in declared.phases.values():
        for i, span in enumerate(one.spans):
            place = f"phases.{one.id}.spans[{i + 1}]"
            if span.enclosure and span.enclosure not in declared.enclosures:
                notes.unknown(f"{place}.enclosure", span.enclosure, declared.enclosures, "enclosure")
            if span.animal and span.animal not in everyone:
                notes.unknown(f"{place}.animal", span.animal, everyone, "animal or group")
        if any(_meet(a, b) for a, b in combinations(one.spans, 2)):
            notes.fault(
                "overlap", f"phases.{one.id}.spans", "two of its spans hold at the same time in one place",
                "each from its date until the next begins", "Give the earlier one an until",
            )  # fmt: skip


def _check_expected(declared: Declaration, notes: Notes) -> None:
    """What a treatment or phase should do names something there is, and a direction."""
    known = {z.place for z in declared.zones.values()} | declared.zones.keys() | declared.behaviours.keys()
    known |= {"active", "moves"} | QUANTITIES.keys()
    for kind, every in (("treatments", declared.treatments), ("phases", declared.phases)):
        for one in every.values():
            for text in one.expects:
                name, colon, way = text.rpartition(":")
                if not colon or way not in ("up", "down"):
                    notes.fault(
                        "expects", f"{kind}.{one.id}.expects", f"found {text!r}", "NAME:up or NAME:down",
                        "Name a zone, place, behaviour, active, moves or a quantity before the colon",
                    )  # fmt: skip
                elif name not in known:
                    notes.unknown(
                        f"{kind}.{one.id}.expects", name, known, "zone, place, behaviour or quantity"
                    )


def _meet(a: PhaseSpan, b: PhaseSpan) -> bool:
    apart = any(x and y and x != y for x, y in ((a.enclosure, b.enclosure), (a.animal, b.animal)))
    return not apart and overlap(a.span, b.span)
