"""Are animals crowded, spread out or neither: counts over the retreats of one check."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..special import special


@dataclass(frozen=True, slots=True)
class Dispersion:
    """Fisher's index of dispersion with both tails, Morisita's index (1: as by chance) and its kin.

    ``standardised`` is Morisita's index between -1 and 1, beyond 0.5 or -0.5 outside what chance gives in
    95 of 100 (Smith-Gill 1975); ``green`` is 0 by chance and 1 if all are in one (Green 1966); ``company``
    is how many others one finds around it on average (Lloyd 1967, mean crowding).
    """

    mean: float
    ratio: float
    index: float
    degrees: int
    p_crowded: float
    p_even: float
    morisita: float
    standardised: float
    green: float
    company: float


def dispersion(counts: ArrayLike) -> Dispersion:
    """Dispersion of counts over retreats of one size (Fisher 1925; Morisita 1959, Mem. Fac. Sci. Kyushu E2:215).

    Raises ValueError for fewer than two retreats or nobody found.

    >>> found = dispersion([0, 0, 1, 7, 2, 0, 0, 8])
    >>> round(found.index, 6), round(found.morisita, 7)
    (34.444444, 2.6143791)
    """
    seen = np.asarray(counts, np.float64)
    total, size = float(seen.sum()), seen.size
    if seen.ndim != 1 or size < 2 or total <= 0 or (seen < 0).any():
        raise ValueError("counts: expected the numbers found in at least two retreats, with someone found")
    mean = total / size
    ratio = float(seen.var(ddof=1)) / mean
    index = (size - 1) * ratio
    pairs = float((seen * (seen - 1)).sum())
    morisita = size * pairs / (total * (total - 1)) if total > 1 else float("nan")
    return Dispersion(
        mean=mean,
        ratio=ratio,
        index=index,
        degrees=size - 1,
        p_crowded=float(special.chdtrc(size - 1, index)),
        p_even=float(special.chdtr(size - 1, index)),
        morisita=morisita,
        standardised=_standardised(morisita, size, total),
        green=(ratio - 1) / (total - 1) if total > 1 else float("nan"),
        company=mean + ratio - 1,
    )


def _standardised(morisita: float, size: int, total: float) -> float:
    """Smith-Gill's (1975, Oecologia 21:37) scale: the limits of chance at -0.5 and 0.5."""
    if total <= 1:
        return float("nan")
    even, crowded = (
        (float(special.chdtri(size - 1, tail)) - size + total) / (total - 1) for tail in (0.975, 0.025)
    )
    if morisita >= crowded > 1:
        return 0.5 + 0.5 * (morisita - crowded) / (size - crowded)
    if morisita >= 1:
        return 0.5 * (morisita - 1) / (crowded - 1)
    if morisita > even:
        return -0.5 * (morisita - 1) / (even - 1)
    return -0.5 + 0.5 * (morisita - even) / even
