"""Clock times of a table in UTC: when summer time ends an hour comes twice, when it begins one is missing."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime, timedelta, tzinfo

from ...study import YEARS, TwiceError, only_utc

_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})[ T]+(\d{1,2}):(\d{2})(?::(\d{2}))?")
_HOUR = timedelta(hours=1)
# A number of more is a year, or none of days.
_MOST = 9_999
_LONE_HOUR = re.compile(r"\d{1,2}(?:[.,]\d+)?")
EXPECTED = "a time such as 2026-03-04T19:02 or 04.03.2026 19:02, local unless it carries an offset"


def read_clock_time(text: str) -> datetime:
    """A time as written, naive where it has no offset. Raises ValueError otherwise."""
    if found := _DOTTED.fullmatch(text.strip()):
        day, month, year, hour, minute, second = (int(part or 0) for part in found.groups())
        at = datetime(year, month, day, hour, minute, second)
    else:
        at = datetime.fromisoformat(text.strip())
    if at.year not in YEARS:
        raise ValueError(f"the year {at.year} lies outside {YEARS[0]} to {YEARS[-1]}")
    return at


def in_utc(times: Sequence[datetime], zone: tzinfo) -> list[datetime | str]:
    """Times of one session in the order of its rows, in UTC, or the reason one cannot be placed.

    An hour that comes twice is told apart by the order of the rows: before a step back it is the first,
    after it the second; without a step back, by a neighbour within the hour on one side only.
    """
    placed: list[datetime | str | None] = [_certain(time, zone) for time in times]
    i = 0
    while i < len(placed):
        if placed[i] is not None:
            i += 1
            continue
        end = i
        while end < len(placed) and placed[end] is None:
            end += 1
        placed[i:end] = _doubled(times[i:end], zone, _neighbour(placed, i - 1), _neighbour(placed, end))
        i = end
    return [p if p is not None else "cannot be placed" for p in placed]


def _neighbour(placed: Sequence[datetime | str | None], i: int) -> datetime | None:
    found = placed[i] if 0 <= i < len(placed) else None
    return found if isinstance(found, datetime) else None


def _certain(time: datetime, zone: tzinfo) -> datetime | str | None:
    """The one UTC time it can be; the reason where it cannot be; None where it can be two."""
    try:
        return only_utc(time, zone)
    except TwiceError:
        return None
    except ValueError as error:
        return str(error)


def _doubled(
    times: Sequence[datetime], zone: tzinfo, before: datetime | None, after: datetime | None
) -> list[datetime | str | None]:
    firsts = [time.replace(tzinfo=zone, fold=0).astimezone(UTC) for time in times]
    seconds = [time.replace(tzinfo=zone, fold=1).astimezone(UTC) for time in times]
    back = next((k for k in range(1, len(times)) if times[k] < times[k - 1]), None)
    if back is not None:
        return [*firsts[:back], *seconds[back:]]
    joins_before = before is not None and firsts[0] - before <= _HOUR
    joins_after = after is not None and after - seconds[-1] <= _HOUR
    if joins_before and not joins_after:
        return list(firsts)
    if joins_after and not joins_before:
        return list(seconds)
    offsets = " or ".join(f"{t.replace(tzinfo=zone, fold=f):%z}" for t, f in ((times[0], 0), (times[0], 1)))
    reason = f"came twice that night, and the rows do not tell which it is (write the offset, {offsets})"
    return [f"{time:%Y-%m-%d %H:%M} {reason}" for time in times]


def numbered_days(rows: Sequence[tuple[int, Mapping[str, str]]]) -> bool:
    """Whether the column of dates holds numbers from 0 on and nothing else."""
    texts = [row.get("date") or row.get("at") or "" for _, row in rows]
    return bool(texts) and all(text.isdecimal() and int(text) <= _MOST for text in texts)


def dated(row: Mapping[str, str], day_1: date) -> Mapping[str, str]:
    """The row with day n as the date n - 1 days after ``day_1``, and a lone hour (7, 16.5) as a clock time."""
    column = "date" if "date" in row else "at"
    text = row.get(column, "")
    if not (text.isdecimal() and int(text) <= _MOST):
        return row
    told = {**row, column: (day_1 + timedelta(days=int(text) - 1)).isoformat()}
    clock = row.get("time", "")
    if _LONE_HOUR.fullmatch(clock) and float(clock.replace(",", ".")) < 24:
        minutes = round(60 * float(clock.replace(",", ".")))
        told["time"] = f"{min(minutes, 1439) // 60:02d}:{min(minutes, 1439) % 60:02d}"
    return told
