"""Who else is watching now: on this machine or, once the folder is synchronised, on another."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from ...journal.reader import Session
from ...journal.records import RecordError, decode
from ...journal.writer import FOLDER

# A session nobody closed is watched now where its last record is younger than three scans, and at least so young.
_LEAST_S = 300.0
_MOST_BYTES = 4096


def going_on(session: Session, now: datetime) -> bool:
    """Whether somebody probably records this session at this moment."""
    last = max((e.record.at for e in session.entries), default=session.opened)
    return session.closed is None and timedelta(seconds=-_LEAST_S) < now - last < timedelta(
        seconds=max(_LEAST_S, 3 * (session.every_s or 0))
    )


@dataclass(frozen=True, slots=True)
class Turn:
    """When another session's scans begin: at ``start`` and every ``every_s`` seconds from there."""

    start: datetime
    every_s: float

    def wait_s(self, now: datetime) -> float:
        """Seconds until the next of its scans begins.

        >>> Turn(datetime(2026, 3, 4, 18, 0), 60.0).wait_s(datetime(2026, 3, 4, 18, 2, 45))
        15.0
        """
        return -(now - self.start).total_seconds() % self.every_s


def turn_of(session: Session, every_s: float) -> Turn:
    """Its beat as far as its records tell: what is missed is written at the turn of a scan; else from its opening."""
    turns = [e.record.at for e in session.entries if e.record.kind == "missed"]
    return Turn(turns[-1] if turns else session.opened, every_s)


def watching_too(folder: Path, mine: str) -> list[str]:
    """The observers of other sessions whose files are written to now, by name."""
    found = {observer for session, observer in _written_now(folder) if session != mine}
    return sorted(found)


def _written_now(folder: Path) -> Iterator[tuple[str, str]]:
    young = time.time() - _LEAST_S
    for path in (folder / FOLDER).glob("*.jsonl"):
        try:
            if path.stat().st_mtime < young:
                continue
            with path.open("rb") as stream:
                first = stream.read(_MOST_BYTES).split(b"\n", 1)[0]
                stream.seek(max(0, path.stat().st_size - _MOST_BYTES))
                last = stream.read().rstrip(b"\n").rsplit(b"\n", 1)[-1]
            opened = decode(first)
            if opened.kind == "opened" and opened.fields["method"] != "record" and not _closed(last):
                yield opened.fields["session"], opened.fields["observer"]
        except (OSError, RecordError, KeyError):
            continue


def _closed(line: bytes) -> bool:
    try:
        return bool(json.loads(line).get("is") == "closed")
    except (ValueError, AttributeError):
        return False
