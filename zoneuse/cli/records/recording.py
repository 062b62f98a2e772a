"""``look``, ``seen`` and ``note``: records from the shell, each command one whole file, on the disk or not at all."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

import click

from ...journal import Entry, Place, RecordToWrite, new_file_id, new_session_id, reference, write_rows
from ...recording import FORM, Who, line_words, people, span_words
from ...study import (
    Declaration,
    Group,
    UnknownNameError,
    find_behaviour,
    find_who,
    find_zone,
    home,
    load_declaration,
    read_under,
    shown,
    spoken_time,
    value_at,
    visible,
)
from ...study.model import Animal, Behaviour, Zone
from ...study.treatments import Under
from ..narration import confirm, say, say_problems, tell_saved
from ..options import asked_time, past_time, someone_there, study_option, wall_clock


@click.command(epilog="Example:  zoneuse look 1=c 2=h 3=- --study my-demo")
@study_option
@click.option("--observer", metavar="NAME", help="Who is looking (default: as in study.toml).")
@click.option("--at", "when", metavar="TIME", help="When, if not now.")
@click.option(
    "--treatment", "treatments", multiple=True, metavar="[ENCLOSURE=]NAME", help="What they are under."
)
@click.argument("found", nargs=-1, required=True, metavar="ANIMAL=ZONE…")
def look(
    *, folder: Path, observer: str | None, when: str | None, treatments: tuple[str, ...], found: tuple[str, ...]
) -> None:  # fmt: skip
    """Record one planned spot check: where everyone is at this moment.

    \b
    a1=c         in zone c (ids, keys and labels all work)      a1=c,r   resting there
    a3=-         looked for, not found                          a1=c?    a guess    a1=c~  hidden
    young=c3,w2,-1   a group: three in c, two in w, one not found

    An animal not named has no record.
    """
    declared, now = load_declaration(folder), wall_clock()
    at = past_time(when, declared, now)
    under = _under(declared, treatments)
    rows: list[RecordToWrite] = []
    done: set[str] = set()
    for word in found:
        name, _, places = word.partition("=")
        if not places:
            raise click.UsageError(
                f"{shown(word)} does not say where; write ANIMAL=ZONE, or ANIMAL=- for not found."
            )
        try:
            who = find_who(declared, name, at)
            if who.id in done:
                raise click.UsageError(f"{who.id} is given twice; give each once.")
            done.add(who.id)
            rows += _group_rows(declared, who, places, at) if isinstance(who, Group) else [
                _animal_row(declared, who, places, at)
            ]  # fmt: skip
        except UnknownNameError as error:
            raise click.UsageError(f"{shown(word)}: {error}.") from None
    rows = [RecordToWrite(row.kind, row.fields, at) for row in rows]
    write_rows(declared, now, rows, method="scan", observer=observer, treatment=under)
    _tell(declared, rows)
    left = [w for w in people(declared, tuple(declared.enclosures), at) if w.id not in done]
    if left:
        say(f"Not named, so not looked for: {', '.join(_labels(left))}.")


# Not \d: other alphabets' digits and raised ones are no counts to int(), and nobody counts ten thousand by eye.
_COUNT = re.compile("[0-9]{1,4}")
_NOT_FOUND = re.compile("-[0-9]{0,4}")


def _under(declared: Declaration, words: tuple[str, ...]) -> Under | None:
    try:
        return read_under(declared, words)
    except ValueError as error:
        raise click.UsageError(f"{error}.") from None


def _labels(some: Sequence[Who]) -> list[str]:
    return [visible(w.label) for w in some]


def _tell(declared: Declaration, rows: Sequence[RecordToWrite]) -> None:
    for row in rows:
        tell_saved(f"Saved: {line_words(declared, row)}")


def _marked(text: str) -> tuple[str, dict[str, Any]]:
    """The marks behind a place: ``?`` a guess, ``~`` hidden."""
    marks: dict[str, Any] = {}
    while text and text[-1] in "?~":
        marks["sure" if text[-1] == "?" else "hidden"] = text[-1] == "~"
        text = text[:-1]
    return text, marks


def _animal_row(declared: Declaration, who: Animal, places: str, at: datetime) -> RecordToWrite:
    about: dict[str, Any] = {"animal": who.id, "scan": 1}
    _home_of(who, at)
    if places == "-":
        return RecordToWrite("unseen", about)
    text, marks = _marked(places)
    where, _, doing = text.partition(",")
    zone = _zone(declared, where, who, at)
    behaviour = _lasting(find_behaviour(declared, doing)) if doing else None
    return RecordToWrite("seen", {**about, "zone": zone.id, "behaviour": behaviour, **marks})


def answer_rows(declared: Declaration, name: str, places: str, at: datetime) -> list[RecordToWrite]:
    """The rows of one answer as `look` reads it. Raises click.UsageError, in words, where it cannot be read."""
    try:
        who = find_who(declared, name, at)
        if isinstance(who, Group):
            return _group_rows(declared, who, places, at)
        return [_animal_row(declared, who, places, at)]
    except UnknownNameError as error:
        raise click.UsageError(f"{shown(places)}: {error}.") from None


def event_row(declared: Declaration, animal: str, key: str, zone: str | None) -> RecordToWrite:
    """A momentary behaviour of an animal. Raises click.UsageError where it is none."""
    try:
        behaviour = find_behaviour(declared, key)
    except UnknownNameError as error:
        raise click.UsageError(f"{shown(key)}: {error}.") from None
    if behaviour.lasts:
        raise click.UsageError(f"{behaviour.id} lasts; an event is a momentary behaviour.")
    return RecordToWrite("happened", {"animal": animal, "behaviour": behaviour.id, "zone": zone})


def _lasting(behaviour: Behaviour) -> str:
    if not behaviour.lasts:
        raise click.UsageError(
            f"{behaviour.id} is momentary; record it with: zoneuse seen ANIMAL ZONE {behaviour.id}"
        )
    return behaviour.id


def _home_of(who: Animal | Group, at: datetime) -> str:
    where = home(who, at)
    if where is None:
        raise click.UsageError(f"{who.id} does not live here at that time, by its dates in study.toml.")
    return where


def _zone(declared: Declaration, name: str, who: Animal | Group, at: datetime) -> Zone:
    where = _home_of(who, at)
    zone = find_zone(declared, name, where, at)
    if not any(p.span.holds(at) for p in zone.present):
        raise click.UsageError(
            f"{zone.id} was not there on {spoken_time(at, declared.timezone)}, by its present dates in study.toml."
        )
    return zone


def _group_rows(declared: Declaration, who: Group, places: str, at: datetime) -> list[RecordToWrite]:
    """``c3,w2,-1``, or with ids: ``moss_end:3``."""
    rows = [_count_row(declared, who, piece, at) for piece in places.split(",") if piece]
    total = sum(row.fields["count"] for row in rows)
    size = value_at(who.size, at)
    if size is not None and total != size and not _asked_about(who, total, size):
        raise click.UsageError(
            f"{who.id}: {total} counted, but the group is {size}; count again, or say what is not found, as in -1."
        )
    return rows


def _asked_about(who: Group, total: int, size: int) -> bool:
    return someone_there() and confirm(
        f"{visible(who.label)}: {total} counted, but the group is {size}. Record it so?"
    )


def _count_row(declared: Declaration, who: Group, piece: str, at: datetime) -> RecordToWrite:
    text, marks = _marked(piece)
    about: dict[str, Any] = {"group": who.id, "scan": 1}
    if _NOT_FOUND.fullmatch(text):
        return RecordToWrite("unseen", {**about, "count": int(text[1:] or 1)})
    name, colon, digits = text.rpartition(":")
    if not colon:
        name, digits = _name_and_count(declared, text, _home_of(who, at))
    if digits and (not _COUNT.fullmatch(digits) or not digits.strip("0")):
        raise click.UsageError(f"{piece!r} is not a count; write {FORM}.")
    return RecordToWrite(
        "seen", {**about, "count": int(digits or 1), "zone": _zone(declared, name, who, at).id, **marks}
    )


def _name_and_count(declared: Declaration, text: str, enclosure: str) -> tuple[str, str]:
    """``c3`` is three in c; where h1 is a key, ``h12`` is two in h1 and ``h1`` one."""
    most = len(text) - len(text.rstrip("0123456789"))
    for count in range(most, -1, -1):
        name = text[: len(text) - count]
        try:
            find_zone(declared, name, enclosure)
        except UnknownNameError:
            continue
        return name, text[len(name) :]
    return text[: len(text) - most], text[len(text) - most :]


@click.command(epilog="Example:  zoneuse seen a1 moss_end resting --study my-demo")
@study_option
@click.option("--observer", metavar="NAME", help="Who saw it (default: as in study.toml).")
@click.option("--at", "when", metavar="TIME", help='When, if not now: an ISO time, "21:30", "2h ago".')
@click.option("--guess", is_flag=True, help="Not sure of it.")
@click.option("--hidden", is_flag=True, help="Known to be there, but not visible.")
@click.option("--count", type=click.IntRange(1, 9999), help="How many of a group (default: 1).")
@click.argument("animal")
@click.argument("zone")
@click.argument("behaviour", required=False)
def seen(
    *, folder: Path, observer: str | None, when: str | None, guess: bool, hidden: bool, count: int | None,
    animal: str, zone: str, behaviour: str | None,
) -> None:  # fmt: skip
    """Record one sighting in passing (kept and shown, never counted in shares).

    \b"""
    declared, now = load_declaration(folder), wall_clock()
    at = past_time(when, declared, now)
    try:
        who = find_who(declared, animal, at)
        where = _zone(declared, zone, who, at)
        doing = find_behaviour(declared, behaviour) if behaviour else None
    except UnknownNameError as error:
        raise click.UsageError(f"{error}.") from None
    about: dict[str, Any] = (
        {"group": who.id, "count": count or 1} if isinstance(who, Group) else {"animal": who.id}
    )
    fields = {**about, "zone": where.id, "behaviour": doing.id if doing else None}
    if doing is not None and not doing.lasts:
        row = RecordToWrite("happened", fields, at)
    else:
        row = RecordToWrite(
            "seen", {**fields, "sure": False if guess else None, "hidden": hidden or None}, at
        )
    write_rows(declared, now, [row], method="ad-libitum", observer=observer)
    _tell(declared, [row])


@click.command(epilog='Example:  zoneuse note fed a1 earthworms --at "2h ago" --study my-demo')
@study_option
@click.option("--observer", metavar="NAME", help="Who says so (default: as in study.toml).")
@click.option("--at", "when", metavar="TIME", help='When, if not now: an ISO time, "21:30", "2h ago".')
@click.option("--from", "start", metavar="TIME", help="When a period began (shedding, gravid, ill …).")
@click.option("--until", "until", metavar="TIME", help="When it ended; closes the open one.")
@click.option(
    "--table",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="With temp: a table of body temperatures (animal, when, temperature), each taken in once.",
)
@click.option(
    "--dates",
    type=click.Choice(["DMY", "MDY", "YMD"], case_sensitive=False),
    help="Order of day, month and year in that table.",
)
@click.option("--undo", is_flag=True, help="Take what came from that table back out.")
@click.argument("words", nargs=-1, required=True, metavar="WHAT [ANIMAL] [VALUE]")
def note(
    *,
    folder: Path,
    observer: str | None,
    when: str | None,
    start: str | None,
    until: str | None,
    table: Path | None,
    dates: str | None,
    undo: bool,
    words: tuple[str, ...],
) -> None:
    """Put a feed, a shed, a weight or a free note on record.

    \b
    zoneuse note fed a1 2 crickets          zoneuse note weighed a1 23.5
    zoneuse note shedding a1                zoneuse note shedding a1 over
    zoneuse note felt moss_end damp         (dry, damp, wet or soaked)
    zoneuse note handled a2 --at "2h ago"   zoneuse note "door left open all day"
    zoneuse note temp a1 31.2               (or 88F: a body temperature)
    zoneuse note temp --table spots.csv     many of them, or a thermal camera's spots
    """
    declared, now = load_declaration(folder), wall_clock()
    if table is None and not undo:
        _note(declared, words, (when, start, until), observer or declared.watching.observer, now=now)
        return
    if words != ("temp",) or table is None:
        raise click.UsageError("a table is for body temperatures: zoneuse note temp --table FILE.")
    from ..intake.body_temperatures import take_in_table

    take_in_table(declared, table, dates.upper() if dates else None, now, undo)


def _note(
    declared: Declaration,
    words: Sequence[str],
    times: tuple[str | None, str | None, str | None],
    observer: str,
    *,
    now: datetime,
) -> None:
    """Put what some words mean on record; ``times``: when, from and until as given."""
    from ...journal import read_journals
    from ...recording import Said, began, recall, understand

    when, start, until = times
    at = past_time(when, declared, now)
    journals = read_journals(declared.folder)
    say_problems(p for p in journals.problems if not p.hint)
    known = recall(declared, journals, now).open_periods
    began_at = None if start is None else past_time(start, declared, now)
    ended_at = None if until is None else asked_time(until, declared, now)

    def meant(more: Sequence[str]) -> Said:
        try:
            return understand(declared, more, at, known, began_at, until=ended_at)
        except ValueError as error:
            raise click.UsageError(f"{error}.") from None

    said = meant(words)
    still = [e for e in known if _same_period(e.record.fields, said.fields)]
    if still and said.closes is None:
        since = span_words((now - began(still[-1])).total_seconds())
        if someone_there() and confirm(f"It is open since {since}. Is it over now?"):
            said = meant([*words, "over"])
        else:
            say(
                f"It is on record already, open since {since}; when it is over: zoneuse note {' '.join(words)} over"
            )
            return
    _write_said(declared, observer, now, at, said=said)
    _say_open(declared, [e for e in known if said.closes is None or e.place != said.closes.place], now)


def _same_period(known: Any, said: Any) -> bool:
    return "until" not in said and (known.get("what"), known.get("animal")) == (
        said.get("what"),
        said.get("animal"),
    )


def _write_said(declared: Declaration, observer: str, now: datetime, at: datetime, *, said: Any) -> None:
    rows = [RecordToWrite(said.kind, dict(said.fields), at)]
    session, file = new_session_id(now, observer), new_file_id()
    if said.closes is not None:
        instead = reference(Place(session, 1, 2, file))
        rows.append(RecordToWrite("took-back", {"of": reference(said.closes.place), "replaces": instead}))
    write_rows(declared, now, rows, observer=observer, session=session, file=file)
    _tell(declared, rows[:1])


def _say_open(declared: Declaration, entries: Sequence[Entry], now: datetime) -> None:
    """What has begun and is not on record as over."""
    from ...recording import began

    for entry in entries:
        since = span_words((now - began(entry)).total_seconds())
        say(f"Still open: {line_words(declared, entry.record)}, since {since}.")
