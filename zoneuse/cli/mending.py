"""``mend``: list records and correct them. Nothing is rewritten: a correction is a new file that says so."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Any

import click

from ..journal.fold import Entry
from ..journal.reader import Journals, Session, read_journals
from ..journal.rows import Row, write_rows
from ..journal.writer import new_session_id
from ..recording.telling.words import line_words
from ..study.file import load_declaration
from ..study.labels import visible
from ..study.model import Declaration, Group
from ..study.names import UnknownNameError, find_behaviour, find_who, find_zone, home
from .narration import say, say_problems, tell
from .options import asked_time, study_option, wall_clock

_MANY = 30
# What the program adds by itself; not a record somebody made.
_PROGRAM = ("opened", "paused", "resumed", "took-back", "closed")


@click.command(epilog="Example:  zoneuse mend --study my-demo")
@study_option
@click.option("--take-back", is_flag=True, help="Take the record back (without N: the whole session).")
@click.option("--put-back", is_flag=True, help="Let a record that was taken back count again.")
@click.option("--animal", metavar="ANIMAL", help="It was this animal or group.")
@click.option("--zone", metavar="ZONE", help="It was here.")
@click.option("--behaviour", metavar="BEHAVIOUR", help="It did this (- for none).")
@click.option("--count", type=click.IntRange(1, 9999), help="It was so many (groups).")
@click.option("--guess/--sure", default=None, help="It was a guess; it was sure.")
@click.option("--hidden/--visible", default=None, help="It was there but not visible; it was visible.")
@click.option("--at", "when", metavar="TIME", help="It was then.")
@click.option("--text", metavar="TEXT", help="A note's text, or the value of a feed, a weight …")
@click.option("--observer", metavar="NAME", help="Who corrects (default: as in study.toml).")
@click.option("--all", "everything", is_flag=True, help="List every session, not only the newest.")
@click.argument("session", required=False)
@click.argument("number", required=False, metavar="N")
def mend(
    folder: Path, session: str | None, number: str | None, take_back: bool, put_back: bool, when: str | None,
    observer: str | None, everything: bool, **changes: Any,
) -> None:  # fmt: skip
    """List and correct records, with a trace; nothing that was written is changed or deleted.

    \b
    zoneuse mend                            the sessions
    zoneuse mend last                       the records of the newest one (or an id, or its beginning)
    zoneuse mend last 7 --zone moss_end     record 7 was in another zone
    zoneuse mend last 7 --take-back         record 7 never was (2:7 is record 7 of part 2)
    """
    declared, now = load_declaration(folder), wall_clock()
    journals = read_journals(folder)
    say_problems(p for p in journals.problems if not p.hint)
    wanted = {name: value for name, value in changes.items() if value is not None}
    if session is None:
        _list_sessions(declared, journals, everything)
        return
    chosen = _session(journals, session)
    mender = observer or declared.watching.observer
    if number is None and take_back:
        _write(declared, folder, mender, now, None, {"session": chosen.id})
        tell(f"Taken back: the whole session {chosen.id}; zoneuse mend shows it still.")
        return
    if number is None:
        if wanted or put_back or when:
            raise click.UsageError("which record? Give its number after the session.")
        _list_records(declared, journals, chosen)
        return
    entry = _entry(chosen, number)
    if take_back or put_back:
        _take_or_put_back(declared, folder, mender, now, journals, chosen, entry, put_back)
    elif wanted or when:
        row = _corrected(
            declared, entry, wanted, asked_time(when, declared, now) if when else entry.record.at
        )
        if entry in chosen.void:
            raise click.UsageError("that record was taken back already; correct the one that replaced it.")
        _write(declared, folder, mender, now, row, _of(entry))
        tell(f"Was:  {line_words(declared, entry.record)}\nNow:  {line_words(declared, row)}")
    else:
        raise click.UsageError(
            "what is to be corrected? Give --zone, --behaviour, --animal … or --take-back."
        )


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
        made = sum(e.record.kind not in _PROGRAM for e in one.entries)
        state = "" if one.closed or not one.watched else ", not finished"
        back = f", {len(one.void)} taken back" if one.void else ""
        tell(
            f"{local:%Y-%m-%d %H:%M}  {one.id}  {one.method}, {visible(one.observer)}, {made} records{back}{state}"
        )


def _list_records(declared: Declaration, journals: Journals, session: Session) -> None:
    for entry in sorted((*session.entries, *session.void), key=lambda e: e.place):
        record = entry.record
        if record.kind in _PROGRAM:
            continue
        at = f"{record.at.astimezone(declared.timezone):%H:%M:%S}"
        part = f"{entry.part}:" if session.parts > 1 else ""
        scan = f"  scan {record.get('scan')}" if record.get("scan") is not None else ""
        state = ""
        if entry in session.void:
            new = journals.replaced.get(entry.place)
            state = "  (taken back)" if new is None else f"  (corrected: {_where(new, session)})"
        tell(f"{part}{record.n:>4}  {at}{scan}  {line_words(declared, record)}{state}")


def _where(place: tuple[str, int, int], session: Session) -> str:
    return f"record {place[1]}:{place[2]}" if place[0] == session.id else f"record {place[2]} of {place[0]}"


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
    raise click.UsageError(f"no session is called {name!r}; zoneuse mend lists them.")


def _entry(session: Session, number: str) -> Entry:
    part, _, n = number.rpartition(":")
    for entry in (*session.entries, *session.void):
        if str(entry.record.n) == n and str(entry.part) == (part or str(entry.part)):
            if not part and session.parts > 1:
                raise click.UsageError(
                    f"the session has {session.parts} parts; write PART:N, as the list shows."
                )
            if entry.record.kind in _PROGRAM:
                raise click.UsageError(f"record {number} is the program's own ({entry.record.kind}).")
            return entry
    raise click.UsageError(
        f"session {session.id} has no record {number}; zoneuse mend {session.id} lists them."
    )


def _of(entry: Entry) -> dict[str, Any]:
    return dict(zip(("session", "part", "n"), entry.place, strict=True))


# Correcting. ---------------------------------------------------------------------------------------------------


def _corrected(declared: Declaration, entry: Entry, wanted: dict[str, Any], at: datetime) -> Row:
    record = entry.record
    fields = dict(record.fields)
    try:
        if "animal" in wanted:
            who = find_who(declared, wanted["animal"], at)
            fields.pop("animal", None)
            fields.pop("group", None)
            fields["group" if isinstance(who, Group) else "animal"] = who.id
            if not isinstance(who, Group):
                fields.pop("count", None)
        if "zone" in wanted:
            fields["zone"] = find_zone(declared, wanted["zone"], _home(declared, fields, at), at).id
        if "behaviour" in wanted:
            doing = wanted["behaviour"]
            fields["behaviour"] = None if doing == "-" else find_behaviour(declared, doing).id
    except UnknownNameError as error:
        raise click.UsageError(f"{error}.") from None
    if "count" in wanted:
        fields["count"] = wanted["count"]
    if "guess" in wanted:
        fields["sure"] = False if wanted["guess"] else None
    if "hidden" in wanted:
        fields["hidden"] = wanted["hidden"] or None
    if "text" in wanted:
        fields["text" if record.kind == "noted" else "value"] = wanted["text"]
    kind = "seen" if record.kind in ("unseen", "missed") and "zone" in wanted else record.kind
    _refuse_misfits(kind, wanted)
    return Row(kind, {k: v for k, v in fields.items() if v is not None}, at)


_FITS = {
    "seen": ("animal", "zone", "behaviour", "count", "guess", "hidden"),
    "unseen": ("animal", "count"),
    "missed": ("animal",),
    "happened": ("animal", "zone", "behaviour"),
    "context": ("animal", "text"),
    "noted": ("animal", "text"),
}


def _refuse_misfits(kind: str, wanted: dict[str, Any]) -> None:
    for name in wanted:
        if name not in _FITS.get(kind, ()):
            raise click.UsageError(f"--{name} does not fit a record of this kind ({kind}).")


def _home(declared: Declaration, fields: dict[str, Any], at: datetime) -> str | None:
    one = declared.animals.get(fields.get("animal") or "") or declared.groups.get(fields.get("group") or "")
    return None if one is None else home(one, at)


def _take_or_put_back(
    declared: Declaration, folder: Path, mender: str, now: datetime, journals: Journals, session: Session,
    entry: Entry, put_back: bool,
) -> None:  # fmt: skip
    void = entry in session.void
    if put_back and not void:
        raise click.UsageError("that record counts already.")
    if not put_back and void:
        raise click.UsageError("that record was taken back already; --put-back lets it count again.")
    if put_back:
        # Taking a take-back back: the chain is the trace.
        backs = [b for b in journals.entries("took-back") if b.record.fields["of"] == _of(entry)]
        if not backs:
            raise click.UsageError(
                "its whole session was taken back; put the session back with zoneuse sightings."
            )
        for back in backs:
            _write(declared, folder, mender, now, None, _of(back))
    else:
        _write(declared, folder, mender, now, None, _of(entry))
    tell(f"{'Counts again' if put_back else 'Taken back'}: {line_words(declared, entry.record)}")


def _write(
    declared: Declaration, folder: Path, mender: str, now: datetime, row: Row | None, of: dict[str, Any]
) -> None:
    session = new_session_id(now, mender)
    if row is None:
        rows = [Row("took-back", {"of": of})]
    else:
        rows = [row, Row("took-back", {"of": of, "replaces": {"session": session, "part": 1, "n": 2}})]
    write_rows(declared, now, rows, observer=mender, session=session)
