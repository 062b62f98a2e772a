"""Verdicts of the zones: from limits and what stands in the way to a finding, in numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.intervals import chance_of_limits
from ...stats.space_use import ShareLimits, ZoneUse
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, Number, numbers, standing, standing_of_units
from ..question import Question
from .disagree import Apart

AVOIDED, FAVOURED, IN_PROPORTION = "avoided", "favoured", "in proportion"
VERDICTS = (AVOIDED, FAVOURED, IN_PROPORTION, TOO_EARLY)
# Ratios between which use counts as in proportion (house rule).
EVEN_WITHIN = (0.67, 1.5)
# With fewer units than this nothing is called, whatever the numbers.
LEAST_UNITS = 5
# With fewer moves than this, too few moves is what stands in the way.
FEW_MOVES = 8
# What stands in the way, as the part `tests` calls it.
REASON = {
    "": "",
    "few_units": reasons.TOO_FEW_UNITS,
    "few_moves": reasons.TOO_FEW_MOVES,
    "unseen": reasons.UNSEEN_DECIDE,
    "spread": reasons.SPREAD,
    "not_offered": reasons.NOT_OFFERED,
}

# What decided, as the part `tests` calls it.
DECIDED_BY = {
    "bouts": "redrawn bouts",
    "units": "spread between units",
    "records": "every record by itself",
}


@dataclass(frozen=True, slots=True)
class Calls:
    """For each zone its verdict, for ``too early`` the code of what is missing (else ""), and whether it is sure:
    whether it stands however often one asks."""

    verdict: tuple[str, ...]
    reason: tuple[str, ...]
    sure: tuple[bool, ...]

    @property
    def undecided(self) -> NDArray[np.bool_]:
        """The zones that are too early to call."""
        return np.array([verdict == TOO_EARLY for verdict in self.verdict])


def call_zones(use: ZoneUse, even_within: tuple[float, float] = EVEN_WITHIN) -> Calls:
    """A verdict for each zone.

    A difference stands only if it would still stand with every unseen moment counted against it, and
    sameness only if its limits stay inside the bounds wherever the unseen were.
    """
    zones = range(use.used.size)
    now = [_call(use, z, use.at_once, even_within) for z in zones]
    any_time = [_call(use, z, use.any_time, even_within)[0] for z in zones]
    return Calls(
        tuple(verdict for verdict, _ in now),
        tuple(reason for _, reason in now),
        tuple(
            verdict != TOO_EARLY and verdict == at_any_time
            for (verdict, _), at_any_time in zip(now, any_time, strict=True)
        ),
    )


def _call(use: ZoneUse, z: int, limits: ShareLimits, even_within: tuple[float, float]) -> tuple[str, str]:
    """One zone's verdict, and what is missing where there is none."""
    a = use.availability[z]
    if a <= 0:
        return TOO_EARLY, "not_offered"
    if use.units < LEAST_UNITS:
        return TOO_EARLY, "few_units"
    if limits.seen[1][z] < a:
        return (AVOIDED, "") if limits.here[1][z] < a else (TOO_EARLY, "unseen")
    if limits.seen[0][z] > a:
        return (FAVOURED, "") if limits.elsewhere[0][z] > a else (TOO_EARLY, "unseen")
    lower, upper = even_within[0] * a, even_within[1] * a
    if use.own.seen[0][z] >= lower and use.own.seen[1][z] <= upper:
        stays = use.own.elsewhere[0][z] >= lower and use.own.here[1][z] <= upper
        return (IN_PROPORTION, "") if stays else (TOO_EARLY, "unseen")
    return TOO_EARLY, "few_moves" if use.moves is not None and use.moves < FEW_MOVES else "spread"


def independent_verdicts(ratio_low: NDArray[np.float64], ratio_high: NDArray[np.float64]) -> NDArray[np.str_]:
    """Verdicts from limits of the ratio alone, where each record counts by itself."""
    return np.where(ratio_high < 1, AVOIDED, np.where(ratio_low > 1, FAVOURED, TOO_EARLY))


def finding(
    question: Question, row: Mapping[str, Any], use: ZoneUse | None, even_within: tuple[float, float],
    apart: Apart | None = None,
) -> Finding:  # fmt: skip
    """The finding of one place, from its row of the table; without a sentence yet.

    Where the enclosures (or animals) are used to differing by more than luck (``apart``), it is not fairly sure.
    """
    did = question.effort
    verdict, reason = row["verdict"], REASON[row["reason"]]
    # Use in proportion is a claim of sameness: looking often does not make it.
    differ = apart is not None and apart.differ
    # One animal of several that differs is named; enclosures that do speak for themselves only.
    speaks = not (differ and question.declared.several)
    holds = speaks and (row["sure"] or verdict == IN_PROPORTION)
    grade = standing_of_units(did.units, holds) if question.unit in ("animal", "enclosure") else ""
    grade = grade or standing(did.sessions, did.days, holds)
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
        {"apart": apart} if differ else {},
    )


def _numbers(row: Mapping[str, Any], sessions: int, days: int, use: ZoneUse | None) -> dict[str, Number]:
    named = numbers(
        sessions=(sessions, "sessions"), days=(days, "days"), sessions_used=(row["sessions"], "sessions"),
    ) | {name: Number(row[name], "share") for name in ("used", "used_low", "used_high", "available")}  # fmt: skip
    named |= {name: Number(row[name], "ratio") for name in ("ratio", "ratio_low", "ratio_high")}
    named |= {name: Number(row[name], "share") for name in ("unseen_low", "unseen_high")}
    named["p"] = Number(row["p"], "chance")
    if row["verdict"] in (AVOIDED, FAVOURED):
        named["by_luck"] = Number(_by_luck(row, use), "chance")
    if use is not None and use.moves is not None:
        named["moves"] = Number(use.moves, "moves")
        named |= numbers(
            stays=(use.lasting.stays, "stays"), longest_stay=(use.lasting.longest, "share"),
            animals_effective=(use.lasting.company.effective, "animals"), sure_level=(use.sure_level, "chance"),
        )  # fmt: skip
    return named


def _by_luck(row: Mapping[str, Any], use: ZoneUse | None) -> float:
    """The chance of use as far from the offer by luck, over all zones: that of the test, or of the limits."""
    if row["p"] is not None and np.isfinite(row["p"]):
        return float(row["p"])
    zones = 1 if use is None else len(use.used)
    return chance_of_limits(row["ratio"], row["ratio_low"], row["ratio_high"], none=1.0, compared=zones)


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
