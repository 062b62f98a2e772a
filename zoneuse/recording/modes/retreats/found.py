"""What a retreat round has found so far, folded from the records that stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from ...session.ledger import LedgerEntry
from ...session.plan import Plan, Who


@dataclass(frozen=True, slots=True)
class Found:
    """``seen``: each animal's sighting. ``counted``: so many of each group. ``nameless``: sightings of nobody known.

    ``unseen``: records of not found, by animal or group. ``checked``: by zone, looked into or left out.
    """

    seen: Mapping[str, LedgerEntry]
    counted: Mapping[str, int]
    nameless: tuple[LedgerEntry, ...]
    unseen: Mapping[str, LedgerEntry]
    checked: Mapping[str, LedgerEntry]

    def looked_into(self, zone: str) -> bool:
        line = self.checked.get(zone)
        return line is not None and not line.fields.get("skipped")


@dataclass(frozen=True, slots=True)
class Tally:
    """One enclosure's numbers. ``alive``: those known to live there; ``found`` of them, ``nameless`` without a name.

    ``missing`` are those neither found nor recorded as not found. ``whole``: every retreat was looked into.
    """

    alive: int
    found: int
    nameless: int
    missing: tuple[Who, ...]
    unseen: int
    whole: bool

    @property
    def unfound(self) -> int:
        return max(0, self.alive - self.found)

    @property
    def to_confirm(self) -> tuple[Who, ...]:
        """Who may be recorded as not found: only where it was looked for everywhere, and nobody is nameless."""
        return self.missing if self.whole and not self.nameless else ()


def fold(lines: Iterable[LedgerEntry]) -> Found:
    """Fold a round's records; those taken back do not count, and of two the later stands."""
    seen: dict[str, LedgerEntry] = {}
    counted: Counter[str] = Counter()
    nameless: list[LedgerEntry] = []
    unseen: dict[str, LedgerEntry] = {}
    checked: dict[str, LedgerEntry] = {}
    for line in lines:
        if line.void:
            continue
        animal, group = line.fields.get("animal"), line.fields.get("group")
        if line.kind == "checked":
            checked[line.fields["zone"]] = line
        elif line.kind == "unseen" and (name := animal or group):
            unseen[name] = line
        elif line.kind == "seen" and animal:
            seen[animal] = line
        elif line.kind == "seen" and group:
            counted[group] += line.fields.get("count") or 1
        elif line.kind == "seen":
            nameless.append(line)
    return Found(seen, counted, tuple(nameless), unseen, checked)


def tally(plan: Plan, found: Found, enclosure: str) -> Tally:
    """The numbers of one enclosure."""
    living = [who for who in plan.who if who.enclosure == enclosure]
    nameless = _nameless(plan, found, enclosure)
    counted = sum(found.counted.get(who.id, 0) for who in living if who.group)
    named = sum(who.id in found.seen for who in living)
    unseen = [found.unseen[who.id] for who in living if who.id in found.unseen]
    short = [who for who in living if short_of(who, found) and who.id not in found.unseen]
    return Tally(
        alive=sum(_size(who, found) for who in living),
        found=named + counted + nameless,
        nameless=nameless,
        missing=tuple(short),
        unseen=sum(_count(line) for line in unseen),
        whole=all(found.looked_into(z.id) for z in plan.retreats if z.enclosure == enclosure),
    )


def _nameless(plan: Plan, found: Found, enclosure: str) -> int:
    """How many were found there and not told apart."""
    places = {zone.id for zone in plan.zones(enclosure)}
    return sum(_count(line) for line in found.nameless if line.fields["zone"] in places)


def _count(line: LedgerEntry) -> int:
    """How many one record tells of."""
    return int(line.fields.get("count") or 1)


def short_of(who: Who, found: Found) -> int:
    """How many of these are not found: 1 or 0 for an animal."""
    if who.group:
        return max(0, _size(who, found) - found.counted.get(who.id, 0))
    return int(who.id not in found.seen)


def _size(who: Who, found: Found) -> int:
    """A group of no known size is as large as was counted."""
    if not who.group:
        return 1
    return found.counted.get(who.id, 0) if who.size is None else who.size
