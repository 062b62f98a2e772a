"""Where every record went: counted in what was asked for, or left out by a named reason."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ...tables import EVENT, EXPECTED, SPENT
from ..filters import Filters, inside, select
from ..finding import Caution
from ..phrases import counted
from .budgets import used_by


@dataclass(frozen=True, slots=True)
class Accounts:
    """``records`` there are for what was asked: ``counted`` of them, and ``left_out`` by reason; they add up.

    ``sessions`` is how many sessions the records belong to that nobody asked to leave out.
    """

    records: int
    counted: int
    left_out: Mapping[str, int]
    sessions: int

    def to_dict(self) -> dict[str, Any]:
        return {"records": self.records, "counted": self.counted, "left_out": dict(self.left_out)}


def accounts(
    records: pd.DataFrame, moments: pd.DataFrame, filters: Filters, *, doings: bool = False, budgets: str = ""
) -> Accounts:
    """The records inside the filters. With ``doings`` (what is done is asked) events count too, and a record whose
    behaviour study.toml no longer has is left out. ``budgets`` says which time budgets count: those by zone, or by
    behaviour.

    A record that became moments is inside the filters where one of its moments is; any other by itself.
    """
    rows = select(moments, filters)
    kinds = records["kind"].isin(("seen", "unseen", SPENT, EVENT) if doings else ("seen", "unseen", SPENT))
    reason = records["left_out"]
    budget = used_by(records, filters, budgets) if budgets else records.index < 0
    reason = reason.mask(budget, "")
    if doings:
        lost = records["behaviour_left_out"]
        reason = reason.mask((reason == "") & (lost != ""), lost)
    used = records.index.isin(set(rows["record"].dropna()))
    asked = inside(records, filters)
    event = (records["kind"] == EVENT) & (reason == "") & asked
    counted_ones = kinds & (reason == "") & (used | event | budget)
    left = kinds & (reason != "") & (asked | used)
    total = int((counted_ones | left).sum())
    by_reason = reason[left].value_counts(sort=True)
    found = Accounts(
        total,
        int(counted_ones.sum()),
        {str(why): int(n) for why, n in by_reason.items()},
        records["session"][left & ~reason.isin(EXPECTED)].nunique(),
    )
    assert found.records == found.counted + sum(found.left_out.values())
    return found


def left_out_words(found: Accounts) -> tuple[Caution, ...]:
    """What is left out and nobody asked to: ``14 records of 2 sessions are left out: second observer (14).``"""
    told = {why: n for why, n in found.left_out.items() if why not in EXPECTED}
    if not told:
        return ()
    number = sum(told.values())
    reasons = ", ".join(f"{why} ({n:,})" for why, n in told.items())
    be = "is" if number == 1 else "are"
    says = (
        f"{counted(number, 'record')} of {counted(found.sessions, 'session')} {be} left out: {reasons}. "
        "zoneuse check says where they are and what to do."
    )
    return (Caution("left-out", says),)
