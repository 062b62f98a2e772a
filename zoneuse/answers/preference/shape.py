"""The shape of a condition's curve: the word from the two fits, and why there is none yet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from ...stats.arrays import Floats
from ...stats.choice import (
    PreferenceFit,
    TwoEnds,
    cut_to_offered,
    fieller_peak,
    largest_ratio,
    lind_mehlum_test,
)
from ...stats.choice.peaks import Span
from ...stats.intervals import t_quantile
from ..finding import TOO_EARLY

PEAKED, RISING, FALLING, FLAT = "peaked", "rising", "falling", "flat"

# One-sided levels: the plain fit claims, the fit with constants must not speak against it.
CLAIM, CONFIRM = 0.05, 0.20
# A slope has no second end to pass, so a zone's liking passes for one more easily.
CONFIRM_SLOPE = 0.05
CONFIRM_DRAWN_IN = 0.025
# Below this part of the differences from within zones the gradient never moved: constants stand for all of it.
MOVED_LEAST = 0.005
# The fit with constants says where the peak is if its set leaves out at least this part of what was offered ...
LEAVES_OUT = 0.5
# ... or from this part of the differences on: then the plain fit has hardly more to go by.
SPEAKS_LEAST = 0.1


class Ends(NamedTuple):
    """Log odds of the high end of what was offered over the low one, with limits."""

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class CurveShape:
    """What one quantity's curve looks like over what was offered.

    ``plain_shape`` is what the plain fit alone would claim, ``shape`` what stands. ``peak`` is None unless there
    is one; it and ``peak_set``, the 95 % set of turning points inside what was offered (Fieller, CR3), come from
    the fit that has the evidence: with constants where ``by_places``, else plain. ``reason`` tells why it is too
    early: same_everywhere, never_moved (the plain fit claims something, and only lasting differences between
    zones speak for it), place_or_climate, spread. ``moved``: whether zones ever differed otherwise than always.
    ``ends`` (95 %) and ``ends_places`` (90 %) are one end against the other by both fits: rising and falling are
    claimed only where both leave out 0.
    """

    shape: str
    peak: float | None
    peak_set: tuple[Span, ...]
    peak_set_plain: tuple[Span, ...]
    peak_set_places: tuple[Span, ...]
    by_places: bool
    moved: bool
    plain_shape: str
    plain: TwoEnds | None
    constants: TwoEnds | None
    largest_ratio: float
    reason: str
    ends: Ends | None = None
    ends_places: Ends | None = None


def constants_tell_little(fit: PreferenceFit, quantity: int, shape: CurveShape) -> bool:
    """Whether a gradient moved and free constants still leave the peak open.

    A gradient turned round about its middle leaves each zone's distance from the middle as it was, and that is all
    the bend of a curve goes by: then likings drawn towards zero (``place_or_climate.fit_places``) can tell more.
    """
    if shape.shape not in (TOO_EARLY, FLAT):
        return False
    offered = float(fit.most[quantity] - fit.least[quantity])
    return float(fit.within[quantity]) >= SPEAKS_LEAST and not _tells(shape.peak_set_places, offered)


def curve_shape(
    fit: PreferenceFit,
    quantity: int,
    *,
    flat_within: float = 1.5,
    compared: float = 1,
    likings: tuple[Floats, Floats] | None = None,
) -> CurveShape:
    """The shape of one quantity's curve between the 5th and 95th percentile of what was offered.

    A peak must rise at the low end and fall at the high one (Lind & Mehlum 2010), one-sided .05 in the plain
    fit and .2 with constants; rising and falling must differ between the ends as surely and not turn
    against it at either. Flat: the 90 % band of the fitted ratio between any two values offered stays within
    ``flat_within``. ``compared`` divides the claiming level (Bonferroni). ``likings`` are the two coefficients and
    their covariance from a fit with likings drawn towards zero, to stand in for the constants where these tell
    little; a top must then be confirmed at .025, as likings that are drawn in leave more to the climate.
    """
    coef, cov = fit.curve(quantity)
    drawn_in = likings is not None
    c_coef, c_cov = likings or fit.curve(quantity, constants=True)
    degrees, centre = fit.degrees(), float(fit.centre[quantity])
    low, high = float(fit.low[quantity]) - centre, float(fit.high[quantity]) - centre
    least, most = float(fit.least[quantity]), float(fit.most[quantity])
    within = float(fit.within[quantity])
    moved = within >= MOVED_LEAST
    if not _known(coef, cov) or degrees < 1:
        return _same_everywhere(fit, quantity, moved)
    told = _known(c_coef, c_cov) and moved
    plain = lind_mehlum_test(coef, cov, low, high, degrees)
    constants = lind_mehlum_test(c_coef, c_cov, low, high, degrees) if told else None
    plain_set = _moved(fieller_peak(coef, cov, degrees), centre, least, most)
    places_set = _moved(fieller_peak(c_coef, c_cov, degrees), centre, least, most) if told else ()
    by_places = told and (within >= SPEAKS_LEAST or _tells(places_set, most - least))
    span, claim = (low, high, degrees), CLAIM / compared
    alone = _shape(plain, plain, (coef, cov), (coef, cov), span, claim=claim)
    shape = _shape(plain, constants, (coef, cov), (c_coef, c_cov), span, claim=claim, drawn_in=drawn_in)
    ratio, peaked = largest_ratio(coef, cov, low, high, degrees), PEAKED in (shape, shape if moved else alone)
    peak = float(np.clip(centre + _top(coef, c_coef, by_places), least, most)) if peaked else None
    if (shape, peak) == (TOO_EARLY, None) and ratio <= flat_within:
        shape = FLAT
    return CurveShape(
        shape, peak, places_set if by_places else plain_set, plain_set, places_set, by_places, moved, alone,
        plain, constants, ratio, _held_back(shape, alone, moved, told),
        _ends((coef, cov), span, claim), _ends((c_coef, c_cov), span, 2 * CONFIRM_SLOPE) if told else None,
    )  # fmt: skip


def _ends(curve: tuple[Floats, Floats], span: tuple[float, float, float], level: float) -> Ends:
    """One end of what was offered against the other, with two-sided limits at ``level``."""
    (coef, cov), (low, high, degrees) = curve, span
    weights = np.array([high - low, high**2 - low**2])
    value = float(weights @ coef)
    half = t_quantile(1 - level / 2, degrees) * float(np.sqrt(max(float(weights @ cov @ weights), 1e-300)))
    return Ends(value, value - half, value + half)


def _top(coef: Floats, c_coef: Floats, by_places: bool) -> float:
    """Where the parabola turns: that of the fit with constants where it has the evidence and bends down."""
    b, c = c_coef if by_places and c_coef[1] < 0 else coef
    return -float(b) / (2 * float(c))


def _tells(spans: tuple[Span, ...], offered: float) -> bool:
    """Whether a set of turning points leaves out enough of what was offered to go by."""
    return sum(b - a for a, b in spans) <= (1 - LEAVES_OUT) * offered


def _same_everywhere(fit: PreferenceFit, quantity: int, moved: bool) -> CurveShape:
    """Nothing to fit: the peak may be anywhere in what was offered."""
    every = ((float(fit.least[quantity]), float(fit.most[quantity])),)
    return CurveShape(
        TOO_EARLY, None, every, every, every, False, moved, TOO_EARLY, None, None, float("inf"), "same_everywhere"
    )  # fmt: skip


def _held_back(shape: str, alone: str, moved: bool, told: bool) -> str:
    """Why no ``shape`` is claimed, where none is: ``alone`` is what the plain fit would claim."""
    if shape != TOO_EARLY:
        return ""
    if not moved:
        return "spread" if alone == TOO_EARLY else "never_moved"
    return "spread" if told else "place_or_climate"


def _known(coef: Floats, cov: Floats) -> bool:
    return bool(np.isfinite(cov).all() and np.isfinite(coef).all())


def _shape(
    plain: TwoEnds,
    constants: TwoEnds | None,
    curve: tuple[Floats, Floats],
    confirming: tuple[Floats, Floats],
    span: tuple[float, float, float],
    *,
    claim: float,
    drawn_in: bool = False,
) -> str:
    """Peaked, rising or falling by both fits (coefficients and covariance of each); else too early.

    Likings ``drawn_in`` towards zero must confirm a top more surely.
    """
    if constants is None:
        return TOO_EARLY
    if plain.p_top <= claim and constants.p_top <= (CONFIRM_DRAWN_IN if drawn_in else CONFIRM):
        return PEAKED
    surely, holds = _ends(curve, span, claim), _ends(confirming, span, 2 * CONFIRM_SLOPE)
    if min(surely.low, holds.low) > 0 and min(plain.slope_low, plain.slope_high) >= 0:
        return RISING
    if max(surely.high, holds.high) < 0 and max(plain.slope_low, plain.slope_high) <= 0:
        return FALLING
    return TOO_EARLY


def _moved(spans: tuple[Span, ...], centre: float, least: float, most: float) -> tuple[Span, ...]:
    """Spans about the centre as values of the quantity, cut to what was offered."""
    return cut_to_offered(tuple((a + centre, b + centre) for a, b in spans), least, most)


def bears_out(fit: PreferenceFit, quantity: int, likings: Callable[[], tuple[Floats, Floats]]) -> bool:
    """Whether a fit claims a shape other than flat, with likings drawn towards zero where constants tell little.

    ``likings`` gives their two coefficients and covariance; it is asked only where needed.
    """
    shape = curve_shape(fit, quantity)
    if constants_tell_little(fit, quantity, shape):
        shape = curve_shape(fit, quantity, likings=likings())
    return shape.shape not in (TOO_EARLY, FLAT)
