"""The climate's numbers and small charts as plain values for the screens."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, cast

from ....answers.answer import Answer
from ....answers.climate import ClimateAnswer, chart_lines
from ....answers.quantities_said import brief, short, unit
from ....answers.showing.plain import rows
from ....study import from_ms

if TYPE_CHECKING:
    from ....answers.study import Study

_WIDE, _NARROW = 80, 40
# Heading, left-aligned, on a phone too.
_HEADINGS = (
    ("Zone", True, True), ("What", True, True), ("Median", False, True), ("5–95 %", False, True),
    ("Swing", False, False), ("Outside", False, False), ("Covered", False, False),
)  # fmt: skip


def climate_headings() -> list[dict[str, Any]]:
    return [{"text": text, "left": left, "narrow": narrow} for text, left, narrow in _HEADINGS]


def climate_rows(study: Study, answer: Answer) -> list[dict[str, Any]]:
    """Every zone and quantity: median, range, daily swing, hours outside the keeper's limits, coverage."""
    part = answer.parts.get("zones")
    if part is None:
        return []
    return [
        {"cells": _cells(row, answer, study.declared.fahrenheit), "about": [row["zone"]]}
        for row in rows(part)
    ]


def _cells(row: dict[str, Any], answer: Answer, fahrenheit: bool) -> list[str]:
    quantity = row["quantity"]

    def value(name: str, difference: bool = False) -> str:
        if row[name] is None:
            return "–"
        return brief(quantity, row[name], fahrenheit, difference)

    outside = [v for v in (row["below_limit_h"], row["above_limit_h"]) if v is not None]
    return [
        str(answer.labels.get(row["zone"], row["zone"])),
        f"{short(quantity)} {unit(quantity, fahrenheit)}".strip(),
        value("median"),
        f"{value('p05')}–{value('p95')}",
        value("daily_swing", True),
        f"{sum(outside):.0f} h" if outside else "–",
        f"{100 * row['covered']:.0f} %" if row["covered"] is not None else "–",
    ]


def climate_series(study: Study, answer: Answer) -> dict[str, list[dict[str, Any]]]:
    """The small charts as lines, for a wide and a narrow screen, what each water did, and which files it is from."""
    climate = cast(ClimateAnswer, answer)
    series: dict[str, list[dict[str, Any]]] = {
        name: [{"line": line} for line in chart_lines(climate, width)]
        for name, width in (("wide", _WIDE - 3), ("narrow", _NARROW - 3))
    }
    for name in ("responses", "zones", "chart"):
        part = answer.parts.get(name)
        series[name] = rows(part) if part is not None else []
    return {**series, "files": _files(study)}


def _files(study: Study) -> list[dict[str, Any]]:
    """One row per file taken in and logger in it."""
    from ....readings.store import intakes

    zone = study.declared.timezone
    return [
        {
            "file": intake.file,
            "logger": part.logger,
            "rows": part.rows,
            "first": from_ms(part.first_ms).astimezone(zone).isoformat(timespec="minutes"),
            "last": from_ms(part.last_ms).astimezone(zone).isoformat(timespec="minutes"),
        }
        for intake in intakes(study.folder)[0]
        for part in intake.parts
    ]
