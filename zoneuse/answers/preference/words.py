"""What the preference answer says: a sentence for each quantity, why zones are avoided, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...stats.choice.preference import FALLING, FLAT, PEAKED, RISING, PreferenceFit
from ...study.quantities import QUANTITIES
from ...tables.choices import Choices
from .. import reasons
from ..effort import Effort
from ..finding import Caution, Finding
from ..phrases import counted, speaks_for
from ..plain import rows as rows_of
from ..quantities_said import in_unit, label, said
from ..question import Question
from .judge import clear_of_none
from .model import Alternatives


def headline(did: Effort, model: Alternatives) -> str:
    left = int((~model.kept).sum())
    without = f"; {left:,} left out for want of readings" if left else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {int(model.kept.sum()):,} moments with "
        f"known conditions in two zones or more{without}. Each {did.cluster} counts once."
    )


def sentence(finding: Finding, fahrenheit: bool) -> str:
    """What is chosen as far as it can be told, then use against offer at the same moments."""
    f = finding
    if f.reason in (reasons.NOTHING_SEEN, reasons.NO_READINGS):
        seen = f.reason == reasons.NO_READINGS
        why = (
            "no moment has known conditions in two zones or more"
            if seen
            else "nothing was seen in what was asked for"
        )
        return f"Nothing can be said of conditions yet: {why}. Loggers in two zones or more would settle it."
    quantity = f.about[0]
    name, compared = label(quantity).capitalize(), _apart_said(f, fahrenheit)
    offer = (
        f"{said(quantity, f['offered_low'], fahrenheit)} to {said(quantity, f['offered_high'], fahrenheit)}"
    )
    if f.verdict == PEAKED:
        ends = f"{said(quantity, f['peak_low'], fahrenheit)} to {said(quantity, f['peak_high'], fahrenheit)}"
        near = (
            f"{name}: places near {said(quantity, f['peak'], fahrenheit)} ({ends}) are used most; {compared}."
        )
        partly = f.facts["partly_the_place"]
        return near + (" Part of this is the place itself, not its climate." if partly else "")
    if f.verdict in (RISING, FALLING):
        way = nearness(quantity)[f.verdict == FALLING]
        return f"{name}: the {way} places are chosen, as far as offered ({offer}); {compared}."
    if f.verdict == FLAT:
        return f"{name} makes little difference within {offer}; {compared}."
    if f.reason == reasons.PLACE_OR_CONDITION:
        return f"{name}: {compared}. Whether that is the {label(quantity)} or the places themselves cannot be told yet."
    return f"{name}: {compared}. What it makes of {offer} cannot be told yet."


def nearness(quantity: str) -> tuple[str, str]:
    """How a place with more and with less of a quantity is called: warmer, cooler."""
    found = QUANTITIES[quantity]
    return found.more, found.less


def _apart_said(f: Finding, fahrenheit: bool) -> str:
    quantity = f.about[0]
    more = nearness(quantity)[f["difference"] <= 0]
    limits = "it may be none"
    low, high = (f.numbers[name].value for name in ("difference_low", "difference_high"))
    if low is not None and high is not None and clear_of_none(low, high):
        ends = sorted(abs(in_unit(quantity, end, fahrenheit, True)) for end in (low, high))
        limits = f"{ends[0]:.1f} to {ends[1]:.1f}"
    return (
        f"{'it was' if f['animals'] == 1 else 'they were'} in places "
        f"{said(quantity, abs(f['difference']), fahrenheit, True)} {more} ({limits}) than the mean of those on offer "
        f"at the same moments ({counted(f['sessions'], 'session')} on {counted(f['days'], 'day')})"
    )


def cause_said(name: str, difference: float | None) -> str:
    """What speaks against a zone, in words: ``too dry``."""
    if name == "place":
        return "the place itself"
    if name == "size":
        return "its size"
    much, little = "too enclosed", "too open"
    if name in QUANTITIES:
        found = QUANTITIES[name]
        much = found.too_much or f"too much {found.label}"
        little = found.too_little or f"too little {found.label}"
    return much if (difference or 0.0) > 0 else little


def why_said(why: pd.DataFrame, labels: Mapping[str, str]) -> list[str]:
    """A sentence for each avoided zone with what the model makes of it, in parts that add up."""
    zones: dict[str, list[dict[str, Any]]] = {}
    for row in rows_of(why):
        zones.setdefault(row["zone"], []).append(row)
    return [_why_one(zone, parts, labels) for zone, parts in zones.items()]


def _why_one(zone: str, parts: list[dict[str, Any]], labels: Mapping[str, str]) -> str:
    # Size is no reason to stay away: it is what use is compared with.
    told = [r for r in parts if r["term"] != "size"]
    total = sum(r["part"] for r in told)
    against = sorted((r for r in told if r["part"] < -0.05), key=lambda r: float(r["part"]))
    listed = ", ".join(f"{cause_said(r['term'], r['difference'])} {r['part']:+.1f}" for r in against[:4])
    pair = f"{labels[zone]} against {labels[parts[0]['best']]}"
    cause = next((cause_said(r["term"], r["difference"]) for r in told if r["cause"]), None)
    amount = f"log odds {total:+.1f} for its size: {listed or 'no part stands out'}"
    if cause is None:
        return f"{pair}: what keeps them away cannot be told apart yet ({amount})."
    return f"{pair}: mostly {cause} ({amount})."


def cautions(
    question: Question, chosen: Choices, model: Alternatives, fit: PreferenceFit | None
) -> tuple[Caution, ...]:
    """What the reader must know before believing the curves."""
    found = []
    if {"temperature_c", "humidity_pct"} <= set(model.quantities):
        together = float(np.corrcoef(model.column("temperature_c"), model.column("humidity_pct"))[0, 1])
        if abs(together) > 0.8:
            found.append(
                Caution(
                    "entangled",
                    f"Warmth and moisture go together in what was offered (correlation {together:.2f}): "
                    "this cannot tell warm from dry here.",
                )
            )
    if fit is not None:
        for quantity, within in zip(fit.quantities, fit.within, strict=True):
            if within < 0.1:
                found.append(
                    Caution(
                        "aliased",
                        f"Only {100 * within:.0f} % of the differences in {label(quantity)} come from change within "
                        "zones over time; the rest are lasting ones, which the place may explain as well.",
                    )
                )
        if fit.plain.says:
            found.append(Caution("model", "; ".join(fit.plain.says) + "."))
    found.append(
        Caution("zone-not-body", "These are conditions in the zone at its logger, not of the animal's body.")
    )
    found.append(Caution("speaks-for", speaks_for(question.declared, question.rows)))
    there = chosen.offered > 0
    unknown = there & np.isnan(chosen.conditions[model.quantities[0]])
    if unknown.any():
        share = unknown.sum() / there.sum()
        found.append(
            Caution("no-readings", f"{100 * share:.0f} % of the zones on offer had no reading then.")
        )
    return tuple(found)
