"""One good row of a table of past sightings."""

from __future__ import annotations

from collections.abc import Mapping
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
    # Of a time budget: how much of how much.
    seconds: float | None = None
    of_seconds: float | None = None
    # Of a stretch: when it ended; how many rows of the table it stands for.
    until: datetime | None = None
    rows: int = 1

    @property
    def kind(self) -> str:
        if self.seconds is not None:
            return "spent"
        if not self.who:
            return "checked"
        return "happened" if self.momentary else "seen" if self.zone else "unseen"

    @property
    def key(self) -> RowKey:
        if self.seconds is not None:
            spent = f"spent {self.zone or ''} {self.behaviour or ''}"
            return self.session, self.observer, self.at, self.who, spent
        by_zone = self.group or not self.who
        apart = f"event {self.behaviour}" if self.momentary else self.zone or "" if by_zone else ""
        return self.session, self.observer, self.at, self.who, apart


# What a number says of a time, in seconds.
SECONDS = {"seconds": 1.0, "minutes": 60.0, "hours": 3600.0}


class BudgetError(ValueError):
    """A time budget that cannot be; the message is what was expected, ``column`` where it was found."""

    def __init__(self, column: str, expected: str) -> None:
        super().__init__(expected)
        self.column = column


def budget_of(row: Mapping[str, str], of_s: float | None, size: int | None) -> tuple[float, float]:
    """The seconds a row says were spent so, and of how many; ``size`` is that of a group, whose time is all of theirs.

    A mean count is that many animals all the time; a share is one of the time of one animal, or of all of a group.
    """
    unit, number = row["unit"], _number(row["spent"])
    whole = _number(row["of"]) if row.get("of") else None
    if number is None or (row.get("of") and not whole):
        raise BudgetError("count" if number is None else "of", "a number from 0")
    one = SECONDS.get(unit, 1.0)
    period = whole * one if whole else of_s
    if not period:
        raise BudgetError("of", "of how much time: a column `of` in the same unit, or --of 1h")
    of = period * (size or 1)
    spent = number * {"share": of, "mean": period}.get(unit, one)
    if spent > of * 1.001:
        raise BudgetError(
            "count", f"at most the time there was, {of:g} s{' for all of them' if size else ''}"
        )
    return round(min(spent, of), 3), round(of, 3)


def _number(text: str) -> float | None:
    try:
        number = float(text.strip().rstrip("%").replace(",", "."))
    except ValueError:
        return None
    number = number / 100 if text.strip().endswith("%") else number
    return number if 0 <= number < 1e9 else None
