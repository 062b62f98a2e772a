"""Is a condition chosen: the curve's shape, use against offer at the same moments, and what holds a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from ...stats.choice import FlexibleCurve, PreferenceFit, Turned, tested_together, widened
from ...stats.choice.peaks import Span
from ...stats.curves import Edge, Top, TwoLines
from ...stats.intervals import chance_of_limits, level_any_time, t_two_sided
from .. import reasons
from ..finding import TOO_EARLY, Finding, Forecast, Number, numbers, standing
from ..quantities_said import unit
from ..question import Question
from ..showing.plain import rows as rows_of
from .shape import CLAIM, CONFIRM, FALLING, FLAT, PEAKED, RISING, CurveShape, curve_shape

THRESHOLD, UNEVEN, DIFFERS = "threshold", "uneven", "differs"
NEEDS_CURVE = (RISING, FALLING, THRESHOLD, UNEVEN)
VERDICTS = (PEAKED, RISING, FALLING, THRESHOLD, UNEVEN, FLAT, DIFFERS, TOO_EARLY)
# A parabola that fits worse than a curve that bends as it likes, by luck no oftener than this, is not believed.
BELIEVED = 0.05
# Several words are tried on one curve, each at its own level. All but a peak, which passes two tests at once anyway,
# are said only where there is any curve at this level, by Holm over the quantities (a joint test first: Fisher 1935):
# by slope and bend of the parabola together, or by what bends otherwise at a part of the level (weighted: Holm 1979).
ANY_CURVE, BENDS_OTHERWISE = 0.10, 0.1
# Two lines that meet at the top must rise and fall at these one-sided levels: for the word, and for its surer standing.
TWO_LINES, TWO_LINES_SURELY = 0.10, 0.05
# With fewer units an edge that is seen at all is one that luck made clear, and its limits do not hold: no value then.
EDGE_UNITS = 30
# What changed within places must bear an edge out at this one-sided level.
EDGE_BORNE_OUT = 0.20
# Tanks and tubs stand for their kind only together: of fewer than this nothing is fairly sure (house rule).
ENCLOSURES_ENOUGH = 5
_FROM_ROW = (
    "peak", "peak_low", "peak_high", "edge", "edge_low", "edge_high", "offered_low", "offered_high",
    "used_median", "used_q25", "used_q75", "used_mean", "used_mean_low", "used_mean_high",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Curve:
    """One quantity's parabola and what it is held against: the curve that bends as it likes, two lines, an edge.

    ``top`` is that of the fit that speaks, ``other`` of the one beside it; ``by_hour`` the fits in which places may be
    liked by the hour, where the day's cycle carries the differences. ``verdict`` is the word, ``holds`` whether it
    stands at every look, ``at_every_hour`` whether it stands when places may be liked by the hour; ``together`` how
    many curves are judged at once; ``p_bend`` the chance of its bend where successive units repeat each other;
    ``p_any`` that there is no curve at all, by slope and bend together or by what bends otherwise (Holm).
    """

    index: int
    shape: CurveShape
    bend: FlexibleCurve | None
    top: Top | None = None
    other: Top | None = None
    lines: TwoLines | None = None
    edge: Edge | None = None
    by_hour: PreferenceFit | None = None
    verdict: str = TOO_EARLY
    holds: bool = True
    at_every_hour: bool = True
    together: int = 1
    p_bend: float = 1.0
    p_any: float = 0.0

    @property
    def edge_shown(self) -> Edge | None:
        """Where it begins to be avoided, where that is the verdict and rests on units enough for limits to hold."""
        enough = self.edge is not None and self.edge.lines.degrees + 1 >= EDGE_UNITS
        return self.edge if enough and self.verdict == THRESHOLD else None

    @property
    def side(self) -> str:
        """The side that is avoided: "high", "low" or ""."""
        if self.edge is not None and self.verdict == THRESHOLD:
            return self.edge.side
        return "" if self.bend is None else self.bend.threshold


def verdicts(curves: Sequence[Curve], fit: PreferenceFit, enough: bool) -> tuple[Curve, ...]:
    """The curves with their words: that of the parabola where it fits, else what the others tell."""
    together = tested_together([1.0 if c.bend is None else c.bend.p for c in curves])
    bends = [1.0 if c.bend is None else c.bend.p_spread(fit.serial) for c in curves]
    any_curve = [min(fit.p_any(c.index), p / BENDS_OTHERWISE) for c, p in zip(curves, bends, strict=True)]
    found = []
    for curve, p, p_bend, p_any in zip(curves, together, bends, tested_together(any_curve), strict=True):
        curve = replace(curve, p_bend=p_bend, p_any=p_any)
        curve = replace(curve, verdict=_verdict(curve, p) if enough else TOO_EARLY)
        hours = _at_every_hour(curve)
        holds = hours and _holds(curve, fit)
        found.append(replace(curve, at_every_hour=hours, holds=holds, together=len(curves)))
    return tuple(found)


def _verdict(curve: Curve, p: float) -> str:
    """The word of a curve; one that is no peak only where there is a curve at all (``ANY_CURVE``)."""
    word = _word(curve, p)
    return TOO_EARLY if word in NEEDS_CURVE and curve.p_any > ANY_CURVE else word


def _word(curve: Curve, p: float) -> str:
    shape, bend = curve.shape, curve.bend
    if curve.edge is not None:
        return THRESHOLD
    if shape.shape == PEAKED and (curve.lines is None or curve.lines.p_top > TWO_LINES):
        return TOO_EARLY
    if bend is None or p > BELIEVED:
        return shape.shape
    if bend.threshold and curve.p_bend <= BELIEVED:
        return THRESHOLD
    # One top all the same, only not as even as a parabola's: where that has its top too, the word stands.
    if (
        bend.top is not None
        and PEAKED in (shape.shape, shape.plain_shape)
        and _inside(shape.peak_set if curve.top is None else curve.top.spans, bend.top)
    ):
        return shape.shape
    if shape.shape in (RISING, FALLING):
        return shape.shape
    # Against a parabola a bend speaks at once; for a word of its own it must stand where successive units are alike.
    return UNEVEN if curve.p_bend <= BELIEVED else TOO_EARLY


def _inside(spans: Sequence[tuple[float, float]], value: float) -> bool:
    return any(a <= value <= b for a, b in spans)


def beside_use(curve: Curve, apart: Mapping[str, Any]) -> Curve:
    """The curve, without its word where a slope goes one way and what was used lies clear of the offer the other way.

    Then the places speak against the slope, and which of the two it is cannot be told.
    """
    low, high = apart["difference_low"], apart["difference_high"]
    if not clear_of_none(low, high):
        return curve
    against = (curve.verdict == RISING and high < 0) or (curve.verdict == FALLING and low > 0)
    return replace(curve, verdict=TOO_EARLY) if against else curve


def never_parted(shape: CurveShape, apart: Mapping[str, Any]) -> bool:
    """Whether use is not that of the offer and only lasting differences between places speak for it."""
    told = shape.plain_shape in (PEAKED, RISING, FALLING)
    return not shape.moved and (told or clear_of_none(apart["difference_low"], apart["difference_high"]))


def _holds(curve: Curve, fit: PreferenceFit) -> bool:
    """Whether a word is claimed at the level that holds however often one asks; sameness needs none."""
    level, word = float(level_any_time(fit.degrees() + 1)), curve.verdict
    if word in (FLAT, TOO_EARLY):
        return True
    if word == THRESHOLD and curve.edge is not None:
        return curve.edge.p(fit.serial) <= level
    if word in (THRESHOLD, UNEVEN):
        return curve.p_bend <= level
    if word == PEAKED and (curve.lines is None or curve.lines.p_top > TWO_LINES_SURELY):
        return False
    return curve_shape(widened(fit), curve.index, compared=CLAIM / level).shape == curve.shape.shape


def _at_every_hour(curve: Curve) -> bool:
    """Whether a word stands in the fits in which places may be liked by the hour."""
    if curve.by_hour is None or curve.verdict in (FLAT, TOO_EARLY):
        return True
    if curve.verdict == UNEVEN:  # no word of a parabola to hold against it
        return False
    again = curve_shape(curve.by_hour, curve.index)
    if curve.verdict == THRESHOLD:
        return again.shape in (PEAKED, FALLING if curve.side == "high" else RISING)
    return again.shape == curve.verdict


def _unit(quantity: str) -> str:
    """A logged quantity's own unit; the keeper's cover is rated from 0 to 1."""
    return unit(quantity) or "0 to 1"


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
    named = {name: Number(row[name], _unit(quantity)) for name in _FROM_ROW}
    for name in ("difference", "difference_low", "difference_high"):
        named[name] = Number(apart[name], _unit(quantity))
    named |= numbers(
        sessions=(did.sessions, "sessions"), days=(did.days, "days"), animals=(row["animals"], "animals"),
        units=(apart["units"], question.unit),
    )  # fmt: skip
    facts: dict[str, Any] = {"modelled": curve is not None}
    if curve is not None:
        shape, bend = curve.shape, curve.bend
        named |= _other_peak(curve, quantity) | numbers(
            bend_p=(None if bend is None else bend.p, "chance"),
            skew=(None if curve.top is None else curve.top.skew, "standard errors"),
        )
        if row["shape"] not in (FLAT, TOO_EARLY):
            named |= numbers(by_luck=(by_luck(curve), "chance"))
        facts |= {
            "partly_the_place": _partly_the_place(curve), "by_places": shape.by_places, "moved": shape.moved,
            "plain": shape.plain_shape, "side": curve.side, "at_every_hour": curve.at_every_hour,
        }  # fmt: skip
    ahead = Forecast(turned.sessions, turned.chance, turned.most) if turned is not None and early else None
    reason = _reason(curve, apart, grade) if early else ""
    return Finding(
        (quantity,), row["shape"], "" if early else grade, reason, named,
        ahead if reason == reasons.NEVER_WITH_THIS_DESIGN else None, question.unit, facts=facts,
    )  # fmt: skip


def by_luck(curve: Curve) -> float:
    """The chance of the word by luck, over all quantities; each by itself is claimed at .05.

    What must not speak against it (constants, the joint test) counts as far as it does, on the scale of its own level.
    """
    shape, together = curve.shape, max(curve.together, 1)
    p = 1.0
    if curve.verdict == THRESHOLD and curve.edge is not None:
        p = curve.edge.p()
    elif curve.verdict in (THRESHOLD, UNEVEN):
        p = curve.p_bend
    elif curve.verdict == PEAKED and shape.plain is not None and shape.constants is not None:
        p = max(shape.plain.p_top, shape.constants.p_top * CLAIM / CONFIRM)
    elif curve.verdict in (RISING, FALLING) and shape.ends is not None and shape.ends_places is not None:
        p = max(
            chance_of_limits(*shape.ends), chance_of_limits(*shape.ends_places, confidence=0.90) / 2,
        )  # fmt: skip
    if curve.verdict in NEEDS_CURVE:
        p = max(p, curve.p_any * CLAIM / ANY_CURVE / together)
    return min(p * together, 1.0)


def _enclosures_enough(question: Question) -> bool:
    """One enclosure speaks for itself; a few of them speak for their kind only where they are not so few."""
    return not 1 < question.rows["enclosure"].nunique() < ENCLOSURES_ENOUGH


def peak_spans(curve: Curve) -> tuple[Span, ...]:
    """The set of tops that are not ruled out, by the fit that speaks."""
    return curve.shape.peak_set if curve.top is None else curve.top.spans


def other_spans(curve: Curve) -> tuple[Span, ...]:
    """The same by the fit that does not speak."""
    if curve.other is not None:
        return curve.other.spans
    return curve.shape.peak_set_plain if curve.shape.by_places else curve.shape.peak_set_places


def _other_peak(curve: Curve, quantity: str) -> dict[str, Number]:
    """The ends of the turning points by the fit that does not speak, so that both stand."""
    other = other_spans(curve)
    low, high = min((a for a, _ in other), default=None), max((b for _, b in other), default=None)
    return {"other_low": Number(low, _unit(quantity)), "other_high": Number(high, _unit(quantity))}


def _reason(curve: Curve | None, apart: Mapping[str, Any], grade: str) -> str:
    if not grade:
        return reasons.TOO_FEW_UNITS
    if curve is None:
        return reasons.NOT_JUDGED
    if never_parted(curve.shape, apart):
        return reasons.NEVER_WITH_THIS_DESIGN
    # Use lies clear of the offer, though the fit with places does not bear a shape out, or goes the other way.
    told = curve.shape.shape == TOO_EARLY or (
        curve.shape.shape in (RISING, FALLING) and curve.p_any <= ANY_CURVE
    )
    clear = told and clear_of_none(apart["difference_low"], apart["difference_high"])
    return reasons.PLACE_OR_CONDITION if clear else reasons.SPREAD


def clear_of_none(low: float | None, high: float | None) -> bool:
    """Whether the limits of a difference leave out none; a single unit has no limits."""
    return low is not None and high is not None and low * high > 0


def _partly_the_place(curve: Curve) -> bool:
    """Whether the peaks with and without the places lie farther apart than the interval."""
    spans, other = peak_spans(curve), other_spans(curve)
    if not curve.shape.by_places or not other or not spans:
        return False
    plain = (min(a for a, _ in other) + max(b for _, b in other)) / 2
    return not _inside(spans, plain)


def _apart_always(row: Mapping[str, Any], days: int, compared: int) -> bool:
    """Whether a difference between times of day holds however often one asks: its limits drawn out to that level."""
    degrees = row["units"] - 1
    if row["difference_low"] is None or degrees < 1:
        return False
    wider = t_two_sided(1 - float(level_any_time(days)), degrees, compared) / t_two_sided(
        0.95, degrees, compared
    )
    reach = wider * (row["difference_high"] - row["difference_low"]) / 2
    return bool(abs(row["difference"]) > reach)


def slot_findings(question: Question, apart: pd.DataFrame) -> list[Finding]:
    """A finding for each quantity of which another value is used by day than by night (or between other slots)."""
    did, found = question.effort, []
    enough = _enclosures_enough(question)
    for row in rows_of(apart):
        grade = standing(did.sessions, did.days, holds=enough and _apart_always(row, did.days, len(apart)))
        if grade and clear_of_none(row["difference_low"], row["difference_high"]):
            own = _unit(row["quantity"])
            named = {k: Number(row[k], own) for k in ("difference", "difference_low", "difference_high")}
            named["units"] = Number(row["units"], row["unit"])
            limits = row["difference"], row["difference_low"], row["difference_high"]
            named |= numbers(by_luck=(chance_of_limits(*limits, compared=len(apart)), "chance"))
            found.append(
                Finding(
                    (row["quantity"], row["slot"], row["other"]), DIFFERS, grade, numbers=named, unit=row["unit"],
                    compared=len(apart),
                )
            )  # fmt: skip
    return found
