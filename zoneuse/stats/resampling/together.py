"""Shares tested by the same rearrangements, held against one level together.

Shares of one whole move together, and among few units some can come to few values of p only. What Bonferroni or Holm
keep back for that the rearrangements themselves tell: how often any share comes to so small a p (Westfall & Young 1993,
Resampling-Based Multiple Testing; step by step by the least p: Ge, Dudoit & Speed 2003, Test 12:1).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..arrays import Floats
from .permutation import TIED

Bools = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Rearranged:
    """``chances`` (arrangements,) is the p each arrangement of the units would give one share, ``units`` which were
    arranged: shares with the same mark were arranged alike, row by row."""

    chances: Floats
    units: bytes


@dataclass(frozen=True, slots=True)
class Together:
    """``adjusted`` p over all held together, the ``level`` each is held against, and the p at which it would by
    ``itself`` be the first to pass."""

    adjusted: Floats
    level: Floats
    itself: Floats


def chances(reach: ArrayLike) -> Floats:
    """The two-sided p of every arrangement: the part of all that move a column as far (arrangements x columns).

    >>> chances([[3.0], [1.0], [2.0], [2.0]])[:, 0]
    array([0.25, 1.  , 0.75, 0.75])
    """
    moved = np.asarray(reach, np.float64)
    found = np.empty(moved.shape)
    for k in range(moved.shape[1]):
        farther = np.searchsorted(np.sort(moved[:, k]), moved[:, k] - TIED)
        found[:, k] = (len(moved) - farther) / len(moved)
    return found


def held_together(
    p: ArrayLike, first: ArrayLike, drawn: Sequence[Rearranged], level: float = 0.05, part: float = 0.01
) -> Together:
    """Adjusted p, so that any false claim comes in at most ``level`` of studies of nothing.

    ``p`` (shares,) are the tests' own or larger ones, ``first`` (shares,) true for what was expected, ``drawn`` a
    share each; shares arranged over other units count as if never claimed together. With nothing expected, all are
    held against ``level``. Else the rest never has less than a ``part`` of it, shared evenly, would give; the one
    expected has all that leaves (all of it where no other could pass; Tarone 1990, Biometrics 46:515, from memory), and
    the rest what that leaves in turn, in those arrangements in which the expected one is not claimed. Of several
    expected the rest has just the ``part``. Where all that was expected is claimed, the rest has all of ``level``
    (Bretz et al. 2009, Stat. Med. 28:586, from memory). ValueError for lengths that differ.

    >>> same = Rearranged(np.arange(1, 101) / 100, b"")  # one share twice: nothing is lost by asking again
    >>> held_together([0.03, 0.03], [False, False], [same, same]).adjusted
    array([0.03, 0.03])
    """
    own, main = np.asarray(p, np.float64), np.asarray(first).astype(bool)
    if not own.shape == main.shape == (len(drawn),):
        raise ValueError("p, first, drawn: expected one of each for a share")
    if not own.size:
        return Together(own, own, own)
    every = _Arranged(own, drawn)
    if not main.any() or main.all():
        whole = np.ones(own.size, bool)
        at = np.full(own.shape, level)
        return Together(every.stepwise(whole), at, np.full(own.shape, every.passes(whole, level)))
    share, left, but = _split(every, main, level, part)
    adjusted, at, itself = every.stepwise(main), np.where(main, share, left), np.empty(own.shape)
    itself[main] = every.passes(main, share)
    if bool((adjusted[main] <= share).all()):
        at[~main], but = level, None
    rest = every.stepwise(~main, but)
    itself[~main] = every.passes(~main, float(at[~main][0]), but)
    return Together(np.where(main, adjusted, rest), at, itself)


def _split(
    every: _Arranged, main: Bools, level: float, part: float
) -> tuple[float, float, list[Bools] | None]:
    """The levels of what was expected and of the rest, and the arrangements in which the rest is not asked."""
    if main.sum() > 1:
        return level - part, part, None
    least = part / int((~main).sum())
    if not every.any_to(~main, least):
        least = every.passes(~main, part)
    share = every.passes(main, level - every.any_to(~main, least), every.passed(~main, least))
    claimed = every.passed(main, share)
    return share, level - sum(float(c.mean()) for c in claimed), claimed


class _Arranged:
    """The shares by the units they were arranged over: for each such block its shares and their chances."""

    def __init__(self, p: Floats, drawn: Sequence[Rearranged]) -> None:
        self.p = p
        units: dict[tuple[bytes, int], list[int]] = {}
        for k, one in enumerate(drawn):
            units.setdefault((one.units, one.chances.size), []).append(k)
        self.blocks = [(rows, np.column_stack([drawn[k].chances for k in rows])) for rows in units.values()]

    def passed(self, some: Bools, at: float) -> list[Bools]:
        """Of each block the arrangements in which any of ``some`` comes to ``at``."""
        return [of[:, some[rows]].min(axis=1, initial=2.0) <= at for rows, of in self.blocks]

    def any_to(self, some: Bools, at: float, but: Iterable[Bools] | None = None) -> float:
        """The chance that any of ``some`` comes to ``at``, and none that is left out (``but``)."""
        reached = self.passed(some, at)
        if but is not None:
            reached = [r & ~b for r, b in zip(reached, but, strict=True)]
        return min(sum(float(r.mean()) for r in reached), 1.0)

    def passes(self, some: Bools, level: float, but: Sequence[Bools] | None = None) -> float:
        """The largest p of which ``any_to`` comes to ``level`` at most, or an even part of that (Bonferroni)."""
        least = [of[:, some[rows]].min(axis=1, initial=2.0) for rows, of in self.blocks]
        if but is not None:
            least = [np.where(b, 2.0, one) for one, b in zip(least, but, strict=True)]
        values = np.concatenate(least)
        weight = np.concatenate([np.full(one.size, 1 / one.size) for one in least])
        found, of = np.unique(values, return_inverse=True)
        enough = (np.cumsum(np.bincount(of, weight)) <= level + TIED) & (found <= 1)
        return float(found[enough].max(initial=level / max(int(some.sum()), 1)))

    def stepwise(self, some: Bools, but: Sequence[Bools] | None = None) -> Floats:
        """(shares,) p adjusted over ``some``, from the least on: what is claimed is asked no more. Others have 1."""
        order = np.flatnonzero(some)[np.argsort(self.p[some], kind="stable")]
        adjusted, ahead = np.ones(self.p.size), np.zeros(self.p.size, bool)
        for k in order[::-1]:
            ahead[k] = True
            adjusted[k] = self.any_to(ahead, float(self.p[k]) + TIED, but)
        adjusted[order] = np.maximum.accumulate(adjusted[order])
        # A larger p than the test's own (spells, a step) may lie between two that the rearrangements come to.
        return adjusted if but is not None else np.maximum(adjusted, self.p)
