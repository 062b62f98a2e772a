"""The rows of the choice models: one for each moment and zone on offer with known conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.choice.place_or_climate import PlaceFit, fit_places
from ...stats.choice.preference import PreferenceFit, fit_preference
from ...study.model import Declaration
from ...tables.availability import places_of
from ...tables.choices import Choices

Floats = NDArray[np.float64]
# A quantity enters the model where it is known in two zones or more at this part of the moments.
LEAST_KNOWN = 0.5


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Rows of the model. ``place`` indexes ``places``; ``x`` is rows x quantities.

    ``extra`` holds cover where every zone on offer is rated, else no column; ``kept`` marks the moments
    that enter, ``stayed`` the place the animal was last seen in within its session.
    """

    quantities: tuple[str, ...]
    places: tuple[str, ...]
    extras: tuple[str, ...]
    moment: NDArray[np.int64]
    place: NDArray[np.int64]
    chosen: Floats
    log_share: Floats
    cluster: NDArray[np.int64]
    x: Floats
    extra: Floats
    stayed: Floats
    kept: NDArray[np.bool_]

    @property
    def clusters(self) -> int:
        return len(np.unique(self.cluster))

    def column(self, quantity: str) -> Floats:
        """Every value of a quantity that was on offer."""
        return self.x[:, self.quantities.index(quantity)]


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


def alternatives(
    declared: Declaration, chosen: Choices, quantities: Sequence[str], units: NDArray[np.int64]
) -> Alternatives:
    """Lay choices out as rows. A zone without conditions leaves the choice set of that moment; a moment in
    which the zone used has none, or no other zone has any, is left out."""
    there = chosen.offered > 0
    for name in quantities:
        there &= ~np.isnan(chosen.conditions[name])
    moments = np.arange(len(chosen))
    kept = there[moments, chosen.chosen] & (there.sum(axis=1) >= 2)
    row, zone = np.nonzero(there & kept[:, None])
    names = places_of(declared)
    to_place = np.array([names.index(p) for p in chosen.places], np.int64)
    weight = chosen.rows["weight"].to_numpy(float)
    cover = chosen.cover[row, zone]
    rated = len(cover) > 0 and not np.isnan(cover).any() and np.ptp(cover) > 0
    return Alternatives(
        quantities=tuple(quantities),
        places=tuple(names),
        extras=("cover",) if rated else (),
        moment=row,
        place=to_place[zone],
        chosen=np.where(zone == chosen.chosen[row], weight[row], 0.0),
        log_share=np.log(chosen.offered[row, zone]),
        cluster=units[row],
        x=np.column_stack([chosen.conditions[q][row, zone] for q in quantities]),
        extra=cover[:, None] if rated else np.zeros((len(row), 0)),
        stayed=(to_place[zone] == _last_place(chosen, to_place)[row]).astype(float),
        kept=kept,
    )


def _last_place(chosen: Choices, to_place: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where each moment's animal was at its moment before in the same session; -1 at the first."""
    here = pd.Series(to_place[chosen.chosen])
    who = chosen.rows["animal"].fillna(chosen.rows["group"])
    before = here.groupby([chosen.rows["session"], who]).shift(1)
    return np.asarray(before.fillna(-1), np.int64)


def fit_curves(model: Alternatives, quantities: Sequence[str], staying: bool = False) -> PreferenceFit | None:
    """Curves in some of the quantities, without and with a constant per place; None where nothing can be fitted.

    ``staying`` adds a term for the place the animal was in the moment before, as a check on the curves.
    """
    extra = np.column_stack([model.extra, model.stayed]) if staying else model.extra
    extras = (*model.extras, "stays where it was") if staying else model.extras
    columns = [model.quantities.index(q) for q in quantities]
    try:
        return fit_preference(
            model.x[:, columns], model.moment, model.place, model.chosen, model.log_share, cluster=model.cluster,
            quantities=quantities, extra=extra, extras=extras,
        )  # fmt: skip
    except (ValueError, np.linalg.LinAlgError):
        return None


def fit_with_places(model: Alternatives) -> PlaceFit | None:
    """Curves and likings of places fitted together; None where nothing can be fitted."""
    try:
        return fit_places(
            model.x, model.moment, model.place, model.chosen, model.log_share, cluster=model.cluster,
            quantities=model.quantities, extra=model.extra, extras=model.extras, zones=len(model.places),
        )  # fmt: skip
    except (ValueError, np.linalg.LinAlgError):
        return None
