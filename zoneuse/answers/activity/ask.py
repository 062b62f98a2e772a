"""What is done, how much, at which hours, and whether that is more than usual."""

from __future__ import annotations

from datetime import datetime, timedelta

import numpy as np

from ...stats.intervals import mean_shares
from .. import reasons
from ..answer import Answer
from ..columns import empty, typed
from ..finding import TOO_EARLY, Finding, in_words
from ..nothing import nothing
from ..question import ELSE, Question
from ..records.budgets import BEHAVIOUR, are_budgets, said, with_budgets
from .beside import beside
from .bouts import bouts
from .columns import PARTS, ROWS, SHOWN
from .judge import against_baseline, rates
from .tables import by_hour, by_zone, events_and_hours, shares_of_units, thirds, use_table
from .words import cautions, headline, sentence, time_said

# "Recent" is the last two weeks.
RECENT = timedelta(days=14)


def activity(
    question: Question, *, usual_within: float = 0.10, recent_from: datetime | None = None
) -> Answer:
    """Share of moments by behaviour and momentary events per animal and hour, against the animals' own past.

    ``recent_from`` parts the recent sessions from the baseline before them (default: 14 days before the
    newest). ``usual``: the 90 % interval of the difference lies within ``usual_within`` either way.
    """
    question = with_budgets(question, BEHAVIOUR)
    declared, rows = question.declared, question.rows
    known = rows[rows["behaviour"].notna()].reset_index(drop=True)
    events = events_and_hours(question)
    if not len(known) and not events:
        return _nothing(question)
    lasting = [b.id for b in declared.behaviours.values() if b.lasts]
    names = [name for name in (*lasting, ELSE) if (known["behaviour"] == name).any()]
    shares = shares_of_units(known, names, question.unit) if names else np.empty((0, 0))
    whole = mean_shares(shares, compared=1) if len(shares) else None
    table = use_table(known, names, whole, events)
    since = recent_from or (rows["at"].max().to_pydatetime() - RECENT)
    side = beside(question, names, since)
    findings, against = against_baseline(question, side, names, since=since, within=usual_within)
    moments = known[~are_budgets(known)].reset_index(drop=True)
    parts = {
        "against_baseline": against,
        "bouts": bouts(question),
        "first_and_last_third": thirds(declared, moments),
    }
    return Answer(
        answer="activity",
        study=declared.title,
        filters=question.filters,
        table=typed(table, ROWS, question.labels),
        findings=in_words([*findings, *rates(question, table)], lambda f: sentence(f, question.labels)),
        cautions=cautions(question, known, side) + said(rows, question.unit),
        effort=question.effort.to_dict(),
        parts={
            **{name: typed(part, PARTS[name], question.labels) for name, part in parts.items()},
            "by_zone": by_zone(moments, names),
            "by_hour": by_hour(declared, moments, question.unit),
        },
        shown=SHOWN,
        labels=question.labels,
        headline=headline(question.effort, moments),
        notes=time_said(parts["bouts"], table, bool(are_budgets(known).any()), question.labels),
    )


def _nothing(question: Question) -> Answer:
    facts = {"nothing": nothing(question)}
    found = (Finding((), TOO_EARLY, reason=reasons.NO_RECORD, unit=question.unit, facts=facts),)
    return Answer(
        "activity", question.declared.title, empty(ROWS), in_words(found, lambda f: sentence(f, question.labels)),
        effort=question.effort.to_dict(), filters=question.filters,
    )  # fmt: skip
