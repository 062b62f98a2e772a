"""The filters that hold for all answers of a review."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from rich.cells import cell_len

from ....study import Declaration, visible

ALL_TIME = "all time"
# What is worked out beside the answers, under this name.
SESSIONS = "sessions"


@dataclass(frozen=True, slots=True)
class ReviewFilters:
    """The filters of every answer; ``period`` says ``since`` and ``until`` (ISO, with offset) in words."""

    animals: tuple[str, ...] = ()
    slot: str | None = None
    since: str | None = None
    until: str | None = None
    period: str = ALL_TIME
    treatments: tuple[str, ...] = ()
    phases: tuple[str, ...] = ()

    def to_dict(self) -> dict[str, Any]:
        """What an open study takes; the words for it are left out."""
        return {
            "animals": list(self.animals) or None, "slot": self.slot, "since": self.since, "until": self.until,
            "treatments": list(self.treatments) or None, "phases": list(self.phases) or None,
        }  # fmt: skip

    @property
    def anything(self) -> bool:
        return bool(self.animals or self.slot or self.since or self.until or self.treatments or self.phases)

    def words(self, declared: Declaration, width: int = 1000) -> str:
        """``Broad stripe, Comma · night · all time``; where that is too wide, only what is filtered."""
        labels = labels_of(declared)
        who = ", ".join(labels.get(a, visible(a)) for a in self.animals)
        count = f"{len(self.animals)} animals" if len(self.animals) > 1 else who
        period = self.period if self.since or self.until else ""
        under = _under(declared, self)
        whole = _dotted(who or "all animals", self.slot or "all hours", period or ALL_TIME, under)
        parts = [_dotted(x, self.slot or "", period, under) for x in (who, count)]
        return next((w for w in (whole, *parts) if w and cell_len(w) <= width), parts[-1] or whole)


def _under(declared: Declaration, asked: ReviewFilters) -> str:
    """Treatments and phases by their labels; empty without any."""
    treatments = ", ".join(visible(declared.treatments[i].label) for i in asked.treatments)
    return _dotted(treatments, ", ".join(visible(declared.phases[i].label) for i in asked.phases))


def _dotted(*parts: str) -> str:
    return " · ".join(p for p in parts if p)


def labels_of(declared: Declaration) -> Mapping[str, str]:
    """Animals, groups, places and behaviours by id, safe to show."""
    labels: dict[str, str] = {}
    for zone in declared.zones.values():
        labels.setdefault(zone.place, visible(zone.label))
    for kind in (declared.animals, declared.groups, declared.behaviours):
        labels.update({i: visible(one.label) for i, one in kind.items()})
    return labels
