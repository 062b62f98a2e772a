"""What the choice model's curves come to: shape, top, edge, and whether that holds at every look and at every hour."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...stats.arrays import Floats
from ...stats.choice import FlexibleCurve, PreferenceFit
from ...stats.curves import (
    ChoiceRows,
    Edge,
    Top,
    TwoLines,
    daily_part,
    edge_of,
    hour_terms,
    top_set,
    two_lines,
)
from ..effort import Effort
from ..finding import standing
from .judge import EDGE_BORNE_OUT, Curve, verdicts
from .model import Alternatives, bent_otherwise, fit_curves, shapes_of
from .shape import PEAKED, CurveShape

# From this part of the change within zones on, a daily cycle carries it: then places are let swing with the hour.
CYCLE_CARRIES = 0.5


@dataclass(frozen=True, slots=True)
class Curves:
    """The fits of the model with what is made of them, ``each`` in the order of the model's quantities."""

    model: Alternatives
    fit: PreferenceFit
    each: tuple[Curve, ...]

    @property
    def verdicts(self) -> list[str]:
        return [curve.verdict for curve in self.each]


def read_curves(model: Alternatives, did: Effort) -> Curves | None:
    """Every quantity's curve; None where nothing can be fitted."""
    quantities = list(model.quantities)
    fit = fit_curves(model, quantities) if model.kept.any() else None
    if fit is None:
        return None
    shapes = shapes_of(model, fit)
    bends = bent_otherwise(model, shapes)
    by_hour = _by_hour(model, quantities)
    enough = bool(standing(did.sessions, did.days))
    found = [
        _curve(model, fit, i, (shape, bend, by_hour.get(quantity)))
        for i, (quantity, shape, bend) in enumerate(zip(quantities, shapes, bends, strict=True))
    ]
    return Curves(model, fit, verdicts(found, fit, enough))


def _curve(
    model: Alternatives,
    fit: PreferenceFit,
    i: int,
    read: tuple[CurveShape, FlexibleCurve | None, PreferenceFit | None],
) -> Curve:
    shape, bend, by_hour = read
    plain, places = _rows(model, i, False), _rows(model, i, True)
    top, other = _tops(shape, plain, places)
    return Curve(
        i, shape, bend, top=top, other=other, lines=_lines(fit, i, shape, plain),
        edge=_edge(fit, i, (plain, places)) if shape.moved else None, by_hour=by_hour,
    )  # fmt: skip


def _rows(model: Alternatives, i: int, constants: bool) -> tuple[Floats, ChoiceRows]:
    """The values of a quantity, and what stands beside it: the others' parabolas, cover, a constant a place."""
    rest = np.delete(model.x - np.median(model.x, axis=0), i, axis=1)
    used = np.unique(model.place[model.chosen > 0])
    there = np.isin(model.place, used) if constants else np.ones(len(model.place), bool)
    dummies = [(model.place[:, None] == used[1:]).astype(float)] if constants else []
    others = np.column_stack([rest, rest**2, model.extra, *dummies])[there]
    rows = ChoiceRows(
        others, model.moment[there], model.chosen[there], model.log_share[there], model.cluster[there]
    )
    return model.x[there, i], rows


def _tops(
    shape: CurveShape, plain: tuple[Floats, ChoiceRows], places: tuple[Floats, ChoiceRows]
) -> tuple[Top | None, Top | None]:
    """Where a curve with a top has it by the fit that speaks, and by the other one; None where there is none."""
    if shape.peak is None:
        return None, None
    by_plain = _top(plain)
    by_places = _top(places) if shape.constants is not None else None
    return (by_places, by_plain) if shape.by_places else (by_plain, by_places)


def _top(of: tuple[Floats, ChoiceRows]) -> Top | None:
    try:
        return top_set(*of)
    except (ValueError, np.linalg.LinAlgError):
        return None


def _lines(
    fit: PreferenceFit, i: int, shape: CurveShape, plain: tuple[Floats, ChoiceRows]
) -> TwoLines | None:
    """Two lines that meet at the parabola's top, where one is claimed."""
    (slope, bend), _ = fit.curve(i)
    if PEAKED not in (shape.shape, shape.plain_shape) or not bend < 0:
        return None
    at = float(np.clip(fit.centre[i] - slope / (2 * bend), fit.low[i], fit.high[i]))
    try:
        return two_lines(*plain, at)
    except (ValueError, np.linalg.LinAlgError):
        return None


def _edge(fit: PreferenceFit, i: int, both: Sequence[tuple[Floats, ChoiceRows]]) -> Edge | None:
    """The edge by all differences between places, where what changed within places does not speak against it."""
    (values, plain), (inside, places) = both
    try:
        found = edge_of(values, plain, (float(fit.low[i]), float(fit.high[i])))
        if found is None:
            return None
        sign = 1 if found.side == "high" else -1
        lines = two_lines(sign * inside, places, sign * found.value)
    except (ValueError, np.linalg.LinAlgError):
        return None
    return found if lines.p(lines.t_fall) <= EDGE_BORNE_OUT else None


def _by_hour(model: Alternatives, quantities: Sequence[str]) -> dict[str, PreferenceFit | None]:
    """For each quantity whose change within zones is that of the day: the fits in which places may swing with it."""
    daily = [
        q for q in quantities
        if daily_part(model.column(q), model.moment, model.place, model.hour) >= CYCLE_CARRIES
    ]  # fmt: skip
    if not daily:
        return {}
    swing = hour_terms(model.place, model.chosen, model.hour)
    return dict.fromkeys(daily, fit_curves(model, quantities, swing=swing))
