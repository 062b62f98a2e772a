"""The shape of what ``--json`` prints, as JSON Schema: made from the columns each answer declares."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..columns import SCHEMA, Field, Schema
from ..reasons import CONFOUNDERS, REASONS
from ..registry import ANSWERS, columns_of

_TYPES: dict[str, dict[str, Any]] = {
    "id": {"type": "string"},
    "text": {"type": "string"},
    "time": {"type": "string"},
    "list": {"type": "array", "items": {"type": "string"}},
    "count": {"type": "integer"},
    "number": {"type": "number"},
    "flag": {"type": "boolean"},
}
_TEXTS = {"type": "array", "items": {"type": "string"}}


Columns = tuple[Schema, dict[str, Schema]]


def json_schema(beyond: Mapping[str, Columns] | None = None) -> dict[str, Any]:
    """One schema for all answers; ``answer`` says which columns the rows have.

    ``beyond``: columns of rows and parts of answers that ask more than one study.
    """
    columns = {kind.name: columns_of(kind) for kind in ANSWERS} | dict(beyond or {})
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A zoneuse answer",
        "type": "object",
        "required": [
            "schema", "answer", "study", "zoneuse", "filters", "effort", "rows", "parts", "findings", "cautions",
            "seed",
        ],
        "properties": {
            "schema": {"const": SCHEMA},
            "answer": {"enum": list(columns)},
            "study": {"type": "string"},
            "zoneuse": {"type": "string"},
            "filters": _filters(),
            "effort": {"type": "object"},
            "findings": {"type": "array", "items": _finding()},
            "cautions": {"type": "array", "items": _object({"code": {"type": "string"}, "says": {"type": "string"}})},
            "seed": {"type": ["integer", "null"]},
        },
        "allOf": [_of_answer(name, *of) for name, of in columns.items()],
    }  # fmt: skip


def _of_answer(name: str, rows: Schema, parts: Mapping[str, Schema]) -> dict[str, Any]:
    """The rows and parts of one answer. Parts whose columns are the study's own are only listed as tables."""
    return {
        "if": {"properties": {"answer": {"const": name}}},
        "then": {
            "properties": {
                "rows": {"type": "array", "items": row_schema(rows)},
                "parts": {
                    "type": "object",
                    "properties": {
                        part: {"type": "array", "items": row_schema(schema)} for part, schema in parts.items()
                    },
                    "additionalProperties": {"type": "array", "items": {"type": "object"}},
                },
            }
        },
    }


def row_schema(schema: Schema) -> dict[str, Any]:
    return _object({field.name: _value(field) for field in schema})


def _value(field: Field) -> dict[str, Any]:
    kind = {**_TYPES[field.kind], "description": field.means + (f" ({field.unit})" if field.unit else "")}
    # A number that came out endless is written as null.
    if field.missing or field.kind == "number":
        kind["type"] = [kind["type"], "null"]
    return kind


def _object(properties: dict[str, Any]) -> dict[str, Any]:
    return {
        "type": "object",
        "properties": properties,
        "required": list(properties),
        "additionalProperties": False,
    }


def _filters() -> dict[str, Any]:
    when = {"type": ["string", "null"]}
    return _object(
        {"animals": _TEXTS, "since": when, "until": when, "slot": when, "behaviours": _TEXTS, "treatments": _TEXTS,
         "phases": _TEXTS}
    )  # fmt: skip


def _finding() -> dict[str, Any]:
    number = _object({"value": {"type": ["number", "null"]}, "unit": {"type": "string"}})
    forecast = _object(
        {"more": {"type": ["integer", "null"]}, "chance": {"type": ["number", "null"]},
         "most": {"type": ["integer", "null"]}}
    )  # fmt: skip
    confounder = _object(
        {
            "code": {"enum": [*CONFOUNDERS]}, "about": _TEXTS, "what": {"type": "string"},
            "side": {"enum": ["", "before", "after"]}, "on": {"type": ["string", "null"]},
        }
    )  # fmt: skip
    return _object(
        {
            "confounders": {"type": "array", "items": confounder},
            "about": _TEXTS, "verdict": {"type": "string"}, "standing": {"type": "string"},
            "reason": {"enum": ["", *REASONS]}, "numbers": {"type": "object", "additionalProperties": number},
            "forecast": {"anyOf": [{"type": "null"}, forecast]}, "unit": {"type": "string"},
            "compared": {"type": "integer", "minimum": 0}, "says": {"type": "string"},
        }
    )  # fmt: skip
