"""Is a behaviour seen more or less than usual: recent units against those before them."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.intervals import bound_of_held, chance_of_limits
from ...stats.time_series import LEVEL_MOVING, recent_change
from .. import reasons
from ..effort import unit_codes
from ..finding import TOO_EARLY, Finding, Number, numbers, standing
from ..question import Question
from ..showing.plain import rows as rows_of
from .beside import Beside

MORE, LESS, USUAL = "more", "less", "usual"
VERDICTS = (MORE, LESS, USUAL, TOO_EARLY)
# A baseline needs as many sessions as a control chart would (common practice).
LEAST_BASELINE, LEAST_RECENT = 10, 4
_COLUMNS = ["behaviour", "before", "after", "change", "change_low", "change_high", "n_eff", "df", "se"]


def against_baseline(
    question: Question, side: Beside, names: list[str], *, since: datetime, within: float
) -> tuple[list[Finding], pd.DataFrame]:  # fmt: skip
    """Each behaviour's share in recent units against the units before them, at the times of day both have."""
    known, shares = side.known, side.shares
    if not names:
        return [], pd.DataFrame(columns=_COLUMNS)
    units = unit_codes(known, question.unit)
    opened = known.groupby(units)["at"].min().sort_index()
    recent = (opened >= pd.Timestamp(since)).to_numpy()
    sides = [known[np.isin(units, np.flatnonzero(side))] for side in (~recent, recent)]
    sessions = [int(side["session"].nunique()) for side in sides]
    days = [int(side["day"].nunique()) for side in sides]
    counts = numbers(sessions_before=(sessions[0], "sessions"), sessions_after=(sessions[1], "sessions"))
    short = min(int(recent.sum()), int((~recent).sum())) < 2
    if short or sessions[0] < LEAST_BASELINE or sessions[1] < LEAST_RECENT:
        early = Finding(
            tuple(names), TOO_EARLY, reason=reasons.ONE_SIDE_SHORT, numbers=counts, unit=question.unit,
            compared=len(names), facts={"left_out": side.left_out},
        )  # fmt: skip
        return [early], pd.DataFrame(columns=_COLUMNS)
    parts = shares[~recent], shares[recent]
    claim, even = recent_change(*parts, 0.95, len(names)), recent_change(*parts, 0.90)
    strict = recent_change(*parts, 1 - LEVEL_MOVING, len(names))
    holds = ((strict.low > 0) | (strict.high < 0)) & side.alike
    table = pd.DataFrame(
        {"behaviour": names, "before": shares[~recent].mean(axis=0), "after": shares[recent].mean(axis=0),
         "change": claim.change, "change_low": claim.low, "change_high": claim.high,
         "n_eff": claim.looks, "df": claim.degrees, "se": claim.se}
    )  # fmt: skip
    found = []
    for i, row in enumerate(rows_of(table)):
        own = {"change": even.change[i], "change_low": even.low[i], "change_high": even.high[i]}
        verdict, rests_on = _verdict(row, own, bound_of_held(within, row["before"], row["after"]))
        one = side.one[i] if side.one and verdict in (MORE, LESS) else None
        grade = standing(min(sessions), min(days), (bool(holds[i]) and one is None) or verdict == USUAL)
        verdict, grade, why = _held_back(verdict, grade, _stands_missed(side, recent, i, verdict))
        named = {k: Number(float(rests_on[k]), "share") for k in ("change", "change_low", "change_high")}
        named |= (
            {k: Number(row[k], "share") for k in ("before", "after")} | counts | _by_luck(verdict, row, names)
        )
        found.append(
            Finding(
                (row["behaviour"],), verdict, grade, why, named, unit=question.unit, compared=len(names),
                facts={"one_animal": one},
            )
        )  # fmt: skip
    return found, table


def _by_luck(verdict: str, row: Mapping[str, Any], names: list[str]) -> dict[str, Number]:
    """The chance of a change as large, over all behaviours, where one is claimed."""
    if verdict not in (MORE, LESS):
        return {}
    limits = row["change"], row["change_low"], row["change_high"]
    return numbers(by_luck=(chance_of_limits(*limits, compared=len(names)), "chance"))


def _stands_missed(side: Beside, recent: NDArray[np.bool_], i: int, verdict: str) -> bool:
    """Whether a claim still stands with what more was missed on one side counted against it."""
    if side.against is None or verdict not in (MORE, LESS):
        return True
    shares = side.against.low if (verdict == MORE) == side.against.recent else side.against.high
    still = recent_change(shares[~recent], shares[recent], 0.95, shares.shape[1])
    return bool(still.low[i] > 0 if verdict == MORE else still.high[i] < 0)


def _held_back(verdict: str, grade: str, stands: bool) -> tuple[str, str, str]:
    """Verdict and standing, and the reason where it is too early for them; ``stands`` against what was missed."""
    if not grade:
        return TOO_EARLY, "", reasons.TOO_FEW_UNITS
    if not stands:
        return TOO_EARLY, "", reasons.UNSEEN_DECIDE
    return (TOO_EARLY, "", reasons.SPREAD) if verdict == TOO_EARLY else (verdict, grade, "")


def _verdict(
    claim: Mapping[str, Any], own: Mapping[str, Any], within: float
) -> tuple[str, Mapping[str, Any]]:
    """The verdict and the change it rests on: sameness on the behaviour's own 90 % limits, a difference on limits
    that hold for all at once."""
    if claim["change_low"] > 0 or claim["change_high"] < 0:
        return (MORE if claim["change"] > 0 else LESS), claim
    if max(abs(own["change_low"]), abs(own["change_high"])) <= within:
        return USUAL, own
    return TOO_EARLY, claim


def rates(question: Question, table: pd.DataFrame) -> list[Finding]:
    """Momentary events are told as rates; whether they are more than usual is not judged from so few."""
    return [
        Finding(
            (row["behaviour"],), TOO_EARLY, reason=reasons.NOT_JUDGED, unit=question.unit,
            numbers=numbers(
                per_hour=(row["per_hour"], "1/h"), low=(row["low"], "1/h"), high=(row["high"], "1/h"),
                sessions=(question.effort.sessions, "sessions"),
            ),
        )
        for row in rows_of(table)
        if row["share"] is None
    ]  # fmt: skip
