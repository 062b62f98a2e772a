"""Phrases several answers say: how many of something, names in a row, whom a result speaks for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from typing import TYPE_CHECKING

from ..study import Declaration, spoken_time

# The review says numbers with these and loads no pandas.
if TYPE_CHECKING:
    import pandas as pd

    from ..tables import Adjustment
    from .filters import Filters

# From this part of all sessions on, they speak for one time of day.
MOSTLY = 0.8
SLOT_SAID = {"dawn": "around lights-on", "day": "by day", "dusk": "around lights-off", "night": "at night"}


def counted(number: int, what: str) -> str:
    """``1 session``, ``12 sessions``.

    >>> counted(1, "session"), counted(12, "day")
    ('1 session', '12 days')
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def often(number: int) -> str:
    """How many times something was.

    >>> often(1), often(2), often(1200)
    ('once', 'twice', '1,200 times')
    """
    return {1: "once", 2: "twice"}.get(number, f"{number:,} times")


def plural(what: str) -> str:
    """``sessions``."""
    return f"{what}s"


def listed(names: Sequence[str]) -> str:
    """Names as they are said in a row.

    >>> listed(["Ann"]), listed(["Ann", "Bo", "Cy"])
    ('Ann', 'Ann, Bo and Cy')
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def change_said(change: Adjustment, zone: tzinfo) -> str:
    """``Water on 15 Mar 2026 20:30``: what a change is called at the head of a sentence; never by its id."""
    what = "The change" if change.what == "other" else change.what.capitalize()
    return f"{what} on {spoken_time(change.at, zone)}"


def day_said(change: Adjustment, zone: tzinfo) -> str:
    """``Water on 15 Mar``, as a row or a heading says it."""
    local = change.at.astimezone(zone)
    return f"{change.what.capitalize()} on {local.day} {local:%b}"


# How a change is called within a sentence.
THE_CHANGE = {
    "water": "the watering", "heat": "the change in heat", "light": "the change in light",
    "cover": "the change in cover", "layout": "the new layout", "feeding": "the change in feeding",
    "company": "the change in company", "other": "the change",
}  # fmt: skip


def within_said(change: Adjustment, zone: tzinfo) -> str:
    """``the new layout on 1 Apr 2026 19:30``, as it stands within a sentence."""
    return f"{THE_CHANGE[change.what]} on {spoken_time(change.at, zone)}"


def speaks_for(declared: Declaration, moments: pd.DataFrame) -> str:
    """Whom the result speaks for: these animals, in these enclosures, in the weeks (and hours) watched."""
    # An id that was recorded and is gone from study.toml still has a name: itself.
    animals = [
        declared.animals[a].label if a in declared.animals else str(a)
        for a in sorted(set(moments["animal"].dropna()))
    ]
    enclosures = moments["enclosure"].nunique()
    when = f"in the weeks watched{_mostly(moments)}"
    if len(animals) == 1 and enclosures == 1 and moments["group"].isna().all():
        return f"This speaks for {animals[0]} in this enclosure {when}, not for others of its kind."
    if enclosures == 1:
        return f"Animals kept together are not independent: this speaks for this enclosure {when}, not for others."
    return (
        f"This speaks for the animals of these {enclosures} enclosures {when}, not for others of their kind."
    )


def _mostly(moments: pd.DataFrame) -> str:
    """``, by day``: the time of day in which nearly all sessions lay, where there are others too or not."""
    slots = moments.groupby("slot")["session"].nunique()
    most = str(slots.idxmax()) if len(slots) else ""
    if most not in SLOT_SAID or slots.max() < MOSTLY * slots.sum():
        return ""
    return f", {'mostly ' if len(slots) > 1 else ''}{SLOT_SAID[most]}"


def times_mixed(moments: pd.DataFrame) -> str:
    """A sentence where sessions lie in several times of day; empty where all lie in one."""
    slots = moments.groupby("slot")["session"].nunique()
    if len(slots) < 2:
        return ""
    told = ", ".join(f"{slot} {number}" for slot, number in slots.items())
    return f"Times of day are mixed (sessions by slot: {told}); see --slot."


def narrowed(headline: str, asked: str) -> str:
    """A headline with what was asked for named in it.

    >>> narrowed("Bark is avoided.", "Broad stripe, at night")
    'Bark is avoided (only Broad stripe, at night).'
    """
    return f"{headline.removesuffix('.')} (only {asked})." if asked and headline else headline


def asked_words(declared: Declaration, asked: Filters) -> str:
    """Filters as they are said; empty without any: ``Broad stripe, at night``."""
    return ", ".join(_filters(declared, asked))


def _filters(declared: Declaration, asked: Filters) -> Iterator[str]:
    from .question import labels_of

    labels, zone = labels_of(declared), declared.timezone
    if asked.animals:
        yield listed([labels[name] for name in asked.animals])
    if asked.behaviours:
        yield f"while {listed([labels[name] for name in asked.behaviours])}"
    if asked.treatments:
        known = declared.treatments
        yield f"under {listed([known[name].label for name in asked.treatments])}"
    if asked.phases:
        yield f"in {listed([phase.label for phase in asked.phases])}"
    if asked.slot:
        yield SLOT_SAID.get(asked.slot, f"in slot {asked.slot}")
    if asked.since:
        yield f"from {spoken_time(asked.since, zone)} on"
    if asked.until:
        yield f"before {spoken_time(asked.until, zone)}"
