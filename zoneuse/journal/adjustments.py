"""Put a change to the enclosure on record, and draw the day of a change by lot."""

from __future__ import annotations

import random
import secrets
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from ..study import QUANTITIES, Declaration, UnknownNameError, find_behaviour, find_zone
from .records import ADJUSTMENTS, SETTLE_H
from .rows import RecordToWrite, write_rows

UP, DOWN = "up", "down"
ZONE, BEHAVIOUR, EVENT, ACTIVE, MOVES, CONDITION = (
    "zone",
    "behaviour",
    "event",
    "active",
    "moves",
    "condition",
)
# What a change may move.
SHIFTING = (ZONE, BEHAVIOUR, EVENT, ACTIVE, MOVES, CONDITION)
# With K allowed days a start drawn by lot can reach p = 1/K at best: 20 days for .05 (Edgington 1975).
LEAST_DAYS = 20


@dataclass(frozen=True, slots=True)
class Expected:
    """What a change should do: ``what`` is one of ``SHIFTING``, ``name`` its id, ``direction`` up or down."""

    what: str
    name: str
    direction: str

    @property
    def fields(self) -> dict[str, str]:
        """As a record holds it."""
        return {"what": self.what, "name": self.name, "direction": self.direction}


@dataclass(frozen=True, slots=True)
class Change:
    """An adjustment as it goes on record.

    ``expects`` say what (zone, behaviour …), its name and a direction; ``forecast`` has share, low and
    high for each zone, and version.
    """

    id: str
    what: str
    zones: tuple[str, ...]
    amount: float | None = None
    unit: str | None = None
    why: str | None = None
    expects: tuple[Expected, ...] = ()
    settle_h: float | None = None
    undoes: str | None = None
    forecast: Mapping[str, Any] | None = None


def new_adjustment_id(what: str, day: date, taken: Collection[str]) -> str:
    """``water-2026-03-15-7f``: the last two digits keep two devices of one evening apart."""
    while True:
        name = f"{what}-{day.isoformat()}-{secrets.token_hex(1)}"
        if name not in taken:
            return name


def split_amount(words: Sequence[str]) -> tuple[list[str], float | None, str | None]:
    """Zones, amount and unit from the words of a command: the last two, where the first of them is a number.

    >>> split_amount(["moss_end", "2", "l"])
    (['moss_end'], 2.0, 'l')
    >>> split_amount(["moss_end", "cork_bark"])
    (['moss_end', 'cork_bark'], None, None)
    """
    if len(words) >= 3:
        try:
            return list(words[:-2]), float(words[-2].replace(",", ".")), words[-1]
        except ValueError:
            pass
    return list(words), None, None


def read_expects(declared: Declaration, text: str) -> Expected:
    """``moss_end:up``, ``resting:down``, ``fight:down``, ``active:up``, ``moves:up`` or ``temperature_c:up``.

    Raises ValueError with what is understood.
    """
    name, colon, direction = text.rpartition(":")
    if not colon or direction not in (UP, DOWN):
        raise ValueError(
            f"{text!r} is not an expectation; give it as ZONE:up or ZONE:down, or with a behaviour, active, moves or a "
            "quantity such as temperature_c before the colon"
        )
    return Expected(*_what(declared, name), direction)


def _what(declared: Declaration, name: str) -> tuple[str, str]:
    """What a name means: an id first, a zone before a behaviour, then a key or label."""
    if name in declared.zones:
        return ZONE, name
    if name in declared.behaviours:
        return _doing(declared, name)
    if name in (ACTIVE, MOVES):
        return name, name
    if name in QUANTITIES:
        return CONDITION, name
    try:
        return ZONE, find_zone(declared, name, None).id
    except UnknownNameError:
        try:
            return _doing(declared, find_behaviour(declared, name).id)
        except UnknownNameError:
            pass
        raise


def _doing(declared: Declaration, name: str) -> tuple[str, str]:
    return (BEHAVIOUR if declared.behaviours[name].lasts else EVENT), name


def record_change(declared: Declaration, change: Change, at: datetime, entered: datetime) -> None:
    """Write an adjustment to a journal of its own. Raises ValueError for an unknown kind, OSError for the disk."""
    if change.what not in ADJUSTMENTS:
        raise ValueError(f"{change.what!r} is no kind of adjustment; it is one of {', '.join(ADJUSTMENTS)}")
    fields = {
        "adjustment": change.id,
        "what": change.what,
        "zones": list(change.zones),
        "amount": change.amount,
        "unit": change.unit,
        "why": change.why,
        "expects": [e.fields for e in change.expects] or None,
        # Written down even where it is the usual one, so that a later default changes no old study.
        "settle_h": SETTLE_H[change.what] if change.settle_h is None else change.settle_h,
        "undoes": change.undoes,
        "forecast": dict(change.forecast) if change.forecast else None,
    }
    write_rows(declared, entered, [RecordToWrite("adjusted", fields, at)])


def draw_day(declared: Declaration, change_id: str, first: date, last: date, now: datetime) -> date:
    """Draw the day of a change by lot from ``first`` to ``last`` (both allowed) and seal it in the journal.

    Raises ValueError where there are fewer than 20 allowed days: p could then not reach .05.
    """
    days = [first + timedelta(days=k) for k in range((last - first).days + 1)]
    if len(days) < LEAST_DAYS:
        raise ValueError(
            f"{len(days)} days are allowed; with fewer than {LEAST_DAYS} even a perfect result could not pass "
            f"a fair test (at best 1 in {max(len(days), 1)} by chance). Allow at least {LEAST_DAYS}"
        )
    seed = secrets.randbits(32)
    day = random.Random(seed).choice(days)
    allowed = [d.isoformat() for d in days]
    sealed = {"adjustment": change_id, "days": allowed, "day": day.isoformat(), "seed": seed}
    write_rows(declared, now, [RecordToWrite("drawn", sealed)])
    return day
