"""Append records so that each is on the disk before it is shown as saved."""

from __future__ import annotations

import contextlib
import errno
import os
import re
import secrets
import time
from datetime import UTC, datetime, tzinfo
from pathlib import Path
from typing import Any

from ..study import make_folder, refuse_elsewhere, sync_folder
from .records import FORMAT, Record, check_fields, encode

FOLDER = "journal"


def new_session_id(at: datetime, observer: str) -> str:
    """``2026-03-04T180211Z-mk-7f3a``: when, who, and four random digits against two devices at once."""
    who = re.sub(r"[^A-Za-z0-9]+", "", observer)[:12].lower() or "keeper"
    return f"{at.astimezone(UTC):%Y-%m-%dT%H%M%SZ}-{who}-{secrets.token_hex(2)}"


def table_session_id(folder: Path, at: datetime, observer: str, digest: str) -> str:
    """As a new session's, with ``digest`` of the table it comes from, and no id that stands in the folder already:
    a table of a thousand sessions taken back and in again would draw one of them twice."""
    while True:
        stem, tail = new_session_id(at, observer).rsplit("-", 1)
        session = f"{stem}-{digest}-{tail}"
        if not (folder / FOLDER / file_name(session, 1)).exists():
            return session


def file_name(session: str, part: int, file: str = "") -> str:
    """A part's file. Further parts carry their identity, so that those of two devices never share a name."""
    if part == 1:
        return f"{session}.jsonl"
    return f"{session}.part{part}-{file}.jsonl" if file else f"{session}.part{part}.jsonl"


_PART = re.compile(r"\.part(\d{1,4})(?:-[0-9a-f]+)?\.jsonl$")


def part_of(name: str) -> int | None:
    """The part's number in a file's name; None where it is no further part."""
    found = _PART.search(name)
    return None if found is None else int(found[1])


def new_file_id() -> str:
    """The identity of a part: eight random hex digits."""
    return secrets.token_hex(4)


class Journal:
    """An open journal file: one session, one part. Each append is written, flushed and fsynced.

    Raises OSError where the disk refuses; the record is then not in the file (a half-written tail is cut
    off again, or, where even that fails, the reader reports it as torn), ``n`` has not moved, and the same
    append may be tried again.
    """

    def __init__(
        self,
        folder: Path,
        session: str,
        part: int,
        at: datetime,
        zone: tzinfo,
        *,
        started: float,
        **header: Any,
    ) -> None:
        """Start a file. ``started`` is the monotonic clock at the start; ``header`` are opened's fields."""
        place = folder / FOLDER
        refuse_elsewhere(folder, place)
        make_folder(place)
        self.file = new_file_id()
        self.path = place / file_name(session, part, self.file)
        self.session, self.part, self.n = session, part, 0
        self._zone, self._started = zone, started
        self._length = 0
        # O_EXCL: two devices never share a file, and nothing that exists is ever written to.
        self._handle = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND | _BINARY, 0o644)
        try:
            self.append(
                "opened",
                at,
                mono=started,
                format=FORMAT,
                session=session,
                part=part,
                file=self.file,
                **header,
            )
            sync_folder(place)
        except OSError:
            self.close()
            self.path.unlink(missing_ok=True)
            raise

    def append(
        self,
        kind: str,
        at: datetime,
        *,
        entered: datetime | None = None,
        mono: float | None = None,
        **fields: Any,
    ) -> Record:
        """Write one record and return it once it is on the disk.

        ``mono`` is a reading of ``time.monotonic()``; it is stored as seconds since the file was opened.
        Raises RecordError where the fields do not fit the kind, OSError where the disk refuses.
        """
        since = (time.monotonic() if mono is None else mono) - self._started
        record = Record(
            self.n + 1,
            at.astimezone(self._zone),
            kind,
            {name: value for name, value in fields.items() if value is not None},
            None if entered is None else entered.astimezone(self._zone),
            round(max(since, 0.0), 3),
        )
        check_fields(kind, record.fields)
        self._write(encode(record))
        self.n = record.n
        return record

    def _write(self, line: bytes) -> None:
        try:
            done = 0
            while done < len(line):
                done += os.write(self._handle, line[done:])
            os.fsync(self._handle)
        except OSError:
            self._cut_tail()
            raise
        self._length += len(line)

    def _cut_tail(self) -> None:
        """Cut our own unfinished line off: it was never acknowledged, and the next try starts clean."""
        try:
            os.ftruncate(self._handle, self._length)
        except OSError:
            # Nothing may ever follow a torn line: the session goes on in a new part.
            self.close()

    @property
    def torn(self) -> bool:
        """Whether the file ends in a line that could not be cut off; only a new part can go on."""
        return self._handle < 0

    def close(self) -> None:
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


_BINARY = getattr(os, "O_BINARY", 0)


def start_session(
    folder: Path, *, at: datetime, zone: tzinfo, study: str, observer: str, method: str, **header: Any
) -> Journal:
    """Open a new session's first file. ``header`` may give every_s, minutes, source, zones and treatment."""
    return Journal(
        folder, new_session_id(at, observer), 1, at, zone, started=time.monotonic(),
        study=study, observer=observer, method=method, timezone=str(zone), **header,
    )  # fmt: skip


def continue_session(
    folder: Path, session: str, part: int, *, at: datetime, zone: tzinfo, **header: Any
) -> Journal:
    """Open the next part of a session: what a crash left is never appended to."""
    return Journal(folder, session, part, at, zone, started=time.monotonic(), timezone=str(zone), **header)


def _publish(temporary: Path, path: Path) -> None:
    """Give a finished file its name, never replacing one that exists."""
    try:
        os.link(temporary, path)  # refuses where a rename would replace
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links
        if path.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(path)) from None
        temporary.replace(path)


def write_journal(folder: Path, records: list[Record]) -> Path:
    """Write a finished journal file at once, its `opened` record first: all of it, or nothing.

    Raises OSError where the disk refuses; nothing is left behind then.
    """
    place = folder / FOLDER
    refuse_elsewhere(folder, place)
    make_folder(place)
    opened = records[0].fields
    session = opened["session"]
    path = place / file_name(session, opened["part"], opened["file"])
    temporary = place / f".{session}-{secrets.token_hex(4)}.tmp"
    try:
        with temporary.open("xb") as stream:
            stream.write(b"".join(encode(record) for record in records))
            stream.flush()
            os.fsync(stream.fileno())
        _publish(temporary, path)
        try:
            sync_folder(place)
        except OSError:
            # Told as not written, so it must not be there when the keeper does it again.
            path.unlink(missing_ok=True)
            raise
    finally:
        # A piece that cannot be removed is never read, and no reason to say that the record failed.
        with contextlib.suppress(OSError):
            temporary.unlink(missing_ok=True)
    return path
