"""The second opinion on an answer: a standard method for each of its rows, and whether it says the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from ...stats.arrays import Floats
from ...stats.second_opinion import (
    MIXED,
    Opinion,
    lead_by_bootstrap,
    level_change,
    mean_by_mixed_model,
    rate,
    share,
    share_by_bootstrap,
)
from ...tables import adjustments
from ..answer import Answer
from ..columns import SECOND_OPINION, typed
from ..effort import unit_codes
from ..finding import Note
from ..question import Question
from ..retreats.checks import Checks, check_rows, checks_by_enclosure
from ..shifts.compared.measures import measures
from ..shifts.designs.controls import concerning, rows_of_change
from ..shifts.phases import shares_by_unit, sides, windows
from ..showing.plain import rows as rows_of
from ..watched import whole_sessions
from .judge import Ours, compare
from .words import row_said, whole_said

# What the answer says, what the method says, and what it would say if it weighed as the answer does (None: it does).
Pairs = Iterator[tuple[Ours, Opinion, Opinion | None]]


def with_second_opinion(question: Question, answer: Answer) -> Answer:
    """The answer with the part ``second_opinion``, a row for each of its rows that a standard method can speak of."""
    pairs: Pairs = _PAIRS[answer.answer](question, answer) if len(question.rows) else iter(())
    names = {**question.labels, **answer.labels}
    told = []
    for ours, other, evened in pairs:
        agrees, why = compare(ours, other, evened)
        told.append(
            {
                "about": " ".join(ours.about), "method": other.method, "estimate": other.estimate, "low": other.low,
                "high": other.high, "clusters": other.clusters, "ours": ours.estimate, "ours_low": ours.low,
                "ours_high": ours.high, "none_at": np.nan if ours.none_at is None else ours.none_at,
                "agrees": agrees, "why": None if agrees else why,
                "says": row_said(ours, other, agrees, why, names, fahrenheit=question.declared.fahrenheit),
            }
        )  # fmt: skip
    table = pd.DataFrame(told, columns=[f.name for f in SECOND_OPINION])
    return replace(
        answer,
        parts={**answer.parts, "second_opinion": typed(table, SECOND_OPINION)},
        notes=(*answer.notes, *(Note(says, asked=True) for says in whole_said(told))),
    )


def _numbers(row: Mapping[str, Any], *names: str) -> list[float]:
    return [np.nan if (v := row[name]) is None else float(v) for name in names]


def _unit_of(question: Question) -> str:
    return "session" if question.unit == "moment" else question.unit


def _shares(seen: pd.DataFrame, hit: pd.Series, unit: str) -> tuple[Opinion, Opinion]:
    """A share over moments by a binomial with errors by the unit of evidence, and with units weighed alike."""
    weight, units = seen["weight"].astype(float), seen[unit]
    return share(hit, weight, units), share(hit, weight / weight.groupby(units).transform("sum"), units)


def _zones(question: Question, answer: Answer) -> Pairs:
    """Each place's share of what was seen in its enclosure."""
    seen, unit = question.rows[question.rows["zone"].notna()], _unit_of(question)
    for row in rows_of(answer.table):
        used, low, high, offered = _numbers(row, "used", "used_low", "used_high", "available")
        ours = Ours((row["zone"],), used, low, high, offered, "share", unit)
        yield ours, *_shares(seen, seen["place"] == row["zone"], unit)


def _activity(question: Question, answer: Answer) -> Pairs:
    """Each lasting behaviour's share, the same way, and a momentary one's rate over sessions; there is no share or rate
    that would be nothing."""
    from ..activity.tables import events_and_hours

    events = events_and_hours(question)
    seen, unit = question.rows[question.rows["behaviour"].notna()], _unit_of(question)
    lasting = [b for b, declared in question.declared.behaviours.items() if declared.lasts]
    seen = seen[seen["behaviour"].isin(lasting)]
    for row in rows_of(answer.table):
        estimate, an_hour, low, high = _numbers(row, "share", "per_hour", "low", "high")
        if not np.isnan(an_hour):
            ours = Ours((row["behaviour"],), an_hour, low, high, None, "1/h", "session")
            yield ours, rate(*events[row["behaviour"]]), None
        elif not np.isnan(estimate):
            ours = Ours((row["behaviour"],), estimate, low, high, None, "share", unit)
            yield ours, *_shares(seen, seen["behaviour"] == row["behaviour"], unit)


def _prefer(question: Question, answer: Answer) -> Pairs:
    """Used less offered at the same moments, means of sessions of animals, with an intercept for each animal; and its
    limits about the mean of units, which is the answer's."""
    from ...tables import choices
    from ..preference.tables import used_and_offered
    from ..preference.used import with_cover

    changes = adjustments(question.journals)
    found = with_cover(choices(question.declared, question.rows, changes, readings=question.readings))
    if "used_against_offered" not in answer.parts:
        return
    for row in rows_of(answer.parts["used_against_offered"]):
        quantity = row["quantity"]
        offered, used = used_and_offered(found, quantity)
        who = found.rows["animal"].fillna(found.rows["group"])
        frame = pd.DataFrame(
            {"who": who, "session": found.rows["session"], "apart": used - offered,
             "unit": unit_codes(found.rows, question.unit), "weight": found.rows["weight"].astype(float)}
        ).dropna()  # fmt: skip
        if not len(frame):
            continue
        frame["apart"] *= frame["weight"]
        each_session = frame.groupby(["who", "session"], sort=False)[["apart", "weight"]].sum()
        means = (each_session["apart"] / each_session["weight"]).rename("apart").reset_index()
        estimate, low, high = _numbers(row, "difference", "difference_low", "difference_high")
        other = mean_by_mixed_model(means["apart"], means["who"])
        each = "animal" if other.method == MIXED else "session"
        sums = frame.groupby("unit")[["apart", "weight"]].sum()
        away = float((sums["apart"] / sums["weight"]).mean()) - other.estimate
        evened = replace(other, estimate=other.estimate + away, low=other.low + away, high=other.high + away)
        yield Ours((quantity,), estimate, low, high, 0.0, quantity, each), other, evened


def _shifts(question: Question, answer: Answer) -> Pairs:
    """The change of level of each share, and of what is counted by the hour, by OLS with HAC errors over units in order
    of time, slots taken out."""
    declared, changes = question.declared, adjustments(question.journals)
    for change in changes:
        near = concerning(declared, changes, change)
        touched = rows_of_change(declared, whole_sessions(question.rows), change)
        found = sides(touched, windows(near, change), question.unit)
        told = {*_COLUMN, *_MEASURED}
        own = [r for r in rows_of(answer.table) if r["adjustment"] == change.id and r["what"] in told]
        if not len(found.late) or not own:
            continue
        measured = {(m.what, m.name): m for m in measures(question, found.rows, found.unit)}
        order = np.argsort(found.at, kind="stable")
        slots = (found.slot[order][:, None] == np.unique(found.slot)[1:]).astype(float)
        for row in own:
            name = row["name"] or row["zone"]
            if row["what"] in _MEASURED:
                m, unit = measured[row["what"], name], "points" if row["what"] == "active" else "1/h more"
                values = np.divide(m.of, m.among, out=np.full(m.of.size, np.nan), where=m.among > 0)[order]
            else:
                shares, unit = (
                    shares_by_unit(found, _COLUMN[row["what"]], _names(question, row["what"])),
                    "points",
                )
                values = shares[order, _names(question, row["what"]).index(name)]
            known = ~np.isnan(values)
            other = level_change(values[known], found.late[order][known], slots[known])
            estimate, low, high = _numbers(row, "change", "change_low", "change_high")
            yield Ours((change.id, name), estimate, low, high, 0.0, unit, _unit_of(question)), other, None


_COLUMN, _MEASURED = {"zone": "place", "behaviour": "behaviour"}, ("event", "active", "moves")


def _names(question: Question, what: str) -> list[str]:
    from ...tables import places_of

    return list(places_of(question.declared)) if what == "zone" else list(question.declared.behaviours)


def _retreats(question: Question, answer: Answer) -> Pairs:
    """How far each home lies ahead of the next retreat, at the answer's own checks, by the plain bootstrap over days;
    of a group the share of it, and there is no share that would be nothing."""
    by_checks = question if question.cluster == "session" else question.by("session")
    every = checks_by_enclosure(by_checks, check_rows(by_checks.rows))
    leads = {(r["animal"], r["home"]): r for r in rows_of(answer.parts["animals"]) if r["animal"]}
    for row in rows_of(answer.table):
        own = (c for c in every if row["zone"] in c.retreats)
        checks = next((c for c in own if row["animal"] in c.animals or row["group"] in c.groups), None)
        if row["home"] and checks is not None:
            yield from _home(checks, row, leads.get((row["animal"], row["zone"])))


def _home(checks: Checks, row: Mapping[str, Any], lead: Mapping[str, Any] | None) -> Pairs:
    """One animal's or group's home."""
    place, days = checks.retreats.index(row["zone"]), np.array([d.toordinal() for d in checks.days])
    found, total = _found(checks, row["animal"], row["group"])
    about = (row["animal"] or row["group"], row["zone"])
    if lead is not None and lead["home_lead_low"] is not None:
        ahead, low, high = _numbers(lead, "home_lead", "home_lead_low", "home_lead_high")
        yield (
            Ours(about, ahead, low, high, 0.0, "lead", "day"), lead_by_bootstrap(found, total, days, place), None,
        )  # fmt: skip
    elif total.any():
        part, low, high = _numbers(row, "share", "share_low", "share_high")
        looked = checks.looked[:, place] & (total > 0)
        hit = found[looked, place] / total[looked]
        yield (
            Ours(about, part, low, high, None, "share", "day"),
            share_by_bootstrap(hit, total[looked], days[looked]), None,
        )  # fmt: skip


def _found(checks: Checks, animal: str | None, group: str | None) -> tuple[Floats, Floats]:
    """Checks x retreats: how many of an animal (or group) were found there; and in all, outside the retreats too."""
    if animal:
        i = checks.animals.index(animal)
        found = (checks.where[:, [i]] == np.arange(len(checks.retreats))).astype(float)
        return found, found.sum(axis=1) + checks.out[:, i]
    counts = checks.groups[str(group)].astype(float)
    return counts, counts.sum(axis=1) + checks.groups_out[str(group)].reshape(len(checks), -1).sum(axis=1)


_PAIRS: dict[str, Callable[[Question, Answer], Pairs]] = {
    "zones": _zones, "activity": _activity, "prefer": _prefer, "shifts": _shifts, "retreats": _retreats,
}  # fmt: skip
