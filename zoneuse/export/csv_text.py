"""A table as spreadsheets read it: local times with their offset, and no cell that would run as a formula."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ..study import defused


def readable(table: pa.Table) -> pa.Table:
    """The same rows with times as ISO 8601 text and texts defused; numbers stay numbers."""
    return pa.table({name: _column(table[name]) for name in table.column_names})


def _column(column: pa.ChunkedArray) -> pa.ChunkedArray | pa.Array:
    if pa.types.is_timestamp(column.type):
        return _iso(column)
    if pa.types.is_string(column.type):
        names = column.dictionary_encode().combine_chunks()
        if not len(names):
            return column
        safe = pa.array(
            [None if v is None else defused(v) for v in names.dictionary.to_pylist()], pa.string()
        )
        return safe.take(names.indices)
    return column


def _iso(times: pa.ChunkedArray) -> pa.Array:
    """``2026-03-04T19:02:11.000+01:00``: the offset of each time stands behind it."""
    one = times.combine_chunks()
    wall = pc.local_timestamp(one)
    offset = pc.subtract(wall.cast(pa.int64()), one.cast(pa.int64()))
    codes = offset.dictionary_encode()
    texts = pa.array([_offset_text(ms) for ms in codes.dictionary.to_pylist()], pa.string())
    behind = texts.take(codes.indices)
    clock = pc.strftime(wall, format="%Y-%m-%dT%H:%M:%S")
    return pc.binary_join_element_wise(clock, behind, "")


def _offset_text(ms: int) -> str:
    minutes = int(np.floor_divide(abs(ms), 60_000))
    return f"{'-' if ms < 0 else '+'}{minutes // 60:02d}:{minutes % 60:02d}"
