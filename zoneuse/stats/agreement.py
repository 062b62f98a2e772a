"""How far two or more observers put the same moments into the same categories, beyond what luck would do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .quantiles import normal_quantile, t_quantile

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]

MISSING = -1


@dataclass(frozen=True, slots=True)
class Agreement:
    """Agreement of two observers over ``n`` moments in ``clusters`` sessions (0: moments taken as independent).

    ``agreement`` is the share of moments on which they agree, ``expected`` what chance agreement would give by
    the margins (Cohen 1960), ``common`` the share the commonest category has over both. ``kappa_se0`` is
    kappa's error if there were only chance agreement. What cannot be known is NaN: kappa and AC1 where all is
    one category, limits where there is only one session.
    """

    n: int
    clusters: int
    categories: int
    agreement: float
    agreement_low: float
    agreement_high: float
    expected: float
    common: float
    kappa: float
    kappa_se: float
    kappa_se0: float
    kappa_low: float
    kappa_high: float
    ac1: float
    ac1_se: float
    ac1_low: float
    ac1_high: float


def agreement(
    a: ArrayLike,
    b: ArrayLike,
    cluster: ArrayLike | None = None,
    *,
    categories: int | None = None,
    confidence: float = 0.95,
) -> Agreement:
    """Share agreed, Cohen's kappa and Gwet's AC1 of two observers, with limits.

    ``a`` and ``b`` are the two observers' codes of the same moments (whole numbers from 0; a negative code is
    missing, and that moment is left out); ``cluster`` numbers the session of each moment. ``categories`` is how
    many there are to choose from (for AC1; default: as many as either used).

    Kappa: Cohen 1960, Educ. Psychol. Meas. 20:37-46. AC1: Gwet 2008, Br. J. Math. Stat. Psychol. 61:29-48. Errors
    by linearisation: for single moments this is Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323-327;
    moments of one session are summed first (Yang & Zhou 2014, Stat. Med. 33:2612-2633, for kappa), with
    Student's t of sessions - 1. Limits are taken on log(1 - coefficient), so that none passes 1; where all
    moments agree the lower one is the share of agreement that would be seen without a fault in so many
    looks in 1 of 40 tries (looks: the sessions where given). ValueError for codes of different lengths.

    >>> found = agreement([0, 0, 0, 1, 1, 1, 1, 0], [0, 0, 0, 1, 1, 1, 0, 1])
    >>> found.agreement, found.kappa, found.ac1
    (0.75, 0.5, 0.5)
    """
    one, other, group = _paired(a, b, cluster)
    n = one.size
    used = int(max(one.max(initial=-1), other.max(initial=-1))) + 1
    present = np.unique(np.concatenate([one, other])).size
    size = present if categories is None else max(categories, present)
    clusters = 0 if group is None else int(np.unique(group).size)
    if n == 0:
        nan = float("nan")
        return Agreement(0, clusters, size, *[nan] * 14)
    first, second = (np.bincount(codes, minlength=used) / n for codes in (one, other))
    same = (one == other).astype(np.float64)
    agreed = float(same.mean())
    by_chance = float(first @ second)
    both = (first + second) / 2
    # Linearised: what each moment adds to the estimates' error.
    of_chance = second[one] + first[other] - 2 * by_chance
    spread = 1 - 2 * both
    # AC1's chance is the share of moments that are hard, spread evenly over the categories.
    by_chance_1 = float((both * (1 - both)).sum() / (size - 1)) if size > 1 else 1.0
    of_chance_1 = ((spread[one] + spread[other]) / 2 - float(spread @ both)) / max(size - 1, 1)
    kappa = _coefficient(agreed, by_chance, same, of_chance, group, confidence)
    ac1 = _coefficient(agreed, by_chance_1, same, of_chance_1, group, confidence)
    plain = _coefficient(agreed, 0.0, same, np.zeros(n), group, confidence)
    return Agreement(
        n, clusters, size, agreed, max(plain.low, 0.0), plain.high, by_chance, float(both.max()),
        kappa.value, kappa.error, _chance_error(first, second, n), kappa.low, kappa.high,
        ac1.value, ac1.error, ac1.low, ac1.high,
    )  # fmt: skip


def _paired(a: ArrayLike, b: ArrayLike, cluster: ArrayLike | None) -> tuple[Codes, Codes, Codes | None]:
    one, other = (np.asarray(codes).astype(np.int64, casting="unsafe").ravel() for codes in (a, b))
    group = None if cluster is None else np.asarray(cluster).ravel()
    if one.size != other.size or (group is not None and group.size != one.size):
        raise ValueError("a, b, cluster: expected one code of each for every moment")
    known = (one >= 0) & (other >= 0)
    if group is None:
        return one[known], other[known], None
    return one[known], other[known], np.unique(group[known], return_inverse=True)[1].astype(np.int64)


@dataclass(frozen=True, slots=True)
class _Coefficient:
    value: float
    error: float
    low: float
    high: float


def _coefficient(
    agreed: float, by_chance: float, same: Floats, of_chance: Floats, group: Codes | None, confidence: float
) -> _Coefficient:
    """(agreed - chance) / (1 - chance) with its error and limits."""
    nan = float("nan")
    if by_chance >= 1:
        return _Coefficient(nan, nan, nan, nan)
    value = (agreed - by_chance) / (1 - by_chance)
    each = (same - agreed) / (1 - by_chance) - (1 - agreed) / (1 - by_chance) ** 2 * of_chance
    n = each.size
    if group is None:
        error, quantile, looks = float(np.sqrt((each**2).sum())) / n, normal_quantile((1 + confidence) / 2), n
    else:
        sums = np.bincount(group, weights=each)
        looks = sums.size
        if looks < 2:
            return _Coefficient(value, nan, nan, nan)
        error = float(np.sqrt(looks / (looks - 1) * (sums**2).sum())) / n
        quantile = t_quantile((1 + confidence) / 2, looks - 1)
    apart = 1 - value
    if agreed >= 1:
        fewest = ((1 - confidence) / 2) ** (1 / looks)
        return _Coefficient(value, error, (fewest - by_chance) / (1 - by_chance), value)
    if error == 0:
        return _Coefficient(value, error, value, value)
    reach = np.exp(quantile * error / apart)
    return _Coefficient(value, error, max(1 - apart * float(reach), -1.0), 1 - apart / float(reach))


def _chance_error(first: Floats, second: Floats, n: int) -> float:
    """Kappa's error where only chance agrees (Fleiss, Cohen & Everitt 1969)."""
    by_chance = float(first @ second)
    if by_chance >= 1:
        return float("nan")
    inner = by_chance + by_chance**2 - float((first * second * (first + second)).sum())
    return float(np.sqrt(inner / n)) / (1 - by_chance)


def confusion(a: ArrayLike, b: ArrayLike, categories: int) -> NDArray[np.int64]:
    """How often the first observer said i where the second said j: categories x categories.

    Moments with a negative code of either are left out. ValueError for a code outside the categories.

    >>> confusion([0, 0, 1, 1, -1], [0, 1, 1, 1, 0], 2).tolist()
    [[1, 1], [0, 2]]
    """
    one, other, _ = _paired(a, b, None)
    if max(one.max(initial=-1), other.max(initial=-1)) >= categories:
        raise ValueError(f"codes: expected 0 to {categories - 1}")
    table = np.zeros((categories, categories), np.int64)
    np.add.at(table, (one, other), 1)
    return table


@dataclass(frozen=True, slots=True)
class Several:
    """Agreement of several observers, some of whom missed some moments.

    ``n`` moments with at least two codes; ``agreement`` is the share of pairs of codes of one moment that
    agree; ``alpha`` is Krippendorff's for names, with limits; ``kappa`` is Fleiss's, ``ac1`` Gwet's.
    """

    n: int
    agreement: float
    alpha: float
    alpha_low: float
    alpha_high: float
    kappa: float
    ac1: float


def agreement_of_several(
    codes: ArrayLike,
    cluster: ArrayLike | None = None,
    *,
    categories: int | None = None,
    confidence: float = 0.95,
) -> Several:
    """Krippendorff's alpha, Fleiss's kappa and Gwet's AC1 for ``codes`` (observers x moments; negative: missing).

    Krippendorff 2011, Computing Krippendorff's Alpha-Reliability; Fleiss 1971, Psychol. Bull. 76:378-382, and Gwet
    2008, both with gaps as Gwet gives them. Limits of alpha by leaving out one session (one moment without
    ``cluster``) at a time, on log(1 - alpha); NaN where there are fewer than two, or where all agree.

    >>> found = agreement_of_several([[0, 1, 1, -1], [0, 1, 0, 1], [0, 1, 1, 1]])
    >>> found.n, round(found.agreement, 3), round(found.alpha, 3)
    (4, 0.833, 0.643)
    """
    given = np.asarray(codes).astype(np.int64, casting="unsafe")
    if given.ndim != 2:
        raise ValueError("codes: expected observers x moments")
    group = np.arange(given.shape[1]) if cluster is None else np.asarray(cluster).ravel()
    if group.size != given.shape[1]:
        raise ValueError("cluster: expected one number for every moment")
    present = np.unique(given[given >= 0])
    size = max(present.size, categories or 0)
    times = np.array([(given == k).sum(axis=0) for k in present], np.float64).reshape(present.size, -1)
    rated = times.sum(axis=0)
    paired = rated >= 2
    if not paired.any():
        nan = float("nan")
        return Several(0, nan, nan, nan, nan, nan, nan)
    inner = (times * (times - 1)).sum(axis=0)[paired] / (rated * (rated - 1))[paired]
    agreed = float(inner.mean())
    shares = (times[:, rated > 0] / rated[rated > 0]).mean(axis=1)
    hard = float((shares * (1 - shares)).sum()) / (size - 1) if size > 1 else 1.0
    alpha = _alpha(given)
    low, high = _alpha_limits(given, group, alpha, confidence)
    return Several(
        int(paired.sum()), agreed, alpha, low, high,
        _beyond(agreed, float((shares**2).sum())), _beyond(agreed, hard),
    )  # fmt: skip


def _beyond(agreed: float, by_chance: float) -> float:
    return (agreed - by_chance) / (1 - by_chance) if by_chance < 1 else float("nan")


def _alpha(codes: Codes) -> float:
    """Krippendorff's alpha for names; NaN where fewer than two categories or no pairs are left."""
    import krippendorff

    paired = codes[:, (codes >= 0).sum(axis=0) >= 2]
    if np.unique(paired[paired >= 0]).size < 2:
        return float("nan")
    known = np.where(paired >= 0, paired, np.nan)
    return float(krippendorff.alpha(reliability_data=known, level_of_measurement="nominal"))


def _alpha_limits(
    codes: Codes, group: NDArray[np.int64], alpha: float, confidence: float
) -> tuple[float, float]:
    names = np.unique(group)
    nan = float("nan"), float("nan")
    if names.size < 2 or not alpha < 1:
        return nan
    left = np.array([_alpha(codes[:, group != name]) for name in names])
    left = np.log(1 - left[np.isfinite(left) & (left < 1)])
    if left.size < 2:
        return nan
    error = float(np.sqrt((left.size - 1) / left.size * ((left - left.mean()) ** 2).sum()))
    reach = float(np.exp(t_quantile((1 + confidence) / 2, left.size - 1) * error))
    return max(1 - (1 - alpha) * reach, -1.0), 1 - (1 - alpha) / reach
