"""What else differed between the two sides of a change, as codes with the ids and dates they are about."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from datetime import date, datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal import Journals
from ...stats.arrays import Floats
from ...study import Declaration
from ...tables import Adjustment
from .. import reasons
from ..finding import Confounder
from .phases import Sides, overlapping

# What touches no animal in any unit of one side and at least this part of all in the other is on one side only.
_ONE_SIDED = 0.2
# Kinds of context, for how many days after a record they concern an animal (0: for its own period), and their codes.
_CONTEXTS = (
    ("fed", 3.0, reasons.FED), ("shedding", 0.0, reasons.SHEDDING), ("gravid", 0.0, reasons.GRAVID),
    ("ill", 0.0, reasons.ILL),
)  # fmt: skip


def confounders(
    declared: Declaration, journals: Journals, changes: Sequence[Adjustment], change: Adjustment, found: Sides
) -> list[Confounder]:
    """What else differed between the sides: another change at once, feeds, sheds, lights, moved sensors."""
    times = pd.Series(pd.to_datetime(found.at, unit="ms", utc=True))
    start, end = times.min().to_pydatetime(), times.max().to_pydatetime()
    return [
        *at_once(declared, changes, change),
        *_one_sided(journals, found, times),
        *_declared_between(declared, start, end),
    ]


def at_once(declared: Declaration, changes: Sequence[Adjustment], change: Adjustment) -> list[Confounder]:
    """The other changes that had not settled when this one was made, or the other way round."""
    near = (c for c in overlapping(changes, change) if c.id != change.id)
    return [Confounder(reasons.ANOTHER_CHANGE, (c.id,), c.what, on=day_of(declared, c)) for c in near]


def day_of(declared: Declaration, change: Adjustment) -> date:
    """The local date of a change."""
    return change.at.astimezone(declared.timezone).date()


def _one_sided(journals: Journals, found: Sides, times: pd.Series) -> Iterator[Confounder]:
    """Feeds, sheds and the like that concern the animals on one side only."""
    watched = set(found.rows["animal"].dropna()) | set(found.rows["group"].dropna())
    for what, days, code in _CONTEXTS:
        touched = _touched(journals, what, times, days, watched)
        shares = [float(touched[side].mean()) if side.any() else 0.0 for side in (~found.late, found.late)]
        none_on_one = min(shares) == 0 and max(shares) >= _ONE_SIDED
        if none_on_one or abs(shares[0] - shares[1]) >= 0.8:
            yield Confounder(code, side="after" if shares[1] > shares[0] else "before")


def _declared_between(declared: Declaration, start: datetime, end: datetime) -> Iterator[Confounder]:
    """Lights and loggers that study.toml dates between the first and the last unit."""
    for enclosure in declared.enclosures.values():
        if any(d.span.start and start < d.span.start <= end for d in enclosure.lights):
            yield Confounder(reasons.LIGHTS_CHANGED)
    moved = [
        logger.id
        for logger in declared.loggers.values()
        if any(p.start and start < p.start <= end for p in logger.placed)
    ]
    if moved:
        yield Confounder(reasons.LOGGERS_MOVED, tuple(moved))


def _touched(
    journals: Journals, what: str, times: pd.Series, days: float, watched: Collection[str]
) -> Floats:
    """For each unit, the part of the watched animals in a period (or so many days after) of a kind of context.

    A record that names no animal concerns them all; one of eight animals that was fed is an eighth.
    """
    touched: dict[str, NDArray[np.bool_]] = {}
    for entry in journals.entries("context"):
        record = entry.record
        who = record.get("animal")
        if record.get("what") != what or (who is not None and who not in watched):
            continue
        start = pd.Timestamp(record.get("from") or record.at)
        until = record.get("until")
        end = pd.Timestamp(until) if until else (start + pd.Timedelta(days=days) if days else times.max())
        inside = ((times >= start) & (times <= end)).to_numpy(bool)
        for name in watched if who is None else (who,):
            touched[name] = touched.get(name, np.zeros(len(times), bool)) | inside
    return np.asarray(sum(touched.values(), np.zeros(len(times))) / max(len(watched), 1), np.float64)
