"""Every answer the page is made of, computed once, with a step told at each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from ..answers.drying_days import DryingDays, drying_days
from ..answers.on_record import Event, events
from ..answers.use_over_time import use_around_changes, use_of_zones
from ..answers.when_watched import when_watched
from ..study.model import Declaration
from ..tables.phases import Adjustment, adjustments

if TYPE_CHECKING:
    from ..answers.answer import Answer
    from ..answers.climate_shown import ClimateAnswer
    from ..answers.study import Asked, Study

Step = Callable[[str], None]


@dataclass(frozen=True)
class Gathered:
    """The answers, and what their figures need beside them. ``more`` holds answers a study may have: plan, observers."""

    declared: Declaration
    made: datetime
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
    watched: pd.DataFrame
    events: Sequence[Event]
    left_out: int


def gather(study: Study, asked: Asked, made: datetime, step: Step) -> Gathered:
    """Ask everything. ``made`` is the time on the wall, to say how old the newest reading is."""

    def told(name: str, ask: Callable[[], Any]) -> Any:
        step(name)
        return ask()

    declared, journals = study.declared, study.journals
    moments = told("journals", lambda: study.moments)
    filters = study._filters(asked)
    zones = told("zones", lambda: study.zones(**asked))
    prefer = told("conditions", lambda: study.preference(**asked))
    shifts = told("changes", lambda: study.shifts(**asked))
    climate = told("climate", lambda: study.climate(clock=made, **asked))
    retreats = told("retreats", lambda: study.retreats(**asked))
    activity = told("activity", lambda: study.activity(**asked))
    use = use_of_zones(declared, moments, filters)
    return Gathered(
        declared, made, zones, activity, prefer, shifts, retreats, climate, _more(study, asked), adjustments(journals),
        use_around_changes(declared, journals, moments, filters), drying_days(declared, climate.drying, use),
        when_watched(declared, journals, moments, filters), events(journals),
        sum(1 for p in study.problems if not p.hint),
    )  # fmt: skip


def _more(study: Study, asked: Asked) -> dict[str, Answer]:
    """Answers that only some studies have: of observers who watched together, and the plan."""
    found = {}
    if len({s.observer for s in study.journals.sessions.values() if s.watched}) > 1:
        found["observers"] = study.observers(**asked)
    return {name: answer for name, answer in found.items() if len(answer.table)}
