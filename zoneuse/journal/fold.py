"""Fold what the files say into what counts: copies once, what was taken back out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..study.problems import Problem
from .records import Record
from .writer import file_name

Place = tuple[str, int, int]
"""Where a record stands: session, part, n."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A record and where it stands."""

    session: str
    part: int
    record: Record

    @property
    def place(self) -> Place:
        return self.session, self.part, self.record.n


@dataclass(frozen=True, slots=True)
class JournalFile:
    """One file as it lies on the disk."""

    path: Path
    opened: Record | None
    records: tuple[Record, ...]
    problems: tuple[Problem, ...]


def merge_copies(files: Iterable[JournalFile]) -> tuple[dict[tuple[str, int], JournalFile], list[Problem]]:
    """One file for each session and part; a synchroniser's copies add what only they hold."""
    merged: dict[tuple[str, int], JournalFile] = {}
    problems: list[Problem] = []
    for file in sorted(files, key=_own_name_first):
        if file.opened is None:
            continue
        key = file.opened.fields["session"], file.opened.fields["part"]
        first = merged.setdefault(key, file)
        if first is file:
            continue
        known = {record.n: record for record in first.records}
        differing = [r.n for r in file.records if known.setdefault(r.n, r) != r]
        if differing:
            problems.append(_copies_differ(file.path, first.path, differing))
        both = tuple(known[n] for n in sorted(known))
        merged[key] = JournalFile(first.path, first.opened, both, first.problems)
    return merged, problems


def _own_name_first(file: JournalFile) -> tuple[bool, str]:
    header = file.opened.fields if file.opened else {}
    return file.path.name != file_name(header.get("session", ""), header.get("part", 0)), file.path.name


def _copies_differ(copy: Path, first: Path, differing: list[int]) -> Problem:
    return Problem(
        "copies-differ",
        str(copy),
        f"record {differing[0]}",
        f"{len(differing)} records differ from those of {first.name}",
        "copies that agree",
        f"{first.name} counts; look at both and correct with: zoneuse mend",
    )


@dataclass(frozen=True, slots=True)
class Folded:
    """``void`` records do not count; ``replaced`` names what stands in a corrected record's place."""

    void: frozenset[Place]
    replaced: Mapping[Place, Place]
    problems: tuple[Problem, ...]


def place_named(of: Mapping[str, Any]) -> Place | None:
    """The one record that ``of`` or ``replaces`` names; None where it names a whole session, or nothing."""
    return (str(of.get("session")), of.get("part", 1), of["n"]) if "n" in of else None


def fold_take_backs(entries: Mapping[Place, Entry]) -> Folded:
    """Which records are void. A take-back that was itself taken back has no effect."""
    sessions: dict[str, list[Place]] = defaultdict(list)
    for place in entries:
        sessions[place[0]].append(place)

    def named(of: Mapping[str, Any]) -> list[Place]:
        place = place_named(of)
        if place is None:
            return sessions.get(str(of.get("session")), [])
        known = all(isinstance(number, int) for number in place[1:]) and place in entries
        return [place] if known else []

    backs = {place: entry for place, entry in entries.items() if entry.record.kind == "took-back"}
    targets = {place: named(entry.record.fields["of"]) for place, entry in backs.items()}
    void = _settle(targets)
    replaced = {}
    for place, entry in backs.items():
        new = named(entry.record.get("replaces") or {})
        if new and place not in void:
            replaced.update(dict.fromkeys(targets[place], new[0]))
    problems = tuple(_dangling(backs[place]) for place, found in targets.items() if not found)
    return Folded(void, replaced, problems)


def _settle(targets: Mapping[Place, list[Place]]) -> frozenset[Place]:
    """Repeat until nothing changes: a chain of take-backs settles from its last link, one link a round."""
    void: set[Place] = set()
    for _ in range(len(targets) + 1):
        after = {t for place, found in targets.items() if place not in void for t in found if t != place}
        if after == void:
            break
        void = after
    return frozenset(void)


def _dangling(entry: Entry) -> Problem:
    return Problem(
        "take-back",
        f"session {entry.session}",
        f"record {entry.record.n}",
        f"takes back {entry.record.fields['of']}, which is not here",
        "",
        "Perhaps its file has not been synchronised yet",
        hint=True,
    )
