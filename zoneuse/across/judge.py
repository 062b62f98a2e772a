"""What pooled numbers say: whether a thing holds across keepers, differs between them, or it is too early."""

from __future__ import annotations

from ..answers import reasons
from ..answers.finding import LOOKS_LIKE, TOO_EARLY, Finding, numbers
from .pool import CHANGE, CONDITION, FOR_VERDICT, PREFERRED, ZONE, Pooled

HOLDS, DIFFERS = "holds across", "differs"
VERDICTS = (HOLDS, DIFFERS, TOO_EARLY)
# What would be no preference and no change; a preferred value is held against none.
_NOTHING = {ZONE: 1.0, CONDITION: 1.0, CHANGE: 0.0}
# A next enclosure that may use a zone at under two thirds or above one and a half of its share: it differs.
# A step of a condition (1 °C, 10 %) counts from a tenth of the odds.
_APART = {ZONE: (0.67, 1.5), CONDITION: (0.9, 1.1), CHANGE: (-0.10, 0.10)}
# Preferred values that stay within so much of the mean, in the quantity's own unit, hold (house rule).
_WITHIN = {"temperature_c": 2.0, "humidity_pct": 10.0, "surface_c": 2.0, "vpd_kpa": 0.3}


def finding(one: Pooled) -> Finding:
    """The verdict on one row. Under five keepers it is too early, and says how many more."""
    verdict, reason = _verdict(one)
    return Finding(
        (one.name,), verdict, LOOKS_LIKE if verdict != TOO_EARLY else "", reason,
        numbers(
            mean=(one.mean, one.unit), low=(one.low, one.unit), high=(one.high, one.unit),
            next_low=(one.next_low, one.unit), next_high=(one.next_high, one.unit),
            keepers=(one.keepers, "keepers"), enclosures=(one.enclosures, "enclosures"),
            more=(max(FOR_VERDICT - one.keepers, 0), "keepers"),
        ),
        unit="keeper", facts={"what": one.what, "around": one.around},
    )  # fmt: skip


def _verdict(one: Pooled) -> tuple[str, str]:
    if one.keepers < FOR_VERDICT or None in (one.low, one.high, one.next_low, one.next_high):
        return TOO_EARLY, reasons.TOO_FEW_UNITS
    assert one.mean is not None and one.low is not None and one.high is not None
    assert one.next_low is not None and one.next_high is not None
    if one.what == PREFERRED:
        within = _WITHIN.get(one.name)
        if within is None:
            return TOO_EARLY, reasons.NOT_JUDGED
        if max(one.mean - one.next_low, one.next_high - one.mean) <= within:
            return HOLDS, ""
        return (DIFFERS, "") if one.tau is not None and one.tau > within / 2 else (TOO_EARLY, reasons.SPREAD)
    nothing, (low, high) = _NOTHING[one.what], _APART[one.what]
    if not one.low <= nothing <= one.high and not one.next_low <= nothing <= one.next_high:
        return HOLDS, ""
    if one.next_low < low and one.next_high > high and _clearly_apart(one, low, high):
        return DIFFERS, ""
    return TOO_EARLY, reasons.SPREAD


def _clearly_apart(one: Pooled, low: float, high: float) -> bool:
    """Whether there is an enclosure whose own limits lie below, and another whose lie above: not noise alone."""
    return any(s.high is not None and s.high < low for s in one.studies) and any(
        s.low is not None and s.low > high for s in one.studies
    )
