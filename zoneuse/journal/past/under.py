"""What the rows of a table were under: one treatment a session, or one for each enclosure or animal in it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from zoneuse.study import Problem
from zoneuse.study.treatments import Under

from ..fold import Place
from ..reader import Journals
from .sighting import Sighting


def under(rows: Sequence[Sighting]) -> Under | None:
    """How the opened record of a session names what its rows were under."""
    rows = [r for r in rows if r.who]
    said = {r.treatment for r in rows}
    if len(said) <= 1:
        return next(iter(said), None)
    for named in (_enclosure, _who):
        found = _by(rows, named)
        if all(len(several) == 1 for several in found.values()):
            return {name: t for name, (t,) in found.items() if t is not None}
    return None


def _enclosure(row: Sighting) -> str:
    return row.enclosure


def _who(row: Sighting) -> str:
    return row.who


def _by(rows: Sequence[Sighting], named: Callable[[Sighting], str]) -> Mapping[str, set[str | None]]:
    found: dict[str, set[str | None]] = defaultdict(set)
    for row in rows:
        found[named(row)].add(row.treatment)
    return found


def without_mixed(path: Path, good: Sequence[Sighting]) -> tuple[list[Sighting], list[Problem]]:
    """The rows but for those of an animal that one session holds under two treatments, and a problem for each."""
    found: dict[tuple[str, str, str], set[str | None]] = defaultdict(set)
    for row in good:
        found[row.session, row.observer, row.who].add(row.treatment)
    mixed = {key for key, several in found.items() if key[2] and len(several) > 1}
    left = [r for r in good if (r.session, r.observer, r.who) in mixed]
    problems = [
        Problem(
            "treatment", str(path), f"line {r.line}, column treatment",
            f"session {r.session} holds {r.who} under "
            f"{' and '.join(sorted(t or 'nothing' for t in found[r.session, r.observer, r.who]))}",
            "one treatment for an animal in a session", "Give each treatment a session of its own",
        )
        for r in left
    ]  # fmt: skip
    return [r for r in good if (r.session, r.observer, r.who) not in mixed], problems


def recorded_under(journals: Journals) -> dict[tuple[str, int, str], object]:
    """What each part of each session says it was under."""
    return {
        (s.id, e.place.part, e.place.file): e.record.get("treatment")
        for s in journals.sessions.values()
        for e in s.entries
        if e.record.kind == "opened"
    }


def otherwise(
    path: Path, row: Sighting, place: Place | None, known: Mapping[tuple[str, int, str], object]
) -> Problem | None:
    """A row that is here under another treatment than the table says, or under none."""
    if place is None or row.treatment is None:
        return None
    there = known.get((place.session, place.part, place.file))
    if isinstance(there, Mapping):
        there = there.get(row.enclosure) or there.get(row.who)
    if there == row.treatment:
        return None
    return Problem(
        "treatment", str(path), f"line {row.line}, column treatment",
        f"{row.who} is on record then under {there or 'nothing'}, here under {row.treatment}",
        "the treatment on record", "Take the table out with --undo and in again",
    )  # fmt: skip
