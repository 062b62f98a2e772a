"""The tables to take away, one by one, as Arrow tables with the columns documented in ``columns``."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import pandas as pd
import pyarrow as pa
from numpy.typing import NDArray

from ..readings.trust import FLAG_WORDS, NOT_BELIEVED, Series, load_all, span_ms
from ..study import DERIVED, QUANTITIES, Declaration, Logger
from ..tables import Adjustment, choices, conditions, milliseconds
from .column import PackageColumn
from .columns import (
    ADJUSTMENTS,
    MOMENTS,
    RECORDS,
    arrow_type,
    choices_columns,
    conditions_columns,
    readings_columns,
)

# Rows handed on at once: a study of ten million readings never stands in memory as text.
_ROWS = 200_000


def moments_table(declared: Declaration, moments: pd.DataFrame) -> pa.Table:
    """Every moment watched, also those that stay out of shares (``out`` says why)."""
    looked = moments["looked_into"].map(" ".join, na_action="ignore")
    told = moments.assign(
        moment=range(1, len(moments) + 1), at_utc=moments["at"], out=moments["out"].replace("", None),
        looked_into=looked, record=moments["record"] + 1,
    )  # fmt: skip
    return as_arrow(declared, told, MOMENTS)


def records_table(declared: Declaration, records: pd.DataFrame) -> pa.Table:
    """Every sighting on record, and why it enters no answer where it does not."""
    told = records.assign(
        record=records.index + 1, at_utc=records["at"], left_out=records["left_out"].replace("", None)
    )
    return as_arrow(declared, told, RECORDS)


def adjustments_table(declared: Declaration, changes: Sequence[Adjustment]) -> pa.Table:
    """Every change on record."""
    rows = [
        (
            c.id, c.at, c.at, c.entered, c.settled, c.what, " ".join(c.zones), c.amount, c.unit or None, c.why or None,
            " ".join(f"{e['name']}:{e['direction']}" for e in c.expects) or None, c.undoes,
        )
        for c in changes
    ]  # fmt: skip
    return as_arrow(declared, pd.DataFrame(rows, columns=[c.name for c in ADJUSTMENTS]), ADJUSTMENTS)


def conditions_table(
    declared: Declaration, moments: pd.DataFrame, changes: Sequence[Adjustment]
) -> tuple[pa.Table, tuple[PackageColumn, ...]]:
    """What each zone was like at each time something was watched."""
    at = np.unique(milliseconds(moments))
    found = conditions(declared, at, changes)
    columns = conditions_columns(_known(found.values))
    frame = pd.DataFrame(
        {
            "at": _times(np.repeat(at, len(found.zones))),
            "at_utc": _times(np.repeat(at, len(found.zones))),
            "zone": np.tile(np.array(found.zones, object), at.size),
            "place": np.tile(np.array([declared.zones[z].place for z in found.zones], object), at.size),
            **{q: values.ravel() for q, values in found.values.items()},
        }
    )
    measured = [c.name for c in columns[4:]]
    there = frame[measured].notna().any(axis=1) if measured else pd.Series(False, index=frame.index)
    return as_arrow(declared, frame[there], columns), columns


def choices_table(
    declared: Declaration, moments: pd.DataFrame, changes: Sequence[Adjustment]
) -> tuple[pa.Table, tuple[PackageColumn, ...]]:
    """Each moment in which an animal was found against every zone it could have been in."""
    seen = moments["zone"].notna()
    found = choices(declared, moments, changes)
    moment, zone = np.nonzero(found.availability > 0)
    columns = choices_columns(_known(found.conditions))
    rows = found.rows.iloc[moment]
    frame = pd.DataFrame(
        {
            "moment": (np.flatnonzero(seen) + 1)[moment],
            "at": rows["at"].to_numpy(),
            "at_utc": rows["at"].to_numpy(),
            "animal": rows["animal"].to_numpy(),
            "group": rows["group"].to_numpy(),
            "zone": np.array(found.zones, object)[zone],
            "place": np.array(found.places, object)[zone],
            "offered": found.availability[moment, zone],
            "cover": found.cover[moment, zone],
            "chosen": found.chosen[moment] == zone,
            **{q: values[moment, zone] for q, values in found.conditions.items()},
        }
    )
    return as_arrow(declared, frame, columns), columns


def readings_tables(declared: Declaration) -> tuple[Iterator[pa.Table], tuple[PackageColumn, ...]]:
    """Every logger's readings, put right, a piece at a time."""
    loaded = load_all(declared.folder, declared)
    measured = [q for q in QUANTITIES if any(q in by_quantity for by_quantity in loaded.values())]
    columns = readings_columns(measured)

    def pieces() -> Iterator[pa.Table]:
        for name, by_quantity in loaded.items():
            for start in range(0, max((len(s.times) for s in by_quantity.values()), default=0), _ROWS):
                part = slice(start, start + _ROWS)
                yield as_arrow(declared, _piece(declared.loggers[name], by_quantity, measured, part), columns)

    return pieces(), columns


def _piece(
    logger: Logger, by_quantity: dict[str, Series], measured: Sequence[str], part: slice
) -> pd.DataFrame:
    times = next(iter(by_quantity.values())).times[part]
    zone = np.full(times.size, None, object)
    for placement in logger.placed:
        low, high = span_ms(placement)
        zone[(times >= low) & (times < high)] = placement.zone
    doubt = np.full(times.size, "", object)
    for quantity, series in by_quantity.items():
        for flag, words in FLAG_WORDS.items():
            if flag & NOT_BELIEVED:
                here = np.flatnonzero(series.flags[part] & flag)
                doubt[here] = [
                    f"{d}; {quantity}: {words}" if d else f"{quantity}: {words}" for d in doubt[here]
                ]
    values = {q: by_quantity[q].values[part] if q in by_quantity else np.nan for q in measured}
    return pd.DataFrame(
        {"at": _times(times), "at_utc": _times(times), "logger": logger.id, "zone": zone, **values,
         "not_believed": [d or None for d in doubt]}
    )  # fmt: skip


def as_arrow(declared: Declaration, frame: pd.DataFrame, columns: Sequence[PackageColumn]) -> pa.Table:
    """The columns of a frame in their order and types."""
    zone = declared.timezone.key
    arrays = [pa.array(frame[c.name], type=arrow_type(c, zone), from_pandas=True) for c in columns]
    return pa.Table.from_arrays(arrays, names=[c.name for c in columns])


def _known(values: object) -> list[str]:
    names = set(values) if isinstance(values, dict) else set()
    return [q for q in (*QUANTITIES, *DERIVED) if q in names]


def _times(ms: NDArray[np.int64]) -> pd.Series:
    return pd.Series(ms.astype("datetime64[ms]")).dt.tz_localize("UTC")
