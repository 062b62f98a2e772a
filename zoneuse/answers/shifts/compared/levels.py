"""At which level each row of a comparison is held: what was expected, all else, and what Holm makes of both."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ..judge import ALPHA, holm_once
from .held import Held
from .measures import SHARES

# Of .05 what was expected has this much and the rest .005: a level of .04 finds less than nine tenths of what .05 does.
# (Of one change it has a little more, since its rearrangements tell what that leaves for the rest.)
EXPECTED_PART = 0.045


@dataclass(frozen=True, slots=True)
class Levels:
    """``adjusted`` p over all that is compared, ``whole`` what it is held against, ``own`` the level of a row alone."""

    adjusted: Floats
    whole: Floats
    own: Floats


def levels(p: Floats, least: Floats, main: NDArray[np.bool_], once: NDArray[np.int64]) -> Levels:
    """``p`` of each row, the ``least`` its test could come to, whether it was expected, and its comparison's number.

    Holm over all at .05 where nothing was expected. Else within what was expected and within the rest, and a level
    that cannot be used is not kept back: where no test of the rest could pass, what was expected has all of .05
    (Tarone 1990, Biometrics 46:515, from memory); where all that was expected is claimed, the rest has (Bretz et al.
    2009, Stat. Med. 28:586, from memory).
    """
    if not main.any() or main.all():
        return _of_parts(p, once, (np.ones(p.size, bool),), (ALPHA,))
    kept = ALPHA - EXPECTED_PART
    could = holm_once(least[~main], once[~main]) <= kept
    first = EXPECTED_PART if could.any() else ALPHA
    came = bool((holm_once(p[main], once[main]) <= first).all())
    return _of_parts(p, once, (main, ~main), (first, ALPHA if came else kept))


def _of_parts(
    p: Floats, once: NDArray[np.int64], parts: Sequence[NDArray[np.bool_]], alphas: Sequence[float]
) -> Levels:
    adjusted, whole, own = (np.empty(p.size) for _ in range(3))
    for part, alpha in zip(parts, alphas, strict=True):
        adjusted[part], whole[part] = holm_once(p[part], once[part]), alpha
        own[part] = _own(p[part], once[part], adjusted[part], whole[part])
    return Levels(adjusted, whole, own)


def _own(p: Floats, once: NDArray[np.int64], adjusted: Floats, level: Floats) -> Floats:
    """The level at which each row's own test decides as Holm's procedure over all does: limits at it agree with that.

    A row that is claimed at step r of k was held against level / (k - r + 1); all others against level / (k - claimed).
    """
    if not p.size:
        return p
    names, of = np.unique(once, return_inverse=True)
    least = np.full(names.size, np.inf)
    np.minimum.at(least, of, p)
    claimed = np.zeros(names.size, bool)
    np.logical_or.at(claimed, of, adjusted <= level)
    rank = np.empty(names.size, np.int64)
    rank[np.argsort(least, kind="stable")] = np.arange(names.size)
    steps = np.where(claimed, names.size - rank, max(names.size - int(claimed.sum()), 1))
    return np.asarray(level / steps[of], np.float64)


def once_each(every: Sequence[Sequence[Held]]) -> NDArray[np.int64]:
    """A number for each comparison: of two shares that complete each other one tells what the other does."""
    numbered: dict[tuple[object, ...], int] = {}
    found = []
    for k, rows in enumerate(every):
        of_kind = Counter(one.what for one in rows)
        for one in rows:
            two = one.what in SHARES and of_kind[one.what] == 2 and _complete(rows, one.what)
            key = (k, one.what) if two else (k, one.what, one.name)
            found.append(numbered.setdefault(key, len(numbered)))
    return np.array(found, np.int64)


def _complete(some: Sequence[Held], what: str) -> bool:
    total = sum(np.nan_to_num(one.first) for one in some if one.what == what)
    return bool(np.allclose(total[total > 0], 1.0))  # type: ignore[index]
