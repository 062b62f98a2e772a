"""Arrow columns as numpy arrays and back, without importing pandas.

pyarrow's ``to_numpy``, ``pa.array(ndarray)`` and ``pa.scalar`` import pandas (0.7 s); its buffers do not.
"""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

Times = NDArray[np.int64]
Values = NDArray[np.float64]

AT_TYPE = pa.timestamp("ms", tz="UTC")


def int64s(column: pa.Array) -> Times:
    """A time or whole-number column of 64 bits without missing values, as a view."""
    data = column.buffers()[1]
    if len(column) == 0 or data is None:
        return np.empty(0, np.int64)
    return np.frombuffer(data, np.int64, len(column) + column.offset)[column.offset :]


def present(column: pa.Array) -> NDArray[np.bool_]:
    """Where a column holds a value, as booleans."""
    bits = column.buffers()[0]
    if column.null_count == 0 or bits is None:
        return np.ones(len(column), np.bool_)
    flat = np.unpackbits(np.frombuffer(bits, np.uint8), bitorder="little")
    return flat[column.offset : column.offset + len(column)].astype(np.bool_)


def float64s(column: pa.Array) -> Values:
    """A number column; missing values become NaN."""
    if not pa.types.is_float64(column.type):
        column = column.cast(pa.float64())
    data = column.buffers()[1]
    if len(column) == 0 or data is None:
        return np.full(len(column), np.nan)
    numbers = np.frombuffer(data, np.float64, len(column) + column.offset)[column.offset :]
    return np.where(present(column), numbers, np.nan) if column.null_count else numbers


def all_there(values: Values) -> bool:
    """Whether there are values and none of them is NaN: the least of some with a NaN is NaN."""
    return len(values) > 0 and not np.isnan(values.min())


def all_finite(values: Values) -> bool:
    """Whether there are values, and none of them is NaN or infinite."""
    return len(values) > 0 and bool(np.isfinite(values.min()) and np.isfinite(values.max()))


def one_chunk(column: pa.ChunkedArray) -> pa.Array:
    """A whole column as one array; copies only where it is in several pieces."""
    return column.chunk(0) if column.num_chunks == 1 else column.combine_chunks()


def at_column(times_ms: Times) -> pa.Array:
    """Times in ms since 1970 UTC as the store's time column, without a copy."""
    data = np.ascontiguousarray(times_ms, np.int64)
    return pa.Array.from_buffers(AT_TYPE, len(data), [None, pa.py_buffer(data)])


def value_column(values: Values) -> pa.Array:
    """Numbers as a column in which NaN is null, without a copy of the numbers."""
    data = np.ascontiguousarray(values, np.float64)
    if all_there(data):
        return pa.Array.from_buffers(pa.float64(), len(data), [None, pa.py_buffer(data)], null_count=0)
    missing = np.isnan(data)
    mask = pa.py_buffer(np.packbits(~missing, bitorder="little"))
    count = int(np.count_nonzero(missing))
    return pa.Array.from_buffers(pa.float64(), len(data), [mask, pa.py_buffer(data)], null_count=count)
