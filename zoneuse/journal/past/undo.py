"""Take a table of past sightings back out, by its name alone or by what is in it."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from zoneuse.study.model import Declaration

from ..fold import Place, reference
from ..reader import Journals, Session
from ..rows import Row, write_rows


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


def undo(declared: Declaration, sha256s: Collection[str], journals: Journals, now: datetime) -> Undone:
    """Take back everything that came from these versions of a file."""
    whole: list[Place | str] = []
    records = by_hand = 0
    left: dict[str, int] = {}
    for session in journals.sessions.values():
        if not session.watched:
            continue
        parts = {e.in_part: e.record for e in session.entries if e.record.kind == "opened"}
        from_file = {part: (opened.get("source") or {}) for part, opened in parts.items()}
        mine = {part for part, source in from_file.items() if source.get("sha256") in sha256s}
        made = [e for e in session.entries if e.record.kind not in ("opened", "closed")]
        own = [e for e in made if e.in_part in mine]
        records += len(own)
        by_hand += sum(e.written is not None for e in own) if mine else 0
        if mine and mine == set(parts):
            whole.append(session.id)
        elif mine:
            whole += [e.place for e in session.entries if e.in_part in mine]
            for entry in made:
                if entry.in_part not in mine:
                    name = str(from_file.get(entry.in_part, {}).get("name") or "no file")
                    left[name] = left.get(name, 0) + 1
    sessions = len({of.session if isinstance(of, Place) else of for of in whole})
    backs = _replacements(journals, sha256s)
    rows = [*_taken_back(whole, sorted(sha256s)), *(Row("took-back", {"of": reference(p)}) for p in backs)]
    if rows:
        write_rows(declared, now, rows)
    return Undone(sessions, records, len(backs), by_hand, left)


def _taken_back(whole: list[Place | str], sha256s: list[str]) -> Iterator[Row]:
    for of in whole:
        target = reference(of) if isinstance(of, Place) else {"session": of}
        yield Row("took-back", {"of": target, "undo": sha256s[0] if len(sha256s) == 1 else " ".join(sha256s)})


def _replacements(journals: Journals, sha256s: Collection[str]) -> list[Place]:
    """The take-backs by which these versions replaced rows of another one, where they are in effect."""
    in_effect = {back.place: back for backs in journals.backs.values() for back in backs}
    return [
        place
        for place, back in in_effect.items()
        if (back.record.get("source") or {}).get("sha256") in sha256s
    ]
