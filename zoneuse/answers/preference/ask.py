"""Which temperature and humidity are chosen when there is a choice, and is it that or the place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from ...readings.trust import vpd_kpa
from ...stats.choice import PreferenceFit, Turned, delta_peak
from ...stats.curves import limits_with_offset
from ...study import QUANTITIES, modelled
from ...tables import Choices, adjustments, choices
from .. import reasons
from ..answer import Answer
from ..columns import empty, typed
from ..effort import unit_codes
from ..finding import TOO_EARLY, Finding, in_words, notes
from ..nothing import nothing
from ..quantities_said import label
from ..question import Question
from ..showing.plain import rows as rows_of
from .columns import PARTS, ROWS, SHOWN
from .curves import Curves, read_curves
from .judge import Curve, beside_use, finding, never_parted, other_spans, peak_spans, slot_findings
from .measured.bodies import Bodies, bodies
from .measured.loggers import LoggerErrors, logger_errors
from .model import Alternatives, alternatives, fit_curves, known_quantities, sessions_to_part
from .rhythm import rhythms
from .tables import (
    compared_models,
    moisture_models,
    set_range_table,
    term_covariance,
    terms,
    told_apart,
    used_against_offered,
    used_by_bins,
    used_ranges,
)
from .unlogged import unlogged
from .used import COVER, by_animal, here, over_animals, slot_tables, with_cover
from .why import Supposed, forecast, use_of_places, why_avoided
from .words import CLEARLY, cautions, headline, sentence
from .words_beside import beside, first_line, why_said


def preference(
    question: Question,
    *,
    availability: str = "measured",
    what_if: Supposed | None = None,
    sessions: int | None = None,
    compare: bool = True,
) -> Answer:
    """What was used of each condition, over animals; then where they were against where they could have been.

    A discrete choice model (McFadden 1974) in each logged quantity and its square, offset by the log of
    each zone's share of what is offered, with errors by independent unit (jackknife), without and with a
    constant per place, and held against a curve that bends as it likes. ``what_if`` changes one zone's condition
    and adds the shares expected in ``sessions`` sessions (default: as many as so far) to ``parts``. Without
    ``compare`` models of fewer and other quantities are not held against this one; what would part a condition from
    the places is simulated either way where a gradient never moved, since the sentence says it. Raises ProblemError
    where that change lies outside what was offered.
    """
    declared, did, equal = question.declared, question.effort, availability == "equal"
    found = choices(
        declared, question.rows, adjustments(question.journals), equal=equal, readings=question.readings
    )
    chosen, measured = with_cover(found), bodies(question)
    errors = logger_errors(question, chosen, known_quantities(chosen, modelled()))
    curves = _curves(question, errors)
    if curves is None:
        bare = unlogged(question, chosen, measured, what_if, sessions=sessions, equal=equal)
        return _nothing(question, chosen, measured) if bare is None else bare
    model = curves.model
    beside_model = _beside_model(chosen, model)
    labels = {**question.labels, **{q: label(q) for q in (*model.quantities, *beside_model)}}
    told = [*model.quantities, *beside_model]
    against = used_against_offered(chosen, told, unit_codes(chosen.rows, question.unit))
    use = use_of_places(question, equal)
    each = (beside_use(c, row) for c, row in zip(curves.each, rows_of(against), strict=False))
    curves = replace(curves, each=tuple(each))
    table = _table(chosen, curves, told, errors.offset)
    by_slot, apart = slot_tables(chosen, told)
    parting = _parting(question, curves, rows_of(against))
    judged = [
        replace(
            finding(question, row, curves_of, of_offer, parting.get(row["quantity"])),
            compared=len(model.quantities),
        )
        for row, of_offer, curves_of in zip(
            rows_of(table), rows_of(against), [*curves.each, *[None] * len(beside_model)], strict=True
        )
    ] + slot_findings(question, apart)
    why = why_avoided(question, model, use)
    expected = forecast(question, model, what_if, sessions, labels) if what_if else None
    parts = {
        "by_animal": by_animal(chosen, told), "by_slot": by_slot, "slots_apart": apart,
        "rhythm": rhythms(declared, chosen, told), "used_against_offered": against, "bins": used_by_bins(model),
        "used_ranges": used_ranges(chosen, model.quantities), "flexible": _flexible(curves),
        "terms": _terms(model, curves.fit, list(model.quantities)), "parting": _parting_table(parting),
        "term_covariance": term_covariance(curves.fit),
        "told_apart": told_apart(model), "peak_sets": _peak_sets(curves),
        "tests": _tests(curves),
        "evidence_within_zones": pd.DataFrame({"quantity": curves.fit.quantities, "within": curves.fit.within}),
        **({"models": compared_models(model, _deficit(model))} if compare else {}),
        "moisture_models": moisture_models(model, _deficit(model), _humidity_off(question)),
        "set_range": set_range_table(declared, model), "bodies": measured.each, "body_indices": measured.indices,
        "why": why, **({} if expected is None else {"what_if": expected.table}),
    }  # fmt: skip
    parts = {name: typed(part, PARTS[name], labels) for name, part in parts.items()}
    said = " ".join(
        s for s in (measured.says, first_line(question, rows_of(table)), headline(did, model)) if s
    )
    return Answer(
        answer="prefer",
        study=declared.title,
        filters=question.filters,
        table=typed(table, ROWS, labels),
        findings=in_words(judged, lambda f: sentence(f, declared.fahrenheit)),
        cautions=(
            *cautions(question, chosen, model, curves.fit, apart), *errors.cautions, *measured.cautions,
        ),
        effort=did.to_dict() | {"moments_with_conditions": int(model.kept.sum())},
        parts=parts,
        seed=question.seed,
        shown=SHOWN,
        labels=labels,
        headline=said + (f" {expected.says}" if expected else ""),
        notes=(*beside(question, parts, use, curves.verdicts), *notes(*why_said(why, labels))),
    )  # fmt: skip


def _curves(question: Question, errors: LoggerErrors) -> Curves | None:
    chosen = errors.chosen
    quantities = errors.quantities
    if not quantities:
        return None
    model = alternatives(question.declared, chosen, quantities, unit_codes(chosen.rows, question.unit))
    found = read_curves(model, question.effort)
    if found is None or not errors.in_sun:
        return found
    # What rests on a logger in the sun is never fairly sure.
    each = (
        replace(c, holds=c.holds and q != "temperature_c")
        for q, c in zip(quantities, found.each, strict=True)
    )
    return replace(found, each=tuple(each))


def _beside_model(chosen: Choices, model: Alternatives) -> list[str]:
    """Conditions known somewhere that the model has no curve for: not logged everywhere, or the keeper's cover."""
    return [
        q for q in (*modelled(), COVER)
        if q not in model.quantities and q in chosen.conditions and not np.isnan(here(chosen, q)).all()
    ]  # fmt: skip


def _nothing(question: Question, chosen: Choices, measured: Bodies) -> Answer:
    reason = reasons.NO_READINGS if len(chosen) else reasons.NOTHING_SEEN
    facts = {"nothing": nothing(question)}
    found = (Finding((), TOO_EARLY, reason=reason, unit=question.unit, facts=facts),)
    declared, labels = question.declared, question.labels
    parts = {"bodies": measured.each, "body_indices": measured.indices} if measured.says else {}
    return Answer(
        "prefer", declared.title, empty(ROWS), in_words(found, lambda f: sentence(f, declared.fahrenheit)),
        effort=question.effort.to_dict(), filters=question.filters, headline=measured.says, labels=labels,
        cautions=measured.cautions,
        parts={name: typed(part, PARTS[name], labels) for name, part in parts.items()},
    )  # fmt: skip


def _table(chosen: Choices, curves: Curves, told: list[str], offset: Mapping[str, float]) -> pd.DataFrame:
    used = over_animals(by_animal(chosen, told))
    rows: list[dict[str, Any]] = []
    for i, quantity in enumerate(told):
        row: dict[str, Any] = {
            "quantity": quantity,
            "shape": TOO_EARLY,
            "peak": np.nan,
            "peak_low": np.nan,
            "peak_high": np.nan,
            "edge": np.nan,
            "edge_low": np.nan,
            "edge_high": np.nan,
            "n_eff": np.nan,
            "df": np.nan,
            "se": np.nan,
        }
        offered = chosen.conditions[quantity][
            (chosen.availability > 0) & ~np.isnan(chosen.conditions[quantity])
        ]
        if i < len(curves.each):
            curve = curves.each[i]
            offered = curves.model.column(quantity)
            row |= {"shape": curve.verdict} | _peak_of(curve) | _edge_of(curve)
            _with_offset(row, offset.get(quantity, 0.0))
            fit = curves.fit
            row |= {"n_eff": fit.plain.clusters / fit.serial, "df": fit.degrees()}
            if not np.isnan(row["peak"]):
                row["se"] = delta_peak(*fit.curve(i, constants=curve.shape.by_places)).se
        low, high = np.quantile(offered, [0.05, 0.95])
        rows.append(row | {"offered_low": float(low), "offered_high": float(high)} | used[quantity])
    return pd.DataFrame(rows)


def _peak_of(curve: Curve) -> dict[str, float]:
    """Where the top is, where one is named or would be but for the places."""
    if curve.shape.peak is None or curve.verdict not in ("peaked", TOO_EARLY):
        return {}
    spans, top = peak_spans(curve), curve.top
    # Where the sides are not clearly unlike the parabola's top is the steadier estimate; the limits allow for both.
    peak = curve.shape.peak if top is None or top.value is None or abs(top.skew) <= CLEARLY else top.value
    low, high = min((a for a, _ in spans), default=np.nan), max((b for _, b in spans), default=np.nan)
    return {"peak": float(np.clip(peak, low, high)), "peak_low": low, "peak_high": high}


def _with_offset(row: dict[str, Any], offset: float) -> None:
    """Limits that allow for loggers that are off for good, cut to what was offered."""
    for name in ("peak", "edge"):
        value, low, high = row[name], row[f"{name}_low"], row[f"{name}_high"]
        if not np.isnan(value):
            row[f"{name}_low"], row[f"{name}_high"] = limits_with_offset(value, low, high, offset)


def _edge_of(curve: Curve) -> dict[str, float]:
    edge = curve.edge_shown
    return {} if edge is None else {"edge": edge.value, "edge_low": edge.low, "edge_high": edge.high}


def _parting(question: Question, curves: Curves, against: list[dict[str, Any]]) -> dict[str, Turned]:
    """What would part a quantity from the places, where the gradient never moved and use is not that of the offer."""
    found = {}
    for i, (quantity, curve) in enumerate(zip(curves.model.quantities, curves.each, strict=True)):
        told = never_parted(curve.shape, against[i])
        turned = sessions_to_part(curves.model, i, question.seed) if told else None
        if turned is not None:
            found[quantity] = turned
    return found


def _parting_table(parting: dict[str, Turned]) -> pd.DataFrame:
    rows = [(q, t.sessions, t.chance, t.most) for q, t in parting.items()]
    return pd.DataFrame(rows, columns=["quantity", "sessions", "chance", "most"])


def _flexible(curves: Curves) -> pd.DataFrame:
    parts = [
        pd.DataFrame(
            {"quantity": q, "value": b.x, "log_odds": b.curve, "low": b.low, "high": b.high, "p": b.p}
        )
        for q, c in zip(curves.model.quantities, curves.each, strict=True)
        if (b := c.bend) is not None
    ]
    columns = ["quantity", "value", "log_odds", "low", "high", "p"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def _terms(model: Alternatives, fit: PreferenceFit, quantities: list[str]) -> pd.DataFrame:
    staying = fit_curves(model, quantities, staying=True)
    fits = [
        terms(fit.plain, "plain"),
        terms(fit.constants, "with a constant per place"),
        terms(staying.plain if staying else None, "with staying where it was"),
    ]
    return pd.concat(fits, ignore_index=True)


def _peak_sets(curves: Curves) -> pd.DataFrame:
    """The 95 % set of turning points inside what was offered, of both fits, printed in every study."""
    places, plain = "with a constant per place", "plain"
    rows = [
        (quantity, name, speaks, low, high)
        for quantity, curve in zip(curves.model.quantities, curves.each, strict=True)
        for name, spans, speaks in (
            (places if curve.shape.by_places else plain, peak_spans(curve), True),
            (plain if curve.shape.by_places else places, other_spans(curve), False),
        )
        for low, high in spans
    ]
    return pd.DataFrame(rows, columns=["quantity", "fit", "speaks", "low", "high"])


def _tests(curves: Curves) -> pd.DataFrame:
    """How each word was reached: a difference is claimed only where the limits beside it leave out none."""
    rows, unknown = [], (np.nan,) * 3
    for quantity, curve in zip(curves.model.quantities, curves.each, strict=True):
        shape, lines, bend = curve.shape, curve.lines, curve.bend
        tops = [np.nan if ends is None else ends.p_top for ends in (shape.plain, shape.constants)]
        rows.append(
            (quantity, curve.verdict, *(shape.ends or unknown), *(shape.ends_places or unknown), *tops,
             np.nan if lines is None else lines.p_top, np.nan if bend is None else bend.p)
        )  # fmt: skip
    columns = [field.name for field in PARTS["tests"] if not field.label_of]
    return pd.DataFrame(rows, columns=columns)


def _deficit(model: Alternatives) -> np.ndarray[Any, np.dtype[np.float64]] | None:
    """Vapour pressure deficit of each row of the model, where humidity is in it."""
    if "humidity_pct" not in model.quantities or "temperature_c" not in model.quantities:
        return None
    return vpd_kpa(model.column("temperature_c"), model.column("humidity_pct"))


def _humidity_off(question: Question) -> float:
    """What the study's humidity sensors may be off by: the worst that is declared, else what is usual."""
    declared = [logger.accuracy.get("humidity_pct") for logger in question.declared.loggers.values()]
    return max((a for a in declared if a is not None), default=QUANTITIES["humidity_pct"].accuracy)
