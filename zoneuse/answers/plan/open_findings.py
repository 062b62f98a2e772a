"""What is still open in a study: findings that are too early, and changes under way that need sessions after them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import pandas as pd

from ...journal.reader import Journals
from ...study.model import Declaration
from ...tables.conditions import Readings
from ...tables.phases import Adjustment, adjustments
from ..activity.ask import activity
from ..answer import Answer
from ..filters import Filters, select
from ..finding import TOO_EARLY
from ..observers.ask import observers
from ..preference.ask import preference
from ..retreats.ask import retreats
from ..shifts.ask import shifts
from ..shifts.controls import concerning, rows_of_change
from ..shifts.phases import windows
from ..zones.ask import zones

# Of each time of day, as many sessions after a change as before it (the same effort on both sides), within these.
FEWEST, MOST = 5, 20


@dataclass(frozen=True, slots=True)
class Question:
    """A finding that is too early; ``more`` is how many units would probably settle it, where that is forecast."""

    answer: str
    about: tuple[str, ...]
    says: str
    more: int | None


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


def answers_so_far(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    readings: Readings | None,
) -> list[Answer]:
    """The answers whose open findings are looked through, with their own defaults, so that both say the same."""
    asked = declared, journals, moments, filters
    return [
        zones(*asked, finer=False),
        activity(*asked),
        preference(*asked, compare=False, readings=readings),
        shifts(*asked, readings=readings),
        retreats(*asked, readings=readings),
        observers(*asked),
    ]


def questions(answers: Sequence[Answer]) -> list[Question]:
    """Every finding that is too early."""
    found = []
    for answer in answers:
        if answer.answer in ("observers", "shifts") and not len(answer.table) and not _named(answer):
            continue  # nobody watched beside anybody, no change on record: not questions this study has asked
        more = _forecast(answer)
        for finding in answer.findings:
            if finding.verdict == TOO_EARLY:
                forecast = len(finding.about) == 1 and "would settle it with a chance" in finding.says
                number = more.get(finding.about[0]) if forecast else None
                found.append(Question(answer.answer, finding.about, finding.says, number))
    return found


def _named(answer: Answer) -> bool:
    """Whether a finding speaks of a change; without one there is none on record."""
    return answer.answer == "shifts" and any(f.about for f in answer.findings)


def _forecast(answer: Answer) -> dict[str, int]:
    part = answer.parts.get("settling")
    if part is None or "more" not in part:
        return {}
    known = part[part["more"].notna()]
    return {str(z): int(m) for z, m in zip(known["zone"], known["more"], strict=True)}


def under_way(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    open_questions: Sequence[Question],
    now: datetime,
) -> list[UnderWay]:
    """Changes made and not yet told from chance, whose time after has not been ended by another change."""
    changes = [c for c in adjustments(journals) if c.at <= now]
    undecided = {q.about[0] for q in open_questions if q.answer == "shifts" and q.about}
    rows = select(moments, filters)
    found = []
    for change in changes:
        near = concerning(declared, changes, change)
        seen = windows(near, change)
        if seen.after[1] is not None:
            continue  # ended by the next change: no session to come belongs to it
        here = rows_of_change(declared, rows, change)
        before = _sessions(here, *seen.before)
        after = _sessions(here, *seen.after)
        wanted = {slot: min(max(n, FEWEST), MOST) for slot, n in before.items()}
        settling = now < seen.after[0]
        few = any(after.get(slot, 0) < FEWEST for slot in wanted)
        if settling or few or change.id in undecided:
            found.append(UnderWay(change, seen.after[0], before, after, wanted))
    return found


def ended(declared: Declaration, journals: Journals, open_questions: Sequence[Question]) -> Iterator[str]:
    """Changes that stayed undecided and whose time is over, by id."""
    changes = adjustments(journals)
    undecided = {q.about[0] for q in open_questions if q.answer == "shifts" and q.about}
    for change in changes:
        if change.id in undecided and windows(concerning(declared, changes, change), change).after[1]:
            yield change.id


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


def drawn_ahead(journals: Journals, now: datetime) -> list[dict[str, Any]]:
    """Changes whose day has been drawn and has not come."""
    made = {c.id for c in adjustments(journals)}
    found = []
    for entry in journals.entries("drawn"):
        fields = entry.record.fields
        day = str(fields["day"])[:10]
        if fields["adjustment"] not in made and day >= now.date().isoformat():
            found.append({"adjustment": str(fields["adjustment"]), "day": day})
    return found
