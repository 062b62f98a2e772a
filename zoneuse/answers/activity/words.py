"""What the activity answer says: a sentence for each behaviour, the headline, and the cautions."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from .. import reasons
from ..effort import Effort, once_said
from ..finding import Caution, Finding, Note
from ..nothing import nothing_said
from ..phrases import counted, listed, speaks_for, times_mixed
from ..question import ELSE, Question
from ..showing.said import in_points, points
from .beside import Beside
from .judge import LEAST_BASELINE, LEAST_RECENT, LESS, MORE, USUAL


def sentence(finding: Finding, labels: Mapping[str, str]) -> str:
    """One behaviour: how much of it there was, and whether that is more than before."""
    f = finding
    if f.reason == reasons.NO_RECORD:
        return nothing_said(f.facts["nothing"], "No behaviour was recorded")
    if f.reason == reasons.ONE_SIDE_SHORT:
        if f.facts.get("left_out"):
            return (
                "It is too early to say whether anything is more or less than usual: at times of day watched both "
                f"recently and before there are {counted(f['sessions_before'], 'earlier session')} and "
                f"{counted(f['sessions_after'], 'recent session')}; {LEAST_BASELINE} and {LEAST_RECENT} are needed."
            )
        return (
            "It is too early to say whether anything is more or less than usual: "
            f"{counted(f['sessions_before'], 'earlier session')} and {counted(f['sessions_after'], 'recent session')}; "
            f"{LEAST_BASELINE} and {LEAST_RECENT} are needed."
        )
    name = labels[f.about[0]]
    if f.reason == reasons.NOT_JUDGED:
        return (
            f"{name}: {f['per_hour']:.2g} per animal and hour ({f['low']:.2g} to {f['high']:.2g}; "
            f"{counted(f['sessions'], 'session')}). Too early to tell whether that is more or less than usual."
        )
    numbers = (
        f"{100 * f['after']:.0f} % of moments recently, {100 * f['before']:.0f} % before (change "
        f"{in_points(f['change'])}, {points(f['change_low'])} to {points(f['change_high'])}; "
        f"{counted(f['sessions_after'], 'session')} against {f['sessions_before']} before)"
    )
    one = ""
    if f.facts.get("one_animal"):
        animal, among = f.facts["one_animal"]
        one = f" It all comes from one animal of {among}, {labels.get(animal, animal)}."
    said = {
        MORE: f"{name} is seen more than before: {numbers}.{one}",
        LESS: f"{name} is seen less than before: {numbers}.{one}",
        USUAL: f"{name} is as usual: {numbers}.",
    }
    if f.reason == reasons.UNSEEN_DECIDE:
        return f"{name}: {numbers}. The moments in which nobody saw what they did decide it."
    return (
        said.get(f.verdict)
        or f"{name}: {numbers}. Too early to tell whether that is more or less than usual."
    )


def headline(did: Effort, known: pd.DataFrame) -> str:
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {counted(len(known), 'moment')} with a "
        f"known behaviour. {once_said(did)}."
    )


def time_said(
    bouts: pd.DataFrame, table: pd.DataFrame, budgets: bool, labels: Mapping[str, str]
) -> tuple[Note, ...]:
    """Bouts of followed animals (how many, how long), and time budgets in minutes an hour."""
    said = []
    for b in bouts.to_dict("records"):
        half = b["median_s"]
        middle = "no median yet"
        if half is not None and math.isfinite(half):
            limits = [b["median_low_s"], b["median_high_s"]]
            known = all(v is not None and math.isfinite(v) for v in limits)
            between = f" ({_long(limits[0])} to {_long(limits[1])})" if known else ""
            middle = f"median {_long(half)}{between}"
        open_ended = b["bouts"] - b["whole"]
        more = f", {open_ended} of them cut off" if open_ended else ""
        said.append(
            f"{labels.get(b['behaviour'], b['behaviour'])}: {counted(b['bouts'], 'bout')} of followed animals{more}; "
            f"{middle}, longest {_long(b['longest_s'])}; {b['minutes_per_hour']:.0f} min an hour."
        )
    if budgets:
        told = table[table["share"].notna() & (table["behaviour"] != ELSE)]
        of = " of the time whose behaviour is known" if len(told) == table["share"].notna().sum() else ""
        for row in told.to_dict("records"):
            low, high = row["low"], row["high"]
            between = (
                f" ({60 * low:.0f} to {60 * high:.0f})" if low is not None and math.isfinite(low) else ""
            )
            name = labels.get(row["behaviour"], row["behaviour"])
            said.append(f"{name}: {60 * row['share']:.0f} min an hour{between}{of}.")
    return tuple(map(Note, said))


def _long(seconds: float) -> str:
    """``48 s``, ``3.2 min``, ``1.5 h``."""
    if seconds < 60:
        return f"{seconds:.2g} s"
    return f"{seconds / 60:.2g} min" if seconds < 5_940 else f"{seconds / 3600:.2g} h"


def cautions(question: Question, known: pd.DataFrame, side: Beside) -> tuple[Caution, ...]:
    found = list(side.cautions)
    rows = question.rows
    if side.left_out and len(side.known):
        both = f"the times of day both have (not {listed(side.left_out)})"
        found.append(Caution("one-side", f"Recent sessions are compared with those before at {both}."))
    without = int((rows["zone"].notna() & rows["behaviour"].isna()).sum())
    if without:
        says = f"{counted(without, 'moment')} had no known behaviour (hidden, or not recorded)."
        found.append(Caution("no-behaviour", says))
    if mixed := times_mixed(known):
        found.append(Caution("slots", mixed))
    found.append(Caution("speaks-for", speaks_for(question.declared, rows)))
    return tuple(found)
