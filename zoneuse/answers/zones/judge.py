"""Verdicts of the zones: from limits and what stands in the way to a finding, in numbers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...stats.space_use.zone_use import ZoneUse
from ...stats.space_use.zone_verdict import AVOIDED, FAVOURED, IN_PROPORTION
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, Number, numbers, standing
from ..question import Question

VERDICTS = (AVOIDED, FAVOURED, IN_PROPORTION, TOO_EARLY)
# What stands in the way, as the statistics call it.
REASON = {
    "": "",
    "few_units": reasons.TOO_FEW_UNITS,
    "few_moves": reasons.TOO_FEW_MOVES,
    "unseen": reasons.UNSEEN_DECIDE,
    "spread": reasons.SPREAD,
    "not_offered": reasons.NOT_OFFERED,
}


def finding(
    question: Question, row: Mapping[str, Any], use: ZoneUse | None, even_within: tuple[float, float]
) -> Finding:
    """The finding of one place, from its row of the table; without a sentence yet."""
    did = question.effort
    verdict, reason = row["verdict"], REASON[row["reason"]]
    # Use in proportion is a claim of sameness: looking often does not make it.
    grade = standing(did.sessions, did.days, row["sure"] or verdict == IN_PROPORTION)
    if row["available"] >= 1:
        verdict, reason = TOO_EARLY, reasons.NOTHING_TO_CHOOSE
    elif not grade:
        verdict, reason = TOO_EARLY, reasons.TOO_FEW_UNITS
    early = verdict == TOO_EARLY
    return Finding(
        (row["zone"],),
        verdict,
        "" if early else grade,
        reason if early else "",
        _numbers(row, did.sessions, did.days, use) | _bounds(row, use, even_within),
        _forecast(row) if use is not None and reason == reasons.SPREAD else None,
        question.unit,
        len(use.used) if use is not None else 1,
    )


def _numbers(row: Mapping[str, Any], sessions: int, days: int, use: ZoneUse | None) -> dict[str, Number]:
    named = numbers(
        sessions=(sessions, "sessions"), days=(days, "days"), sessions_used=(row["sessions"], "sessions"),
    ) | {name: Number(row[name], "share") for name in ("used", "used_low", "used_high", "available")}  # fmt: skip
    named |= {name: Number(row[name], "ratio") for name in ("ratio", "ratio_low", "ratio_high")}
    named |= {name: Number(row[name], "share") for name in ("unseen_low", "unseen_high")}
    named["p"] = Number(row["p"], "chance")
    if use is not None and use.moves is not None:
        named["moves"] = Number(use.moves, "moves")
        named |= numbers(
            stays=(use.lasting.stays, "stays"), longest_stay=(use.lasting.longest, "share"),
            animals_effective=(use.lasting.company.effective, "animals"), sure_level=(use.sure_level, "chance"),
        )  # fmt: skip
    return named


def _bounds(
    row: Mapping[str, Any], use: ZoneUse | None, even_within: tuple[float, float]
) -> dict[str, Number]:
    """The ratio's own 90 % limits and the bounds they must lie in for use in proportion."""
    if use is None:
        return {}
    return numbers(
        even_low=(row["even_low"], "ratio"), even_high=(row["even_high"], "ratio"),
        even_from=(even_within[0], "ratio"), even_to=(even_within[1], "ratio"),
    )  # fmt: skip


def _forecast(row: Mapping[str, Any]) -> Forecast | None:
    if row.get("chance") is None:
        return None
    more = row.get("more")
    return Forecast(None if more is None else int(more), row["chance"], int(row["most"]))
