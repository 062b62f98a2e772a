"""Before against after for animals that keep one main place for days and then another: spells, not days, count.

An animal whose home moves every ten days gives three or four looks in a month, however many days there are.
Units that follow each other with the same main place are one spell, a spell that runs across the change
counts on both sides against itself, and spells are the clusters whose sums vary.

Where main places persist from one unit to the next and no further, a stay now and then reaches into the next unit,
and most units in a row in one place were chosen one by one: there each counts with the next by the chance that it
is the same stay.
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
# Persisting from a unit to the second and third after it by this many standard errors is a spell that lasts.
LASTS, LASTS_SURE = 1.0, 0.5
_LAGS = 3
# Standard errors added to the part of stays that reach into the next unit.
_MORE_KEPT = 1.0
# Animals must go together by this many standard errors before they are taken as one.
_TOGETHER = 1.0


@dataclass(frozen=True, slots=True)
class Spells:
    """``p`` of each zone's change by spells (two-sided, by t with ``degrees``), and what speaks for using it.

    ``persists`` is by how many standard errors units repeat the main place of the one before more often than
    their own mixture of places would (0 where no animal had another within a phase), ``lasts`` the same of the
    second or third before, the larger; ``spells`` their number. ``p_brief`` is p where only neighbours count together.
    """

    p: Floats
    degrees: float
    persists: float
    spells: int
    lasts: float
    p_brief: Floats

    def must_agree(self, sure: bool) -> Floats:
        """(zones,) the p that a claim must also stand by: 0 where units stand by themselves."""
        if self.persists <= (PERSISTS_SURE if sure else PERSISTS):
            return np.zeros(self.p.shape)
        return self.p if self.lasts > (LASTS_SURE if sure else LASTS) else self.p_brief


def spell_change(counts: ArrayLike, after: ArrayLike, stratum: ArrayLike | None = None) -> Spells:
    """The change of each zone's mean share, spells of a main place as clusters.

    ``counts`` (units x animals x zones) in order of time: moments of each animal in each zone, none where it was
    not seen; ``after`` (units,) true for the later phase; ``stratum`` (units,) a code of the slot. Variance under
    no change: the squared sums of spells' deviations from each animal's mean over both phases, spells taken
    per animal and, where animals go together, over all as one; the larger p counts. Degrees of freedom from
    how unequal the spells' weights are (Satterthwaite 1946, Biometrics Bull. 2:110). ``p_brief``: units d apart in one
    spell count together by c^d, c = k / (k + (1 - k) m), k the part of stays that reach into the next unit and m how
    much of its time the animal spends there. ValueError for shapes that do not fit or a phase without units.

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
    persists, kept = _persistence(seen, late, 1)
    lasts = max(_persistence(seen, late, lag)[0] for lag in range(2, _LAGS + 1))
    brief = _p_brief(seen, change, away, pull[:, None] * weight, late=late, kept=kept)
    return Spells(p, degrees, persists, number, lasts, brief)


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
    return _p_of(change, (sums**2).sum(axis=0), degrees), degrees


def _p_of(change: Floats, variance: Floats, degrees: float) -> Floats:
    error = np.sqrt(np.maximum(variance, 0.0) * (1 + 1 / max(degrees, 1.0)))
    # A zone that nobody used varies not at all and did not change.
    p = [
        2 * t_tail(abs(float(c)) / float(e), degrees) if e > 0 else float(abs(c) < 1e-12)
        for c, e in zip(change, error, strict=True)
    ]
    return np.minimum(np.asarray(p, np.float64), 1.0)


def _p_brief(
    seen: Floats, change: Floats, away: Floats, weight: Floats, *, late: NDArray[np.bool_], kept: float
) -> Floats:
    """p by neighbours that count together; where animals do too, beside the change, no less than that of all as one."""
    each = [_brief(away[:, a], weight[:, a], seen[:, a], kept) for a in range(seen.shape[1])]
    degrees = _pooled_degrees(each)
    brief = _p_of(change, np.sum([v for v, _ in each], axis=0), degrees)
    if seen.shape[1] > 1 and not _go_together(_within(away, late)):
        return brief
    variance, free = _brief(away.sum(axis=1), weight.sum(axis=1), seen.sum(axis=1), kept)
    return np.maximum(brief, _p_of(change, variance, min(free, degrees)))


def _brief(away: Floats, weight: Floats, counts: Floats, kept: float) -> tuple[Floats, float]:
    """Variance (zones,) of the sum of one animal's deviations (units x zones), and its degrees of freedom."""
    code = _codes(counts)
    first = np.unique(code, return_index=True)[1]
    main = counts.argmax(axis=1)[first][code]
    mixture = np.bincount(main, minlength=counts.shape[1]) / main.size
    link = kept / (kept + (1 - kept) * mixture[main]) if kept > 0 else np.zeros(main.size)
    follows = np.where(np.r_[False, code[1:] == code[:-1]], link, 0.0)
    both = np.column_stack([away, weight])
    reach, before = np.empty_like(both), np.zeros(both.shape[1])
    for i, chance in enumerate(follows):
        reach[i] = before = both[i] + chance * before
    square = both * (2 * reach - both)
    spell, long = np.bincount(code, square[:, -1]), np.bincount(code)
    pieces = 1 + (long - 1) * (1 - link[first])
    spread = float((spell**2 / pieces).sum())
    degrees = max(float(spell.sum()) ** 2 / spread - 1, 0.5) if spread > 0 else 0.5
    return square[:, :-1].sum(axis=0), degrees


def _pooled_degrees(each: list[tuple[Floats, float]]) -> float:
    """Those of a sum of variances, each with its own (Satterthwaite 1946)."""
    whole = [float(v.sum()) for v, _ in each]
    spread = sum(v**2 / d for v, (_, d) in zip(whole, each, strict=True))
    return sum(whole) ** 2 / spread if spread > 0 else 0.5


def _within(away: Floats, late: NDArray[np.bool_]) -> Floats:
    """Deviations from each phase's own mean: what all animals did at the change is no company."""
    inside = away.copy()
    for phase in (late, ~late):
        inside[phase] -= inside[phase].mean(axis=0, keepdims=True)
    return inside


def _go_together(away: Floats) -> bool:
    """Whether animals' deviations agree within units more than by luck (as ``intervals.togetherness``)."""
    apart = (away.sum(axis=1) ** 2).sum(axis=1) - (away**2).sum(axis=(1, 2))
    spread = float(np.sqrt((apart**2).sum()))
    return spread > 0 and float(apart.sum()) > _TOGETHER * spread


def _persistence(counts: Floats, late: NDArray[np.bool_], lag: int) -> tuple[float, float]:
    """Standard errors by which units repeat the main place ``lag`` units before them, within phases, over chance by own
    mixture; and the part of them that chance does not explain, with a standard error."""
    same = chance = spread = number = 0.0
    for animal in range(counts.shape[1]):
        for phase in (~late, late):
            rows = counts[phase, animal]
            main = rows[rows.sum(axis=1) > 0].argmax(axis=1)
            if main.size < 2 + lag:
                continue
            times = np.bincount(main).astype(float)
            by_luck = float((times * (times - 1)).sum()) / (main.size * (main.size - 1))
            same += float((main[lag:] == main[:-lag]).sum())
            chance += (main.size - lag) * by_luck
            spread += (main.size - lag) * by_luck * (1 - by_luck)
            number += main.size - lag
    # One main place all through a phase: had homes come and gone by themselves, the change would hardly be when.
    if spread <= 0:
        return 0.0, 0.0
    kept = (same - chance + _MORE_KEPT * np.sqrt(spread)) / (number - chance)
    return float((same - chance) / np.sqrt(spread)), float(np.clip(kept, 0.0, 1.0))
