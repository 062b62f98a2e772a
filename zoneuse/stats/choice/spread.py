"""The spread of participation index over units, with limits from leaving each unit out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..intervals.quantiles import t_quantile
from ..space_use.electivity import spread_of_participation
from ..special import special


@dataclass(frozen=True, slots=True)
class Spread:
    """Modified spread of participation index with limits; ``raw`` before the correction of its bias."""

    index: float
    low: float
    high: float
    raw: float


def spread_interval(shares: ArrayLike, offers: ArrayLike, confidence: float = 0.95) -> Spread:
    """The index of the mean shares (``shares`` and ``offers`` are units x zones).

    Sums of absolute differences come out too large when there are few units, more so the nearer the truth
    is to zero: the jackknife over units corrects for that and gives the limits, on the logit so that they
    stay inside 0..1 (Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 11).

    >>> found = spread_interval(np.tile([0.2, 0.3, 0.5], (8, 1)), np.tile([0.5, 0.3, 0.2], (8, 1)))
    >>> round(found.index, 3), round(found.raw, 3)
    (0.375, 0.375)
    """
    each, offer = np.asarray(shares, np.float64), np.asarray(offers, np.float64)
    if each.ndim != 2 or each.shape != offer.shape or each.shape[0] < 1:
        raise ValueError("shares, offers: expected both as units x zones")
    size = each.shape[0]
    raw = float(spread_of_participation(each.mean(axis=0), offer.mean(axis=0)))
    if size < 3:
        return Spread(raw, 0.0, 1.0, raw)
    without = (each.sum(axis=0) - each) / (size - 1)
    offered = (offer.sum(axis=0) - offer) / (size - 1)
    left = np.asarray(spread_of_participation(without, offered))
    index = float(np.clip(size * raw - (size - 1) * left.mean(), 0.0, 1.0))
    error = float(np.sqrt((size - 1) / size * ((left - left.mean()) ** 2).sum()))
    inner = float(np.clip(index, 0.01, 0.99))
    half = t_quantile(0.5 + confidence / 2, size - 1) * error / (inner * (1 - inner))
    middle = float(special.logit(inner))
    low, high = float(special.expit(middle - half)), float(special.expit(middle + half))
    return Spread(index, min(low, index), max(high, index), raw)
