"""Daily rhythms: of the temperature used, of the active share and of moves, by the hour of the clock."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ...stats.arrays import Floats
from ...stats.time_series import population_cosinor
from ...study import Declaration
from ...tables import Choices
from .used import ANIMALS_ENOUGH, here, who_codes

RHYTHM = (
    "what", "mesor", "mesor_low", "mesor_high", "amplitude", "amplitude_low", "amplitude_high", "acrophase_h",
    "acrophase_low", "acrophase_high", "p", "units", "unit",
)  # fmt: skip


def rhythms(declared: Declaration, chosen: Choices, quantities: Sequence[str]) -> pd.DataFrame:
    """A row for each series whose hours cover the day: cosine of 24 hours, limits over animals or days of animals."""
    rows = chosen.rows
    codes, names = who_codes(rows)
    animals = len(names) >= ANIMALS_ENOUGH
    unit = (
        codes
        if animals
        else np.asarray(pd.factorize(pd.Series(codes.astype(str)) + rows["day"].astype(str))[0])
    )
    series = {q: here(chosen, q) for q in quantities if q.endswith("_c")}
    series |= {"active": _active(declared, rows), "moves": _moves(rows)}
    weight = rows["weight"].to_numpy(float)
    told: list[tuple[object, ...]] = []
    for what, values in series.items():
        known = ~np.isnan(values) & (codes >= 0)
        if not known.any() or np.ptp(values[known]) == 0:
            continue
        by_hour = _hourly(unit[known], rows["hour"].to_numpy(float)[known], values[known], weight[known])
        found = population_cosinor(by_hour["hour"], by_hour["value"], by_hour["unit"])
        if found is not None:
            told.append(
                (what, found.mesor, found.mesor_low, found.mesor_high, found.amplitude, found.amplitude_low,
                 found.amplitude_high, found.acrophase_h, found.acrophase_low, found.acrophase_high, found.p,
                 found.units, "animal" if animals else "day of an animal")
            )  # fmt: skip
    return pd.DataFrame(told, columns=RHYTHM)


def _hourly(unit: NDArray[np.int64], hour: Floats, values: Floats, weight: Floats) -> pd.DataFrame:
    """Mean by unit and time of day: an hour watched closely counts as one watched once."""
    frame = pd.DataFrame({"unit": unit, "hour": hour, "sum": values * weight, "weight": weight})
    frame["slice"] = np.floor(frame["hour"])
    sums = frame.groupby(["unit", "slice"]).agg({"sum": "sum", "weight": "sum", "hour": "mean"}).reset_index()
    return sums.assign(value=sums["sum"] / sums["weight"])


def _active(declared: Declaration, rows: pd.DataFrame) -> Floats:
    known = {i: float(b.active) for i, b in declared.behaviours.items() if b.active is not None}
    return np.asarray(rows["behaviour"].map(known), np.float64)


def _moves(rows: pd.DataFrame) -> Floats:
    """1 where an animal told apart has left the zone of its moment before in the same session, 0 where not."""
    ordered = rows.sort_values(["animal", "at"], kind="stable")
    same = (ordered["animal"] == ordered["animal"].shift()) & (
        ordered["session"] == ordered["session"].shift()
    )
    moved = (ordered["zone"] != ordered["zone"].shift()).astype(float).where(same & ordered["animal"].notna())
    return np.asarray(moved.reindex(rows.index), np.float64)
