"""A drying zone as charts: its readings day by day, each water, the keeper's limit, the forecast, and use beneath."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, tzinfo

import numpy as np

from ....pictures import (
    Band,
    Blocks,
    Chart,
    EventMark,
    Key,
    Level,
    Scale,
    Trace,
    clock_said,
    day_number,
    shares,
    time_ticks,
)
from ....pictures.plot import Mark
from ..cycles import FOUND
from .drying_days import DryingDays

# With more than so many, what was felt is told by its first letter.
_MANY_FELT = 8
_DRYING_HIGH, _USE_HIGH = 130, 46
Felt = Sequence[tuple[datetime, str]]


def drying_charts(one: DryingDays, name: str, zone: tzinfo, felt: Felt = ()) -> list[Chart]:
    """The zone's readings over its days; use of it beneath, where there is any."""
    has_use = len(one.use) > 0
    ticks = time_ticks(one.first, one.last, 8, zone)
    x = Scale(day_number(one.first), day_number(one.last), () if has_use else ticks)
    then = tuple(day_number(t) for t in one.ahead["at"].tolist())
    values = tuple(float(v) for v in one.daily["median"])
    marks: list[Mark] = [*_ahead(one, then)]
    marks += [Level(one.limit)] if one.limit is not None else []
    marks += [
        EventMark(day_number(w.at), kind="found" if w.kind == FOUND else "recorded") for w in one.waters
    ]
    marks.append(Trace(tuple(day_number(t) for t in one.daily["at"].tolist()), values))
    marks += _felt(one, felt)
    key = _key(one, bool(then))
    heading = f"{name}: {one.quantity_said}, %"
    charts = [Chart(x, _percents(_ends(one, values)), tuple(marks), heading, _DRYING_HIGH, key=key)]
    return [*charts, _use_by_session(one, Scale(x.low, x.high, ticks))] if has_use else charts


def _ahead(one: DryingDays, then: tuple[float, ...]) -> list[Mark]:
    if not then:
        return []
    low, middle, high = (tuple(map(float, one.ahead[c])) for c in ("low", "median", "high"))
    return [Band(then, low, high), Trace(then, middle, ahead=True)]


def _ends(one: DryingDays, values: tuple[float, ...]) -> list[float]:
    """All that a scale must hold."""
    ends = [
        v
        for v in (*values, *map(float, one.ahead["low"]), *map(float, one.ahead["high"]))
        if not math.isnan(v)
    ]
    return [*ends, one.limit] if one.limit is not None else ends


def _felt(one: DryingDays, felt: Felt) -> list[Mark]:
    near = [(t, word) for t, word in felt if one.first <= t <= one.last]
    return [
        EventMark(day_number(t), word if len(near) <= _MANY_FELT else word[:1], "felt") for t, word in near
    ]


def _key(one: DryingDays, ahead: bool) -> tuple[Key, ...]:
    kinds = {w.kind == FOUND for w in one.waters}
    entries = (
        (True, Key("line", "24-hour median")), (ahead, Key("ahead", "forecast")), (ahead, Key("band", "80 % limits")),
        (one.limit is not None, Key("limit", "your limit")), (False in kinds, Key("recorded", "water")),
        (True in kinds, Key("found", "water found in the readings")),
    )  # fmt: skip
    return tuple(key for there, key in entries if there)


def _use_by_session(one: DryingDays, x: Scale) -> Chart:
    reach = (x.high - x.low) / 700
    boxes = []
    for at, share in zip(one.use["at"].tolist(), one.use["share"], strict=True):
        if share > 0:
            boxes.append((day_number(at) - reach, day_number(at) + reach, 0.0, float(share)))
    y = shares([*one.use["share"].tolist(), 0.1])
    y = Scale(0, y.high, ((0.0, "0"), y.ticks[-1]))
    return Chart(x, y, (Blocks(tuple(boxes)),), "Use of it, by session", _USE_HIGH)


def _percents(values: list[float]) -> Scale:
    low = max(math.floor(min(values, default=0) / 10) * 10, 0)
    high = max(min(math.ceil(max(values, default=100) / 10) * 10, 100), low + 20)
    step = 10 if high - low <= 40 else 20
    ticks = tuple((float(v), f"{v} %") for v in range(low, high + 1, step))
    return Scale(low - 1, high + 3, ticks)


def drying_described(one: DryingDays, zone: tzinfo, felt: Felt = ()) -> str:
    """What the picture of a drying zone shows, in words."""
    waters = [
        f"{clock_said(w.at, zone)}{' (found in the readings)' if w.kind == FOUND else ''}" for w in one.waters
    ]
    told = (
        f"Water went in {', '.join(waters)}." if waters else "No water is on record or found in the readings."
    )
    known = one.daily[~np.isnan(one.daily["median"])]
    if len(known):
        told += (
            f" The 24-hour median ran from {known['median'].min():.0f} to {known['median'].max():.0f} % and ended at "
            f"{known['median'].iloc[-1]:.0f} %."
        )
    near = ", ".join(f"{word} {clock_said(at, zone)}" for at, word in felt if one.first <= at <= one.last)
    return told + (f" By hand it felt {near}." if near else "")
