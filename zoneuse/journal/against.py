"""Journals against their study: ids are permanent, so one that is gone from study.toml is a fault."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Set
from datetime import datetime

from ..study import Declaration, Problem, spoken_time
from ..study.model import Zone
from .fold import Entry
from .reader import LONGEST, Journals, Session
from .steady import ClockStep, clock_steps

# Fields that hold an id, and the part of study.toml the id must stand in.
_HOLDS = {"animal": "animals", "group": "groups", "zone": "zones", "behaviour": "behaviours"}

# When somebody was found in a zone, and in which session.
Use = tuple[datetime, str]


def check_journals(declared: Declaration, journals: Journals) -> list[Problem]:
    """A fault for each id that journals use and study.toml no longer has; hints for clocks and zones that moved."""
    known = {kind: getattr(declared, kind).keys() for kind in _HOLDS.values()}
    uses: Counter[tuple[str, str]] = Counter()
    first: dict[tuple[str, str], Entry] = {}
    for entry in journals.entries():
        for kind, name in _named(entry):
            if name not in known[kind]:
                uses[kind, name] += 1
                first.setdefault((kind, name), entry)
    gone = [
        Problem(
            "id-gone",
            str(declared.folder / "study.toml"),
            f"{kind}.{name}",
            f"is used by {count} records (first in session {first[kind, name].session}) and is not declared",
            "every id that was ever recorded",
            f"Put [{kind}.{name}] back; end it with an until date if it is gone",
        )
        for (kind, name), count in uses.items()
    ]
    gone += _changed_nature(declared, journals)
    steps = [_stepped(step) for s in journals.sessions.values() for step in clock_steps(s.entries)]
    return [
        *gone, *steps, *_moved(declared, journals), *_zones_since(declared, journals), *_long(declared, journals)
    ]  # fmt: skip


def _changed_nature(declared: Declaration, journals: Journals) -> list[Problem]:
    """Behaviours recorded as a state that are momentary now, or the other way round."""
    wrong: Counter[tuple[str, bool]] = Counter()
    for entry in journals.entries("seen", "happened"):
        behaviour = declared.behaviours.get(entry.record.get("behaviour") or "")
        was_state = entry.record.kind == "seen"
        if behaviour is not None and behaviour.lasts != was_state:
            wrong[behaviour.id, was_state] += 1
    return [
        Problem(
            "changed-nature", str(declared.folder / "study.toml"), f"behaviours.{name}",
            f"{count} records have it as {'a state' if was_state else 'momentary'}, and it is declared otherwise now",
            f"lasts = {str(was_state).lower()}, as it was recorded",
            f"Write lasts = {str(was_state).lower()} in [behaviours.{name}] again, and give the other an id of its own",
        )
        for (name, was_state), count in wrong.items()
    ]  # fmt: skip


def _zones_since(declared: Declaration, journals: Journals) -> list[Problem]:
    """Zones without `present` that older sessions did not know, or that nobody was found in before a date."""
    sessions = [s for s in journals.sessions.values() if s.watched]
    used: dict[str, list[Use]] = defaultdict(list)
    for entry in journals.entries("seen", "happened"):
        used[str(entry.record.get("zone"))].append((entry.record.at, entry.session))
    lists = [(s.opened, set(listed)) for s in sessions if (listed := _listed(s)) is not None]
    unlisted = {s.id for s in sessions if not _says_what_was_there(s)}
    found = []
    for zone in declared.zones.values():
        if _dated(zone):
            continue
        unknown = [at for at, listed in lists if zone.id not in listed]
        known = [at for at, listed in lists if zone.id in listed]
        if unknown:
            since = min(known, default=max(unknown))
            told = f"{len(unknown)} sessions were opened when it was not declared"
            found.append(_since(declared, zone.id, told, since, "It is offered only from then on already"))
            continue
        found += _long_unused(declared, zone, unlisted, used)
    return found


def _dated(zone: Zone) -> bool:
    """Whether study.toml says since when, or until when, the zone was there."""
    return any(p.span.start is not None or p.span.until is not None for p in zone.present)


def _long_unused(
    declared: Declaration, zone: Zone, unlisted: Set[str], used: Mapping[str, list[Use]]
) -> list[Problem]:
    """A zone in which nobody was found for many sessions, while others beside it were used: at most one problem.

    ``unlisted``: the sessions that do not say what was there.
    """
    if not used[zone.id]:
        return []
    first = min(at for at, _ in used[zone.id])
    beside = (z.id for z in declared.zones.values() if z.enclosure == zone.enclosure and z.id != zone.id)
    before = len({s for other in beside for at, s in used[other] if at < first and s in unlisted})
    if before < _LONG_UNUSED:
        return []
    told = f"nothing was found in it in {before} sessions before {first.date()}, while others were used"
    return [_since(declared, zone.id, told, first, "Was it there? If not, say since when")]


# So many sessions before the first use of a zone make one ask whether it was there.
_LONG_UNUSED = 10


def _listed(session: Session) -> list[str] | None:
    """The zones that were on offer when a session was opened; None where its file does not say."""
    opened = next((e.record for e in session.entries if e.record.kind == "opened"), None)
    zones: list[str] | None = opened.get("zones") if opened is not None else None
    return zones


def _says_what_was_there(session: Session) -> bool:
    """Whether its list of zones was made while it was watched: of a past table it is made when that is taken in."""
    return _listed(session) is not None and not any(
        e.record.get("source") for e in session.entries if e.record.kind == "opened"
    )


def _since(declared: Declaration, zone: str, told: str, since: datetime, lead: str) -> Problem:
    day = since.astimezone(declared.timezone).date()
    return Problem(
        "zone-since", str(declared.folder / "study.toml"), f"zones.{zone}", told, "",
        f"{lead}: present = [{{from = {day}}}] in [zones.{zone}]", hint=True,
    )  # fmt: skip


def _long(declared: Declaration, journals: Journals) -> list[Problem]:
    """Sessions that seem to last for days: a mistyped date, most often."""
    found = []
    for session in journals.sessions.values():
        times = sorted(
            e.record.at for e in session.entries if e.record.kind in ("seen", "unseen", "happened")
        )
        if session.watched and times and times[-1] - times[0] > LONGEST:
            days = (times[-1] - times[0]).days
            found.append(
                Problem(
                    "long-session", f"session {session.id}", "", f"seems to last {days} days, from "
                    f"{spoken_time(times[0], declared.timezone)} to {spoken_time(times[-1], declared.timezone)}",
                    "one sitting", "If a date was mistyped, correct it with: zoneuse mend", hint=True,
                )
            )  # fmt: skip
    return found


def _moved(declared: Declaration, journals: Journals) -> list[Problem]:
    """A study whose time zone was changed: its times stay what they were, its days and times of day do not."""
    elsewhere = Counter(
        str(e.record.get("timezone")) for e in journals.entries("opened")
        if e.record.get("timezone") != str(declared.timezone)
    )  # fmt: skip
    return [
        Problem(
            "timezone-moved", str(declared.folder / "study.toml"), "timezone",
            f"{count} sessions or notes were recorded in {zone}; their days and times of day are now read in "
            f"{declared.timezone}", "", "Keep the zone the animals live in, wherever you are", hint=True,
        )
        for zone, count in elsewhere.items()
    ]  # fmt: skip


def _stepped(step: ClockStep) -> Problem:
    minutes = abs(step.by.total_seconds()) / 60
    back = step.by.total_seconds() < 0
    return Problem(
        "clock-step",
        f"session {step.entry.session}",
        f"part {step.entry.part}, record {step.entry.record.n}",
        f"the clock was {minutes:,.1f} min {'behind' if back else 'ahead of'} the session's own seconds from here on",
        "",
        "It was set back: order and durations are kept by the seconds" if back
        else "The computer slept, or the clock was set forward: the time between is not counted as watched. Check the "
        "times of this session",
        hint=True,
    )  # fmt: skip


def _named(entry: Entry) -> Iterator[tuple[str, str]]:
    fields = entry.record.fields
    for field, kind in _HOLDS.items():
        if isinstance(fields.get(field), str):
            yield kind, fields[field]
    if entry.record.kind == "adjusted":
        for zone in fields["zones"]:
            yield "zones", str(zone)
