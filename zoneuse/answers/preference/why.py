"""Why a zone is avoided, and what would come of changing it, by the choice model."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from ...stats.choice import PlaceFit, account, forecast_shares, within_part
from ...study import Declaration, UnknownNameError, fault, find_zone
from ...tables import places_of
from ..finding import standing
from ..phrases import listed
from ..quantities_said import label, said
from ..question import Question
from ..zones.judge import AVOIDED, EVEN_WITHIN
from ..zones.tables import clustered
from .model import Alternatives, fit_with_places
from .shape import SPEAKS_LEAST

WHY_COLUMNS = [
    "zone",
    "best",
    "term",
    "part",
    "part_low",
    "part_high",
    "difference",
    "cause",
    "standing",
    "share_if_as_best",
]


def use_of_places(question: Question, equal: bool) -> pd.DataFrame:
    """The zones answer's rows: each place's verdict and ratio, as `zones` has them."""
    # Records by themselves have no unit to redraw: their verdicts rest on sessions here.
    by_units = question.by("session") if question.unit == "moment" else question
    return clustered(by_units, question.rows, equal, draws=499, even_within=EVEN_WITHIN)[0]


def why_avoided(question: Question, model: Alternatives, table: pd.DataFrame) -> pd.DataFrame:
    """For each avoided place, parts in log odds against the place used most for its share; they add up exactly.

    ``table`` has the places' verdicts. ``cause`` marks the largest part where it stands clear of the next, with a
    ``standing`` of its own: a cause that never moved is no more than looked like. ``share_if_as_best`` is the
    share the place would have with the best one's value of that quantity.
    """
    empty = pd.DataFrame(columns=WHY_COLUMNS)
    avoided = table[table["verdict"] == AVOIDED]["zone"].tolist()
    known = set(np.unique(model.place))
    fit = fit_with_places(model) if avoided else None
    if fit is None:
        return empty
    ranked = table.sort_values("ratio", ascending=False)["zone"]
    best = next((p for p in ranked if model.places.index(p) in known and p not in avoided), None)
    if best is None:
        return empty
    told: list[tuple[object, ...]] = []
    for place in avoided:
        if model.places.index(place) in known:
            told += _parts(model, fit, place, best)
    found = pd.DataFrame(told, columns=[c for c in WHY_COLUMNS if c != "standing"])
    did = question.effort
    found["standing"] = [
        standing(did.sessions, did.days, holds=_moved(model, term)) or None if cause else None
        for term, cause in zip(found["term"], found["cause"], strict=True)
    ]
    return found


def _moved(model: Alternatives, term: str) -> bool:
    """Whether a term changed within zones over time enough to be told from the place."""
    return (
        term in model.quantities
        and within_part(model.column(term), model.moment, model.place) >= SPEAKS_LEAST
    )


def _parts(model: Alternatives, fit: PlaceFit, place: str, best: str) -> list[tuple[object, ...]]:
    here, there = model.places.index(place), model.places.index(best)
    try:
        found = account(
            fit,
            model.x,
            model.moment,
            model.place,
            model.log_share,
            avoided=here,
            best=there,
            extra=model.extra,
        )
    except ValueError:  # never on offer at the same moment
        return []
    rows: list[tuple[object, ...]] = []
    for name, part, low, high in zip(found.names, found.parts, found.low, found.high, strict=True):
        gain = _share_as_best(model, fit, here, there, name) if name in model.quantities else None
        apart = _difference(model, here, there, name)
        rows.append((place, best, name, part, low, high, apart, name == found.cause, gain))
    return rows


def _difference(model: Alternatives, here: int, there: int, name: str) -> float:
    """Mean of a term in the avoided place minus the best one's, so that it can be called too dry or too moist."""
    if name in model.quantities:
        values = model.column(name)
    elif name in model.extras:
        values = model.extra[:, model.extras.index(name)]
    else:
        return float("nan")
    return float(values[model.place == here].mean() - values[model.place == there].mean())


def _share_as_best(model: Alternatives, fit: PlaceFit, here: int, there: int, quantity: str) -> float:
    """The share a place would have with the best place's value of one quantity, moment by moment."""
    column = model.quantities.index(quantity)
    best = pd.Series(model.x[model.place == there, column], index=model.moment[model.place == there])
    wanted = best.groupby(level=0).first().reindex(model.moment).to_numpy()
    changed = model.x.copy()
    swap = (model.place == here) & ~np.isnan(wanted)
    changed[swap, column] = wanted[swap]
    found = forecast_shares(
        fit,
        changed,
        model.moment,
        model.place,
        model.log_share,
        clusters=model.clusters,
        extra=model.extra,
        draws=2,
    )
    return float(found.expected[here])


@dataclass(frozen=True, slots=True)
class Supposed:
    """One zone's condition as it would be: ``moss_end.humidity_pct=85``."""

    zone: str
    quantity: str
    value: float


def read_change(text: str) -> Supposed:
    """``moss_end.humidity_pct=85`` as a change. Raises ValueError with what is understood."""
    name, equals, value = text.partition("=")
    zone, dot, quantity = name.rpartition(".")
    try:
        if equals and dot and zone:
            return Supposed(zone.strip(), quantity.strip(), float(value))
    except ValueError:
        pass
    raise ValueError(
        f"{text!r} is not a change; give it as ZONE.QUANTITY=VALUE, such as moss_end.humidity_pct=85"
    )


@dataclass(frozen=True, slots=True)
class ExpectedShares:
    """The shares expected under a change: a row per place, and a sentence."""

    table: pd.DataFrame
    says: str


def forecast(
    question: Question, model: Alternatives, change: Supposed, sessions: int | None, labels: Mapping[str, str]
) -> ExpectedShares:
    """Shares of every place to be seen in so many units under a change, with 90 % limits.

    Raises ProblemError for an unknown zone or quantity, or a value outside what was offered anywhere.
    """
    declared, seed = question.declared, question.seed
    place = _changed_place(declared, change)
    names = (*model.quantities, *model.extras)
    if change.quantity not in names:
        raise fault(
            "quantity", "--what-if", change.quantity, "is not in the model", "one of " + ", ".join(names)
        )
    both = np.column_stack([model.x, model.extra])
    column = names.index(change.quantity)
    values = both[:, column]
    low, high = float(values.min()), float(values.max())
    if not low <= change.value <= high:
        raise fault(
            "outside-offered", "--what-if", change.quantity,
            f"{said(change.quantity, change.value, declared.fahrenheit)} was never offered",
            f"{said(change.quantity, low, declared.fahrenheit)} to {said(change.quantity, high, declared.fahrenheit)}",
            remedy="The model knows nothing beyond what was offered",
        )  # fmt: skip
    fit, here = fit_with_places(model), model.places.index(place)
    own = values[model.place == here]
    if fit is None or not len(own):
        raise fault(
            "no-readings", "--what-if", change.zone, "there are no readings of that zone to start from"
        )
    both[model.place == here, column] = change.value
    changed, extra = np.split(both, [len(model.quantities)], axis=1)
    units = sessions or model.clusters
    found = forecast_shares(
        fit, changed, model.moment, model.place, model.log_share, clusters=units, extra=extra, seed=seed
    )
    asis = forecast_shares(
        fit,
        model.x,
        model.moment,
        model.place,
        model.log_share,
        clusters=units,
        extra=model.extra,
        draws=2,
        seed=seed,
    )
    known = np.unique(model.place)
    table = pd.DataFrame(
        {"zone": [model.places[i] for i in known], "share_now": asis.expected[known], "share": found.expected[known],
         "low": found.low[known], "high": found.high[known], "sessions": units}
    )  # fmt: skip
    new = not own.min() <= change.value <= own.max()
    says = (
        f"With {label(change.quantity)} at {said(change.quantity, change.value, declared.fahrenheit)}, "
        f"{labels.get(place, place)} would be expected to hold {100 * found.expected[here]:.0f} % of the time "
        f"({100 * found.low[here]:.0f} to {100 * found.high[here]:.0f} in {units} {question.unit}s; "
        f"{100 * asis.expected[here]:.0f} % as it is)."
        + (" That was never tried in this zone." if new else "")
        + _over_which(question, model, labels)
    )
    return ExpectedShares(table, says)


def _over_which(question: Question, model: Alternatives, labels: Mapping[str, str]) -> str:
    """Over which places shares speak, where they are not those of all zones."""
    rows = question.rows[question.rows["zone"].notna()]
    known = {model.places[i] for i in np.unique(model.place)}
    left = [p for p in rows["place"].unique() if p not in known]
    inside = float(rows["weight"].to_numpy(float)[model.kept].sum() / rows["weight"].sum())
    if not left and inside > 0.99:
        return ""
    without = f", so without {listed([labels.get(p, p) for p in left])}" if left else ""
    return (
        f" These shares are over the places and moments with readings ({100 * inside:.0f} % of the time){without}; "
        "those of `zones` are over all."
    )


def _changed_place(declared: Declaration, change: Supposed) -> str:
    if change.zone in places_of(declared):
        return change.zone
    try:
        return find_zone(declared, change.zone, None).place
    except UnknownNameError as error:
        raise fault("unknown-id", "--what-if", change.zone, str(error)) from None
