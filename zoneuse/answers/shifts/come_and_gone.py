"""Places that cannot have moved: new with a change, gone with it, or never entered. They are asked another question.

A place that was not there on both sides has no use before and after. What was expected of it is still answered: is
it used at all, and how much for its size, from the sessions after, with the limits and verdicts of the zones answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from ...study import Declaration
from ...tables import Adjustment, by_place, offers, places_of
from .. import reasons
from ..finding import TOO_EARLY, Finding, Number, numbers
from ..question import Question
from ..showing.plain import rows as rows_of
from ..zones.judge import finding as zone_finding
from ..zones.tables import clustered
from .phases import Sides

NEW, GONE, NEVER_ENTERED = "new", "gone", "never entered"
_EVEN = (0.67, 1.5)
_DRAWS = 999


@dataclass(frozen=True, slots=True)
class Unmoved:
    """Places by what keeps them out of the comparison: ``NEW``, ``GONE`` or ``NEVER_ENTERED``."""

    why: dict[str, str]

    @property
    def places(self) -> frozenset[str]:
        return frozenset(self.why)


def place_of(declared: Declaration, zone: Any) -> str:
    """The place of a zone that an expectation names; its id where study.toml has it no more."""
    return declared.zones[zone].place if zone in declared.zones else str(zone)


def unmoved(declared: Declaration, found: Sides) -> Unmoved:
    """The places that were not on offer on both sides, or in which nobody was found on either."""
    places = places_of(declared)
    if not len(found.late):
        return Unmoved({})
    availability, chosen = by_place(declared, *offers(declared, found.rows))
    if not (chosen >= 0).any():
        return Unmoved({})
    late = found.late[found.unit]
    there = [availability[side].max(axis=0, initial=0.0) > 0 for side in (~late, late)]
    why = {}
    for j, place in enumerate(places):
        before, after = bool(there[0][j]), bool(there[1][j])
        if before and after:
            if not (chosen == j).any():
                why[place] = NEVER_ENTERED
        elif before or after:
            why[place] = NEW if after else GONE
    return Unmoved(why)


def answered(
    question: Question, change: Adjustment, found: Sides, kept_out: Unmoved, expected: dict[str, Any]
) -> tuple[list[Finding], list[dict[str, Any]]]:
    """A finding and a row for each of these places that was named: expected to change, or changed."""
    named = dict.fromkeys([*expected, *_changed(question.declared, change)])
    wanted = [place for place in named if place in kept_out.why]
    if not wanted:
        return [], []
    late = found.late[found.unit]
    after = found.rows[late].reset_index(drop=True)
    before = found.rows[~late].reset_index(drop=True)
    findings, rows = [], []
    for place in wanted:
        why = kept_out.why[place]
        finding = _gone(question, before, place) if why == GONE else _used_since(question, after, place)
        facts = {"change": change, "what": "zone", "expected": expected.get(place), "came": why}
        told = {**finding.numbers, **_sessions(before, after)}
        findings.append(replace(finding, about=(change.id, place), numbers=told, facts=facts))
        rows.append(_row(change, place, why, finding, found))
    return findings, rows


def _changed(declared: Declaration, change: Adjustment) -> Sequence[str]:
    return [declared.zones[z].place for z in change.zones if z in declared.zones]


def _used_since(question: Question, after: pd.DataFrame, place: str) -> Finding:
    """Use of the place against its size in the sessions after, as the zones answer would say it."""
    since = replace(question, moments=after, cluster=question.unit)
    if not len(after) or after["zone"].isna().all():
        return Finding((place,), TOO_EARLY, reason=reasons.NOTHING_SEEN, unit=question.unit)
    table, use = clustered(since, since.rows, False, draws=_DRAWS, even_within=_EVEN)
    row = next((r for r in rows_of(table) if r["zone"] == place), None)
    if row is None:
        return Finding((place,), TOO_EARLY, reason=reasons.NOT_OFFERED, unit=question.unit)
    return zone_finding(since, row, use, _EVEN)


def _gone(question: Question, before: pd.DataFrame, place: str) -> Finding:
    """What can be said of a place that is not there any more: how much it was used."""
    seen = before[before["zone"].notna()]
    by_unit = (seen["place"] == place).groupby(seen[question.unit]).mean()
    used = float(by_unit.mean()) if len(by_unit) else float("nan")
    return Finding(
        (place,), TOO_EARLY, reason=reasons.NOT_ON_BOTH_SIDES, numbers={"used": Number(used, "share")},
        unit=question.unit,
    )  # fmt: skip


def _sessions(before: pd.DataFrame, after: pd.DataFrame) -> dict[str, Number]:
    return numbers(
        sessions_before=(before["session"].nunique(), "sessions"),
        sessions_after=(after["session"].nunique(), "sessions"),
    )


def _row(change: Adjustment, place: str, why: str, finding: Finding, found: Sides) -> dict[str, Any]:
    used = finding["used"] if "used" in finding.numbers else np.nan
    sessions = found.sessions()
    return {
        "adjustment": change.id, "what": "zone", "name": None, "zone": place,
        "before": used if why == GONE else np.nan if why == NEW else 0.0,
        "after": np.nan if why == GONE else used, "change": np.nan, "change_low": np.nan, "change_high": np.nan,
        "p": np.nan, "p_holm": np.nan, "nap": np.nan,
        "sessions_before": sessions[0], "sessions_after": sessions[1],
    }  # fmt: skip
