"""The changes on record, and the phases between them: what was so at a moment, settled or still settling."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from ..journal import SETTLE_H, Journals

START = "start"


@dataclass(frozen=True, slots=True)
class Adjustment:
    """One change on record. ``entered`` is when it was written down, ``at`` when it was made."""

    id: str
    at: datetime
    entered: datetime
    what: str
    zones: tuple[str, ...]
    amount: float | None
    unit: str
    why: str
    expects: tuple[Mapping[str, Any], ...]
    settle_h: float
    undoes: str | None
    forecast: Mapping[str, Any] | None

    @property
    def settled(self) -> datetime:
        return self.at + timedelta(hours=self.settle_h)


def adjustments(journals: Journals) -> list[Adjustment]:
    """Every adjustment that counts, by time. One id written twice (corrected) counts as last written."""
    found: dict[str, Adjustment] = {}
    for entry in journals.entries("adjusted"):
        record, fields = entry.record, entry.record.fields
        settle = fields.get("settle_h")
        found[fields["adjustment"]] = Adjustment(
            id=fields["adjustment"],
            at=record.at,
            entered=record.entered or record.at,
            what=fields["what"],
            zones=tuple(str(z) for z in fields["zones"]),
            amount=fields.get("amount"),
            unit=fields.get("unit") or "",
            why=fields.get("why") or "",
            expects=tuple(_expected(e) for e in fields.get("expects") or () if isinstance(e, dict)),
            settle_h=float(SETTLE_H.get(fields["what"], 48.0) if settle is None else settle),
            undoes=fields.get("undoes"),
            forecast=fields.get("forecast"),
        )
    return sorted(found.values(), key=lambda a: (a.at, a.id))


def _expected(said: Mapping[str, Any]) -> Mapping[str, Any]:
    """``{what, name, direction}``, whichever form is on record; of a zone ``zone`` too, as records named it first."""
    what = said.get("what") or "zone"
    name = said.get("name") or said.get("zone")
    own = {"what": what, "name": name, "direction": said.get("direction")}
    return {**own, "zone": name} if what == "zone" else own


def phase_at(changes: Sequence[Adjustment], at: datetime) -> str:
    """``start``, an adjustment's id once it has settled, or the id and " settling" before that."""
    phase = START
    for change in changes:
        if change.at > at:
            break
        phase = change.id if change.settled <= at else f"{change.id} settling"
    return phase
