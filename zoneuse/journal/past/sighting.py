"""One good row of a table of past sightings."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

SessionKey = tuple[str, str]
"""A session as a table names it, and its observer."""
RowKey = tuple[str, str, datetime, str, str]
"""Session, observer, time, who, and what tells rows of one moment apart (a group's zone, an event)."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One good row. ``zone`` is None where it was looked for and not found; without ``who`` a round looked there."""

    line: int
    at: datetime
    session: str
    observer: str
    method: str
    who: str
    group: bool
    count: int | None
    zone: str | None
    behaviour: str | None
    momentary: bool
    treatment: str | None = None
    enclosure: str = ""

    @property
    def kind(self) -> str:
        if not self.who:
            return "checked"
        return "happened" if self.momentary else "seen" if self.zone else "unseen"

    @property
    def key(self) -> RowKey:
        by_zone = self.group or not self.who
        apart = f"event {self.behaviour}" if self.momentary else self.zone or "" if by_zone else ""
        return self.session, self.observer, self.at, self.who, apart
