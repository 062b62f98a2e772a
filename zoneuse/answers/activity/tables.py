"""What is done: shares of moments by unit, events and hours watched, and finer cuts of both."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from ...journal import Session
from ...stats.arrays import Floats
from ...stats.intervals import MeanShares, Rate, event_rate, mean_shares, t_quantile
from ...study import Declaration, hours_since_lights_on
from ...tables import moments_of, watched_for
from ..effort import names_of, unit_codes
from ..question import Question
from ..records.budgets import are_budgets, watched_only

# Moments of one session further apart than this are two sittings.
_BREAK_S = 1_800.0
# An hour watched in fewer sessions or days is shown without limits.
_UNITS_FOR_LIMITS = 5


def shares_of_units(known: pd.DataFrame, names: list[str], cluster: str) -> Floats:
    """(units x behaviours) each unit's share of its moments with a known behaviour, units in order of time."""
    units = unit_codes(known, cluster)
    column = known["behaviour"].map({name: i for i, name in enumerate(names)})
    counts = np.zeros((int(units.max()) + 1, len(names)))
    there = column.notna().to_numpy()
    np.add.at(counts, (units[there], column[there].to_numpy(int)), known["weight"].to_numpy(float)[there])
    total = counts.sum(axis=1, keepdims=True)
    met = total[:, 0] > 0
    return np.asarray(counts[met] / total[met], np.float64)


Own = dict[tuple[str, str], float]
"""Hours that somebody was watched for something in a session."""
Watching = tuple[dict[str, float], Own, float]


def events_and_hours(question: Question) -> dict[str, tuple[list[float], list[float]]]:
    """Momentary events by behaviour: counts and animal-hours watched, one a session that watched for them."""
    sessions = list(_watching(question))
    seen = {name for happened, own, _ in sessions for name in (*happened, *(what for _, what in own))}
    return {name: _of_one(name, sessions) for name in question.declared.behaviours if name in seen}


def _of_one(name: str, sessions: Sequence[Watching]) -> tuple[list[float], list[float]]:
    """Counts and hours of one behaviour, in the sessions that watched for it."""
    counts, hours = [], []
    for happened, own, whole in sessions:
        long = sum(h for (_, what), h in own.items() if what == name) if own else whole
        if long or not own:
            counts.append(happened.get(name, 0.0))
            hours.append(long)
    return counts, hours


def _watching(question: Question) -> Iterator[Watching]:
    """Of each session with anybody asked for: what happened, hours said by name, and those of its moments."""
    rows = question.rows
    looks, timed = rows[~are_budgets(rows)], rows[watched_only(rows)]
    watched = looks.groupby("session")[["animal", "group"]].nunique().sum(axis=1).to_dict()
    asked = set(zip(timed["session"], names_of(timed, "animal"), strict=True))
    by_name = set(timed["session"])
    under = watched_under(question)
    for session in question.journals.sessions.values():
        own = (
            {
                key: hours
                for key, hours in watched_for(question.declared, session).items()
                if (session.id, key[0]) in asked
            }
            if session.id in by_name
            else {}
        )
        if session.id in watched or own:
            long = hours_watched(session) * max(watched[session.id], 1) if session.id in watched else 0.0
            yield _happened(question, session, under), own, long


def watched_under(question: Question) -> set[tuple[str, str]] | None:
    """Session and animal (or group) of what treatments and phases leave in; None where none were asked for."""
    if not (question.filters.treatments or question.filters.phases):
        return None
    rows = question.rows
    return set(zip(rows["session"], names_of(rows, "animal").fillna(""), strict=True))


def _happened(question: Question, session: Session, under: set[tuple[str, str]] | None) -> dict[str, float]:
    """How often each momentary behaviour was recorded in a session, of the animals asked for."""
    counts: dict[str, float] = {}
    for entry in session.entries:
        record = entry.record
        who = record.get("animal") or record.get("group")
        if under is not None and who and (session.id, who) not in under:
            continue
        if record.kind == "happened" and (not question.filters.animals or who in question.filters.animals):
            name = record.get("behaviour")
            counts[name] = counts.get(name, 0.0) + float(record.get("count") or 1)
    return counts


def hours_watched(session: Session) -> float:
    """How long a session watched: its moments and one interval; pauses, and times nobody recorded in, left out."""
    times = sorted({m.at for m in moments_of(session)})
    if not times:
        return 0.0
    every = session.every_s or 60.0
    apart = [(later - one).total_seconds() for one, later in pairwise(times)]
    # Hours without a moment are not watched, whatever table calls them one session.
    most = max(_BREAK_S, 3 * every)
    span = every + sum(gap if gap <= most else every for gap in apart)
    paused, since = 0.0, None
    for entry in session.entries:
        if entry.record.kind == "paused":
            since = entry.record.at
        elif entry.record.kind == "resumed" and since is not None:
            pause = (entry.record.at - since).total_seconds()
            paused, since = paused + (pause if pause <= most else 0.0), None
    return max(span - paused, 0.0) / 3600


def use_table(
    known: pd.DataFrame,
    names: list[str],
    whole: MeanShares | None,
    events: dict[str, tuple[list[float], list[float]]],
) -> pd.DataFrame:
    rows: list[tuple[Any, ...]] = []
    for i, name in enumerate(names):
        assert whole is not None
        sessions = known[known["behaviour"] == name]["session"].nunique()
        se = np.sqrt(whole.mean[i] * (1 - whole.mean[i]) / max(whole.looks, 1.0))
        worth = whole.looks, whole.degrees, se if whole.degrees > 0 else np.nan
        rows.append((name, whole.mean[i], np.nan, whole.low[i], whole.high[i], *worth, sessions))
    for name, (counts, hours) in events.items():
        if sum(hours) > 0:
            rate: Rate = event_rate(counts, hours)
            worth = rate.worth, np.nan, rate.se if rate.worth > 0 else np.nan
            there = sum(c > 0 for c in counts)
            rows.append((name, np.nan, rate.per_hour, rate.low, rate.high, *worth, there))
    columns = ["behaviour", "share", "per_hour", "low", "high", "n_eff", "df", "se", "sessions"]
    return pd.DataFrame(rows, columns=columns)


def by_zone(known: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """What is done where: moments by zone (place) and behaviour."""
    cross = pd.crosstab(known["place"], known["behaviour"], values=known["weight"], aggfunc="sum")
    return cross.reindex(columns=names).fillna(0).rename_axis(columns=None).reset_index()


def _active(declared: Declaration, known: pd.DataFrame) -> pd.DataFrame:
    """Moments whose behaviour is declared active or not, with ``active`` 1 or 0."""
    rated = {b.id: float(b.active) for b in declared.behaviours.values() if b.active is not None}
    return known.assign(active=known["behaviour"].map(rated).astype(float)).dropna(subset=["active"])


def by_hour(declared: Declaration, known: pd.DataFrame, cluster: str) -> pd.DataFrame:
    """Active share by hour since lights-on (of the clock without lights); hours never watched stay empty.

    The mean over units (sessions or days), with 95 % limits from 5 units on that were watched at that hour.
    """
    rated = _active(declared, known)
    since: list[float] = []
    for enclosure, at in zip(rated["enclosure"], rated["at"], strict=True):
        hours = hours_since_lights_on(declared, enclosure, at.to_pydatetime())
        if hours is not None:
            since.append(hours)
    lit = bool(since) and len(since) == len(rated)
    hour = pd.Series(since if lit else rated["hour"].tolist(), index=rated.index, dtype=float).astype(int)
    rated = rated.assign(hour=hour, unit=rated[cluster].astype(str))
    each = rated.groupby(["hour", "unit"])["active"].mean()
    table = pd.DataFrame({"active": each.groupby("hour").mean(), "low": np.nan, "high": np.nan})
    for at, shares in each.groupby("hour"):
        if len(shares) >= _UNITS_FOR_LIMITS:
            found = mean_shares(np.column_stack([shares, 1 - shares]), compared=1)
            table.loc[at, ["low", "high"]] = found.low[0], found.high[0]
    table["sessions"] = rated.groupby("hour")["session"].nunique()
    table = table.reindex(range(24))
    table["sessions"] = table["sessions"].fillna(0).astype(int)
    return table.rename_axis("hour_since_lights_on" if lit else "hour").reset_index()


def thirds(declared: Declaration, known: pd.DataFrame) -> pd.DataFrame:
    """Active share in the first and last third of each session: does it matter that somebody sits there."""
    rated = _active(declared, known)
    pairs = []
    for _, session in rated.groupby("session"):
        edges = session["at"].min() + (session["at"].max() - session["at"].min()) * np.array([1 / 3, 2 / 3])
        first, last = session[session["at"] <= edges[0]], session[session["at"] >= edges[1]]
        if session["at"].nunique() >= 3:
            pairs.append((first["active"].mean(), last["active"].mean()))
    columns = ["first_third", "last_third", "change", "change_low", "change_high", "sessions"]
    if len(pairs) < 2:
        return pd.DataFrame(columns=columns)
    both = np.array(pairs)
    apart = both[:, 1] - both[:, 0]
    half = t_quantile(0.975, len(apart) - 1) * apart.std(ddof=1) / np.sqrt(len(apart))
    change = float(apart.mean())
    return pd.DataFrame(
        [(*both.mean(axis=0), change, change - half, change + half, len(apart))], columns=columns
    )
