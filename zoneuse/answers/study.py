"""An open study: the folder's contents, read once, and a method for each question."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypedDict, TypeVar, Unpack

from ..journal import Journals, read_journals
from ..study import Declaration, Problem, ProblemError, load_declaration

if TYPE_CHECKING:
    import pandas as pd

    from ..journal import RecordColumns
    from ..readings.trust.cross_checks import Loaded
    from ..tables import Recorded
    from .answer import Answer
    from .climate.shown import ClimateAnswer
    from .filters import Filters
    from .question import Question

A = TypeVar("A", bound="Answer")


class FilterOptions(TypedDict, total=False):
    """Which moments an answer looks at: ids, keys or labels (a list, or text with commas), times, a slot."""

    animals: Sequence[str] | str | None
    since: datetime | str | None
    until: datetime | str | None
    slot: str | None
    behaviours: Sequence[str] | str | None
    treatments: Sequence[str] | str | None
    phases: Sequence[str] | str | None


def _in_columns(lines: Sequence[bytes]) -> RecordColumns:
    # Loaded where a journal is long enough to gain by it.
    from ..journal import read_columns

    return read_columns(lines)


class Study:
    """A study folder, open for questions. Nothing in it is changed by asking."""

    def __init__(self, folder: Path | str) -> None:
        """Raises ProblemError where study.toml has faults, or a journal's format is newer than this version."""
        self.folder = Path(folder)
        self.declared: Declaration = load_declaration(self.folder)
        newer = [p for p in self.journals.problems if p.code == "newer-format"]
        if newer:
            raise ProblemError(newer)

    @functools.cached_property
    def journals(self) -> Journals:
        return read_journals(self.folder, _in_columns)

    @property
    def problems(self) -> tuple[Problem, ...]:
        """What of the journals and of the readings could not be read; it is left out of every answer."""
        from ..readings.store import intakes

        return *self.journals.problems, *intakes(self.folder)[1]

    @functools.cached_property
    def _loaded(self) -> Loaded:
        from ..readings.trust import load_all

        return load_all(self.folder, self.declared)

    def _readings(self) -> Loaded:
        """What the loggers measured, loaded once when an answer first needs it."""
        return self._loaded

    @functools.cached_property
    def moments(self) -> pd.DataFrame:
        """Every moment watched, one row per animal (or group and zone): see ``zoneuse.tables.moments``."""
        return self._recorded.moments

    @property
    def records(self) -> pd.DataFrame:
        """Every sighting on record, and why it is left out where it is: see ``zoneuse.tables.records``."""
        return self._recorded.records

    @functools.cached_property
    def _recorded(self) -> Recorded:
        from ..tables import recorded

        return recorded(self.declared, self.journals)

    def _accounted(
        self, answer: Answer, asked: FilterOptions, doings: bool = False, budgets: str = ""
    ) -> Answer:
        """An answer that says where every record went; ``doings`` where it is about what is done,
        ``budgets`` which time budgets it uses."""
        from .records.accounts import accounts, left_out_words

        found = accounts(self.records, self.moments, self._filters(asked), doings=doings, budgets=budgets)
        return replace(
            self._headed(answer),
            effort={**answer.effort, **found.to_dict()},
            cautions=(*left_out_words(found), *answer.cautions),
        )

    def _headed(self, answer: A) -> A:
        """An answer under the sentence that answers the question; what it rests on follows."""
        from .phrases import asked_words, narrowed
        from .registry import answer_kind, picture_of

        told = replace(answer, declared=self.declared, basis=answer.headline)
        headline = picture_of(answer_kind(answer.answer)).headline(told)
        if len(answer.table):
            # What has nothing to tell says in its own words what was asked for.
            headline = narrowed(headline, asked_words(self.declared, answer.filters))
        return replace(told, headline=headline)

    def _filters(self, asked: FilterOptions) -> Filters:
        from .filters import make_filters

        return make_filters(
            self.declared,
            animals=asked.get("animals"),
            since=self._time(asked.get("since")),
            until=self._time(asked.get("until")),
            slot=asked.get("slot"),
            behaviours=asked.get("behaviours"),
            treatments=asked.get("treatments"),
            phases=asked.get("phases"),
        )

    def question(self, asked: FilterOptions, cluster: str | None = None, seed: int = 1) -> Question:
        """What every answer starts from."""
        from .question import Question

        return Question(
            self.declared, self.journals, self.moments, self._filters(asked), self._readings, cluster, seed
        )

    def _time(self, when: datetime | str | None) -> datetime | None:
        from ..study import to_utc

        if when is None:
            return None
        return to_utc(datetime.fromisoformat(when) if isinstance(when, str) else when, self.declared.timezone)

    def answer(self, name: str, **asked: Any) -> Answer:
        """Any answer of the registry by the name of its command; ``asked`` are filters and its own options."""
        from .registry import answer_kind, ask_of

        kind = answer_kind(name)
        method = getattr(self, kind.function, None)
        if method is not None:
            named: Answer = method(**asked)
            return named
        filters: FilterOptions = {k: asked.pop(k) for k in tuple(asked) if k in FilterOptions.__annotations__}  # type: ignore[assignment]
        return self._accounted(ask_of(kind)(self.question(filters), **asked), filters)

    def zones(
        self,
        *,
        cluster: str | None = None,
        availability: str = "measured",
        even_within: tuple[float, float] = (0.67, 1.5),
        cuts: bool = True,
        second_opinion: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """Which places are avoided or favoured: use against what is offered, and how sure that is.

        ``cluster`` is the unit of evidence (session, day or moment), ``availability`` measured or equal;
        ``even_within`` are the ratios the 90 % interval must lie in for a zone to be used in proportion. Without
        ``cuts`` the parts by animal and slot are left out.

        ``second_opinion`` adds what a standard method says of each row.
        """
        from .zones.ask import zones

        question = self.question(asked, cluster)
        answer = zones(
            question,
            availability=availability,
            even_within=even_within,
            cuts=cuts,
        )
        answer = _with_second(question, answer) if second_opinion else answer
        return self._accounted(answer, asked, budgets="zone")

    def activity(
        self,
        *,
        cluster: str | None = None,
        usual_within: float = 0.10,
        recent_from: datetime | str | None = None,
        second_opinion: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """What is done, how much, at which hours, and whether that is more than these animals' usual.

        Sessions from ``recent_from`` (14 days before the newest) are held against those before; ``usual_within`` is
        how far either way the 90 % interval of the difference may reach for a share to be as usual.

        ``second_opinion`` adds what a standard method says of each row.
        """
        from .activity.ask import activity

        question = self.question(asked, cluster)
        answer = activity(question, usual_within=usual_within, recent_from=self._time(recent_from))
        answer = _with_second(question, answer) if second_opinion else answer
        return self._accounted(answer, asked, doings=True, budgets="behaviour")

    def preference(
        self,
        *,
        cluster: str | None = None,
        availability: str = "measured",
        what_if: str | None = None,
        sessions: int | None = None,
        compare: bool = True,
        second_opinion: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """Which conditions are chosen when there is a choice, and why places are avoided.

        ``what_if`` ("moss_end.humidity_pct=85") adds the shares expected under that change, in ``sessions``
        sessions to come. Without ``compare`` models of fewer and other quantities are not held against it.

        ``second_opinion`` adds what a standard method says of each row.
        """
        from .preference.ask import preference
        from .preference.why import read_change

        question = self.question(asked, cluster)
        answer = preference(
            question,
            availability=availability,
            what_if=None if what_if is None else read_change(what_if),
            sessions=sessions,
            compare=compare,
        )
        return self._accounted(_with_second(question, answer) if second_opinion else answer, asked)

    def shifts(
        self,
        *,
        cluster: str | None = None,
        held_within: float = 0.10,
        between: Sequence[str] | str | None = None,
        expects: Sequence[str] = (),
        controls: Sequence[str] | str = (),
        second_opinion: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """What moved after each change on record, against what was expected of it; or ``between`` treatments or phases.

        ``controls``: who was left alone over the same time (enclosures, animals, or those under a treatment); then the
        change of the others is held against theirs. ``expects`` is what was expected of the second of them
        (``["hide:up"]``), where study.toml does not say it.

        ``held_within`` is how far either way the 90 % interval of a change may reach for a share to have held.

        ``second_opinion`` adds what a standard method says of each row.
        """
        from .shifts.ask import shifts

        question = self.question(asked, cluster)
        named = between.split(",") if isinstance(between, str) else between or ()
        names = [n.strip() for n in named if n.strip()]
        alone = controls.split(",") if isinstance(controls, str) else controls
        alone = [n.strip() for n in alone if n.strip()]
        answer = shifts(question, held_within=held_within, between=names, expects=expects, controls=alone)
        told = _with_second(question, answer) if second_opinion else answer
        return self._accounted(told, asked, budgets="zone or behaviour")

    def retreats(self, *, second_opinion: bool = False, **asked: Unpack[FilterOptions]) -> Answer:
        """Which retreats are used, by whom, whether each keeps to one, and who is found together.

        ``second_opinion`` adds what a standard method says of each row.
        """
        from .retreats.ask import retreats

        question = self.question(asked)
        answer = retreats(question)
        return self._accounted(_with_second(question, answer) if second_opinion else answer, asked)

    def observers(
        self,
        *,
        within_s: float | None = None,
        by: str = "auto",
        use_offset: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """Whether observers who watched the same animals at once agree, and what they take for each other.

        Records meet by scan number or by time (``by`` "scan" or "time" forces one), at most ``within_s`` seconds
        apart; ``use_offset`` allows for the estimated difference between their clocks.
        """
        from .observers.ask import observers

        answer = observers(
            self.question(asked),
            within_s=within_s,
            by=by,
            use_offset=use_offset,
        )
        return self._accounted(answer, asked)

    def plan(
        self,
        *,
        now: datetime | str | None = None,
        sessions: int = 6,
        seed: int | None = None,
        **asked: Unpack[FilterOptions],
    ) -> Answer:
        """What has been watched, what is open, and the next sessions drawn by lot from the times you can.

        From ``now`` on, or from the last moment on record. The day's date as a number is the seed unless given.
        """
        from .plan.ask import plan

        answer = plan(
            self.question(asked),
            now=self._time(now) or self._last(),
            sessions=sessions,
            seed=seed,
        )
        return self._accounted(answer, asked)

    def _last(self) -> datetime:
        """When the last record was made; where there is none, the beginning of 2000."""
        times = [e.record.at for e in self.journals.entries()]
        return max(times) if times else datetime(2000, 1, 1, tzinfo=UTC)

    def climate(
        self,
        *,
        now: datetime | str | None = None,
        clock: datetime | None = None,
        backtest: bool = False,
        **asked: Unpack[FilterOptions],
    ) -> ClimateAnswer:
        """Whether the zones differ, in what and when; which retreat is drying, and when water must go in.

        Days count from each zone's newest reading, or from ``now``; ``clock`` is the time on the wall, to say how
        old that reading is. ``backtest`` adds how earlier forecasts would have done.
        """
        from .climate.ask import climate

        answer = climate(
            self.question(asked),
            now=self._time(now),
            clock=clock,
            with_backtest=backtest,
        )
        return self._headed(answer)


def _with_second(question: Question, answer: Answer) -> Answer:
    """Loads statsmodels, so only where it is asked for."""
    from .second_opinion.ask import with_second_opinion

    return with_second_opinion(question, answer)
