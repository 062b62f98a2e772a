"""Start a session's journal, or go on with one that was cut off."""

from __future__ import annotations

import dataclasses
from collections import defaultdict
from datetime import datetime

from ...journal import Record, Session, new_session_id, place_named
from ...study import METHODS
from ..session.beat import Beat
from ..session.instant import Instant
from ..session.ledger import Ledger, LedgerEntry, next_part
from ..session.plan import Plan, PlanError, for_method
from ..session.recall import CONTINUE_H, hours_since
from .ad_libitum import AdLibitum
from .focal import Focal
from .mode import Mode
from .recorder import Recorder
from .retreats.rounds import Rounding
from .scanning import Scanning
from .sheet import COUNTED, Act, Sheet


def begin(plan: Plan, instant: Instant) -> Recorder:
    """Open a new session's file and its recorder. Raises OSError where the disk refuses even that."""
    declared = plan.declared
    session = new_session_id(instant.at, plan.observer)
    header = plan.opened(instant.at)
    journal = next_part(declared.folder, session, 1, instant, header, zone=declared.timezone)
    ledger = Ledger(journal, declared.folder, declared.timezone, header, instant.mono)
    return _recorder(plan, ledger, Beat(instant.mono + plan.quiet_s, plan.every_s, plan.scans))


def plan_of(plan: Plan, session: Session) -> Plan:
    """The plan of a session begun earlier: its own observer, method and beat, and whom it was about.

    Raises PlanError where that cannot be watched any more (no retreat is left, say).
    """
    own = _as_begun(plan, session)
    return for_method(own, own.method, session.opened, _followed(plan, session))


def joined_plan(plan: Plan, session: Session, now: datetime) -> Plan:
    """A session of one's own beside another person's: of the same kind, on the same animals, in the same beat.

    Scans begin when theirs do; following and rounds have no turn to wait for. Raises PlanError as ``plan_of``.
    """
    from ..session.others import turn_of

    same = plan_of(plan, session)
    wait = turn_of(session, same.every_s).wait_s(now) if same.method == "scan" else 0.0
    return dataclasses.replace(same, observer=plan.observer, quiet_s=wait)


def _as_begun(plan: Plan, session: Session) -> Plan:
    opened = _opened(session)
    return dataclasses.replace(
        plan,
        method=next(m for m in METHODS if m == session.method),
        observer=session.observer,
        every_s=session.every_s or plan.every_s,
        minutes=session.minutes or plan.minutes,
        treatment=plan.treatment or (opened.get("treatment") if opened is not None else None),
    )


def _opened(session: Session) -> Record | None:
    return next((e.record for e in session.entries if e.record.kind == "opened"), None)


def _followed(plan: Plan, session: Session) -> tuple[str, ...]:
    """The animals a focal session is about: those it was opened for, else those of its records, or asked for now."""
    if session.method != "focal":
        return ()
    opened = _opened(session)
    named = opened.get("animals") if opened is not None else None
    if isinstance(named, list) and named and all(isinstance(one, str) for one in named):
        return tuple(named)
    seen = [e.record.get("animal") for e in session.entries if e.record.kind in ("seen", "unseen")]
    asked = [one.id for one in plan.who] if plan.method == "focal" else []
    return tuple(dict.fromkeys([name for name in seen if name] or asked))


def go_on(plan: Plan, session: Session, instant: Instant) -> Recorder:
    """Go on with a session in a new part; what was cut off is never appended to.

    ``plan`` must be the session's (``plan_of``). The scan that was running is over: who was not answered in
    it is missed; the next scan begins now (after ``plan.quiet_s`` seconds). The time away is no scan at all.
    Raises PlanError where its last record is too long ago: what came between would lie inside it.
    """
    declared = plan.declared
    if (hours := hours_since(session, instant.at)) > CONTINUE_H:
        raise PlanError(
            f"its last record is {hours:.0f} h old, over the {CONTINUE_H:.0f} h allowed; begin a new one"
        )
    header = plan.opened(instant.at)
    journal = next_part(declared.folder, session.id, _next(session), instant, header, zone=declared.timezone)
    ledger = Ledger(journal, declared.folder, declared.timezone, header, instant.mono)
    void = {entry.place for entry in session.void}
    everything = sorted((*session.entries, *session.void), key=lambda e: (e.stood, e.written is not None))
    ledger.adopt(((e.place, e.record, e.place in void) for e in everything), instant)
    last = max((e.record.get("scan") or 0 for e in everything), default=0)
    first = min(last + 1, plan.scans + 1)
    core = _recorder(plan, ledger, Beat(instant.mono + plan.quiet_s, plan.every_s, plan.scans, first), last)
    core.take_up()
    core.sheet.acts = _acts(ledger)
    if isinstance(core.mode, Rounding):
        core.mode.take_up()
    return core


def close_as_it_stands(plan: Plan, session: Session, instant: Instant) -> None:
    """Write the end of a session that was cut off, in a part of its own."""
    own, declared = _as_begun(plan, session), plan.declared
    header = own.opened(instant.at)
    journal = next_part(declared.folder, session.id, _next(session), instant, header, zone=declared.timezone)
    try:
        journal.append("closed", instant.at, reason="recovered", mono=instant.mono)
    finally:
        journal.close()


def _next(session: Session) -> int:
    """The number of the part after the last one there is, on whatever device that was made."""
    return max((e.part for e in (*session.entries, *session.void)), default=session.parts) + 1


def _acts(ledger: Ledger) -> list[Act]:
    """What can still be undone: each record of the earlier parts by itself, with what it stands in for."""
    lines = {line.place: line for line in ledger.lines}
    instead: dict[int, list[tuple[LedgerEntry, LedgerEntry | None]]] = defaultdict(list)
    for back in ledger.lines:
        if back.kind == "took-back" and not back.void:
            old, new = (lines.get(place_named(back.fields.get(name) or {})) for name in ("of", "replaces"))
            if old is not None and new is not None:
                instead[new.serial].append((old, back))
    return [
        Act([line], None, line.fields.get("scan"), instead[line.serial])
        for line in ledger.lines
        if line.kind in COUNTED
    ]


def _recorder(plan: Plan, ledger: Ledger, beat: Beat, scan: int = 0) -> Recorder:
    sheet = Sheet(plan, ledger)
    return Recorder(sheet, _mode(sheet, beat, scan))


def _mode(sheet: Sheet, beat: Beat, scan: int) -> Mode:
    plan = sheet.plan
    if plan.method == "focal":
        return Focal(sheet, Beat(beat.first, plan.minutes * 60, 1))
    if plan.method == "ad-libitum":
        return AdLibitum(sheet)
    if plan.method == "retreat-round":
        return Rounding(sheet, plan.retreats[0])
    return Scanning(sheet, beat, scan)
