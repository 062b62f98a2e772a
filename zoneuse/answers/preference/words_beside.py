"""What is said before and beside the curves: what was used over animals, rhythms, and why zones are avoided."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from ..finding import Note, notes
from ..phrases import counted, listed
from ..quantities_said import label, said, unit
from ..question import Question
from ..showing.plain import rows as rows_of
from ..showing.said import signed
from ..zones.judge import AVOIDED, FAVOURED
from .shape import FLAT
from .used import COVER
from .words import cause_said, nearness

_BARS = "▁▂▃▄▅▆▇█"


def first_line(question: Question, rows: Sequence[Mapping[str, Any]]) -> str:
    """What was used of each condition, over animals, of what was offered; before any model."""
    fahrenheit = question.declared.fahrenheit
    told = [_used_said(question, row, fahrenheit, i == 0) for i, row in enumerate(rows)]
    return " ".join(told)


def _used_said(question: Question, row: Mapping[str, Any], fahrenheit: bool, whole: bool) -> str:
    q = row["quantity"]
    name = label(q)

    def v(column: str) -> str:
        return said(q, row[column], fahrenheit)

    def span(low: str, high: str) -> str:
        return f"{v(low).removesuffix(' ' + unit(q, fahrenheit))} to {v(high)}"

    who = "group" if question.rows["animal"].isna().all() else "animal"
    over, limits = counted(int(row["animals"]), who), ""
    if row["used_mean_low"] is not None and not np.isnan(row["used_mean_low"]):
        limits = f" ({span('used_mean_low', 'used_mean_high')})"
    if not whole:
        return f"{name.capitalize()} {v('used_mean')}{limits}, middle half {span('used_q25', 'used_q75')}."
    return (
        f"{name.capitalize()} used: mean of {over} {v('used_mean')}{limits}, middle half "
        f"{span('used_q25', 'used_q75')} of the {span('offered_low', 'offered_high')} on offer."
    )


def beside(
    question: Question, parts: Mapping[str, pd.DataFrame], use: pd.DataFrame, verdicts: Sequence[str]
) -> tuple[Note, ...]:
    """Sentences beside the findings: rhythm, a flexible curve that is believed, flat beside favoured, moisture."""
    fahrenheit = question.declared.fahrenheit
    return (
        *notes(*_rhythm_said(parts["rhythm"], fahrenheit)),
        *(Note(says, drawn=True) for says in _curves_drawn(parts, verdicts, fahrenheit)),
        *notes(*_flat_beside(use, verdicts, question.labels), *_moisture_said(question, parts)),
    )


def _rhythm_said(table: pd.DataFrame, fahrenheit: bool) -> Iterator[str]:
    for row in rows_of(table):
        if row["p"] is None or row["p"] > 0.05 / len(table):
            continue
        what, q = row["what"], row["what"] if row["what"].endswith("_c") else "share"

        def v(name: str, quantity: str = q, told: Mapping[str, Any] = row) -> str:
            if quantity == "share":
                return f"{100 * told[name]:.0f} points"
            return said(quantity, told[name], fahrenheit, True)

        name = {"active": "the active share", "moves": "moves from moment to moment"}.get(
            what, f"{label(what)} used"
        )
        crest = _clock(row["acrophase_h"])
        around = ""
        if row["acrophase_low"] is not None:
            around = f" ({_clock(row['acrophase_low'])} to {_clock(row['acrophase_high'])})"
        units = counted(row["units"], row["unit"]).replace("day of an animals", "days of animals")
        yield (
            f"Daily rhythm of {name}: peak at {crest}{around}, {v('amplitude')} above the day's mean "
            f"({v('amplitude_low')} to {v('amplitude_high')}; cosine of 24 h over {units})."
        )


def _clock(hour: float) -> str:
    minutes = round(hour * 60) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"


def _curves_drawn(
    parts: Mapping[str, pd.DataFrame], verdicts: Sequence[str], fahrenheit: bool
) -> Iterator[str]:
    quantities = list(parts["evidence_within_zones"]["quantity"])
    for quantity, verdict in zip(quantities, verdicts, strict=True):
        part = parts["flexible"][parts["flexible"]["quantity"] == quantity]
        if verdict not in ("uneven", "threshold") or not len(part):
            continue
        odds = part["log_odds"].to_numpy()[:: max(len(part) // 20, 1)]
        height = np.exp(odds - odds.max())
        drawn = "".join(_BARS[round(h * (len(_BARS) - 1))] for h in height)
        low, high = (said(quantity, part["value"].iloc[i], fahrenheit) for i in (0, -1))
        yield f"Odds of use along {label(quantity)}: {low} {drawn} {high}."


def _flat_beside(use: pd.DataFrame, verdicts: Sequence[str], labels: Mapping[str, str]) -> Iterator[str]:
    if FLAT not in verdicts or not len(use):
        return
    told = []
    for word in (AVOIDED, FAVOURED):
        places = [labels.get(z, z) for z in use[use["verdict"] == word]["zone"]]
        if places:
            told.append(f"{listed(places)} {'is' if len(places) == 1 else 'are'} {word}")
    if told:
        yield (
            f"Even so, {listed(told)} (see zones): use is uneven, but not along any condition that was logged. What "
            "else sets the places apart (cover, light, company, the place itself) is not in the curves."
        )


def _moisture_said(question: Question, parts: Mapping[str, pd.DataFrame]) -> Iterator[str]:
    """Which of relative humidity and vapour pressure deficit is followed, by fit over sessions left out."""
    versus = parts.get("moisture_models")
    if versus is None or not len(versus):
        return
    row = rows_of(versus)[0]
    gain, error = row["better_by"], row["se"]
    clear = error is not None and abs(gain) > 2 * error
    name = "vapour pressure deficit" if gain > 0 else "relative humidity"
    told = (
        f"The animals follow {name}: it predicts sessions left out of the fit better"
        if clear
        else "Whether they follow relative humidity or vapour pressure deficit cannot be told from sessions left out"
    )
    fit = f"log likelihood {signed(gain, '.1f')} for the deficit, s.e. {error or 0:.1f}"
    yield (
        f"{told} ({fit}). At {row['at_c']:.0f} °C a sensor "
        f"off by {row['off_pct']:.0f} points is off by {row['off_kpa']:.2f} kPa, of {row['low_kpa']:.2f} to "
        f"{row['high_kpa']:.2f} kPa on offer."
    )


def why_said(why: pd.DataFrame, labels: Mapping[str, str]) -> list[str]:
    """A sentence for each avoided zone with every term of the model and its limits; they add up to what is printed."""
    zones: dict[str, list[dict[str, Any]]] = {}
    for row in rows_of(why):
        zones.setdefault(row["zone"], []).append(row)
    return [_why_one(zone, parts, labels) for zone, parts in zones.items()]


def _why_one(zone: str, parts: list[dict[str, Any]], labels: Mapping[str, str]) -> str:
    # Size is no reason to stay away: it is what use is compared with.
    told = sorted((r for r in parts if r["term"] != "size"), key=lambda r: float(r["part"]))
    # The sum of what is printed, so that a reader can add it up.
    total = sum(round(r["part"], 1) for r in told)
    listed_ = ", ".join(_term_said(r) for r in told)
    pair = f"{labels[zone]} against {labels[parts[0]['best']]}, the place used most for its share"
    cause = next((r for r in told if r["cause"]), None)
    amount = f"log odds {signed(total, '.1f')} for its size = {listed_}; 90 % limits"
    if cause is None:
        return f"{pair}: it is too early to tell what keeps them away ({amount})."
    trust = f" ({cause['standing']})" if cause["standing"] else ""
    return f"{pair}: mostly {cause_said(cause['term'], cause['difference'])}{trust} ({amount})."


def _term_said(row: Mapping[str, Any]) -> str:
    against = row["part"] < 0
    name = (
        cause_said(row["term"], row["difference"]) if against else in_favour(row["term"], row["difference"])
    )
    limits = ""
    if row["part_low"] is not None:
        limits = f" ({signed(row['part_low'], '.1f')} to {signed(row['part_high'], '.1f')})"
    return f"{name} {signed(row['part'], '.1f')}{limits}"


def in_favour(name: str, difference: float | None) -> str:
    """What speaks for a zone, in words: ``drier``, ``more cover``."""
    if name == "place":
        return "the place itself"
    more = (difference or 0.0) > 0
    if name == COVER:
        return "more cover" if more else "less cover"
    return nearness(name)[0 if more else 1]
