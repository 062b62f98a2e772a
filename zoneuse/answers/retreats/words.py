"""What the retreats answer says of each finding."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from .. import reasons
from ..finding import Finding
from ..nothing import nothing_said
from ..phrases import counted, listed, often
from .dry_or_hot import PARTED, UNKNOWN
from .judge import APART, KEEPS, MOST_NAMED, MOVES, STAYS, TOGETHER

Labels = Mapping[str, str]
TAKES = "A pair that joins up at 6 checks in 10 takes about 60 checks to show; at 3 in 10, about 120."


def sentence(finding: Finding, labels: Labels) -> str:
    """One finding in words."""
    if finding.reason == reasons.NOTHING_SEEN:
        return nothing_said(finding.facts["nothing"], "No check of the retreats found anybody")
    if "kind" not in finding.facts:
        return "Too early to say anything of the retreats."
    return _SENTENCES[finding.facts["kind"]](finding, labels)


def _unused(f: Finding, labels: Labels) -> str:
    where = f" ({f.facts['enclosure']})" if f.facts["enclosure"] else ""
    enough = int(f["enough"])
    needed = f"{enough}" if enough < 100 else f"about {round(enough, -1):,}"
    return (
        f"{listed([labels[p] for p in f.about])}{where}: nobody found in {counted(f['checks'], 'check')}. "
        f"{'It' if len(f.about) == 1 else 'Each'} could still be used up to {100 * f['share_high']:.0f} % of the time; "
        f"{needed} empty checks would rule out 5 %."
    )


def _dry(f: Finding, labels: Labels) -> str:
    if f.reason == reasons.NO_RECORD:
        return "No dry spell is on record, so what they do in one is not known."
    where = "the one dry spell" if f["spells"] == 1 else f"the {f['spells']} dry spells"
    if f.reason == reasons.TOO_FEW_MOVES:
        return f"In {where} no animal was seen to move between retreats with known moisture."
    told = [f"{_moister(f, 'moister_dry')} than those they left"]
    if np.isfinite(f["than_usual"]):
        told.append(f"{_moister(f, 'than_usual')} than their usual choices")
    if f["than_usual_low"] > 0 and not f["moister_dry_low"] > 0:
        told.reverse()
    says = f"In {where}, animals that moved went to retreats {' and '.join(told)}"
    says += f"; {100 * f['moved_dry']:.0f} % moved from one check to the next"
    if np.isfinite(f["moved_other"]):
        says += f", {100 * f['moved_other']:.0f} % at other times"
    if f.reason == reasons.DRY_OR_HOT:
        cooler = "Heat differs between the retreats too"
        if f["cooler_dry_low"] > 0:
            cooler = f"Those were {f['cooler_dry']:.1f} °C cooler too"
        return f"{says}. {cooler}: whether they went for moisture or from the heat cannot be told apart here."
    if f.verdict != MOVES:
        return f"{says}. That could be chance."
    heat = f.facts["heat"]
    if heat == UNKNOWN:
        return f"{says}. Heat cannot be ruled out, since no temperature is known there: dry days are often hot ones."
    return f"{says}{'; it holds at equal heat too' if heat == PARTED else ''}."


def _moister(f: Finding, name: str) -> str:
    """``11 points moister (6 to 16)``, below ten points with a decimal."""
    value, low, high = f[name], f[f"{name}_low"], f[f"{name}_high"]
    if np.isfinite(high) and (value < 0 < high or (low < 0 and float(signed(value).lstrip("−")) == 0)):
        return f"no moister ({signed(low)} to {signed(high)} points)"
    sign = 1 if value >= 0 else -1
    digits = 0 if abs(value) >= 10 else 1
    limits = "(at one check only)"
    if np.isfinite(low):
        first, last = sorted((sign * low, sign * high))
        limits = f"({first:.{digits}f} to {last:.{digits}f})".replace("-", "−")
    return f"{abs(value):.{digits}f} points {'moister' if sign > 0 else 'drier'} {limits}"


def signed(value: float) -> str:
    """``−2.3``; what rounds to nothing has no sign."""
    shown = f"{abs(value):.1f}"
    return f"−{shown}" if value < 0 and float(shown) else shown


def _company(f: Finding, labels: Labels) -> str:
    where = f"{f.facts['enclosure']}: " if f.facts["enclosure"] else ""
    if f.verdict == TOGETHER:
        return (
            f"{where}Some animals seek company: {counted(round(f['beyond']), 'more arrival')} into it than each one's "
            f"own use of the retreats explains; chance gives pairs as clear in {_of_draws(f['p_together'])}."
        )
    if f.verdict == APART:
        return (
            f"{where}Some animals keep apart: {counted(round(f['short']), 'fewer arrival')} into company than each "
            f"one's own use of the retreats explains; chance gives pairs as clear in {_of_draws(f['p_apart'])}."
        )
    if f.reason == reasons.NEVER_WITH_THIS_DESIGN:
        return (
            f"{where}Found together at {f['same_retreat']} of the {counted(f['both_found'], 'check')} that found "
            "both. With only two animals, company cannot be told from both wanting the same place."
        )
    if f.reason == reasons.TOO_FEW_CHECKS:
        return f"{where}Company cannot be judged from {counted(f['checks'], 'check')}. {TAKES}"
    if f.reason == reasons.CANNOT_BE_TESTED:
        return (
            f"{where}Company cannot be tested: that takes two animals that moved at two checks to the same two "
            f"retreats, once each way round, and among {counted(f['moves'], 'move')} there are none."
        )
    if f.reason == reasons.TOO_FEW_MOVES:
        return f"{where}Company cannot be judged from {counted(f['moves'], 'move')}. {TAKES}"
    return (
        f"{where}Company: none of the {len(f.about)} are together or apart more than chance would have it "
        f"({counted(f['moves'], 'move')}). {TAKES}"
    )


def _of_draws(p: float) -> str:
    """How often swapped moves lie as far from chance, which is what the verdict rests on.

    >>> _of_draws(0.0061), _of_draws(0.0002)
    ('6 of 1,000 swaps of their moves', 'fewer than 1 of 1,000 swaps of their moves')
    """
    often = f"{1000 * p:.0f}" if p >= 0.0005 else "fewer than 1"
    return f"{often} of 1,000 swaps of their moves"


def _pair(f: Finding, labels: Labels) -> str:
    says = (
        f"{labels[f.about[0]]} and {labels[f.about[1]]} moved in together {often(f['arrivals'])}; "
        f"{f['expected']:.0f} would be expected from each one's own use of the retreats."
    )
    return says + (
        f" {counted(f['more_pairs'], 'more pair')} {'stands' if f['more_pairs'] == 1 else 'stand'} out as well."
        if f["more_pairs"] > 0
        else ""
    )


def _keeping(f: Finding, labels: Labels) -> str:
    if f.reason == reasons.NOBODY_TO_COMPARE:
        return (
            f"{labels[f.about[0]]} was in the same retreat at the next check {100 * f['same']:.0f} % of the "
            f"time ({counted(f['steps'], 'step')} from check to check); there is no other animal to compare it with."
            + _only_there(f, labels)
        )
    who = _who(f, labels)
    if f.verdict == KEEPS:
        keep = "keeps to its retreat" if len(f.about) == 1 else "keep to their retreats"
        return f"{who} {keep}: {_how(f)}. {_homes(f, labels)}"
    if f.verdict == STAYS:
        stay, comes = ("stays on", "it comes back to a place of its own") if len(f.about) == 1 else (
            "stay on", "they come back to places of their own")  # fmt: skip
        return f"{who} {stay}: {_how(f)}. Nothing shows yet that {comes}."
    if f.reason == reasons.CANNOT_BE_TESTED:
        return (
            f"{who}: in the same retreat at the next check {_range(f, 'same')} of the time. Whether that is a home of "
            "its own cannot be tested: the others were in the same retreats, so nothing sets one apart from another."
        )
    return f"{who}: {_how(f)}. That could be chance."


def _who(f: Finding, labels: Labels) -> str:
    if len(f.about) > MOST_NAMED:
        known = f.facts["known"]
        return f"All {known} animals" if len(f.about) == known else f"{len(f.about)} of {known} animals"
    return listed([labels[a] for a in f.about])


def _how(f: Finding) -> str:
    return (
        f"in the same retreat at the next check {_range(f, 'same')} of the time, {_range(f, 'expected')} if it made "
        f"no difference which animal is where ({counted(f['steps'], 'step')} from check to check)"
    )


def _homes(f: Finding, labels: Labels) -> str:
    homes: Mapping[str, str] = f.facts["homes"]
    if not homes:
        none = "It does not yet use one" if len(f.about) == 1 else "None of them yet uses one"
        return f"{none} retreat clearly more than the others."
    if len(homes) > MOST_NAMED:
        return f"{len(homes)} of them have a home used clearly more than any other retreat."
    named = ", ".join(f"{labels[a]} in {labels[place]}" for a, place in homes.items())
    return f"At home, clearly more than anywhere else: {named}.{_only_there(f, labels)}"


def _only_there(f: Finding, labels: Labels) -> str:
    """Of those never found elsewhere, where nobody else tells how long they stay by themselves."""
    never = f.facts.get("never_elsewhere")
    if not never:
        return ""
    if len(f.about) == 1:
        (place,) = never.values()
        return f" It was found in {labels[place]} and nowhere else: its home, or one long stay."
    return f" Never found elsewhere, so it may also be one long stay: {listed([labels[a] for a in never])}."


def _crowding(f: Finding, labels: Labels) -> str:
    return (
        f"{listed([labels[g] for g in f.about])}: two of them share a retreat {_range(f, 'shared')} of the time; "
        f"{_range(f, 'expected')} if each chose by the room available ({_span(f, 'days', 'day')}, worth "
        f"{_span(f, 'looks', 'look')}, since animals that stay put repeat themselves). {_called(f)}"
    )


def _called(f: Finding) -> str:
    if f.verdict == TOGETHER:
        return "They crowd together, for company or for the same retreat: counts cannot tell which."
    if f.verdict == APART:
        return "They spread out."
    return "They moved too rarely to say." if f.reason == reasons.TOO_FEW_MOVES else "That could be chance."


def _range(f: Finding, name: str) -> str:
    low, high = round(100 * f[f"{name}_low"]), round(100 * f[f"{name}_high"])
    return f"{low} %" if low == high else f"{low} to {high} %"


def _span(f: Finding, name: str, what: str) -> str:
    low, high = round(f[f"{name}_low"]), round(f[f"{name}_high"])
    return counted(low, what) if low == high else f"{low} to {counted(high, what)}"


_SENTENCES: dict[str, Callable[[Finding, Labels], str]] = {
    "unused": _unused, "dry": _dry, "company": _company, "pair": _pair, "keeping": _keeping, "crowding": _crowding,
}  # fmt: skip
