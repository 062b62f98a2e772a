"""Who else is watching now: on this machine or, once the folder is synchronised, on another."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from ...journal import FOLDER, RECORD_METHOD, RecordError, Session, decode

# A session nobody closed is watched now where its last record is younger than three scans, and at least so young.
_LEAST_S = 300.0
# So long may nothing be worth a record where no beat asks for one.
_SILENT_S = {"ad-libitum": 1800.0, "retreat-round": 900.0}
_MOST_BYTES = 4096


def going_on(session: Session, now: datetime) -> bool:
    """Whether somebody probably records this session at this moment."""
    last = max((e.record.at for e in session.entries), default=session.opened)
    watched = _Watched(session.observer, session.method, session.opened, session.every_s, session.minutes)
    return session.closed is None and watched.now(last, now)


@dataclass(frozen=True, slots=True)
class _Watched:
    """What the opening of a session says of how long it is likely to go on."""

    observer: str
    method: str
    opened: datetime
    every_s: float | None
    minutes: float | None

    def now(self, last: datetime, now: datetime) -> bool:
        """Whether it goes on, by its last record: whoever follows an animal asleep records nothing until its end."""
        silent = max(_LEAST_S, 3 * (self.every_s or 0), _SILENT_S.get(self.method, 0.0))
        until = last + timedelta(seconds=silent)
        if self.method == "focal" and self.minutes:
            until = max(until, self.opened + timedelta(minutes=self.minutes))
        return last - timedelta(seconds=_LEAST_S) < now < until


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


def watching_too(folder: Path, mine: str, observer: str) -> list[str]:
    """The other people whose sessions are written to now, by name, for ``observer`` in the session ``mine``."""
    now = datetime.now(UTC)
    last: dict[str, datetime] = {}
    told: dict[str, _Watched] = {}
    closed: set[str] = set()
    for path in (folder / FOLDER).glob("*.jsonl"):
        try:
            written = datetime.fromtimestamp(path.stat().st_mtime, UTC)
            if now - written > timedelta(seconds=_LONGEST_S):
                continue
            name, watched, over = _read(path)
        except (OSError, RecordError, KeyError):
            continue
        # A session's parts are files of their own; the last of them closes it.
        last[name] = max(written, last.get(name, written))
        told[name] = watched
        closed |= {name} if over else set()
    return sorted(
        {
            one.observer
            for name, one in told.items()
            if name not in closed | {mine}
            and one.method != RECORD_METHOD
            and one.observer != observer
            and one.now(last[name], now)
        }
    )


# The longest anybody can follow without a record, and the oldest file worth opening.
_LONGEST_S = 4 * 3600.0


def _read(path: Path) -> tuple[str, _Watched, bool]:
    """A file's session, what its opening says, and whether its last line closes it."""
    with path.open("rb") as stream:
        first = stream.read(_MOST_BYTES).split(b"\n", 1)[0]
        stream.seek(max(0, path.stat().st_size - _MOST_BYTES))
        last = stream.read().rstrip(b"\n").rsplit(b"\n", 1)[-1]
    opened = decode(first)
    if opened.kind != "opened":
        raise KeyError(path.name)
    fields = opened.fields
    watched = _Watched(
        fields["observer"], fields["method"], opened.at, fields.get("every_s"), fields.get("minutes")
    )
    return fields["session"], watched, _closed(last)


def _closed(line: bytes) -> bool:
    try:
        return bool(json.loads(line).get("is") == "closed")
    except (ValueError, AttributeError):
        return False
