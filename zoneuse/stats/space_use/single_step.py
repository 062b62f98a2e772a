"""Several zones tested at once against redrawn shares: the single-step minimum-p method.

Westfall P.H. & Young S.S. 1993, Resampling-Based Multiple Testing, section 2.3. The chance that any of
the zones stands out by luck, whichever it may be, is held; and the cut-offs become limits that agree with it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Floats
from ..special import special

# With fewer draws than this for each zone and tail within the level, counting draws cannot tell zones apart.
_RESOLVED = 4.0
# Halvings by which a share of a given tail is found: to 1e-12.
_HALVINGS = 40
# Shares nearer than this are the same share; sums of weights in another order differ in the last bits.
SAME = 1e-9


@dataclass(frozen=True, slots=True)
class SingleStep:
    """Adjusted two-sided p of each zone, and the shares below and above which it stands out.

    ``reach``: how many standard errors a normal share of that level lies out, for ends that no share could reach.
    """

    p: Floats
    below: Floats
    above: Floats
    sd: Floats
    reach: float


def single_step(null: Floats, used: Floats, alpha: float = 0.05) -> SingleStep:
    """Compare ``used`` (zones) with draws under no preference (``null``, draws x zones).

    p = (b + 1)/(draws + 1) (Phipson & Smyth 2010, Stat. Appl. Genet. Mol. Biol. 9:39). ``used < below`` or
    ``used > above`` holds exactly where p <= alpha. ``below`` is -inf and ``above`` inf where nothing
    could stand out.

    >>> null = np.random.default_rng(1).normal(size=(999, 3))
    >>> found = single_step(null, np.array([0.0, 4.0, -0.5]))
    >>> (found.p <= 0.05).tolist(), bool(4.0 > found.above[1])
    ([False, True, False], True)
    """
    draws, zones = null.shape
    if alpha * (draws + 1) < _RESOLVED * zones:
        return _by_looks(null, used, alpha)
    ordered = np.sort(null, axis=0)
    own = np.empty((draws, zones))
    for z in range(zones):
        at_most = np.searchsorted(ordered[:, z], null[:, z] + SAME, side="right")
        at_least = draws - np.searchsorted(ordered[:, z], null[:, z] - SAME, side="left")
        own[:, z] = np.minimum(at_most, at_least)
    least = np.sort(own.min(axis=1))  # counts of draws at least as extreme, itself among them
    p, below, above = np.empty(zones), np.empty(zones), np.empty(zones)
    # The largest count for a p of at most alpha: as many draws as that are more extreme, plus one.
    room = int(np.floor(alpha * (draws + 1))) - 1
    most = int(least[room]) - 1 if 0 <= room < draws else -1
    for z in range(zones):
        low = int(np.searchsorted(ordered[:, z], used[z] + SAME, side="right")) + 1
        high = draws - int(np.searchsorted(ordered[:, z], used[z] - SAME, side="left")) + 1
        p[z] = (np.searchsorted(least, min(low, high), side="right") + 1) / (draws + 1)
        # A count of k + 1 <= most needs at most most - 1 draws at or beyond it.
        below[z] = ordered[most - 1, z] - SAME if most >= 1 else -np.inf
        above[z] = ordered[draws - most, z] + SAME if most >= 1 else np.inf
    reach = float(-special.ndtri(most / (draws + 1))) if most >= 1 else float("inf")
    return SingleStep(np.minimum(p, 1.0), below, above, np.asarray(null.std(axis=0), np.float64), reach)


def _by_looks(null: Floats, used: Floats, alpha: float) -> SingleStep:
    """The same for so many zones that a draw is the most extreme of its zone too often to be counted.

    How far out a share lies is its deviance as of a binomial of as many looks as give the redrawn spread, half a look
    nearer (signed root; McCullagh & Nelder 1989, section 2.4). The largest over zones is held against the draws'
    own, so that only the shape is taken from it.
    """
    draws = null.shape[0]
    mean, sd = null.mean(axis=0), null.std(axis=0)
    moved = (sd > 0) & (mean > 0) & (mean < 1)
    a = np.where(moved, mean, 0.5)
    looks = np.where(moved, a * (1 - a) / np.where(moved, sd, 1.0) ** 2, 1.0)
    largest = np.sort(np.where(moved, _deviance(null, looks, a), 0.0).max(axis=1))[::-1]
    own = np.where(moved, _deviance(used, looks, a), 0.0) * (1 - SAME)
    p = (1.0 + np.searchsorted(-largest, -own, side="right")) / (draws + 1)
    room = int(np.floor(alpha * (draws + 1))) - 1
    # Equal shares must not part by rounding.
    level = float(largest[room]) * (1 + 1e-7) if 0 <= room < draws else np.inf
    # Where not even no use at all (or nothing but this) would stand out, limits still reach as far as that level does.
    reach = float(np.sqrt(level))
    low_end, high_end = (_deviance(np.full(a.size, end), looks, a) for end in (0.0, 1.0))
    below = np.where(
        low_end > level, _share_at(level, looks, a, 0.0), mean - np.maximum(reach * sd, mean + SAME)
    )
    above = np.where(
        high_end > level, _share_at(level, looks, a, 1.0), mean + np.maximum(reach * sd, 1 - mean + SAME)
    )
    return SingleStep(
        np.minimum(p, 1.0),
        np.where(moved, below, -np.inf),
        np.where(moved, above, np.inf),
        np.asarray(sd, np.float64),
        reach,
    )


def _deviance(share: Floats, looks: Floats, a: Floats) -> Floats:
    """Twice the log likelihood by which so many looks speak against the share ``a``; half a look nearer to it."""
    s = np.clip(share, 0.0, 1.0)
    s = np.where(s < a, np.minimum(s + 0.5 / looks, a), np.maximum(s - 0.5 / looks, a))
    found = 2 * looks * (special.xlogy(s, s / a) + special.xlogy(1 - s, (1 - s) / (1 - a)))
    return np.asarray(np.maximum(found, 0.0), np.float64)


def _share_at(level: float, looks: Floats, a: Floats, end: float) -> Floats:
    """The share between what is offered and ``end`` (0 or 1) at which the deviance is ``level``."""
    near, far = a.copy(), np.full(a.size, end)
    for _ in range(_HALVINGS):
        middle = (near + far) / 2
        out = _deviance(middle, looks, a) > level
        near, far = np.where(out, near, middle), np.where(out, middle, far)
    return np.asarray((near + far) / 2, np.float64)


def limits_of_test(test: SingleStep, share: Floats, availability: Floats) -> tuple[Floats, Floats]:
    """Shares that the test would not have called: Wilson's interval with the test's own quantiles.

    Wilson's limits hold a share theta where |m - theta| <= q sqrt(theta(1 - theta)/n). With n such that the
    error at the offered share is the redrawn one, and q the cut-off there, the upper limit lies below the
    offered share exactly where the test calls the zone avoided; likewise the lower one.
    """
    m, a, sd = share, availability, test.sd
    with np.errstate(divide="ignore", invalid="ignore"):
        n = a * (1 - a) / sd**2
        down = np.where(np.isfinite(test.below), (a - np.maximum(test.below, -1e6)) / sd, np.inf)
        up = np.where(np.isfinite(test.above), (test.above - a) / sd, np.inf)
        # Where not even a share of 0 (or 1) would be called, the limit must reach what is offered; and as such a share
        # is no quantile, only an end, beyond that as far as the level does: a zone hardly offered and never seen used
        # may be used many times its share.
        down = np.maximum(down, np.where(test.below <= 0, np.maximum(a / sd * (1 + 1e-6), test.reach), 0.0))
        up = np.maximum(up, np.where(test.above >= 1, np.maximum((1 - a) / sd * (1 + 1e-6), test.reach), 0.0))
    low, high = np.zeros(m.size), np.ones(m.size)
    usable = (sd > 0) & np.isfinite(n)
    for z in np.flatnonzero(usable):
        low[z] = _wilson_end(m[z], n[z], up[z], -1)
        high[z] = _wilson_end(m[z], n[z], down[z], 1)
    return low, high


def _wilson_end(m: float, n: float, q: float, side: int) -> float:
    """One end of Wilson's interval for a share from n looks with quantile q."""
    if not np.isfinite(q):
        return 0.0 if side < 0 else 1.0
    square = q * q
    half = q * np.sqrt(n * m * (1 - m) + square / 4)
    return float(np.clip((n * m + square / 2 + side * half) / (n + square), 0.0, 1.0))
