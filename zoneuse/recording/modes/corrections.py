"""What may have been meant instead of a record: each one change of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from ...study import visible
from ..session.ledger import LedgerEntry
from ..session.plan import Who
from .recorder import Recorder


@dataclass(frozen=True, slots=True)
class Correction:
    """``key`` chooses it in the list ("" where none does); ``fields`` None takes the record back."""

    key: str
    says: str
    fields: Mapping[str, Any] | None


def corrections(core: Recorder, line: LedgerEntry) -> list[Correction]:
    """Every correction of a record that can be chosen, the taking back first."""
    options = [Correction("", "Take it back", None)]
    if line.kind == "checked":
        options += _covers(line)
    elif line.kind in ("seen", "unseen", "happened"):
        options += [*_zones(core, line), *_behaviours(core, line), *_animals(core, line), *_marks(line)]
    return options


def _covers(line: LedgerEntry) -> Iterator[Correction]:
    said = {key: bool(line.fields.get(key)) for key in ("skipped", "lifted")}
    for text, skipped, lifted in (
        ("Looked into, its cover was lifted", False, True),
        ("Looked into, its cover was not lifted", False, False),
        ("It was not looked into", True, False),
    ):
        if said != {"skipped": skipped, "lifted": lifted}:
            how = {"skipped": True} if skipped else {"lifted": lifted}
            yield Correction("", text, {"zone": line.fields["zone"], **how})


def _whose(core: Recorder, line: LedgerEntry) -> Who | None:
    name = line.fields.get("animal") or line.fields.get("group")
    return next((who for who in core.plan.who if who.id == name), None)


def _enclosure(core: Recorder, line: LedgerEntry) -> str:
    who = _whose(core, line)
    there = core.plan.declared.zones.get(str(line.fields.get("zone")))
    return who.enclosure if who is not None else there.enclosure if there else core.plan.enclosures[0]


def _zones(core: Recorder, line: LedgerEntry) -> Iterator[Correction]:
    if line.kind == "seen":
        for zone in core.plan.zones(_enclosure(core, line)):
            if zone.id != line.fields.get("zone"):
                fields = {**line.fields, "zone": zone.id}
                yield Correction(zone.key, f"it was in {visible(zone.label)}", fields)


def _behaviours(core: Recorder, line: LedgerEntry) -> Iterator[Correction]:
    for behaviour in core.plan.behaviours:
        fits = behaviour.lasts == (line.kind == "seen") and line.kind != "unseen"
        if fits and behaviour.id != line.fields.get("behaviour"):
            fields = {**line.fields, "behaviour": behaviour.id}
            yield Correction(behaviour.key, f"it was {visible(behaviour.label).lower()}", fields)


def _animals(core: Recorder, line: LedgerEntry) -> Iterator[Correction]:
    """One without a name can be told apart afterwards; several at once cannot."""
    fields, who, enclosure = line.fields, _whose(core, line), _enclosure(core, line)
    one = bool(fields.get("animal")) or (not fields.get("group") and fields.get("count") in (None, 1))
    for other in core.plan.who:
        if one and not other.group and other != who and other.enclosure == enclosure:
            named = {**fields, "animal": other.id, "count": None}
            yield Correction(other.key, f"it was {visible(other.label)}", named)


def _marks(line: LedgerEntry) -> Iterator[Correction]:
    if line.kind == "seen":
        guess, hidden = line.fields.get("sure") is False, bool(line.fields.get("hidden"))
        says = "it was sure" if guess else "it was a guess"
        yield Correction(",", says, {**line.fields, "sure": None if guess else False})
        says = "it was visible" if hidden else "it was hidden"
        yield Correction(";", says, {**line.fields, "hidden": None if hidden else True})
