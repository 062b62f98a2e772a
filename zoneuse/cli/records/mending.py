"""``mend``: list records and correct them. Nothing is rewritten: a correction is a new file that says so."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from ...journal import Entry, Journals, Session, place_named, read_journals
from ...recording import line_words
from ...recording.mending import (
    PROGRAM,
    MendError,
    last_made,
    made_words,
    mend_entry,
    put_back,
    take_back_session,
)
from ...study import Declaration, UnknownNameError, load_declaration, visible
from ..narration import say, say_problems, tell, tell_saved
from ..options import past_time, someone_there, study_option, wall_clock
from .mending_last import ask_number, ask_what, chosen, list_last

_MANY = 30


@click.command(epilog="Example:  zoneuse mend --study my-demo")
@study_option
@click.option("--take-back", is_flag=True, help="Take the record back (without N: the whole session).")
@click.option("--put-back", is_flag=True, help="Let a record that was taken back count again.")
@click.option("--animal", metavar="ANIMAL", help="It was this animal or group.")
@click.option("--zone", metavar="ZONE", help="It was here.")
@click.option("--behaviour", metavar="BEHAVIOUR", help="It did this (- for none).")
@click.option("--count", type=click.IntRange(1, 9999), help="There were this many (groups).")
@click.option(
    "--minutes", type=click.FloatRange(0), help="This many minutes were spent there (time budgets)."
)
@click.option("--guess/--sure", default=None, help="It was a guess; it was sure.")
@click.option("--hidden/--visible", default=None, help="It was there but not visible; it was visible.")
@click.option("--at", "when", metavar="TIME", help="When it really was.")
@click.option("--text", metavar="TEXT", help="A note's text, or the value of a feed, a weight …")
@click.option("--observer", metavar="NAME", help="Who is correcting (default: as in study.toml).")
@click.option("--sessions", is_flag=True, help="List the newest sessions.")
@click.option("--all", "everything", is_flag=True, help="List every session.")
@click.argument("session", required=False)
@click.argument("number", required=False, metavar="N")
def mend(
    *, folder: Path, session: str | None, number: str | None, take_back: bool, put_back: bool, when: str | None,
    observer: str | None, sessions: bool, everything: bool, **changes: Any,
) -> None:  # fmt: skip
    """List and correct records, leaving a trace; nothing already written is changed or deleted.

    \b
    zoneuse mend                            the last records of every kind, numbered from the newest
    zoneuse mend 3                          show the third of them, and correct it or take it back
    zoneuse mend 3 --zone moss_end          the same without questions (--take-back, --put-back, --text …)
    zoneuse mend --sessions                 the sessions
    zoneuse mend last                       the records of the newest session (or an id, or its beginning)
    zoneuse mend last 7 --zone moss_end     record 7 was in another zone
    zoneuse mend last 7 --take-back         record 7 never was (2:7 is record 7 of part 2)
    """
    declared, now = load_declaration(folder), wall_clock()
    journals = read_journals(folder)
    say_problems(p for p in journals.problems if not p.hint)
    wanted = _wanted(changes, when, take_back, put_back)
    if everything or sessions:
        _list_sessions(declared, journals, everything)
        return
    bench = _Bench(declared, journals, observer or declared.watching.observer, now)
    if session is None or (number is None and session.isdecimal() and len(session) <= _LONGEST_NUMBER):
        _mend_one_of_the_last(bench, session, wanted)
        return
    chosen_session = _session(journals, session)
    if number is None:
        _mend_session(bench, journals, chosen_session, wanted)
        return
    entry = _entry(chosen_session, number)
    _mend(bench, entry, _standing(chosen_session, entry), wanted)


def _wanted(changes: dict[str, Any], when: str | None, take_back: bool, put_back: bool) -> dict[str, Any]:
    """What was asked for, by the names of the options."""
    wanted = {name: value for name, value in changes.items() if value is not None}
    if when:
        wanted["when"] = when
    if take_back or put_back:
        wanted["take_back" if take_back else "put_back"] = True
    return wanted


def _mend_session(bench: _Bench, journals: Journals, session: Session, wanted: dict[str, Any]) -> None:
    """Take a whole session back, or list its records."""
    if wanted.get("take_back"):
        take_back_session(bench.declared, session.id, bench.mender, bench.now)
        tell_saved(f"Taken back: the whole session {session.id}; zoneuse mend --sessions still shows it.")
        return
    if wanted:
        raise click.UsageError("which record? Give its number after the session.")
    _list_records(bench.declared, journals, session)


_LONGEST_NUMBER = 3


@dataclass(frozen=True, slots=True)
class _Bench:
    """What mending needs: the study and its journals, who mends, and when."""

    declared: Declaration
    journals: Journals
    mender: str
    now: datetime


def _mend_one_of_the_last(bench: _Bench, number: str | None, wanted: dict[str, Any]) -> None:
    declared, now = bench.declared, bench.now
    if number is None:
        if wanted:
            raise click.UsageError("which record? zoneuse mend lists the last ones; give a number of it.")
        made = list_last(declared, bench.journals, now)
        one = ask_number(made) if made and someone_there() else None
    else:
        one = chosen(last_made(bench.journals), number)
    if one is None:
        return
    if not wanted and someone_there():
        answer = ask_what(declared, one, now)
        if answer is None:
            say("Nothing was changed.")
            return
        wanted = dict([answer])
    elif not wanted:
        tell(made_words(declared, one, now))
        return
    _mend(bench, one.first, one.now, wanted)


def _mend(bench: _Bench, entry: Entry, in_force: Entry | None, wanted: dict[str, Any]) -> None:
    """Correct a record, take it back, or let it count again, and say what it was and is."""
    try:
        _mend_it(bench, entry, in_force, wanted)
    except (MendError, UnknownNameError) as error:
        raise click.UsageError(f"{error}.") from None


def _mend_it(bench: _Bench, entry: Entry, in_force: Entry | None, wanted: dict[str, Any]) -> None:
    declared, now = bench.declared, bench.now
    if "put_back" in wanted:
        again = put_back(declared, bench.journals, entry, bench.mender, now)
        tell_saved(f"Counts again: {again.now}")
        return
    if in_force is None:
        raise click.UsageError("that record was taken back; --put-back lets it count again.")
    if not wanted:
        raise click.UsageError(
            "what is to be corrected? Give --zone, --behaviour, --animal … or --take-back."
        )
    if "when" in wanted:
        wanted = {**wanted, "when": past_time(wanted["when"], declared, now)}
    done = mend_entry(declared, in_force, wanted, bench.mender, now)
    tell_saved(f"Was:  {done.was}\nNow:  {done.now}" if done.now else f"Taken back: {done.was}")


# Listing. ------------------------------------------------------------------------------------------------------


def _list_sessions(declared: Declaration, journals: Journals, everything: bool) -> None:
    sessions = list(journals.sessions.values())
    if not sessions:
        say("Nothing is recorded yet; start with: zoneuse watch")
    if not everything and len(sessions) > _MANY:
        say(f"The newest {_MANY} of {len(sessions)}; --all shows every one.")
        sessions = sessions[-_MANY:]
    for one in sessions:
        local = one.opened.astimezone(declared.timezone)
        made = sum(e.record.kind not in PROGRAM for e in one.entries)
        state = "" if one.closed or not one.watched else ", not finished"
        back = f", {len(one.void)} taken back" if one.void else ""
        records = f"{made} record{'s' * (made != 1)}{back}{state}"
        tell(f"{local:%Y-%m-%d %H:%M}  {one.id}  {one.method}, {visible(one.observer)}, {records}")


def _list_records(declared: Declaration, journals: Journals, session: Session) -> None:
    in_force = {e.stood: e for e in session.entries}
    # A correction that lies in its own session is told with what it corrects.
    own = [e for e in (*session.entries, *session.void) if not e.written]
    for entry in sorted((e for e in own if e.place not in journals.corrections), key=lambda e: e.place):
        record = entry.record
        if record.kind in PROGRAM:
            continue
        counts = in_force.get(entry.place)
        state = ""
        if counts is None:
            state = "  (taken back)"
        elif counts.place != entry.place:
            state = f"  (corrected; was: {line_words(declared, record)})"
        record = counts.record if counts is not None else record
        at = f"{record.at.astimezone(declared.timezone):%H:%M:%S}"
        part = f"{_part(session, entry)}:" if session.parts > 1 else ""
        scan = f"  scan {record.get('scan')}" if record.get("scan") is not None else ""
        tell(f"{part}{entry.record.n:>4}  {at}{scan}  {line_words(declared, record)}{state}")
        for other in _other_corrections(journals, entry):
            tell(f"{'':>8}also corrected, which does not count: {line_words(declared, other.record)}")


def _other_corrections(journals: Journals, entry: Entry) -> list[Entry]:
    """What another device or person made of the same record."""
    earlier = journals.backs.get(entry.place, ())[:-1]
    made = [place_named(back.record.get("replaces") or {}) for back in earlier]
    found = [journals.written(place) for place in made if place is not None]
    return [e for e in found if e is not None]


def _part(session: Session, entry: Entry) -> str:
    """A part's number, with its identity where two devices both wrote one of that number."""
    several = {e.file for e in (*session.entries, *session.void) if e.part == entry.part}
    return f"{entry.part}-{entry.file}" if len(several) > 1 else str(entry.part)


# Finding. ------------------------------------------------------------------------------------------------------


def _session(journals: Journals, name: str) -> Session:
    sessions = list(journals.sessions.values())
    if name == "last" and sessions:
        watched = [s for s in sessions if s.watched]
        return (watched or sessions)[-1]
    found = [s for s in sessions if s.id == name] or [s for s in sessions if s.id.startswith(name)]
    if len(found) == 1:
        return found[0]
    if found:
        raise click.UsageError(f"{len(found)} sessions begin with {name!r}; give more of its id.")
    raise click.UsageError(f"no session is called {name!r}; zoneuse mend --sessions lists them.")


def _entry(session: Session, number: str) -> Entry:
    """The record of that number as it was first written."""
    part, _, n = number.rpartition(":")
    for entry in (*session.void, *session.entries):
        if entry.written or str(entry.record.n) != n or (part and _part(session, entry) != part):
            continue
        if not part and session.parts > 1:
            raise click.UsageError(f"the session has {session.parts} parts; write PART:N, as the list shows.")
        if entry.record.kind in PROGRAM:
            raise click.UsageError(f"record {number} is the program's own ({entry.record.kind}).")
        return entry
    raise click.UsageError(
        f"session {session.id} has no record {number}; zoneuse mend {session.id} lists them."
    )


def _standing(session: Session, entry: Entry) -> Entry | None:
    """What counts where a record stood: itself, its correction, or nothing."""
    return next((e for e in session.entries if entry.place in (e.stood, e.place)), None)
