"""Which temperature and humidity are chosen when there is a choice, and is it that or the place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...readings.trust.moisture import vpd_kpa
from ...stats.choice.preference import CurveShape, PreferenceFit, curve_shape
from ...study.quantities import modelled
from ...tables.choices import Choices, choices
from ...tables.phases import adjustments
from .. import reasons
from ..answer import Answer
from ..columns import empty, typed
from ..effort import unit_codes
from ..finding import TOO_EARLY, Finding, in_words, notes, standing
from ..phrases import under
from ..plain import rows as rows_of
from ..quantities_said import label
from ..question import Question
from .columns import PARTS, ROWS, SHOWN
from .judge import finding, holds
from .model import Alternatives, alternatives, fit_curves, known_quantities
from .tables import (
    compared_models,
    set_range_table,
    terms,
    told_apart,
    used_against_offered,
    used_by_bins,
    used_ranges,
    used_values,
)
from .why import Change, forecast, why_avoided
from .words import cautions, headline, sentence, why_said


def preference(
    question: Question,
    *,
    availability: str = "measured",
    what_if: Change | None = None,
    sessions: int | None = None,
    compare: bool = True,
) -> Answer:
    """Fit where the animals were against where they could have been at the same moments.

    A discrete choice model (McFadden 1974) in each logged quantity and its square, offset by the log of
    each zone's share of what is offered, with errors by independent unit (jackknife), without and with a
    constant per place. ``what_if`` changes one zone's condition and adds the shares expected in
    ``sessions`` sessions (default: as many as so far) to ``parts``. Without ``compare`` models of fewer and other
    quantities are not held against this one. Raises ProblemError where that change
    lies outside what was offered.
    """
    declared, did, equal = question.declared, question.effort, availability == "equal"
    changes = adjustments(question.journals)
    chosen = choices(declared, question.rows, changes, equal=equal, readings=question.readings)
    quantities = known_quantities(chosen, modelled())
    units = unit_codes(chosen.rows, question.unit)
    model = alternatives(declared, chosen, quantities, units) if quantities else None
    fit = fit_curves(model, quantities) if model is not None and model.kept.any() else None
    if model is None or fit is None:
        return _nothing(question, chosen)
    labels = {**question.labels, **{q: label(q) for q in quantities}}
    against = used_against_offered(chosen, list(quantities), units)
    shapes = [curve_shape(fit, i) for i in range(len(quantities))]
    held = [holds(fit, i, shape) for i, shape in enumerate(shapes)]
    table = _table(chosen, fit, shapes, standing(did.sessions, did.days))
    found = [
        finding(question, row, shape, apart, compared=len(shapes), sure=sure)
        for row, shape, apart, sure in zip(rows_of(table), shapes, rows_of(against), held, strict=True)
    ]
    why = why_avoided(question, model, equal)
    expected = forecast(question, model, what_if, sessions, labels) if what_if else None
    parts = {
        "used_against_offered": against, "bins": used_by_bins(model),
        "used_ranges": used_ranges(chosen, model.quantities), "terms": _terms(model, fit, quantities),
        "told_apart": told_apart(model), "peak_sets": _peak_sets(fit, shapes),
        "evidence_within_zones": pd.DataFrame({"quantity": fit.quantities, "within": fit.within}),
        **({"models": compared_models(model, _deficit(model))} if compare else {}),
        "set_range": set_range_table(declared, model), "why": why,
        **({} if expected is None else {"what_if": expected.table}),
    }  # fmt: skip
    return Answer(
        answer="prefer",
        study=declared.title,
        filters=question.filters,
        table=typed(table, ROWS, labels),
        findings=in_words(found, lambda f: sentence(f, declared.fahrenheit)),
        cautions=cautions(question, chosen, model, fit),
        effort=did.to_dict() | {"moments_with_conditions": int(model.kept.sum())},
        parts={name: typed(part, PARTS[name], labels) for name, part in parts.items()},
        seed=question.seed,
        shown=SHOWN,
        labels=labels,
        headline=under(question, headline(did, model)) + (f" {expected.says}" if expected else ""),
        notes=notes(*why_said(why, labels)),
    )


def _nothing(question: Question, chosen: Choices) -> Answer:
    reason = reasons.NO_READINGS if len(chosen) else reasons.NOTHING_SEEN
    found = (Finding((), TOO_EARLY, reason=reason, unit=question.unit),)
    declared = question.declared
    return Answer(
        "prefer", declared.title, empty(ROWS), in_words(found, lambda f: sentence(f, declared.fahrenheit)),
        effort=question.effort.to_dict(), filters=question.filters,
    )  # fmt: skip


def _terms(model: Alternatives, fit: PreferenceFit, quantities: list[str]) -> pd.DataFrame:
    staying = fit_curves(model, quantities, staying=True)
    fits = [
        terms(fit.plain, "plain"),
        terms(fit.constants, "with a constant per place"),
        terms(staying.plain if staying else None, "with staying where it was"),
    ]
    return pd.concat(fits, ignore_index=True)


def _table(chosen: Choices, fit: PreferenceFit, shapes: list[CurveShape], grade: str) -> pd.DataFrame:
    rows: list[Mapping[str, Any]] = []
    for i, (quantity, shape) in enumerate(zip(fit.quantities, shapes, strict=True)):
        q25, median, q75 = (float(v) for v in np.percentile(used_values(chosen, quantity), [25, 50, 75]))
        verdict = shape.shape if grade else TOO_EARLY
        peaked = verdict == "peaked"
        ends = (np.nan, np.nan)
        if peaked and shape.peak_set:
            ends = min(a for a, _ in shape.peak_set), max(b for _, b in shape.peak_set)
        rows.append(
            {"quantity": quantity, "shape": verdict, "peak": shape.peak if peaked else np.nan, "peak_low": ends[0],
             "peak_high": ends[1], "offered_low": float(fit.low[i]), "offered_high": float(fit.high[i]),
             "used_median": median, "used_q25": q25, "used_q75": q75}
        )  # fmt: skip
    return pd.DataFrame(rows)


def _peak_sets(fit: PreferenceFit, shapes: list[CurveShape]) -> pd.DataFrame:
    """The 95 % set of turning points inside what was offered, printed in every study."""
    rows = [
        (quantity, name, low, high)
        for quantity, shape in zip(fit.quantities, shapes, strict=True)
        for name, spans in (("with a constant per place", shape.peak_set), ("plain", shape.peak_set_plain))
        for low, high in spans
    ]
    return pd.DataFrame(rows, columns=["quantity", "fit", "low", "high"])


def _deficit(model: Alternatives) -> np.ndarray[Any, np.dtype[np.float64]] | None:
    """Vapour pressure deficit of each row of the model, where humidity is in it."""
    if "humidity_pct" not in model.quantities or "temperature_c" not in model.quantities:
        return None
    return vpd_kpa(model.column("temperature_c"), model.column("humidity_pct"))
