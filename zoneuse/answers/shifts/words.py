"""What the shifts answer says: one sentence for each share that matters, and what held a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from ...study import Declaration, spoken_time
from ...tables import Adjustment
from .. import reasons
from ..effort import Effort, once_said
from ..finding import TOO_EARLY, Finding
from ..phrases import change_said, counted, listed, within_said
from ..quantities_said import label, said
from ..showing.said import about_so_many, in_points, points_between, signed
from ..zones.words import sentence as zone_sentence
from .come_and_gone import GONE, NEW
from .compared.words import confounded_said
from .compared.words import sentence as between_sentence
from .expected import expected_label, expected_said
from .judge import CONFOUNDED, FELL, HELD, ROSE


def headline(changes: Sequence[Adjustment], did: Effort) -> str:
    if not changes:
        return f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}."
    return (
        f"{counted(len(changes), 'change')} on record; {counted(did.sessions, 'session')} on "
        f"{counted(did.days, 'day')}. {once_said(did)}; settling time left out."
    )


def sentence(finding: Finding, labels: Mapping[str, str], declared: Declaration) -> str:
    """One share after a change, a change of which nothing can be said, or a change made and taken back."""
    if "named" in finding.facts:
        return between_sentence(finding, labels, declared.fahrenheit)
    if finding.reason == reasons.NO_RECORD:
        return "No change is on record. Put the next one on record before you make it, with zoneuse adjust."
    if "chain" in finding.facts:
        return _reversal(finding, labels, declared)
    if len(finding.about) == 1:
        return (
            _of_change(finding, declared)
            + _clearest(finding, labels)
            + _unanswered(finding.facts["change"], labels, declared)
        )
    if "came" in finding.facts:
        return _came(finding, labels, declared)
    f, change = finding, finding.facts["change"]
    start = f"After {within_said(change, declared.timezone)}, {what_moved(f, labels)}"
    after = counted(f["sessions_after"], "session")
    told = f"{_numbers(f, declared.fahrenheit)}; {f['sessions_before']} against {after})"
    return f"{start}{_ending(f, told, declared.fahrenheit)}{_role(f)}"


def _unanswered(change: Adjustment, labels: Mapping[str, str], declared: Declaration) -> str:
    """What was expected of a change that cannot be judged yet stays in sight."""
    told = []
    for e in change.expects:
        used = "use of " if e["what"] == "zone" else ""
        told.append(f"{used}{expected_label(declared, e)} to {'rise' if e['direction'] == 'up' else 'fall'}")
    return f" You expected {listed(told)}: not answered yet." if told else ""


def _came(f: Finding, labels: Mapping[str, str], declared: Declaration) -> str:
    """A place that is new, gone, or never entered: whether it is used at all, and how much for its size."""
    place, why = f.about[1], f.facts["came"]
    start, name = change_said(f.facts["change"], declared.timezone), labels.get(place, place)
    if why == GONE:
        return (
            f"{start}: {name} is no longer there; before, it had {100 * f['used']:.0f} % of the time "
            f"({counted(f['sessions_before'], 'session')}). The other zones show where they went.{_hoped(f)}"
        )
    start += f": {name} is new" if why == NEW else f": {name} was not entered before or after"
    if "used" not in f.numbers:
        return (
            f"{start}; nobody was found after it, so it is too early to tell how much it is used.{_hoped(f)}"
        )
    own = zone_sentence(replace(f, about=(place,)), labels)
    return f"{start}. Since then: {own}{_hoped(f)}"


def _hoped(f: Finding) -> str:
    expected = f.facts["expected"]
    if expected is None:
        return ""
    way = "more use" if expected == "up" else "less use"
    if f.facts["came"] == GONE:
        return f" You expected {way}, which cannot be asked of a zone that is gone."
    used = f["used"] if "used" in f.numbers else float("nan")
    met = "it is used" if used > 0 else "it has not been used so far" if used == 0 else "not answered yet"
    return f" You expected {way}: {met}."


def _of_change(f: Finding, declared: Declaration) -> str:
    """Why nothing can be said of a change yet, and what would be enough."""
    change = f.facts["change"]
    name = change_said(change, declared.timezone)
    both = f"{counted(f['sessions_before'], 'session')} before, {f['sessions_after']} after"
    if f.reason == reasons.NOTHING_SEEN:
        return f"{name}: nobody was found in a zone ({both}), so there is nothing to compare yet."
    if f.reason == reasons.SPREAD:
        return (
            f"{name}: nothing stands out from chance yet ({both}; the clearest of {f.compared} shares and "
            f"conditions looked at would come up by chance in {100 * f['clearest_p']:.0f} of 100 such studies)."
        )
    if f.reason == reasons.TOO_FEW_UNITS:
        days = f"{counted(f['days_before'], 'day')} before, {counted(f['days_after'], 'day')} after"
        return f"{name}: at least 5 sessions on 3 days are needed on each side ({both}; {days})."
    before, after = f["units_before"], f["units_after"]
    if f.reason == reasons.ONE_SIDE_SHORT:
        side = "before" if before == 0 else "after"
        return f"{name}: no session {side} it at a time of day that both sides share, so nothing can be compared yet."
    least = f["smallest_p"]
    luck = f"at best 1 in {round(1 / least)} by chance" if least < 1 else "any result could be chance"
    where = " in each enclosure and time of day" if f["strata"] > 1 else ""
    enough, rest = _more(f, "expected"), _more(f, "all")
    if change.expects:
        more = f"; {enough}{where}" if enough else ""
    else:
        more = f"; for a zone named beforehand {enough}{where}" if enough else ""
        more += f"; where {f.compared} are compared without an expectation, {rest}" if rest else ""
    return (
        f"{name}: {before} before against {after} after: even a perfect result could not pass a fair test "
        f"({luck}){more}."
    )


def _clearest(f: Finding, labels: Mapping[str, str]) -> str:
    """What would show the clearest of all that was looked at."""
    if f.reason != reasons.SPREAD or f.forecast is None:
        return ""
    name = f.facts["clearest"]
    return f" The clearest is {labels.get(name, name)}.{_would_show(f)}"


def _more(f: Finding, name: str) -> str:
    """``1 more each side could (4 v 4: 1 in 35)``; empty where no reasonable number would do."""
    if f"more_{name}" not in f.numbers:
        return ""
    then = f"{f[f'before_{name}']} v {f[f'after_{name}']}: 1 in {round(1 / f[f'p_{name}']):,}"
    return f"{f[f'more_{name}']} more each side could ({then})"


def _ending(f: Finding, numbers: str, fahrenheit: bool) -> str:
    """What is said of a share after its name: the word, the numbers, and what they rest on or lack."""
    if f.verdict in (ROSE, FELL):
        return f" {f.verdict}: {numbers}.{_rests_on(f, fahrenheit)}{_whose(f)}"
    if f.verdict == HELD:
        return f" held steady: {numbers}."
    if f.verdict == CONFOUNDED:
        return f": {numbers}. This cannot be put down to the change: {confounded_said(f)}."
    return f": {numbers}; {_HELD_BACK[f.reason]}.{_would_show(f)}"


def _would_show(f: Finding) -> str:
    """How much more on each side would show a change as large as this."""
    ahead = f.forecast
    if ahead is None:
        return ""
    if ahead.more is None:
        return f" A change as small as this would hardly show with {ahead.most} more {f.unit}s on each side."
    return (
        f" With {about_so_many(ahead.more, f.unit)} on each side the chance of showing a change this large is "
        f"{100 * (ahead.chance or 0):.0f} %."
    )


_HELD_BACK = {
    reasons.SPREAD: "too early to tell it from chance",
    reasons.NEVER_WITH_THIS_DESIGN: "neighbouring sessions are too alike: only a day drawn by lot could settle it",
    reasons.TOO_FEW_UNITS: "at least 5 sessions on 3 days are needed on each side",
    reasons.UNSEEN_DECIDE: "animals were found less often on one side, and the moments they were not found decide it",
}


def what_moved(f: Finding, labels: Mapping[str, str]) -> str:
    """``use of Moss end``, ``Basking``, ``the temperature used``."""
    name = {"active": "activity", "moves": "moving about"}.get(f.facts["what"]) or labels.get(
        f.about[1], f.about[1]
    )
    if f.facts["what"] == "zone":
        return f"use of {name}"
    return f"the {name} used" if f.facts["what"] == "condition" else name


def _numbers(f: Finding, fahrenheit: bool) -> str:
    if f.facts["what"] == "condition":
        q = f.about[1]
        low, high = (said(q, f[name], fahrenheit, True) for name in ("change_low", "change_high"))
        return (
            f"{said(q, f['before'], fahrenheit)} before, {said(q, f['after'], fahrenheit)} after (change "
            f"{said(q, f['change'], fahrenheit, True)}, {low.split()[0]} to {high}"
        )
    if f.facts["what"] in ("event", "moves"):
        return (
            f"{f['before']:.2g} an hour before, {f['after']:.2g} after (change {signed(f['change'])}, "
            f"{signed(f['change_low'])} to {signed(f['change_high'])}"
        )
    return (
        f"{100 * f['before']:.0f} % of the time before, {100 * f['after']:.0f} % after (change "
        f"{in_points(f['change'])}, {points_between(f['change_low'], f['change_high'])}"
    )


def _step_said(f: Finding, fahrenheit: bool) -> str:
    """The step beside a trend, with its sign and unit."""
    step = f["step_beside_trend"]
    if f.facts["what"] == "condition":
        return f"{'+' if step > 0 else ''}{said(f.about[1], step, fahrenheit, difference=True)}"
    return f"{signed(step)} an hour" if f.facts["what"] in ("event", "moves") else in_points(step)


def _rests_on(f: Finding, fahrenheit: bool) -> str:
    """Which comparison the finding rests on, and what else would fit as well."""
    if f.facts["by_lot"]:
        return " Its day was drawn by lot."
    if f.facts["trend"]:
        return (
            " A steady trend through both sides fits nearly as well, so it may be just that (allowing for the trend, "
            f"the step is {_step_said(f, fahrenheit)})."
        )
    if f.facts["by_step"]:
        return " Sessions close in time are alike; this allows for it."
    return " This is the plain difference between the two sides."


def _whose(f: Finding) -> str:
    """Where the series says that it began before the change, and where one animal is all of it."""
    said = ""
    if f.facts["begun_before"]:
        said = f" It had begun about {counted(f.facts['begun_before'], f.unit)} before the change."
    if f.facts["one_animal"]:
        name, number = f.facts["one_animal"]
        said += f" It all comes from one animal of {number}, {f.facts['labels'].get(name, name)}."
    return said


def _role(f: Finding) -> str:
    expected = f.facts["expected"]
    if expected is None:
        return " It was not predicted, so treat it as a lead."
    if f.verdict == TOO_EARLY:
        return f" You expected it to {'rise' if expected == 'up' else 'fall'}: not answered yet."
    level = f["change"] == 0 or (f.facts["what"] == "zone" and round(100 * f["change"]) == 0)
    return expected_said(expected, 0 if level else f["change"])


def _reversal(f: Finding, labels: Mapping[str, str], declared: Declaration) -> str:
    """One sentence over all phases; that it came and went with what was done is what makes it stronger."""
    root, steps = change_said(f.facts["root"], declared.timezone), len(f.facts["chain"])
    if f.reason == reasons.ONE_SIDE_SHORT:
        return f"{root} was taken back, but not every phase was watched at the same time of day."
    again = ", taken back and made again" if steps > 2 else " and taken back"
    alike = f.facts["steps_alike"]
    way = f"all {steps} steps the same way" if alike else f"the {steps} steps not all the same way"
    numbers = (
        f"{100 * f['without']:.0f} % of the time without it, {100 * f['with']:.0f} % with it (change "
        f"{in_points(f['change'])}, {points_between(f['change_low'], f['change_high'])}; "
        f"{f['sessions']} sessions in {f['phases']} phases; {way})"
    )
    if f.verdict == CONFOUNDED:
        end = f" This cannot be put down to it: {confounded_said(f)} came in between."
    elif f.verdict in (ROSE, FELL):
        end = (
            " It came and went with what was done: stronger evidence than one step."
            if alike
            else " Not every step agrees, so this is no stronger than one step."
        )
    else:
        end = " Too early to tell it from chance."
    role = "" if f.facts["expected"] else " It was not predicted, so treat it as a lead."
    return f"{root}, made{again}: {labels.get(f.about[-1], f.about[-1])} {numbers}.{end}{role}"


def reached_said(
    change: Adjustment, rows: Sequence[Mapping[str, Any]], labels: Mapping[str, str], declared: Declaration
) -> str | None:
    """Whether a change reached its zones, in one sentence: before, after, the step with its limits, for how long."""
    own = [r for r in rows if r["adjustment"] == change.id and r["meant"]]
    if not own:
        return None
    amount = f" ({change.amount:g} {change.unit})" if change.amount is not None else ""
    parts = [_reached(r, declared) for r in own]
    name = f"{change.what.capitalize()} on {spoken_time(change.at, declared.timezone)}"
    return f"{name}{amount}: {'; '.join(parts)}. Means of up to 4 days on each side."


def _reached(row: Mapping[str, Any], declared: Declaration) -> str:
    q, f = row["name"], declared.fahrenheit
    low, high = (said(q, row[end], f, True) for end in ("change_low", "change_high"))
    went = (
        f"{label(q)} in {declared.zones[row['zone']].label} went from {said(q, row['before'], f)} to "
        f"{said(q, row['after'], f)} (change {low.split()[0]} to {high})"
    )
    if row["change_low"] <= 0 <= row["change_high"]:
        return f"{went}: perhaps no change at all"
    days = counted(int(row["lasted_d"]), "day")
    return f"{went}; half of that was gone after {days}" if row["faded"] else f"{went}, still so after {days}"


def forecasts_said(scored: Sequence[Mapping[str, Any]]) -> list[str]:
    """The running score of forecasts put on record before what they spoke of."""
    if not scored:
        return []
    inside = sum(bool(f["inside"]) for f in scored)
    return [f"Of {counted(len(scored), 'share')} forecast on record, {inside} came inside the 90 % limits."]
