"""What the shifts answer says: one sentence for each share that matters, and what held a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ..stats.permutation import smallest_p
from ..study.clock import spoken_time
from ..study.model import Declaration
from ..tables.phases import Adjustment
from .answer import TOO_EARLY, Finding, standing
from .evidence import Effort, counted
from .quantities_said import label, said
from .shift_verdicts import CONFOUNDED, FELL, HELD, ROSE


def headline(changes: Sequence[Adjustment], did: Effort) -> str:
    if not changes:
        return f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}."
    return (
        f"{counted(len(changes), 'change')} on record; {counted(did.sessions, 'session')} on "
        f"{counted(did.days, 'day')}. Each {did.cluster} counts once, settling time left out."
    )


def too_few(
    change: Adjustment, counts: tuple[int, int], zones: int, expects: bool, least: float | None = None
) -> str:
    """What so few units could never show, and how many more would be enough."""
    before, after = counts
    if min(before, after) == 0:
        side = "before" if before == 0 else "after"
        return f"{change.id}: no session {side} it at a time of day that both sides have: nothing can be compared yet."
    fewest = smallest_p(before, after)
    least = fewest if least is None else least
    luck = f"at best 1 in {round(1 / least)} by luck" if least < 1 else "any result is as good as luck"
    if least > fewest:
        return (
            f"{change.id}: {before} against {after}, each compared within its enclosure and time of day: even a "
            f"perfect result could not pass a fair test ({luck}). More of them in each would."
        )
    more = "" if expects else f"; 5 against 5 where {zones} zones are compared without an expectation"
    return (
        f"{change.id}: {before} against {after}: even a perfect result could not pass a fair test ({luck}). "
        f"4 against 4 could (1 in 35){more}."
    )


def sentence(told: Mapping[str, Any], labels: Mapping[str, str], declared: Declaration) -> Finding:
    """The finding of one share, or of a change of which nothing can be said."""
    change: Adjustment = told["adjustment"]
    if "says" in told:
        return Finding((change.id,), TOO_EARLY, "", told["says"])
    m, verdict = told["moved"], told["verdict"]
    name = labels.get(m.name, m.name)
    before, after = told["sessions"]
    what = f"After {change.what} on {spoken_time(change.at, declared.timezone)}"
    numbers = (
        f"{100 * m.before:.0f} % of the time before, {100 * m.after:.0f} % after (change "
        f"{100 * (m.after - m.before):+.0f} points, {100 * m.low:+.0f} to {100 * m.high:+.0f}; "
        f"{before} against {after} sessions)"
    )
    role = _role(told)
    grade = standing(min(told["sessions"]), min(told["days"]))
    if verdict in (ROSE, FELL):
        word = "is used more" if verdict == ROSE else "is used less"
        if m.what == "behaviour":
            word = "is seen more" if verdict == ROSE else "is seen less"
        step = m.beside_trend
        trend = (
            f" A straight trend through both sides fits nearly as well: it may be that (beside a trend the step is "
            f"{100 * step.step:+.0f} points)."
            if told["why"] == "trend"
            else " This rests on the plain difference."
        )
        drawn = " Its day was drawn by lot." if told["drawn"] else ""
        return Finding(
            (change.id, m.name), verdict, grade, f"{what}, {name} {word}: {numbers}.{role}{trend}{drawn}"
        )
    if verdict == HELD:
        return Finding((change.id, m.name), HELD, grade, f"{what}, {name} held: {numbers}.{role}")
    if verdict == CONFOUNDED:
        others = "; ".join(told["others"])
        return Finding(
            (change.id, m.name),
            CONFOUNDED,
            "",
            f"{what}, {name}: {numbers}. Cannot be put down to it: {others}.{role}",
        )
    why = "cannot be told from chance yet"
    if told["why"] == "dependent":
        why = (
            "neighbouring sessions repeat each other too much: only a start day drawn by lot could settle it"
        )
    if told["why"] == "few":
        why = "at least 5 sessions on 3 days are needed on each side"
    return Finding((change.id, m.name), TOO_EARLY, "", f"{what}, {name}: {numbers}; {why}.{role}")


def _role(told: Mapping[str, Any]) -> str:
    if told["moved"].what != "zone" or told["expected"] is None:
        return " Nobody had said so before: looking around."
    way = "more" if told["expected"] == "up" else "less"
    came = told["moved"].after - told["moved"].before
    kept = (came > 0) == (told["expected"] == "up")
    return f" Expected was {way}" + (", and it went that way." if kept else "; it went the other way.")


def condition_said(row: Mapping[str, Any], labels: Mapping[str, str], declared: Declaration) -> str:
    """Whether a change reached the zone: the days around it, and the step with its limits."""
    q, f = row["name"], declared.fahrenheit
    zone = declared.zones[row["zone"]].label
    span = f"{said(q, row['change_low'], f, True)} to {said(q, row['change_high'], f, True)}"
    return (
        f"{row['adjustment']}: {label(q)} in {zone} went from {said(q, row['before'], f)} to "
        f"{said(q, row['after'], f)} (mean of the {row['sessions_before']} days before and {row['sessions_after']} "
        f"after; step {span})."
    )
