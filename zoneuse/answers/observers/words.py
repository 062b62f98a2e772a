"""What the observers answer says: who agrees on what, what to sharpen, how records were matched."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ...journal import Session
from ...study import Declaration
from ...tables import AD_LIBITUM
from .. import reasons
from ..finding import Caution, Finding
from ..nothing import nothing_said
from ..phrases import counted, listed, often
from .judge import AGREE, FEWEST_UNCOMMON, LEAST_EXAMPLES, SHARPEN, JudgedPair, far_below
from .matched import NOT_FOUND, Matched

# Advice of observers' handbooks: score again blind, when it is no longer remembered.
REMEMBERED_DAYS = 14


def headline(matched: Sequence[Matched]) -> str:
    """Who was together, how often, and over how many moments."""
    told = []
    for m in matched:
        rows = m.rows
        if not len(rows):
            continue
        sessions = (
            f"{counted(rows['together'].nunique(), 'session')} on {counted(rows['day'].nunique(), 'day')}"
        )
        who = f"{m.observers[0]} and {m.observers[0]}'s own second record" if m.again else _both(m)
        told.append(f"{who}: {sessions}, {counted(len(rows), 'moment')} matched.")
    return " ".join(told)


def _both(m: Matched) -> str:
    return f"{m.observers[0]} and {m.observers[1]}"


def sentence(finding: Finding, declared: Declaration, labels: Mapping[str, str]) -> str:
    """The verdict on zone or behaviour, a definition to sharpen, or that nobody watched together."""
    f = finding
    if f.reason == reasons.NO_RECORD:
        return _nobody(f)
    one: JudgedPair = f.facts["judged"]
    if "confusion" in f.facts:
        return _sharpen(declared, one, f, labels)
    m = one.matched
    name, (value, low, high) = ("AC1" if one.misleading else "kappa"), one.coefficient
    limits = f" ({low:.2f} to {high:.2f})" if np.isfinite(low) else ""
    numbers = f"the same on {100 * f['agreement']:.0f} % of {counted(f['moments'], 'moment')}"
    if np.isfinite(value):
        numbers += f", {name} {value:.2f}{limits}"
    numbers += f"; {counted(f['sessions'], 'session')} on {counted(f['days'], 'day')}"
    who = f"{m.observers[0]} agrees with a second record of their own" if m.again else f"{_both(m)} agree"
    said = {
        AGREE: f"On {one.what} {who}: {numbers}.",
        SHARPEN: f"On {one.what} {_short(one)}: {numbers}.",
    }
    says = said.get(f.verdict) or f"On {one.what}: {numbers}. {_held_back(f, one)}"
    return says + _misleading(one, labels) + _few(one, labels)


def _short(one: JudgedPair) -> str:
    m = one.matched
    if one.as_a_whole:
        return (
            "they agree as a whole but not on everything"
            if not m.again
            else "it holds as a whole but not for everything"
        )
    return f"{_both(m)} fall short" if not m.again else f"{m.observers[0]}'s two records fall short"


def _held_back(f: Finding, one: JudgedPair) -> str:
    if f.reason == reasons.TOO_FEW_UNITS:
        return "Too early: at least 5 sessions together on 3 days are needed."
    if f.reason == reasons.TOO_FEW_KINDS:
        return (
            f"Too early: fewer than two kinds of {one.what} came up at least {LEAST_EXAMPLES} times, so there was "
            "little to differ on."
        )
    more = (
        f" At this rate {counted(f.forecast.more, 'more session')} together would probably tell."
        if f.forecast is not None and f.forecast.more
        else " Several more sessions together are needed."
    )
    return f"It is too early to tell whether that is good enough.{more}"


def _misleading(one: JudgedPair, labels: Mapping[str, str]) -> str:
    """Why kappa is passed over where nearly all is one category."""
    if not one.misleading:
        return ""
    a = one.found
    if one.uncommon < FEWEST_UNCOMMON:
        return (
            f" Only {counted(one.uncommon, 'moment')} held anything but the commonest, too few for limits on "
            "kappa: AC1 is given instead."
        )
    if not far_below(a):
        return (
            f" Of {counted(one.uncommon, 'moment')} that held anything but the commonest, both gave the same in "
            f"{one.alike}, too few for limits on kappa: AC1 is given instead."
        )
    commonest = max(one.categories, key=lambda c: int(c["examples"]))["category"]
    return (
        f" Kappa ({a.kappa:.2f}) misleads here: {100 * a.common:.0f} % is {_label(commonest, labels)}, so chance alone "
        f"would agree on {100 * a.expected:.0f} % and a single slip weighs heavily. AC1 allows for that."
    )


def _few(one: JudgedPair, labels: Mapping[str, str]) -> str:
    if not one.few or one.reason in (reasons.TOO_FEW_UNITS, reasons.TOO_FEW_KINDS):
        return ""
    told = ", ".join(
        f"{_label(n, labels)} ({k})" for n, k in sorted(one.few.items(), key=lambda x: -x[1])[:5]
    )
    more = f" and {len(one.few) - 5} more" if len(one.few) > 5 else ""
    return f" Seen fewer than {LEAST_EXAMPLES} times, so not judged: {told}{more}."


def _sharpen(declared: Declaration, one: JudgedPair, f: Finding, labels: Mapping[str, str]) -> str:
    row = f.facts["confusion"]
    names = [_label(n, labels) for n in (row["one"], row["other"])]
    first, second = _speakers(one.matched)
    parts = [
        f"{first} {a}, {second} {b} {often(n)}"
        for a, b, n in ((*names, row["one_other"]), (*names[::-1], row["other_one"]))
        if n
    ]
    says = (
        f"{names[0]} and {names[1]} are taken for each other {often(row['moments'])} in {row['sessions']} of "
        f"{counted(one.sessions, 'session')} ({'; '.join(parts)})."
    )
    return f"{says} {_remedy(declared, one.what, row['one'], row['other'])}"


def _speakers(m: Matched) -> tuple[str, str]:
    return ("first", "second time") if m.again else m.observers


def _remedy(declared: Declaration, what: str, one: str, other: str) -> str:
    if NOT_FOUND in (one, other):
        return "Agree on how and how long to look before an animal counts as not found."
    if what == "zone":
        return "Agree on where the one ends and the other begins, and which part of the animal counts."
    without = [b for b in (one, other) if not declared.behaviours[b].means]
    if without:
        keys = " and ".join(f"[behaviours.{b}]" for b in without)
        return f"Sharpen the definition: write what it means into study.toml, means = … under {keys}."
    keys = " and ".join(f"[behaviours.{b}]" for b in (one, other))
    return f"Sharpen the definition: say what tells them apart, in means = … under {keys} in study.toml."


def _label(name: str, labels: Mapping[str, str]) -> str:
    return labels.get(name, name)


# --- beside the findings ------------------------------------------------------------------------------------


def matching_said(m: Matched) -> str:
    """How the records of the two were put together."""
    how = []
    if m.by_scan:
        how.append(f"by scan number in {counted(m.by_scan, 'session')}")
    if m.by_time:
        how.append(f"by time, at most {m.within_s:g} s apart, in {counted(m.by_time, 'session')}")
    return f"{m.pair}: records were matched {' and '.join(how)}."


def clocks_said(m: Matched) -> str:
    """What is known of the two clocks."""
    first, second = m.observers
    c = m.clocks
    if not np.isfinite(c.seconds):
        told = f"{counted(c.matched, 'change')}" if c.matched else "no change"
        return f"{m.pair}: whether the two clocks differ cannot be told ({told} seen alike by both)."
    ahead = c.seconds >= 0
    slow, fast = (first, second) if ahead else (second, first)
    low, high = (
        sorted((abs(c.low), abs(c.high))) if c.low * c.high > 0 else (0.0, max(abs(c.low), abs(c.high)))
    )
    limits = f"{low:.0f} to {high:.0f} s" if round(low) < round(high) else "within a second"
    said = (
        f"{fast}'s clock runs about {abs(c.seconds):.0f} s ahead of {slow}'s ({limits}; "
        f"{c.matched} of {c.possible} changes fit)"
    )
    if c.low <= 0 <= c.high:
        said = (
            f"{first}'s and {second}'s clocks cannot be told apart (difference {abs(c.seconds):.0f} s, up to "
            f"{high:.0f}; {c.matched} of {c.possible} changes fit)"
        )
    if m.applied:
        return f"{m.pair}: {said}; allowed for before matching."
    return f"{m.pair}: {said}; not allowed for."


def several_said(group: Mapping[str, Any]) -> str:
    limits = ""
    if np.isfinite(group["alpha_low"]):
        limits = f" ({group['alpha_low']:.2f} to {group['alpha_high']:.2f})"
    alpha = (
        f"Krippendorff's alpha {group['alpha']:.2f}{limits}" if np.isfinite(group["alpha"]) else "no alpha"
    )
    return (
        f"All together ({group['observers']}) on {group['what']}: {alpha} over {counted(group['moments'], 'moment')} "
        "recorded by at least two."
    )


def _nobody(f: Finding) -> str:
    """Nobody watched together."""
    if not f.about:
        return nothing_said(f.facts["nothing"])
    if len(f.about) < 2:
        start = f"Only {f.about[0]} has watched"
    else:
        start = f"{listed(f.about)} never watched the same animal at the same time"
    return (
        f"{start}, so there is no agreement to judge. Have a second person record the same sessions on a second "
        "device (zoneuse watch --observer NAME), at least 5 on 3 days; or record filmed sessions again some weeks "
        "later and take the table in (zoneuse sightings)."
    )


def cautions(
    moments: pd.DataFrame, matched: Sequence[Matched], judged: Sequence[JudgedPair],
    live: Sequence[tuple[Session, Session]],
) -> tuple[Caution, ...]:  # fmt: skip
    told = [c for m in matched for c in _of_pair(m)]
    one_sided = sum(one.one_sided for one in judged)
    if one_sided:
        told.append(
            Caution(
                "one-sided",
                f"In {counted(one_sided, 'moment')} only one of the two gave a behaviour; those do not count.",
            )
        )
    if live:
        name = live[0][0].observer
        told.append(
            Caution(
                "same-name",
                f"{counted(len(live), 'pair')} of sessions under the name {name} ran at the same time. If two people "
                "watched, give each a name of their own (--observer).",
            )
        )
    groups = int((moments["group"].notna() & (moments["out"] != AD_LIBITUM)).sum())
    if groups:
        told.append(
            Caution("groups", "Animals not told apart are counted, not named; their counts are not compared.")
        )
    if matched:
        told.append(
            Caution(
                "not-truth",
                "Two people who agree may both be wrong: agreement only shows that they use the words alike.",
            )
        )
    return tuple(told)


def _of_pair(m: Matched) -> Iterator[Caution]:
    if m.again and m.days_apart < REMEMBERED_DAYS and len(m.rows):
        yield Caution(
            "remembered",
            f"{m.observers[0]}'s second records were made {counted(round(m.days_apart), 'day')} after the first; wait "
            f"at least {REMEMBERED_DAYS} days, so that they do not come from memory.",
        )
    c = m.clocks
    sure = np.isfinite(c.seconds) and not c.low <= 0 <= c.high
    if not m.again and sure and not m.applied and m.by_time and abs(c.seconds) > m.within_s / 2:
        yield Caution(
            "clocks",
            f"The clocks of {m.pair} differ by about {abs(c.seconds):.0f} s, so records of different moments may have "
            "been matched: ask again with --offset, and set the clocks alike.",
        )
