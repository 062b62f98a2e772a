"""The last 30 days on record for a veterinarian: what was fed, weighed, shed, seen and measured. No advice."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import pandas as pd

from ...journal import Journals
from ...study import Declaration
from ...tables import Adjustment, adjustments
from ...tables.moments import SECOND_OBSERVER
from .on_record import ContextEvent, events

DAYS = 30
# Which heading a word on record goes to; any other word is a sign.
FED, WEIGHED, SHED = ("fed",), ("weighed",), ("shedding", "shed")
HANDLED = ("handled", "disturbed", "moved", "watered", "misted", "cleaned", "light source")


@dataclass(frozen=True, slots=True)
class LastSeen:
    """One animal or group in those days: when it was last seen and how often it was looked for in vain."""

    who: str
    last: datetime | None
    where: str | None
    found: int
    not_found: int


@dataclass(frozen=True, slots=True)
class VetRecord:
    """``since`` to ``until`` is the span; ``stale`` where nothing is on record in the days before ``now``.

    ``earlier`` holds each animal's last weight before the span.
    """

    since: datetime
    until: datetime
    stale: bool
    feeds: Sequence[ContextEvent]
    weights: Sequence[ContextEvent]
    earlier: Sequence[ContextEvent]
    sheds: Sequence[ContextEvent]
    signs: Sequence[ContextEvent]
    handling: Sequence[ContextEvent]
    changes: Sequence[Adjustment]
    seen: Sequence[LastSeen]


def vet_record(declared: Declaration, journals: Journals, moments: pd.DataFrame, now: datetime) -> VetRecord:
    """What is on record in the 30 days before ``now``, or before the newest record where those days hold none."""
    known, changes = events(journals), adjustments(journals)
    last = _last_record(known, changes, moments, now)
    stale = last < now - timedelta(days=DAYS)
    until = last if stale else now
    since = until - timedelta(days=DAYS)
    near = [e for e in known if e.at <= until and (e.running or (e.until or e.at) >= since)]
    plain = [*FED, *WEIGHED, *SHED, *HANDLED]
    before = {e.animal: e for e in _of(known, WEIGHED) if e.at < since}
    return VetRecord(
        since, until, stale,
        feeds=_of(near, FED), weights=_of(near, WEIGHED), earlier=list(before.values()), sheds=_of(near, SHED),
        signs=[e for e in near if e.what not in plain],
        handling=_of(near, HANDLED),
        changes=[c for c in changes if since <= c.at <= until],
        seen=_seen(declared, moments, since, until),
    )  # fmt: skip


def _of(found: Sequence[ContextEvent], words: Sequence[str]) -> list[ContextEvent]:
    return [e for e in found if e.what in words]


def _last_record(
    known: Sequence[ContextEvent], changes: Sequence[Adjustment], moments: pd.DataFrame, now: datetime
) -> datetime:
    """When the newest record before ``now`` was made; ``now`` where there is none."""
    newest = [*(e.at for e in known), *(c.at for c in changes)]
    newest += [moments["at"].max().to_pydatetime()] if len(moments) else []
    return max((at for at in newest if at <= now), default=now)


def _seen(declared: Declaration, moments: pd.DataFrame, since: datetime, until: datetime) -> list[LastSeen]:
    found = []
    moments = moments[moments["out"] != SECOND_OBSERVER]
    for column, kind in (("animal", declared.animals), ("group", declared.groups)):
        for one in kind.values():
            mine = moments[(moments[column] == one.id) & (moments["at"] <= pd.Timestamp(until))]
            known = mine[mine["zone"].notna()]
            near = mine[mine["at"] >= pd.Timestamp(since)]
            if not len(mine):
                continue
            last = known.iloc[-1] if len(known) else None
            found.append(
                LastSeen(
                    one.id, None if last is None else last["at"].to_pydatetime(),
                    None if last is None else last["place"],
                    int(near["zone"].notna().sum()), int(near["zone"].isna().sum()),
                )
            )  # fmt: skip
    return found
