"""What is done, how much, when, and whether that is more than usual."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...journal.reader import Journals, Session
from ...stats.intervals.differences import Difference, difference_of_shares
from ...stats.intervals.quantiles import t_quantile
from ...stats.intervals.rates import Rate, event_rate
from ...stats.intervals.shares import MeanShares, mean_shares
from ...study.clock import hours_since_lights_on
from ...study.model import Declaration
from ...tables.watched import moments_of
from ..answer import Answer
from ..columns import Column
from ..effort import Effort, effort, unit_codes, usual_cluster
from ..filters import Filters, select
from ..finding import TOO_EARLY, Caution, Finding, standing
from ..phrases import counted, speaks_for
from ..plain import rows as rows_of
from ..question import labels_of

Floats = NDArray[np.float64]
MORE, LESS, USUAL = "more", "less", "usual"
COLUMNS = ["behaviour", "share", "per_hour", "low", "high", "sessions"]
SHOWN = (
    Column("behaviour", "Behaviour"),
    Column("share", "Share", "share"),
    Column("per_hour", "Per hour", "number"),
    Column("limits", "95 %", "limits"),
    Column("sessions", "Sessions", "count", narrow=False),
)
# "Recent" is the last two weeks; a baseline needs as many sessions as a control chart would (common practice).
RECENT = timedelta(days=14)
LEAST_BASELINE, LEAST_RECENT = 10, 4


def activity(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    usual_within: float = 0.10,
    recent_from: datetime | None = None,
) -> Answer:
    """Share of moments by behaviour and momentary events per animal and hour, against the animals' own past.

    ``recent_from`` parts the recent sessions from the baseline before them (default: 14 days before the
    newest). ``usual``: the 90 % interval of the difference lies within ``usual_within`` either way.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    did = effort(rows, journals, unit)
    known = rows[rows["behaviour"].notna()].reset_index(drop=True)
    events, hours = _events(declared, journals, rows, filters)
    states = [b for b in declared.behaviours.values() if b.lasts and (known["behaviour"] == b.id).any()]
    labels = labels_of(declared)
    if not len(known) and not events:
        says = "No behaviour was recorded in what was asked for, so nothing can be said yet."
        empty = pd.DataFrame(columns=COLUMNS)
        return Answer(
            "activity", declared.title, empty, (Finding((), TOO_EARLY, "", says=says),), effort=did.to_dict()
        )
    names = [b.id for b in states]
    shares = _unit_shares(known, names, unit) if names else np.empty((0, 0))
    whole = mean_shares(shares, compared=1) if len(shares) else None
    table = _table(known, names, whole, events, hours)
    since = recent_from or (rows["at"].max().to_pydatetime() - RECENT)
    findings, against = _against_baseline(known, names, shares, unit, since, usual_within, labels)
    return Answer(
        answer="activity",
        study=declared.title,
        table=table,
        findings=findings + _rate_findings(table, labels, did),
        cautions=_cautions(declared, rows, known, hours),
        effort=did.to_dict(),
        parts={
            "against_baseline": against,
            "by_zone": _by_zone(known, names),
            "by_hour": _by_hour(declared, known),
            "first_and_last_third": _thirds(declared, known),
        },
        shown=SHOWN,
        labels=labels,
        headline=(
            f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {len(known):,} moments with a "
            f"known behaviour. Each {did.cluster} counts once."
        ),
    )


def _unit_shares(known: pd.DataFrame, names: list[str], cluster: str) -> Floats:
    """(units x behaviours) each unit's share of its moments with a known behaviour, units in order of time."""
    units = unit_codes(known, cluster)
    column = known["behaviour"].map({name: i for i, name in enumerate(names)})
    counts = np.zeros((int(units.max()) + 1, len(names)))
    there = column.notna().to_numpy()
    np.add.at(counts, (units[there], column[there].to_numpy(int)), known["weight"].to_numpy(float)[there])
    total = counts.sum(axis=1, keepdims=True)
    met = total[:, 0] > 0
    return np.asarray(counts[met] / total[met], np.float64)


def _events(
    declared: Declaration, journals: Journals, rows: pd.DataFrame, filters: Filters
) -> tuple[dict[str, list[float]], list[float]]:
    """Momentary events by behaviour, one count a session, and the animal-hours each session watched."""
    events: dict[str, list[float]] = {}
    hours: list[float] = []
    watched = rows.groupby("session")[["animal", "group"]].nunique().sum(axis=1).to_dict()
    for session in journals.sessions.values():
        if session.id not in watched:
            continue
        hours.append(_hours(session) * max(watched[session.id], 1))
        for entry in session.entries:
            record = entry.record
            name = record.get("behaviour")
            who = record.get("animal") or record.get("group")
            if record.kind != "happened" or (filters.animals and who not in filters.animals):
                continue
            events.setdefault(name, [0.0] * (len(hours) - 1))
            counts = events[name]
            counts += [0.0] * (len(hours) - len(counts))
            counts[-1] += float(record.get("count") or 1)
    for counts in events.values():
        counts += [0.0] * (len(hours) - len(counts))
    return {name: c for name, c in events.items() if name in declared.behaviours}, hours


def _hours(session: Session) -> float:
    """How long a session watched: from its first to its last moment and one interval, pauses left out."""
    times = [m.at for m in moments_of(session)]
    if not times:
        return 0.0
    span = (max(times) - min(times)).total_seconds() + (session.every_s or 60.0)
    paused, since = 0.0, None
    for entry in session.entries:
        if entry.record.kind == "paused":
            since = entry.record.at
        elif entry.record.kind == "resumed" and since is not None:
            paused, since = paused + (entry.record.at - since).total_seconds(), None
    return max(span - paused, 0.0) / 3600


def _table(
    known: pd.DataFrame,
    names: list[str],
    whole: MeanShares | None,
    events: dict[str, list[float]],
    hours: list[float],
) -> pd.DataFrame:
    rows: list[tuple[Any, ...]] = []
    for i, name in enumerate(names):
        assert whole is not None
        sessions = known[known["behaviour"] == name]["session"].nunique()
        rows.append((name, whole.mean[i], np.nan, whole.low[i], whole.high[i], sessions))
    for name, counts in events.items():
        if sum(hours) > 0:
            rate: Rate = event_rate(counts, hours)
            rows.append((name, np.nan, rate.per_hour, rate.low, rate.high, sum(c > 0 for c in counts)))
    return pd.DataFrame(rows, columns=COLUMNS)


def _against_baseline(
    known: pd.DataFrame,
    names: list[str],
    shares: Floats,
    cluster: str,
    since: datetime,
    within: float,
    labels: Any,
) -> tuple[tuple[Finding, ...], pd.DataFrame]:
    """Each behaviour's share in recent units against the units before them."""
    if not names:
        return (), pd.DataFrame(
            columns=["behaviour", "before", "after", "change", "change_low", "change_high"]
        )
    units = unit_codes(known, cluster)
    opened = known.groupby(units)["at"].min().sort_index()
    recent = (opened >= pd.Timestamp(since)).to_numpy()
    sessions = [
        known[np.isin(units, np.flatnonzero(part))]["session"].nunique() for part in (~recent, recent)
    ]
    days = [known[np.isin(units, np.flatnonzero(part))]["day"].nunique() for part in (~recent, recent)]
    if sessions[0] < LEAST_BASELINE or sessions[1] < LEAST_RECENT:
        says = (
            f"Whether anything is more or less than usual is too early to say: {counted(sessions[0], 'session')} "
            f"before and {counted(sessions[1], 'session')} in the recent time; {LEAST_BASELINE} and {LEAST_RECENT} "
            "are needed."
        )
        return (Finding(tuple(names), TOO_EARLY, "", says=says),), pd.DataFrame(
            columns=["behaviour", "before", "after", "change", "change_low", "change_high"]
        )
    claim = _change(shares[~recent], shares[recent], 0.95, len(names))
    even = _change(shares[~recent], shares[recent], 0.90, 1)
    before, after = shares[~recent].mean(axis=0), shares[recent].mean(axis=0)
    grade = standing(min(sessions), min(days))
    evidence = f"{counted(sessions[1], 'session')} against {sessions[0]} before"
    findings = []
    for i, name in enumerate(names):
        verdict = TOO_EARLY
        if claim.low[i] > 0 or claim.high[i] < 0:
            verdict = MORE if claim.change[i] > 0 else LESS
        elif max(abs(even.low[i]), abs(even.high[i])) <= within:
            verdict = USUAL
        verdict = verdict if grade else TOO_EARLY
        # Sameness rests on the behaviour's own 90 % interval, a difference on one that holds for all at once.
        found = even if verdict == USUAL else claim
        limits = float(found.change[i]), float(found.low[i]), float(found.high[i])
        findings.append(_finding(name, labels[name], verdict, grade, before[i], after[i], limits, evidence))
    table = pd.DataFrame(
        {"behaviour": names, "before": before, "after": after, "change": claim.change, "change_low": claim.low,
         "change_high": claim.high}
    )  # fmt: skip
    return tuple(findings), table


def _change(before: Floats, after: Floats, confidence: float, compared: int) -> Difference:
    one, other = (mean_shares(part, confidence, compared=compared) for part in (before, after))
    return difference_of_shares(one.mean, one.low, one.high, other.mean, other.low, other.high)


def _finding(
    name: str,
    label: str,
    verdict: str,
    grade: str,
    before: float,
    after: float,
    limits: tuple[float, float, float],
    evidence: str,
) -> Finding:
    change, low, high = (f"{100 * v:+.0f}" for v in limits)
    numbers = (
        f"{100 * after:.0f} % of moments recently, {100 * before:.0f} % before "
        f"(change {change} points, {low} to {high}; {evidence})"
    )
    said = {
        MORE: f"{label} is seen more than before: {numbers}.",
        LESS: f"{label} is seen less than before: {numbers}.",
        USUAL: f"{label} is as usual: {numbers}.",
        TOO_EARLY: f"{label}: {numbers}. More or less than usual: cannot be told yet.",
    }
    return Finding((name,), verdict, grade if verdict != TOO_EARLY else "", says=said[verdict])


def _rate_findings(table: pd.DataFrame, labels: Any, did: Effort) -> tuple[Finding, ...]:
    """Momentary events are told as rates; whether they are more than usual is not judged from so few."""
    return tuple(
        Finding(
            (row["behaviour"],),
            TOO_EARLY,
            "",
            says=f"{labels[row['behaviour']]}: {row['per_hour']:.2g} per animal and hour ({row['low']:.2g} to "
            f"{row['high']:.2g}; {counted(did.sessions, 'session')}). More or less than usual: cannot be told yet.",
        )
        for row in rows_of(table)
        if row["share"] is None
    )


def _by_zone(known: pd.DataFrame, names: list[str]) -> pd.DataFrame:
    """What is done where: moments by zone (place) and behaviour."""
    cross = pd.crosstab(known["place"], known["behaviour"], values=known["weight"], aggfunc="sum")
    return cross.reindex(columns=names).fillna(0).rename_axis(columns=None).reset_index()


def _active(declared: Declaration, known: pd.DataFrame) -> pd.DataFrame:
    """Moments whose behaviour is declared active or not, with ``active`` 1 or 0."""
    rated = {b.id: float(b.active) for b in declared.behaviours.values() if b.active is not None}
    return known.assign(active=known["behaviour"].map(rated).astype(float)).dropna(subset=["active"])


def _by_hour(declared: Declaration, known: pd.DataFrame) -> pd.DataFrame:
    """Share of active moments by hour since lights-on (of the clock without lights); hours never watched stay empty."""
    rated = _active(declared, known)
    since: list[float] = []
    for enclosure, at in zip(rated["enclosure"], rated["at"], strict=True):
        hours = hours_since_lights_on(declared, enclosure, at.to_pydatetime())
        if hours is not None:
            since.append(hours)
    lit = bool(since) and len(since) == len(rated)
    hour = pd.Series(since if lit else rated["hour"].tolist(), index=rated.index, dtype=float).astype(int)
    grouped = rated.groupby(hour)
    table = pd.DataFrame({"active": grouped["active"].mean(), "sessions": grouped["session"].nunique()})
    table = table.reindex(range(24))
    table["sessions"] = table["sessions"].fillna(0).astype(int)
    return table.rename_axis("hour_since_lights_on" if lit else "hour").reset_index()


def _thirds(declared: Declaration, known: pd.DataFrame) -> pd.DataFrame:
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


def _cautions(
    declared: Declaration, rows: pd.DataFrame, known: pd.DataFrame, hours: list[float]
) -> tuple[Caution, ...]:
    cautions = []
    without = int((rows["zone"].notna() & rows["behaviour"].isna()).sum())
    if without:
        cautions.append(
            Caution(
                "no-behaviour",
                f"{counted(without, 'moment')} had no known behaviour (hidden, or not recorded).",
            )
        )
    slots = known.groupby("slot")["session"].nunique()
    if len(slots) > 1:
        told = ", ".join(f"{slot} {number}" for slot, number in slots.items())
        cautions.append(Caution("slots", f"Times of day are mixed (sessions by slot: {told}); see --slot."))
    cautions.append(Caution("speaks-for", speaks_for(declared, rows)))
    return tuple(cautions)
