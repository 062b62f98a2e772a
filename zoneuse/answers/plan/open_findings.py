"""What is still open in a study: findings that are too early, and changes under way that need sessions after them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pandas as pd

from ...journal import Journals
from ...tables import Adjustment, adjustments
from .. import reasons
from ..answer import Answer
from ..finding import TOO_EARLY, Finding
from ..question import Question
from ..registry import ANSWERS, ask_of
from ..shifts.designs.controls import concerning, rows_of_change
from ..shifts.phases import windows

# Of each time of day, as many sessions after a change as before it (the same effort on both sides), within these.
FEWEST, MOST = 5, 20


@dataclass(frozen=True, slots=True)
class OpenFinding:
    """A finding of an answer that is too early."""

    answer: str
    finding: Finding

    @property
    def more(self) -> int | None:
        """How many more units would probably settle it, where that is forecast."""
        return self.finding.forecast.more if self.finding.forecast is not None else None


@dataclass(frozen=True, slots=True)
class UnderWay:
    """A change that can still be learned about: sessions before, after, and wanted after it, by time of day."""

    change: Adjustment
    settled: datetime
    before: Mapping[str, int]
    after: Mapping[str, int]
    wanted: Mapping[str, int]

    @property
    def missing(self) -> int:
        return sum(max(self.wanted[slot] - self.after.get(slot, 0), 0) for slot in self.wanted)


def answers_so_far(question: Question) -> list[Answer]:
    """The answers whose open findings are looked through, with their own defaults, so that both say the same."""
    return [ask_of(kind)(question, **_BRIEFLY.get(kind.name, {})) for kind in ANSWERS if kind.open]


# What an answer may leave out where only its findings are looked through.
_BRIEFLY: Mapping[str, Mapping[str, bool]] = {"zones": {"finer": False}, "prefer": {"compare": False}}


# Nobody watched beside anybody, no change on record: not questions this study has asked.
_NOT_ASKED = {("observers", reasons.NO_RECORD), ("shifts", reasons.NO_RECORD)}


def open_findings(answers: Sequence[Answer]) -> list[OpenFinding]:
    """Every finding that is too early."""
    return [
        OpenFinding(answer.answer, finding)
        for answer in answers
        for finding in answer.findings
        if finding.verdict == TOO_EARLY and (answer.answer, finding.reason) not in _NOT_ASKED
    ]


def under_way(question: Question, found: Sequence[OpenFinding], now: datetime) -> list[UnderWay]:
    """Changes made and not yet told from chance, whose time after has not been ended by another change."""
    declared = question.declared
    changes = [c for c in adjustments(question.journals) if c.at <= now]
    undecided = _undecided(found)
    told = []
    for change in changes:
        near = concerning(declared, changes, change)
        seen = windows(near, change)
        if seen.after[1] is not None:
            continue  # ended by the next change: no session to come belongs to it
        here = rows_of_change(declared, question.rows, change)
        before = _sessions(here, *seen.before)
        after = _sessions(here, *seen.after)
        wanted = {slot: min(max(n, FEWEST), MOST) for slot, n in before.items()}
        settling = now < seen.after[0]
        few = any(after.get(slot, 0) < FEWEST for slot in wanted)
        if settling or few or change.id in undecided:
            told.append(UnderWay(change, seen.after[0], before, after, wanted))
    return told


def ended(question: Question, found: Sequence[OpenFinding]) -> Iterator[str]:
    """Changes that stayed undecided and whose time is over, by id."""
    declared, changes = question.declared, adjustments(question.journals)
    undecided = _undecided(found)
    for change in changes:
        if change.id in undecided and windows(concerning(declared, changes, change), change).after[1]:
            yield change.id


def _undecided(found: Sequence[OpenFinding]) -> set[str]:
    return {one.finding.about[0] for one in found if one.answer == "shifts" and one.finding.about}


def _sessions(rows: pd.DataFrame, start: datetime | None, end: datetime | None) -> dict[str, int]:
    """Sessions by time of day from ``start`` to ``end``, in order of time of day."""
    at = rows["at"]
    inside = pd.Series(True, index=rows.index)
    if start is not None:
        inside &= at >= pd.Timestamp(start)
    if end is not None:
        inside &= at < pd.Timestamp(end)
    counts = rows[inside].groupby("slot")["session"].nunique()
    return {str(slot): int(n) for slot, n in counts.items()}


def lotteries_ahead(journals: Journals, now: datetime) -> list[dict[str, Any]]:
    """Changes whose day has been drawn and has not come."""
    made = {c.id for c in adjustments(journals)}
    found = []
    for entry in journals.entries("drawn"):
        fields = entry.record.fields
        day = str(fields["day"])[:10]
        if fields["adjustment"] not in made and day >= now.date().isoformat():
            found.append({"adjustment": str(fields["adjustment"]), "day": day})
    return found
