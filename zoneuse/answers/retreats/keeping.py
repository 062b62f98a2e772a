"""Does each animal keep to its own retreat: all checks, and by the time between them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.association.fidelity import Fidelity, fidelity_by
from ...stats.drying.dry_moves import clustered_mean
from ..finding import TOO_EARLY, Finding
from ..phrases import counted
from .checks import Checks

ALPHA = 0.05
INTERVALS = ("same day", "next day", "2 to 7 days", "longer")
COLUMNS = ["enclosure", "animal", "interval", "checks", "same", "expected", "p"]
LIFTING_COLUMNS = ["enclosure", "cover", "steps", "checks", "left", "left_low", "left_high"]
# Up to this many animals are named in a sentence.
MOST_NAMED = 3


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


def keeping_said(
    checks: Checks,
    kept: Fidelity,
    homes: Mapping[str, str],
    trust: str,
    labels: Mapping[str, str],
    compared: int = 1,
) -> Iterator[Finding]:
    """One sentence for the animals that keep to their retreat, one for the others.

    ``homes`` are the animals with a home that stands out, and where it is; ``compared`` the enclosures judged.
    """
    known = np.flatnonzero(kept.checks > 0)
    if len(checks.animals) > 1:
        known = np.flatnonzero(_compared(checks))
    if not len(known):
        return
    if len(checks.animals) == 1:
        says = (
            f"{labels[checks.animals[0]]} was in the same retreat at the next check {100 * kept.same[0]:.0f} % of "
            f"{counted(int(kept.checks[0]), 'time')}; there is no other animal to compare it with."
        )
        yield Finding(checks.animals, TOO_EARLY, "", says=says)
        return
    sure = [i for i in known if trust and kept.p[i] <= ALPHA / compared]
    rest = [i for i in known if i not in sure]
    if sure:
        about = tuple(checks.animals[i] for i in sure)
        keep = "keeps to its retreat" if len(sure) == 1 else "keep to their retreats"
        says = (
            f"{_who(checks, sure, known, labels)} {keep}: {_how(kept, sure)}. {_homes(about, homes, labels)}"
        )
        yield Finding(about, "keeps to it", trust, says=says)
    if rest:
        about = tuple(checks.animals[i] for i in rest)
        says = f"{_who(checks, rest, known, labels)}: {_how(kept, rest)}. That could be luck."
        yield Finding(about, TOO_EARLY, "", says=says)


def _compared(checks: Checks) -> NDArray[np.bool_]:
    """Animals found at two checks one after the other, with somebody else found at one of them."""
    found = checks.where >= 0
    others = found.sum(axis=1) > 1
    steps = (found[1:] & found[:-1]) & (others[1:] | others[:-1])[:, None]
    return np.asarray(steps.any(axis=0), np.bool_)


def _homes(about: tuple[str, ...], homes: Mapping[str, str], labels: Mapping[str, str]) -> str:
    mine = [a for a in about if a in homes]
    if not mine:
        none = "It has no" if len(about) == 1 else "None of them has a"
        return f"{none} home used clearly more than any other retreat yet."
    if len(mine) > MOST_NAMED:
        return f"{len(mine)} of them have a home used clearly more than any other retreat."
    named = ", ".join(f"{labels[a]} in {labels[homes[a]]}" for a in mine)
    return f"At home, clearly more than anywhere else: {named}."


def _who(checks: Checks, some: list[Any], known: Any, labels: Mapping[str, str]) -> str:
    if len(some) > MOST_NAMED:
        return (
            f"All {len(some)} animals" if len(some) == len(known) else f"{len(some)} of {len(known)} animals"
        )
    names = [labels[checks.animals[i]] for i in some]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _how(kept: Fidelity, some: list[Any]) -> str:
    same, expected = kept.same[some], kept.expected[some]
    steps = counted(int(kept.checks[some].sum()), "step")
    return (
        f"in the same retreat at the next check {_range(same)} of the time, {_range(expected)} if it did not matter "
        f"who is who ({steps} from check to check)"
    )


def _range(shares: Any) -> str:
    low, high = round(100 * float(shares.min())), round(100 * float(shares.max()))
    return f"{low} %" if low == high else f"{low} to {high} %"


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


def lifting_said(lifting: pd.DataFrame) -> Iterator[str]:
    """One sentence for each enclosure in which covers were lifted and also left in place."""
    for _, part in lifting.groupby("enclosure", sort=True):
        by = part.set_index("cover").to_dict("index")
        lifted, other = by["lifted"], by["left in place"]
        if min(lifted["checks"], other["checks"]) < 2:
            continue
        low, high = max(lifted["left_low"], 0.0), min(lifted["left_high"], 1.0)
        yield (
            f"After its cover was lifted an animal was elsewhere at the next check {100 * lifted['left']:.0f} % of the "
            f"time ({100 * low:.0f} to {100 * high:.0f}, {counted(int(lifted['checks']), 'check')}), otherwise "
            f"{100 * other['left']:.0f} %."
        )
