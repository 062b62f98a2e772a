"""The sessions to come, drawn by lot within the times the keeper could watch, spread over times of day and days."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np

from ...study import Declaration, Window, slot_at, study_day, to_utc

Span = tuple[datetime, datetime]

# At least so far ahead, so that sessions fall on different days; never further than that.
NEAREST_DAYS, FURTHEST_DAYS = 14, 182


@dataclass(frozen=True, slots=True)
class LotterySession:
    """A session to come: when it starts, in which time of day, and which one of those wanted there it is."""

    at: datetime
    slot: str
    number: int
    wanted: int


@dataclass(frozen=True, slots=True)
class Planned:
    """The sessions drawn, from which seed, and the changes whose day was drawn before and has not come."""

    sessions: tuple[LotterySession, ...]
    seed: int
    ahead: tuple[Mapping[str, str], ...]


@dataclass(frozen=True, slots=True)
class Times:
    """When sessions may be: ``windows`` of the keeper, from ``earliest`` on, never in ``closed`` spans."""

    windows: Sequence[Window]
    earliest: datetime
    closed: Sequence[Span] = ()


def starts(declared: Declaration, times: Times, day: date) -> dict[str, list[datetime]]:
    """Every minute at which a session could start on a day, by time of day; whole sessions within a window.

    Closed spans are times in which no session is to be (a change that has not settled).
    """
    minutes = timedelta(minutes=declared.watching.minutes)
    enclosure = next(iter(declared.enclosures))
    found: dict[str, list[datetime]] = {}
    seen: set[datetime] = set()
    for window in times.windows:
        held = window.on(day, declared.timezone)
        if held is None:
            continue
        at = held[0]
        while at + minutes <= held[1]:
            free = at >= times.earliest and not any(a < at + minutes and at < b for a, b in times.closed)
            if free and at not in seen:
                seen.add(at)
                found.setdefault(slot_at(declared, enclosure, at), []).append(at)
            at += timedelta(minutes=1)
    return found


def draw(
    declared: Declaration, times: Times, have: Mapping[str, int], wanted: Mapping[str, int], *, number: int, seed: int
) -> list[LotterySession]:  # fmt: skip
    """``number`` sessions, one a day at most, in order of time; fewer where there are not so many days.

    Each in turn goes to the time of day that is furthest from what is wanted of it, on a day drawn from those
    that offer it, at a minute drawn from its minutes. Times of day nobody wants are left out.
    """
    days = _days(declared, times, set(wanted), number)
    random = np.random.default_rng(seed)
    counts = {slot: have.get(slot, 0) for slot in wanted}
    found: list[LotterySession] = []
    taken: set[date] = set()
    while len(found) < number:
        offered = {
            slot: [
                day
                for day, slots in days.items()
                if slot in slots and not _near(taken, slots[slot], declared)
            ]
            for slot in wanted
        }
        open_slots = [slot for slot in wanted if offered[slot]]
        if not open_slots:
            break
        least = min(counts[s] / wanted[s] for s in open_slots)
        slot = str(random.choice(sorted(s for s in open_slots if counts[s] / wanted[s] == least)))
        day = offered[slot][int(random.integers(len(offered[slot])))]
        minutes = [m for m in days[day][slot] if study_day(declared, m) not in taken]
        at = minutes[int(random.integers(len(minutes)))]
        counts[slot] += 1
        taken.add(study_day(declared, at))
        found.append(LotterySession(at, slot, counts[slot], wanted[slot]))
    return _in_order(found, have)


def _near(taken: set[date], minutes: Sequence[datetime], declared: Declaration) -> bool:
    """Whether every minute offered falls on a study day that has its session already."""
    return all(day in taken for day in {study_day(declared, m) for m in minutes})


def _in_order(found: list[LotterySession], have: Mapping[str, int]) -> list[LotterySession]:
    """By time, numbered anew within each time of day."""
    counts = dict(have)
    ordered = []
    for one in sorted(found, key=lambda d: d.at):
        counts[one.slot] = counts.get(one.slot, 0) + 1
        ordered.append(LotterySession(one.at, one.slot, counts[one.slot], one.wanted))
    return ordered


def _days(
    declared: Declaration, times: Times, slots: set[str], number: int
) -> dict[date, dict[str, list[datetime]]]:
    """The days ahead with a time that is wanted: two weeks of them, or as many as the sessions need."""
    first = times.earliest.astimezone(declared.timezone).date()
    found: dict[date, dict[str, list[datetime]]] = {}
    for k in range(-1, FURTHEST_DAYS):
        day = first + timedelta(days=k)
        if k >= NEAREST_DAYS and len(found) >= number + number // 2:
            break
        if not any(day.weekday() in w.days for w in times.windows):
            continue
        offered = starts(declared, times, day)
        kept = {slot: minutes for slot, minutes in offered.items() if slot in slots}
        if kept:
            found[day] = kept
    return found


def slots_within(declared: Declaration, windows: Sequence[Window], now: datetime) -> set[str]:
    """The times of day that fall into the windows, over the next week."""
    first = now.astimezone(declared.timezone).date()
    offered = [starts(declared, Times(windows, now), first + timedelta(days=k)) for k in range(1, 8)]
    return {slot for one in offered for slot in one}


def hours_watched(declared: Declaration, opened: Sequence[datetime]) -> list[Window]:
    """Windows from when sessions began so far: each run of hours with a session, every day of the week.

    Without any session, seven in the morning to ten at night.
    """
    hours = sorted({at.astimezone(declared.timezone).hour for at in opened})
    if not hours:
        return [Window(frozenset(range(7)), 7 * 60, 22 * 60)]
    runs: list[list[int]] = []
    for hour in hours:
        if runs and hour == runs[-1][-1] + 1:
            runs[-1].append(hour)
        else:
            runs.append([hour])
    # A session is to fit in whole even where all began in one hour.
    tail = max(60, declared.watching.minutes + 1)
    return [Window(frozenset(range(7)), run[0] * 60, run[-1] * 60 + tail) for run in runs]


def lottery_spans(declared: Declaration, ahead: Sequence[Mapping[str, str]]) -> list[Span]:
    """The day drawn for a change to come and two days of settling after it, in which no session is drawn."""
    spans = []
    for one in ahead:
        day = date.fromisoformat(one["day"])
        start = to_utc(datetime.combine(day, time()), declared.timezone)
        spans.append((start, start + timedelta(days=3)))
    return spans
