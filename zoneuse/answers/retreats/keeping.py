"""Does each animal keep to its own retreat: all checks, and by the time between them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.association import Fidelity, fidelity, fidelity_by, returns
from ...stats.drying import clustered_mean
from .checks import Checks
from .company import NEAR, finer_draws


@dataclass(frozen=True, slots=True)
class Own:
    """What speaks for places of their own: ``back`` (animals,) p of coming back to them; ``homes`` of those with one
    that stands out, ``sure`` of them however often one asks; ``never`` of those never found elsewhere, of which nothing
    tells how long they stay by themselves."""

    back: Floats
    homes: Mapping[str, str] = field(default_factory=dict)
    sure: frozenset[str] = frozenset()
    never: Mapping[str, str] = field(default_factory=dict)


INTERVALS = ("same day", "next day", "2 to 7 days", "longer")
COLUMNS = ["enclosure", "animal", "interval", "checks", "same", "expected", "p"]
LIFTING_COLUMNS = ["enclosure", "cover", "steps", "checks", "left", "left_low", "left_high"]


def fidelity_of(checks: Checks, draws: int, seed: int, compared: int) -> Fidelity:
    """The test of each animal keeping to its own, one of ``compared`` enclosures; drawn finer where a claim is near."""
    kept = fidelity(checks.where, draws - 1, seed)
    if np.nanmin(kept.p, initial=1.0) <= NEAR / compared:
        more = finer_draws(checks, draws)
        kept = fidelity(checks.where, more - 1, seed) if more > draws else kept
    return kept


def returns_of(checks: Checks, draws: int, seed: int, compared: int) -> Floats:
    """The test of each animal coming back to places of its own, as finely drawn."""
    back = returns(checks.where, draws - 1, seed)
    if np.nanmin(back, initial=1.0) <= NEAR / compared:
        more = finer_draws(checks, draws)
        back = returns(checks.where, more - 1, seed) if more > draws else back
    return back


def keeping_rows(checks: Checks, kept: Fidelity) -> Iterator[tuple[Any, ...]]:
    """One row an animal over all its checks (interval "any", with p), and one for each interval it has."""
    days = np.array([day.toordinal() for day in checks.days])
    gap = np.diff(days)
    kind = np.select([gap <= 0, gap == 1, gap <= 7], [0, 1, 2], 3)
    by = fidelity_by(checks.where, kind, len(INTERVALS))
    for i, animal in enumerate(checks.animals):
        if not kept.checks[i]:
            continue
        yield checks.enclosure, animal, "any", int(kept.checks[i]), kept.same[i], kept.expected[i], kept.p[i]
        for k, name in enumerate(INTERVALS):
            if by.checks[k, i]:
                row = by.same[k, i], by.expected[k, i], np.nan
                yield (checks.enclosure, animal, name, int(by.checks[k, i]), *row)


def compared_animals(checks: Checks) -> NDArray[np.bool_]:
    """Animals found at two checks one after the other, with somebody else found at one of them."""
    found = checks.where >= 0
    others = found.sum(axis=1) > 1
    steps = (found[1:] & found[:-1]) & (others[1:] | others[:-1])[:, None]
    return np.asarray(steps.any(axis=0), np.bool_)


def lifting_rows(checks: Checks) -> Iterator[tuple[Any, ...]]:
    """Whether animals were elsewhere at the next check, after the cover of their retreat was lifted and otherwise.

    Nothing where no cover was lifted. Limits take checks as clusters.
    """
    if not checks.lifted.any():
        return
    t, who = np.nonzero((checks.where[:-1] >= 0) & (checks.where[1:] >= 0))
    left = (checks.where[t + 1, who] != checks.where[t, who]).astype(np.float64)
    lifted = checks.lifted[t, checks.where[t, who]]
    for name, part in (("lifted", lifted), ("left in place", ~lifted)):
        found = clustered_mean(left[part], t[part])
        yield checks.enclosure, name, int(part.sum()), found.checks, found.value, found.low, found.high
