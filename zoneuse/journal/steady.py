"""A wall clock that was set during a session: the session's own seconds keep its records in order."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from .fold import Entry

_NONE = timedelta()
# Less is how a clock drifts, or how long a record takes to be written.
LEAST_STEP = timedelta(seconds=30)


@dataclass(frozen=True, slots=True)
class ClockStep:
    """At ``entry`` the wall clock had moved by ``by`` against the session's own seconds."""

    entry: Entry
    by: timedelta


def _offsets(entries: Iterable[Entry]) -> Iterator[tuple[Entry, timedelta | None]]:
    """How far the wall clock is ahead of its part's opening plus own seconds; None where that is not known."""
    begun: dict[tuple[int, str], datetime] = {}
    for entry in entries:
        record = entry.record
        if record.kind == "opened":
            # Written down later, as tables are, it tells nothing of the seconds.
            begun[entry.in_part] = record.at
        start = begun.get(entry.in_part)
        if start is None or record.mono is None or record.entered is not None:
            yield entry, None
        else:
            yield entry, record.at - start - timedelta(seconds=record.mono)


def steadied(entries: Sequence[Entry]) -> tuple[Entry, ...]:
    """The same entries with times that a clock set back did not turn back: durations and order stay right.

    Only setting back is undone. A clock found ahead was set forward, or the computer slept, which its own
    seconds do not count; the wall clock is believed then.
    """
    most: dict[tuple[int, str], timedelta] = defaultdict(timedelta)
    behind: dict[tuple[int, str], timedelta] = defaultdict(timedelta)
    found = []
    for entry, ahead in _offsets(entries):
        if ahead is not None:
            most[entry.in_part] = max(most[entry.in_part], ahead)
            late = most[entry.in_part] - ahead
            behind[entry.in_part] = late if late >= LEAST_STEP else _NONE
        late = behind[entry.in_part]
        found.append(
            replace(entry, record=entry.record._replace(at=entry.record.at + late)) if late else entry
        )
    return tuple(found)


def clock_steps(entries: Iterable[Entry]) -> list[ClockStep]:
    """Where the wall clock moved against the session's own seconds by half a minute or more."""
    last: dict[tuple[int, str], timedelta] = defaultdict(timedelta)
    steps = []
    for entry, ahead in _offsets(entries):
        if ahead is None:
            continue
        if abs(ahead - last[entry.in_part]) >= LEAST_STEP:
            steps.append(ClockStep(entry, ahead - last[entry.in_part]))
        last[entry.in_part] = ahead
    return steps
