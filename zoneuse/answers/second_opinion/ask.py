"""The second opinion on an answer: a standard method for each of its rows, and whether it says the same."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pandas as pd

from ...stats.second_opinion import Opinion, level_change, mean_by_mixed_model, share, share_by_bootstrap
from ...tables import adjustments
from ..answer import Answer
from ..columns import SECOND_OPINION, typed
from ..finding import notes
from ..quantities_said import unit
from ..question import Question
from ..shifts.designs.controls import concerning, rows_of_change
from ..shifts.phases import shares_by_unit, sides, windows
from ..showing.plain import rows as rows_of
from .judge import Ours, compare
from .words import row_said, whole_said

Pairs = Iterator[tuple[Ours, Opinion]]


def with_second_opinion(question: Question, answer: Answer) -> Answer:
    """The answer with the part ``second_opinion``, a row for each of its rows that a standard method can speak of."""
    pairs: Pairs = _PAIRS[answer.answer](question, answer) if len(question.rows) else iter(())
    names = {**question.labels, **answer.labels}
    told = []
    for ours, other in pairs:
        agrees, why = compare(ours, other)
        told.append(
            {
                "about": " ".join(ours.about), "method": other.method, "estimate": other.estimate, "low": other.low,
                "high": other.high, "clusters": other.clusters, "ours": ours.estimate, "ours_low": ours.low,
                "ours_high": ours.high, "none_at": np.nan if ours.none_at is None else ours.none_at,
                "agrees": agrees, "why": None if agrees else why,
                "says": row_said(ours, other, agrees, why, names),
            }
        )  # fmt: skip
    table = pd.DataFrame(told, columns=[f.name for f in SECOND_OPINION])
    return replace(
        answer,
        parts={**answer.parts, "second_opinion": typed(table, SECOND_OPINION)},
        notes=(*answer.notes, *notes(*whole_said(told))),
    )


def _numbers(row: dict[str, object], *names: str) -> list[float]:
    return [np.nan if (v := row[name]) is None else float(v) for name in names]  # type: ignore[arg-type]


def _unit_of(question: Question) -> str:
    return "session" if question.unit == "moment" else question.unit


def _zones(question: Question, answer: Answer) -> Pairs:
    """Each place's share by a binomial with errors by the unit of evidence."""
    seen = question.rows[question.rows["zone"].notna()]
    for row in rows_of(answer.table):
        used, low, high, offered = _numbers(row, "used", "used_low", "used_high", "available")
        ours = Ours((row["zone"],), used, low, high, offered, "share")
        yield (
            ours,
            share(seen["place"] == row["zone"], seen["weight"].astype(float), seen[_unit_of(question)]),
        )


def _activity(question: Question, answer: Answer) -> Pairs:
    """Each lasting behaviour's share, the same way; there is no share that would be nothing."""
    seen = question.rows[question.rows["behaviour"].notna()]
    for row in rows_of(answer.table):
        estimate, low, high = _numbers(row, "share", "low", "high")
        if not np.isnan(estimate):
            ours = Ours((row["behaviour"],), estimate, low, high, None, "share")
            hit = seen["behaviour"] == row["behaviour"]
            yield ours, share(hit, seen["weight"].astype(float), seen[_unit_of(question)])


def _prefer(question: Question, answer: Answer) -> Pairs:
    """Used less offered at the same moments, means of sessions of animals, with an intercept for each animal."""
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
        frame = pd.DataFrame({"who": who, "session": found.rows["session"], "apart": used - offered}).dropna()
        if not len(frame):
            continue
        means = frame.groupby(["who", "session"], sort=False)["apart"].mean().reset_index()
        estimate, low, high = _numbers(row, "difference", "difference_low", "difference_high")
        ours = Ours((quantity,), estimate, low, high, 0.0, unit(quantity).replace("%", "points of %"))
        yield ours, mean_by_mixed_model(means["apart"], means["who"])


def _shifts(question: Question, answer: Answer) -> Pairs:
    """The change of level of each share by OLS with HAC errors over units in order of time, slots taken out."""
    declared, changes = question.declared, adjustments(question.journals)
    for change in changes:
        near = concerning(declared, changes, change)
        touched = rows_of_change(declared, question.rows, change)
        found = sides(touched, windows(near, change), question.unit)
        own = [r for r in rows_of(answer.table) if r["adjustment"] == change.id and r["what"] in _COLUMN]
        if not len(found.late) or not own:
            continue
        order = np.argsort(found.at, kind="stable")
        slots = (found.slot[order][:, None] == np.unique(found.slot)[1:]).astype(float)
        for row in own:
            name = row["name"] or row["zone"]
            shares = shares_by_unit(found, _COLUMN[row["what"]], _names(question, row["what"]))
            values = shares[order, _names(question, row["what"]).index(name)]
            known = ~np.isnan(values)
            other = level_change(values[known], found.late[order][known], slots[known])
            estimate, low, high = _numbers(row, "change", "change_low", "change_high")
            yield Ours((change.id, name), estimate, low, high, 0.0, "points"), other


_COLUMN = {"zone": "place", "behaviour": "behaviour"}


def _names(question: Question, what: str) -> list[str]:
    from ...tables import places_of

    return list(places_of(question.declared)) if what == "zone" else list(question.declared.behaviours)


def _retreats(question: Question, answer: Answer) -> Pairs:
    """Each animal's share of its home by the plain bootstrap over days; there is no share that would be nothing."""
    seen = question.rows[question.rows["zone"].notna()]
    for row in rows_of(answer.table):
        who = row["animal"] or row["group"]
        part = seen[(seen["animal"] == who) | (seen["group"] == who)]
        if not row["home"] or not len(part):
            continue
        estimate, low, high = _numbers(row, "share", "share_low", "share_high")
        hit, weight = part["place"] == row["zone"], part["weight"].astype(float)
        yield (
            Ours((who, row["zone"]), estimate, low, high, None, "share"),
            share_by_bootstrap(hit, weight, part["day"]),
        )


_PAIRS: dict[str, Callable[[Question, Answer], Pairs]] = {
    "zones": _zones, "activity": _activity, "prefer": _prefer, "shifts": _shifts, "retreats": _retreats,
}  # fmt: skip
