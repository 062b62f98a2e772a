"""Preference for conditions: curves of choice fitted without and with a constant for each zone.

Each quantity enters with its value and its square; the log of what is offered is the offset. The plain fit
uses all differences between places; the fit with a constant for each zone only what changes within zones
over time, so that a liking of the place itself cannot pass for one of its climate.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..intervals.quantiles import t_quantile
from .choice import ChoiceFit, fit_choice
from .peaks import Span, TwoEnds, cut_to_offered, fieller_peak, lind_mehlum_test

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class PreferenceFit:
    """Both fits of one study.

    ``centre`` is taken from each quantity before squaring; ``low`` and ``high`` are the 5th and 95th
    percentile of what was offered, ``least`` and ``most`` its ends. Terms of ``plain``: each quantity and
    its square in turn, then the extra terms. ``constants`` has the zones' constants (the first zone used
    is the base) before them; None where it could not be fitted. ``within`` is the part of each quantity's
    differences between places that comes from change within zones over time (0..1). ``serial`` is how many times
    more the estimates may vary because successive clusters repeat each other.
    """

    quantities: tuple[str, ...]
    extras: tuple[str, ...]
    centre: Floats
    low: Floats
    high: Floats
    least: Floats
    most: Floats
    within: Floats
    plain: ChoiceFit
    constants: ChoiceFit | None
    zones_with_constant: tuple[int, ...]
    serial: float = 1.0

    def curve(self, quantity: int, *, constants: bool = False) -> tuple[Floats, Floats]:
        """The two coefficients of a quantity and their CR3 covariance (NaN where not estimable)."""
        fit = self.constants if constants else self.plain
        if fit is None:
            return np.full(2, np.nan), np.full((2, 2), np.nan)
        first = 2 * quantity + (len(self.zones_with_constant) if constants else 0)
        where = slice(first, first + 2)
        return fit.coef[where], fit.cov_cr3[where, where]

    def degrees(self) -> float:
        """Degrees of freedom of the clustered covariances."""
        return self.plain.clusters - 1


def fit_preference(
    x: ArrayLike,
    moment: ArrayLike,
    zone: ArrayLike,
    chosen: ArrayLike,
    offset: ArrayLike,
    *,
    cluster: ArrayLike,
    quantities: Sequence[str],
    extra: ArrayLike | None = None,
    extras: Sequence[str] = (),
) -> PreferenceFit:
    """Fit the curves of choice of one study.

    One row a moment and place on offer: ``x`` rows x quantities, ``zone`` an index, ``extra`` further
    linear terms (cover, stayed where it was); the rest as for ``choice.fit_choice``. ValueError as there.
    """
    given = np.asarray(x, np.float64)
    if given.ndim != 2 or given.shape[1] != len(quantities):
        raise ValueError(f"x: expected rows x {len(quantities)} quantities, found {given.shape}")
    more = np.zeros((given.shape[0], 0)) if extra is None else np.asarray(extra, np.float64)
    centre = np.median(given, axis=0)
    terms = np.column_stack([*_squares(given - centre), more])
    names = [name for q in quantities for name in (q, f"{q}^2")] + list(extras)
    plain = fit_choice(terms, moment, chosen, offset=offset, cluster=cluster, terms=names)
    where, took = np.asarray(zone), np.asarray(chosen, np.float64)
    # A zone never used has no finite constant: it tells nothing here, and leaves the choice sets.
    used = [int(z) for z in np.unique(where) if took[where == z].sum() > 0]
    constants = None
    if len(used) > 1:
        rows = np.isin(where, used)
        dummies = np.column_stack([where[rows] == z for z in used[1:]]).astype(float)
        constants = fit_choice(
            np.column_stack([dummies, terms[rows]]),
            np.asarray(moment)[rows],
            took[rows],
            offset=np.asarray(offset)[rows],
            cluster=np.asarray(cluster)[rows],
            terms=[f"zone {z}" for z in used[1:]] + names,
        )
    low, high = np.quantile(given, [0.05, 0.95], axis=0)
    return PreferenceFit(
        quantities=tuple(quantities),
        extras=tuple(extras),
        centre=centre,
        low=low,
        high=high,
        least=given.min(axis=0),
        most=given.max(axis=0),
        within=np.array([within_part(given[:, q], moment, zone) for q in range(given.shape[1])]),
        plain=plain,
        constants=constants,
        zones_with_constant=tuple(used[1:]),
        serial=_serial(plain, terms, moment, took, np.asarray(cluster)),
    )


def widened(fit: PreferenceFit) -> PreferenceFit:
    """The same fits as if successive clusters repeated each other as far as they seem to: ``serial`` in use.

    Covariances are that many times larger, clusters that many times fewer (one cluster at least must be left to
    err by).
    """

    def wider(one: ChoiceFit) -> ChoiceFit:
        fewer = max(int(one.clusters / fit.serial), 2)
        return replace(one, cov_cr3=one.cov_cr3 * fit.serial, clusters=fewer)

    return replace(fit, plain=wider(fit.plain), constants=wider(fit.constants) if fit.constants else None)


def _serial(
    plain: ChoiceFit, terms: Floats, moment: ArrayLike, took: Floats, cluster: NDArray[np.generic]
) -> float:
    """(1 + r)/(1 - r), r the lag-1 correlation of clusters' pulls on the estimates, pooled over terms, rounded up.

    Clusters are taken in the order of their codes, which is that of time.
    """
    there = plain.estimable
    _, when = np.unique(np.asarray(moment), return_inverse=True)
    _, code = np.unique(cluster, return_inverse=True)
    expected = plain.fitted * np.bincount(when, took)[when]
    scores = np.zeros((int(code.max()) + 1, int(there.sum())))
    np.add.at(scores, code, terms[:, there] * (took - expected)[:, None])
    pull = scores @ plain.cov[np.ix_(there, there)]
    size = pull.shape[0]
    spread = (pull**2).sum(axis=0)
    if size < 4 or not np.isfinite(pull).all() or not (spread > 0).all():
        return 1.0
    r = float(((pull[1:] * pull[:-1]).sum(axis=0) / spread).mean()) + 1 / size + 0.5 / np.sqrt(size)
    r = min(max(r, 0.0), 0.9)
    return float((1 + r) / (1 - r))


def _squares(centred: Floats) -> list[Floats]:
    return [column for q in range(centred.shape[1]) for column in (centred[:, q], centred[:, q] ** 2)]


def within_part(values: ArrayLike, moment: ArrayLike, zone: ArrayLike) -> float:
    """The part of a quantity's differences at one moment that zones' lasting differences do not explain.

    0: every zone keeps its distance to the others (climate and place cannot be told apart); 1: zones do not
    differ on average.

    >>> within_part([1.0, 2.0, 2.0, 3.0], [0, 0, 1, 1], [0, 1, 0, 1])
    0.0
    """
    v = np.asarray(values, np.float64)
    _, m = np.unique(np.asarray(moment), return_inverse=True)
    _, z = np.unique(np.asarray(zone), return_inverse=True)
    between = v - (np.bincount(m, v) / np.bincount(m))[m]
    total = float((between**2).sum())
    if total <= 0:
        return 0.0
    lasting = (np.bincount(z, between) / np.bincount(z))[z]
    return float(np.clip(((between - lasting) ** 2).sum() / total, 0.0, 1.0))


PEAKED, RISING, FALLING, FLAT, TOO_EARLY = "peaked", "rising", "falling", "flat", "too early"

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


@dataclass(frozen=True, slots=True)
class CurveShape:
    """What one quantity's curve looks like over what was offered.

    ``plain_shape`` is what the plain fit alone would claim, ``shape`` what stands. ``peak`` is None unless there
    is one; it and ``peak_set``, the 95 % set of turning points inside what was offered (Fieller, CR3), come from
    the fit that has the evidence: with constants where ``by_places``, else plain. ``reason`` tells why it is too
    early: same_everywhere, never_moved (the plain fit claims something, and only lasting differences between
    zones speak for it), place_or_climate, spread. ``moved``: whether zones ever differed otherwise than always.
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


def constants_tell_little(fit: PreferenceFit, quantity: int, shape: CurveShape) -> bool:
    """Whether a gradient moved and free constants still leave the peak open.

    A gradient turned round about its middle leaves each zone's distance from the middle as it was, and that is all
    the bend of a curve goes by: then likings drawn towards zero (``place_or_climate.fit_places``) can tell more.
    """
    if shape.shape not in (TOO_EARLY, FLAT):
        return False
    width = sum(b - a for a, b in shape.peak_set_places)
    offered = float(fit.most[quantity] - fit.least[quantity])
    return float(fit.within[quantity]) >= SPEAKS_LEAST and width > (1 - LEAVES_OUT) * offered


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
    c_coef, c_cov = fit.curve(quantity, constants=True) if likings is None else likings
    confirm = CONFIRM if likings is None else CONFIRM_DRAWN_IN
    degrees, centre = fit.degrees(), float(fit.centre[quantity])
    low, high = float(fit.low[quantity]) - centre, float(fit.high[quantity]) - centre
    least, most = float(fit.least[quantity]), float(fit.most[quantity])
    within = float(fit.within[quantity])
    moved = within >= MOVED_LEAST
    if not _known(coef, cov) or degrees < 1:
        every, endless = ((least, most),), float("inf")
        return CurveShape(
            TOO_EARLY, None, every, every, every, False, moved, TOO_EARLY, None, None, endless, "same_everywhere"
        )  # fmt: skip
    told = _known(c_coef, c_cov) and moved
    plain = lind_mehlum_test(coef, cov, low, high, degrees)
    constants = lind_mehlum_test(c_coef, c_cov, low, high, degrees) if told else None
    plain_set = _moved(fieller_peak(coef, cov, degrees), centre, least, most)
    places_set = _moved(fieller_peak(c_coef, c_cov, degrees), centre, least, most) if told else ()
    width = sum(b - a for a, b in places_set)
    by_places = told and (within >= SPEAKS_LEAST or width <= (1 - LEAVES_OUT) * (most - least))
    ratio, claim = _largest_ratio(coef, cov, low, high, degrees), CLAIM / compared
    alone = _shape(plain, plain, (coef, cov), (coef, cov), (low, high, degrees), claim=claim)
    shape = _shape(
        plain, constants, (coef, cov), (c_coef, c_cov), (low, high, degrees), claim=claim, confirm=confirm
    )
    peak = None
    if PEAKED in (shape, shape if moved else alone):
        b, q = c_coef if by_places and c_coef[1] < 0 else coef
        peak = float(np.clip(centre - b / (2 * q), least, most))
    elif shape == TOO_EARLY and ratio <= flat_within:
        shape = FLAT
    reason = _held_back(alone, moved, told) if shape == TOO_EARLY else ""
    return CurveShape(
        shape, peak, places_set if by_places else plain_set, plain_set, places_set, by_places, moved, alone,
        plain, constants, ratio, reason,
    )  # fmt: skip


def _held_back(alone: str, moved: bool, told: bool) -> str:
    """Why no shape is claimed: ``alone`` is what the plain fit would claim."""
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
    confirm: float = CONFIRM,
) -> str:
    """Peaked, rising or falling by both fits (coefficients and covariance of each); else too early."""
    if constants is None:
        return TOO_EARLY
    (coef, cov), (c_coef, c_cov), (low, high, degrees) = curve, confirming, span
    if plain.p_top <= claim and constants.p_top <= confirm:
        return PEAKED
    ends = np.array([high - low, high**2 - low**2])
    for word, sign in ((RISING, 1.0), (FALLING, -1.0)):
        surely = _t(sign * ends, coef, cov) >= t_quantile(1 - claim / 2, degrees)
        holds = _t(sign * ends, c_coef, c_cov) >= t_quantile(1 - CONFIRM_SLOPE, degrees)
        straight = sign * plain.slope_low >= 0 and sign * plain.slope_high >= 0
        if surely and holds and straight:
            return word
    return TOO_EARLY


def _t(weights: Floats, coef: Floats, cov: Floats) -> float:
    """A contrast over its standard error."""
    return float(weights @ coef / np.sqrt(max(float(weights @ cov @ weights), 1e-300)))


def _moved(spans: tuple[Span, ...], centre: float, least: float, most: float) -> tuple[Span, ...]:
    """Spans about the centre as values of the quantity, cut to what was offered."""
    return cut_to_offered(tuple((a + centre, b + centre) for a, b in spans), least, most)


def _largest_ratio(coef: Floats, cov: Floats, low: float, high: float, degrees: float) -> float:
    """The largest ratio of fitted choice between two values, at the end of its 90 % band."""
    x = np.linspace(low, high, 21)
    one, two = np.triu_indices(x.size, 1)
    pairs = np.column_stack([x[two] - x[one], x[two] ** 2 - x[one] ** 2])
    error = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", pairs, cov, pairs), 0.0))
    largest = float((np.abs(pairs @ coef) + t_quantile(0.95, degrees) * error).max())
    return float(np.exp(min(largest, 700.0)))
