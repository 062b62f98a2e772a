"""Temperatures of the animals themselves: noted, from a table, or from a logger that is worn; and model loggers.

Accuracy d_b, habitat quality d_e and effectiveness E = 1 - d_b / d_e of Hertz, Huey & Stevenson 1993 (Am. Nat.
142:796) are given for bodies only, d_e from empty models of the body only.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ....journal import POSSIBLE_C, TEMP
from ....readings.trust import span_ms
from ....stats.arrays import Floats
from ....stats.choice import outside_range, used_by_animal
from ....study import Declaration, to_ms
from ....study.model import SetRange
from ...finding import Caution
from ...phrases import counted
from ...quantities_said import said
from ...question import Question
from ...records.on_record import events

BODY = "body_c"
EACH = ("animal", "mean", "median", "q25", "q75", "readings", "d_b")
INDICES = (
    "animals", "mean", "mean_low", "mean_high", "q25", "q75", "d_b", "d_e", "effectiveness", "gain", "models",
    "source",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Bodies:
    """``each`` a row an animal, ``indices`` one row over animals; both empty where no body was measured."""

    each: pd.DataFrame
    indices: pd.DataFrame
    says: str = ""
    cautions: tuple[Caution, ...] = ()


def bodies(question: Question) -> Bodies:
    """Body temperatures of the animals asked for, over animals, and held against the keeper's set range."""
    found = body_temperatures(question)
    if not len(found):
        return Bodies(pd.DataFrame(columns=EACH), pd.DataFrame(columns=INDICES))
    declared = question.declared
    who, names = pd.factorize(found["animal"])
    values = found[BODY].to_numpy(float)
    stats = used_by_animal(values, np.ones(len(values)), who)
    own = declared.set_range.get("temperature_c")
    away = _away(values, who, own)
    each = pd.DataFrame(
        {"animal": names, "mean": stats.mean, "median": stats.median, "q25": stats.q25, "q75": stats.q75,
         "readings": np.bincount(who), "d_b": away}
    )  # fmt: skip
    d_e, models = _models(question, found, own)
    d_b = float(away.mean())
    row = {
        "animals": len(names), "mean": stats.mean.mean(), "mean_low": stats.low, "mean_high": stats.high,
        "q25": stats.q25.mean(), "q75": stats.q75.mean(), "d_b": d_b, "d_e": d_e,
        "effectiveness": 1 - d_b / d_e if d_e > 0 else np.nan, "gain": d_e - d_b, "models": models,
        "source": own.source if own else None,
    }  # fmt: skip
    indices = pd.DataFrame([row], columns=INDICES)
    return Bodies(each, indices, _says(row, own, declared.fahrenheit), _cautions(row))


def body_temperatures(question: Question) -> pd.DataFrame:
    """Every body temperature that counts: columns animal, at_ms, body_c; noted ones and those of worn loggers."""
    asked = question.filters
    rows: list[tuple[str, int, float]] = []
    for event in events(question.journals):
        if event.what == TEMP and event.animal is not None and isinstance(event.value, int | float):
            rows.append((event.animal, to_ms(event.at), float(event.value)))
    declared = question.declared
    worn = {name: logger for name, logger in declared.loggers.items() if logger.worn}
    loaded = question.readings() if worn and question.readings is not None else {}
    for name, logger in worn.items():
        series = loaded.get(name, {}).get("temperature_c")
        if series is None:
            continue
        for one in logger.worn:
            inside = slice(*np.searchsorted(series.times, _ms(one.span.start, one.span.until)))
            measured = zip(series.times[inside], series.believed[inside], strict=True)
            rows += [(one.animal, int(t), float(v)) for t, v in measured]
    found = pd.DataFrame(rows, columns=["animal", "at_ms", BODY])
    keep = found[BODY].between(*POSSIBLE_C)
    start, end = _ms(asked.since, asked.until)
    keep &= (found["at_ms"] >= start) & (found["at_ms"] < end)
    if asked.animals:
        keep &= found["animal"].isin(asked.animals)
    return found[keep].reset_index(drop=True)


def _ms(start: datetime | None, until: datetime | None) -> tuple[float, float]:
    return -np.inf if start is None else to_ms(start), np.inf if until is None else to_ms(until)


def _away(values: Floats, who: NDArray[np.intp], own: SetRange | None) -> Floats:
    """(animals,) mean distance from the set range; NaN without one."""
    if own is None:
        return np.full(int(who.max()) + 1, np.nan)
    return np.asarray(
        np.bincount(who, outside_range(values, own.low, own.high)) / np.bincount(who), np.float64
    )


def _models(question: Question, found: pd.DataFrame, own: SetRange | None) -> tuple[float, int]:
    """Mean distance of the models from the set range while bodies were measured, each zone by its amount."""
    declared = question.declared
    models = [logger for logger in declared.loggers.values() if logger.model_in]
    if own is None or not models or question.readings is None:
        return np.nan, 0
    loaded, (first, last) = question.readings(), (found["at_ms"].min(), found["at_ms"].max())
    by_zone: dict[str, list[float]] = {}
    used = 0
    for logger in models:
        series = loaded.get(logger.id, {}).get("temperature_c")
        if series is None:
            continue
        for placement in logger.model_in:
            start, end = span_ms(placement)
            inside = slice(*np.searchsorted(series.times, (max(start, first), min(end, last + 1))))
            values = series.believed[inside]
            values = values[~np.isnan(values)]
            if values.size:
                used += 1
                by_zone.setdefault(placement.zone, []).append(
                    float(outside_range(values, own.low, own.high).mean())
                )
    if not by_zone:
        return np.nan, 0
    amounts = [_amount(declared, zone) for zone in by_zone]
    return float(np.average([np.mean(v) for v in by_zone.values()], weights=amounts)), used


def _amount(declared: Declaration, zone: str) -> float:
    return float(declared.zones[zone].amount[-1].value)


def _says(row: Mapping[str, object], own: SetRange | None, fahrenheit: bool) -> str:
    def c(name: str, difference: bool = False) -> str:
        return said("temperature_c", float(row[name]), fahrenheit, difference)  # type: ignore[arg-type]

    many = int(row["animals"]) > 1  # type: ignore[call-overload]
    over = f"over {counted(int(row['animals']), 'animal')}" if many else "in one animal"  # type: ignore[call-overload]
    limits = f" ({c('mean_low')} to {c('mean_high')})" if many else ""
    text = f"Bodies were at {c('mean')} {over}{limits}, the middle half {c('q25')} to {c('q75')}."
    if own is None:
        return text
    text += f" On average {c('d_b', True)} outside the set range of {_set(own, fahrenheit)} (d_b)"
    if not np.isnan(float(row["d_e"])):  # type: ignore[arg-type]
        text += f"; empty models {c('d_e', True)} (d_e)"
        e = float(row["effectiveness"])  # type: ignore[arg-type]
        text += f": effectiveness E {e:.2f}" if not np.isnan(e) else ": the enclosure itself fits, so no E"
    return text + "."


def _set(own: SetRange, fahrenheit: bool) -> str:
    return " to ".join(said("temperature_c", end, fahrenheit) for end in (own.low, own.high))


def _cautions(row: Mapping[str, object]) -> tuple[Caution, ...]:
    found = [
        Caution(
            "body-method",
            "A body temperature is that of the spot that was measured: an infrared reading of the skin can be off by a "
            "degree or more, and a worn logger warms later than a small body.",
        )
    ]
    if row["models"]:
        found.append(
            Caution(
                "models-small-animals",
                "Empty models tell what a small body would reach at once; in animals above some 100 g a body lags "
                "behind them, and effectiveness is not to be had this way (Seebacher & Shine 2004).",
            )
        )
    return tuple(found)
