"""What the preference answer says: a sentence for each quantity, why zones are avoided, and the cautions."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from ...stats.choice.preference import FALLING, FLAT, PEAKED, RISING, CurveShape, PreferenceFit
from ...study.model import Declaration
from ...tables.choices import Choices
from ..effort import Effort
from ..finding import TOO_EARLY, Caution, Finding
from ..phrases import counted, speaks_for
from ..plain import rows as rows_of
from ..quantities_said import in_unit, label, said
from .model import Alternatives

# How a place with more or less of a quantity is called.
WORDS = {
    "temperature_c": ("warmer", "cooler"),
    "surface_c": ("warmer", "cooler"),
    "humidity_pct": ("moister", "drier"),
    "soil_moisture_pct": ("moister", "drier"),
    "light_lux": ("brighter", "darker"),
}


def headline(did: Effort, model: Alternatives) -> str:
    left = int((~model.kept).sum())
    without = f"; {left:,} left out for want of readings" if left else ""
    return (
        f"{counted(did.sessions, 'session')} on {counted(did.days, 'day')}: {int(model.kept.sum()):,} moments with "
        f"known conditions in two zones or more{without}. Each {did.cluster} counts once."
    )


def finding(
    declared: Declaration,
    values: dict[str, Any],
    shape: CurveShape | None,
    grade: str,
    apart: dict[str, Any],
    did: Effort,
) -> Finding:
    """One sentence: what is chosen as far as it can be told, then use against offer at the same moments."""
    quantity, verdict, f = values["quantity"], values["shape"], declared.fahrenheit
    name = label(quantity).capitalize()
    offer = f"{said(quantity, values['offered_low'], f)} to {said(quantity, values['offered_high'], f)}"
    higher, lower = WORDS.get(quantity, ("higher", "lower"))
    compared = _apart_said(quantity, apart, did, f)
    if verdict == PEAKED:
        limits = f"{said(quantity, values['peak_low'], f)} to {said(quantity, values['peak_high'], f)}"
        says = (
            f"{name}: places near {said(quantity, values['peak'], f)} ({limits}) are used most; {compared}."
        )
        says += _place_in_it(shape)
    elif verdict in (RISING, FALLING):
        way = higher if verdict == RISING else lower
        says = f"{name}: the {way} places are chosen, as far as offered ({offer}); {compared}."
    elif verdict == FLAT:
        says = f"{name} makes little difference within {offer}; {compared}."
    elif shape is not None and grade and _clear_in_plain(shape, apart):
        says = f"{name}: {compared}. Whether that is the {label(quantity)} or the places themselves cannot be told yet."
    else:
        says = f"{name}: {compared}. What it makes of {offer} cannot be told yet."
    return Finding((quantity,), verdict, grade if verdict != TOO_EARLY else "", says=says)


def _apart_said(quantity: str, apart: dict[str, Any], did: Effort, f: bool) -> str:
    higher, lower = WORDS.get(quantity, ("higher", "lower"))
    more = higher if apart["difference"] > 0 else lower
    limits = "it may be none"
    if _clear_of_none(apart):
        ends = sorted(
            abs(in_unit(quantity, apart[k], f, True)) for k in ("difference_low", "difference_high")
        )
        limits = f"{ends[0]:.1f} to {ends[1]:.1f}"
    return (
        f"{'it was' if did.animals == 1 else 'they were'} in places "
        f"{said(quantity, abs(apart['difference']), f, True)} {more} ({limits}) than the mean of those on offer "
        f"at the same moments ({counted(did.sessions, 'session')} on {counted(did.days, 'day')})"
    )


def _clear_of_none(apart: dict[str, Any]) -> bool:
    """Whether the limits of the difference leave out none; a single unit has no limits."""
    low, high = apart["difference_low"], apart["difference_high"]
    return low is not None and high is not None and low * high > 0


def _clear_in_plain(shape: CurveShape, apart: dict[str, Any]) -> bool:
    """Whether use lies clear of the offer, though the fit with places does not bear a shape out."""
    return shape.shape == TOO_EARLY and _clear_of_none(apart)


def _place_in_it(shape: CurveShape | None) -> str:
    """Said where the peaks with and without the places lie farther apart than the interval."""
    if shape is None or not shape.peak_set_plain or not shape.peak_set:
        return ""
    plain = (min(a for a, _ in shape.peak_set_plain) + max(b for _, b in shape.peak_set_plain)) / 2
    inside = any(a <= plain <= b for a, b in shape.peak_set)
    return "" if inside else " Part of this is the place itself, not its climate."


_CAUSES = {
    "temperature_c": ("too warm", "too cool"),
    "surface_c": ("too warm", "too cool"),
    "humidity_pct": ("too moist", "too dry"),
    "soil_moisture_pct": ("too wet", "too dry"),
    "light_lux": ("too bright", "too dark"),
    "uv_index": ("too much UV", "too little UV"),
    "cover": ("too enclosed", "too open"),
}


def cause_said(name: str, difference: float | None) -> str:
    """What speaks against a zone, in words: ``too dry``."""
    if name == "place":
        return "the place itself"
    if name == "size":
        return "its size"
    return _CAUSES.get(name, (f"too much {label(name)}", f"too little {label(name)}"))[
        0 if (difference or 0.0) > 0 else 1
    ]


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
    declared: Declaration, rows: pd.DataFrame, chosen: Choices, model: Alternatives, fit: PreferenceFit | None
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
    found.append(Caution("speaks-for", speaks_for(declared, rows)))
    there = chosen.offered > 0
    unknown = there & np.isnan(chosen.conditions[model.quantities[0]])
    if unknown.any():
        share = unknown.sum() / there.sum()
        found.append(
            Caution("no-readings", f"{100 * share:.0f} % of the zones on offer had no reading then.")
        )
    return tuple(found)
