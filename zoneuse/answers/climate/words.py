"""What the climate answer says of each finding, and of water that is not on record."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np
import pandas as pd

from ...stats.drying import LEAST_DAYS, LEAST_WITH_PAST, DryForecast, median_held
from ...study import Declaration, spoken_time, visible
from .. import reasons
from ..finding import TOO_EARLY, Finding
from ..phrases import SLOT_SAID, counted, listed
from ..quantities_said import label, said
from ..showing.said import number, signed
from .cycles import FOUND, WATER
from .drying import DRYING, RECHARGE, STEADY, STEADY_DAYS, STEADY_PER_DAY, Drying
from .judge import meant_moist
from .limits import RECENT_DAYS, OutOfLimits, bound_of
from .series import DAY_MS, at_time

_SAME_MS = DAY_MS // 2
_PURPOSE = {"humidity": "moisture", "radiation": "warmth", "temperature": "another temperature"}


def sentence(finding: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    """One finding in words, with what it rests on."""
    if finding.reason == reasons.NO_READINGS:
        return (
            "No logger has readings in a zone yet, so nothing can be said about the climate. Take an export in with "
            "zoneuse readings FILE."
        )
    return _SENTENCES[finding.facts["kind"]](finding, declared, labels)


def _drying(f: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    one: Drying = f.facts["drying"]
    basis = "" if f.verdict == TOO_EARLY or one.limit is None else f" {_rests_on(f)}"
    return f"{without_basis(f, labels)}{basis}"


def without_basis(f: Finding, labels: Mapping[str, str]) -> str:
    """What is said of a zone that dries, without coverage and the sensor's check."""
    one: Drying = f.facts["drying"]
    name = labels[f.about[0]]
    level = f"{'at least ' * one.saturated}{one.level:.0f} %" if np.isfinite(one.level) else "no full day yet"
    if f.verdict == TOO_EARLY:
        return f"{name}: {level}. {_why_early(f)}"
    if one.limit is not None:
        return f"{name} {_with_limit(one, level)}{_held(f.facts['held'])}"
    if f.verdict == STEADY:
        at = ":" if one.saturated else " at"
        return f"{name} is steady{at} {level} (within {STEADY_PER_DAY:g} points a day over the last week)."
    loses = f"loses {one.per_day:.1f} points a day"
    return f"{name} is drying: {level}, {loses}. You set no lower limit for it, so no date can be given."


def _with_limit(one: Drying, level: str) -> str:
    low, high = one.days[1:]
    span = (
        f"{low:.0f} to {high:.0f}"
        if np.isfinite(high)
        else f"at least {low:.0f}"
        if low >= 0.5
        else "any day"
    )
    if one.verdict == RECHARGE and one.reason == "below":
        return f"needs water now: its 24-hour median is {level}, below your limit of {one.limit:g} %."
    basis = f"80 % interval, from {_from(one.forecast)}" if one.forecast else ""
    limit = f"your limit of {one.limit:g} %"
    stale = one.now_day - one.cycles.newest
    if one.verdict == RECHARGE and stale > 1 and one.days[0] == 0:
        return (
            f"needs water now: its newest reading, {counted(round(stale), 'day')} old, was {level}, and by the "
            f"forecast it has passed {limit} since ({basis}). A newer reading would tell."
        )
    if one.verdict == RECHARGE:
        return f"needs water now: {level}, and {limit} is {_about(one.days[0])} away ({span} days; {basis})."
    if one.verdict == DRYING:
        return f"is drying: {level} now; it will pass {limit} in {_about(one.days[0])} ({span}; {basis})."
    return (
        f"is steady: {level}; nine times in ten it would stay above {limit} for {STEADY_DAYS} days ({basis})."
    )


def _from(made: DryForecast) -> str:
    return counted(made.past, "past cycle") if made.past else "this cycle only"


def _holds(one: Drying) -> str:
    """Too early to date: what holds may do so for a day or for weeks, and no past cycle tells which."""
    turn, end = one.cycles.spans()[-1]
    since = "it was watered" if turn.kind in (WATER, FOUND) else "its first reading or last change"
    soonest = one.forecast.low if one.forecast is not None else 0.0
    says = (
        f"It has held for {counted(round(end - turn.day), 'day')} since {since}; a place that holds may go on for "
        "weeks or start drying tomorrow. Too early for a date: no past cycle here shows when it starts to fall"
    )
    if soonest < 1.5:
        return f"{says}."
    return f"{says}; nine times in ten it would hold for {counted(round(soonest), 'more day')}."


def _about(days: float) -> str:
    if not np.isfinite(days):
        return "more than 60 days"
    return "less than a day" if days < 0.75 else f"about {counted(round(days), 'day')}"


def _held(held: Sequence[tuple[float, bool]]) -> str:
    """``The last two waterings lasted 6 and 9 days.``; "at least" where new water came before the limit."""
    if not held:
        return ""
    if len(held) == 1:
        (days, ended), *_ = held
        return f" The last watering lasted {'' if ended else 'at least '}{counted(round(days), 'day')}."
    if len(held) <= 3:
        told = listed([f"{'' if ended else 'at least '}{days:.0f}" for days, ended in held])
        return f" The last {number(len(held))} waterings lasted {told} days."
    middle = median_held([d for d, _ in held], [e for _, e in held])
    span = f"{min(d for d, _ in held):.0f} to {max(d for d, _ in held):.0f}"
    usual = f"{middle:.0f}" if np.isfinite(middle) else f"over {max(d for d, _ in held):.0f}"
    return f" The last {number(len(held))} waterings lasted about {usual} days ({span})."


def _rests_on(f: Finding) -> str:
    if f.facts["quantity"] != "humidity_pct":
        return f"[{100 * f['covered']:.0f} % covered]"
    sensor = "never checked against a salt"
    if "check_age" in f.numbers:
        sensor = f"last checked {f['check_age']:.0f} days before"
    return f"[{100 * f['covered']:.0f} % covered; sensor {sensor}]"


def _why_early(f: Finding) -> str:
    if f.reason == reasons.NOT_FALLING:
        return _holds(f.facts["drying"])
    if f.reason == reasons.SPREAD:
        return "Too early to tell whether it is falling or steady."
    one: Drying = f.facts["drying"]
    need = LEAST_WITH_PAST if one.past and one.limit is not None else LEAST_DAYS
    return f"Too early: fewer than {counted(need, 'full day')} of readings since the last water or change."


def _outside(f: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    found: OutOfLimits = f.facts["found"]
    quantity, fahrenheit = found.quantity, declared.fahrenheit
    parts = []
    if found.side:
        limit = said(quantity, bound_of(found.bounds, found.side), fahrenheit)
        value = said(quantity, found.newest.value, fahrenheit)
        when = spoken_time(at_time(found.newest.at_ms), declared.timezone)
        parts.append(f"the newest reading ({value}, {when}) is {found.side} your limit of {limit}")
    for where, hours in found.hours.items():
        bound = bound_of(found.bounds, where)
        limit = said(quantity, bound, fahrenheit) if np.isfinite(bound) else "then"
        parts.append(
            f"{hours:.0f} h {where} your limit of {limit} in its last {RECENT_DAYS} days "
            f"({found.total_h[where]:.0f} h in all, {100 * found.covered:.0f} % covered)"
        )
    return f"{labels[found.zone]}, {label(quantity)}: {'; '.join(parts)}."


def _flat(f: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    quantity = f.facts["quantity"]
    where = f"{f.facts['enclosure']}: " if f.facts["enclosure"] else ""
    apart, tell = (said(quantity, f[n], declared.fahrenheit, True) for n in ("difference", "sensors_tell"))
    pair = f"{labels[f.facts['zone']]} and {labels[f.facts['other']]}"
    numbers = f"{pair} differ by {apart}, and two such sensors agree only to within {tell}"
    if f.facts["slots"]:
        when = " and ".join(SLOT_SAID.get(s, s) for s in f.facts["slots"])
        return f"{where}{label(quantity).capitalize()} {when}: {numbers}: no gradient measurable then."
    if quantity == "humidity_pct":
        kind = "One wet box" if f.facts["humidity"] >= 80 else "For humidity this is one box"
        return f"{where}{kind}: {numbers}: no gradient measurable. So no humidity preference can be learned here."
    return (
        f"{where}{label(quantity).capitalize()}: {numbers}: no gradient measurable. "
        f"So no preference for {label(quantity)} can be learned here."
    )


def _warmer(f: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    by = said("humidity_pct", f["drier"], difference=True)
    apart, tell = (
        said("dew_point_c", f[n], declared.fahrenheit, True) for n in ("dew_point_apart", "sensors_tell")
    )
    when = f"{SLOT_SAID[f.facts['slot']]} " if f.facts["slot"] in SLOT_SAID else ""
    return (
        f"{labels[f.about[0]]} reads {by} less humid than {labels[f.about[1]]} {when}but the dew point is equal "
        f"({apart} apart; the sensors agree to within {tell}): it is warmer, not drier."
    )


def _serving(f: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    purpose, quantity, apart = f.facts["purpose"], f.facts["quantity"], f["difference"]
    than = "from" if purpose == "temperature" else "than"
    word = {"humidity": "moister", "radiation": "warmer"}.get(purpose, "different")
    less = {"humidity": "drier", "radiation": "cooler"}.get(purpose, "apart")
    when = f" {SLOT_SAID[f.facts['slot']]}" if f.facts["slot"] in SLOT_SAID else ""
    span = "" if f.facts["over"] == "all" else " in the last 7 days"
    if apart < -f["sensors_tell"] and purpose != "temperature":
        size = said(quantity, abs(apart), declared.fahrenheit, difference=True)
        what = f"is {size} {less} than the open{when}{span}"
    else:
        agree = said(quantity, f["sensors_tell"], declared.fahrenheit, difference=True)
        size = signed(apart, ".1f")
        what = f"is not measurably {word} {than} the open{when}{span} ({size}; the sensors agree to within {agree})"
    return f"{labels[f.about[0]]} is there for {_PURPOSE.get(purpose, purpose)}, but {what}."


_SENTENCES: dict[str, Callable[[Finding, Declaration, Mapping[str, str]], str]] = {
    "drying": _drying, "outside": _outside, "flat": _flat, "warmer": _warmer, "serving": _serving,
}  # fmt: skip


def widest_said(declared: Declaration, table: pd.DataFrame, labels: Mapping[str, str]) -> str:
    """The widest measurable differences in temperature and humidity, in one line."""
    parts = []
    for quantity in ("temperature_c", "humidity_pct"):
        rows = table[(table["quantity"] == quantity) & table["measurable"]]
        if not len(rows):
            continue
        row = rows.iloc[int(np.argmax(rows["difference"].to_numpy()))]
        apart = said(quantity, float(row["difference"]), declared.fahrenheit, difference=True)
        when = SLOT_SAID.get(str(row["slot"]), "")
        apart = f"at least {apart}" if row["bound"] else apart
        more = "warmer" if quantity == "temperature_c" else "more humid"
        parts.append(f"{labels[row['zone']]} is {apart} {more} than {labels[row['other']]} {when}".rstrip())
    return f"Widest gradients: {'; '.join(parts)}." if parts else ""


def _rises(
    declared: Declaration, dried: Sequence[Drying]
) -> tuple[list[tuple[int, str]], list[tuple[int, str]]]:
    """Rises found in the readings, each with its zone, and water on record, each with its enclosure; times in ms."""
    found: list[tuple[int, str]] = []
    known: list[tuple[int, str]] = []
    for one in dried:
        zone = one.cycles.zone
        asked = one.limit is not None or meant_moist(declared, zone)
        for turn in one.cycles.turns:
            if turn.kind == FOUND and asked:
                found.append((one.cycles.at_ms(turn.day), zone))
            elif turn.kind == WATER:
                known.append((one.cycles.at_ms(turn.day), declared.zones[zone].enclosure))
    return found, known


def offers(declared: Declaration, dried: Sequence[Drying], labels: Mapping[str, str]) -> list[str]:
    """Rises found in the readings that nobody put on record: one sentence a moment, with the command that would.

    Only of zones with a limit or meant to be moist: in the open the weather does the same. A rise within half a day
    of water on record elsewhere in the enclosure is taken as that water's, and not asked of.
    """
    found, known = _rises(declared, dried)
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
        f"{names} rose around {spoken_time(at, declared.timezone)}: taken as a watering. If that is right, put "
        f"it on record: zoneuse adjust water {' '.join(zones)} --at {local:%Y-%m-%dT%H:%M}"
    )
