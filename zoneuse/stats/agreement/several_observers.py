"""How far three or more observers, some of whom missed some moments, put them into the same categories."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from .agreement import coefficient_limits, jackknife_error

Codes = NDArray[np.int64]


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
    return (agreed - by_chance) / (1 - by_chance) if by_chance < 1 - 1e-9 else float("nan")


def _alpha(codes: Codes) -> float:
    """Krippendorff's alpha for names; NaN where fewer than two categories or no pairs are left."""
    paired = codes[:, (codes >= 0).sum(axis=0) >= 2]
    if np.unique(paired[paired >= 0]).size < 2:
        return float("nan")
    return float(_alpha_of(_coincidences(paired, np.zeros(paired.shape[1], np.int64), 1))[0])


def _alpha_limits(
    codes: Codes, group: NDArray[np.int64], alpha: float, confidence: float
) -> tuple[float, float]:
    names, place = np.unique(group, return_inverse=True)
    if names.size < 2 or not alpha < 1:
        return float("nan"), float("nan")
    each = _coincidences(codes, place.astype(np.int64), names.size)
    left = _alpha_of(each.sum(axis=0) - each)
    return coefficient_limits(
        alpha, jackknife_error(alpha, left), 0.0, codes.shape[1], names.size, confidence=confidence
    )


def _coincidences(codes: Codes, group: Codes, groups: int) -> Floats:
    """Pairs of codes of one moment, each moment weighing as its codes: groups x categories x categories."""
    present = np.unique(codes[codes >= 0])
    counts = np.stack([(codes == k).sum(axis=0) for k in present], axis=1).astype(np.float64)
    total = counts.sum(axis=1)
    pairs = counts[:, :, None] * counts[:, None, :]
    pairs -= counts[:, :, None] * np.eye(present.size)
    pairs = np.where(total[:, None, None] >= 2, pairs / np.maximum(total - 1, 1)[:, None, None], 0.0)
    table = np.zeros((groups, present.size, present.size))
    np.add.at(table, group, pairs)
    return table


def _alpha_of(tables: Floats) -> Floats:
    """Krippendorff's alpha for names of each table of coincidences."""
    margin = tables.sum(axis=2)
    total = margin.sum(axis=1)
    differing = total - np.trace(tables, axis1=1, axis2=2)
    by_chance = total**2 - (margin**2).sum(axis=1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(
            np.where(by_chance > 0, 1 - (total - 1) * differing / by_chance, np.nan), np.float64
        )
