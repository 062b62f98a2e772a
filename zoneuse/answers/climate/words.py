"""The sentences about drying, and about water that is not on record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ...stats.drying.dry_forecast import LEAST_DAYS, LEAST_WITH_PAST
from ...stats.drying.drying import median_held
from ...study.clock import spoken_time
from ...study.labels import visible
from ...study.model import Declaration
from ..finding import FAIRLY_SURE, LOOKS_LIKE, TOO_EARLY, Finding
from ..phrases import counted
from .cycles import FOUND, WATER
from .drying import DRYING, RECHARGE, STEADY, STEADY_DAYS, STEADY_PER_DAY, Drying
from .series import CHECK_GETS_OLD_DAYS, DAY_MS, at_time

_SAME_MS = DAY_MS // 2


def meant_moist(declared: Declaration, zone: str) -> bool:
    """A retreat, or a zone that is said to serve humidity: its drying matters without a limit too."""
    return declared.zones[zone].role == "retreat" or "humidity" in declared.zones[zone].serves


def drying_finding(
    declared: Declaration,
    one: Drying,
    name: str,
    held: Sequence[tuple[float, bool]],
    number: Mapping[str, Any],
) -> Finding | None:
    """What is said of one zone; None for one that neither has a limit nor is meant to stay moist.

    ``held``: how long earlier charges held, days, and whether they ended at the limit or at the next water.
    ``number``: the zone's row of the summary, for its coverage and the sensor's check.
    """
    zone = declared.zones[one.cycles.zone]
    if one.limit is None and not meant_moist(declared, zone.id):
        return None
    about, verdict = (zone.id,), one.verdict
    level = f"{one.level:.0f} %" if np.isfinite(one.level) else "no full day yet"
    if verdict == TOO_EARLY:
        return Finding(about, verdict, "", says=f"{name}: {level}. {_why_early(one)}")
    checked = number["check_age_days"] is not None and number["check_age_days"] <= CHECK_GETS_OLD_DAYS
    sure = one.past >= 3 and one.limit is not None and checked and np.isfinite(one.days[2])
    grade = FAIRLY_SURE if sure else LOOKS_LIKE
    if one.limit is None:
        loses = (
            f"{one.per_day:+.1f} points a day"
            if verdict == STEADY
            else f"loses {one.per_day:.1f} points a day"
        )
        says = (
            f"{name} is steady at {level} (within {STEADY_PER_DAY:g} points a day over the last week)."
            if verdict == STEADY
            else f"{name} is drying: {level}, {loses}. You set no lower limit for it, so no date can be given."
        )
        return Finding(about, verdict, LOOKS_LIKE, says=says)
    return Finding(
        about, verdict, grade, says=f"{name}: {_with_limit(one, level)}{_held(held)} {_rests_on(number)}"
    )


def _with_limit(one: Drying, level: str) -> str:
    low, high = one.days[1:]
    span = f"{low:.0f} to {high:.0f}" if np.isfinite(high) else f"{low:.0f} or more"
    if one.verdict == RECHARGE and one.reason == "below":
        return f"recharge now. The 24-hour median is {level}, below your limit of {one.limit:g} %."
    basis = f"80 % interval, from {one.forecast.method}" if one.forecast else ""
    limit = f"your limit of {one.limit:g} %"
    stale = one.now_day - one.cycles.newest
    if one.verdict == RECHARGE and stale > 1 and one.days[0] == 0:
        return (
            f"recharge now. It was at {level} {counted(round(stale), 'day')} before the time counted from, and by the "
            f"forecast it has passed {limit} since ({basis}). Newer readings would tell."
        )
    if one.verdict == RECHARGE:
        return f"recharge now. {level}, and {limit} is {_about(one.days[0])} away ({span} days; {basis})."
    if one.verdict == DRYING:
        return f"drying. {level}; it passes {limit} in {_about(one.days[0])} ({span}; {basis})."
    if one.reason == "trend":
        return f"steady at {level}, not falling over the last week (limit {one.limit:g} %)."
    return f"steady. {level}; nine in ten that it stays above {limit} for {STEADY_DAYS} days ({basis})."


def _about(days: float) -> str:
    if not np.isfinite(days):
        return "more than 60 days"
    return "less than a day" if days < 0.75 else f"about {counted(round(days), 'day')}"


def _held(held: Sequence[tuple[float, bool]]) -> str:
    """``Earlier charges held 6 and 9 days.``; "at least" where new water came before the limit."""
    if not held:
        return ""
    charges = "charges" if len(held) > 1 else "charge"
    if len(held) <= 3:
        told = " and ".join(f"{'' if ended else 'at least '}{days:.0f}" for days, ended in held)
        return f" Earlier {charges} held {told} days."
    middle = median_held([d for d, _ in held], [e for _, e in held])
    span = f"{min(d for d, _ in held):.0f} to {max(d for d, _ in held):.0f}"
    usual = f"{middle:.0f}" if np.isfinite(middle) else f"more than {max(d for d, _ in held):.0f}"
    return f" {len(held)} earlier {charges} held {usual} days in the middle ({span})."


def _rests_on(number: Mapping[str, Any]) -> str:
    check = number["check_age_days"]
    sensor = "never checked against a salt" if check is None else f"last checked {check:.0f} days before"
    if number["quantity"] != "humidity_pct":
        return f"[{100 * number['covered']:.0f} % covered]"
    return f"[{100 * number['covered']:.0f} % covered; sensor {sensor}]"


def _why_early(one: Drying) -> str:
    if one.reason == "not falling":
        return "Not falling over the last days, but neither steady for long enough: cannot be told yet."
    if one.reason == "unclear":
        return "Falling or steady: cannot be told yet."
    need = LEAST_WITH_PAST if one.past and one.limit is not None else LEAST_DAYS
    return f"Too early: fewer than {counted(need, 'full day')} of readings since the last water or change."


def offers(declared: Declaration, dried: Sequence[Drying], labels: Mapping[str, str]) -> list[str]:
    """Rises found in the readings that nobody put on record: one sentence a moment, with the command that would.

    Only of zones with a limit or meant to be moist: in the open the weather does the same. A rise within half a day
    of water on record elsewhere in the enclosure is taken as that water's, and not asked of.
    """
    found: list[tuple[int, str]] = []
    known: list[tuple[int, str]] = []
    for one in dried:
        zone, enclosure = one.cycles.zone, declared.zones[one.cycles.zone].enclosure
        for turn in one.cycles.turns:
            if turn.kind == FOUND and (one.limit is not None or meant_moist(declared, zone)):
                found.append((one.cycles.at_ms(turn.day), zone))
            elif turn.kind == WATER:
                known.append((one.cycles.at_ms(turn.day), enclosure))
    moments: list[list[tuple[int, str]]] = []
    for at, zone in sorted(found):
        enclosure = declared.zones[zone].enclosure
        if any(e == enclosure and abs(at - k) < _SAME_MS for k, e in known):
            continue
        last = moments[-1] if moments else []
        if last and at - last[0][0] < _SAME_MS and declared.zones[last[0][1]].enclosure == enclosure:
            last.append((at, zone))
        else:
            moments.append([(at, zone)])
    return [_offer(declared, moment, labels) for moment in moments]


def _offer(declared: Declaration, moment: Sequence[tuple[int, str]], labels: Mapping[str, str]) -> str:
    zones = list(dict.fromkeys(zone for _, zone in moment))
    at = at_time(moment[0][0])
    local = at.astimezone(declared.timezone)
    names = ", ".join(visible(labels[z]) for z in zones)
    return (
        f"{names} rose and stayed risen around {spoken_time(at, declared.timezone)}: taken as water put in. If so, put "
        f"it on record: zoneuse adjust water {' '.join(zones)} --at {local:%Y-%m-%dT%H:%M}"
    )
