"""The sections of the page, each from one answer: a figure, what it says, the numbers, and what to be careful of."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from ...answers.answer import Answer
from ...answers.columns import Column
from ...answers.plan import hours_never_watched, watched_figure
from ...answers.showing.plain import rows
from ...answers.showing.said import percent_with, times_with
from ...answers.showing.terminal import cell
from ...answers.zones import sketch_of
from ...pictures import Figure, RoomsShown
from ...pictures.description import Panel
from ..gathered import Gathered
from ..markup import MOST_ROWS, bullets, figure, first_of_many, section, table, text
from .pieces import basis, careful, findings, for_readers, headed, noted, percent

_ACTIVITY = (
    "Recent sessions against those before them, the share of each behaviour over all sessions, and how active they "
    "were by hour. Hours without a mark were never watched."
)
_MORE = {
    "observers": "How far two observers agree beyond chance, with 95 % limits.",
    "plan": "Sessions so far and those drawn by lot; days without either are left out.",
}


def where(found: Gathered) -> str:
    zones = found.zones
    if not len(zones.table):
        return section("where", "Where they are", headed(zones), findings(zones))
    drawn = zones.figure()
    caption = (
        "Use of each zone as a multiple of its share of what is offered, by verdict and size; 1 is in proportion. The "
        "limits hold for all zones at once."
    )
    numbers = [
        (r["zone_label"], percent(r["available"]), percent_with(r["used"], r["used_low"], r["used_high"]),
         times_with(r["ratio"], r["ratio_low"], r["ratio_high"]), f"{r['sessions']}")
        for r in rows(zones.table)
    ]  # fmt: skip
    heads = ("Zone", "Offered", "Used (95 %)", "Times its share (95 %)", "Sessions")
    return section(
        "where", "Where they are", basis(zones), figure(replace(drawn, panels=_beside(drawn)), caption),
        table("Use against what is offered", heads, numbers), careful(zones),
    )  # fmt: skip


def _beside(drawn: Figure) -> tuple[Panel, ...]:
    """What of the picture is not the enclosure as it is built."""
    return tuple(p for p in drawn.panels if not isinstance(p, RoomsShown))


def enclosure(found: Gathered) -> str:
    """The enclosure as it is built, with use and verdict in each room: the first picture of the page."""
    zones = found.zones
    if not len(zones.table):
        return ""
    drawn = zones.figure()
    caption = (
        "The enclosure as it is built. In each room: how much of the time they were there, against its share."
    )
    if sketch_of(found.declared) is None:
        caption += " The rooms are drawn as boxes of one size: no single sketch is in study.toml."
    elif found.declared.several:
        caption += f" All {len(found.declared.enclosures)} enclosures together, by place."
    return figure(replace(drawn, name="enclosure", panels=drawn.panels[:1]), caption)


def chosen(found: Gathered) -> str:
    prefer = found.prefer
    # The curves are drawn in the figure above.
    beside = [for_readers(n.says) for n in prefer.notes if not n.drawn]
    told = findings(prefer) + bullets((text(says) for says in beside if says), "findings")
    caption = (
        "Above, the middle half of what was used within what was on offer. Below, how many times as readily places of "
        "each value were chosen as the average place on offer; 1 is no difference."
    )
    return section(
        "chosen",
        "Which conditions are chosen",
        headed(prefer),
        figure(prefer.figure(), caption),
        told,
        careful(prefer),
    )


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
        "watched", "When you watched", figure(watched_figure(found.declared, found.watched), caption)
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
        "activity", "What they do", headed(answer), figure(answer.figure(), _ACTIVITY), findings(answer),
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
    told = findings(answer) + noted(answer)
    heads = [c.heading + (" (95 %)" if c.name in limits else "") for c in shown]
    grid = table(heading, heads, numbers, left=left) + first_of_many(len(answer.table)) if shown else ""
    drawn = figure(answer.figure(), _MORE.get(name, ""))
    return section(name, heading, headed(answer), drawn, told, grid, careful(answer))
