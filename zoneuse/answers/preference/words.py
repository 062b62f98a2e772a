"""What the preference answer says: a sentence for each quantity, why zones are avoided, and the cautions."""

from __future__ import annotations

import numpy as np
import pandas as pd

from ...stats.choice import PreferenceFit
from ...study import QUANTITIES
from ...tables import Choices
from .. import reasons
from ..effort import Effort, once_said
from ..finding import TOO_EARLY, Caution, Finding
from ..nothing import nothing_said
from ..phrases import counted, listed, speaks_for
from ..quantities_said import in_unit, label, said, span_of
from ..question import Question
from ..showing.plain import rows as rows_of
from .judge import DIFFERS, THRESHOLD, clear_of_none
from .model import Alternatives
from .shape import FALLING, FLAT, PEAKED, RISING
from .words_model import limits_said

# A set of tops wider than this part of what was offered is a range and no peak.
A_RANGE = 0.5
# So many standard errors apart are the two sides of a curve clearly unlike.
CLEARLY = 2.0


def headline(did: Effort, model: Alternatives) -> str:
    left = int((~model.kept).sum())
    without = f"; {left:,} left out for want of readings" if left else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {int(model.kept.sum()):,} moments with "
        f"known conditions in two zones or more{without}. {once_said(did)}."
    )


def sentence(finding: Finding, fahrenheit: bool) -> str:
    """What is chosen as far as it can be told, then use against offer at the same moments."""
    f = finding
    if f.reason == reasons.NOTHING_SEEN:
        return nothing_said(f.facts["nothing"])
    if f.reason == reasons.NO_READINGS:
        return (
            "At no moment watched were the conditions known in two zones or more, so which are chosen cannot be told. "
            "It takes loggers in at least two zones while you watch."
        )
    quantity = f.about[0]
    if f.verdict == DIFFERS:
        return _slots_said(f, fahrenheit)
    offer = span_of(quantity, f["offered_low"], f["offered_high"], fahrenheit)
    if f.verdict == TOO_EARLY:
        return _open_said(f, fahrenheit, offer)
    return _shape_said(f, fahrenheit, offer)


def _shape_said(f: Finding, fahrenheit: bool, offer: str) -> str:
    quantity = f.about[0]
    name, compared = label(quantity).capitalize(), _apart_said(f, fahrenheit)
    hours = "" if f.facts["at_every_hour"] else (
        "; it changes with the hour of the day, so being out at one hour and hidden at another may look the same"
    )  # fmt: skip
    if f.verdict == PEAKED:
        return f"{_near(f, fahrenheit)} are used most, {_by_which_fit(f, fahrenheit)}{hours}; {compared}."
    if f.verdict in (RISING, FALLING):
        way = nearness(quantity)[f.verdict == FALLING]
        chosen = f"the {way} the place, the more it is chosen, across all that is on offer ({offer})"
        return f"{name}: {chosen}{hours}; {compared}."
    if f.verdict == FLAT:
        return f"{name} makes little difference within {offer}; {compared}."
    lasting = "" if f.facts["moved"] else "; the gradient never moved, so it may be the places themselves"
    if f.verdict == THRESHOLD:
        return f"{name}: {_avoided_said(f, fahrenheit, offer)}; elsewhere use is even{lasting}{hours}; {compared}."
    return f"{name}: used unevenly across {offer}, but around no single value{lasting}{hours}; {compared}."


def _open_said(f: Finding, fahrenheit: bool, offer: str) -> str:
    """What holds a verdict back, after what use against the offer is."""
    quantity = f.about[0]
    name, compared = label(quantity).capitalize(), _apart_said(f, fahrenheit)
    if f.reason == reasons.NEVER_WITH_THIS_DESIGN:
        return _never_said(f, fahrenheit, compared)
    if f.reason == reasons.NOT_JUDGED and quantity in QUANTITIES:
        return f"{name}: {compared}. It is not logged in every zone: a logger in each would give a curve."
    if f.reason == reasons.NOT_JUDGED:
        return f"{name}: {compared}. It never changes, so it cannot be told apart from the places themselves."
    if f.reason == reasons.PLACE_OR_CONDITION:
        return f"{name}: {compared}. Too early to tell the {label(quantity)} from the places themselves."
    return f"{name}: {compared}. It is too early to tell whether it matters within {offer}."


def _avoided_said(f: Finding, fahrenheit: bool, offer: str) -> str:
    """``avoided above 35 °C (33 to 36 °C)``; without a value the end of what was offered."""
    quantity, low = f.about[0], f.facts["side"] == "low"
    if f["edge"] != f["edge"]:
        return f"the {nearness(quantity)[low]} end of {offer} is avoided"
    edge, limits = (
        said(quantity, f["edge"], fahrenheit),
        span_of(quantity, f["edge_low"], f["edge_high"], fahrenheit),
    )
    return f"avoided {'below' if low else 'above'} {edge} ({limits}; {offer} on offer)"


def _near(f: Finding, fahrenheit: bool) -> str:
    """Where the top is; a range where the set spans half of what was offered; which side is steeper."""
    name, skew = label(f.about[0]).capitalize(), f.numbers["skew"].value or 0.0
    steeper = ""
    if abs(skew) > CLEARLY:
        steeper = f", falling off faster {'above' if skew > 0 else 'below'} than {'below' if skew > 0 else 'above'},"
    return f"{name}: {chosen_places(f, fahrenheit)}{steeper}"


def chosen_places(f: Finding, fahrenheit: bool, what: str = "") -> str:
    """``places near 26.2 °C (25.0 to 27.4 °C)``; a range where the set spans half of what was offered.

    ``what`` stands behind the value where its unit alone does not tell the quantity: `` humidity``.
    """
    quantity = f.about[0]
    limits = span_of(quantity, f["peak_low"], f["peak_high"], fahrenheit)
    if is_range(f):
        return f"places somewhere from {limits}{what}"
    return f"places near {said(quantity, f['peak'], fahrenheit)}{what} ({limits})"


def is_range(f: Finding) -> bool:
    """Whether what is chosen is a range and no one value."""
    return bool(f["peak_high"] - f["peak_low"] > A_RANGE * (f["offered_high"] - f["offered_low"]))


def _by_which_fit(f: Finding, fahrenheit: bool) -> str:
    """Which fit the peak comes from, what the other one says, and what that leaves open."""
    quantity = f.about[0]
    low, high = (f.numbers[name].value for name in ("other_low", "other_high"))
    other = "nothing" if low is None or high is None else span_of(quantity, low, high, fahrenheit)
    if f.facts["by_places"]:
        told = f"by what changed within places over time (with lasting differences too: {other})"
        return told + (", so part of it is the place itself" if f.facts["partly_the_place"] else "")
    return (
        "by lasting differences between places, which the places themselves may also explain "
        f"(within places: {other})"
    )


def _never_said(f: Finding, fahrenheit: bool, compared: str) -> str:
    """A gradient that never moved: what was used most, and what would tell it from the places."""
    quantity = f.about[0]
    name = label(quantity)
    first = f"{name.capitalize()}: {compared}."
    if f.numbers["peak"].value is not None and f["peak"] == f["peak"]:
        ends = span_of(quantity, f["peak_low"], f["peak_high"], fahrenheit)
        first = f"{name.capitalize()}: used most near {said(quantity, f['peak'], fahrenheit)} ({ends}); {compared}."
    end = nearness(quantity)[0]
    stuck = f"{name.capitalize()} and place cannot be told apart because the {end} end never moved"
    ahead = f.forecast
    if ahead is None:
        return f"{first} {stuck}; swapping the ends would tell them apart."
    if ahead.more is None:
        return f"{first} {stuck}; swapping the ends for {ahead.most} sessions would hardly tell them apart."
    return (
        f"{first} {stuck}; moving it to the other end for {counted(ahead.more, 'session')} would tell them apart "
        f"(in {100 * (ahead.chance or 0):.0f} of 100 simulated studies)."
    )


def _slots_said(f: Finding, fahrenheit: bool) -> str:
    quantity, one, other = f.about
    low, high = f["difference_low"], f["difference_high"]
    ends = sorted((low, high)) if f["difference"] > 0 else sorted((-low, -high))
    limits = span_of(quantity, ends[0], ends[1], fahrenheit, True)
    units = counted(int(f["units"]), "day of an animal" if f.unit != "animal" else "animal")
    more = nearness(quantity)[f["difference"] <= 0]
    return (
        f"{label(quantity).capitalize()}: places used by {one} are "
        f"{said(quantity, abs(f['difference']), fahrenheit, True)} {more} than those used by {other} ({limits}; "
        f"{units.replace('day of an animals', 'days of animals')})."
    )


def nearness(quantity: str) -> tuple[str, str]:
    """How a place with more and with less of a quantity is called: warmer, cooler."""
    if quantity not in QUANTITIES:
        return "more covered", "more open"
    return QUANTITIES[quantity].more, QUANTITIES[quantity].less


def _apart_said(f: Finding, fahrenheit: bool) -> str:
    quantity = f.about[0]
    more = nearness(quantity)[f["difference"] <= 0]
    behind = f"{counted(f['sessions'], 'session')} on {counted(f['days'], 'day')}"
    low, high = (f.numbers[name].value for name in ("difference_low", "difference_high"))
    if low is not None and high is not None and clear_of_none(low, high):
        digits = 2 if quantity not in QUANTITIES else 1
        ends = sorted(abs(in_unit(quantity, end, fahrenheit, True)) for end in (low, high))
        return (
            f"{'it was' if f['animals'] == 1 else 'they were'} in places "
            f"{said(quantity, abs(f['difference']), fahrenheit, True)} {more} ({ends[0]:.{digits}f} to "
            f"{ends[1]:.{digits}f}) than the mean of those on offer at the same moments ({behind})"
        )
    size = said(quantity, abs(f["difference"]), fahrenheit, True)
    by = f"{size} {more}; " if float(size.split()[0]) else ""
    return (
        f"on average {'it was' if f['animals'] == 1 else 'they were'} in places like those on offer at the same "
        f"moments ({by}{behind})"
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


def _little(part: float) -> str:
    return "Less than 1 %" if part < 0.01 else f"Only {100 * part:.0f} %"


def cautions(
    question: Question, chosen: Choices, model: Alternatives, fit: PreferenceFit | None, apart: pd.DataFrame
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
                    "warm and dry cannot be told apart here.",
                )
            )
    if fit is not None:
        for quantity, within in zip(fit.quantities, fit.within, strict=True):
            if within < 0.1:
                found.append(
                    Caution(
                        "aliased",
                        f"{_little(within)} of the differences in {label(quantity)} come from change within "
                        "zones over time; the rest are lasting ones, which the places themselves may explain.",
                    )
                )
        if limited := limits_said(fit.plain):
            found.append(Caution("model", limited))
    differing = [r for r in rows_of(apart) if clear_of_none(r["difference_low"], r["difference_high"])]
    if differing and question.filters.slot is None:
        slots = sorted({str(r[k]) for r in differing for k in ("slot", "other")})
        asked = " or ".join(f"--slot {s}" for s in slots)
        named = listed(slots).capitalize()
        found.append(
            Caution(
                "mixed-times",
                f"{named} differ, and these figures mix them; {asked} keeps to one.",
            )
        )
    found.append(
        Caution("zone-not-body", "These are conditions at the zone's logger, not in the animal's body.")
    )
    found.append(Caution("speaks-for", speaks_for(question.declared, question.rows)))
    there = chosen.availability > 0
    unknown = there & np.isnan(chosen.conditions[model.quantities[0]])
    if unknown.any():
        share = unknown.sum() / there.sum()
        found.append(Caution("no-readings", f"{100 * share:.0f} % of the choices on offer had no reading."))
    return tuple(found)
