"""What an intake's record and its readings must be to be believed, whoever wrote them: a study may be a stranger's."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from ...study import QUANTITIES, Problem, require_regular
from ..arrow_arrays import AT_TYPE, Values
from .sealing import crc_of

_YEAR_2200_MS = 7_258_118_400_000
# A record names at most 10,000 marks and 1,000 refused lines.
MOST_RECORD_BYTES = 32_000_000
# Readings that would take this much memory and yet lie packed this tightly were made to fill it: real ones, at
# steady steps and with values that move, pack to a tenth.
_MUCH_BYTES, _TIGHTEST = 128_000_000, 200


def check_record(raw: Any) -> None:
    """Raise ValueError, KeyError or TypeError where a record's values are not of their kind."""
    for name in ("id", "file", "sha256", "made"):
        _must(isinstance(raw[name], str) and len(raw[name]) <= 4096, name)
    for name in ("size", "kept", "doubles", "refused"):
        _must(_is_count(raw[name]), name)
    _must(isinstance(raw["layout"], Mapping), "layout")
    for part in raw["parts"]:
        _must(_is_count(part["rows"]), "rows")
        _must(_is_time(part["first_ms"]) and _is_time(part["last_ms"]), "times")
        _must(part["first_ms"] <= part["last_ms"], "times")
        _must(isinstance(part["logger"], str) and isinstance(part.get("crc", ""), str), "logger")
        _must(isinstance(part["quantities"], list), "quantities")
        _must(all(isinstance(q, str) for q in part["quantities"]), "quantities")
    for mark in raw["marks"]:
        _must(_is_time(mark["at_ms"]) and isinstance(mark["logger"], str), "marks")
        _must(isinstance(mark["says"], str), "marks")


def _must(held: bool, name: str) -> None:
    if not held:
        raise ValueError(name)


def _is_count(value: Any) -> bool:
    return type(value) is int and 0 <= value < 1 << 48


def _is_time(value: Any) -> bool:
    return type(value) is int and 0 <= value < _YEAR_2200_MS


def damage_of(path: Path, rows: int, span_ms: tuple[int, int], crc: str) -> str:
    """What is wrong with a committed file of readings, in words; empty where nothing is.

    ``rows`` and ``span_ms`` (first and last time) are what its record says; ``crc`` is empty where none was kept.
    Nothing but the file's own table of contents is read into memory. Raises OSError and pyarrow's errors.
    """
    require_regular(path)
    if crc and crc_of(path) != crc:
        return "its checksum does not fit"
    with pq.ParquetFile(path.absolute()) as file:
        about, schema = file.metadata, file.schema_arrow
        names = schema.names
        if about.num_rows != rows:
            return "rows are missing"
        if names.count("at") != 1 or len(set(names)) < len(names) or schema.field("at").type != AT_TYPE:
            return "its times are not times"
        if not all(_is_number(schema.field(q).type) for q in names if q in QUANTITIES):
            return "its values are not numbers"
        needed = rows * 8 * len(names)
        if needed > _MUCH_BYTES and needed > _TIGHTEST * path.stat().st_size:
            return f"it would fill {needed / 1e9:.1f} GB of memory from {path.stat().st_size / 1e6:.1f} MB"
        if not _within(about, names.index("at"), span_ms):
            return "its times are not those its record says"
    return ""


def _is_number(kind: pa.DataType) -> bool:
    return bool(pa.types.is_floating(kind) or pa.types.is_integer(kind))


def _within(about: pq.FileMetaData, column: int, span_ms: tuple[int, int]) -> bool:
    """Whether all times lie within these two, as far as the file says so itself."""
    for group in range(about.num_row_groups):
        bounds = about.row_group(group).column(column).statistics
        if bounds is not None and bounds.has_null_count and bounds.null_count:
            return False  # a reading without a time: it would count as one of 1970, and silently not at all
        if bounds is None or not bounds.has_min_max:
            continue
        low, high = bounds.min_raw, bounds.max_raw
        if low < span_ms[0] or high > span_ms[1]:
            return False
    return True


def damaged(path: Path, found: str) -> Problem:
    """A committed file that cannot be believed, as a problem with its remedy."""
    return Problem(
        "damaged-readings", str(path), "", f"{found}, and its readings are left out",
        "the readings of a committed intake",
        "Wait until your file synchroniser is done, restore the file from a copy, or undo that intake "
        "(zoneuse readings --undo FILE) and take the export in again",
    )  # fmt: skip


def first_value(values: Values, starts: np.ndarray[Any, np.dtype[np.intp]]) -> Values:
    """The first value that is there, for each run of equal times."""
    place = np.where(np.isnan(values), len(values), np.arange(len(values)))
    first = np.minimum.reduceat(place, starts)
    return np.append(values, np.nan)[first]


def may_hold(file: pq.ParquetFile, group: int, since_ms: int | None, until_ms: int | None) -> bool:
    """Whether a group of rows of a file can hold times between these two."""
    bounds = file.metadata.row_group(group).column(0).statistics
    if bounds is None or not bounds.has_min_max or (since_ms is None and until_ms is None):
        return True
    low, high = bounds.min_raw, bounds.max_raw
    return (until_ms is None or low < until_ms) and (since_ms is None or high >= since_ms)
