"""Take a table of past sightings back out, by its name alone or by what is in it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import chain
from typing import Any

from zoneuse.study import Declaration

from ..fold import Entry, Place, reference
from ..reader import Journals, Session
from ..rows import RecordToWrite, write_rows


@dataclass(frozen=True, slots=True)
class Undone:
    """``sessions``: whole or in part; ``records`` went with them. ``restored``: rows that say again what they said
    before this file replaced them. ``by_hand``: of the records, those that `mend` had corrected. ``left``: records
    of the same sessions that stay, by the file they came from."""

    sessions: int
    records: int
    restored: int
    by_hand: int
    left: Mapping[str, int]


def named(journals: Journals, name: str) -> set[str]:
    """What was taken in under a file's name: the sha256 of each of its versions."""
    return {
        str(source.get("sha256"))
        for session in journals.sessions.values()
        for source in _sources(session)
        if source.get("name") == name and source.get("sha256")
    }


def _sources(session: Session) -> Iterator[Mapping[str, Any]]:
    for entry in session.entries:
        if entry.record.kind in ("opened", "took-back"):
            source = entry.record.get("source")
            if isinstance(source, Mapping):
                yield source


@dataclass(frozen=True, slots=True)
class _OfFile:
    """What of one session came from a file: what to take ``back`` (its id where all of it came from there), its
    records, those that were mended ``by_hand`` since, and the names of the files that what is ``left`` came from."""

    back: tuple[Place | str, ...] = ()
    records: int = 0
    by_hand: int = 0
    left: tuple[str, ...] = ()


def _parts_from(session: Session) -> dict[Any, Mapping[str, Any]]:
    """What each part of a session came from; empty for what was recorded here."""
    return {e.in_part: e.record.get("source") or {} for e in session.entries if e.record.kind == "opened"}


def _of_file(session: Session, sha256s: Collection[str]) -> _OfFile:
    """What of a session came from these versions of a file."""
    sources = _parts_from(session)
    mine = {part for part, source in sources.items() if source.get("sha256") in sha256s}
    if not mine:
        return _OfFile()
    inside = [e for e in session.entries if e.in_part in mine]
    own = list(_told(inside))
    counts = len(own), sum(e.written is not None for e in own)
    if mine == set(sources):
        return _OfFile((session.id,), *counts)
    others = _told(e for e in session.entries if e.in_part not in mine)
    left = tuple(_name(sources.get(e.in_part)) for e in others)
    return _OfFile(tuple(e.place for e in inside), *counts, left)


def _told(entries: Iterable[Entry]) -> Iterator[Entry]:
    """Without those that only open and close a session."""
    return (e for e in entries if e.record.kind not in ("opened", "closed"))


def _name(source: Mapping[str, Any] | None) -> str:
    """The file a part came from."""
    return str((source or {}).get("name") or "no file")


def undo(declared: Declaration, sha256s: Collection[str], journals: Journals, now: datetime) -> Undone:
    """Take back everything that came from these versions of a file."""
    found = [_of_file(s, sha256s) for s in journals.sessions.values() if s.watched]
    whole = list(chain.from_iterable(one.back for one in found))
    records, by_hand = sum(one.records for one in found), sum(one.by_hand for one in found)
    left = dict(sum((Counter(one.left) for one in found), Counter[str]()))
    sessions = len({of.session if isinstance(of, Place) else of for of in whole})
    backs = _replacements(journals, sha256s)
    rows = [
        *_taken_back(whole, sorted(sha256s)),
        *(RecordToWrite("took-back", {"of": reference(p)}) for p in backs),
    ]
    if rows:
        write_rows(declared, now, rows)
    return Undone(sessions, records, len(backs), by_hand, left)


def _taken_back(whole: list[Place | str], sha256s: list[str]) -> Iterator[RecordToWrite]:
    for of in whole:
        target = reference(of) if isinstance(of, Place) else {"session": of}
        yield RecordToWrite(
            "took-back", {"of": target, "undo": sha256s[0] if len(sha256s) == 1 else " ".join(sha256s)}
        )


def _replacements(journals: Journals, sha256s: Collection[str]) -> list[Place]:
    """The take-backs by which these versions replaced rows of another one, where they are in effect."""
    in_effect = {back.place: back for backs in journals.backs.values() for back in backs}
    return [
        place
        for place, back in in_effect.items()
        if (back.record.get("source") or {}).get("sha256") in sha256s
    ]
