"""Rows that say from when until when: states of followed animals where they leave no gap, else time budgets."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from .sighting import SECONDS, SessionKey, Sighting

# Two stretches that meet to within so long follow each other.
_MEETS = timedelta(seconds=1)
_CLOCK = re.compile(r"(\d{1,2})[:.](\d{2})(?:[:.](\d{2}))?")
_LASTED = re.compile(r"(?:(\d+):)?(\d{1,3}):(\d{2})")
_WITH_UNIT = re.compile(r"(\d+(?:[.,]\d+)?)\s*([a-z]*)\.?")
_UNITS = {
    **dict.fromkeys(("s", "sec", "second", "seconds", "sek"), 1.0),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten", "m"), 60.0),
    **dict.fromkeys(("h", "hour", "hours", "std", "stunden"), 3600.0),
}

Refuse = Callable[[Sighting, str, str, str], None]


def end_of(row: Mapping[str, str], start: datetime, unit: str) -> datetime | None:
    """When a row's stretch ended, as clock times go: from its ``until`` without a date, or from how long it lasted.

    ``unit`` is that of bare numbers (seconds, minutes, hours). None where ``until`` is a full time, read elsewhere.
    Raises ValueError for what is neither.
    """
    if lasted := row.get("lasted"):
        return start + timedelta(seconds=lasted_s(lasted, unit))
    if found := _CLOCK.fullmatch(row.get("until", "").strip()):
        hour, minute, second = (int(part or 0) for part in found.groups())
        end = start.replace(hour=hour, minute=minute, second=second)
        return end if end >= start else end + timedelta(days=1)
    return None


def lasted_s(text: str, unit: str) -> float:
    """Seconds: ``1:05:30``, ``5:30`` (minutes and seconds), ``5 min``, or a bare number of ``unit``.

    >>> lasted_s("1:05:30", ""), lasted_s("5:30", ""), lasted_s("2,5 min", ""), lasted_s("90", "seconds")
    (3930.0, 330.0, 150.0, 90.0)
    """
    said = text.strip().casefold()
    if found := _LASTED.fullmatch(said):
        hours, minutes, seconds = (float(part or 0) for part in found.groups())
        return hours * 3600 + minutes * 60 + seconds
    found = _WITH_UNIT.fullmatch(said)
    one = (_UNITS.get(found[2]) if found[2] else SECONDS.get(unit)) if found else None
    if found is None or one is None:
        raise ValueError("how long it lasted, as 5:30, 5 min or 90 s (bare numbers: say --cells seconds)")
    return float(found[1].replace(",", ".")) * one


def as_recorded(good: Sequence[Sighting], refuse: Refuse) -> list[Sighting]:
    """The rows as they are recorded; those without an end stay as they are.

    States of a session that leave no gap and no overlap, of animals followed alike, are states from their beginning
    on, as focal watching records them. All others are summed to time budgets of the time from an animal's first
    beginning to its last end: what lies between was followed by nobody's word, so no moment is made of it.
    """
    whole = _without_overlaps(good, refuse)
    by_session: dict[SessionKey, list[Sighting]] = defaultdict(list)
    for sighting in whole:
        if sighting.until is not None:
            by_session[sighting.session, sighting.observer].append(sighting)
    lasting = {key for key, rows in by_session.items() if _follow(rows)}
    kept: list[Sighting] = []
    for sighting in whole:
        if sighting.until is None or (sighting.session, sighting.observer) in lasting:
            kept.append(sighting)
    for key, rows in by_session.items():
        if key not in lasting:
            kept += _budgets(rows)
    return sorted(kept, key=lambda s: s.line)


def watched_for_events(good: Sequence[Sighting]) -> list[Sighting]:
    """What happened, and beside it how long was watched for it: a time budget of a momentary behaviour, of 0 seconds.

    Something that never happened leaves that alone: nobody would know else that it was watched for.
    """
    found: list[Sighting] = []
    for one in good:
        if not one.momentary or one.until is None:
            found.append(one)
            continue
        seconds = round((one.until - one.at).total_seconds(), 3)
        never = one.count == 0
        watched = replace(
            one,
            momentary=False,
            count=None,
            zone=None,
            until=None,
            seconds=0.0,
            of_seconds=seconds,
            rows=int(never),
        )
        found += [watched] if never else [replace(one, until=None), watched]
    return found


def _without_overlaps(good: Sequence[Sighting], refuse: Refuse) -> list[Sighting]:
    """One animal is in one zone, and does one thing, at a time: a row that begins before the one before it ended."""
    last: dict[tuple[str, str, str, str], Sighting] = {}
    left: set[int] = set()
    for i in sorted(range(len(good)), key=lambda i: (good[i].at, good[i].line)):
        one = good[i]
        if one.until is None:
            continue
        for kind, what in (("zone", one.zone), ("behaviour", one.behaviour)):
            key = one.session, one.observer, one.who, kind
            before = last.get(key) if what is not None else None
            if before is not None and before.until is not None and one.at < before.until - _MEETS:
                refuse(
                    one,
                    "until",
                    f"begins before line {before.line} ends",
                    "one zone, and one behaviour, at a time",
                )
                left.add(i)
                break
        else:
            for kind, what in (("zone", one.zone), ("behaviour", one.behaviour)):
                if what is not None:
                    last[one.session, one.observer, one.who, kind] = one
    return [s for i, s in enumerate(good) if i not in left]


def _follow(rows: Sequence[Sighting]) -> bool:
    """Whether every animal's states have a zone and follow each other, all from the same beginning to the same end."""
    by_who: dict[str, list[Sighting]] = defaultdict(list)
    for row in rows:
        if row.zone is None or row.group:
            return False
        by_who[row.who].append(row)
    # A state that says nothing of the behaviour would go on with the one before it.
    if len({row.behaviour is None for row in rows}) > 1:
        return False
    spans = []
    for own in by_who.values():
        own.sort(key=lambda s: s.at)
        ends = [s.until or s.at for s in own]
        if any(abs(then.at - end) > _MEETS for end, then in zip(ends, own[1:], strict=False)):
            return False
        spans.append((own[0].at, ends[-1]))
    return all(abs(a - spans[0][0]) <= _MEETS and abs(b - spans[0][1]) <= _MEETS for a, b in spans)


def _budgets(rows: Iterable[Sighting]) -> list[Sighting]:
    by_who: dict[str, list[Sighting]] = defaultdict(list)
    for row in rows:
        by_who[row.who].append(row)
    told = []
    for own in by_who.values():
        start, end = min(s.at for s in own), max(s.until or s.at for s in own)
        whole = (end - start).total_seconds()
        summed: dict[tuple[str | None, str | None], list[Sighting]] = defaultdict(list)
        for row in own:
            summed[row.zone, row.behaviour].append(row)
        for same in summed.values():
            spent = sum(((s.until or s.at) - s.at).total_seconds() for s in same)
            told.append(
                replace(same[0], at=start, until=None, seconds=spent, of_seconds=whole, rows=len(same))
            )
    return told
