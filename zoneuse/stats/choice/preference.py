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

from ..arrays import Floats
from .choice import ChoiceFit, fit_choice
from .flexible import hotelling_p

# How far successive clusters repeat each other is rounded up by so many of its standard errors (house rule).
SERIAL_ERRORS = 0.5


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

    def p_any(self, quantity: int) -> float:
        """Chance of a parabola (slope and bend together, plain fit) as clear by luck: Hotelling's T2 by clusters; 1
        where it cannot be told."""
        b, v = self.curve(quantity)
        if not (np.isfinite(b).all() and np.isfinite(v).all()):
            return 1.0
        try:
            t2 = float(b @ np.linalg.solve(v, b))
        except np.linalg.LinAlgError:
            return 1.0
        return hotelling_p(max(t2, 0.0), b.size, self.plain.clusters)

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
    if size < 4 or not spread.size or not np.isfinite(pull).all() or not (spread > 0).all():
        return 1.0
    r = float(((pull[1:] * pull[:-1]).sum(axis=0) / spread).mean()) + 1 / size + SERIAL_ERRORS / np.sqrt(size)
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
