"""What has been watched, to be seen at a glance: hours of the day by days, as rows of signs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise

import pandas as pd

from ...study import Declaration, study_day

# Days in a row without a session or a plan that are drawn as one gap.
LONGEST_GAP = 7
NOTHING, PLANNED, GAP, CHANGE = "·", "o", "┊", "^"


@dataclass(frozen=True, slots=True)
class SessionStrip:
    """Sessions by (hour, day), the hours in the order of the study's day, and the days of changes."""

    sessions: Mapping[tuple[int, date], int]
    planned: frozenset[tuple[int, date]]
    changes: Mapping[date, str]
    hours: tuple[int, ...]
    days: tuple[date | None, ...]


def strip(
    declared: Declaration,
    opened: Sequence[datetime],
    planned: Sequence[datetime],
    changes: Mapping[str, datetime],
) -> SessionStrip:
    """Days from the first session to the last planned one; a gap of more than a week is None."""
    sessions: dict[tuple[int, date], int] = {}
    for at in opened:
        key = _cell(declared, at)
        sessions[key] = sessions.get(key, 0) + 1
    ahead = frozenset(_cell(declared, at) for at in planned)
    cells = [*sessions, *ahead]
    starts = declared.day_starts.hour
    hours = sorted({hour for hour, _ in cells}, key=lambda h: (h - starts) % 24)
    marked = {study_day(declared, at): name for name, at in changes.items()}
    used = {day for _, day in cells}
    return SessionStrip(sessions, ahead, marked, tuple(hours), tuple(_columns(used, set(marked))))


def _cell(declared: Declaration, at: datetime) -> tuple[int, date]:
    return at.astimezone(declared.timezone).hour, study_day(declared, at)


def _columns(used: set[date], marked: set[date]) -> list[date | None]:
    if not used:
        return []
    kept = sorted(used | {day for day in marked if min(used) <= day <= max(used)})
    columns: list[date | None] = [kept[0]]
    for before, day in pairwise(kept):
        away = (day - before).days
        if away > LONGEST_GAP:
            columns.append(None)
        else:
            columns += [before + timedelta(days=k) for k in range(1, away)]
        columns.append(day)
    return columns


def table(seen: SessionStrip) -> pd.DataFrame:
    """One row for each hour and day with a session or a plan."""
    cells = sorted({*seen.sessions, *seen.planned}, key=lambda c: (c[1], c[0]))
    return pd.DataFrame(
        [(d.isoformat(), h, seen.sessions.get((h, d), 0), (h, d) in seen.planned) for h, d in cells],
        columns=["day", "hour", "sessions", "planned"],
    )


def lines(seen: SessionStrip, width: int) -> list[str]:
    """The strip for a terminal ``width`` cells wide: the newest days that fit."""
    if not seen.days:
        return []
    days = seen.days[-max(width - 4, 10) :]
    drawn = []
    for hour in seen.hours:
        drawn.append(f"{hour:02d}h " + "".join(_sign(seen, hour, day) for day in days))
    if any(day in seen.changes for day in days):
        drawn.append("    " + "".join(CHANGE if day in seen.changes else " " for day in days).rstrip())
    return [*drawn, "    " + _dates(days, width - 4)]


def _sign(seen: SessionStrip, hour: int, day: date | None) -> str:
    if day is None:
        return GAP
    if (hour, day) in seen.planned:
        return PLANNED
    number = seen.sessions.get((hour, day), 0)
    return NOTHING if not number else str(number) if number < 10 else "+"


def _dates(days: Sequence[date | None], width: int) -> str:
    """The date below its day: the first and the first after each gap, then where there is room 1st and 15th."""
    row = [" "] * width
    known = [(k, day) for k, day in enumerate(days) if day is not None]
    # The newest first: what is planned is to have its date.
    first = [(k, day) for k, day in known if k == 0 or days[k - 1] is None][::-1]
    for k, day in [*first, *((k, day) for k, day in known if day.day in (1, 15))]:
        label = f"{day.day} {day:%b}"
        around = row[max(k - 1, 0) : k + len(label) + 1]
        if k + len(label) <= width and not "".join(around).strip():
            row[k : k + len(label)] = label
    return "".join(row).rstrip()
