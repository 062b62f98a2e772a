"""The rows of a table as sightings of a declared study, and what is wrong with the others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from zoneuse.study import (
    METHODS,
    Declaration,
    Group,
    Problem,
    UnknownNameError,
    find_behaviour,
    find_treatment,
    find_who,
    find_zone,
    home,
    spoken_time,
    value_at,
)
from zoneuse.study.model import Animal, Behaviour, Zone

from ..reader import LONGEST
from .local_times import EXPECTED, in_utc, read_clock_time
from .sighting import BudgetError, RowKey, SessionKey, Sighting, budget_of
from .stretches import as_recorded, lasted_s, watched_for_events
from .table import TableFile, whole_number
from .under import without_mixed

__all__ = ["RowKey", "SessionKey", "Sighting", "record_fields", "understand"]


def understand(
    declared: Declaration, table: TableFile, long_sessions: Collection[str] = ()
) -> tuple[list[Sighting], list[Problem]]:
    """The good rows of a table in the order of the file, and what is wrong with the others.

    A session that seems to last for days is refused whole unless ``long_sessions`` names it: one mistyped month
    makes one.
    """
    refused: list[Problem] = []
    clock: dict[int, datetime] = {}
    by_session: dict[SessionKey, list[int]] = defaultdict(list)
    # A line of a wide table gives several rows.
    lines, rows = [line for line, _ in table.rows], [row for _, row in table.rows]

    at_line = {line: i for i, line in enumerate(lines)}

    def refuse(i: int, column: str, found: str, expected: str) -> None:
        place = f"line {lines[i]}, column {column}"
        refused.append(Problem("row", str(table.path), place, found, expected, ""))

    for i, row in enumerate(rows):
        try:
            clock[i] = read_clock_time(row["at"])
        except ValueError:
            refuse(i, "at", f"found {row['at'][:40]!r}", EXPECTED)
            continue
        if row.get("session"):
            by_session[row["session"], _observer(declared, row)].append(i)
        else:
            refuse(i, "session", "is empty", "a name or number for the session")
    good: list[Sighting] = []
    for (session, observer), own in by_session.items():
        ends = _ends(declared, [rows[i] for i in own])
        for i, at, until in zip(own, in_utc([clock[i] for i in own], declared.timezone), ends, strict=True):
            if isinstance(at, str):
                refuse(i, "at", at, "a time that existed once")
                continue
            try:
                good.append(
                    _sighting(
                        declared,
                        lines[i],
                        rows[i],
                        at,
                        session,
                        observer=observer,
                        of_s=table.read_as.of_s,
                        until=until,
                    )
                )
            except _RowError as error:
                refuse(i, error.column, error.found, error.expected)
    good = as_recorded(watched_for_events(good), lambda s, *said: refuse(at_line[s.line], *said))
    good, mixed = without_mixed(table.path, good)
    good, too_long = _without_long(declared, table.path, good, long_sessions)
    refused += [*mixed, *too_long]
    return good, sorted(refused, key=lambda p: int(p.place.split(",")[0].split()[1]))


# So many times as long as study.toml says a session of a table is asked about, as is any longer than a day.
_FAR_BEYOND, _AT_LEAST = 30, timedelta(hours=12)


def _without_long(
    declared: Declaration, path: Path, good: Sequence[Sighting], confirmed: Collection[str]
) -> tuple[list[Sighting], list[Problem]]:
    """The rows but for those of sessions that seem to last for days, and a problem for each of these."""
    minutes = declared.watching.minutes if declared.watching.says_minutes else None
    usual = None if minutes is None else max(minutes * _FAR_BEYOND * timedelta(minutes=1), _AT_LEAST)
    limit = LONGEST if usual is None else min(LONGEST, usual)
    spans: dict[SessionKey, list[Sighting]] = defaultdict(list)
    for sighting in good:
        spans[sighting.session, sighting.observer].append(sighting)
    problems, left = [], set()
    for (session, observer), rows in spans.items():
        ordered = sorted(rows, key=lambda s: s.at)
        lasts = max(s.until or s.at for s in ordered) - ordered[0].at
        if lasts <= limit or session in confirmed:
            continue
        left.add((session, observer))
        # One fault, and each of its rows is refused for it.
        fault = _too_long(declared, path, session, ordered)
        others = (s for s in ordered if not fault.place.startswith(f"line {s.line},"))
        problems += [fault, *(replace(fault, place=f"line {s.line}, column at") for s in others)]
    return [s for s in good if (s.session, s.observer) not in left], problems


def _too_long(declared: Declaration, path: Path, session: str, ordered: Sequence[Sighting]) -> Problem:
    """Names the rows on the far side of the widest gap, as few as may be: there the slip will be."""
    cut = max(range(1, len(ordered)), key=lambda i: ordered[i].at - ordered[i - 1].at)
    few = min(ordered[:cut], ordered[cut:], key=len)
    lines = ", ".join(str(s.line) for s in few[:5]) + (" …" if len(few) > 5 else "")
    zone = declared.timezone
    lasts = ordered[-1].at - ordered[0].at
    long = f"{lasts.days} days" if lasts.days > 1 else f"{lasts.total_seconds() / 3600:.0f} hours"
    rest = ordered[-1] if few[0] is ordered[0] else ordered[0]
    return Problem(
        "long-session", str(path), f"line {few[0].line}, column at",
        f"session {session} would last {long}: {len(few)} of its {len(ordered)} rows (line {lines}) are from "
        f"{spoken_time(few[0].at, zone)}, the others from {spoken_time(rest.at, zone)}",
        "rows of one sitting in a session",
        f"Correct the time, give the rows sessions of their own, or confirm it with --long-session {session}",
    )  # fmt: skip


def _observer(declared: Declaration, row: Mapping[str, str]) -> str:
    return row.get("observer") or declared.watching.observer


class _RowError(ValueError):
    def __init__(self, column: str, found: str, expected: str) -> None:
        super().__init__(found)
        self.column, self.found, self.expected = column, found, expected


def _sighting(
    declared: Declaration, line: int, row: Mapping[str, str], at: datetime, session: str, *, observer: str,
    of_s: float | None = None, until: datetime | str | None = None,
) -> Sighting:  # fmt: skip
    lasts = bool(row.get("spent") or row.get("until") or row.get("lasted"))
    method = _method(row, lasts)
    one, where = (None, None) if _of_nobody(row, method) else _who(declared, row, at)
    group = isinstance(one, Group)
    zone, behaviour = _place(declared, row, where, at), _doing(declared, row)
    momentary = behaviour is not None and not behaviour.lasts
    end = None if not lasts or row.get("spent") else _end(row, at, until, method)
    if momentary:
        end, count = _watched_until(row, at, end), _times(row, end is not None or bool(row.get("spent")))
        row = {**row, "spent": ""}
    else:
        count = _count(row, one, at)
    seconds, whole = _budget(row, one, zone, behaviour, at=at, of_s=of_s)
    return Sighting(
        line, at, session, observer, method, one.id if one else "", group, count,
        zone.id if zone else None, behaviour.id if behaviour else None, momentary,
        _treatment(declared, row), where or (zone.enclosure if zone else ""),
        seconds, whole, end,
    )  # fmt: skip


def _watched_until(row: Mapping[str, str], at: datetime, end: datetime | None) -> datetime | None:
    """Until when was watched for what happened: its end, or so long from its beginning. Raises _RowError."""
    if not row.get("spent"):
        return end
    try:
        return at + timedelta(seconds=lasted_s(f"{row['spent']} {row['unit']}", ""))
    except (ValueError, OverflowError) as error:
        raise _RowError(row["unit"], f"found {row['spent'][:20]!r}", str(error)) from None


def _times(row: Mapping[str, str], timed: bool) -> int | None:
    """How often something happened; never only where it is said how long was watched. Raises _RowError."""
    text = whole_number(row.get("count", ""))
    if not text:
        return None
    if not text.isdecimal() or len(text) > 6:
        raise _RowError("count", f"found {text[:20]!r}", "how often it happened, a whole number from 0")
    if not int(text) and not timed:
        raise _RowError(
            "count", "found 0", "once or more, or how long was watched: a column until, lasted or minutes"
        )
    return int(text)


def _of_nobody(row: Mapping[str, str], method: str) -> bool:
    """Whether a round's row says only that a retreat was looked into."""
    return method == "retreat-round" and not (row.get("animal") or row.get("group")) and bool(row.get("zone"))


def _method(row: Mapping[str, str], lasts: bool) -> str:
    """How it was watched. Raises _RowError."""
    method = row.get("method") or ("focal" if lasts else "scan")
    if method not in METHODS:
        raise _RowError("method", f"found {method[:40]!r}", "one of " + ", ".join(METHODS))
    return method


def _ends(declared: Declaration, rows: Sequence[Mapping[str, str]]) -> list[datetime | str | None]:
    """When each row of a session ended, in UTC; None where it says nothing of it, or what is no time."""
    clock: dict[int, datetime] = {}
    for i, row in enumerate(rows):
        try:
            clock[i] = read_clock_time(row.get("until", ""))
        except ValueError:
            continue
    placed = dict(zip(clock, in_utc(list(clock.values()), declared.timezone), strict=True))
    return [placed.get(i) for i in range(len(rows))]


def _end(row: Mapping[str, str], at: datetime, until: datetime | str | None, method: str) -> datetime:
    """The end of a stretch. Raises _RowError where it is none, or lies before its beginning."""
    column = "until" if row.get("until") else "lasted"
    found = f"found {row.get(column, '')[:40]!r}"
    if until is None:
        try:
            lasted_s(row.get("lasted", ""), "")
        except ValueError as error:
            raise _RowError(column, found, EXPECTED if column == "until" else str(error)) from None
    if not isinstance(until, datetime):
        raise _RowError(column, until or found, EXPECTED)
    if until <= at:
        raise _RowError(column, f"{found}, not after it began", "a time after the row's beginning")
    if method != "focal":
        raise _RowError("method", f"found {method}", "focal, or nothing: a stretch of time is no scan")
    return until


def _budget(
    row: Mapping[str, str], one: Animal | Group | None, zone: Zone | None, behaviour: Behaviour | None,
    *, at: datetime, of_s: float | None,
) -> tuple[float | None, float | None]:  # fmt: skip
    """How much of how much time a row says was spent so; nothing where it says no such thing."""
    if not row.get("spent"):
        return None, None
    if zone is None and behaviour is None:
        raise _RowError("zone", "is empty", "a zone, or a behaviour, that the time was spent in")
    if behaviour is not None and not behaviour.lasts:
        raise _RowError("behaviour", f"{behaviour.id} is momentary", "a behaviour that lasts")
    try:
        return budget_of(row, of_s, value_at(one.size, at) if isinstance(one, Group) else None)
    except BudgetError as error:
        raise _RowError(error.column, f"found {row['spent'][:20]!r}", str(error)) from None


def _place(declared: Declaration, row: Mapping[str, str], where: str | None, at: datetime) -> Zone | None:
    if not row.get("zone"):
        return None
    try:
        zone = find_zone(declared, row["zone"], where, at)
    except UnknownNameError as error:
        raise _RowError("zone", str(error), "a zone's id, key or place, or nothing for not found") from None
    if not any(p.span.holds(at) for p in zone.present):
        raise _RowError(
            "zone", f"{zone.id} was not there at that time", "a zone that was; see its present dates"
        )
    return zone


def _doing(declared: Declaration, row: Mapping[str, str]) -> Behaviour | None:
    try:
        return find_behaviour(declared, row["behaviour"]) if row.get("behaviour") else None
    except UnknownNameError as error:
        raise _RowError("behaviour", str(error), "a behaviour's id or key, or nothing") from None


def _treatment(declared: Declaration, row: Mapping[str, str]) -> str | None:
    """The treatment of a row; a study that declares none has none to name."""
    if not row.get("treatment") or not declared.treatments:
        return None
    try:
        return find_treatment(declared, row["treatment"]).id
    except UnknownNameError as error:
        raise _RowError("treatment", str(error), "a treatment's id or label, or nothing") from None


def _who(declared: Declaration, row: Mapping[str, str], at: datetime) -> tuple[Animal | Group, str]:
    column = "group" if row.get("group") else "animal"
    name = row.get(column, "")
    if not name:
        raise _RowError("animal", "is empty", "an animal's id or key")
    try:
        one = find_who(declared, name, at)
    except UnknownNameError as error:
        raise _RowError(column, str(error), "an id or key of study.toml") from None
    where = home(one, at)
    if where is None:
        raise _RowError(
            column, f"{one.id} lived in no enclosure at that time", "a time within its present and lives"
        )
    return one, where


def _count(row: Mapping[str, str], one: Animal | Group | None, at: datetime) -> int | None:
    if row.get("spent"):
        return None
    text = whole_number(row.get("count", ""))
    if not isinstance(one, Group):
        if text not in ("", "1"):
            raise _RowError("count", f"found {text[:20]!r}", "nothing for a single animal")
        return None
    if not text and not row["zone"]:
        return value_at(one.size, at)  # nobody of the group was found
    if not text.isdecimal() or int(text) < 1 or len(text) > 6:
        whole, _, rest = text.replace(",", ".").partition(".")
        mean = whole.isdecimal() and rest.isdecimal()
        expected = (
            "how many, from 1"
            if not mean
            else (
                "a whole number: a mean of several counts is no sighting but a share of time: --cells mean --of 1h"
            )
        )
        raise _RowError("count", f"found {text[:20]!r}", expected)
    return int(text)


def record_fields(sighting: Sighting, scan: int | None) -> dict[str, Any]:
    """A sighting as a record holds it."""
    if not sighting.who:
        return {"zone": sighting.zone}
    if sighting.seconds is not None:
        whose = {"group" if sighting.group else "animal": sighting.who}
        said = {"zone": sighting.zone, "behaviour": sighting.behaviour}
        told = {name: value for name, value in said.items() if value is not None}
        return {**whose, **told, "seconds": sighting.seconds, "of_seconds": sighting.of_seconds}
    fields: dict[str, Any] = {"group" if sighting.group else "animal": sighting.who}
    if sighting.count is not None:
        fields["count"] = sighting.count
    if sighting.zone is not None:
        fields["zone"] = sighting.zone
    if sighting.behaviour is not None and sighting.kind != "unseen":
        fields["behaviour"] = sighting.behaviour
    if scan is not None and not sighting.momentary:
        fields["scan"] = scan
    return fields
