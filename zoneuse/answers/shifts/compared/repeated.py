"""Sessions that follow each other in one place repeat each other: what that makes of chance and limits."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....stats.arrays import Floats
from ....stats.resampling import PERSISTS, adjust_for_strata, spell_change, widened
from ....stats.time_series import ar_step, lag_one_within, steady_sides
from ...effort import names_of
from .design import Design
from .held import Held
from .measures import ZONE

# Below so many sessions or days their dependence cannot be known, and an exchange is all there is.
_LEAST = 6
_MOST_PHI = 0.9
# From such a lag-1 dependence on the exchange must be agreed with by a step that allows for it.
LEAST_PHI = 0.2
# Of one animal spells count from fewer standard errors on: nothing else tells how long it keeps a place.
PERSISTS_ALONE = 1.0
# Twice the log likelihood by which a break elsewhere must be better to say that the sides part at the wrong place, and
# the p that a difference then has at least.
ELSEWHERE, UNSURE_P = 2.0, 0.1


def allowing_for_repeats(
    rows: pd.DataFrame, late: NDArray[np.bool_], design: Design, every: list[Held]
) -> list[Held]:
    """Each measure with its test widened until its p is that of a step (or of spells) that allows for dependence.

    Sessions and days in order of time within their enclosure: deviations from each side's own level tell how far
    neighbours repeat each other; where they do, a step by generalised least squares with that dependence, and for
    zones the spells of a main place, must agree with the exchange of labels. Of one animal (or group) with one
    side after the other, no other break may fit clearly better: what changes by itself does so at another time.
    """
    if len(design.names) < _LEAST:
        return every
    order, chain = _in_time(rows, design)
    # A move puts an animal elsewhere: where it was cannot go on by itself.
    alone = (
        "home" not in rows.columns and np.unique(chain).size == 1 and names_of(rows, "animal").nunique() < 2
    )
    spells = _by_spells(rows, design, order, late, PERSISTS_ALONE if alone else PERSISTS)
    told = []
    for one in every:
        floor = spells.get(one.name, 0.0) if one.what == ZONE else 0.0
        floor = max(floor, _by_step(one, design, order, chain))
        breaks = _breaks_elsewhere(one, design, order) if alone else 0
        if breaks:
            floor = max(floor, UNSURE_P)
        told.append(replace(one, test=widened(one.test, floor), breaks=breaks) if floor > one.test.p else one)
    return told


def _in_time(rows: pd.DataFrame, design: Design) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """The units by enclosure and time, and each unit's enclosure."""
    known = design.of >= 0
    first = pd.DataFrame(
        {
            "unit": design.of[known], "at": rows["at"].astype("int64")[known].to_numpy(),
            "where": pd.factorize(rows["enclosure"])[0][known],
        }
    ).groupby("unit").min()  # fmt: skip
    chain = first["where"].to_numpy(np.int64)
    return np.lexsort((first["at"].to_numpy(), chain)), chain


def _by_step(one: Held, design: Design, order: NDArray[np.int64], chain: NDArray[np.int64]) -> float:
    """p of the step that allows for dependence; 0 where neighbours do not repeat each other."""
    own = np.where(design.late, one.second, one.first)
    order = order[~np.isnan(own[order])]
    values, late, block = own[order], design.late[order], design.block[order]
    if values.size < _LEAST or np.ptp(values) <= 0:
        return 0.0
    both = np.array([b for b in np.unique(block) if 0 < late[block == b].sum() < (block == b).sum()])
    keep = np.isin(block, both)
    values, late, block, where = values[keep], late[keep], block[keep], chain[order][keep]
    if values.size < _LEAST:
        return 0.0
    level = adjust_for_strata(values[:, None], late, block).series[:, 0]
    # Deviations from each side, in order of time whatever the side; an enclosure is a series of its own.
    rest = level - np.where(late, level[late].mean(), level[~late].mean())
    phi = lag_one_within([rest[where == w] for w in np.unique(where)])
    if phi <= LEAST_PHI:
        return 0.0
    return ar_step(level, late, min(phi, _MOST_PHI)).p


def _breaks_elsewhere(one: Held, design: Design, order: NDArray[np.int64]) -> int:
    """By how many units a better break lies before (negative) or after where one side follows the other; 0 for none."""
    own = np.where(design.late, one.second, one.first)
    order = order[~np.isnan(own[order])]
    values, late = own[order], design.late[order]
    if late.size and late[0]:
        # The second name came first in time.
        late = ~late
    start = int((~late).sum())
    if min(start, late.size - start) < 3 or late[:start].any() or np.ptp(values) <= 0:
        return 0
    found = steady_sides(adjust_for_strata(values[:, None], late, design.block[order]).series[:, 0], late)
    # One unit off is no other time.
    return found.breaks if found.break_gain > ELSEWHERE and abs(found.breaks) > 1 else 0


def _by_spells(
    rows: pd.DataFrame,
    design: Design,
    order: NDArray[np.int64],
    late: NDArray[np.bool_],
    least: float,
) -> dict[str, float]:
    """p of each place by spells of a main place, where animals keep one from session to session."""
    places = list(dict.fromkeys(rows["place"].dropna()))
    there = (design.of >= 0) & rows["place"].notna().to_numpy()
    if not there.any() or not places:
        return {}
    who = pd.factorize(names_of(rows, "animal").fillna("").astype(str))[0]
    counts = np.zeros((len(design.names), int(who.max()) + 1, len(places)))
    place = rows["place"].map({name: i for i, name in enumerate(places)})
    np.add.at(
        counts, (design.of[there], who[there], place[there].to_numpy(np.int64)), rows["weight"].to_numpy(float)[there]
    )  # fmt: skip
    seen: Floats = counts[order][counts[order].sum(axis=(1, 2)) > 0]
    kept = order[counts[order].sum(axis=(1, 2)) > 0]
    try:
        found = spell_change(seen, design.late[kept], design.block[kept])
    except ValueError:
        return {}
    return dict(zip(places, map(float, found.p), strict=True)) if found.persists > least else {}
