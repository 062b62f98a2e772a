"""Conditions as a picture: use against what was offered along each, with its band, over a rug of the offer."""

from __future__ import annotations

import math
from typing import Any

from ....pictures import (
    Band,
    Chart,
    EstimateRow,
    EstimateRows,
    Figure,
    Key,
    Level,
    Rug,
    Scale,
    Trace,
    numbers,
    ratios,
)
from ...answer import Answer
from ...finding import TOO_EARLY, Finding
from ...phrases import counted
from ...quantities_said import in_unit, label, said, unit, what_of
from ...showing.plain import rows
from ...showing.said import beside, capital, source

_SHAPES = {
    "peaked": "near one value",
    "threshold": "past a value", "uneven": "used unevenly", "flat": "little difference",
}  # fmt: skip


def headline(answer: Answer) -> str:
    """Which conditions are chosen, in one sentence."""
    from ..words import chosen_places, nearness

    f = _fahrenheit(answer)
    told, early = [], []
    for row, finding in _sorted(answer):
        q = row["quantity"]
        if finding is None or finding.verdict == TOO_EARLY:
            early.append(label(q))
            continue
        higher, lower = nearness(q)
        if row["shape"] == "peaked" and row["peak"] is not None:
            told.append(f"{chosen_places(finding, f, what_of(q))} are chosen")
        elif row["shape"] in ("rising", "falling"):
            told.append(f"{higher if row['shape'] == 'rising' else lower} places are chosen")
        elif row["shape"] == "flat":
            told.append(f"{label(q)} makes little difference")
        elif row["shape"] == "threshold":
            told.append(f"places past a certain {label(q)} are chosen")
        else:
            told.append(f"{label(q)} is used unevenly")
    if not told and not early:
        return answer.findings[0].says if answer.findings else "Nothing can be said about conditions yet."
    if not told:
        return f"It is too early to tell whether {' or '.join(early)} matters to where they are."
    rest = f"; for {' and '.join(early)} it is too early to tell" if early else ""
    return capital(f"{'; '.join(told)}{rest}.")


def figure(answer: Answer) -> Figure:
    did, f = answer.effort, _fahrenheit(answer)
    panels: list[EstimateRows | Chart] = [p for p in [_ranges(answer, f)] if p is not None]
    panels += [
        c for q in dict.fromkeys(answer.table["quantity"]) if (c := _odds(answer, str(q), f)) is not None
    ]
    told = "; ".join(_described(r, f) for r, _ in _sorted(answer))
    return Figure(
        "conditions", answer.headline.rstrip("."),
        f"What was used of what was on offer at the same moments; {counted(did.get('sessions', 0), 'session')} on "
        f"{counted(did.get('days', 0), 'day')}",
        source(answer.study), tuple(panels), f"{capital(told)}.",
    )  # fmt: skip


def _fahrenheit(answer: Answer) -> bool:
    return answer.declared is not None and answer.declared.fahrenheit


def _sorted(answer: Answer) -> list[tuple[dict[str, Any], Finding | None]]:
    found = {f.about[0]: f for f in answer.findings if len(f.about) == 1}
    pairs = [(r, found.get(r["quantity"])) for r in rows(answer.table)]
    return sorted(pairs, key=lambda p: p[1] is None or p[1].verdict == TOO_EARLY)


def _described(row: dict[str, Any], f: bool) -> str:
    q = row["quantity"]
    if row["used_q25"] is None:
        return f"{label(q)}: not known"
    return (
        f"{label(q)}: the middle half of what was used {said(q, row['used_q25'], f)} to {said(q, row['used_q75'], f)}, "
        f"offered {said(q, row['offered_low'], f)} to {said(q, row['offered_high'], f)}"
    )


def _shape_word(finding: Finding, shape: str) -> str:
    """What is chosen, in a word or two: ``cooler chosen``."""
    from ..words import is_range, nearness

    if shape in ("rising", "falling"):
        return f"{nearness(finding.about[0])[shape == 'falling']} chosen"
    if shape == "peaked" and is_range(finding):
        return "a middle range"
    return _SHAPES.get(shape, shape)


def _ranges(answer: Answer, f: bool) -> EstimateRows | None:
    """Each quantity over the range on offer, from its least to its most: one scale for all of them."""
    lines = []
    for row, finding in _sorted(answer):
        q, low, high = row["quantity"], row["offered_low"], row["offered_high"]
        if row["used_q25"] is None or low is None or high is None or high <= low:
            continue
        middle, left, right = ((row[k] - low) / (high - low) for k in ("used_median", "used_q25", "used_q75"))
        ends = (
            f"{said(q, row['used_q25'], f).removesuffix(f' {unit(q, f)}')} to {said(q, row['used_q75'], f)}"
        )
        open_yet = finding is None or finding.verdict == TOO_EARLY
        verdict = TOO_EARLY if finding is None or open_yet else _shape_word(finding, row["shape"])
        lines.append(
            EstimateRow(
                capital(label(q)), middle, left, right, said=ends, verdict=verdict,
                beside=beside(finding) if finding else "",
                claims=verdict != TOO_EARLY, about=(q,),
            )
        )  # fmt: skip
    if not lines:
        return None
    scale = Scale(0, 1, ((0, "least"), (0.5, "on offer"), (1, "most")))
    return EstimateRows(scale, tuple(lines), "The middle half of what was used, within what was on offer", None,
                (Key("interval", "middle half and median of what was used"),))  # fmt: skip


def _odds(answer: Answer, quantity: str, f: bool) -> Chart | None:
    """How many times as readily a value is chosen as the average one, with its band, over a rug of the offer."""
    part = answer.parts.get("flexible")
    if part is None:
        return None
    mine = rows(part[(part["quantity"] == quantity) & part["log_odds"].notna()])
    if len(mine) < 3:
        return None
    x = tuple(in_unit(quantity, r["value"], f) for r in mine)
    middle, low, high = (tuple(_times(r[k]) for r in mine) for k in ("log_odds", "low", "high"))
    rug = _rug(answer, quantity, f)
    along = numbers([*x], unit(quantity, f))
    along = Scale(min(x), max(x), tuple(t for t in along.ticks if min(x) <= t[0] <= max(x)))
    # The curve is drawn whole; a band wider than twenty times either way tells nothing more.
    wide = (min(max(v, 0.05), 20.0) for v in (*low, *high))
    up = ratios([*wide, *(min(max(v, 0.001), 1000.0) for v in middle)])
    key = (
        Key("line", "times as readily as the average place on offer"),
        Key("band", "90 % limits"),
        Key("rug", "offered"),
    )
    return Chart(
        along, up, (Band(x, low, high), Level(1.0, limit=False), Trace(x, middle), rug),
        f"{capital(label(quantity))}, {unit(quantity, f)}".rstrip(", "), 130, key=key,
    )  # fmt: skip


def _rug(answer: Answer, quantity: str, f: bool) -> Rug:
    """What was offered: a stroke at the middle of each span of values."""
    offered = [r for r in rows(answer.parts["bins"]) if r["quantity"] == quantity]
    middles = ((in_unit(quantity, r["low"], f) + in_unit(quantity, r["high"], f)) / 2 for r in offered)
    return Rug(tuple(middles), tuple(float(r["offered"]) for r in offered))


def _times(log_odds: float | None) -> float:
    return math.nan if log_odds is None else math.exp(min(max(log_odds, -20.0), 20.0))
