"""Every answer the page is made of, computed once, with a step told at each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..answers.at_once import at_once
from ..answers.climate import DryingDays, drying_days
from ..answers.plan import Watched, when_watched
from ..answers.records.on_record import ContextEvent, events
from ..answers.shifts import use_around_changes, use_of_zones
from ..study import Declaration
from ..tables import Adjustment, adjustments

if TYPE_CHECKING:
    from ..answers.answer import Answer
    from ..answers.climate import ClimateAnswer
    from ..answers.filters import Filters
    from ..answers.study import FilterOptions, Study

Step = Callable[[str], None]
# What is told while a page is made, in this order.
STEPS = ("journals", "zones", "conditions", "changes", "climate", "retreats", "activity", "plan", "page")


@dataclass(frozen=True)
class Gathered:
    """The answers, and what their figures need beside them.

    ``more`` holds answers that only some studies have: observers, plan.
    """

    declared: Declaration
    made: datetime
    filters: Filters
    zones: Answer
    activity: Answer
    prefer: Answer
    shifts: Answer
    retreats: Answer
    climate: ClimateAnswer
    more: dict[str, Answer]
    changes: Sequence[Adjustment]
    around: pd.DataFrame
    drying: Sequence[DryingDays]
    watched: Sequence[Watched]
    events: Sequence[ContextEvent]
    left_out: int


def gather(study: Study, asked: FilterOptions, made: datetime, step: Step) -> Gathered:
    """Ask everything. ``made`` is the time on the wall, to say how old the newest reading is."""

    def told(name: str, ask: Callable[[], Any]) -> Any:
        step(name)
        return ask()

    declared, journals = study.declared, study.journals
    question = told("journals", lambda: study.question(asked))
    filters = question.filters
    zones = told("zones", lambda: study.zones(**asked))
    prefer = told("conditions", lambda: study.preference(compare=False, **asked))
    shifts = told("changes", lambda: study.shifts(**asked))
    climate = told("climate", lambda: study.climate(clock=made, **asked))
    retreats = told("retreats", lambda: study.retreats(**asked))
    activity = told("activity", lambda: study.activity(**asked))
    zones, prefer, shifts, retreats, activity = at_once([zones, prefer, shifts, retreats, activity])
    more = told("plan", lambda: _more(study, asked, made, (zones, activity, prefer, shifts, retreats)))
    # A change after the time that was asked for is none yet.
    changes = [c for c in adjustments(journals) if filters.until is None or c.at < filters.until]
    use = use_of_zones(question)
    return Gathered(
        declared, made, filters, zones, activity, prefer, shifts, retreats, climate, more, changes,
        use_around_changes(question), drying_days(declared, climate.drying, use),
        when_watched(question), events(journals),
        sum(1 for p in study.problems if not p.hint),
    )  # fmt: skip


def _more(study: Study, asked: FilterOptions, made: datetime, known: Sequence[Answer]) -> dict[str, Answer]:
    """Answers that only some studies have: of observers who watched together, and the plan.

    The plan looks through what is open in ``known``, so that nothing is worked out twice.
    """
    from ..answers.plan import plan

    together = study.observers(**asked)
    ahead = plan(study.question(asked), now=made, known=[*known, together])
    return {a.answer: a for a in (together, ahead) if len(a.table)}
