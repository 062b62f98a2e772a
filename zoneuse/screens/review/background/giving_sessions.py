"""The sessions behind the answers, and how often each animal was seen where in each: counts, no statistic."""

from __future__ import annotations

from collections import Counter
from datetime import datetime
from typing import TYPE_CHECKING, Any

import pandas as pd

from ....answers.filters import Filters, make_filters, select
from ....answers.question import labels_of
from ....answers.showing.plain import plain
from ....tables import adjustments
from .asked import SESSIONS
from .crossing import CROSSING

if TYPE_CHECKING:
    from ....answers.study import Study


def filters_of(study: Study, asked: dict[str, Any]) -> Filters:
    """What was asked for, as the answers take it."""
    since, until = (datetime.fromisoformat(asked[k]) if asked.get(k) else None for k in ("since", "until"))
    return make_filters(
        study.declared,
        animals=asked.get("animals"),
        since=since,
        until=until,
        slot=asked.get("slot"),
        treatments=asked.get("treatments"),
        phases=asked.get("phases"),
    )


def give_sessions(study: Study, asked: dict[str, Any]) -> dict[str, Any]:
    """Every session inside the filters, what was seen in it, the changes on record, and what cannot be read."""
    out = study.moments["out"]
    kept = study.moments.assign(kept=out == "", why=out, out="")
    moments = select(kept, filters_of(study, asked))
    faults = [str(p) for p in study.problems if not p.hint]
    return {
        "crossing": CROSSING, "name": SESSIONS, "headline": "", "findings": [], "notes": [],
        "cautions": faults, "headings": [], "rows": [], "hidden": 0, "labels": dict(labels_of(study.declared)),
        "series": {
            "sessions": _sessions(study, moments), "seen": [*_seen(moments), *_happened(study, moments)],
            "changes": _changes(study), "newest": _newest(study),
        },
    }  # fmt: skip


def _sessions(study: Study, moments: pd.DataFrame) -> list[dict[str, Any]]:
    """One row each, by time; hours are those of the clock in which something was looked for."""
    found = []
    grouped = dict(tuple(moments.groupby("session", sort=False)))
    for session in study.journals.sessions.values():
        mine = grouped.get(session.id)
        if mine is None:
            continue
        found.append(
            {
                "id": session.id,
                "at": session.opened.astimezone(study.declared.timezone).isoformat(timespec="seconds"),
                "ends": max(e.record.at for e in session.entries)
                .astimezone(study.declared.timezone)
                .isoformat(),
                "slot": Counter(mine["slot"]).most_common(1)[0][0],
                "observer": session.observer,
                "method": session.method,
                "counted": bool(mine["kept"].any()),
                "why": "" if mine["kept"].any() else Counter(mine["why"]).most_common(1)[0][0],
                "hours": sorted({int(h) for h in mine["hour"]}),
            }
        )
    return found


def _seen(moments: pd.DataFrame) -> list[dict[str, Any]]:
    """Moments by session, animal or group, place (null where not found) and behaviour; only those that count."""
    counted = moments[moments["kept"]]
    who = counted["animal"].where(counted["animal"].notna(), counted["group"])
    keys = ["session", "who", "place", "behaviour"]
    sums = counted.assign(who=who).groupby(keys, dropna=False, sort=False)["weight"].sum().reset_index()
    return [
        {**{k: plain(v) for k, v in zip(keys, row[:4], strict=True)}, "moments": row[4]}
        for row in sums.itertuples(index=False, name=None)
    ]


def _happened(study: Study, moments: pd.DataFrame) -> list[dict[str, Any]]:
    """Momentary events of the same sessions; they are no moments, so they count none."""
    within = set(moments["session"])
    return [
        {
            "session": entry.session,
            "who": entry.record.get("animal") or entry.record.get("group"),
            "place": _place(study, entry.record.get("zone")),
            "behaviour": entry.record.get("behaviour"),
            "moments": 0,
        }
        for entry in study.journals.entries("happened")
        if entry.session in within
    ]


def _place(study: Study, zone: str | None) -> str | None:
    known = study.declared.zones.get(zone or "")
    return known.place if known is not None else zone


def _changes(study: Study) -> list[dict[str, Any]]:
    zone = study.declared.timezone
    return [
        {
            "id": change.id, "what": change.what, "zones": list(change.zones), "amount": change.amount,
            "unit": change.unit, "why": change.why,
            "at": change.at.astimezone(zone).isoformat(timespec="seconds"),
            "settled": change.settled.astimezone(zone).isoformat(timespec="seconds"),
        }
        for change in adjustments(study.journals)
    ]  # fmt: skip


def _newest(study: Study) -> list[dict[str, Any]]:
    """When the newest session of watching opened, whatever the filters."""
    opened = [s.opened for s in study.journals.sessions.values() if s.watched]
    return [{"at": max(opened).astimezone(study.declared.timezone).isoformat()}] if opened else []
