"""What counts once, and why: animals tried by themselves, enclosures, or sessions and days within them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.resampling import least_exchanged, least_paired, smallest_p_within
from ...effort import (
    ASKED,
    ENOUGH_ENCLOSURES,
    TOO_FEW_ANIMALS,
    TOO_FEW_ENCLOSURES,
    TRIED_ALONE,
    names_of,
    tried_alone,
    usual_cluster,
)

PAIRS, GROUPS, BLOCKS = "pairs", "groups", "blocks"
ALPHA = 0.05


@dataclass(frozen=True, slots=True)
class Design:
    """``unit`` counts once, for the reason ``because``.

    ``kind``: each unit against itself (pairs), units of one side against those of the other (groups), or sessions
    and days exchanged within blocks. ``names`` are the units', ``of`` (moments,) each moment's (-1: left out),
    ``block`` (units,) theirs, ``late`` (units,) the side of a unit that has only one. ``least`` is the smallest p
    it can come to; ``left_out`` are units that stand on one side only, where others are held against themselves.
    """

    unit: str
    because: str
    kind: str
    names: tuple[str, ...]
    of: NDArray[np.int64]
    block: NDArray[np.int64]
    late: NDArray[np.bool_]
    least: float
    left_out: tuple[str, ...] = ()

    @property
    def counts(self) -> tuple[int, int]:
        """Units on each side."""
        n = len(self.names)
        return (n, n) if self.kind == PAIRS else (int((~self.late).sum()), int(self.late.sum()))


def design_of(rows: pd.DataFrame, late: NDArray[np.bool_], per: str | None, compared: int) -> Design:
    """The design of moments of two sides (``late`` marks the second); ``per`` is the unit asked for.

    ``compared``: how many rows stand together under Holm, for whether so many units could pass at all.
    """
    if per in ("animal", "enclosure"):
        return _of_units(rows, late, per, ASKED)
    if per is not None:
        return _of_looks(rows, late, per, ASKED)
    alone = tried_alone(rows)
    if not alone and rows["enclosure"].nunique() < 2:
        return _of_looks(rows, late, *usual_cluster(rows))
    whole = _of_units(rows, late, *(("animal", TRIED_ALONE) if alone else ("enclosure", ENOUGH_ENCLOSURES)))
    if whole.least * compared <= ALPHA:
        return whole
    looks = _of_looks(
        rows, late, "session" if alone else usual_cluster(rows)[0],
        TOO_FEW_ANIMALS if alone else TOO_FEW_ENCLOSURES,
    )  # fmt: skip
    if looks.least < whole.least:
        return looks
    # Sessions would tell no more than these few enclosures, which are no more enough for it.
    return whole if alone else replace(whole, because=TOO_FEW_ENCLOSURES)


def _of_units(rows: pd.DataFrame, late: NDArray[np.bool_], unit: str, because: str) -> Design:
    names = names_of(rows, unit)
    known = names.notna().to_numpy()
    sides: dict[str, set[bool]] = {}
    for name, side in zip(names[known], late[known], strict=True):
        sides.setdefault(str(name), set()).add(bool(side))
    both = [n for n, s in sides.items() if len(s) == 2]
    first, second = ([n for n, s in sides.items() if s == {k}] for k in (False, True))
    apart = least_exchanged(len(first), len(second)) if first and second else 1.0
    if both and least_paired(len(both)) <= apart:
        kind, chosen, least = PAIRS, both, least_paired(len(both))
        left = (*first, *second)
    else:
        kind, chosen, least, left = GROUPS, [*first, *second], apart, tuple(both)
    number = {name: i for i, name in enumerate(chosen)}
    of = np.array([number.get(str(n), -1) if k else -1 for n, k in zip(names, known, strict=True)], np.int64)
    marks = np.array([sides[n] == {True} for n in chosen], bool)
    return Design(
        unit, because, kind, tuple(chosen), of, np.zeros(len(chosen), np.int64), marks, least, tuple(left)
    )


def _on_both_sides(place: pd.Series, late: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Whether the place of each moment has moments of both sides."""
    sides = pd.Series(late).groupby(place.to_numpy()).transform("nunique")
    return np.asarray(sides > 1, bool)


def _of_looks(rows: pd.DataFrame, late: NDArray[np.bool_], unit: str, because: str) -> Design:
    """Sessions or days, exchanged within each enclosure (animal, where each is tried by itself) and time of day."""
    place = rows["enclosure"].astype(str) + "\x1f" + rows["slot"].astype(str)
    if tried_alone(rows):
        place = place + "\x1f" + names_of(rows, "animal").astype(str)
    if not _on_both_sides(place, late).any():
        # Phases of one animal that lived elsewhere meanwhile: it is held against itself, wherever it was.
        place = names_of(rows, "animal").astype(str) + "\x1f" + rows["slot"].astype(str)
    keys = place + "\x1f" + rows[unit].astype(str) + "\x1f" + late.astype(str)
    of, names = pd.factorize(keys)
    first = np.array([int(np.flatnonzero(of == k)[0]) for k in range(len(names))], np.int64)
    block = np.asarray(pd.factorize(place)[0], np.int64)[first]
    marks = late[first]
    both = [b for b in np.unique(block) if 0 < marks[block == b].sum() < (block == b).sum()]
    kept = np.isin(block, both)
    left = tuple(
        sorted({str(place.iloc[i]).replace("\x1f", " ") for i, k in zip(first, kept, strict=True) if not k})
    )
    number = np.full(len(names), -1, np.int64)
    number[kept] = np.arange(kept.sum())
    least = smallest_p_within(marks[kept], block[kept]) if kept.any() else 1.0
    shown = tuple(str(rows[unit].iloc[i]) for i in first[kept])
    return Design(unit, because, BLOCKS, shown, number[of], block[kept], marks[kept], least, left)
