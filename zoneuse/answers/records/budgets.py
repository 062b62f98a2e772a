"""Time budgets (so many minutes of so many) beside moments: shares of the time, and never moments of their own."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from ...tables import BUDGET
from ..filters import Filters, inside
from ..finding import Caution
from ..phrases import counted
from ..question import ELSE, Question

# What of a time budget an answer uses.
ZONE, BEHAVIOUR, EITHER = "zone", "behaviour", "zone or behaviour"
_WHOSE = ["session", "at", "animal", "group", "enclosure"]


def with_budgets(question: Question, what: str, whole: bool = True) -> Question:
    """The question with the time budgets by zone, or by behaviour, among its moments.

    They keep their reason in ``out``: an answer knows them by it. Time that a budget of zones gives to nothing is a row
    of its own without a zone: nobody said where it was spent (unless not ``whole``). Of behaviours it was spent doing
    anything else: who notes 31 minutes of rest in 60 says so. A budget weighs as one moment.
    """
    found = question.moments
    told = _tells(found, what)
    if what != ZONE:
        # How long was watched for events goes with what is done.
        told |= watched_only(found)
    budgets = found[(found["out"] == BUDGET) & told & inside(found, question.filters)]
    if budgets.empty:
        return question
    rest = [_rest(budgets)] if what == ZONE and whole else []
    doing = budgets[budgets[BEHAVIOUR].notna()]
    if what != ZONE and len(doing) and not question.filters.behaviours:
        rest.append(_rest(doing).assign(behaviour=ELSE))
    every = pd.concat([r for r in (question.rows, budgets, *rest) if len(r)]).astype(
        {"sure": bool, "hidden": bool, "late": bool}
    )
    # The filters are applied already; what is out otherwise stays out.
    return replace(
        question, moments=every.sort_values(["at", "session"], kind="stable", ignore_index=True), budgets=True
    )


def _tells(rows: pd.DataFrame, what: str) -> pd.Series:
    if what == EITHER:
        return rows[ZONE].notna() | rows[BEHAVIOUR].notna()
    return rows[what].notna()


def _rest(budgets: pd.DataFrame) -> pd.DataFrame:
    whole = budgets.groupby(_WHOSE, dropna=False, sort=False)["weight"].sum()
    first = budgets.drop_duplicates(_WHOSE)
    left = 1.0 - whole.to_numpy()
    short = left > 1e-6
    rest = first[short].assign(weight=left[short], zone=None, place=None)
    rest["record"] = pd.array([pd.NA] * len(rest), dtype="Int64")
    return rest


def are_budgets(rows: pd.DataFrame) -> pd.Series:
    return rows["out"] == BUDGET


def tells_of_no_place(rows: pd.DataFrame) -> pd.Series:
    """Time budgets of behaviours: nobody was looked for in vain there."""
    return are_budgets(rows) & rows[ZONE].isna() & (rows[BEHAVIOUR].notna() | watched_only(rows))


def watched_only(rows: pd.DataFrame) -> pd.Series:
    """Which rows say only how long somebody was watched for what happens: no time was spent in anything."""
    return are_budgets(rows) & rows[ZONE].isna() & rows[BEHAVIOUR].isna() & (rows["weight"] == 0)


def said(rows: pd.DataFrame, unit: str) -> tuple[Caution, ...]:
    """That time budgets are among what was counted, and how they count."""
    mine = rows[are_budgets(rows) & ~watched_only(rows)]
    if mine.empty:
        return ()
    animals = mine.drop_duplicates(_WHOSE)
    says = (
        f"{counted(len(animals), 'time budget')} in {counted(mine['session'].nunique(), 'session')} count as shares of "
        f"the time, beside moments; each {unit} counts once. They tell of no moves."
    )
    return (Caution("time-budgets", says),)


def used_by(records: pd.DataFrame, filters: Filters, what: str) -> pd.Series:
    """Which records are time budgets that count in an answer about zones, or behaviours."""
    return (records["left_out"] == BUDGET) & _tells(records, what) & inside(records, filters)
