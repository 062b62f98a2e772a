"""What the sessions to come should be worth: by how much the limits of open answers should narrow."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from ...stats.intervals import narrower, narrower_change
from ...study import Declaration
from ..answer import Answer
from ..finding import TOO_EARLY
from ..question import Question
from ..showing.plain import rows as rows_of
from .open_findings import UnderWay


def shrinking(
    question: Question, answers: Sequence[Answer], changes: Sequence[UnderWay], number: int
) -> list[dict[str, Any]]:
    """For each zone too early to call, and each change under way, the limits now and those to expect.

    Limits are narrowed about the estimate as the root of the number of units: a forecast of width, not of place.
    """
    if not number:
        return []
    named = {answer.answer: answer for answer in answers}
    return [
        *_of_zones(question, named["zones"], number),
        *_of_changes(question, named["shifts"], changes, number),
    ]


def _of_zones(question: Question, zones: Answer, number: int) -> Iterator[dict[str, Any]]:
    ratio = narrower(question.effort.units, number)
    early = {f.about[0] for f in zones.findings if f.verdict == TOO_EARLY and f.about}
    for row in rows_of(zones.table):
        if row["zone"] in early and np.isfinite(ratio):
            limits = row["used"], row["used_low"], row["used_high"]
            yield _row("zones", row["zone"], "", limits, ratio)


def _of_changes(
    question: Question, shifts: Answer, changes: Sequence[UnderWay], number: int
) -> Iterator[dict[str, Any]]:
    for row in rows_of(shifts.table):
        change = next((c for c in changes if c.change.id == row["adjustment"]), None)
        if change is None or row["what"] != "zone" or row["zone"] not in _expected(question.declared, change):
            continue
        ratio = narrower_change(row["sessions_before"], row["sessions_after"], number)
        if np.isfinite(ratio) and row["change_low"] is not None:
            limits = row["change"], row["change_low"], row["change_high"]
            yield _row("shifts", row["zone"], row["adjustment"], limits, ratio)


def _expected(declared: Declaration, change: UnderWay) -> set[str]:
    """The places a change was expected to move, or was made in."""
    zones = {str(e["zone"]) for e in change.change.expects if "zone" in e} or set(change.change.zones)
    return {declared.zones[z].place for z in zones if z in declared.zones}


def _row(
    answer: str, zone: str, adjustment: str, limits: tuple[float, float, float], ratio: float
) -> dict[str, Any]:
    value, low, high = limits
    return {
        "answer": answer, "adjustment": adjustment or None, "zone": zone, "low": low, "high": high,
        "low_then": value - (value - low) * ratio, "high_then": value + (high - value) * ratio,
        "narrower": 1 - ratio,
    }  # fmt: skip
