"""What the plan says: what is open, what each session is for, and what they should be worth."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

import pandas as pd

from ...study.clock import spoken_time
from ...study.model import Declaration
from ..effort import Effort
from ..phrases import counted
from .lottery import Drawn
from .open_findings import Question, UnderWay

# An animal found this much less often than the middle one of all is named.
SELDOM = 0.5


def spoken_start(declared: Declaration, at: datetime) -> str:
    """A start as it is said: ``Mon 20 Apr 21:14``."""
    local = at.astimezone(declared.timezone)
    return f"{local:%a} {local.day} {local:%b %H:%M}"


def headline(did: Effort, asked: Sequence[Question], changes: Sequence[UnderWay]) -> str:
    early = f"{counted(len(asked), 'finding')} {'is' if len(asked) == 1 else 'are'} too early"
    moving = f"{counted(len(changes), 'change')} {'is' if len(changes) == 1 else 'are'} under way"
    return f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')} so far; {early} and {moving}."


def row_said(
    declared: Declaration,
    drawn: Drawn,
    have: Mapping[str, int],
    changes: Sequence[UnderWay],
    whom: tuple[str, ...],
) -> tuple[str, str, str]:
    """When, why and what it covers."""
    when = drawn.at.astimezone(declared.timezone).isoformat(timespec="minutes")
    serving = [c for c in changes if drawn.slot in c.wanted]
    if serving:
        change = max(serving, key=lambda c: c.missing)
        before = change.before.get(drawn.slot, 0)
        why = f"no. {drawn.number} after {_change(declared, change)} ({before} before)"
    else:
        why = f"no. {drawn.number} at that time of day ({have.get(drawn.slot, 0)} so far)"
    covers = [drawn.slot, *(c.change.id for c in serving)]
    for name in whom:
        known = declared.animals.get(name)
        covers.append(f"follow {known.label}" if known else name)
    return when, why, ", ".join(covers)


def _change(declared: Declaration, change: UnderWay) -> str:
    local = change.change.at.astimezone(declared.timezone)
    return f"{change.change.what} on {local.day} {local:%b}"


def notes(
    declared: Declaration,
    rows: pd.DataFrame,
    asked: Sequence[Question],
    changes: Sequence[UnderWay],
    over: Sequence[str],
    ahead: Sequence[Mapping[str, str]],
    worth: Sequence[Mapping[str, Any]],
    found: Sequence[Drawn],
    seed: int,
    labels: Mapping[str, str],
    now: datetime,
) -> tuple[str, ...]:
    """The sentences between the strip and the sessions."""
    return (
        *_so_far(rows),
        *(_under_way(declared, c, now) for c in changes),
        *_over(over),
        *(_ahead(one) for one in ahead),
        *_open(asked, labels),
        *_worth(worth, len(found), labels),
        *_seldom(rows, labels),
        *_drawn(found, seed),
    )


def _so_far(rows: pd.DataFrame) -> Iterator[str]:
    slots = rows.groupby("slot")["session"].nunique()
    if len(slots):
        yield "Sessions by time of day: " + ", ".join(f"{slot} {n}" for slot, n in slots.items()) + "."


def _under_way(declared: Declaration, change: UnderWay, now: datetime) -> str:
    said = _change(declared, change)
    start = f"{said[0].upper()}{said[1:]} ({change.change.id})"
    if now < change.settled:
        until = spoken_time(change.settled, declared.timezone)
        return f"{start} settles until {until}; no session is drawn before that."
    have = ", ".join(
        f"{slot} {change.after.get(slot, 0)} after, {change.before.get(slot, 0)} before"
        for slot in change.wanted
    )
    if not have:
        return f"{start}: nothing was watched before it, so nothing can be compared with what comes."
    missing = change.missing
    wanted = f"{missing} more would balance the two sides" if missing else "both sides have their sessions"
    short = sum(change.before.values()) < sum(change.after.values())
    can_not = " What was watched before it cannot grow, so more after it helps only so far." if short else ""
    return f"{start} is not told from chance yet: {have}; {wanted}.{can_not}"


def _over(over: Sequence[str]) -> Iterator[str]:
    if over:
        yield (
            f"{', '.join(over)} stayed undecided and ended with the change that followed: no session to come can "
            "settle that. Leave the next change alone until it is told."
        )


def _ahead(one: Mapping[str, str]) -> str:
    return (
        f"{one['adjustment']} was drawn for {one['day']}: sessions until then count as before it, and none is drawn on "
        "that day and the two after."
    )


def _open(asked: Sequence[Question], labels: Mapping[str, str]) -> Iterator[str]:
    if not asked:
        return
    counts = Counter(q.answer for q in asked)
    told = "Too early: " + ", ".join(f"{name} {n}" for name, n in counts.items()) + "."
    nearest = min((q for q in asked if q.more), key=lambda q: q.more or 0, default=None)
    if nearest is not None:
        name = labels.get(nearest.about[0], nearest.about[0])
        unit = "day" if re.search(r"more days? would settle", nearest.says) else "session"
        more = counted(nearest.more or 0, f"more {unit}")
        told += f" Nearest to being settled: {name} ({nearest.answer}), about {more}."
    yield told


def _worth(worth: Sequence[Mapping[str, Any]], number: int, labels: Mapping[str, str]) -> Iterator[str]:
    """The widest of each kind, as an example."""
    for answer in ("shifts", "zones"):
        mine = [w for w in worth if w["answer"] == answer]
        if not mine:
            continue
        w = max(mine, key=lambda one: one["high"] - one["low"])
        name = labels.get(w["zone"], w["zone"])
        signed = "+.0f" if answer == "shifts" else ".0f"
        unit = " points" if answer == "shifts" else " %"
        now, then = (
            f"{100 * w[f'low{part}']:{signed}} to {100 * w[f'high{part}']:{signed}}{unit}"
            for part in ("", "_then")
        )
        of = f"the change of {name} after {w['adjustment']}" if answer == "shifts" else f"the share of {name}"
        yield (
            f"With {counted(number, 'more session')} the limits of {of} should narrow by about "
            f"{100 * w['narrower']:.0f} %: {now} now, about {then} then if the middle stays."
        )


def _seldom(rows: pd.DataFrame, labels: Mapping[str, str]) -> Iterator[str]:
    seen = rows[rows["animal"].notna() & rows["zone"].notna()].groupby("animal").size()
    if len(seen) < 3:
        return
    few = seen[seen < SELDOM * seen.median()]
    if len(few):
        names = ", ".join(f"{labels.get(str(a), str(a))} ({n})" for a, n in few.items())
        yield f"Seldom found so far (moments): {names}; look for them first."


def _drawn(found: Sequence[Drawn], seed: int) -> Iterator[str]:
    if found:
        yield (
            f"{counted(len(found), 'session')} drawn by lot from your times (seed {seed}). Start at the minute drawn, "
            "whatever the animals are doing; one you miss is left out, not moved to a better moment."
        )
