"""The choice model of one answer: which quantities enter, its terms, and the fits with and without places."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..stats.choice import ChoiceFit, fit_choice
from ..tables.choices import Choices

Floats = NDArray[np.float64]
# A quantity enters the model where it is known in two zones or more at this part of the moments.
LEAST_KNOWN = 0.5


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Rows of the model: one for each moment and zone on offer with known conditions.

    ``kept`` marks the moments that enter; ``centre`` is what each quantity was shifted by.
    """

    quantities: tuple[str, ...]
    moment: NDArray[np.int64]
    zone: NDArray[np.int64]
    place: NDArray[np.int64]
    chosen: Floats
    log_share: Floats
    cluster: NDArray[np.int64]
    values: Mapping[str, Floats]
    centre: Mapping[str, float]
    cover: Floats
    kept: NDArray[np.bool_]


def known_quantities(chosen: Choices, names: Sequence[str]) -> list[str]:
    """The quantities logged in two zones or more at most moments, in the order given."""
    good = []
    for name in names:
        values = chosen.conditions.get(name)
        if values is not None and len(values):
            several = (~np.isnan(values) & (chosen.offered > 0)).sum(axis=1) >= 2
            if several.mean() >= LEAST_KNOWN:
                good.append(name)
    return good


def alternatives(chosen: Choices, quantities: Sequence[str], units: NDArray[np.int64]) -> Alternatives:
    """Lay choices out as rows. A zone without conditions leaves the choice set of that moment; a moment in
    which the zone used has none, or no other zone has any, is left out."""
    there = chosen.offered > 0
    for name in quantities:
        there &= ~np.isnan(chosen.conditions[name])
    moments = np.arange(len(chosen))
    kept = there[moments, chosen.chosen] & (there.sum(axis=1) >= 2)
    row, zone = np.nonzero(there & kept[:, None])
    names = list(dict.fromkeys(chosen.places))
    to_place = np.array([names.index(p) for p in chosen.places])
    weight = chosen.rows["weight"].to_numpy(float)
    centre = {q: float(chosen.conditions[q][row, zone].mean()) if len(row) else 0.0 for q in quantities}
    return Alternatives(
        quantities=tuple(quantities),
        moment=row,
        zone=zone,
        place=to_place[zone],
        chosen=np.where(zone == chosen.chosen[row], weight[row], 0.0),
        log_share=np.log(chosen.offered[row, zone]),
        cluster=units[row],
        values={q: chosen.conditions[q][row, zone] - centre[q] for q in quantities},
        centre=centre,
        cover=chosen.cover[row, zone],
        kept=kept,
    )


def fit(rows: Alternatives, constants: bool) -> ChoiceFit:
    """Fit the model: each quantity and its square, cover where every zone is rated, a constant per place."""
    columns: list[Floats] = []
    terms: list[str] = []
    for name in rows.quantities:
        columns += [rows.values[name], rows.values[name] ** 2]
        terms += [name, f"{name}^2"]
    if constants:
        # A place never used has no finite constant; it is fitted as the rest are, without one of its own.
        used = [p for p in np.unique(rows.place) if rows.chosen[rows.place == p].sum() > 0]
        for place in used[1:]:
            columns.append((rows.place == place).astype(float))
            terms.append(f"place {place}")
    elif not np.isnan(rows.cover).any() and np.ptp(rows.cover) > 0:
        columns.append(rows.cover)
        terms.append("cover")
    return fit_choice(
        np.column_stack(columns),
        rows.moment,
        rows.chosen,
        offset=rows.log_share,
        cluster=rows.cluster,
        terms=terms,
    )


def two_terms(found: ChoiceFit, quantity: str) -> tuple[Floats, Floats] | None:
    """A quantity's linear and squared coefficient with their jackknife covariance; None where not known."""
    i = found.terms.index(quantity)
    block = slice(i, i + 2)
    if not found.estimable[block].all() or not np.isfinite(found.cov_cr3[block, block]).all():
        return None
    return found.coef[block], found.cov_cr3[block, block]
