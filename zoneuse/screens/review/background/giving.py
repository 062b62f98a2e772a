"""An open study's answers as plain values for the screens. Runs in the process beside them: it loads pandas."""

from __future__ import annotations

from dataclasses import asdict, replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from ....answers.answer import Answer
from ....answers.showing.plain import rows
from ....answers.showing.terminal import cell
from ....pictures import EstimateRows
from .asked import SESSIONS
from .crossing import CROSSING
from .giving_climate import climate_headings, climate_rows, climate_series
from .giving_sessions import filters_of, give_sessions

if TYPE_CHECKING:
    from ....answers.study import Study

# What a row is about, in the order a finding names it.
_ABOUT = ("adjustment", "zone", "animal", "group", "behaviour", "name", "pair")
_MOST_ROWS = 400
# Which finer cuts the charts of an answer are drawn from.
_PARTS = {
    "zones": ("by_animal", "by_slot", "density", "by_hour"),
    "activity": ("against_baseline", "by_hour"),
    "prefer": ("bins", "used_against_offered"),
    "retreats": ("pairs",),
    "observers": ("confusion",),
    "shifts": ("reached",),
}


def give(study: Study, name: str, asked: dict[str, Any], now: datetime) -> dict[str, Any]:
    """One answer (or the sessions behind all of them) as plain values. Raises what the answer raises."""
    if name == SESSIONS:
        return give_sessions(study, asked)
    extra = {"climate": {"clock": now}, "plan": {"now": now}}.get(name, {})
    answer: Answer = study.answer(name, **asked, **extra)
    given = crossed(name, answer)
    if name == "climate":
        # Its numbers are in a part of its own; they become the table.
        given["headings"], given["rows"], given["hidden"] = climate_headings(), climate_rows(study, answer), 0
    given["series"].update(_charts(study, name, answer, asked))
    return given


def crossed(name: str, answer: Answer) -> dict[str, Any]:
    """An answer as it crosses: what is said, the table as it is read, and the rows behind its charts."""
    table = rows(answer.table)
    first = list(range(len(table))) if answer.first_rows is None else list(answer.first_rows)
    others = [i for i in range(len(table)) if i not in set(first)][:_MOST_ROWS]
    picked = [table[i] for i in [*first[:_MOST_ROWS], *others]]
    return {
        "crossing": CROSSING,
        "name": name,
        "headline": answer.headline,
        "findings": [
            {"about": list(f.about), "verdict": f.verdict, "standing": f.standing, "says": f.says}
            for f in answer.findings
        ],
        "notes": [*([answer.basis] if answer.basis else []), *(n.says for n in answer.notes)],
        "cautions": [c.says for c in answer.cautions],
        "headings": [
            {"text": c.heading, "left": c.shown in ("text", "first"), "narrow": c.narrow}
            for c in answer.shown
        ],
        "rows": [
            {"cells": [cell(c, row, answer) for c in answer.shown], "about": about(row)} for row in picked
        ],
        "hidden": len(others),
        "labels": dict(answer.labels),
        "series": {
            "rows": table[:_MOST_ROWS],
            "figure": _figure(answer),
            **{part: rows(answer.parts[part]) for part in _PARTS.get(name, ()) if part in answer.parts},
        },
    }


def _figure(answer: Answer) -> list[dict[str, Any]]:
    """The first rows of the answer's picture: what they are drawn on, then a row each."""
    panels = answer.figure().panels if len(answer.table) and answer.declared is not None else ()
    panel = next((p for p in panels if isinstance(p, EstimateRows)), None)
    if panel is None:
        return []
    against = next((k.says for k in panel.key if k.glyph == "reference"), "")
    scale = {
        "low": panel.scale.low, "high": panel.scale.high, "log": panel.scale.log, "heading": panel.heading,
        "ticks": [list(t) for t in panel.scale.ticks], "reference": panel.reference, "against": against,
    }  # fmt: skip
    return [scale, *({**asdict(row), "about": list(row.about)} for row in panel.rows)]


def about(row: dict[str, Any]) -> list[str]:
    """The ids a row is about."""
    return [str(row[name]) for name in _ABOUT if row.get(name) is not None]


def _charts(
    study: Study, name: str, answer: Answer, asked: dict[str, Any]
) -> dict[str, list[dict[str, Any]]]:
    if name == "shifts":
        from ....answers.shifts import use_around_changes

        units = use_around_changes(replace(study.question({}), filters=filters_of(study, asked)))
        return {"units": rows(units)}
    if name == "climate":
        return climate_series(study, answer)
    return {}
