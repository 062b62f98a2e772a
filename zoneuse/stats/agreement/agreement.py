"""How far two or more observers put the same moments into the same categories, beyond what luck would do."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_quantile

Codes = NDArray[np.int64]

# Agreement by chance this near to 1 leaves nothing to agree on; sums of shares reach 1 only nearly.
_CERTAIN = 1 - 1e-9
# Degrees of freedom where faults lie in one or two sessions only.
_FEWEST_TELLING = 2


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
    of single moments by linearisation (Fleiss, Cohen & Everitt 1969, Psychol. Bull. 72:323-327); of sessions by
    leaving out one at a time (Efron & Tibshirani 1993, An Introduction to the Bootstrap, chapter 11), with
    Student's t of sessions - 1. Limits are taken on log(1 - coefficient), so that none passes 1. Where all
    agree, the lower limit is exact for single moments, and that of a tenth of one session's moments (at least one)
    at fault for sessions (a house rule). ValueError for codes of different lengths.

    >>> found = agreement([0, 0, 0, 1, 1, 1, 1, 0], [0, 0, 0, 1, 1, 1, 0, 1])
    >>> found.agreement, found.kappa, found.ac1
    (0.75, 0.5, 0.5)
    """
    one, other, group = _paired(a, b, cluster)
    used = np.unique(np.concatenate([one, other]))
    size = max(used.size, categories or 0)
    clusters = 0 if group is None else int(group.max(initial=-1)) + 1
    if one.size == 0:
        return Agreement(0, clusters, size, *[float("nan")] * 14)
    one, other = np.searchsorted(used, one), np.searchsorted(used, other)
    table = _tables(one, other, None, used.size)[0]
    n = float(table.sum())
    of_all = _of_tables(table[None], size)
    if group is None:
        errors = _linearised(one, other, table / n, size)
    else:
        left = _of_tables(table - _tables(one, other, group, used.size), size)
        errors = [jackknife_error(v[0], w) for v, w in zip(of_all.values, left.values, strict=True)]
    groups = None if group is None else clusters
    telling = None if group is None else int(np.unique(group[one != other]).size)
    limits = [coefficient_limits(v[0], e, c[0], n, groups, confidence=confidence, telling=telling)
              for v, e, c in zip(of_all.values, errors, of_all.chances, strict=True)]  # fmt: skip
    agreed, kappa, ac1 = (float(v[0]) for v in of_all.values)
    first, second = table.sum(axis=1) / n, table.sum(axis=0) / n
    return Agreement(
        int(n), clusters, size, agreed, max(limits[0][0], 0.0), limits[0][1], float(first @ second),
        float((first + second).max() / 2), kappa, errors[1], _chance_error(first, second, n), *limits[1],
        ac1, errors[2], *limits[2],
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


def _tables(one: Codes, other: Codes, group: Codes | None, size: int) -> Floats:
    """Counts, clusters x categories x categories; one table without clusters."""
    where = np.zeros(one.size, np.int64) if group is None else group
    tables = np.zeros((int(where.max(initial=0)) + 1, size, size))
    np.add.at(tables, (where, one, other), 1.0)
    return tables


@dataclass(frozen=True, slots=True)
class _OfTables:
    """Share agreed, kappa and AC1 of each table, and the agreement by chance that each allows for."""

    values: tuple[Floats, Floats, Floats]
    chances: tuple[Floats, Floats, Floats]


def _of_tables(tables: Floats, size: int) -> _OfTables:
    with np.errstate(invalid="ignore", divide="ignore"):
        part = tables / tables.sum(axis=(1, 2), keepdims=True)
        agreed = np.trace(part, axis1=1, axis2=2)
        first, second = part.sum(axis=2), part.sum(axis=1)
        both = (first + second) / 2
        by_chance = (first * second).sum(axis=1)
        # AC1's chance: the moments that are hard, spread evenly over the categories.
        hard = (both * (1 - both)).sum(axis=1) / (size - 1) if size > 1 else np.ones(agreed.size)
        none = np.zeros(agreed.size)
        chances = none, by_chance, hard
        values = tuple(np.where(c < _CERTAIN, (agreed - c) / (1 - c), np.nan) for c in chances)
    return _OfTables((values[0], values[1], values[2]), chances)


def _linearised(one: Codes, other: Codes, part: Floats, size: int) -> list[float]:
    """Errors of share agreed, kappa and AC1 where every moment stands by itself."""
    first, second = part.sum(axis=1), part.sum(axis=0)
    both, spread = (first + second) / 2, 1 - (first + second)
    same, agreed = (one == other).astype(np.float64), float(np.trace(part))
    by_chance = float(first @ second)
    hard = float((both * (1 - both)).sum()) / (size - 1) if size > 1 else 1.0
    of_chance = second[one] + first[other] - 2 * by_chance
    of_hard = ((spread[one] + spread[other]) / 2 - float(spread @ both)) / max(size - 1, 1)
    errors = []
    for chance, each in ((0.0, np.zeros(one.size)), (by_chance, of_chance), (hard, of_hard)):
        if chance >= _CERTAIN:
            errors.append(float("nan"))
            continue
        adds = (same - agreed) / (1 - chance) - (1 - agreed) / (1 - chance) ** 2 * each
        errors.append(float(np.sqrt((adds**2).sum())) / one.size)
    return errors


def jackknife_error(value: float, left: Floats) -> float:
    """The error from the estimates without one cluster each; NaN where one cluster carries it alone."""
    if left.size < 2 or not np.isfinite(left).all():
        return float("nan")
    return float(np.sqrt((left.size - 1) / left.size * ((left - value) ** 2).sum()))


def coefficient_limits(
    value: float, error: float, chance: float, count: float, groups: int | None, *, confidence: float,
    telling: int | None = None,
) -> tuple[float, float]:  # fmt: skip
    """Limits on log(1 - value) for ``count`` moments in so many groups (None: each by itself).

    ``telling`` is the number of groups that hold a fault: only they say how faults vary from group to group, so
    Student's t has no more degrees of freedom than they are (at least two; a house rule, docs/methods/observers.md).
    NaN where nothing is known. Where there was no fault: the exact bound of ``count`` single moments; of
    sessions, as if a tenth of one session's moments, at least one, had been faults.
    """
    degrees = np.inf if groups is None else groups - 1
    if not np.isfinite(value) or degrees < 1:
        return float("nan"), float("nan")
    tail = (1 - confidence) / 2
    if value >= 1:
        if groups is None:
            return (tail ** (1 / count) - chance) / (1 - chance), float(value)
        # Faults in a single group have a jackknife error as large as they are.
        apart, error = max(1.0, count / groups / 10) / count / (1 - chance), 1.0
        return max(1 - apart * float(np.exp(min(t_quantile(1 - tail, degrees), 50.0))), -1.0), float(value)
    if not error > 1e-9:
        return float("nan"), float("nan")
    if telling is not None:
        degrees = min(degrees, max(telling, _FEWEST_TELLING))
    # Beyond exp(50) times further from 1 is below -1 in any case.
    reach = float(np.exp(min(t_quantile(1 - tail, degrees) * error / (1 - value), 50.0)))
    return max(1 - (1 - float(value)) * reach, -1.0), 1 - (1 - float(value)) / reach


def _chance_error(first: Floats, second: Floats, n: float) -> float:
    """Kappa's error where only chance agrees (Fleiss, Cohen & Everitt 1969)."""
    by_chance = float(first @ second)
    if by_chance >= _CERTAIN:
        return float("nan")
    inner = by_chance + by_chance**2 - float((first * second * (first + second)).sum())
    return float(np.sqrt(max(inner, 0.0) / n)) / (1 - by_chance)


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


def kappa_lost(table: ArrayLike) -> Floats:
    """What each confusion costs: how much higher kappa would be if those moments were agreed.

    ``table`` is a confusion table; the result has its shape, is symmetric and zero on the diagonal. Moments in
    which the two took i for j, either way round, are put half on i and half on j.

    >>> kappa_lost([[20, 5], [10, 15]]).round(3).tolist()
    [[0.0, 0.6], [0.6, 0.0]]
    """
    counts = np.asarray(table, np.float64)
    size = counts.shape[0]
    kappa = _of_tables(counts[None], size).values[1][0]
    lost = np.zeros(counts.shape)
    for i in range(size):
        for j in range(i):
            mended = counts.copy()
            mended[i, i] += (counts[i, j] + counts[j, i]) / 2
            mended[j, j] += (counts[i, j] + counts[j, i]) / 2
            mended[i, j] = mended[j, i] = 0.0
            lost[i, j] = lost[j, i] = _of_tables(mended[None], size).values[1][0] - kappa
    return lost


@dataclass(frozen=True, slots=True)
class CategoryAgreement:
    """For each category: moments either observer put there, those both did, and their agreement on it.

    ``agreement`` is twice the moments both put there over the sum of what each put there: the chance that
    one says so where the other does. NaN for a category nobody used.
    """

    examples: Codes
    both: Codes
    agreement: Floats
    low: Floats
    high: Floats


def category_agreement(
    a: ArrayLike,
    b: ArrayLike,
    categories: int,
    cluster: ArrayLike | None = None,
    *,
    confidence: float = 0.95,
    compared: int = 1,
) -> CategoryAgreement:
    """Agreement on each category by itself (Cicchetti & Feinstein 1990, J. Clin. Epidemiol. 43:551-558).

    Codes and clusters as for ``agreement`` (without clusters each moment stands by itself). Limits hold for
    ``compared`` categories at once (Bonferroni).

    >>> found = category_agreement([0, 0, 0, 1, 1, 1], [0, 0, 1, 1, 1, 0], 2)
    >>> found.examples, found.both, found.agreement.round(3)
    (array([4, 4]), array([2, 2]), array([0.667, 0.667]))
    """
    one, other, group = _paired(a, b, cluster)
    if max(one.max(initial=-1), other.max(initial=-1)) >= categories:
        raise ValueError(f"codes: expected 0 to {categories - 1}")
    where = np.arange(one.size) if group is None else group
    tables = _tables(one, other, where, categories)
    whole = tables.sum(axis=0)
    either = whole.sum(axis=1) + whole.sum(axis=0)
    of_all, left = _specific(whole[None])[0], _specific(whole - tables)
    asked = 1 - (1 - confidence) / max(compared, 1)
    examples = either - np.diag(whole)
    groups = (tables.sum(axis=1) + tables.sum(axis=2) > 0).sum(axis=0)
    limits = [
        (0.0, 1 - ((1 - asked) / 2) ** (1 / groups[k]))
        if of_all[k] == 0 and groups[k] > 1
        else coefficient_limits(
            of_all[k],
            jackknife_error(of_all[k], left[:, k]),
            0.0,
            examples[k],
            int(groups[k]),
            confidence=asked,
        )
        for k in range(categories)
    ]
    return CategoryAgreement(
        examples=np.asarray(examples, np.int64),
        both=np.asarray(np.diag(whole), np.int64),
        agreement=of_all,
        low=np.maximum([low for low, _ in limits], 0.0),
        high=np.array([high for _, high in limits], np.float64),
    )


def _specific(tables: Floats) -> Floats:
    """Tables x categories: twice the agreed over the sum of both observers'."""
    with np.errstate(invalid="ignore", divide="ignore"):
        both = np.diagonal(tables, axis1=1, axis2=2)
        return np.asarray(2 * both / (tables.sum(axis=1) + tables.sum(axis=2)), np.float64)
