"""What a session could see: the zones on offer when it was opened, and in a round those somebody looked into."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from ..journal import Session
from ..study import Declaration, home, value_at
from .rounds import ROUND, rounds_of
from .watched import Moment


def looked_into(declared: Declaration, session: Session) -> Callable[[Moment], tuple[str, ...] | None]:
    """For each moment the zones that could have held its animal, as far as anybody looked; None where that is all.

    A part that says which zones there were when it was opened offers no others. In a round only zones that were
    checked, or held somebody, were looked into.
    """
    opened = {e.in_part: e.record.get("zones") for e in session.entries if e.record.kind == "opened"}
    known = {part: None if zones is None else frozenset(zones) for part, zones in opened.items()}
    rounds = rounds_of(session) if session.method == ROUND else ()
    made: dict[tuple[tuple[int, str], int], tuple[str, ...] | None] = {}

    def zones_of(moment: Moment) -> tuple[str, ...] | None:
        number = bisect_right([r.start for r in rounds], moment.at) - 1 if rounds else 0
        key = moment.part, number
        if key not in made:
            there = known.get(moment.part)
            if rounds:
                looked = rounds[max(number, 0)].zones
                there = looked if there is None else there & looked
            made[key] = _as_row(declared, there)
        return made[key]

    return zones_of


def _as_row(declared: Declaration, zones: frozenset[str] | None) -> tuple[str, ...] | None:
    if zones is None or zones >= declared.zones.keys():
        return None
    return tuple(zone for zone in declared.zones if zone in zones)


def with_the_missing(declared: Declaration, session: Session, moments: list[Moment]) -> list[Moment]:
    """With those a round found nowhere though they live there, and those a group's counts in a scan fall short by."""
    added: list[Moment] = []
    if session.method == "scan" and declared.groups:
        added = _short_counts(declared, moments, from_table=bool(session.source))
    elif session.method == ROUND:
        added = _found_nowhere(declared, session, moments)
    return sorted([*moments, *added], key=lambda m: (m.at, m.scan or 0)) if added else moments


def _found_nowhere(declared: Declaration, session: Session, moments: Sequence[Moment]) -> list[Moment]:
    added: list[Moment] = []
    for one in rounds_of(session):
        mine = [m for m in moments if one.start <= m.at <= one.end]
        scan = max((m.scan or 1 for m in mine), default=1)
        part = mine[-1].part if mine else session.entries[0].in_part
        blank = Moment(one.end, scan, None, None, None, None, None, False, True, False, part, -1)
        looked = {declared.zones[z].enclosure for z in one.zones if z in declared.zones}
        for enclosure in sorted(looked):
            added += _missing(declared, enclosure, mine, blank)
    return added


def _lone(declared: Declaration, enclosure: str, mine: Sequence[Moment], at: datetime) -> list[str]:
    """The animals of the enclosure that stand in no record by their own name."""
    recorded = {m.animal for m in mine if m.animal}
    return [a.id for a in declared.animals.values() if a.id not in recorded and home(a, at) == enclosure]


def _missing(declared: Declaration, enclosure: str, mine: Sequence[Moment], blank: Moment) -> list[Moment]:
    """Who lives in the enclosure and stands in no record of the round."""
    lone = _lone(declared, enclosure, mine, blank.at)
    short = _short_groups(declared, enclosure, mine, blank)
    here = [m for m in mine if not m.name and m.zone and _enclosure(declared, m) == enclosure]
    if not here:
        return [*(replace(blank, animal=name) for name in lone), *short]
    # Some were found and not told apart: how many are missing is known, who is not.
    missing = len(lone) + sum(m.count or 0 for m in short) - _counted(here)
    return [replace(blank, count=missing)] if missing > 0 else []


def _short_groups(
    declared: Declaration, enclosure: str, mine: Sequence[Moment], blank: Moment
) -> list[Moment]:
    """Of each group living there, how many of it stand in no record of the round."""
    found = []
    for group in declared.groups.values():
        size = value_at(group.size, blank.at)
        if size is None or home(group, blank.at) != enclosure:
            continue
        short = size - _counted(m for m in mine if m.group == group.id)
        if short > 0:
            found.append(replace(blank, group=group.id, count=short))
    return found


def _short_counts(declared: Declaration, moments: Sequence[Moment], from_table: bool) -> list[Moment]:
    """Of groups that were counted, how many stand in no count of a scan: where these were is not known.

    A session of a table that writes each zone's count once, at a minute of its own, holds one scan.
    """
    by_group: dict[str, list[Moment]] = defaultdict(list)
    for moment in moments:
        if moment.group in declared.groups:
            by_group[str(moment.group)].append(moment)
    added = []
    for name, own in by_group.items():
        size = value_at(declared.groups[name].size, own[0].at)
        if size is None:
            continue
        scans: dict[tuple[object, ...], list[Moment]] = defaultdict(list)
        whole = from_table and len({m.zone for m in own}) == len(own) and _counted(own) <= size
        for moment in own:
            scans[() if whole else (moment.scan or moment.at,)].append(moment)
        for scan in scans.values():
            last = scan[-1]
            size = value_at(declared.groups[name].size, last.at) or 0
            short = size - _counted(scan)
            if short > 0 and home(declared.groups[name], last.at) is not None:
                added.append(
                    replace(
                        last,
                        count=short,
                        zone=None,
                        behaviour=None,
                        hidden=False,
                        sure=True,
                        source=-1,
                        nowhere=False,
                    )
                )
    return added


def _counted(moments: Iterable[Moment]) -> int:
    return sum(1 if m.count is None else m.count for m in moments)


def _enclosure(declared: Declaration, moment: Moment) -> str | None:
    zone = declared.zones.get(moment.zone or "")
    return zone.enclosure if zone else None
