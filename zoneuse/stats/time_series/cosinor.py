"""A daily rhythm as a cosine of 24 hours: mesor, amplitude and acrophase (single-component cosinor).

Each unit (animal, or day of an enclosure) is fitted by least squares, and their coefficients are averaged with
limits over units: the population-mean cosinor (Bingham, Arbogast, Cornelissen Guillaume, Lee & Halberg 1982,
Chronobiologia 9:397; Cornelissen 2014, Theor. Biol. Med. Model. 11:16).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..arrays import Floats
from ..intervals.quantiles import t_quantile
from ..special import special

PERIOD_H = 24.0
# A unit whose hours leave a longer gap than this has no rhythm to fit.
WIDEST_GAP_H = 8.0
LEAST_HOURS = 6


@dataclass(frozen=True, slots=True)
class Cosinor:
    """``mesor``: mean level; ``amplitude``: half the swing; ``acrophase_h``: the hour of the crest, 0 to 24.

    Limits are 95 % over ``units``, NaN with fewer than three; those of the acrophase are NaN too where no rhythm
    stands (``p``: chance of one as strong by luck, Hotelling's T2 of both coefficients; NaN below three units).
    ``acrophase_low`` may lie above ``acrophase_high``: the span then crosses hour 0.
    """

    mesor: float
    mesor_low: float
    mesor_high: float
    amplitude: float
    amplitude_low: float
    amplitude_high: float
    acrophase_h: float
    acrophase_low: float
    acrophase_high: float
    p: float
    units: int


def cosine_fit(hours: ArrayLike, values: ArrayLike, weights: ArrayLike | None = None) -> Floats:
    """Mesor and the coefficients of cosine and sine, by (weighted) least squares.

    >>> h = np.arange(24.0)
    >>> cosine_fit(h, 20 + 2 * np.cos((h - 6) / 24 * 2 * np.pi)).round(6) + 0.0
    array([20.,  0.,  2.])
    """
    turn = np.asarray(hours, np.float64) / PERIOD_H * 2 * np.pi
    rows = np.column_stack([np.ones(turn.size), np.cos(turn), np.sin(turn)])
    root = np.sqrt(np.ones(turn.size) if weights is None else np.asarray(weights, np.float64))
    return np.asarray(np.linalg.lstsq(rows * root[:, None], np.asarray(values) * root, rcond=None)[0])


def covers_the_day(hours: ArrayLike) -> bool:
    """Whether hours are many and spread enough for a rhythm of a day."""
    known = sorted({int(h) for h in np.asarray(hours, np.float64) % PERIOD_H})
    if len(known) < LEAST_HOURS:
        return False
    after = [*known[1:], known[0] + PERIOD_H]
    return not any(b - a > WIDEST_GAP_H for a, b in zip(known, after, strict=True))


def population_cosinor(
    hours: ArrayLike, values: ArrayLike, unit: ArrayLike, weights: ArrayLike | None = None
) -> Cosinor | None:
    """The rhythm over units; None where no unit's hours cover the day.

    ``hours`` of the clock, ``values``, ``unit`` and ``weights`` (default 1), one each an observation.
    """
    h, v, who = np.asarray(hours, np.float64), np.asarray(values, np.float64), np.asarray(unit)
    w = np.ones(h.size) if weights is None else np.asarray(weights, np.float64)
    good = [who == u for u in np.unique(who) if covers_the_day(h[who == u])]
    if not good:
        return None
    each = np.array([cosine_fit(h[one], v[one], w[one]) for one in good])
    units = len(each)
    mesor, cosine, sine = each.mean(axis=0)
    amplitude = float(np.hypot(cosine, sine))
    crest = float(np.arctan2(sine, cosine)) / (2 * np.pi) * PERIOD_H % PERIOD_H
    if units < 3:
        none = float("nan")
        return Cosinor(float(mesor), none, none, amplitude, none, none, crest, none, none, none, units)
    cov = np.cov(each.T) / units
    t = t_quantile(0.975, units - 1)
    about = np.array([cosine, sine])
    p = _chance(about, cov[1:, 1:], units)
    along = about / max(amplitude, 1e-300)
    half = t * float(np.sqrt(np.maximum(along @ cov[1:, 1:] @ along, 0.0)))
    across = np.array([-along[1], along[0]])
    turn = t * float(np.sqrt(np.maximum(across @ cov[1:, 1:] @ across, 0.0))) / max(amplitude, 1e-300)
    aside = turn / (2 * np.pi) * PERIOD_H if p <= 0.05 and turn < np.pi else float("nan")
    level = t * float(cov[0, 0]) ** 0.5
    least = max(amplitude - half, 0.0) if p <= 0.05 else 0.0
    return Cosinor(
        float(mesor), float(mesor - level), float(mesor + level), amplitude, least, amplitude + half, crest,
        (crest - aside) % PERIOD_H, (crest + aside) % PERIOD_H, p, units,
    )  # fmt: skip


def _chance(about: Floats, cov: Floats, units: int) -> float:
    """Hotelling's T2 of two coefficients over ``units``."""
    try:
        t2 = float(about @ np.linalg.solve(cov, about))
    except np.linalg.LinAlgError:
        return float("nan")
    return float(special.fdtrc(2, units - 2, max(t2, 0.0) * (units - 2) / (2 * (units - 1))))
