"""Which temperature and humidity are chosen when there is a choice, and is it that or the place."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...journal.reader import Journals
from ...readings.trust.moisture import vpd_kpa
from ...stats.choice.preference import CurveShape, PreferenceFit, curve_shape
from ...study.model import Declaration
from ...tables.choices import Choices, choices
from ...tables.conditions import Readings
from ...tables.phases import adjustments
from ..answer import Answer
from ..columns import Column
from ..effort import Effort, effort, unit_codes, usual_cluster
from ..filters import Filters, select
from ..finding import TOO_EARLY, Finding, standing
from ..plain import rows as rows_of
from ..quantities_said import label
from ..question import labels_of
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
)  # fmt: skip
from .why import Change, forecast, why_avoided
from .words import cautions, finding, headline, why_said

# Vapour pressure deficit follows from the first two; it is offered as another model, not beside them.
MODELLED = ("temperature_c", "humidity_pct", "surface_c", "light_lux", "uv_index", "soil_moisture_pct")
COLUMNS = [
    "quantity", "shape", "peak", "peak_low", "peak_high", "offered_low", "offered_high",
    "used_median", "used_q25", "used_q75",
]  # fmt: skip
SHOWN = (
    Column("quantity", "Quantity"),
    Column("shape", "Shape"),
    Column("peak", "Peak", "number"),
    Column("peak", "95 %", "number-range"),
    Column("offered", "Offered", "number-range", narrow=False),
    Column("used_median", "Used", "number"),
    Column("used_q25", "from", "number", narrow=False),
    Column("used_q75", "to", "number", narrow=False),
)


def preference(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    availability: str = "measured",
    what_if: Change | None = None,
    sessions: int | None = None,
    compare: bool = True,
    seed: int = 1,
    readings: Readings | None = None,
) -> Answer:
    """Fit where the animals were against where they could have been at the same moments.

    A discrete choice model (McFadden 1974) in each logged quantity and its square, offset by the log of
    each zone's share of what is offered, with errors by independent unit (jackknife), without and with a
    constant per place. ``what_if`` changes one zone's condition and adds the shares expected in
    ``sessions`` sessions (default: as many as so far) to ``parts``. Without ``compare`` models of fewer and other
    quantities are not held against this one. Raises ProblemError where that change
    lies outside what was offered.
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    did = effort(rows, journals, unit)
    chosen = choices(declared, rows, adjustments(journals), equal=availability == "equal", readings=readings)
    quantities = known_quantities(chosen, MODELLED)
    if not quantities:
        return _nothing(declared, did, chosen)
    units = unit_codes(chosen.rows, unit)
    model = alternatives(declared, chosen, quantities, units)
    fit = fit_curves(model, quantities) if model.kept.any() else None
    if fit is None:
        return _nothing(declared, did, chosen)
    staying = fit_curves(model, quantities, staying=True)
    labels = {**labels_of(declared), **{q: label(q) for q in quantities}}
    against = used_against_offered(chosen, list(quantities), units)
    shapes = [curve_shape(fit, i) for i in range(len(quantities))]
    grade = standing(did.sessions, did.days)
    table = _table(chosen, fit, shapes, grade)
    findings = [
        finding(declared, row, shape, grade, apart, did)
        for row, shape, apart in zip(rows_of(table), shapes, rows_of(against), strict=True)
    ]
    why = why_avoided(declared, rows, model, unit, availability == "equal", seed)
    told = why_said(why, labels)
    expected = forecast(declared, model, what_if, sessions, seed, labels, unit) if what_if else None
    return Answer(
        answer="prefer",
        study=declared.title,
        table=table,
        findings=tuple(findings),
        cautions=cautions(declared, rows, chosen, model, fit),
        effort=did.to_dict() | {"moments_with_conditions": int(model.kept.sum())},
        parts={
            "used_against_offered": against,
            "bins": used_by_bins(model),
            "used_ranges": used_ranges(chosen, model.quantities),
            "terms": pd.concat(
                [
                    terms(fit.plain, "plain"),
                    terms(fit.constants, "with a constant per place"),
                    terms(staying.plain if staying else None, "with staying where it was"),
                ]
            ),
            "told_apart": told_apart(model),
            "peak_sets": _peak_sets(fit, shapes),
            "evidence_within_zones": pd.DataFrame({"quantity": fit.quantities, "within": fit.within}),
            **({"models": compared_models(model, _deficit(model))} if compare else {}),
            "set_range": set_range_table(declared, model),
            "why": why,
            **({} if expected is None else {"what_if": expected.table}),
        },
        seed=seed,
        shown=SHOWN,
        labels=labels,
        headline=headline(did, model) + (f" {expected.says}" if expected else ""),
        notes=tuple(told),
    )


def _nothing(declared: Declaration, did: Effort, chosen: Choices) -> Answer:
    seen = len(chosen) > 0
    why = (
        "no moment has known conditions in two zones or more"
        if seen
        else "nothing was seen in what was asked for"
    )
    says = f"Nothing can be said of conditions yet: {why}. Loggers in two zones or more would settle it."
    empty = pd.DataFrame(columns=COLUMNS)
    return Answer(
        "prefer", declared.title, empty, (Finding((), TOO_EARLY, "", says=says),), effort=did.to_dict()
    )


def _table(chosen: Choices, fit: PreferenceFit, shapes: list[CurveShape], grade: str) -> pd.DataFrame:
    rows: list[Mapping[str, Any]] = []
    for i, (quantity, shape) in enumerate(zip(fit.quantities, shapes, strict=True)):
        q25, median, q75 = (float(v) for v in np.percentile(used_values(chosen, quantity), [25, 50, 75]))
        verdict = shape.shape if grade else TOO_EARLY
        peaked = verdict == "peaked" and bool(shape.peak_set)
        ends = (
            (min(a for a, _ in shape.peak_set), max(b for _, b in shape.peak_set))
            if peaked
            else (np.nan, np.nan)
        )
        peak = shape.peak if verdict == "peaked" else np.nan
        values = (quantity, verdict, peak, *ends, float(fit.low[i]), float(fit.high[i]), median, q25, q75)
        rows.append(dict(zip(COLUMNS, values, strict=True)))
    return pd.DataFrame(rows, columns=COLUMNS)


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
