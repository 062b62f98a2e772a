"""The columns of a table, declared once: name, kind, unit, meaning, and what a missing value means."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import pandas as pd

# The shape of an answer as JSON, raised when a reader of the old shape would misread the new one.
SCHEMA = 1
# What a column may hold, and the dtype it has without and with missing values.
KINDS: dict[str, tuple[str, str]] = {
    "id": ("object", "object"),
    "text": ("object", "object"),
    "list": ("object", "object"),
    "time": ("object", "object"),
    "count": ("int64", "Int64"),
    "number": ("float64", "float64"),
    "flag": ("bool", "boolean"),
}


@dataclass(frozen=True, slots=True)
class Field:
    """One column. ``missing`` says what a missing value means; empty where there is always a value.

    ``label_of`` names the column of ids that this one spells out.
    """

    name: str
    kind: str
    means: str
    unit: str = ""
    missing: str = ""
    label_of: str = ""


Schema = tuple[Field, ...]


def label_for(name: str, means: str, missing: str = "") -> Field:
    """The column of labels beside a column of ids."""
    return Field(f"{name}_label", "text", means, missing=missing, label_of=name)


def typed(table: pd.DataFrame, schema: Schema, labels: Mapping[str, str] | None = None) -> pd.DataFrame:
    """The columns of a schema in its order, each with its dtype, ids spelled out beside them.

    Raises KeyError where the table lacks a column.
    """
    found = {}
    for field in schema:
        if field.label_of:
            spelled = table[field.label_of].map(lambda i: (labels or {}).get(i, i), na_action="ignore")
            found[field.name] = spelled.astype("object").where(spelled.notna(), None)
            continue
        column = table[field.name]
        dtype = KINDS[field.kind][bool(field.missing)]
        found[field.name] = column.round() if field.kind == "count" and column.dtype == "float64" else column
        found[field.name] = found[field.name].astype(dtype)  # type: ignore[call-overload]
    return pd.DataFrame(found, index=table.index, columns=names(schema))


def names(schema: Schema) -> list[str]:
    return [field.name for field in schema]


def empty(schema: Schema) -> pd.DataFrame:
    """A table of a schema without rows."""
    return typed(pd.DataFrame(columns=[f.name for f in schema if not f.label_of]), schema)


@dataclass(frozen=True, slots=True)
class Column:
    """How a column of ``table`` is shown: its heading, and how its values are written.

    ``shown`` is text, share, ratio, count or number, or one of them with ``-range`` for NAME_low to
    NAME_high. ``narrow`` columns stay on a phone's 40 cells.
    """

    name: str
    heading: str
    shown: str = "text"
    narrow: bool = True


# The part `second_opinion`, alike in every answer that takes one.
SECOND_OPINION: Schema = (
    Field("about", "text", "What it is about: a zone, a behaviour, a quantity, a change and a zone"),
    Field("method", "text", "The standard method, by statsmodels but for the bootstrap"),
    Field("estimate", "number", "Its estimate: a share, a difference of shares, or in the quantity's unit"),
    Field("low", "number", "Its 95 % limits", missing="it has none"),
    Field("high", "number", "Its 95 % limits", missing="it has none"),
    Field("clusters", "count", "How many clusters or units it takes as independent"),
    Field("ours", "number", "The estimate in the answer", missing="not known"),
    Field("ours_low", "number", "The limits in the answer", missing="not known"),
    Field("ours_high", "number", "The limits in the answer", missing="not known"),
    Field(
        "none_at",
        "number",
        "Where nothing is going on: the share on offer, or no difference",
        missing="nowhere",
    ),
    Field("agrees", "flag", "Whether both say the same"),
    Field("why", "text", "A code for why they differ", missing="they agree"),
    Field("says", "text", "That in a sentence"),
)
