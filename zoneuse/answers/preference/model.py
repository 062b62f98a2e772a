"""The rows of the choice models: one for each moment and zone on offer with known conditions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.choice import (
    FlexibleCurve,
    PlaceFit,
    PreferenceFit,
    Turned,
    fit_places,
    fit_preference,
    flexible_curve,
    sessions_turned,
)
from ...study import Declaration
from ...tables import Choices, places_of
from .shape import CurveShape, bears_out, constants_tell_little, curve_shape

# A quantity enters the model where it is known in two zones or more at this part of the moments.
LEAST_KNOWN = 0.5
# And where it is known in all but this part of the zones and moments that the best known quantity has.
MOST_LOST = 0.2


@dataclass(frozen=True, slots=True)
class Alternatives:
    """Rows of the model. ``place`` indexes ``places``; ``x`` is rows x quantities.

    ``extra`` holds cover where every zone on offer is rated, else no column; ``kept`` marks the moments
    that enter, ``stayed`` the place the animal was last seen in within its session, ``hour`` is that of the clock.
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
    hour: Floats

    @property
    def clusters(self) -> int:
        return len(np.unique(self.cluster))

    def column(self, quantity: str) -> Floats:
        """Every value of a quantity that was on offer."""
        return self.x[:, self.quantities.index(quantity)]


def known_quantities(chosen: Choices, names: Sequence[str]) -> list[str]:
    """The quantities logged in two zones or more at most moments, in the order given.

    A quantity that few zones have (radiation is logged under the lamp only) would take the others' evidence with
    it: it stays out where the zones without it are more than ``MOST_LOST`` of those that the best known one has.
    """
    known: dict[str, int] = {}
    for name in names:
        values = chosen.conditions.get(name)
        if values is not None and len(values):
            there = ~np.isnan(values) & (chosen.availability > 0)
            if (there.sum(axis=1) >= 2).mean() >= LEAST_KNOWN:
                known[name] = int(there.sum())
    most = max(known.values(), default=0)
    return [name for name, count in known.items() if count >= (1 - MOST_LOST) * most]


def alternatives(
    declared: Declaration, chosen: Choices, quantities: Sequence[str], units: NDArray[np.int64]
) -> Alternatives:
    """Lay choices out as rows. A zone without conditions leaves the choice set of that moment; a moment in
    which the zone used has none, or no other zone has any, is left out."""
    there = chosen.availability > 0
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
        log_share=np.log(chosen.availability[row, zone]),
        cluster=units[row],
        x=np.column_stack([np.zeros((len(row), 0)), *(chosen.conditions[q][row, zone] for q in quantities)]),
        extra=cover[:, None] if rated else np.zeros((len(row), 0)),
        stayed=(to_place[zone] == _last_place(chosen, to_place)[row]).astype(float),
        kept=kept,
        hour=chosen.rows["hour"].to_numpy(float)[row],
    )


def _last_place(chosen: Choices, to_place: NDArray[np.int64]) -> NDArray[np.int64]:
    """Where each moment's animal was at its moment before in the same session; -1 at the first."""
    here = pd.Series(to_place[chosen.chosen])
    who = chosen.rows["animal"].fillna(chosen.rows["group"])
    before = here.groupby([chosen.rows["session"], who]).shift(1)
    return np.asarray(before.fillna(-1), np.int64)


def fit_curves(
    model: Alternatives, quantities: Sequence[str], staying: bool = False, swing: Floats | None = None
) -> PreferenceFit | None:
    """Curves in some of the quantities, without and with a constant per place; None where nothing can be fitted.

    As checks on the curves ``staying`` adds a term for the place the animal was in the moment before, ``swing`` (rows
    x terms) what lets places be liked by the hour.
    """
    extra, extras = model.extra, model.extras
    if staying:
        extra, extras = np.column_stack([extra, model.stayed]), (*extras, "stays where it was")
    if swing is not None:
        extra = np.column_stack([extra, swing])
        extras = (*extras, *(f"hour {i}" for i in range(swing.shape[1])))
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


def shapes_of(model: Alternatives, fit: PreferenceFit) -> list[CurveShape]:
    """The shape of each quantity's curve; with likings drawn towards zero where free constants tell little."""
    shapes = [curve_shape(fit, i) for i in range(len(fit.quantities))]
    open_ones = [i for i, shape in enumerate(shapes) if constants_tell_little(fit, i, shape)]
    likings = fit_with_places(model) if open_ones else None
    if likings is None:
        return shapes
    for i in open_ones:
        shapes[i] = curve_shape(fit, i, likings=likings.curve(i))
    return shapes


def bent_otherwise(model: Alternatives, shapes: Sequence[CurveShape]) -> list[FlexibleCurve | None]:
    """By quantity the curve that bends as it likes, beside the other quantities' parabolas.

    With a constant per place where the gradient moved, so that a liking of places does not pass for a bend.
    """
    centred = model.x - np.median(model.x, axis=0)
    used = np.unique(model.place[model.chosen > 0])
    there = np.isin(model.place, used)
    constants = (model.place[:, None] == used[1:]).astype(float)
    found: list[FlexibleCurve | None] = []
    for i, shape in enumerate(shapes):
        rest = np.delete(centred, i, axis=1)
        rows = there if shape.moved else np.ones(len(there), bool)
        others = [rest, rest**2, model.extra, *([constants] if shape.moved else [])]
        # Five places that never change tell five numbers: a parabola and two bends.
        most = 3 if shape.moved else max(len(np.unique(model.place)) - 3, 0)
        try:
            curve = flexible_curve(
                model.x[rows, i], np.column_stack(others)[rows], model.moment[rows], model.chosen[rows],
                model.log_share[rows], cluster=model.cluster[rows], most=most,
            )  # fmt: skip
        except (ValueError, np.linalg.LinAlgError):
            curve = None
        found.append(curve)
    return found


def sessions_to_part(model: Alternatives, quantity: int, seed: int) -> Turned | None:
    """Sessions with the gradient turned round that would part a quantity from the places, by simulation."""
    try:
        return sessions_turned(
            model.x[:, quantity],
            model.moment,
            model.place,
            model.chosen,
            model.log_share,
            cluster=model.cluster,
            bears_out=bears_out,
            seed=seed,
        )
    except (ValueError, np.linalg.LinAlgError):
        return None
