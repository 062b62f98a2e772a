"""Read journals back: tolerant of a torn last line, strict about all else, nothing repaired in place."""

from __future__ import annotations

import gc
import re
import unicodedata
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..study import Problem, read_regular, shown
from .fold import Entry, Folded, JournalFile, Place, fold_take_backs, merge_copies, standing_for
from .records import FORMAT, RECORD_METHOD, Record, RecordError, decode
from .writer import FOLDER

if TYPE_CHECKING:
    from .columns import RecordColumns

# A sitting that lasts longer is a mistyped date, or several.
LONGEST = timedelta(hours=24)
# A million records are some 150 MB; no session comes near.
MOST_BYTES = 500_000_000
# A file damaged throughout is one thing to say, not ten thousand.
MOST_NAMED = 10


@dataclass(frozen=True, slots=True)
class Session:
    """One session over all its parts.

    ``entries`` are those that count, a correction where the record stood that it corrects; ``void`` were taken
    back or corrected, ``undone`` among them went with the table they came from.
    """

    id: str
    observer: str
    method: str
    opened: datetime
    every_s: float | None
    minutes: float | None
    source: Mapping[str, Any]
    parts: int
    entries: tuple[Entry, ...]
    void: tuple[Entry, ...]
    closed: str | None
    undone: frozenset[Place] = frozenset()

    @property
    def watched(self) -> bool:
        """Whether this is a session of watching, not a file of notes, adjustments or corrections."""
        return self.method != RECORD_METHOD


@dataclass(frozen=True, slots=True)
class Journals:
    """Everything recorded in a study: sessions by id, in order of their opening.

    ``backs`` are the take-backs in effect of a record, ``replaced`` names its correction, as ``corrections`` has it.
    """

    sessions: Mapping[str, Session]
    problems: tuple[Problem, ...] = ()
    replaced: Mapping[Place, Place] = field(default_factory=dict)
    backs: Mapping[Place, tuple[Entry, ...]] = field(default_factory=dict)
    corrections: Mapping[Place, Entry] = field(default_factory=dict)

    def written(self, place: Place) -> Entry | None:
        """The record written at a place, whether it counts or not."""
        session = self.sessions.get(place.session)
        everything = (*session.entries, *session.void) if session else ()
        own = next((e for e in everything if not e.written and e.place == place), None)
        return own or self.corrections.get(place)

    def entries(self, *kinds: str) -> Iterator[Entry]:
        """Every record that counts, of the kinds asked for (all without any), session by session."""
        for session in self.sessions.values():
            for entry in session.entries:
                if not kinds or entry.record.kind in kinds:
                    yield entry


@contextmanager
def _nothing_collected() -> Iterator[None]:
    """No search for garbage meanwhile: records hold none, and searching a million takes a fifth of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


# From so many bytes on a file is worth reading into columns, where that is asked for.
LONG_BYTES = 2_000_000

InColumns = Callable[[Sequence[bytes]], "RecordColumns"]
"""`columns.read_columns`. Only those hand it in who may load pyarrow; the recorder does not."""


@_nothing_collected()
def read_file(path: Path, in_columns: InColumns | None = None) -> JournalFile:
    """One journal file: its records, and every damaged, missing or doubled line by number.

    ``in_columns`` reads a long one many times faster, to the same records.
    """
    problems: list[Problem] = []

    def note(code: str, line: int, found: str, remedy: str, hint: bool = False) -> None:
        problems.append(Problem(code, str(path), f"line {line}" if line else "", found, "", remedy, hint))

    try:
        data = read_regular(path, MOST_BYTES)
    except OSError as error:
        note(
            "unreadable", 0, f"cannot be read ({error.strerror})",
            "Check what it is, its permissions and the disk",
        )  # fmt: skip
        return JournalFile(path, None, (), tuple(problems))
    # A version control set to convert puts \r before each \n; no record of ours holds a bare one.
    lines = data.split(b"\n") if b"\r" not in data else [x.removesuffix(b"\r") for x in data.split(b"\n")]
    ordered = _in_order_of_n(lines, in_columns if len(data) >= LONG_BYTES else None, note)
    _note_missing(ordered, note)
    opened = _header(ordered, note)
    return JournalFile(path, opened, ordered if opened else (), tuple(problems))


def _in_order_of_n(lines: Sequence[bytes], in_columns: InColumns | None, note: Any) -> Sequence[Record]:
    """The records in order of their numbers; damaged lines, and numbers that differ on two lines, are noted."""
    if in_columns is None:
        read, damaged = _one_by_one(lines)
    else:
        columns = in_columns(lines)
        damaged = columns.damaged
        if columns.in_order:
            _note_damaged(lines, damaged, note)
            return columns
        read = zip(columns.lines.tolist(), columns.records(), strict=True)
    records: dict[int, Record] = {}
    for number, record in read:
        kept = records.setdefault(record.n, record)
        if kept is not record and kept != record:
            note("n-twice", number, f"record {record.n} stands in the file twice, differing", _DAMAGED)
    _note_damaged(lines, damaged, note)
    return tuple(records[n] for n in sorted(records))


def _one_by_one(lines: Sequence[bytes]) -> tuple[Iterable[tuple[int, Record]], Sequence[tuple[int, str]]]:
    read: list[tuple[int, Record]] = []
    damaged: list[tuple[int, str]] = []
    for number, line in enumerate(lines, 1):
        if line:
            try:
                read.append((number, decode(line)))
            except RecordError as error:
                damaged.append((number, str(error)))
    return read, damaged


def _note_damaged(lines: Sequence[bytes], damaged: Sequence[tuple[int, str]], note: Any) -> None:
    # Behind a whole record only its newline can be damaged, and that record may have been shown as saved.
    if damaged and damaged[-1][0] == len(lines) and not _WHOLE.search(lines[-1]):
        note("torn", len(lines), "the last line was cut off while it was written", _TORN, hint=True)
        damaged = damaged[:-1]
    for number, why in damaged[:MOST_NAMED]:
        note("damaged", number, f"a damaged record: {why}", _DAMAGED)
    if len(damaged) > MOST_NAMED:
        note(
            "damaged",
            damaged[MOST_NAMED][0],
            f"{len(damaged) - MOST_NAMED} more damaged records, here and below",
            _DAMAGED,
        )


_WHOLE = re.compile(rb',"crc":"[0-9a-f]{8}"}')
# A session's id becomes a file's name: one from elsewhere must not lead out of the study.
_SESSION = re.compile(r"[A-Za-z0-9_][A-Za-z0-9._-]{0,99}")
_TORN = "That record was never shown as saved; everything before it counts"
_DAMAGED = "It is kept on the disk and left out; restore the file from a copy if you have one"


def _note_missing(records: Sequence[Record], note: Any) -> None:
    last = records[-1].n if records else 0
    if missing := last - len(records):
        gone = next(n for n, record in enumerate(records, 1) if record.n != n)
        note(
            "n-missing", 0, f"{missing} of records 1 to {last} cannot be read, the first is {gone}", _DAMAGED
        )


def _header(records: Sequence[Record], note: Any) -> Record | None:
    first = records[0] if records else None
    if first is None or first.n != 1 or first.kind != "opened":
        if records:
            note(
                "no-header",
                1,
                "its first record (opened) is damaged or missing, so it cannot be counted",
                _DAMAGED,
            )
        else:
            note(
                "empty",
                0,
                "holds no record",
                "A session was started and nothing written; it may stay",
                hint=True,
            )
        return None
    if first.fields["format"] > FORMAT:
        note(
            "newer-format", 1, f"is format {first.fields['format']}; this zoneuse reads {FORMAT} at most",
            "Update zoneuse; nothing was touched",
        )  # fmt: skip
        return None
    session, part = first.fields["session"], first.fields["part"]
    if not _SESSION.fullmatch(session) or not 1 <= part <= 9999:
        note(
            "bad-id", 1, f"belongs to session {shown(session)}, part {part}, which no zoneuse writes",
            _DAMAGED,
        )  # fmt: skip
        return None
    return first


@_nothing_collected()
def read_journals(folder: Path, in_columns: InColumns | None = None) -> Journals:
    """Every journal of a study folder, take-backs folded, copies counted once. Never raises for damage."""
    files = [read_file(path, in_columns) for path in sorted((folder / FOLDER).glob("*.jsonl"))]
    problems = [problem for file in files for problem in file.problems]
    parts, copies = merge_copies(files)
    problems += copies
    entries = {
        Place(session, part, record.n, identity): Entry(session, part, record, identity)
        for (session, part, identity), file in parts.items()
        for record in file.records
    }
    folded = fold_take_backs(entries)
    problems += folded.problems
    by_session: dict[str, list[JournalFile]] = defaultdict(list)
    for file in sorted(parts.values(), key=_in_order):
        by_session[file.key[0]].append(file)
    moved_away = frozenset(folded.stand_in.values())
    sessions = [_session(name, files, entries, folded, moved_away) for name, files in by_session.items()]
    sessions.sort(key=lambda s: (s.opened, s.id))
    return Journals(
        {s.id: s for s in sessions},
        tuple(problems),
        folded.replaced,
        {place: tuple(entries[back] for back in backs) for place, backs in folded.backs.items()},
        {place: entries[place] for place in folded.replaced.values()},
    )


def _in_order(file: JournalFile) -> tuple[str, int, datetime, str]:
    """By session and part; two continuations of one session by when they were opened."""
    session, part, identity = file.key
    assert file.opened is not None
    return session, part, file.opened.at, identity


def _session(
    name: str,
    files: list[JournalFile],
    entries: Mapping[Place, Entry],
    folded: Folded,
    moved_away: frozenset[Place],
) -> Session:
    first = files[0].opened
    assert first is not None  # merge_copies keeps only files with a header
    counted: list[Entry] = []
    void: list[Entry] = []
    for file in files:
        _, part, identity = file.key
        for record in file.records:
            place = Place(name, part, record.n, identity)
            entry = entries[place]
            if place in folded.void:
                void.append(entry)
                if place in folded.stand_in:
                    counted.append(standing_for(entry, entries[folded.stand_in[place]]))
            elif place not in moved_away:
                counted.append(entry)
    closed = [e.record.fields["reason"] for e in counted if e.record.kind == "closed"]
    last = files[-1].records[-1].kind if files[-1].records else ""
    return Session(
        id=name,
        # One name typed on two keyboards may be two spellings of the same letters.
        observer=unicodedata.normalize("NFC", first.fields["observer"]),
        method=first.fields["method"],
        opened=first.at,
        every_s=first.get("every_s"),
        minutes=first.get("minutes"),
        source=first.get("source") or {},
        parts=len(files),
        entries=tuple(counted),
        void=tuple(void),
        closed=closed[-1] if closed and last in ("closed", "took-back") else None,
        undone=folded.undone,
    )
