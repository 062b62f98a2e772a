"""Activity as a picture: how much of each behaviour, recently against before, and the hours of the day."""

from __future__ import annotations

import math
from typing import Any

from ...pictures import Bars, Chart, EstimateRow, EstimateRows, Figure, Key, Scale, Stretch, changes, shares
from .. import reasons
from ..answer import Answer
from ..finding import TOO_EARLY, Finding
from ..phrases import counted
from ..showing.plain import rows
from ..showing.said import beside, lights_of, percent_with, points_with, source, verdicts_said
from .judge import LESS, MORE, USUAL

_ORDER = {MORE: 0, LESS: 0, USUAL: 1, TOO_EARLY: 2}


def headline(answer: Answer) -> str:
    """What is seen more or less than usual, in one sentence."""
    found = {f.about[0]: f for f in answer.findings if len(f.about) == 1}
    if any(f.reason == reasons.ONE_SIDE_SHORT for f in answer.findings):
        return "It is too early to say whether anything is more or less than usual."
    if not found:
        return answer.findings[0].says if answer.findings else "No behaviour was recorded yet."
    named: dict[str, list[str]] = {word: [] for word in _ORDER}
    for name, finding in found.items():
        if finding.reason != "not_judged":
            named[finding.verdict].append(answer.labels.get(name, name))
    grouped = [
        ("seen more than usual", named[MORE]),
        ("seen less than usual", named[LESS]),
        ("as usual", named[USUAL]),
    ]
    return verdicts_said(grouped, len(named[TOO_EARLY]), "behaviour")


def figure(answer: Answer) -> Figure:
    did = answer.effort
    table = rows(answer.table)
    panels: list[EstimateRows | Chart] = [
        p for p in (_recent(answer), _shares(answer, table), _hours(answer)) if p is not None
    ]
    said = ". ".join(
        f"{answer.labels.get(r['behaviour'], r['behaviour'])} {percent_with(r['share'], r['low'], r['high'])}"
        for r in table
        if r["share"] is not None
    )
    return Figure(
        "activity", answer.headline.rstrip("."),
        f"Shares of moments with a known behaviour; {counted(did.get('sessions', 0), 'session')} on "
        f"{counted(did.get('days', 0), 'day')}",
        source(answer.study), tuple(panels), f"Of the moments: {said or 'none'}.",
    )  # fmt: skip


def _findings(answer: Answer) -> dict[str, Finding]:
    return {f.about[0]: f for f in answer.findings if len(f.about) == 1}


def _recent(answer: Answer) -> EstimateRows | None:
    """Each behaviour recently against before, by verdict and size."""
    found = _findings(answer)
    part = rows(answer.parts["against_baseline"]) if "against_baseline" in answer.parts else []
    table = [r for r in part if r["behaviour"] in found]
    if not table:
        return None
    table.sort(key=lambda r: (_ORDER.get(found[r["behaviour"]].verdict, 3), -abs(r["change"] or 0)))
    lines = []
    for r in table:
        one = found[r["behaviour"]]
        low, middle, high = one["change_low"], one["change"], one["change_high"]
        lines.append(
            EstimateRow(
                answer.labels.get(r["behaviour"], r["behaviour"]), middle, low, high,
                said=points_with(middle, low, high), verdict=one.verdict, beside=beside(one),
                claims=one.verdict != TOO_EARLY, about=(r["behaviour"],),
            )
        )  # fmt: skip
    scale = changes(v for line in lines for v in (line.low, line.middle, line.high))
    first = next(iter(found.values()))
    counts = ""
    if "sessions_after" in first.numbers:
        counts = f" ({first['sessions_after']} sessions against {first['sessions_before']})"
    key = (Key("interval", "change with its limits"), Key("reference", "no change"))
    return EstimateRows(
        scale,
        tuple(lines),
        f"Recent sessions against earlier ones, change in share (points){counts}",
        0.0,
        key,
    )


def _shares(answer: Answer, table: list[dict[str, Any]]) -> EstimateRows | None:
    lines = [
        EstimateRow(
            answer.labels.get(r["behaviour"], r["behaviour"]), r["share"], r["low"], r["high"],
            said=percent_with(r["share"], r["low"], r["high"]), about=(r["behaviour"],), claims=True,
        )
        for r in sorted(table, key=lambda r: -(r["share"] or 0))
        if r["share"] is not None
    ]  # fmt: skip
    if not lines:
        return None
    scale = shares(v for line in lines for v in (line.middle, line.high))
    rates = [r for r in table if r["share"] is None and r["per_hour"] is not None]
    told = "; ".join(
        f"{answer.labels.get(r['behaviour'], r['behaviour'])} {r['per_hour']:.1f} per animal and hour "
        f"({r['low']:.1f} to {r['high']:.1f})"
        for r in rates
    )
    heading = "Share of the moments, 95 % limits" + (f". {told}" if told else "")
    return EstimateRows(scale, tuple(lines), heading, None)


def _hours(answer: Answer) -> Chart | None:
    """The active share by hour; hours never watched stay empty."""
    part = answer.parts.get("by_hour")
    if part is None or not len(part):
        return None
    lit = "hour_since_lights_on" in part.columns
    seen = [r for r in rows(part) if r["active"] is not None]
    if not seen:
        return None
    dark = _dark(answer) if lit else ()
    ticks = tuple((float(h), f"{h}" if lit else f"{h}:00") for h in (0, 6, 12, 18, 24))
    never = 24 - len(seen)
    clock = "since lights-on" if lit else "of the clock"
    heading = f"Active share by hour {clock}; {counted(never, 'hour')} never watched"
    key = (Key("bars", "active share, 95 % limits"), *((Key("dark", "lights off"),) if dark else ()))
    scale = shares(v for r in seen for v in (r["active"], r.get("high")))
    bars = _bars(seen, "hour_since_lights_on" if lit else "hour")
    return Chart(Scale(0, 24, ticks), scale, (*dark, bars), heading, 110, key=key)


def _bars(seen: list[dict[str, Any]], column: str) -> Bars:
    ends = [tuple(math.nan if r.get(k) is None else float(r[k]) for r in seen) for k in ("low", "high")]
    return Bars(
        tuple(float(r[column]) + 0.5 for r in seen), tuple(float(r["active"]) for r in seen), ends[0], ends[1]
    )  # fmt: skip


def _dark(answer: Answer) -> tuple[Stretch, ...]:
    lights = lights_of(answer.declared)
    return () if lights is None else (Stretch((lights[1] - lights[0]) % 24, 24.0),)
