"""Before against after for animals that keep one main place for days and then another: spells, not days, count.

An animal whose home moves every ten days gives three or four looks in a month, however many days there are.
Units that follow each other with the same main place are one spell, a spell that runs across the change
counts on both sides against itself, and spells are the clusters whose sums vary.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from ..intervals.quantiles import t_tail

Ints = NDArray[np.intp]

# Main places must persist by this many standard errors before spells replace units: for any word, for a sure one.
PERSISTS, PERSISTS_SURE = 1.65, 1.0
# Animals must go together by this many standard errors before they are taken as one.
_TOGETHER = 1.0


@dataclass(frozen=True, slots=True)
class Spells:
    """``p`` of each zone's change by spells (two-sided, by t with ``degrees``), and what speaks for using it.

    ``persists`` is by how many standard errors units repeat the main place of the one before more often than
    their own mixture of places would (0 where no animal had another within a phase); ``spells`` their number.
    """

    p: Floats
    degrees: float
    persists: float
    spells: int


def spell_change(counts: ArrayLike, after: ArrayLike, stratum: ArrayLike | None = None) -> Spells:
    """The change of each zone's mean share, spells of a main place as clusters.

    ``counts`` (units x animals x zones) in order of time: moments of each animal in each zone, none where it was
    not seen; ``after`` (units,) true for the later phase; ``stratum`` (units,) a code of the slot. Variance under
    no change: the squared sums of spells' deviations from each animal's mean over both phases, spells taken
    per animal and, where animals go together, over all as one; the larger p counts. Degrees of freedom from
    how unequal the spells' weights are (Satterthwaite 1946, Biometrics Bull. 2:110). ValueError for shapes
    that do not fit or a phase without units.

    >>> home = np.repeat([0, 1, 0, 1], 5)  # four spells of five days: nothing can be told of a change at the tenth
    >>> found = spell_change(np.eye(2)[home][:, None, :], np.arange(20) >= 10)
    >>> found.spells, bool(found.p[0] > 0.3), bool(found.persists > 2)
    (4, True, True)
    """
    seen = np.asarray(counts, np.float64)
    late = np.asarray(after).astype(bool)
    if seen.ndim != 3 or late.shape != seen.shape[:1] or not 0 < late.sum() < late.size:
        raise ValueError("counts, after: expected units x animals x zones, and units of both phases")
    pull = _pull(late, np.zeros(late.size, np.intp) if stratum is None else np.asarray(stratum))
    share = seen / np.maximum(seen.sum(axis=(1, 2), keepdims=True), 1e-12)
    weight = share.sum(axis=2)
    own = share.sum(axis=0) / np.maximum(weight.sum(axis=0), 1e-12)[:, None]
    away = pull[:, None, None] * (share - weight[:, :, None] * own[None])
    change = np.einsum("u,uaz->z", pull, share)
    codes = [_codes(seen[:, a]) for a in range(seen.shape[1])]
    parts = [_sums(away[:, a], pull * weight[:, a], codes[a]) for a in range(seen.shape[1])]
    p, degrees = _p(change, np.vstack([s for s, _ in parts]), np.concatenate([m for _, m in parts]))
    if seen.shape[1] == 1 or _go_together(away):
        whole = _p(change, *_sums(away.sum(axis=1), pull, _codes(seen.sum(axis=1))))
        p, degrees = np.maximum(p, whole[0]), min(degrees, whole[1])
    number = int(sum(int(c.max()) + 1 for c in codes))
    return Spells(p, degrees, _persistence(seen, late), number)


def _pull(late: NDArray[np.bool_], code: NDArray[np.generic]) -> Floats:
    """What each unit adds to the change: slots weighted by what they can tell, as in ``permutation``."""
    pull, whole = np.zeros(late.size), 0.0
    for slot in np.unique(code):
        inside = code == slot
        later, earlier = float((inside & late).sum()), float((inside & ~late).sum())
        if later and earlier:
            telling = later * earlier / (later + earlier)
            pull[inside] = np.where(late[inside], telling / later, -telling / earlier)
            whole += telling
    if whole <= 0:
        raise ValueError("stratum: expected units of both phases in one of them")
    return pull / whole


def _codes(counts: Floats) -> Ints:
    """(units,) the number of the spell each unit is in; one in which nothing was seen goes on with the last."""
    main = np.where(counts.sum(axis=1) > 0, counts.argmax(axis=1), -1)
    known = np.maximum.accumulate(np.where(main >= 0, np.arange(main.size), -1))
    held = np.where(known >= 0, main[np.maximum(known, 0)], main[known.argmax()] if (main >= 0).any() else 0)
    return np.asarray(np.cumsum(np.r_[False, held[1:] != held[:-1]]), np.intp)


def _sums(away: Floats, weight: Floats, code: Ints) -> tuple[Floats, Floats]:
    """Sums of deviations (spells x zones) and of weights (spells,)."""
    sums = np.zeros((int(code.max()) + 1, away.shape[1]))
    np.add.at(sums, code, away)
    return sums, np.asarray(np.bincount(code, weight), np.float64)


def _p(change: Floats, sums: Floats, weight: Floats) -> tuple[Floats, float]:
    parts = weight**2
    spread = float((parts**2).sum())
    degrees = max(float(parts.sum()) ** 2 / spread - 1, 0.5) if spread > 0 else 0.5
    error = np.sqrt((sums**2).sum(axis=0) * (1 + 1 / max(degrees, 1.0)))
    # A zone that nobody used varies not at all and did not change.
    p = [
        2 * t_tail(abs(float(c)) / float(e), degrees) if e > 0 else float(abs(c) < 1e-12)
        for c, e in zip(change, error, strict=True)
    ]
    return np.minimum(np.asarray(p, np.float64), 1.0), degrees


def _go_together(away: Floats) -> bool:
    """Whether animals' deviations agree within units more than by luck (as ``intervals.togetherness``)."""
    apart = (away.sum(axis=1) ** 2).sum(axis=1) - (away**2).sum(axis=(1, 2))
    spread = float(np.sqrt((apart**2).sum()))
    return spread > 0 and float(apart.sum()) > _TOGETHER * spread


def _persistence(counts: Floats, late: NDArray[np.bool_]) -> float:
    """Standard errors by which units repeat the main place before them, within phases, over chance by own mixture."""
    same = chance = spread = 0.0
    for animal in range(counts.shape[1]):
        for phase in (~late, late):
            rows = counts[phase, animal]
            main = rows[rows.sum(axis=1) > 0].argmax(axis=1)
            if main.size < 3:
                continue
            times = np.bincount(main).astype(float)
            by_luck = float((times * (times - 1)).sum()) / (main.size * (main.size - 1))
            same += float((main[1:] == main[:-1]).sum())
            chance += (main.size - 1) * by_luck
            spread += (main.size - 1) * by_luck * (1 - by_luck)
    # One main place all through a phase: had homes come and gone by themselves, the change would hardly be when.
    if spread <= 0:
        return 0.0
    return float((same - chance) / np.sqrt(spread))
