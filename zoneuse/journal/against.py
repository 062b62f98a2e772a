"""Journals against their study: ids are permanent, so one that is gone from study.toml is a fault."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from ..study.model import Declaration
from ..study.problems import Problem
from .fold import Entry
from .reader import Journals
from .steady import ClockStep, clock_steps

# Fields that hold an id, and the part of study.toml the id must stand in.
_HOLDS = {"animal": "animals", "group": "groups", "zone": "zones", "behaviour": "behaviours"}


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
    steps = [_stepped(step) for s in journals.sessions.values() for step in clock_steps(s.entries)]
    return [*gone, *steps, *_moved(declared, journals)]


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
        else "It was set forward, or the computer slept; the clock is believed. Check the times of this session",
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
