"""Changes as a picture: what each moved, with its limits; and one change with its sessions before and after."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import pandas as pd

from ...pictures import (
    Chart,
    Dots,
    EstimateRow,
    EstimateRows,
    EventMark,
    Figure,
    Key,
    Mean,
    Scale,
    Stretch,
    Strip,
    changes,
    day_number,
    shares,
    time_ticks,
)
from ...pictures.dates import short_day
from ...pictures.plot import Mark, Shape
from ...study import Declaration
from ...tables import Adjustment
from ..answer import Answer
from ..finding import TOO_EARLY, Finding
from ..phrases import counted, listed
from ..records.on_record import ContextEvent as OnRecord
from ..showing.plain import rows
from ..showing.said import beside, capital, known, number, points, points_with, source
from .compared.measures import ACTIVE, CONDITION, MOVES, SHARES
from .compared.named import ARROW
from .judge import CONFOUNDED, FELL, HELD, ROSE
from .over_time import AFTER, BEFORE, OUTSIDE, SETTLING
from .words import what_moved

_NO_PLACE = (ACTIVE, CONDITION, MOVES)
_ORDER = {ROSE: 0, FELL: 0, HELD: 1, CONFOUNDED: 2, TOO_EARLY: 3}
# The mark of each time of day.
SHAPES: dict[str, Shape] = {
    "night": "circle",
    "day": "square",
    "dusk": "up",
    "dawn": "down",
    "any time": "circle",
}


def headline(answer: Answer) -> str:
    """What the changes did, in one sentence."""
    found = [f for f in answer.findings if len(f.about) >= 2]
    if not found:
        if len(answer.findings) > 1:
            return f"It is too early to tell what any of the {number(len(answer.findings))} changes did."
        return answer.findings[0].says if answer.findings else "No change is on record yet."
    if all(_of_names(f) for f in found):
        return " ".join(_between(answer, name, found) for name in dict.fromkeys(f.about[0] for f in found))
    return _of_changes(answer, found)


def _of_changes(answer: Answer, found: Sequence[Finding]) -> str:
    """What rose, fell and held after the changes on record, and of how many it is too early to tell."""
    ids = dict.fromkeys(f.about[0] for f in found)
    open_ones = [
        i for i in ids if all(f.verdict in (TOO_EARLY, CONFOUNDED) for f in found if f.about[0] == i)
    ]
    told = _moved(answer, found)
    if not told:
        all_of = "the change" if len(ids) == 1 else f"any of the {number(len(ids))} changes"
        return f"It is too early to tell what {all_of} did."
    of = f"{number(len(open_ones))} of {number(len(ids))} changes"
    rest = f"; for {of} it is too early to tell" if open_ones else ""
    return capital(f"{listed(told)} {_of_what(found, len(ids))}{rest}.")


def _of_names(f: Finding) -> bool:
    """Whether two names are held against each other, and not the sides of a change."""
    return ARROW in f.about[0] and "named" in f.facts


def _between(answer: Answer, name: str, every: Sequence[Finding]) -> str:
    """``Spider model against Control: Hide rose; Open floor fell.``"""
    found = [f for f in every if f.about[0] == name]
    first, second = found[0].facts["named"]
    told = _moved(answer, found)
    if not told:
        if any(f.verdict == CONFOUNDED for f in found):
            return f"{second} and {first} differ, but something else differed between them too."
        return f"It is too early to tell {second} from {first}."
    zones = len({f.about[1] for f in found if f.verdict == TOO_EARLY and f.facts["what"] == "zone"})
    if zones:
        told.append(f"for {number(zones)} {'zone' if zones == 1 else 'zones'} it is too early to tell")
    return f"{second} against {first}: {'; '.join(told)}."


def _moved(answer: Answer, found: Sequence[Finding]) -> list[str]:
    """``use of Cork bark rose``, for each verdict that stands."""
    told = []
    for verdict in (ROSE, FELL, HELD):
        mine = [f for f in found if f.verdict == verdict]
        named = {
            w: _names(answer, [f for f in mine if (f.facts.get("what") == "zone") == w])
            for w in (True, False)
        }
        if len(named[True]) + len(named[False]) > 4:
            told.append(f"{number(len(named[True]) + len(named[False]))} shares {verdict}")
        elif mine:
            # Zones last: "use of" speaks for all that follows it.
            zones = [f"use of {listed(named[True])}"] if named[True] else []
            one = f"{listed([*named[False], *zones])} {verdict}"
            told.append(one if not told or named[False] else one.replace("use of", "that of", 1))
    return told


def _names(answer: Answer, found: Sequence[Finding]) -> list[str]:
    return list(
        dict.fromkeys(
            what_moved(f, answer.labels)
            if f.facts.get("what") in _NO_PLACE
            else answer.labels.get(f.about[1], f.about[1])
            for f in found
        )
    )


def _of_what(found: Sequence[Finding], changes: int) -> str:
    """After changes on record, or from one name to the other."""
    pairs = dict.fromkeys(
        tuple(f.facts["named"]) for f in found if "named" in f.facts and "change" not in f.facts
    )
    sides = [p for p in pairs if p[0] != "before"]
    if len(sides) == 1:
        return f"from {sides[0][0]} to {sides[0][1]}"
    return "after the change" if changes == 1 else "after the changes"


def figure(answer: Answer) -> Figure:
    did = answer.effort
    found = {(f.about[0], f.about[1]): f for f in answer.findings if len(f.about) >= 2}
    lines = _lines(answer, found)
    scale = changes(v for line in lines for v in (line.low, line.middle, line.high))
    key = (Key("interval", "change with its limits"), Key("reference", "no change"))
    panel = EstimateRows(scale, tuple(lines), "Change in the share of the time, in points", 0.0, key)
    says = ". ".join(f"{line.group or ''} {line.name}: {line.said}, {line.verdict}".strip() for line in lines)
    return Figure(
        "changes", answer.headline.rstrip("."),
        f"Share of the time after against before, in points; {counted(did.get('sessions', 0), 'session')} on "
        f"{counted(did.get('days', 0), 'day')}",
        source(answer.study), (panel,) if lines else (), f"{says}.",
    )  # fmt: skip


def _lines(answer: Answer, found: dict[tuple[str, str], Finding]) -> list[EstimateRow]:
    lines: list[EstimateRow] = []
    group = ""
    for r, about, place, one in _by_verdict(answer, found):
        name = answer.labels.get(place, place)
        low, high = r["change_low"], r["change_high"]
        ends = f"{100 * r['before']:.0f} → {100 * r['after']:.0f} %" if r["before"] is not None else ""
        if one.facts.get("of_changes"):
            ends = f"{points(r['before'])} left alone, {points(r['after'])} else"
        heading = _change_said(answer, one)
        lines.append(
            EstimateRow(
                name, r["change"], low, high, said=points_with(r["change"], low, high), verdict=one.verdict,
                beside=", ".join(x for x in (ends, beside(one)) if x), claims=one.verdict in (ROSE, FELL, HELD),
                group=heading if heading != group else "", about=(about, place),
            )
        )  # fmt: skip
        group = heading
    return lines


def _by_verdict(
    answer: Answer, found: dict[tuple[str, str], Finding]
) -> list[tuple[Mapping[str, Any], str, str, Finding]]:
    """The rows of shares with their findings: by change in the table's order, then by verdict and size."""
    told = []
    for r in rows(answer.table):
        place, about = r["zone"] or r["name"], r["adjustment"] or r["compared"]
        one = found.get((about, place))
        if one is not None and r["what"] in SHARES and r["change"] is not None:
            told.append((r, about, place, one))
    place_of = {about: k for k, about in enumerate(dict.fromkeys(about for _, about, _, _ in told))}
    return sorted(told, key=lambda t: (place_of[t[1]], _ORDER[t[3].verdict], -abs(t[0]["change"])))


def _change_said(answer: Answer, finding: Finding) -> str:
    """``Water on 15 Mar``; the id where more is not known."""
    if _of_names(finding):
        return " against ".join(finding.facts["named"][::-1])
    change = finding.facts.get("change")
    if answer.declared is None or not isinstance(change, Adjustment):
        return finding.about[0]
    return capital(f"{change.what} on {short_day(change.at.astimezone(answer.declared.timezone).date())}")


# --- one change, session by session -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Changed:
    """What is drawn of one change: its dots, the means of both sides by place, and the other events of its time."""

    change: Adjustment
    dots: pd.DataFrame
    means: dict[str, dict[str, Any]]
    events: Sequence[OnRecord]
    others: Sequence[Adjustment]


def around(declared: Declaration, name: str, one: Changed, labels: dict[str, str]) -> Figure:
    """A chart for each place concerned, over strips for feeds, sheds and other changes."""
    places = list(dict.fromkeys(one.dots["place"]))
    first, last = _window(one)
    strips = _strips(one, first, last)
    charts = tuple(
        _place(
            declared,
            one,
            place,
            labels,
            span=(first, last),
            strips=strips if place == places[-1] else (),
            first=i == 0,
        )
        for i, place in enumerate(places)
    )
    day = short_day(one.change.at.astimezone(declared.timezone).date())
    return Figure(
        name, capital(f"{one.change.what} on {day}: use before and after"),
        "Share of the time in each session; lines are the means of both sides", source(declared.title), charts,
        _described(one, places, labels),
    )  # fmt: skip


def _window(one: Changed) -> tuple[datetime, datetime]:
    near = one.dots[one.dots["side"] != OUTSIDE]
    at = near["at"] if len(near) else one.dots["at"]
    low = min([at.min().to_pydatetime(), one.change.at]) - timedelta(hours=18)
    high = max([at.max().to_pydatetime(), one.change.settled]) + timedelta(hours=18)
    return low, high


def _place(
    declared: Declaration, one: Changed, place: str, labels: dict[str, str], *, span: tuple[datetime, datetime],
    strips: tuple[Strip, ...], first: bool,
) -> Chart:  # fmt: skip
    """One place over the time of the change."""
    x = Scale(day_number(span[0]), day_number(span[1]), time_ticks(*span, 8, declared.timezone))
    part = one.dots[one.dots["place"] == place]
    inside = part[(part["at"] >= pd.Timestamp(span[0])) & (part["at"] <= pd.Timestamp(span[1]))]
    row = one.means.get(place, {})
    y = shares([*known(inside["share"].tolist()), 0.1])
    marks: list[Mark] = [Stretch(day_number(one.change.at), day_number(one.change.settled), "settling")]
    marks += _means(inside, row)
    marks += [EventMark(day_number(other.at), kind="other") for other in one.others]
    marks += [EventMark(day_number(one.change.at), one.change.what if first else "", "recorded")]
    marks += _dots(inside)
    slots = [s for s in SHAPES if (part["slot"] == s).any()]
    keys: tuple[Key, ...] = ()
    if first:
        keys = (Key("before", "before"), Key("after", "after"), Key("aside", "settling, not counted"))
    heading = labels.get(place, place)
    if first and len(slots) > 1:
        names = {"circle": "round", "square": "square", "up": "pointing up", "down": "pointing down"}
        heading += f" ({', '.join(f'{names[SHAPES[s]]}: {s}' for s in slots)})"
    return Chart(x, y, tuple(marks), heading, 110, key=keys, strips=strips)


def _means(part: pd.DataFrame, row: dict[str, Any]) -> list[Mark]:
    """The mean of each side over its time, with the limits of the change around what came after."""
    marks: list[Mark] = []
    for side, value in ((BEFORE, row.get("before")), (AFTER, row.get("after"))):
        at = part[part["side"] == side]["at"]
        if value is None or not len(at):
            continue
        x0, x1 = day_number(at.min().to_pydatetime()), day_number(at.max().to_pydatetime())
        if side == AFTER and row.get("change_low") is not None:
            low, high = (min(max(row["before"] + row[k], 0.0), 1.0) for k in ("change_low", "change_high"))
            marks.append(Mean(x0, x1, float(value), low, high, "after"))
        else:
            marks.append(Mean(x0, x1, float(value), side="before" if side == BEFORE else "after"))
    return marks


def _dots(part: pd.DataFrame) -> list[Mark]:
    marks: list[Mark] = []
    sides: dict[str, Any] = {BEFORE: "before", AFTER: "after", SETTLING: "aside"}
    for side, drawn in sides.items():
        for slot, dots in part[part["side"] == side].groupby("slot"):
            x = tuple(day_number(at) for at in dots["at"].tolist())
            marks.append(Dots(x, tuple(map(float, dots["share"])), drawn, SHAPES.get(str(slot), "circle")))
    return marks


def _strips(one: Changed, first: datetime, last: datetime) -> tuple[Strip, ...]:
    """Rows of events below the dots: only those with something in them."""
    kinds = (("fed", ("fed",)), ("shed", ("shedding", "shed")), ("handled", ("handled",)), ("ill", ("ill",)))
    found = [
        _strip(
            name, [e for e in one.events if e.what in whats and e.at <= last and (e.until or e.at) >= first]
        )
        for name, whats in kinds
    ]
    found.append(Strip("changes", tuple(day_number(c.at) for c in one.others if first <= c.at <= last)))
    return tuple(strip for strip in found if strip.at or strip.spans)


def _strip(name: str, events: Sequence[OnRecord]) -> Strip:
    lasting = [(e.at, e.until) for e in events if e.until is not None and e.until > e.at]
    moments = tuple(day_number(e.at) for e in events if e.until is None or e.until <= e.at)
    return Strip(name, moments, tuple((day_number(a), day_number(b)) for a, b in lasting))


def _described(one: Changed, places: Sequence[str], labels: dict[str, str]) -> str:
    told = []
    for place in places:
        part = one.dots[one.dots["place"] == place]
        counts = {side: int((part["side"] == side).sum()) for side in (BEFORE, AFTER, SETTLING)}
        said = f"{labels.get(place, place)}: {counts[BEFORE]} sessions before, {counts[AFTER]} after"
        row = one.means.get(place)
        if row:
            said += f", means {100 * row['before']:.0f} % and {100 * row['after']:.0f} %"
        told.append(f"{said}; {counts[SETTLING]} in the settling time")
    return ". ".join(told) + "."
