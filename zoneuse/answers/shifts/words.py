"""What the shifts answer says: one sentence for each share that matters, and what held a verdict back."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...stats.resampling.permutation import more_needed, smallest_p_within
from ...study.clock import spoken_time
from ...study.model import Declaration
from ...tables.phases import Adjustment
from ..effort import Effort
from ..finding import TOO_EARLY, Finding, standing
from ..phrases import counted
from ..quantities_said import label, said
from .judge import ALPHA, ALPHA_EXPECTED, CONFOUNDED, FELL, HELD, ROSE, Moved


def headline(changes: Sequence[Adjustment], did: Effort) -> str:
    if not changes:
        return f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}."
    return (
        f"{counted(len(changes), 'change')} on record; {counted(did.sessions, 'session')} on "
        f"{counted(did.days, 'day')}. Each {did.cluster} counts once, settling time left out."
    )


def too_few(change: Adjustment, late: NDArray[np.bool_], slot: NDArray[np.int64], compared: int) -> str:
    """What so few units could never show, and how many more would be enough."""
    before, after = int((~late).sum()), int(late.sum())
    if min(before, after) == 0:
        side = "before" if before == 0 else "after"
        return f"{change.id}: no session {side} it at a time of day that both sides have: nothing can be compared yet."
    least = smallest_p_within(late, slot)
    luck = f"at best 1 in {round(1 / least)} by luck" if least < 1 else "any result is as good as luck"
    strata = len(np.unique(slot))
    where = " in each enclosure and time of day" if strata > 1 else ""
    enough = _more(late, slot, ALPHA_EXPECTED)
    if change.expects:
        more = f"; {enough}{where}" if enough else ""
    else:
        rest = _more(late, slot, ALPHA / compared)
        more = f"; for a zone named beforehand {enough}{where}" if enough else ""
        more += f"; where {compared} are compared without an expectation, {rest}" if rest else ""
    return (
        f"{change.id}: {before} before against {after} after: even a perfect result could not pass a fair test "
        f"({luck}){more}."
    )


def _more(late: NDArray[np.bool_], slot: NDArray[np.int64], level: float) -> str:
    """``1 more each side could (4 v 4: 1 in 35)``; empty where no reasonable number would do."""
    more = more_needed(late, slot, level)
    if not more:
        return ""
    strata = np.unique(slot)
    before, after = int((~late).sum()) + more * strata.size, int(late.sum()) + more * strata.size
    codes = np.append(slot, np.repeat(strata, 2 * more))
    marks = np.append(late, np.tile(np.arange(2 * more) % 2 == 1, strata.size))
    return f"{more} more each side could ({before} v {after}: 1 in {round(1 / smallest_p_within(marks, codes)):,})"


def sentence(told: Mapping[str, Any], labels: Mapping[str, str], declared: Declaration) -> Finding:
    """The finding of one share, or of a change of which nothing can be said."""
    change: Adjustment = told["adjustment"]
    if "says" in told:
        return Finding((change.id,), TOO_EARLY, "", says=told["says"])
    m, verdict = told["moved"], told["verdict"]
    before, after = told["sessions"]
    what = f"After {change.what} on {spoken_time(change.at, declared.timezone)}, {_named(m, labels)}"
    numbers = (
        f"{_numbers(m, declared.fahrenheit)}; {before} against {after} sessions, p {_chance(told['p'])})"
    )
    grade = standing(min(told["sessions"]), min(told["days"])) if verdict in (ROSE, FELL, HELD) else ""
    return Finding((change.id, m.name), verdict, grade, says=f"{what}{_ending(told, numbers)}{_role(told)}")


def _ending(told: Mapping[str, Any], numbers: str) -> str:
    """What is said of a share after its name: the word, the numbers, and what they rest on or lack."""
    m, verdict = told["moved"], told["verdict"]
    if verdict in (ROSE, FELL):
        return f" {_word(m, verdict == ROSE)}: {numbers}.{_rests_on(told)}"
    if verdict == HELD:
        return f" held: {numbers}."
    if verdict == CONFOUNDED:
        return f": {numbers}. Cannot be put down to it: {'; '.join(told['others'])}."
    return f": {numbers}; {_HELD_BACK[told['why']]}."


_HELD_BACK = {
    "spread": "cannot be told from chance yet",
    "dependent": "neighbouring sessions repeat each other too much: only a start day drawn by lot could settle it",
    "few": "at least 5 sessions on 3 days are needed on each side",
}


def _named(m: Moved, labels: Mapping[str, str]) -> str:
    return f"the {labels.get(m.name, m.name)} used" if m.what == "condition" else labels.get(m.name, m.name)


def _word(m: Moved, up: bool) -> str:
    if m.what == "condition":
        return "is higher" if up else "is lower"
    return f"is {'seen' if m.what == 'behaviour' else 'used'} {'more' if up else 'less'}"


def _numbers(m: Moved, fahrenheit: bool) -> str:
    if m.what == "condition":
        change = said(m.name, m.after - m.before, fahrenheit, True)
        return (
            f"{said(m.name, m.before, fahrenheit)} before, {said(m.name, m.after, fahrenheit)} after (change {change}, "
            f"{said(m.name, m.low, fahrenheit, True).split()[0]} to {said(m.name, m.high, fahrenheit, True)}"
        )
    return (
        f"{100 * m.before:.0f} % of the time before, {100 * m.after:.0f} % after (change "
        f"{100 * (m.after - m.before):+.0f} points, {100 * m.low:+.0f} to {100 * m.high:+.0f}"
    )


def _chance(p: float) -> str:
    return f"{p:.3f}" if p >= 0.001 else "under .001"


def _rests_on(told: Mapping[str, Any]) -> str:
    """Which comparison the finding rests on, and what else would fit as well."""
    m: Moved = told["moved"]
    if told["drawn"]:
        return " Its day was drawn by lot."
    if told["why"] == "trend":
        step = m.series.beside_trend.step
        size = f"{step:+.1f}" if m.what == "condition" else f"{100 * step:+.0f} points"
        return (
            " A straight trend through both sides fits nearly as well: it may be that (beside a trend the step is "
            f"{size})."
        )
    if m.by_step:
        return " Neighbours in time repeat each other, so this rests on a step that allows for it."
    return " This rests on the plain difference."


def _role(told: Mapping[str, Any]) -> str:
    if told["moved"].what != "zone" or told["expected"] is None:
        return " Nobody had said so before: looking around."
    way = "more" if told["expected"] == "up" else "less"
    came = told["moved"].after - told["moved"].before
    kept = (came > 0) == (told["expected"] == "up")
    return f" Expected was {way}" + (", and it went that way." if kept else "; it went the other way.")


def reached_said(
    change: Adjustment, rows: Sequence[Mapping[str, Any]], labels: Mapping[str, str], declared: Declaration
) -> str | None:
    """Whether a change reached its zones, in one sentence: before, after, the step with its limits, for how long."""
    own = [r for r in rows if r["adjustment"] == change.id and r["meant"]]
    if not own:
        return None
    amount = f" ({change.amount:g} {change.unit})" if change.amount is not None else ""
    parts = [_reached(r, declared) for r in own]
    return f"{change.id}{amount}: {'; '.join(parts)}. Means of up to 4 days on each side."


def _reached(row: Mapping[str, Any], declared: Declaration) -> str:
    q, f = row["name"], declared.fahrenheit
    low, high = (said(q, row[end], f, True) for end in ("change_low", "change_high"))
    went = (
        f"{label(q)} in {declared.zones[row['zone']].label} went from {said(q, row['before'], f)} to "
        f"{said(q, row['after'], f)} (a step of {low.split()[0]} to {high})"
    )
    if row["change_low"] <= 0 <= row["change_high"]:
        return f"{went}: perhaps no change at all"
    days = counted(int(row["lasted_d"]), "day")
    return (
        f"{went} for {days}, until half of it was gone" if row["faded"] else f"{went}, still so after {days}"
    )
