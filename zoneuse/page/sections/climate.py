"""The section on heat, moisture and water: drying zones with their use, readings, and what each water did."""

from __future__ import annotations

import pandas as pd

from ...answers.climate import (
    DAYS_SHOWN,
    FOUND,
    ClimateAnswer,
    DryingDays,
    drying_charts,
    drying_described,
    median_said,
    over_the_day,
    sensor_said,
    wet_said,
)
from ...answers.finding import Finding
from ...answers.phrases import counted
from ...answers.quantities_said import label
from ...answers.showing.plain import rows
from ...answers.showing.said import source
from ...pictures import Figure, clock_said
from ...study import DERIVED
from ..gathered import Gathered
from ..markup import MOST_ROWS, bullets, figure, first_of_many, section, table, text
from .pieces import careful, for_readers, headed, noted, said_with_trust, whole

_DAY = (
    "Each zone over the hours of the clock: the median and the middle 90 % of the readings, your limits, and beneath "
    "it how much of the time seen at each hour was spent there. No bar: not watched, or not used."
)


def climate(found: Gathered) -> str:
    answer = found.climate
    parts: list[str] = []
    told: list[Finding] = []
    for number, one in enumerate(found.drying, 1):
        name = answer.labels.get(one.zone, one.zone)
        finding = next((f for f in answer.findings if f.about == (one.zone,)), None)
        says = f"{name}: {one.verdict}." if finding is None else for_readers(finding.says)
        told += [] if finding is None else [finding]
        felt = [(at.to_pydatetime(), word) for at, word in _felt_in(answer.parts.get("felt"), one.zone)]
        zone = found.declared.timezone
        drawn = Figure(
            f"drying{number}", f"{name}: drying and use", one.quantity_said, source(found.declared.title),
            tuple(drying_charts(one, name, zone, felt)), f"{says} {drying_described(one, zone, felt)}",
        )  # fmt: skip
        drawing = figure(drawn, _drying_said(one, number == 1))
        said = f"<p>{said_with_trust(says, '' if finding is None else finding.standing)}</p>"
        parts.append(f"<h3>{text(name)}</h3>{said}{drawing}")
    rest = bullets(
        (said_with_trust(f.says, f.standing) for f in answer.findings if not any(f is t for t in told)),
        "findings",
    )
    return section(
        "climate", "Heat, moisture and water", headed(answer), figure(over_the_day(answer), _DAY), rest, *parts,
        noted(answer), _climate_table(found), _waters_table(found), careful(answer),
    )  # fmt: skip


def _felt_in(part: pd.DataFrame | None, zone: str) -> list[tuple[pd.Timestamp, str]]:
    """When a zone was felt by hand, and how."""
    mine = part[part["zone"] == zone] if part is not None else None
    return [] if mine is None else list(zip(mine["at"], mine["felt"].astype(str), strict=True))


def _drying_said(one: DryingDays, first: bool) -> str:
    """What the figure shows; how to read it stands under the first one."""
    waters = sum(w.kind != FOUND for w in one.waters), sum(w.kind == FOUND for w in one.waters)
    named = zip(waters, ("on record (filled)", "found in the readings (hollow)"), strict=True)
    kinds = [f"{n} {said}" for n, said in named if n]
    told = (
        f"Water put in: {', '.join(kinds)}." if kinds else "No water is on record or found in the readings."
    )
    days = f" The last {DAYS_SHOWN} days." if one.cut else ""
    if not first:
        return told + days
    use = (
        f" Below, the share of time spent in it in each of {counted(len(one.use), 'session')}."
        if len(one.use)
        else ""
    )
    return f"The line is the median of the 24 hours around each moment. {told}{days}{use}"


def _zones(answer: ClimateAnswer) -> pd.DataFrame:
    return answer.parts.get("zones", pd.DataFrame())


def _climate_table(found: Gathered) -> str:
    answer, f = found.climate, found.declared.fahrenheit
    numbers = []
    quantities = [q for q in dict.fromkeys(_zones(answer).get("quantity", [])) if q not in DERIVED]
    for r in rows(_zones(answer)):
        if r["quantity"] not in quantities:
            continue
        outside = [v for v in (r["below_limit_h"], r["above_limit_h"]) if v is not None]
        numbers.append(
            (
                f"{answer.labels.get(r['zone'], r['zone'])}, {label(r['quantity'])}", median_said(r, f),
                sensor_said(r, f), wet_said(r), f"{sum(outside):.0f} h" if outside else "none set",
                f"{100 * r['covered']:.0f} %",
            )
        )  # fmt: skip
    heads = (
        "Zone", "Median (5–95 % of the time)", "Sensor tells", "Saturated", "Outside your limits", "Time covered"
    )  # fmt: skip
    return table(
        "Readings by zone (≥: the sensor was at its ceiling, and the air at least that moist)", heads, numbers
    )


def _waters_table(found: Gathered) -> str:
    part = found.climate.parts.get("responses")
    if part is None:
        return ""
    numbers = [
        (
            found.climate.labels.get(r["zone"], r["zone"]),
            clock_said(part["at"].iloc[i].to_pydatetime(), found.declared.timezone)
            + ("" if r["adjustment"] else " (found)"),
            "–" if r["amount"] is None else f"{r['amount']:g} {r['unit'] or ''}".strip(),
            whole(r["before"]), whole(r["peak"]), whole(r["half_days"], " d"), whole(r["above_limit_days"], " d"),
            f"{whole(r['held_days'], '')} d{_UNTIL.get(r['held_until'], '')}",
        )
        for i, r in enumerate(rows(part))
    ]  # fmt: skip
    heads = ("Zone", "When", "Poured", "Before", "Peak", "Half gone", "Above limit", "Held")
    return table("What each water did", heads, numbers[:MOST_ROWS], left=(1,)) + first_of_many(len(numbers))


_UNTIL = {
    "limit": ", to the limit",
    "half of the rise": ", to half of the rise",
    "next water": ", to the next water",
    "gap in readings": ", to a gap in the readings",
    None: " so far",
}
