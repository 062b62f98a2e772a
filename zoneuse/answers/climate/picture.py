"""The climate as a picture: each zone over the hours of the day, and each drying zone over its days."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from ...pictures import (
    Band,
    Blocks,
    Chart,
    EstimateRow,
    EstimateRows,
    Figure,
    Key,
    Level,
    Scale,
    Stretch,
    Trace,
    numbers,
    shares,
)
from ...pictures.plot import Mark
from ..phrases import counted, listed
from ..quantities_said import in_unit, label, unit
from ..showing.plain import rows
from ..showing.said import capital, lights_of, source
from .drawn.charts import drying_charts
from .drawn.drying_days import drying_days
from .drying import DRYING, RECHARGE
from .judge import OUTSIDE
from .shown import ClimateAnswer

_HIGH = 62
# Readings older than this say nothing of today.
_FRESH_DAYS = 2


def headline(answer: ClimateAnswer) -> str:
    """What the readings ask of the keeper, in one sentence."""
    if not answer.parts or not len(answer.table):
        return answer.findings[0].says if answer.findings else _so_far(answer)
    old = answer.old_days > _FRESH_DAYS
    # What was so long ago is said as what was.
    then = old and not answer.told_at
    told = [*_at_once(answer, then), *_soon(answer, then)]
    says = "; ".join(told) or f"no zone {'was' if then else 'is'} drying out or outside your limits"
    if not old:
        return capital(f"{says}.")
    return (
        f"The newest reading is {answer.old_days:,} days old: {'then,' if then else 'by forecast,'} {says}."
    )


def _so_far(answer: ClimateAnswer) -> str:
    """Before there are readings to make ranges of: a limit may be broken by the first of them."""
    if not answer.effort.get("newest"):
        return "No readings were taken in yet."
    alerts = rows(answer.parts["alerts"]) if "alerts" in answer.parts else []
    told = (
        f": {alerts[0]['why']}"
        if len(alerts) == 1
        else f": {len(alerts)} limits are broken."
        if alerts
        else "."
    )
    return f"Readings have only begun{told}"


def _named(answer: ClimateAnswer, verdict: str) -> list[str]:
    return list(
        dict.fromkeys(
            answer.labels.get(f.about[0], f.about[0]) for f in answer.findings if f.verdict == verdict
        )
    )


def _at_once(answer: ClimateAnswer, then: bool) -> list[str]:
    """What needs the keeper now, or did ``then``."""
    told = []
    for verdict, one, many, past in (
        (RECHARGE, "needs water now", "need water now", "needed water"),
        (OUTSIDE, f"{_is(1, then)} outside your limits", f"{_is(2, then)} outside your limits", ""),
    ):
        if zones := _named(answer, verdict):
            told.append(f"{listed(zones)} {past if then and past else one if len(zones) == 1 else many}")
    return told


def _is(count: int, then: bool) -> str:
    return ("was" if then else "is") if count == 1 else ("were" if then else "are")


def _soon(answer: ClimateAnswer, then: bool) -> list[str]:
    """What will: the first zone to pass its limit, else what is drying."""
    soon = [d for d in answer.drying if d.verdict == DRYING and np.isfinite(d.days[0])]
    if soon:
        first = min(soon, key=lambda d: d.days[0])
        name = answer.labels.get(first.cycles.zone, first.cycles.zone)
        days = counted(round(first.days[0]), "day")
        return [
            f"{name} was about {days} from your limit"
            if then
            else f"{name} will pass your limit in about {days}"
        ]
    drying = _named(answer, DRYING)[:3]
    return [f"{listed(drying)} {_is(len(drying), then)} drying"] if drying else []


def figure(answer: ClimateAnswer) -> Figure:
    declared = answer.declared
    panels: list[EstimateRows | Chart] = [*_over_the_day(answer, "temperature_c")]
    if declared is not None:
        use = pd.DataFrame(columns=["place", "enclosure", "at", "share", "slot"])
        for one in drying_days(declared, answer.drying, use, days=42):
            panels += drying_charts(one, answer.labels.get(one.zone, one.zone), declared.timezone)
    panels += [
        p for p in (_ranges(answer, "temperature_c"), _ranges(answer, "humidity_pct")) if p is not None
    ]
    table = rows(answer.table)
    says = "; ".join(
        f"{r['zone_label']} {label(r['quantity'])} {r['median']:.1f}"
        for r in table
        if r["quantity"] in _MEASURED
    )
    did = answer.effort
    return Figure(
        "climate", answer.headline.rstrip("."), f"Readings of {_zones(table)} zones, {_span(did)}",
        source(answer.study), tuple(panels), f"Medians: {says or 'none'}.",
    )  # fmt: skip


def over_the_day(answer: ClimateAnswer) -> Figure:
    """The zones over the hours of the day alone: a page draws what dries beside its own words."""
    whole = figure(answer)
    return replace(whole, name="day", panels=tuple(_over_the_day(answer, "temperature_c")))


_MEASURED = ("temperature_c", "humidity_pct")


def _zones(table: list[dict[str, Any]]) -> int:
    return len({r["zone"] for r in table})


def _span(did: Mapping[str, Any]) -> str:
    return " to ".join(str(did[k])[:10] for k in ("from", "to") if did.get(k)) or "none yet"


def _over_the_day(answer: ClimateAnswer, quantity: str) -> list[Chart]:
    """A chart a zone on one scale: median and middle 90 % by hour, the keeper's limits, lights, and use beneath."""
    part = answer.parts.get("by_hour")
    listed_ = [] if part is None else [r for r in rows(part) if r["quantity"] == quantity]
    if not listed_:
        return []
    f, name = answer.fahrenheit, unit(quantity, answer.fahrenheit)
    limits = _limits(answer, quantity)
    ends = [in_unit(quantity, r[k], f) for r in listed_ for k in ("p05", "p95")]
    ends += [in_unit(quantity, v, f) for pair in limits.values() for v in pair if v is not None]
    y = numbers(ends, name, 4)
    most = [r["used"] for r in listed_]
    charts: list[Chart] = []
    zones = list(dict.fromkeys(r["zone"] for r in listed_))
    for number, zone in enumerate(zones):
        mine = {r["hour"]: r for r in listed_ if r["zone"] == zone}
        first, last = number == 0, number == len(zones) - 1
        charts.append(_day(answer, quantity, mine, limits=limits.get(zone, (None, None)), y=y, first=first))
        charts += _use(mine, shares(most), last)
    return charts


def _hours(last: bool) -> Scale:
    return Scale(0, 24, tuple((float(h), f"{h}:00") for h in (0, 6, 12, 18, 24)) if last else ())


def _day(
    answer: ClimateAnswer, quantity: str, mine: dict[int, dict[str, Any]], *, limits: tuple[float | None, float | None],
    y: Scale, first: bool,
) -> Chart:  # fmt: skip
    f = answer.fahrenheit
    x = tuple(h + 0.5 for h in range(24))
    middle, low, high = (
        tuple(in_unit(quantity, mine[h][k], f) if h in mine else math.nan for h in range(24))
        for k in ("median", "p05", "p95")
    )
    marks: list[Mark] = [*_dark(answer), Band(x, low, high)]
    marks += [Level(in_unit(quantity, v, f)) for v in limits if v is not None]
    marks.append(Trace(x, middle))
    dark = bool(_dark(answer))
    key = (
        Key("line", f"median {label(quantity)}"), Key("band", "middle 90 % of the time"), Key("limit", "your limits"),
        *((Key("dark", "lights off"),) if dark else ()), Key("bar", "use by hour"),
    ) if first else ()  # fmt: skip
    zone = next(iter(mine.values()))["zone"]
    return Chart(_hours(False), y, tuple(marks), answer.labels.get(zone, zone), _HIGH, key=key)


def _use(mine: dict[int, dict[str, Any]], y: Scale, last: bool) -> list[Chart]:
    """How much of the time seen at each hour was spent there; hours never watched stay empty."""
    boxes = tuple((h + 0.15, h + 0.85, 0.0, float(r["used"])) for h, r in sorted(mine.items()) if r["used"])
    ticks = ((0.0, "0"), y.ticks[-1])
    return [Chart(_hours(last), Scale(0, y.high, ticks), (Blocks(boxes),), "", 26)]


def _limits(answer: ClimateAnswer, quantity: str) -> dict[str, tuple[float | None, float | None]]:
    declared = answer.declared
    if declared is None:
        return {}
    last = {
        zone: by_quantity[quantity][-1]
        for zone, by_quantity in declared.limits.items()
        if quantity in by_quantity
    }
    return {zone: (dated.value.low, dated.value.high) for zone, dated in last.items()}


def _dark(answer: ClimateAnswer) -> list[Stretch]:
    lights = lights_of(answer.declared)
    if lights is None:
        return []
    on, off = lights
    return [Stretch(0, on), Stretch(off, 24)] if off > on else [Stretch(off, on)]


def _ranges(answer: ClimateAnswer, quantity: str) -> EstimateRows | None:
    """Median and the middle 90 % of the time, zone by zone."""
    f = answer.fahrenheit
    table = [r for r in rows(answer.table) if r["quantity"] == quantity and r["median"] is not None]
    if len(table) < 2:
        return None
    table.sort(key=lambda r: -r["median"])
    lines = []
    for r in table:
        middle, low, high = (in_unit(quantity, r[k], f) for k in ("median", "p05", "p95"))
        digits = 1 if quantity == "temperature_c" else 0
        said = f"{middle:.{digits}f} ({low:.{digits}f} to {high:.{digits}f}) {unit(quantity, f)}"
        lines.append(
            EstimateRow(
                str(r["zone_label"]), middle, low, high, said=said, claims=True, about=(str(r["zone"]),)
            )
        )
    scale = numbers([v for line in lines for v in (line.low, line.high)], unit(quantity, f))
    key = (Key("interval", "median and the middle 90 % of the time"),)
    return EstimateRows(scale, tuple(lines), capital(label(quantity)), None, key)
