"""Which temperature and humidity are chosen when there is a choice."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ..journal.reader import Journals
from ..stats.choice import ChoiceFit
from ..stats.peaks import Span, cut_to_offered, fieller_peak, p_end_to_end_rise, two_ends
from ..stats.quantiles import t_quantile
from ..study.model import Declaration
from ..tables.choices import Choices, choices
from ..tables.phases import adjustments
from .answer import TOO_EARLY, Answer, Caution, Column, Finding, standing
from .answer import rows as rows_of
from .chosen_model import Alternatives, alternatives, fit, known_quantities, two_terms
from .evidence import (
    Effort,
    Filters,
    counted,
    effort,
    labels_of,
    select,
    speaks_for,
    unit_codes,
    usual_cluster,
)
from .quantities_said import in_unit, label, said

Floats = NDArray[np.float64]
PEAKED, RISING, FALLING, FLAT = "peaked", "rising", "falling", "flat"
# Vapour pressure deficit and dew point follow from the first two; they are not told apart from them here.
MODELLED = ("temperature_c", "humidity_pct", "surface_c", "light_lux", "uv_index", "soil_moisture_pct")
# How a place with more or less of a quantity is called.
WORDS = {
    "temperature_c": ("warmer", "cooler"),
    "surface_c": ("warmer", "cooler"),
    "humidity_pct": ("moister", "drier"),
    "soil_moisture_pct": ("moister", "drier"),
    "light_lux": ("brighter", "darker"),
}
ALPHA, ALPHA_CONSTANTS = 0.05, 0.20
FLAT_WITHIN = np.log(1.5)
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


@dataclass(frozen=True, slots=True)
class Shape:
    """What a fitted curve looks like inside what was offered (5th to 95th percentile)."""

    verdict: str
    peak: float = float("nan")
    peak_set: tuple[Span, ...] = ()
    place: bool = False


def preference(
    declared: Declaration,
    journals: Journals,
    moments: pd.DataFrame,
    filters: Filters,
    *,
    cluster: str | None = None,
    availability: str = "measured",
) -> Answer:
    """Fit where the animals were against where they could have been at the same moments.

    A discrete choice model (McFadden 1974) in each logged quantity and its square, offset by the log of
    each zone's share of what is offered, with errors by independent unit (jackknife).
    """
    rows = select(moments, filters)
    unit = cluster or usual_cluster(rows)
    did = effort(rows, journals, unit)
    chosen = choices(declared, rows, adjustments(journals), equal=availability == "equal")
    quantities = known_quantities(chosen, MODELLED)
    if not quantities:
        return _nothing(declared, did, chosen)
    units = unit_codes(chosen.rows, unit)
    model = alternatives(chosen, quantities, units)
    plain, constants = _fits(model)
    degrees = len(np.unique(units[model.kept])) - 1
    grade = standing(did.sessions, did.days)
    against = _used_against_offered(chosen, quantities, units)
    table, findings, sets = _answers(declared, chosen, model, plain, constants, degrees, grade, did, against)
    return Answer(
        answer="prefer",
        study=declared.title,
        table=table,
        findings=findings,
        cautions=_cautions(declared, rows, chosen, model, quantities, plain),
        effort=did.to_dict() | {"moments_with_conditions": int(model.kept.sum())},
        parts={
            "used_against_offered": against,
            "terms": pd.concat([_terms(plain, "plain"), _terms(constants, "with a constant per place")]),
            "peak_sets": sets,
        },
        shown=SHOWN,
        labels={**labels_of(declared), **{q: label(q) for q in quantities}},
        headline=_headline(did, model),
    )


def _nothing(declared: Declaration, did: Effort, chosen: Choices) -> Answer:
    why = (
        "no moment has known conditions in two zones or more"
        if len(chosen) else "nothing was seen in what was asked for"
    )  # fmt: skip
    says = f"Nothing can be said of conditions yet: {why}. Loggers in two zones or more would settle it."
    empty = pd.DataFrame(columns=COLUMNS)
    return Answer("prefer", declared.title, empty, (Finding((), TOO_EARLY, "", says),), effort=did.to_dict())


def _fits(model: Alternatives) -> tuple[ChoiceFit | None, ChoiceFit | None]:
    try:
        return fit(model, constants=False), fit(model, constants=True)
    except ValueError:
        return None, None


def _answers(
    declared: Declaration,
    chosen: Choices,
    model: Alternatives,
    plain: ChoiceFit | None,
    constants: ChoiceFit | None,
    degrees: int,
    grade: str,
    did: Effort,
    against: pd.DataFrame,
) -> tuple[pd.DataFrame, tuple[Finding, ...], pd.DataFrame]:
    rows, findings, sets = [], [], []
    for quantity, apart in zip(model.quantities, rows_of(against), strict=True):
        values = model.values[quantity] + model.centre[quantity]
        low, high = (float(v) for v in np.percentile(values, [5, 95]))
        q25, median, q75 = (float(v) for v in np.percentile(_used(chosen, quantity), [25, 50, 75]))
        shape = _shape(
            quantity, model.centre[quantity], plain, constants, low, high, degrees, len(model.quantities)
        )
        verdict = shape.verdict if grade else TOO_EARLY
        peaked = verdict == PEAKED and bool(shape.peak_set)
        ends = (
            (min(a for a, _ in shape.peak_set), max(b for _, b in shape.peak_set))
            if peaked
            else (np.nan, np.nan)
        )
        peak = shape.peak if verdict == PEAKED else np.nan
        rows.append(
            dict(zip(COLUMNS, (quantity, verdict, peak, *ends, low, high, median, q25, q75), strict=True))
        )
        findings.append(_finding(declared, rows[-1], shape, grade, apart, did))
        sets += [(quantity, a, b) for a, b in shape.peak_set]
    return (
        pd.DataFrame(rows, columns=COLUMNS),
        tuple(findings),
        pd.DataFrame(sets, columns=["quantity", "low", "high"]),
    )


def _used(chosen: Choices, quantity: str) -> Floats:
    values = chosen.conditions[quantity][np.arange(len(chosen)), chosen.chosen]
    return values[~np.isnan(values)]


def _shape(
    quantity: str,
    centre: float,
    plain: ChoiceFit | None,
    constants: ChoiceFit | None,
    low: float,
    high: float,
    degrees: int,
    compared: int,
) -> Shape:
    """The shape that stands in the plain fit and, more loosely, beside a constant for each place."""
    terms = two_terms(plain, quantity) if plain is not None and degrees >= 2 else None
    if terms is None or constants is None:
        return Shape(TOO_EARLY)
    beside = two_terms(constants, quantity)
    spans = fieller_peak(*(beside or terms), degrees)
    inside = cut_to_offered(tuple((a + centre, b + centre) for a, b in spans), low, high)
    bend = float(np.clip(-terms[0][0] / (2 * terms[0][1]) + centre, low, high))
    ends = low - centre, high - centre
    luck, luck_beside = _luck(*terms, *ends, degrees), _luck(*(beside or terms), *ends, degrees)
    for verdict in (PEAKED, RISING, FALLING):
        if luck[verdict] <= ALPHA / compared:
            stands = luck_beside[verdict] <= ALPHA_CONSTANTS
            return Shape(verdict if stands else TOO_EARLY, bend, inside, place=not stands)
    return Shape(FLAT if _is_flat(*terms, *ends, degrees) else TOO_EARLY, bend, inside)


def _luck(coef: Floats, cov: Floats, low: float, high: float, degrees: int) -> dict[str, float]:
    """For each shape, the chance of a curve so much like it by luck alone.

    A peak must rise at the low end and fall at the high one (Lind & Mehlum 2010); a rise or fall is judged
    from end to end, two-sided.
    """
    rise = p_end_to_end_rise(coef, cov, low, high, degrees)
    return {PEAKED: two_ends(coef, cov, low, high, degrees).p_top, RISING: 2 * rise, FALLING: 2 * (1 - rise)}


def _is_flat(coef: Floats, cov: Floats, low: float, high: float, degrees: int) -> bool:
    """Whether the 90 % band of the fitted ratio between any two offered values lies in 0.67 to 1.5."""
    grid = np.linspace(low, high, 21)
    terms = np.column_stack([grid, grid**2])
    apart = terms[:, None, :] - terms[None, :, :]
    log_ratio = apart @ coef
    error = np.sqrt(np.maximum(np.einsum("ijk,kl,ijl->ij", apart, cov, apart), 0.0))
    return bool((np.abs(log_ratio) + t_quantile(0.95, degrees) * error).max() <= FLAT_WITHIN)


def _finding(
    declared: Declaration,
    values: dict[str, Any],
    shape: Shape,
    grade: str,
    apart: dict[str, Any],
    did: Effort,
) -> Finding:
    """One sentence: what is chosen as far as it can be told, then use against offer at the same moments."""
    quantity, verdict, f = values["quantity"], values["shape"], declared.fahrenheit
    name = label(quantity).capitalize()
    offer = f"{said(quantity, values['offered_low'], f)} to {said(quantity, values['offered_high'], f)}"
    higher, lower = WORDS.get(quantity, ("higher", "lower"))
    more = higher if apart["difference"] > 0 else lower
    ends = sorted(abs(in_unit(quantity, apart[k], f, True)) for k in ("difference_low", "difference_high"))
    sure = apart["difference_low"] * apart["difference_high"] > 0
    limits = f"{ends[0]:.1f} to {ends[1]:.1f}" if sure else "it may be none"
    compared = (
        f"{'it was' if did.animals == 1 else 'they were'} in places "
        f"{said(quantity, abs(apart['difference']), f, True)} {more} ({limits}) than the mean of those on offer "
        f"at the same moments ({counted(did.sessions, 'session')} on {counted(did.days, 'day')})"
    )
    if verdict == PEAKED:
        limits = f"{said(quantity, values['peak_low'], f)} to {said(quantity, values['peak_high'], f)}"
        says = (
            f"{name}: places near {said(quantity, values['peak'], f)} ({limits}) are used most; {compared}."
        )
    elif verdict in (RISING, FALLING):
        way = higher if verdict == RISING else lower
        says = f"{name}: the {way} places are chosen, as far as offered ({offer}); {compared}."
    elif verdict == FLAT:
        says = f"{name} makes little difference within {offer}; {compared}."
    elif shape.place and grade:
        says = f"{name}: {compared}. Whether that is the {label(quantity)} or the places themselves cannot be told yet."
    else:
        says = f"{name}: {compared}. What it makes of {offer} cannot be told yet."
    return Finding((quantity,), verdict, grade if verdict != TOO_EARLY else "", says)


def _means(chosen: Choices, quantity: str) -> tuple[float, float]:
    """Mean over moments of the condition where the animal was, and of the mean over the zones there then."""
    values, used = _paired(chosen, quantity)
    weight = chosen.rows["weight"].to_numpy(float)
    both = ~np.isnan(used) & ~np.isnan(values)
    if not both.any():
        return np.nan, np.nan
    return float(np.average(used[both], weights=weight[both])), float(
        np.average(values[both], weights=weight[both])
    )


def _paired(chosen: Choices, quantity: str) -> tuple[Floats, Floats]:
    values = np.where(chosen.offered > 0, chosen.conditions[quantity], np.nan)
    known = (~np.isnan(values)).sum(axis=1)
    offered = np.where(known > 1, np.nansum(values, axis=1) / np.maximum(known, 1), np.nan)
    return offered, values[np.arange(len(chosen)), chosen.chosen]


def _used_against_offered(chosen: Choices, quantities: list[str], units: NDArray[np.int64]) -> pd.DataFrame:
    """By quantity: means over moments, and the difference with its interval over independent units."""
    rows = []
    for quantity in quantities:
        offered, used = _paired(chosen, quantity)
        both = ~np.isnan(offered) & ~np.isnan(used)
        weight = chosen.rows["weight"].to_numpy(float)[both]
        _, code = np.unique(units[both], return_inverse=True)
        total = np.bincount(code, weight)
        apart = np.bincount(code, weight * (used - offered)[both]) / total
        half = (
            t_quantile(0.975, len(apart) - 1) * apart.std(ddof=1) / np.sqrt(len(apart))
            if len(apart) > 1
            else np.inf
        )
        mean_used, mean_offered = _means(chosen, quantity)
        difference = float(apart.mean())
        rows.append(
            (quantity, mean_used, mean_offered, difference, difference - half, difference + half, len(apart))
        )
    return pd.DataFrame(
        rows,
        columns=[
            "quantity",
            "used_mean",
            "offered_mean",
            "difference",
            "difference_low",
            "difference_high",
            "units",
        ],
    )


def _terms(found: ChoiceFit | None, name: str) -> pd.DataFrame:
    if found is None:
        return pd.DataFrame(columns=["fit", "term", "coefficient", "se"])
    return pd.DataFrame({"fit": name, "term": found.terms, "coefficient": found.coef, "se": found.se_cr3})


def _headline(did: Effort, model: Alternatives) -> str:
    left = int((~model.kept).sum())
    without = f"; {left:,} left out for want of readings" if left else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {int(model.kept.sum()):,} moments with "
        f"known conditions in two zones or more{without}. Each {did.cluster} counts once."
    )


def _cautions(
    declared: Declaration,
    rows: pd.DataFrame,
    chosen: Choices,
    model: Alternatives,
    quantities: list[str],
    plain: ChoiceFit | None,
) -> tuple[Caution, ...]:
    cautions = [
        Caution("zone-not-body", "These are conditions in the zone at its logger, not of the animal's body."),
        Caution("speaks-for", speaks_for(declared, rows)),
    ]
    if {"temperature_c", "humidity_pct"} <= set(quantities):
        together = float(np.corrcoef(model.values["temperature_c"], model.values["humidity_pct"])[0, 1])
        if abs(together) > 0.8:
            cautions.insert(
                0,
                Caution(
                    "entangled",
                    f"Warmth and humidity go together in what was offered (correlation {together:.2f}), so one can "
                    "hardly be told from the other here.",
                ),
            )
    if plain is not None and plain.says:
        cautions.append(Caution("model", "; ".join(plain.says) + "."))
    there = chosen.offered > 0
    unknown = there & np.isnan(chosen.conditions[quantities[0]])
    if unknown.any():
        share = unknown.sum() / there.sum()
        cautions.append(
            Caution("no-readings", f"{100 * share:.0f} % of the zones on offer had no reading then.")
        )
    return tuple(cautions)
