"""What was recorded in this session, and what of it is on the disk.

Every record goes through here. It counts as saved only once the journal has written and fsynced it; where the
disk refuses, it waits in memory, in order, and is tried again.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import tzinfo
from pathlib import Path
from typing import Any

from ...journal import Journal, Place, Record, part_of, reference
from .instant import Instant


@dataclass(slots=True)
class LedgerEntry:
    """One record of this session. ``place`` is None until it is on the disk."""

    serial: int
    kind: str
    instant: Instant
    fields: Mapping[str, Any]
    entered: Instant | None = None
    of: int | None = None
    replaces: int | None = None
    place: Place | None = None
    void: bool = False

    @property
    def saved(self) -> bool:
        return self.place is not None


@dataclass(slots=True)
class Ledger:
    """The session's journal with a memory.

    ``header`` are the fields a further part of the session repeats; ``trouble`` says in plain words why the
    disk refuses, or is None; ``elsewhere`` is the folder the keeper chose instead of the study's.
    """

    journal: Journal
    folder: Path
    zone: tzinfo
    header: Mapping[str, Any]
    started: float
    lines: list[LedgerEntry] = field(default_factory=list)
    waiting: list[LedgerEntry] = field(default_factory=list)
    trouble: str | None = None
    elsewhere: Path | None = None
    on_saved: Callable[[LedgerEntry], None] | None = None
    taken_up: bool = False
    looked_at: int = 0

    @property
    def saved(self) -> int:
        """How many records are on the disk."""
        return sum(line.saved for line in self.lines)

    def put(
        self, kind: str, instant: Instant, *, entered: Instant | None = None, **fields: Any
    ) -> LedgerEntry:
        """Record something. The line's ``saved`` says whether it is on the disk by now."""
        return self._add(LedgerEntry(len(self.lines), kind, instant, fields, entered))

    def take_back(
        self, line: LedgerEntry, instant: Instant, replaces: LedgerEntry | None = None
    ) -> LedgerEntry | None:
        """Take a record back: by a record of its own, or from memory (None) where it never reached the disk."""
        line.void = True
        if line in self.waiting:
            self.waiting.remove(line)
            return None
        back = LedgerEntry(len(self.lines), "took-back", instant, {}, None, line.serial)
        back.replaces = None if replaces is None else replaces.serial
        return self._add(back)

    def restore(self, line: LedgerEntry, back: LedgerEntry | None, instant: Instant) -> None:
        """Let a record count again; ``back`` is what ``take_back`` gave for it."""
        line.void = False
        if back is None:
            self.waiting.append(line)
            self.retry(instant)
        else:
            self.take_back(back, instant)

    def replace_other(self, place: Place, by: LedgerEntry, instant: Instant) -> None:
        """Take back a record of any session, from this one's file; ``by`` stands in its place."""
        of = {"of": reference(place)}
        self._add(LedgerEntry(len(self.lines), "took-back", instant, of, replaces=by.serial))

    def adopt(self, records: Iterable[tuple[Place, Record, bool]], now: Instant) -> None:
        """Take over what an earlier part of the session holds (place, record, whether it is void)."""
        for place, record, void in records:
            instant = now.shifted((record.at - now.at).total_seconds())
            self.lines.append(
                LedgerEntry(len(self.lines), record.kind, instant, record.fields, place=place, void=void)
            )

    def retry(self, instant: Instant) -> bool:
        """Try again to write what waits. Returns whether all of it is on the disk now."""
        while self.waiting:
            line = self.waiting[0]
            try:
                self._write(line, instant)
            except OSError as error:
                self.trouble = _says(error)
                return False
            self.waiting.pop(0)
        self.trouble = None
        return True

    def go_elsewhere(self, folder: Path, instant: Instant) -> bool:
        """Write what waits, and all that follows, to another folder, as a further part of this session."""
        before = self.journal, self.folder
        try:
            self.journal = self._next_part(folder, instant)
        except OSError as error:
            self.trouble = _says(error)
            return False
        before[0].close()
        self.folder, self.elsewhere = folder, folder
        return self.retry(instant)

    def continued_elsewhere(self) -> bool:
        """Whether another window or device took this session up, in a part that came after ours.

        Of two parts of one number, made by devices that knew nothing of each other, the one whose file sorts last
        goes on. Files are looked for only where the folder has changed.
        """
        place = self.journal.path.parent
        try:
            changed = place.stat().st_mtime_ns
        except OSError:
            return self.taken_up
        if changed != self.looked_at:
            self.looked_at = changed
            ours = self.journal.part, self.journal.path.name
            parts = {path.name: part_of(path.name) for path in place.glob(f"{self.journal.session}.part*")}
            self.taken_up = any((part, name) > ours for name, part in parts.items() if part is not None)
        return self.taken_up

    def go_on_in_new_part(self, header: Mapping[str, Any], instant: Instant) -> None:
        """Go on in a further part that says of itself what ``header`` holds. Raises OSError where the disk refuses."""
        before, was = self.journal, self.header
        self.header = header
        try:
            self.journal = self._next_part(self.folder, instant)
        except OSError:
            self.header = was
            raise
        before.close()

    def close(self) -> None:
        self.journal.close()

    def _add(self, line: LedgerEntry) -> LedgerEntry:
        self.lines.append(line)
        self.waiting.append(line)
        self.retry(line.entered or line.instant)
        return line

    def _write(self, line: LedgerEntry, instant: Instant) -> None:
        journal = self.journal
        if not journal.torn and not journal.path.exists():
            # Writing on into a file that was moved away would look saved and be lost.
            journal.close()
        if journal.torn:
            journal = self.journal = self._next_part(self.folder, instant)
        record = journal.append(
            line.kind,
            line.instant.at,
            entered=None if line.entered is None else line.entered.at,
            mono=line.instant.mono,
            **self._fields(line),
        )
        line.place = Place(journal.session, journal.part, record.n, journal.file)
        if self.on_saved is not None:
            self.on_saved(line)

    def _fields(self, line: LedgerEntry) -> dict[str, Any]:
        fields = dict(line.fields)
        for name, serial in (("of", line.of), ("replaces", line.replaces)):
            if serial is not None:
                place = self.lines[serial].place
                assert place is not None  # waiting lines keep their order
                fields[name] = reference(place)
        return fields

    def _next_part(self, folder: Path, instant: Instant) -> Journal:
        """A further part, opened when the oldest record that waits for it happened."""
        first = min([instant, *(line.instant for line in self.waiting)], key=lambda one: one.mono)
        before = self.journal
        return next_part(folder, before.session, before.part + 1, first, self.header, zone=self.zone)


def next_part(
    folder: Path, session: str, part: int, instant: Instant, header: Mapping[str, Any], *, zone: tzinfo
) -> Journal:
    """A new file of a session, its seconds counted from ``instant``; the next free number where that part exists."""
    for number in range(part, part + 50):
        try:
            return Journal(
                folder, session, number, instant.at, zone, started=instant.mono, timezone=str(zone), **header
            )
        except FileExistsError:
            continue
    raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(folder))


def _says(error: OSError) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return "the disk is full"
    if error.errno == errno.EFBIG:
        return "the file has reached its size limit"
    if error.errno in (errno.EROFS, errno.EACCES, errno.EPERM):
        return "the study's folder cannot be written"
    return (error.strerror or "the disk cannot be written").lower()
