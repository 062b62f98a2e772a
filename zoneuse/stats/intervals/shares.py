"""Shares of use with intervals: from independent records, and from units whose members repeat each other."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..special import special
from .quantiles import normal_quantile, t_two_sided


def wilson(
    count: ArrayLike, looks: ArrayLike, confidence: float = 0.95, compared: int = 1
) -> tuple[Floats, Floats]:
    """Wilson's score interval for a share (Wilson 1927; Newcombe 1998, Stat. Med. 17:857, method 3).

    With ``compared`` zones and the limits of all wanted to hold at once it equals Goodman's (1965)
    interval for that many classes. Limits are 0..1 where there are no looks.

    >>> [round(float(limit), 4) for limit in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    z = normal_quantile(1 - (1 - confidence) / (2 * compared))
    return score_interval(np.asarray(count, np.float64) / np.maximum(looks, 1e-300), looks, z)


def score_interval(share: ArrayLike, looks: ArrayLike, quantile: float) -> tuple[Floats, Floats]:
    """The score interval of a share from ``looks`` independent looks (need not be whole), any quantile.

    >>> [round(float(limit), 4) for limit in score_interval(0.0, 20, 1.959964)]
    [0.0, 0.1611]
    """
    p, n = np.broadcast_arrays(np.asarray(share, np.float64), np.asarray(looks, np.float64))
    if not np.isfinite(quantile):
        return np.zeros(p.shape), np.ones(p.shape)
    q2 = quantile**2
    middle = (n * p + q2 / 2) / (n + q2)
    half = quantile * np.sqrt(n * p * (1 - p) + q2 / 4) / (n + q2)
    # At 0 and 1 the limit is exact; the subtraction would leave a rounding error below zero.
    low = np.where(p <= 0, 0.0, np.clip(middle - half, 0.0, 1.0))
    high = np.where(p >= 1, 1.0, np.clip(middle + half, 0.0, 1.0))
    return low, high


def exact_binomial(count: ArrayLike, looks: ArrayLike, confidence: float = 0.95) -> tuple[Floats, Floats]:
    """The interval of Clopper & Pearson (1934, Biometrika 26:404), never too short and often too long.

    >>> [round(float(limit), 4) for limit in exact_binomial(81, 263)]
    [0.2527, 0.3676]
    """
    x, n = np.broadcast_arrays(np.asarray(count, np.float64), np.asarray(looks, np.float64))
    tail = (1 - confidence) / 2
    low = np.where(x > 0, special.betaincinv(np.maximum(x, 1e-12), n - x + 1, tail), 0.0)
    high = np.where(x < n, special.betaincinv(x + 1, np.maximum(n - x, 1e-12), 1 - tail), 1.0)
    return np.asarray(low, np.float64), np.asarray(high, np.float64)


@dataclass(frozen=True, slots=True)
class CountsAgainstOffer:
    """Counts of independent records in zones against what is offered; one entry for each zone."""

    expected: Floats
    used: Floats
    low: Floats
    high: Floats
    ratio: Floats
    ratio_se: Floats
    ratio_low: Floats
    ratio_high: Floats
    chi_square: float
    degrees: int
    p: float


def counts_against_offer(
    counts: ArrayLike, availability: ArrayLike, confidence: float = 0.95, interval: str = "wald"
) -> CountsAgainstOffer:
    """Use against availability as if every record stood by itself (Neu, Byers & Peek 1974, JWM 38:541).

    Expected counts, Pearson's chi-square, Bonferroni intervals of the shares (``interval`` "wald" as
    published, or "wilson") and Manly's selection ratios with their standard errors (design I, availability
    known). Right for animals each seen once; wrong for scans of one animal, which repeat each other.

    >>> found = counts_against_offer([25, 22, 30, 40], [0.34, 0.101, 0.104, 0.455], confidence=0.90)
    >>> round(found.chi_square, 6), found.degrees
    (43.689266, 3)
    >>> found.low.round(6)
    array([0.128737, 0.107066, 0.165928, 0.243589])
    """
    seen = np.asarray(counts, np.float64)
    offer = np.asarray(availability, np.float64)
    if seen.shape != offer.shape or seen.ndim != 1 or seen.size < 2:
        raise ValueError("counts and available: expected one number for each of at least two zones")
    if (seen < 0).any() or (offer <= 0).any() or seen.sum() <= 0:
        raise ValueError("counts: expected zero and more with some seen; available: more than zero")
    offer = offer / offer.sum()
    total = float(seen.sum())
    used, expected = seen / total, total * offer
    if interval == "wilson":
        low, high = wilson(seen, total, confidence, compared=seen.size)
    elif interval == "wald":
        half = t_two_sided(confidence, float("inf"), seen.size) * np.sqrt(used * (1 - used) / total)
        low, high = np.maximum(used - half, 0.0), np.minimum(used + half, 1.0)
    else:
        raise ValueError(f"interval: expected 'wald' or 'wilson', found {interval!r}")
    chi_square = float(((seen - expected) ** 2 / expected).sum())
    return CountsAgainstOffer(
        expected=expected,
        used=used,
        low=low,
        high=high,
        ratio=used / offer,
        ratio_se=np.sqrt(used * (1 - used) / total) / offer,
        ratio_low=low / offer,
        ratio_high=high / offer,
        chi_square=chi_square,
        degrees=seen.size - 1,
        p=float(special.chdtrc(seen.size - 1, chi_square)),
    )


@dataclass(frozen=True, slots=True)
class MeanShares:
    """Mean share of each zone over independent units, with limits.

    ``looks`` is the number of independent single looks the units are worth, pooled over zones;
    ``degrees`` the degrees of freedom of the quantile behind the limits.
    """

    mean: Floats
    low: Floats
    high: Floats
    looks: float
    degrees: float
    units: int


def mean_shares(
    shares: ArrayLike,
    confidence: float = 0.95,
    *,
    compared: int | None = None,
    most_looks: float | None = None,
) -> MeanShares:
    """Mean share over units (sessions or days; rows) of each zone (columns), with limits that hold at once.

    The limits are set on the logit with an effective number of looks pooled over zones: the sum of m(1-m)
    over the sum of s2/G, m the mean and s the standard deviation over the G units. Animals stay put, so a
    unit of twenty scans is worth few looks; pooling keeps that number steady where one zone is rare.
    ``compared`` is the number of limits to hold at once (default: the number of zones; 1: each by itself);
    ``most_looks`` the number of moments seen, which bounds the looks.

    >>> found = mean_shares([[0.5, 0.5], [0.7, 0.3], [0.2, 0.8], [0.6, 0.4]], compared=1)
    >>> found.mean, round(found.looks, 1)
    (array([0.5, 0.5]), 21.4)
    """
    each = np.asarray(shares, np.float64)
    if each.ndim != 2 or not each.size:
        raise ValueError("shares: expected units x zones with at least one unit")
    if not np.isfinite(each).all() or (each < 0).any() or (each > 1).any():
        raise ValueError("shares: expected numbers from 0 to 1; leave out units in which nothing was seen")
    units, zones = each.shape
    mean = each.mean(axis=0)
    variance = each.var(axis=0, ddof=1) / units if units > 1 else np.full(zones, np.inf)
    looks = pooled_looks(mean, variance, units, most_looks)
    low, high = looks_interval(mean, looks, units - 1, confidence, zones if compared is None else compared)
    return MeanShares(mean, low, high, looks, units - 1, units)


def pooled_looks(
    mean: Floats, variance_of_mean: Floats, units: float, most_looks: float | None = None
) -> float:
    """The number of independent looks that would give variances as large as those of the means.

    ``units`` stands in where nothing varies (always one zone: each unit counts as one look);
    ``most_looks`` bounds it from above.

    >>> round(pooled_looks(np.array([0.5, 0.5]), np.array([0.01, 0.01]), 8), 6)
    25.0
    """
    if units < 2:
        return float(units)
    spread = float(variance_of_mean.sum())
    inside = float((mean * (1 - mean)).sum())
    looks = inside / spread if spread > 0 and inside > 0 else float(units)
    return min(looks, most_looks) if most_looks is not None else looks


def looks_interval(
    mean: Floats, looks: ArrayLike, degrees: float, confidence: float, compared: int = 1
) -> tuple[Floats, Floats]:
    """Logit-t limits of shares from an effective number of looks; an exact bound at 0 and at 1.

    A zone never used has the upper limit 1 - tail^(1/n0): n0 looks without a visit, n0 being the looks
    deflated by (z/t)^2 for their own uncertainty.

    >>> low, high = looks_interval(np.array([0.0, 0.4]), 20.0, 1e9, 0.95)
    >>> high.round(4)  # 1 - .025^(1/20), and 0.4 on the logit
    array([0.1684, 0.6199])
    """
    m, n = np.broadcast_arrays(np.asarray(mean, np.float64), np.asarray(looks, np.float64))
    t = t_two_sided(confidence, degrees, compared)
    if not np.isfinite(t):
        return np.zeros(m.shape), np.ones(m.shape)
    z = t_two_sided(confidence, float("inf"), compared)
    bound = -np.expm1(np.log((1 - confidence) / (2 * compared)) / np.maximum(n * (z / t) ** 2, 1e-12))
    inner = np.clip(m, 1e-12, 1 - 1e-12)
    half = t / np.sqrt(np.maximum(n, 1e-12) * inner * (1 - inner))
    middle = special.logit(inner)
    low = np.where(m <= 0, 0.0, np.where(m >= 1, 1 - bound, special.expit(middle - half)))
    high = np.where(m >= 1, 1.0, np.where(m <= 0, bound, special.expit(middle + half)))
    return np.asarray(low, np.float64), np.asarray(high, np.float64)
