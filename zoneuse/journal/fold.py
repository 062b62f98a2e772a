"""Fold what the files say into what counts: copies once, what was taken back out, corrections where they stood."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple

from ..study import Problem
from .records import Record
from .writer import file_name


class Place(NamedTuple):
    """Where a record is written: session, part, number, and the identity of the part's file ("" in old files)."""

    session: str
    part: int
    n: int
    file: str = ""


PartKey = tuple[str, int, str]
"""A part of a session: session, part, and the identity of its file."""


@dataclass(frozen=True, slots=True)
class Entry:
    """A record and the part it counts in.

    A correction counts where the record stood that it corrects (``stands_for``); ``written`` is where it lies.
    """

    session: str
    part: int
    record: Record
    file: str = ""
    written: Place | None = None
    stands_for: Place | None = None

    @property
    def place(self) -> Place:
        """Where the record is written; what a take-back of it must name."""
        return self.written or Place(self.session, self.part, self.record.n, self.file)

    @property
    def stood(self) -> Place:
        """Where the record counts: its own place, or that of the record it corrects."""
        return self.stands_for or self.place

    @property
    def in_part(self) -> tuple[int, str]:
        """The part of its session: two devices may both have written a second one."""
        return self.part, self.file


@dataclass(frozen=True, slots=True)
class JournalFile:
    """One file as it lies on the disk."""

    path: Path
    opened: Record | None
    records: Sequence[Record]
    problems: tuple[Problem, ...]

    @property
    def key(self) -> PartKey:
        """Which part this is. Only for files with a header."""
        assert self.opened is not None
        fields = self.opened.fields
        return fields["session"], fields["part"], fields.get("file") or ""


def reference(place: Place) -> dict[str, Any]:
    """A place as ``of`` and ``replaces`` hold it."""
    of: dict[str, Any] = {"session": place.session, "part": place.part, "n": place.n}
    return {**of, "file": place.file} if place.file else of


def merge_copies(files: Iterable[JournalFile]) -> tuple[dict[PartKey, JournalFile], list[Problem]]:
    """One file for each part of a session; a synchroniser's copies add what only they hold."""
    merged: dict[PartKey, JournalFile] = {}
    problems: list[Problem] = []
    for file in sorted(files, key=_own_name_first):
        if file.opened is None:
            continue
        first = merged.setdefault(file.key, file)
        if first is file:
            continue
        known = {record.n: record for record in first.records}
        differing = [r.n for r in file.records if known.setdefault(r.n, r) != r]
        if differing:
            problems.append(_copies_differ(file.path, first.path, differing))
        both = tuple(known[n] for n in sorted(known))
        merged[file.key] = JournalFile(first.path, first.opened, both, first.problems)
    return merged, problems


def _own_name_first(file: JournalFile) -> tuple[bool, str]:
    own = file.opened is not None and file.path.name == file_name(*file.key)
    return not own, file.path.name


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
    """What the take-backs come to.

    ``void`` records do not count where they are written. ``replaced`` names the correction of each corrected
    record; ``stand_in`` the one that counts in the end in the place of a record that never was a correction.
    ``undone`` records went with the table they came from. ``backs`` are the take-backs in effect of each record
    that was taken back by itself, newest last.
    """

    void: frozenset[Place]
    replaced: Mapping[Place, Place]
    backs: Mapping[Place, tuple[Place, ...]]
    stand_in: Mapping[Place, Place]
    undone: frozenset[Place]
    problems: tuple[Problem, ...]


def place_named(of: Mapping[str, Any]) -> Place | None:
    """The one record that ``of`` or ``replaces`` names; None where it names a whole session, or nothing."""
    if "n" not in of:
        return None
    return Place(str(of.get("session")), of.get("part", 1), of["n"], of.get("file") or "")


@dataclass(frozen=True, slots=True)
class _Back:
    """A take-back: of one record (``of``) or of a whole session, and what stands in for it."""

    place: Place
    at: datetime
    of: Place | None
    session: str | None
    replaces: Place | None
    undo: bool

    @property
    def target(self) -> Place | str | None:
        return self.of or self.session


def fold_take_backs(entries: Mapping[Place, Entry]) -> Folded:
    """What counts after every take-back, in time linear in the records.

    A take-back that was itself taken back has no effect. Of two corrections of one record (two devices) the
    later counts. A correction whose take-back has no effect, or that was not chosen, does not count at all.
    """
    places = _Places(entries)
    backs = [_read_back(entry, places) for entry in entries.values() if entry.record.kind == "took-back"]
    working, circular = _in_effect(backs)
    gone = {b.session: b.undo for b in working if b.session is not None}
    of_each = _of_each(working)
    newest = {place: several[-1] for place, several in of_each.items()}
    substitutes = {b.replaces for b in backs if b.replaces is not None and b.of is not None}
    stand_in = _stand_ins(substitutes, newest, gone)
    whole = {place for place in entries if place.session in gone}
    return Folded(
        void=frozenset(whole | newest.keys() | (substitutes - set(stand_in.values()))),
        replaced={place: b.replaces for place, b in newest.items() if b.replaces is not None},
        backs={place: tuple(b.place for b in several) for place, several in of_each.items()},
        stand_in=stand_in,
        undone=_undone(whole, gone, newest),
        problems=(*_without_sense(backs, circular, entries), *_twice(of_each, entries)),
    )


def _undone(
    whole: Iterable[Place], gone: Mapping[str, bool], newest: Mapping[Place, _Back]
) -> frozenset[Place]:
    """Records that an undone intake took with it: with their whole session, or each by itself."""
    alone = (p for p in newest if _went_with_its_table(p, newest))
    return frozenset((*(p for p in whole if gone[p.session]), *alone))


def _of_each(working: Iterable[_Back]) -> dict[Place, list[_Back]]:
    """The take-backs of each record, in order of time."""
    of_each: dict[Place, list[_Back]] = defaultdict(list)
    for back in sorted(working, key=lambda b: (b.at, b.place)):
        if back.of is not None:
            of_each[back.of].append(back)
    return of_each


def _without_sense(
    backs: Sequence[_Back], circular: Sequence[Place], entries: Mapping[Place, Entry]
) -> Iterable[Problem]:
    """Take-backs of nothing there is, then those that take each other back."""
    yield from (_dangling(entries[b.place]) for b in backs if b.target is None)
    yield from (_circle(entries[place]) for place in circular)


class _Places:
    """Finds the record a reference names; one without ``file`` means the only part of that number."""

    def __init__(self, entries: Mapping[Place, Entry]) -> None:
        self.entries = entries
        self.sessions = {place.session for place in entries}
        self.files: dict[tuple[str, int], set[str]] = defaultdict(set)
        for place in entries:
            self.files[place.session, place.part].add(place.file)

    def find(self, of: Mapping[str, Any]) -> Place | None:
        place = place_named(of)
        if place is None:
            return None
        files = self.files.get((place.session, place.part), set())
        if not place.file and len(files) == 1:
            place = place._replace(file=next(iter(files)))
        return place if place in self.entries else None


def _read_back(entry: Entry, places: _Places) -> _Back:
    record = entry.record
    of, replaces = record.fields["of"], record.get("replaces")
    session = of.get("session") if "n" not in of else None
    return _Back(
        place=entry.place,
        at=record.entered or record.at,
        of=places.find(of),
        session=session if session in places.sessions else None,
        replaces=places.find(replaces) if replaces else None,
        # A whole session went with the table it came from: taking the table in again brings it back.
        undo="n" not in of or record.get("undo") is not None,
    )


# The take-backs of each node: of a take-back, or of a session as a whole, which is gone where any of them counts.
_Node = Place | str
_Against = dict[_Node, list["_Back"]]


def _against(backs: Sequence[_Back]) -> _Against:
    against: _Against = defaultdict(list)
    for back in backs:
        if back.target is not None and back.target != back.place:
            against[back.target].append(back)
    return against


def _needs(node: _Node, against: _Against) -> list[_Node]:
    """The nodes that decide whether this one is in effect."""
    more = [] if isinstance(node, str) else [node.session] if node.session in against else []
    return [*(b.place for b in against.get(node, ())), *more]


def _in_effect(backs: Sequence[_Back]) -> tuple[list[_Back], list[Place]]:
    """The take-backs that nothing in effect takes back, and those that form a circle (none of them has one)."""
    against = _against(backs)
    effect: dict[Place | str, bool] = {}
    open_nodes: dict[Place | str, None] = {}
    circular: list[Place] = []
    for start in backs:
        stack: list[Place | str] = [start.place]
        while stack:
            node = stack[-1]
            if node in effect:
                stack.pop()
                continue
            needed = _needs(node, against)
            waiting = [n for n in needed if n not in effect]
            if waiting and node not in open_nodes:
                open_nodes[node] = None
                stack += [n for n in waiting if n not in open_nodes]
                continue
            stack.pop()
            taken_back = any(map(effect.get, needed))
            if isinstance(node, str):
                effect[node] = taken_back
                continue
            circular += [node] if waiting else []
            effect[node] = not waiting and not taken_back
    return [b for b in backs if effect[b.place]], circular


def _corrections(root: Place, newest: Mapping[Place, _Back]) -> list[Place]:
    """A record, what was written in its stead, what in the stead of that, as far as it goes; a circle ends it."""
    line = [root]
    while (
        (back := newest.get(line[-1])) is not None and back.replaces is not None and back.replaces not in line
    ):
        line.append(back.replaces)
    return line


def _went_with_its_table(place: Place, newest: Mapping[Place, _Back]) -> bool:
    """Whether a record, or the correction that stood for it in the end, was taken back with its whole table."""
    back = newest.get(_corrections(place, newest)[-1])
    return back is not None and back.undo


def _stand_ins(
    substitutes: AbstractSet[Place], newest: Mapping[Place, _Back], gone: Mapping[str, bool]
) -> dict[Place, Place]:
    """What stands for a record in the end: its correction, or the correction of that; nothing where it is just gone."""
    found: dict[Place, Place] = {}
    taken: set[Place] = set()
    for root in sorted(newest.keys() - substitutes):
        line = _corrections(root, newest)
        stands = line[-1] not in newest and not any(place.session in gone for place in line)
        # A record that replaces two stands once, for the first.
        if stands and line[-1] not in taken:
            found[root] = line[-1]
            taken.add(line[-1])
    return found


def _twice(of_each: Mapping[Place, Sequence[_Back]], entries: Mapping[Place, Entry]) -> Iterable[Problem]:
    """Records corrected twice, each time from what stood there first: two devices, or two people."""
    corrected = {place: [b for b in several if b.replaces is not None] for place, several in of_each.items()}
    for place, several in corrected.items():
        if len(several) > 1:
            yield Problem(
                "corrected-twice",
                f"session {place.session}",
                f"record {place.n}",
                f"was corrected {len(several)} times independently, in "
                + " and ".join(entries[b.place].session for b in several),
                "one correction",
                "The last one counts; look at both with: zoneuse mend " + place.session,
                hint=True,
            )


def _circle(entry: Entry) -> Problem:
    return Problem(
        "take-back", f"session {entry.session}", f"record {entry.record.n}",
        "belongs to a circle of take-backs that take each other back", "",
        "They may not count as meant; look at the records they name with: zoneuse mend", hint=True,
    )  # fmt: skip


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


def standing_for(old: Entry, new: Entry) -> Entry:
    """A correction as it counts: in the session, part and scan of the record it corrects, at its own time."""
    mono = old.record.mono
    if mono is not None:
        mono += (new.record.at - old.record.at).total_seconds()
    fields = new.record.fields
    if old.record.get("scan") is not None and "scan" not in fields and new.record.kind in ("seen", "unseen"):
        fields = {**fields, "scan": old.record.fields["scan"]}
    record = new.record._replace(mono=mono, fields=fields)
    return replace(old, record=record, written=new.place, stands_for=old.place)
