"""Sessions of a table that names none: a sitting ends where nothing was written down for a while."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta, tzinfo

from ..reader import LONGEST, Journals
from .local_times import read_clock_time
from .table import TableFile

USUAL_GAP_MIN = 30.0
_NAMED = "%Y-%m-%d %H:%M"


def needs_sessions(table: TableFile) -> bool:
    return not table.rows or "session" not in table.rows[0][1]


def by_gaps(table: TableFile, zone: tzinfo, usual_observer: str, journals: Journals) -> TableFile:
    """The table with sessions: rows of one observer less than the gap apart are of one, named by its first time.

    A sitting that was taken in before keeps its name, so that a later version of the table goes on with it.
    """
    gap = timedelta(minutes=table.read_as.gap_min or USUAL_GAP_MIN)
    by_observer: dict[str, list[tuple[datetime, int]]] = defaultdict(list)
    for i, (_, row) in enumerate(table.rows):
        try:
            at = read_clock_time(row["at"])
        except ValueError:
            continue
        local = at.astimezone(zone).replace(tzinfo=None) if at.tzinfo else at
        by_observer[row.get("observer") or usual_observer].append((local, i))
    named: dict[int, str] = {}
    for observer, times in by_observer.items():
        known = _named_before(journals, observer, zone)
        for sitting in _sittings(sorted(times), gap):
            first = next((known[at] for at, _ in sitting if at in known), f"{sitting[0][0]:{_NAMED}}")
            for at, i in sitting:
                # Two sittings that a row between them joins stay two.
                first = known.get(at, first)
                named[i] = first
    rows = tuple((line, {**row, "session": named.get(i, "?")}) for i, (line, row) in enumerate(table.rows))
    return replace(table, rows=rows, by_gaps=True)


def _sittings(times: list[tuple[datetime, int]], gap: timedelta) -> list[list[tuple[datetime, int]]]:
    sittings: list[list[tuple[datetime, int]]] = []
    for at, i in times:
        if sittings and at - sittings[-1][-1][0] < gap:
            sittings[-1].append((at, i))
        else:
            sittings.append([(at, i)])
    return [part for sitting in sittings for part in _by_day(sitting)]


def _by_day(sitting: list[tuple[datetime, int]]) -> list[list[tuple[datetime, int]]]:
    """A sitting as it is; one of more than a day, as a camera's counts each hour make, by its days."""
    if sitting[-1][0] - sitting[0][0] <= LONGEST:
        return [sitting]
    days: dict[date, list[tuple[datetime, int]]] = {}
    for at, i in sitting:
        days.setdefault(at.date(), []).append((at, i))
    return list(days.values())


def _named_before(journals: Journals, observer: str, zone: tzinfo) -> Mapping[datetime, str]:
    """The sittings by gaps that are there already, by the local time of each of their rows."""
    found: dict[datetime, str] = {}
    for session in journals.sessions.values():
        name = session.source.get("session")
        if not isinstance(name, str) or not session.source.get("by_gaps") or session.observer != observer:
            continue
        for entry in (*session.entries, *session.void):
            if entry.record.kind in ("seen", "unseen", "happened", "checked", "spent") and not entry.written:
                found[entry.record.at.astimezone(zone).replace(tzinfo=None)] = name
    return found
