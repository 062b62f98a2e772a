"""Is a condition chosen: the curve's shape, use against offer at the same moments, and what holds a verdict back."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ...stats.choice.preference import (
    CLAIM,
    FALLING,
    FLAT,
    PEAKED,
    RISING,
    CurveShape,
    PreferenceFit,
    curve_shape,
    widened,
)
from ...stats.choice.preference import TOO_EARLY as UNDECIDED
from ...stats.intervals.any_time import level_any_time
from .. import reasons
from ..finding import TOO_EARLY, Finding, Number, numbers, standing
from ..quantities_said import unit
from ..question import Question

VERDICTS = (PEAKED, RISING, FALLING, "threshold", "uneven", FLAT, TOO_EARLY)


def holds(fit: PreferenceFit, quantity: int, shape: CurveShape) -> bool:
    """Whether a shape is claimed at the level that holds however often one asks; sameness needs none."""
    if shape.shape in (FLAT, UNDECIDED):
        return True
    level = float(level_any_time(fit.degrees() + 1))
    return curve_shape(widened(fit), quantity, compared=CLAIM / level).shape == shape.shape


def finding(
    question: Question, row: Mapping[str, Any], shape: CurveShape, apart: Mapping[str, Any], *, compared: int,
    sure: bool,
) -> Finding:  # fmt: skip
    """One quantity: ``row`` of the answer's table, ``apart`` use against offer over independent units.

    ``sure``: it holds however often one asks.
    """
    did, quantity = question.effort, row["quantity"]
    grade = standing(did.sessions, did.days, sure)
    early = row["shape"] == TOO_EARLY
    names = (
        "peak",
        "peak_low",
        "peak_high",
        "offered_low",
        "offered_high",
        "used_median",
        "used_q25",
        "used_q75",
    )
    named = {name: Number(row[name], unit(quantity)) for name in names}
    for name in ("difference", "difference_low", "difference_high"):
        named[name] = Number(apart[name], unit(quantity))
    named |= numbers(
        sessions=(did.sessions, "sessions"), days=(did.days, "days"), animals=(did.animals, "animals"),
        units=(apart["units"], question.unit),
    )  # fmt: skip
    return Finding(
        (quantity,), row["shape"], "" if early else grade, _reason(shape, apart, grade) if early else "", named,
        unit=question.unit, compared=compared, facts={"partly_the_place": _partly_the_place(shape)},
    )  # fmt: skip


def _reason(shape: CurveShape, apart: Mapping[str, Any], grade: str) -> str:
    if not grade:
        return reasons.TOO_FEW_UNITS
    # Use lies clear of the offer, though the fit with places does not bear a shape out.
    clear = shape.shape == UNDECIDED and clear_of_none(apart["difference_low"], apart["difference_high"])
    return reasons.PLACE_OR_CONDITION if clear else reasons.SPREAD


def clear_of_none(low: float | None, high: float | None) -> bool:
    """Whether the limits of a difference leave out none; a single unit has no limits."""
    return low is not None and high is not None and low * high > 0


def _partly_the_place(shape: CurveShape) -> bool:
    """Whether the peaks with and without the places lie farther apart than the interval."""
    if not shape.peak_set_plain or not shape.peak_set:
        return False
    plain = (min(a for a, _ in shape.peak_set_plain) + max(b for _, b in shape.peak_set_plain)) / 2
    return not any(a <= plain <= b for a, b in shape.peak_set)
