"""What the plan says: what is open, what each session is for, and what they should be worth."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import pandas as pd

from ...study import Declaration, spoken_time
from ...tables import Adjustment
from ..effort import Effort
from ..finding import Finding
from ..phrases import counted, listed
from ..quantities_said import label
from ..question import Question
from ..showing.said import about_so_many, capital, points
from .lottery import LotterySession, Planned
from .open_findings import OpenFinding, UnderWay

# An animal found this much less often than the middle one of all is named.
SELDOM = 0.5


def spoken_start(declared: Declaration, at: datetime) -> str:
    """A start as it is said: ``Mon 20 Apr 21:14``."""
    local = at.astimezone(declared.timezone)
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def headline(did: Effort, found: Sequence[OpenFinding], changes: Sequence[UnderWay]) -> str:
    early = f"{counted(len(found), 'finding')} {'is' if len(found) == 1 else 'are'} too early"
    moving = f" and {counted(len(changes), 'change')} {'is' if len(changes) == 1 else 'are'} under way"
    rest = moving if changes else ""
    return f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')} so far; {early}{rest}."


def sentence(finding: Finding, labels: Mapping[str, str], declared: Declaration) -> str:
    """A change under way, changes that ended undecided, or what is nearest to being settled."""
    f = finding
    if "under_way" in f.facts:
        return _under_way(declared, f)
    if "turned" in f.facts:
        return (
            f"{label(f.about[0]).capitalize()}: as things stand, no amount of watching can tell it from the places. "
            "Bring the warm (or moist) end to the other side, slowly and with the animals' safety first, for about "
            f"{counted(f.forecast.more if f.forecast and f.forecast.more else 0, 'session')}; put the change on record."
        )
    if "by_answer" not in f.facts:
        return (
            f"{capital(listed([labels.get(a, a) for a in f.about]))} had no verdict when the next change came, and no "
            "more watching can settle it now. Next time, wait for one before you change anything else."
        )
    told = "Too early: " + ", ".join(f"{name} {n}" for name, n in f.facts["by_answer"].items()) + "."
    if f.forecast is not None and f.forecast.more is not None:
        name = labels.get(f.about[0], f.about[0])
        more = about_so_many(f.forecast.more, f.unit)
        told += f" Closest to a verdict: {name} ({f.facts['answer']}), {more}."
    return told


def row_said(
    declared: Declaration,
    planned: LotterySession,
    have: Mapping[str, int],
    changes: Sequence[UnderWay],
    whom: tuple[str, ...],
) -> tuple[str, str, str]:
    """When, why and what it covers."""
    when = planned.at.astimezone(declared.timezone).isoformat(timespec="minutes")
    serving = [c for c in changes if planned.slot in c.wanted]
    if serving:
        change = max(serving, key=lambda c: c.missing)
        before = change.before.get(planned.slot, 0)
        why = f"no. {planned.number} after {change_name(declared, change.change)} ({before} before)"
    else:
        why = f"no. {planned.number} at that time of day ({have.get(planned.slot, 0)} so far)"
    covers = [planned.slot, *(change_name(declared, c.change) for c in serving)]
    for name in whom:
        known = declared.animals.get(name)
        covers.append(f"follow {known.label}" if known else name)
    return when, why, ", ".join(covers)


def change_name(declared: Declaration, change: Adjustment) -> str:
    """``water on 15 Mar``."""
    local = change.at.astimezone(declared.timezone)
    return f"{change.what} on {local.day} {local:%b}"


def beside(
    question: Question, planned: Planned, worth: Sequence[Mapping[str, Any]], labels: Mapping[str, str]
) -> Iterator[str]:
    """The sentences between the strip and the sessions."""
    yield from _so_far(question.rows)
    yield from (_ahead(one) for one in planned.ahead)
    yield from _worth(worth, len(planned.sessions), labels)
    yield from _seldom(question.rows, question.labels)
    yield from _lottery(planned.sessions, planned.seed)


def _so_far(rows: pd.DataFrame) -> Iterator[str]:
    slots = rows.groupby("slot")["session"].nunique()
    if len(slots):
        yield "Sessions by time of day: " + ", ".join(f"{slot} {n}" for slot, n in slots.items()) + "."


def _under_way(declared: Declaration, f: Finding) -> str:
    change: UnderWay = f.facts["under_way"]
    said = change_name(declared, change.change)
    start = f"{said[0].upper()}{said[1:]}"
    if f.facts["settling"]:
        until = spoken_time(change.settled, declared.timezone)
        return f"{start} is still settling, until {until}; no session is drawn before then."
    have = ", ".join(
        f"{slot} {change.after.get(slot, 0)} after, {change.before.get(slot, 0)} before"
        for slot in change.wanted
    )
    if not have:
        return f"{start}: nothing was watched before it, so nothing can be compared with what comes."
    missing = change.missing
    wanted = f"{missing} more would balance the two sides" if missing else "the two sides are balanced"
    short = f["sessions_before"] < f["sessions_after"]
    can_not = " No more can be had before it, so more after it helps only so far." if short else ""
    return f"{start} cannot be told from chance yet: {have}; {wanted}.{can_not}"


def _ahead(one: Mapping[str, str]) -> str:
    return (
        f"The change {one['adjustment']} was drawn for {one['day']}: sessions until then count as before it, and none "
        "is drawn on that day and the two after."
    )


def _worth(worth: Sequence[Mapping[str, Any]], number: int, labels: Mapping[str, str]) -> Iterator[str]:
    """The widest of each kind, as an example."""
    for answer in ("shifts", "zones"):
        mine = [w for w in worth if w["answer"] == answer]
        if not mine:
            continue
        w = max(mine, key=lambda one: one["high"] - one["low"])
        name = labels.get(w["zone"], w["zone"])
        as_said: Callable[[float], str] = points if answer == "shifts" else (lambda v: f"{100 * v:.0f}")
        unit = " points" if answer == "shifts" else " %"
        now, then = (
            f"{as_said(w[f'low{part}'])} to {as_said(w[f'high{part}'])}{unit}" for part in ("", "_then")
        )
        of = (
            f"the change of {name} after {labels.get(w['adjustment'], w['adjustment'])}"
            if answer == "shifts"
            else f"the share of {name}"
        )
        if now == then:
            yield f"{capital(counted(number, 'more session'))} would hardly narrow the limits of {of}: {now} now."
            continue
        yield (
            f"With {counted(number, 'more session')} the limits on {of} should narrow by some "
            f"{100 * w['narrower']:.0f} %: {now} now, about {then} then if it stays where it is."
        )


def _seldom(rows: pd.DataFrame, labels: Mapping[str, str]) -> Iterator[str]:
    seen = rows[rows["animal"].notna() & rows["zone"].notna()].groupby("animal").size()
    if len(seen) < 3:
        return
    few = seen[seen < SELDOM * seen.median()]
    if len(few):
        names = ", ".join(f"{labels.get(str(a), str(a))} ({n})" for a, n in few.items())
        yield f"Seldom found so far (moments): {names}; look for them first."


def _lottery(found: Sequence[LotterySession], seed: int) -> Iterator[str]:
    if found:
        yield (
            f"{counted(len(found), 'session')} drawn by lot from your times (seed {seed}). Start at the minute drawn, "
            "whatever the animals are doing; drop a session you miss, never move it to a better moment."
        )
