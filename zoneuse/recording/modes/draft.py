"""A record under the fingers: what of it has been typed, and the record it becomes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from ...study.model import Behaviour, Zone
from ..session.instant import Instant
from ..session.plan import Who


@dataclass(frozen=True, slots=True)
class HalfRecord:
    """``first`` is the first key of the answer: where the animal was is true of that instant."""

    who: Who
    scan: int | None = None
    zone: Zone | None = None
    behaviour: Behaviour | None = None
    guess: bool = False
    hidden: bool = False
    first: Instant | None = None

    @property
    def begun(self) -> bool:
        """Whether any of it was typed."""
        return self.zone is not None or self.behaviour is not None or self.guess or self.hidden

    def seen(self) -> dict[str, Any]:
        """The fields of the ``seen`` record; certain and visible are not written, being the rule."""
        assert self.zone is not None
        return {
            **self.who.fields,
            "zone": self.zone.id,
            "behaviour": None if self.behaviour is None else self.behaviour.id,
            "scan": self.scan,
            "sure": False if self.guess else None,
            "hidden": True if self.hidden else None,
        }

    def unseen(self) -> dict[str, Any]:
        return {**self.who.fields, "scan": self.scan}
