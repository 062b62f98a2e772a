"""What is said of two sides held against each other: the word, the numbers, what they rest on, what would do."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ... import reasons
from ...effort import BECAUSE
from ...finding import Confounder, Finding
from ...phrases import counted, listed, plural
from ...quantities_said import said
from ...showing.said import capital, in_points, points, points_between, signed
from ..expected import expected_said
from ..judge import CONFOUNDED, FELL, HELD, ROSE
from .design import BLOCKS, PAIRS, Design
from .measures import ACTIVE, CONDITION, EVENT, MOVES, SHARES, ZONE
from .order import Repeats

# Units that disagree are named up to so many.
MOST_NAMED = 4


def units_said(design: Design) -> str:
    """``24 enclosures, each compared with itself: there are enough of them for a fair test``."""
    first, second = design.counts
    if design.kind == PAIRS:
        how = f"{counted(first, design.unit)}, each compared with itself"
    elif design.kind == BLOCKS:
        how = f"{counted(first, design.unit)} against {second}, like with like"
        if len(set(design.names)) < len(design.names):
            how += f" (one {design.unit} counts in each enclosure, and at each time of day, by itself)"
    else:
        how = f"{counted(first, design.unit)} against {second}"
    return f"{how}: {BECAUSE[design.because]}"


def repeats_said(again: Repeats, design: Design, labels: Mapping[str, str]) -> str:
    """How often one and the same was repeated, and whether the answer to it changed from time to time."""
    start = f"{counted(again.units, design.unit)} had the same about {again.times:.0f} times; "
    moved = [d for d in again.drifts if d.p <= 0.05]
    if not moved:
        return (
            f"{start}no change from one time to the next can be made out, which does not mean there is none."
        )
    each = [
        f"{labels.get(d.measure.name, d.measure.name)} changed by "
        f"{in_points(d.change) if d.measure.what in SHARES else signed(d.change)}"
        for d in moved[:MOST_NAMED]
    ]
    return (
        f"{start}from one time to the next {listed(each)} on average, so habituation is part of what is seen."
    )


def sentence(f: Finding, labels: Mapping[str, str], fahrenheit: bool) -> str:
    """One row of two sides."""
    first, second = f.facts["named"]
    if "kind" not in f.facts:
        empty = f.facts["empty"]
        why = f"nothing was watched with {' and '.join(empty)}" if empty else "no two units can be compared"
        return f"{second} against {first}: {why}."
    start = (
        f"{capital(second)}, {_named(f, labels)}"
        if _of_a_change(f)
        else f"{second} against {first}: {_named(f, labels)}"
    )
    if f.reason == reasons.CANNOT_BE_TESTED:
        return f"{start}: {_numbers(f, fahrenheit)}). {_never(f)}{_role(f)}"
    told = f"{_numbers(f, fahrenheit)}; {_limits(f, fahrenheit)}{_evidence(f)})"
    if f.verdict in (ROSE, FELL):
        return f"{start} {f.verdict}: {told}.{_disagree(f, labels)}{_order(f)}{_role(f)}"
    if f.verdict == HELD:
        return f"{start} held steady: {told}.{_role(f)}"
    if f.verdict == CONFOUNDED:
        return f"{start}: {told}. This cannot be put down to it: {confounded_said(f)}.{_role(f)}"
    if f.reason == reasons.NEVER_WITH_THIS_DESIGN:
        side = "before" if f["breaks"] < 0 else "after"
        return (
            f"{start}: {told}. Its clearest break lies {counted(abs(int(f['breaks'])), f.unit)} {side} the "
            "switch, so it may have come about by itself: one after the other in one place cannot settle it; "
            f"drawing the order by lot could.{_role(f)}"
        )
    if f.reason == reasons.TOO_FEW_UNITS:
        return f"{start}: {told}; at least 5 {plural(f.unit)} are needed to say more.{_role(f)}"
    return f"{start}: {told}; too early to tell it from chance.{_settles(f)}{_order(f)}{_role(f)}"


def confounded_said(f: Finding) -> str:
    """What else differed, one after the other; the changes alone where they came between phases."""
    between = f.confounders and all(c.code == reasons.CHANGE_BETWEEN for c in f.confounders)
    return (", " if between else "; ").join(_confounder(c) for c in f.confounders)


def _day(on: date | None) -> str:
    return "" if on is None else f"{on.day} {on:%b %Y}"


def _confounder(c: Confounder) -> str:
    ids = ", ".join(c.about)
    if c.code == reasons.ANOTHER_CHANGE:
        return f"{c.what} was changed too ({_day(c.on) or ids})"
    if c.code == reasons.CHANGE_BETWEEN:
        return f"{c.what} on {_day(c.on)}" if c.on else ids
    if c.code == reasons.LIGHTS_CHANGED:
        return "the light schedule changed"
    if c.code == reasons.LOGGERS_MOVED:
        return f"{'logger' if len(c.about) == 1 else 'loggers'} {ids} moved"
    if c.code == reasons.ZONE_ALTERED:
        return f"{c.what} was altered in study.toml on {_day(c.on)}"
    return f"{_ON_ONE_SIDE[c.code]} on one side only ({c.side})"


_ON_ONE_SIDE = {
    reasons.FED: "a feed in the last 3 days", reasons.SHEDDING: "shedding",
    reasons.GRAVID: "gravid", reasons.ILL: "ill",
}  # fmt: skip


def _named(f: Finding, labels: Mapping[str, str]) -> str:
    what = f.facts["what"]
    if what == MOVES:
        return "moving about"
    if what == ACTIVE:
        return "activity"
    name = labels.get(f.about[-1], f.about[-1])
    if what == ZONE:
        return f"use of {name}"
    return f"the {name} used" if what == CONDITION else name


def _of_a_change(f: Finding) -> bool:
    """Whether the sides are before and after a change, and not two names."""
    return bool(f.facts.get("between") == ("before", "after"))


def _value(f: Finding, name: str, fahrenheit: bool, change: bool = False) -> str:
    value, what = f[name], f.facts["what"]
    if what == CONDITION:
        return said(f.about[-1], value, fahrenheit, change)
    if what in SHARES:
        return points(value) if change else f"{100 * value:.0f} %"
    return signed(value) if change else f"{value:.2g}"


def _numbers(f: Finding, fahrenheit: bool) -> str:
    first, second = f.facts["named"]
    if f.facts.get("of_changes"):
        changes = [_value(f, name, fahrenheit, True) for name in ("before", "after", "change")]
        what = " points" if f.facts["what"] in SHARES else ""
        return (
            f"{changes[0]}{what} from {first} to {second} in the {f['units_before']} left alone, {changes[1]} in the "
            f"{f['units_after']} others (difference {changes[2]}{what}"
        )
    of = {True: " of the time", False: ""}[f.facts["what"] in SHARES]
    hour = " an hour" if f.facts["what"] in (MOVES, EVENT) else ""
    before, after = _value(f, "before", fahrenheit), _value(f, "after", fahrenheit)
    shares = f.facts["what"] in SHARES
    change = in_points(f["change"]) if shares else f"{_value(f, 'change', fahrenheit, True)}{hour}"
    if _of_a_change(f):
        return f"{before}{of}{hour} before, {after} after (change {change}"
    return f"{before}{of}{hour} with {first}, {after} with {second} (change {change}"


def _limits(f: Finding, fahrenheit: bool) -> str:
    if f.numbers["change_low"].value is None or f.numbers["change_high"].value is None:
        return ""
    if f.facts["what"] in SHARES:
        return f"{points_between(f['change_low'], f['change_high'])}; "
    low, high = (_value(f, name, fahrenheit, True) for name in ("change_low", "change_high"))
    return f"{low} to {high}; "


def _evidence(f: Finding) -> str:
    if f.facts["kind"] == PAIRS:
        return f"{counted(f['of'], f.unit)}, {f['same_way']} of them that way"
    return f"{counted(f['units_before'], f.unit)} against {f['units_after']}"


def _disagree(f: Finding, labels: Mapping[str, str]) -> str:
    """Units that went the other way, and one that changed unlike all others, by name."""
    said = ""
    if not f.facts["agree"]:
        said = f" They do not agree, so this speaks for these {plural(f.unit)} only"
        against = [labels.get(name, name) for name in f.facts.get("other_way", ())]
        if against:
            some = listed(against) if len(against) <= MOST_NAMED else f"{len(against)} of {f['of']}"
            said += f": {some} went the other way"
        said += "."
    if f.facts.get("stands_out") is not None:
        name, own, others = f.facts["stands_out"]
        said += (
            f" {labels.get(name, name)} differs from the others: {_sized(f, own)}, where half of them changed by no "
            f"more than {_sized(f, others)}."
        )
    return said


def _sized(f: Finding, change: float) -> str:
    return in_points(change) if f.facts["what"] in SHARES else signed(change)


def _order(f: Finding) -> str:
    if f.numbers["order_p"].value is None:
        return ""
    if f["order_p"] <= 0.05:
        return f" The order mattered: {ordered_said(f)}."
    return ""


def ordered_said(f: Finding) -> str:
    """How much those changed that had the first side first, and the others."""
    if "first_first" not in f.numbers:
        return "those that had the one first changed differently"
    first, second = f.facts["named"]
    return f"{_sized(f, f['first_first'])} where {first} came first, {_sized(f, f['second_first'])} where {second} did"


def _never(f: Finding) -> str:
    """That so few units can never pass, and how many could."""
    luck = (
        f"at best 1 in {round(1 / f['smallest_p'])} by chance"
        if f["smallest_p"] < 1
        else "any result could be chance"
    )
    many = plural(f.unit)
    more = f.numbers["more_at_all"].value
    each = "" if f.facts["kind"] == PAIRS else " on each side"
    enough = (
        f" {more:g} more{each} could." if more else f" It takes another design, or other units than {many}."
    )
    return f"So few {many} can never pass a fair test ({luck}).{enough}"


def _settles(f: Finding) -> str:
    ahead = f.forecast
    if ahead is None:
        return ""
    many = plural(f.unit)
    each = "" if f.facts["kind"] == PAIRS else " on each side"
    if ahead.more is None:
        return f" A change as small as this would hardly show with {ahead.most} more {many}{each}."
    more = f.unit if ahead.more == 1 else many
    return (
        f" With {ahead.more} more {more}{each} the chance of showing a change this large is "
        f" {100 * (ahead.chance or 0):.0f} %."
    )


def _role(f: Finding) -> str:
    expected = f.facts["expected"]
    if expected is None:
        return (
            " It was not predicted, so treat it as a lead."
            if f.facts["by_name"] or f.verdict in (ROSE, FELL)
            else ""
        )
    return expected_said(expected, f["change"])
