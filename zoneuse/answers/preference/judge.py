"""Is a condition chosen: the curve's shape, use against offer at the same moments, and what holds a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pandas as pd

from ...stats.choice.flexible import FlexibleCurve, tested_together
from ...stats.choice.preference import PreferenceFit, widened
from ...stats.choice.turned import Turned
from ...stats.intervals.any_time import level_any_time
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, Number, numbers, standing
from ..quantities_said import unit
from ..question import Question
from ..showing.plain import rows as rows_of
from .shape import CLAIM, FALLING, FLAT, PEAKED, RISING, CurveShape, curve_shape

THRESHOLD, UNEVEN, DIFFERS = "threshold", "uneven", "differs"
VERDICTS = (PEAKED, RISING, FALLING, THRESHOLD, UNEVEN, FLAT, DIFFERS, TOO_EARLY)
# A parabola that fits worse than a curve that bends as it likes, by luck no oftener than this, is not believed.
BELIEVED = 0.05
# Tanks and tubs stand for their kind only together: of fewer than this nothing is fairly sure (house rule).
ENCLOSURES_ENOUGH = 5
_FROM_ROW = (
    "peak", "peak_low", "peak_high", "offered_low", "offered_high", "used_median", "used_q25", "used_q75",
    "used_mean", "used_mean_low", "used_mean_high",
)  # fmt: skip


def verdicts(shapes: Sequence[CurveShape], bends: Sequence[FlexibleCurve | None], enough: bool) -> list[str]:
    """The word for each quantity: that of the parabola where it fits, else what the curve that bends tells."""
    together = tested_together([1.0 if b is None else b.p for b in bends])
    return [
        _verdict(shape, bend, p) if enough else TOO_EARLY
        for shape, bend, p in zip(shapes, bends, together, strict=True)
    ]


def _verdict(shape: CurveShape, bend: FlexibleCurve | None, p: float) -> str:
    if bend is None or p > BELIEVED:
        return shape.shape
    if bend.threshold:
        return THRESHOLD
    # One top all the same, only not as even as a parabola's: where that has its top too, the word stands.
    if (
        bend.top is not None
        and PEAKED in (shape.shape, shape.plain_shape)
        and _inside(shape.peak_set, bend.top)
    ):
        return shape.shape
    return shape.shape if shape.shape in (RISING, FALLING) else UNEVEN


def _inside(spans: Sequence[tuple[float, float]], value: float) -> bool:
    return any(a <= value <= b for a, b in spans)


def never_parted(shape: CurveShape, apart: Mapping[str, Any]) -> bool:
    """Whether use is not that of the offer and only lasting differences between places speak for it."""
    told = shape.plain_shape in (PEAKED, RISING, FALLING)
    return not shape.moved and (told or clear_of_none(apart["difference_low"], apart["difference_high"]))


def holds(fit: PreferenceFit, quantity: int, shape: CurveShape) -> bool:
    """Whether a shape is claimed at the level that holds however often one asks; sameness needs none."""
    if shape.shape in (FLAT, TOO_EARLY):
        return True
    level = float(level_any_time(fit.degrees() + 1))
    return curve_shape(widened(fit), quantity, compared=CLAIM / level).shape == shape.shape


@dataclass(frozen=True, slots=True)
class Curve:
    """One quantity's parabola, the curve that bends as it likes, and whether its word ``holds`` at every look."""

    shape: CurveShape
    bend: FlexibleCurve | None
    holds: bool


def finding(
    question: Question,
    row: Mapping[str, Any],
    curve: Curve | None,
    apart: Mapping[str, Any],
    turned: Turned | None,
) -> Finding:
    """One quantity: ``row`` of the answer's table, ``apart`` use against offer over independent units.

    ``curve`` is None for what the model has no curve for; ``turned`` what would part it from the places.
    """
    did, quantity = question.effort, row["quantity"]
    grade = standing(
        did.sessions, did.days, holds=_enclosures_enough(question) and (curve is None or curve.holds)
    )
    early = row["shape"] == TOO_EARLY
    named = {name: Number(row[name], unit(quantity)) for name in _FROM_ROW}
    for name in ("difference", "difference_low", "difference_high"):
        named[name] = Number(apart[name], unit(quantity))
    named |= numbers(
        sessions=(did.sessions, "sessions"), days=(did.days, "days"), animals=(row["animals"], "animals"),
        units=(apart["units"], question.unit),
    )  # fmt: skip
    facts: dict[str, Any] = {"modelled": curve is not None}
    if curve is not None:
        shape, bend = curve.shape, curve.bend
        named |= _other_peak(shape, quantity) | numbers(bend_p=(None if bend is None else bend.p, "chance"))
        facts |= {
            "partly_the_place": _partly_the_place(shape), "by_places": shape.by_places, "moved": shape.moved,
            "plain": shape.plain_shape, "side": "" if bend is None else bend.threshold,
        }  # fmt: skip
    ahead = Forecast(turned.sessions, turned.chance, turned.most) if turned is not None and early else None
    reason = _reason(curve, apart, grade) if early else ""
    return Finding(
        (quantity,), row["shape"], "" if early else grade, reason, named,
        ahead if reason == reasons.NEVER_WITH_THIS_DESIGN else None, question.unit, facts=facts,
    )  # fmt: skip


def _enclosures_enough(question: Question) -> bool:
    """One enclosure speaks for itself; a few of them speak for their kind only where they are not so few."""
    return not 1 < question.rows["enclosure"].nunique() < ENCLOSURES_ENOUGH


def _other_peak(shape: CurveShape, quantity: str) -> dict[str, Number]:
    """The ends of the turning points by the fit that does not speak, so that both stand."""
    other = shape.peak_set_plain if shape.by_places else shape.peak_set_places
    low, high = min((a for a, _ in other), default=None), max((b for _, b in other), default=None)
    return {"other_low": Number(low, unit(quantity)), "other_high": Number(high, unit(quantity))}


def _reason(curve: Curve | None, apart: Mapping[str, Any], grade: str) -> str:
    if not grade:
        return reasons.TOO_FEW_UNITS
    if curve is None:
        return reasons.NOT_JUDGED
    if never_parted(curve.shape, apart):
        return reasons.NEVER_WITH_THIS_DESIGN
    # Use lies clear of the offer, though the fit with places does not bear a shape out.
    clear = curve.shape.shape == TOO_EARLY and clear_of_none(
        apart["difference_low"], apart["difference_high"]
    )
    return reasons.PLACE_OR_CONDITION if clear else reasons.SPREAD


def clear_of_none(low: float | None, high: float | None) -> bool:
    """Whether the limits of a difference leave out none; a single unit has no limits."""
    return low is not None and high is not None and low * high > 0


def _partly_the_place(shape: CurveShape) -> bool:
    """Whether the peaks with and without the places lie farther apart than the interval."""
    if not shape.by_places or not shape.peak_set_plain or not shape.peak_set:
        return False
    plain = (min(a for a, _ in shape.peak_set_plain) + max(b for _, b in shape.peak_set_plain)) / 2
    return not any(a <= plain <= b for a, b in shape.peak_set)


def slot_findings(question: Question, apart: pd.DataFrame) -> list[Finding]:
    """A finding for each quantity of which another value is used by day than by night (or between other slots)."""
    did, found = question.effort, []
    grade = standing(did.sessions, did.days, holds=_enclosures_enough(question))
    for row in rows_of(apart):
        if grade and clear_of_none(row["difference_low"], row["difference_high"]):
            own = unit(row["quantity"])
            named = {k: Number(row[k], own) for k in ("difference", "difference_low", "difference_high")}
            named["units"] = Number(row["units"], row["unit"])
            found.append(
                Finding(
                    (row["quantity"], row["slot"], row["other"]), DIFFERS, grade, numbers=named, unit=row["unit"],
                    compared=len(apart),
                )
            )  # fmt: skip
    return found
