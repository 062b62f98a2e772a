"""What is said of many enclosures: sentences and the forest, a row for each study above the mean."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from ..answers import reasons
from ..answers.finding import Caution, Finding
from ..answers.phrases import counted, listed
from ..answers.quantities_said import said
from ..answers.showing.said import points, times
from ..study import QUANTITIES
from .judge import DIFFERS, HOLDS
from .pool import CHANGE, CONDITION, OTHER_PRIORS, PREFERRED, PRIOR, STEPS_OF_BEND, ZONE, Pooled, step_of


def headline(findings: Sequence[Finding], keepers: int, enclosures: int, species: str) -> str:
    """The answer in one sentence."""
    rests = f"{counted(enclosures, 'enclosure')} of {counted(keepers, 'keeper')}" + (
        f", {species}" if species else ""
    )
    held = [f for f in findings if f.verdict == HOLDS and f.facts["what"] == ZONE]
    named = (
        ("favoured everywhere so far", [f.about[0] for f in held if f["mean"] > 1]),
        ("avoided everywhere so far", [f.about[0] for f in held if f["mean"] <= 1]),
        ("not the same everywhere", [f.about[0] for f in findings if f.verdict == DIFFERS]),
    )
    told = [f"{listed(names)} {'is' if len(names) == 1 else 'are'} {what}" for what, names in named if names]
    if told:
        says = "; ".join(told)
        return f"{says[0].upper()}{says[1:]} ({rests})."
    return f"Nothing can be said across keepers yet ({rests})."


def sentence(f: Finding) -> str:
    """One finding. Numbers as people say them."""
    what, name = f.facts["what"], f.about[0]
    k, n = int(f["keepers"]), int(f["enclosures"])
    rests = f"{counted(n, 'enclosure')} of {counted(k, 'keeper')}"
    if f.reason == reasons.TOO_FEW_UNITS:
        more = f"It can be judged with {counted(int(f['more']), 'more keeper')}."
        if math.isnan(f["mean"]):
            return f"{subject(what, name)}: {rests}. {more}"
        return f"{_where(f)}: {_told(what, name, f['mean'], f['low'], f['high'])}, from {rests}. {more}"
    mean, ahead = (
        _told(what, name, f["mean"], f["low"], f["high"]),
        _told(what, name, None, f["next_low"], f["next_high"]),
    )
    body = f"{_where(f)}: {mean}, from {rests}; the next enclosure is expected at {ahead}"
    ends = {
        HOLDS: ". That holds across these keepers.",
        DIFFERS: ". It differs from one enclosure to the next: ask what sets them apart.",
    }
    return body + ends.get(f.verdict, ". More keepers would narrow that.")


def subject(what: str, name: str) -> str:
    """What a row is about, as a sentence begins."""
    if what == ZONE:
        return name.capitalize()
    if what == PREFERRED:
        return f"{QUANTITIES[name].label.capitalize()} used" if name in QUANTITIES else f"{name} used"
    if what == CONDITION:
        of, bend = name.removesuffix("^2"), name.endswith("^2")
        if bend:
            return f"{_step(of, STEPS_OF_BEND)} either way"
        return f"A place {_step(of)} {QUANTITIES[of].more}" if of in QUANTITIES else f"One more of {of}"
    return name.capitalize()


def _step(name: str, steps: int = 1) -> str:
    unit = QUANTITIES[name].unit if name in QUANTITIES else ""
    return f"{steps * step_of(name):g} {'points' if unit == '%' else unit}".rstrip()


def _where(f: Finding) -> str:
    """The subject, with the value around which a condition's effect is taken."""
    name, around = f.about[0].removesuffix("^2"), f.facts["around"]
    near = (
        ""
        if around is None
        else f" of {said(name, around)}"
        if f.about[0] != name
        else f" than {said(name, around)}"
    )
    return subject(f.facts["what"], f.about[0]) + near


def _told(what: str, name: str, mean: float | None, low: float, high: float) -> str:
    if what == ZONE:
        if mean is None:
            return f"{times(low)} to {times(high)} times its share"
        return f"used {times(mean)} times its share ({times(low)} to {times(high)})"
    if what == CONDITION:
        if mean is None:
            return f"{times(low)} to {times(high)} times as readily"
        sought = "; below 1 they seek the middle" if name.endswith("^2") else ""
        return f"chosen {times(mean)} times as readily ({times(low)} to {times(high)}{sought})"
    if what == CHANGE:
        span = f"{points(low)} to {points(high)} points"
        return f"{points(mean)} points ({span})" if mean is not None else span
    unit = QUANTITIES[name].symbol if name in QUANTITIES else ""
    span = f"{low:.1f} to {high:.1f} {unit}"
    return f"{mean:.1f} {unit} ({span})" if mean is not None else span


def cautions(
    rows: Sequence[Pooled], species: Mapping[str, int], chosen: str, one_machine: bool
) -> Iterator[Caution]:
    """What the reader must know before believing it."""
    yield Caution(
        "unsystematic",
        "These keepers chose to watch and to share. What holds among them need not hold for everyone who keeps them.",
    )
    others = {name: count for name, count in species.items() if name != chosen}
    if others:
        told = listed([f"{name or 'no species given'} ({count})" for name, count in sorted(others.items())])
        yield Caution(
            "other-species",
            f"Left out, since different species are never pooled: {told}. Ask for one with --species.",
        )
    if one_machine:
        yield Caution(
            "keepers-unknown",
            "Folders do not say whose they are: each counts as a keeper of its own, or the folder above it does. "
            "Enclosures of one keeper are not independent.",
        )
    moved = [r for r in rows if r.under and _turned(r)]
    if moved:
        told = listed([r.name for r in moved])
        yield Caution(
            "prior",
            f"How far enclosures differ is taken to be moderate (half-normal, {PRIOR:g}); with {OTHER_PRIORS[0]:g} or "
            f"{OTHER_PRIORS[1]:g} the limits of {told} would take in, or leave out, no difference.",
        )


def _turned(row: Pooled) -> bool:
    def out(low: float | None, high: float | None) -> bool:
        return low is not None and high is not None and not low <= 1 <= high

    return any(out(*limits) != out(row.low, row.high) for limits in row.under.values())


def figure_said(row: Pooled, value: float) -> str:
    """One number of a row, as it stands beside its line."""
    if row.what == CHANGE:
        return f"{100 * value:+.0f}"
    return f"{value:.2f}" if row.what in (ZONE, CONDITION) else f"{value:.1f}"
