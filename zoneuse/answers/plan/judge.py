"""What is open, as findings: changes under way, changes that ended undecided, and what is nearest to being settled."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime

from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, numbers
from ..question import Question
from .open_findings import OpenFinding, UnderWay

VERDICTS = (TOO_EARLY,)


def still_open(
    question: Question, found: Sequence[OpenFinding], changes: Sequence[UnderWay], over: Sequence[str], now: datetime
) -> list[Finding]:  # fmt: skip
    """Findings in the order in which they are read."""
    told = [_under_way(question, change, now) for change in changes]
    if over:
        told.append(
            Finding(tuple(over), TOO_EARLY, reason=reasons.NEVER_WITH_THIS_DESIGN, unit=question.unit)
        )
    told += [_turned(question, o) for o in found if _by_turning(o)]
    if found:
        told.append(_nearest(question, found))
    return told


def _by_turning(one: OpenFinding) -> bool:
    """Whether no session as they are would settle it, and a gradient turned round would."""
    return one.answer == "prefer" and one.finding.reason == reasons.NEVER_WITH_THIS_DESIGN and bool(one.more)


def _turned(question: Question, one: OpenFinding) -> Finding:
    return Finding(
        one.finding.about, TOO_EARLY, reason=one.finding.reason, forecast=one.finding.forecast, unit=question.unit,
        facts={"turned": True},
    )  # fmt: skip


def _under_way(question: Question, change: UnderWay, now: datetime) -> Finding:
    before, after = sum(change.before.values()), sum(change.after.values())
    short = not change.wanted or change.missing > 0
    return Finding(
        (change.change.id,),
        TOO_EARLY,
        reason=reasons.ONE_SIDE_SHORT if short else reasons.SPREAD,
        numbers=numbers(sessions_before=(before, "sessions"), sessions_after=(after, "sessions")),
        forecast=Forecast(change.missing, None) if change.wanted else None,
        unit="session",
        facts={"under_way": change, "settling": now < change.settled},
    )


def _nearest(question: Question, found: Sequence[OpenFinding]) -> Finding:
    """How many findings are open, and the one that needs least more watching."""
    nearest = min(
        (o for o in found if o.more and not _by_turning(o)), key=lambda o: o.more or 0, default=None
    )
    counts = dict(Counter(o.answer for o in found))
    named = numbers(**{name: (n, "findings") for name, n in counts.items()})
    if nearest is None:
        return Finding(
            (), TOO_EARLY, reason=reasons.SPREAD, numbers=named, unit=question.unit, facts={"by_answer": counts}
        )  # fmt: skip
    one = nearest.finding
    return Finding(
        one.about, TOO_EARLY, reason=one.reason, numbers=named, forecast=one.forecast,
        unit="day" if one.unit == "day" else "session", facts={"by_answer": counts, "answer": nearest.answer},
    )  # fmt: skip
