"""Bouts of animals that were followed: how many, how long, and how many minutes an hour they take."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pandas as pd

from ...journal import Entry, Session
from ...stats.time_series import median_lasting
from ...tables import SIGHTINGS
from ..question import Question
from ..records.budgets import are_budgets
from .tables import watched_under

COLUMNS = [
    "behaviour", "bouts", "whole", "median_s", "median_low_s", "median_high_s", "longest_s", "minutes_per_hour",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bout:
    """One run of a behaviour. ``whole``: its beginning and its end were both seen; else it lasted at least so long."""

    animal: str
    behaviour: str
    seconds: float
    whole: bool


def bouts(question: Question) -> pd.DataFrame:
    """A row for each behaviour of the followed animals asked for; none where nobody was followed."""
    rows = question.rows
    followed = set(rows["session"][(rows["method"] == "focal") & ~are_budgets(rows)])
    wanted = set(question.filters.animals)
    under = watched_under(question)
    found = [
        bout
        for session in question.journals.sessions.values()
        if session.id in followed
        for bout in bouts_of(session)
        if (not wanted or bout.animal in wanted)
        and (under is None or (session.id, bout.animal) in under)
        and bout.behaviour in question.declared.behaviours
    ]
    whole = sum(bout.seconds for bout in found)
    by_name: dict[str, list[Bout]] = {}
    for bout in found:
        by_name.setdefault(bout.behaviour, []).append(bout)
    return pd.DataFrame([_row(name, own, whole) for name, own in by_name.items()], columns=COLUMNS)


def _row(name: str, own: list[Bout], whole: float) -> tuple[object, ...]:
    times = [bout.seconds for bout in own]
    half = median_lasting(times, [bout.whole for bout in own])
    an_hour = 60 * sum(times) / whole if whole else float("nan")
    ended = sum(bout.whole for bout in own)
    return name, len(own), ended, half.median, half.low, half.high, max(times), an_hour


def bouts_of(session: Session) -> Iterator[Bout]:
    """The bouts of a followed session; what runs when watching begins, pauses or ends is not whole."""
    parts: dict[tuple[int, str], list[Entry]] = {}
    for entry in session.entries:
        parts.setdefault(entry.in_part, []).append(entry)
    for entries in parts.values():
        yield from _of_part(sorted(entries, key=_when))


def _when(entry: Entry) -> float:
    """Seconds: of the session's own clock where it has one."""
    record = entry.record
    own = record.mono if record.entered is None else None
    return record.at.timestamp() if own is None else own


def _of_part(entries: list[Entry]) -> Iterator[Bout]:
    # Animal: what it does, since when, and whether that beginning was seen.
    running: dict[str, tuple[str, float, bool]] = {}
    for entry in entries:
        record, now = entry.record, _when(entry)
        if record.kind == "paused":
            yield from (_bout(a, s, now, False) for a, s in running.items())
            running = {}
        animal = record.get("animal")
        if record.kind not in SIGHTINGS or not animal:
            continue
        before = running.get(animal)
        doing = record.get("behaviour") or (before[0] if before and record.kind == "seen" else None)
        if before and doing == before[0]:
            continue
        if before:
            yield _bout(animal, before, now, doing is not None)
            del running[animal]
        if doing is not None:
            running[animal] = doing, now, before is not None
    if entries:
        yield from (_bout(a, s, _when(entries[-1]), False) for a, s in running.items())


def _bout(animal: str, state: tuple[str, float, bool], now: float, ended: bool) -> Bout:
    behaviour, since, began = state
    return Bout(animal, behaviour, max(now - since, 0.0), began and ended)
