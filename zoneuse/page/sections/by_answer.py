"""The sections of the page, each from one answer: a figure, what it says, the numbers, and what to be careful of."""

from __future__ import annotations

from typing import Any

from ...answers.answer import Answer
from ...answers.columns import Column
from ...answers.plan.watched import hours_never_watched
from ...answers.quantities_said import label, said
from ...answers.showing.plain import rows
from ...answers.showing.terminal import cell
from ..figures.choice import choice_drawn
from ..figures.sketch import SAID, limits_said, zones_drawn
from ..figures.sketch_grid import sketch_of
from ..figures.watched import watched_drawn
from ..gathered import Gathered
from ..markup import MOST_ROWS, bullets, figure, first_of_many, paragraph, section, table, text
from .pieces import careful, findings, percent

# What a keeper asks about first; other logged quantities are told in words.
DRAWN = ("temperature_c", "humidity_pct")


def where(found: Gathered) -> str:
    zones = found.zones
    if not len(zones.table):
        return section("where", "Where they are", findings(zones))
    verdicts = {f.about[0]: f.verdict for f in zones.findings if f.about}
    caption = (
        "In each room the bar is the share of the time spent there, with its 95 % limits as a thin line, and the "
        "upright line the share of what is offered; the figure is one over the other (1 is in proportion)."
    )
    if sketch_of(found.declared) is None:
        caption += " The rooms are drawn as boxes of one size: no single sketch is in study.toml."
    elif found.declared.several:
        caption += f" All {len(found.declared.enclosures)} enclosures together, by place."
    numbers = [
        (
            f"{zones.labels.get(r['zone'], r['zone'])}, {SAID.get(verdicts.get(r['zone'], ''), '')}",
            percent(r["available"]),
            f"{percent(r['used'])} ({limits_said(r, 'used', True)})", f"{r['ratio']:.2f} ({limits_said(r, 'ratio')})",
        )
        for r in rows(zones.table)
    ]  # fmt: skip
    heads = ("Zone", "Offered", "Used (95 %)", "Times its share (95 %)")
    return section(
        "where", "Where they are", paragraph(zones.headline), figure(zones_drawn(found.declared, zones), caption),
        findings(zones), table("Use against offer", heads, numbers), careful(zones),
    )  # fmt: skip


def chosen(found: Gathered) -> str:
    prefer, f = found.prefer, found.declared.fahrenheit
    told = findings(prefer) + bullets((text(n.says) for n in prefer.notes), "findings")
    known = [q for q in DRAWN if len(prefer.table) and q in set(prefer.parts["bins"]["quantity"])]
    if not known:
        return section("chosen", "What is chosen", told, careful(prefer))
    ranges = {r["quantity"]: r for r in rows(prefer.parts["used_ranges"])}
    middle = [
        f"{label(q)} {said(q, ranges[q]['q25'], f)} to {said(q, ranges[q]['q75'], f)}"
        for q in known if q in ranges
    ]  # fmt: skip
    caption = (
        "Each row is a span of values. The filled dot right of the ring: chosen more than offered; left of it: less. "
        f"The middle half of what was used: {', '.join(middle)}."
    )
    return section(
        "chosen", "What is chosen", paragraph(prefer.headline), figure(choice_drawn(prefer, known, f), caption), told,
        careful(prefer),
    )  # fmt: skip


def watched(found: Gathered) -> str:
    if not found.watched:
        return ""
    gaps = hours_never_watched(found.watched)
    spans = ", ".join(f"{a}:00–{b % 24}:00" for a, b in gaps)
    caption = "Days run to the right, the hours of the local clock down; each bar is a session."
    caption += (
        f" Never watched: {spans}. Of those hours nothing is known." if gaps else " Every hour was watched."
    )
    return section(
        "watched", "When you watched", figure(watched_drawn(found.declared, found.watched), caption)
    )


def activity(found: Gathered) -> str:
    answer = found.activity
    if not len(answer.table):
        return ""
    numbers = [
        (
            answer.labels.get(r["behaviour"], r["behaviour"]),
            percent(r["share"]) if r["share"] is not None else f"{r['per_hour']:.2f} an hour",
            _limits(r), f"{r['sessions']}",
        )
        for r in rows(answer.table)
    ]  # fmt: skip
    heads = ("Behaviour", "Share of moments", "95 %", "Sessions")
    return section(
        "activity", "What they do", paragraph(answer.headline), findings(answer),
        table("Behaviour", heads, numbers), careful(answer),
    )  # fmt: skip


def _limits(row: dict[str, Any]) -> str:
    if row["low"] is None or row["high"] is None:
        return "–"
    if row["share"] is None:
        return f"{row['low']:.2f}–{row['high']:.2f}"
    return f"{100 * row['low']:.0f}–{100 * row['high']:.0f} %"


def more(name: str, heading: str, answer: Answer) -> str:
    """An answer without a figure of its own: its sentences and its table as the terminal shows it."""
    table_of = answer.table.columns
    shown = [c for c in answer.shown if c.name in table_of and not c.shown.endswith("-range")]
    limits = {c.name: c for c in answer.shown if c.shown.endswith("-range")}

    def words(column: Column, row: dict[str, Any]) -> str:
        value = cell(column, row, answer)
        return f"{value} ({cell(limits[column.name], row, answer)})" if column.name in limits else value

    numbers = [[words(c, r) for c in shown] for r in rows(answer.table)[:MOST_ROWS]]
    left = [i for i, c in enumerate(shown) if c.shown == "text"]
    told = findings(answer) + bullets((text(n.says) for n in answer.notes), "findings")
    heads = [c.heading + (" (95 %)" if c.name in limits else "") for c in shown]
    grid = table(heading, heads, numbers, left=left) + first_of_many(len(answer.table)) if shown else ""
    return section(name, heading, paragraph(answer.headline), told, grid, careful(answer))
