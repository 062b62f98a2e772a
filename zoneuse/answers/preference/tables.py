"""Conditions used against conditions on offer at the same moments, without a model; and the model's terms."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...readings.trust import saturation_vapour_pressure_hpa
from ...stats.arrays import Floats
from ...stats.choice import (
    ChoiceFit,
    HeldOut,
    PreferenceFit,
    better_by,
    held_out_loglik,
    set_range_indices,
    weighted_quantiles,
)
from ...stats.intervals import t_quantile
from ...study import Declaration
from ...tables import Choices
from .model import Alternatives

_BINS = 8


def means(chosen: Choices, quantity: str) -> tuple[float, float]:
    """Mean over moments of the condition where the animal was, and of the mean over the zones there then."""
    values, used = used_and_offered(chosen, quantity)
    weight = chosen.rows["weight"].to_numpy(float)
    both = ~np.isnan(used) & ~np.isnan(values)
    if not both.any():
        return np.nan, np.nan
    return float(np.average(used[both], weights=weight[both])), float(
        np.average(values[both], weights=weight[both])
    )


def used_and_offered(chosen: Choices, quantity: str) -> tuple[Floats, Floats]:
    values = np.where(chosen.availability > 0, chosen.conditions[quantity], np.nan)
    known = (~np.isnan(values)).sum(axis=1)
    offered = np.where(known > 1, np.nansum(values, axis=1) / np.maximum(known, 1), np.nan)
    return offered, values[np.arange(len(chosen)), chosen.chosen]


def used_against_offered(chosen: Choices, quantities: list[str], units: NDArray[np.int64]) -> pd.DataFrame:
    """By quantity: means over moments, and the difference with its interval over independent units."""
    rows = []
    for quantity in quantities:
        offered, used = used_and_offered(chosen, quantity)
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
        mean_used, mean_offered = means(chosen, quantity)
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


def used_by_bins(model: Alternatives) -> pd.DataFrame:
    """By quantity, in eight bins of what was on offer: shares of offer and of use, and their ratio."""
    rows = []
    for quantity in model.quantities:
        values = model.column(quantity)
        edges = np.unique(np.quantile(values, np.linspace(0, 1, _BINS + 1)))
        if len(edges) < 2:
            continue
        offer = np.exp(model.log_share)
        offer = offer / np.bincount(model.moment, offer)[model.moment]
        at = np.clip(np.searchsorted(edges, values, "right") - 1, 0, len(edges) - 2)
        offered = np.bincount(at, offer, len(edges) - 1)
        used = np.bincount(at, model.chosen, len(edges) - 1)
        offered, used = offered / offered.sum(), used / used.sum()
        ratio = np.divide(used, offered, out=np.full(len(used), np.nan), where=offered > 0)
        rows += list(zip([quantity] * len(used), edges[:-1], edges[1:], offered, used, ratio, strict=True))
    return pd.DataFrame(rows, columns=["quantity", "low", "high", "offered", "used", "ratio"])


def used_ranges(chosen: Choices, quantities: tuple[str, ...]) -> pd.DataFrame:
    """The central 50 and 80 % of what was used, and how often the lowest or highest place on offer was."""
    rows = []
    for quantity in quantities:
        values = np.where(chosen.availability > 0, chosen.conditions[quantity], np.nan)
        used = values[np.arange(len(chosen)), chosen.chosen]
        known = ~np.isnan(used) & ((~np.isnan(values)).sum(axis=1) >= 2)
        if not known.any():
            continue
        weight = chosen.rows["weight"].to_numpy(float)[known]
        low, high = np.nanmin(values[known], axis=1), np.nanmax(values[known], axis=1)
        q10, q25, q50, q75, q90 = weighted_quantiles(used[known], weight, [0.1, 0.25, 0.5, 0.75, 0.9])
        lowest, highest = (float(np.average(used[known] == end, weights=weight)) for end in (low, high))
        rows.append((quantity, q10, q25, q50, q75, q90, lowest, highest))
    columns = ["quantity", "q10", "q25", "median", "q75", "q90", "in_lowest", "in_highest"]
    return pd.DataFrame(rows, columns=columns)


def terms(found: ChoiceFit | None, name: str) -> pd.DataFrame:
    """A fit's coefficients with jackknife errors by unit."""
    if found is None:
        return pd.DataFrame(columns=["fit", "term", "coefficient", "se"])
    return pd.DataFrame({"fit": name, "term": found.terms, "coefficient": found.coef, "se": found.se_cr3})


def term_covariance(fit: PreferenceFit) -> pd.DataFrame:
    """Of the plain fit: for each pair of terms their covariance by unit (jackknife), and from where each counts."""
    terms, cov = fit.plain.terms, fit.plain.cov_cr3
    centre = dict(zip(fit.quantities, map(float, fit.centre), strict=True))
    rows = [
        (one, other, float(cov[i, j]), centre.get(one.removesuffix("^2")), fit.plain.clusters - 1)
        for i, one in enumerate(terms)
        for j, other in enumerate(terms[: i + 1])
        if np.isfinite(cov[i, j])
    ]
    return pd.DataFrame(rows, columns=["term", "with_term", "covariance", "centre", "df"])


def compared_models(model: Alternatives, vpd_kpa: Floats | None) -> pd.DataFrame:
    """Session-wise cross-validated log likelihood of models in one quantity, in all, and with deficit for humidity.

    ``better_by`` is against the model that knows nothing of conditions, with its standard error.
    """
    sets: dict[str, Floats] = {q: model.column(q)[:, None] for q in model.quantities}
    if len(model.quantities) > 1:
        sets[" + ".join(model.quantities)] = model.x
    if vpd_kpa is not None and "temperature_c" in model.quantities:
        sets["vpd_kpa"] = vpd_kpa[:, None]
        sets["temperature_c + vpd_kpa"] = np.column_stack([model.column("temperature_c"), vpd_kpa])
    rows = []
    try:
        nothing = _held_out(model, np.zeros((len(model.moment), 1)))
        for name, x in sets.items():
            found = _held_out(model, x)
            gain, error = better_by(found, nothing)
            rows.append((name, found.total, gain, error))
    except (ValueError, np.linalg.LinAlgError):
        pass
    return pd.DataFrame(rows, columns=["model", "held_out_loglik", "better_by", "se"])


def moisture_models(model: Alternatives, vpd_kpa: Floats | None, off_pct: float) -> pd.DataFrame:
    """Temperature with deficit against temperature with relative humidity, by fit over sessions left out.

    ``off_pct`` is what a humidity sensor may be off by: ``off_kpa`` is that at the median temperature offered.
    """
    columns = ["better_by", "se", "at_c", "off_pct", "off_kpa", "low_kpa", "high_kpa"]
    if vpd_kpa is None:
        return pd.DataFrame(columns=columns)
    warm, moist = model.column("temperature_c"), model.column("humidity_pct")
    try:
        one, other = (_held_out(model, np.column_stack([warm, m]), folds=5) for m in (vpd_kpa, moist))
    except (ValueError, np.linalg.LinAlgError):
        return pd.DataFrame(columns=columns)
    gain, error = better_by(one, other)
    at_c = float(np.median(warm))
    off = float(saturation_vapour_pressure_hpa(at_c)) / 1000 * off_pct
    low, high = np.quantile(vpd_kpa, [0.05, 0.95])
    return pd.DataFrame([(gain, error, at_c, off_pct, off, low, high)], columns=columns)


def _held_out(model: Alternatives, x: Floats, folds: int = 10) -> HeldOut:
    centred = x - x.mean(axis=0)
    columns = np.column_stack([centred, centred**2])
    return held_out_loglik(
        columns, model.moment, model.chosen, model.cluster, offset=model.log_share, folds=folds
    )


def set_range_table(declared: Declaration, model: Alternatives) -> pd.DataFrame:
    """How far the zones used and those on offer lie from the keeper's own set range: of zones, not of bodies."""
    rows = []
    for quantity, own in declared.set_range.items():
        if quantity not in model.quantities:
            continue
        values, used = model.column(quantity), model.chosen > 0
        found = set_range_indices(
            values[used], values, own.low, own.high,
            used_weight=model.chosen[used], offered_weight=np.exp(model.log_share),
        )  # fmt: skip
        rows.append(
            (
                quantity,
                own.low,
                own.high,
                found.accuracy,
                found.quality,
                found.effectiveness,
                found.gain,
                own.source,
            )
        )
    columns = ["quantity", "low", "high", "zones_used", "zones_offered", "zone_fit", "gain", "source"]
    return pd.DataFrame(rows, columns=columns)


def told_apart(model: Alternatives) -> pd.DataFrame:
    """How far each pair of quantities can be told apart: their correlation over what was offered, within moments
    too, and the condition number of both (1 is free of each other; above 30 they move as one)."""
    rows = []
    count = np.bincount(model.moment)
    for i, one in enumerate(model.quantities):
        for other in model.quantities[i + 1 :]:
            first, second = model.column(one), model.column(other)
            inside = [
                v - (np.bincount(model.moment, v) / np.maximum(count, 1))[model.moment]
                for v in (first, second)
            ]
            spread = [float(v.std()) for v in inside]
            overall, at_once, condition = _correlation(first, second), np.nan, np.inf
            if min(spread) > 0:
                at_once = _correlation(*inside)
                condition = float(
                    np.linalg.cond(np.column_stack([v / s for v, s in zip(inside, spread, strict=True)]))
                )
            rows.append((one, other, overall, at_once, condition))
    return pd.DataFrame(rows, columns=["one", "other", "correlation", "at_once", "condition_number"])


def _correlation(one: Floats, other: Floats) -> float:
    return float(np.asarray(np.corrcoef(one, other))[0, 1])
