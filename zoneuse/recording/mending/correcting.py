"""Corrections: nothing is rewritten, each is a new file that says what it takes back and what counts instead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from ...journal import (
    Entry,
    Journals,
    Place,
    RecordToWrite,
    new_file_id,
    new_session_id,
    reference,
    write_rows,
)
from ...study import Declaration, Group, find_behaviour, find_who, find_zone, home
from ..session.notes import read_value
from ..words import line_words

# What may be changed of each kind of record.
FITS = {
    "seen": ("animal", "zone", "behaviour", "count", "guess", "hidden"),
    "unseen": ("animal", "count"),
    "missed": ("animal",),
    "happened": ("animal", "zone", "behaviour"),
    "spent": ("animal", "zone", "behaviour", "minutes"),
    "context": ("animal", "text"),
    "noted": ("animal", "text"),
}


class MendError(ValueError):
    """What was asked for does not fit the record; says why, and what to do."""


@dataclass(frozen=True, slots=True)
class Mended:
    """What came of it: the record in words before, and now where it counts still."""

    was: str
    now: str = ""


def mend_entry(
    declared: Declaration, entry: Entry, changes: Mapping[str, Any], mender: str, now: datetime
) -> Mended:
    """Correct a record that counts, or take it back (``take_back``). Raises MendError, UnknownNameError, OSError.

    ``changes``: animal, zone, behaviour ("-" for none), count, guess, hidden, text, and ``when`` as an instant.
    """
    was = line_words(declared, entry.record)
    if "take_back" in changes:
        _write(declared, None, reference(entry.place), mender, now)
        return Mended(was)
    if not changes:
        raise MendError("what is to be corrected?")
    fields = {name: value for name, value in changes.items() if name != "when"}
    row = corrected(declared, entry, fields, changes.get("when") or entry.record.at)
    if (row.kind, row.fields, row.at) == (entry.record.kind, dict(entry.record.fields), entry.record.at):
        raise MendError("it says that already")
    _write(declared, row, reference(entry.place), mender, now)
    return Mended(was, line_words(declared, row))


def put_back(declared: Declaration, journals: Journals, entry: Entry, mender: str, now: datetime) -> Mended:
    """Let a record count again as it was first written, by taking back what took it back. Raises MendError."""
    backs = journals.backs.get(entry.place, ())
    if not backs and entry.place in journals.sessions[entry.session].undone:
        raise MendError("its whole session was taken back; take the table in again with zoneuse sightings")
    if not backs:
        raise MendError("that record already counts")
    for back in backs:
        _write(declared, None, reference(back.place), mender, now)
    return Mended("", line_words(declared, entry.record))


def take_back_session(declared: Declaration, session: str, mender: str, now: datetime) -> None:
    """Take a whole session back."""
    _write(declared, None, {"session": session}, mender, now)


def corrected(declared: Declaration, entry: Entry, wanted: Mapping[str, Any], at: datetime) -> RecordToWrite:
    """The record that is to stand instead. Raises MendError and UnknownNameError."""
    record = entry.record
    kind = "seen" if record.kind in ("unseen", "missed") and "zone" in wanted else record.kind
    for name in wanted:
        if name not in FITS.get(kind, ()):
            raise MendError(f"its {name} cannot be corrected: the record is of another kind ({kind})")
    fields = dict(record.fields)
    _rename(declared, fields, wanted, at)
    if "count" in wanted:
        fields["count"] = _count(fields, wanted["count"])
    if "guess" in wanted:
        fields["sure"] = False if wanted["guess"] else None
    if "hidden" in wanted:
        fields["hidden"] = wanted["hidden"] or None
    if "minutes" in wanted:
        fields["seconds"] = _spent(fields, wanted["minutes"])
    if "text" in wanted:
        about = "text" if record.kind == "noted" else "value"
        fields[about] = _text(declared, record.get("what"), wanted["text"])
    return RecordToWrite(kind, {k: v for k, v in fields.items() if v is not None}, at)


def _rename(declared: Declaration, fields: dict[str, Any], wanted: Mapping[str, Any], at: datetime) -> None:
    """Who it was, where, and what it did, by the ids of the names given. Raises UnknownNameError."""
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


def _count(fields: Mapping[str, Any], count: int) -> int:
    """How many of a group. Raises MendError."""
    if fields.get("animal"):
        raise MendError("a count is for groups; a single animal is always one")
    return count


def _spent(fields: Mapping[str, Any], minutes: float) -> float:
    """Seconds of a time budget, of no more than there were. Raises MendError."""
    whole = float(fields["of_seconds"])
    if not 0 <= 60 * minutes <= whole:
        raise MendError(f"of {whole / 60:g} minutes, {minutes:g} cannot have been spent there")
    return round(60 * minutes, 3)


def _text(declared: Declaration, what: str | None, text: str) -> str | float | None:
    try:
        return text if what is None else read_value(what, text, declared.fahrenheit)
    except ValueError as error:
        raise MendError(str(error)) from None


def _home(declared: Declaration, fields: dict[str, Any], at: datetime) -> str | None:
    one = declared.animals.get(fields.get("animal") or "") or declared.groups.get(fields.get("group") or "")
    return None if one is None else home(one, at)


def _write(
    declared: Declaration, row: RecordToWrite | None, of: dict[str, Any], mender: str, now: datetime
) -> None:
    session, file = new_session_id(now, mender), new_file_id()
    if row is None:
        rows = [RecordToWrite("took-back", {"of": of})]
    else:
        rows = [
            row,
            RecordToWrite("took-back", {"of": of, "replaces": reference(Place(session, 1, 2, file))}),
        ]
    write_rows(declared, now, rows, observer=mender, session=session, file=file)
