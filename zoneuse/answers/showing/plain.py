"""Values as JSON knows them: a table's rows as dicts, times as ISO text, nothing that is no number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime
from typing import Any

import pandas as pd


def rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as a list of plain dicts."""
    return [
        {str(name): plain(value) for name, value in zip(table.columns, values, strict=True)}
        for values in table.itertuples(index=False, name=None)
    ]


def plain(value: Any) -> Any:
    """A value as JSON knows it: no NaN, no numpy, times as ISO text."""
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [plain(v) for v in value]
    if value is None or value is pd.NA or value is pd.NaT:
        return None
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    return value.isoformat() if isinstance(value, date | datetime) else value
