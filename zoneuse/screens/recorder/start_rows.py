"""The lines of the first screen: what each says, and what choosing it does."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ...recording import Plan, span_words, who_words
from ...recording.words import clock_words
from ...study import under_words, visible

if TYPE_CHECKING:
    from ...recording import Instant, Recall, Said


@dataclass(frozen=True, slots=True)
class StartItem:
    """``does`` is what choosing it does, ``about`` to what."""

    says: str
    does: str
    about: Any = None


@dataclass(slots=True)
class Answers:
    """What has been answered before the session is open; it is written as soon as it is."""

    light: str | None = None
    fed: Instant | None = None
    said: list[tuple[Said, Instant]] | None = None

    @property
    def all_said(self) -> list[tuple[Said, Instant]]:
        return self.said or []

    @property
    def closing(self) -> set[Any]:
        """The places of the open periods that are said to be over."""
        return {said.closes.place for said, _ in self.all_said if said.closes is not None}


def start_rows(plan: Plan, known: Recall | None, answers: Answers, now: datetime) -> list[StartItem]:
    """Sessions to go on with or to join, then Begin, then what can have changed."""
    mine, theirs = _unfinished(plan, known, now)
    rows = [*mine, StartItem(f"Begin: {begin_words(plan)}", "begin"), *theirs]
    rows.append(StartItem(f"Watching: {visible(plan.observer)}", "observer"))
    if plan.declared.treatments:
        under = under_words(plan.declared, plan.treatment) or "none"
        rows.append(StartItem(f"Under: {visible(under)}  (Enter: another)", "treatment"))
    rows.append(StartItem(f"Light: {visible(answers.light or 'not noted')}", "light"))
    last_fed = known.fed if known else None
    ago = f"{span_words((now - last_fed).total_seconds())} ago" if last_fed else "not noted"
    fed = "now" if answers.fed else f"{ago}  (Enter: now)"
    rows.append(StartItem(f"Fed: {fed}", "fed"))
    rows += _periods(plan, known, answers, now)
    rows += [
        StartItem(f"Noted: {_said_words(said)}", "said") for said, _ in answers.all_said if not said.closes
    ]
    rows.append(StartItem("More: shedding, gravid, disturbed …", "more"))
    return rows


def _unfinished(plan: Plan, known: Recall | None, now: datetime) -> tuple[list[StartItem], list[StartItem]]:
    """What stands above Begin, and what below: another person's session is joined, not taken over by Enter."""
    from ...recording import going_on

    above: list[StartItem] = []
    below: list[StartItem] = []
    for session in known.unfinished[:2] if known else ():
        own = session.observer == plan.observer
        at, who = clock_words(session.opened, plan.declared)[:5], visible(session.observer)
        records = sum(e.record.kind in ("seen", "unseen", "happened", "checked") for e in session.entries)
        go_on = [
            StartItem(
                f"Continue {at} ({who}, {records} record{'' if records == 1 else 's'})", "continue", session
            ),
            StartItem(f"Close that of {at} as it is", "recover", session),
        ]
        join = StartItem(f"Join {who}, since {at}, in your own name", "join", session)
        joins = [join] if going_on(session, now) else []
        if own:
            above += go_on[:1]
            below += [*joins, go_on[1]]
        else:
            above += joins
            below += go_on
    return above, below


def _periods(plan: Plan, known: Recall | None, answers: Answers, now: datetime) -> Iterator[StartItem]:
    if not known or not known.open_periods:
        return
    from ...recording import began

    for entry in known.open_periods:
        about = f" {who_words(plan.declared, entry.record.fields)}" if entry.record.get("animal") else ""
        over = entry.place in answers.closing
        state = "over" if over else f"since {span_words((now - began(entry)).total_seconds())}"
        hint = "" if over else "  (Enter: over)"
        what = visible(entry.record.fields["what"])
        yield StartItem(f"{what.capitalize()}:{about} {state}{hint}", "period", entry)


def next_treatment(plan: Plan) -> str | None:
    """The treatment after the plan's in the file's order; after the last one none."""
    order = [None, *plan.declared.treatments]
    now = plan.treatment if isinstance(plan.treatment, str) else None
    return order[(order.index(now) + 1) % len(order)] if now in order else None


def begin_words(plan: Plan) -> str:
    """What begins: settling, then scans, rounds or following."""
    settle = f"settle {span_words(plan.quiet_s)}, " if plan.quiet_s else ""
    if plan.method == "scan":
        scans = f"{plan.scans} scan{'s' if plan.scans > 1 else ''}"
        return f"{settle}{scans}, {span_words(plan.every_s)} apart"
    if plan.method == "retreat-round":
        count = len(plan.retreats)
        return f"look into {count} retreat{'s' if count > 1 else ''}"
    if plan.method == "focal":
        names = _names([visible(one.label) for one in plan.who])
        return f"{settle}follow {names} for {plan.minutes:g} min"
    return "note what is seen in passing"


def _names(labels: Sequence[str]) -> str:
    return labels[0] if len(labels) == 1 else f"{', '.join(labels[:-1])} and {labels[-1]}"


def _said_words(said: Said) -> str:
    words = [str(v) for k, v in said.fields.items() if k not in ("from", "until")]
    return visible(" ".join(words))
