"""The charts of each answer, as blocks of text; a row of a chart opens the sessions behind it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

from ....pictures import Ground, Matrix, by_hour, grounds, panel_lines, strip
from ....study import DERIVED, QUANTITIES, visible
from ....study import quantity as quantity_of
from ..background.crossing import number, text
from .bars import bar, fit, rounded_up
from .blocks import TextBlock, heading, plain_lines, wrapped
from .dotted import before_and_after
from .intervals import (
    ChartSpace,
    IntervalLine,
    around_zero,
    grid,
    intervals,
    legend,
    percent,
    percents,
    points,
)

_RATIOS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)


def charts(chart: ChartSpace) -> list[TextBlock]:
    """All charts of an answer; none where it has nothing to draw."""
    make = _CHARTS.get(chart.given.name)
    return make(chart) if make is not None else []


def _pictured(chart: ChartSpace) -> bool:
    """Whether the answer's own picture stands above: what it shows is not drawn again."""
    return bool(chart.given.series.get("figure", ()))


# --- zones --------------------------------------------------------------------------------------------------


def _zones(chart: ChartSpace) -> list[TextBlock]:
    rows = [r for r in chart.given.series.get("rows", ()) if number(r, "used") is not None]
    if not rows:
        return []
    top = rounded_up(
        max(
            max(number(r, "used_high") or 0, number(r, "used") or 0, number(r, "available") or 0)
            for r in rows
        )
    )
    shares, ratios = [], []
    for row in rows:
        zone = text(row, "zone")
        name = chart.label(zone)
        shares.append(
            IntervalLine((zone,), name, number(row, "used_low"), number(row, "used"), number(row, "used_high"),
                  percent(number(row, "used")), number(row, "available"))
        )  # fmt: skip
        ratio = number(row, "ratio")
        said = "–" if ratio is None else f"{ratio:.2f} ×" if ratio < 10 else f"{ratio:.0f} ×"
        ratios.append(
            IntervalLine((zone,), name, number(row, "ratio_low"), ratio, number(row, "ratio_high"), said, 1.0)
        )
    low, high = _ratio_ends(ratios)
    marks = [(r, f"{r:g}") for r in _RATIOS if low <= r <= high]
    again = [] if _pictured(chart) else [
        *heading("Times its share, with 95 % limits; ┊ is in proportion", chart.width),
        *intervals(chart, ratios, low, high, marks, log=True),
    ]  # fmt: skip
    return [
        *heading("Share of the time, with 95 % limits; ┊ is its share of what is offered", chart.width),
        *intervals(chart, shares, 0.0, top, percents(top)),
        *again,
        *_matrices(chart),
        *_followed(chart),
    ]


def _followed(chart: ChartSpace) -> list[TextBlock]:
    """Where tracks were, and the hours of the day by zone."""
    series = chart.given.series
    hours = by_hour(series.get("by_hour", ()))
    panels: list[Ground | Matrix] = [
        *grounds(series.get("density", ())),
        *([hours] if hours is not None else []),
    ]
    blocks: list[TextBlock] = []
    for panel in panels:
        said = [line.says for line in panel_lines(replace(panel, heading=""), chart.width)]
        blocks += [*heading(panel.heading, chart.width), plain_lines(*said)]
    return blocks


def _matrices(chart: ChartSpace) -> list[TextBlock]:
    blocks = [
        *_matrix(chart, "by_animal", "animal", "Share of the time by animal, in %"),
        *_matrix(chart, "by_slot", "slot", "Share of the time by time of day, in %"),
    ]
    if not blocks:
        return []
    zones = [text(r, "zone") for r in chart.given.series.get("rows", ())]
    alone = "Each rests on its own records alone: filter by it (/) to see its limits."
    return [*blocks, *legend(chart, zones), wrapped(alone, chart.width, style="$muted")]


def _ratio_ends(lines: Sequence[IntervalLine]) -> tuple[float, float]:
    """A scale of ratios that holds every estimate, within a tenth and ten times."""
    known = [v for line in lines for v in (line.low, line.middle, line.high) if v]
    low = next((r for r in reversed(_RATIOS) if known and r <= min(known) and r < 1), 0.1)
    high = next((r for r in _RATIOS if known and r >= max(known) and r > 1), 10.0)
    return low, high


def _matrix(chart: ChartSpace, part: str, by: str, title: str) -> list[TextBlock]:
    """Rows by animal or time of day, a column per zone under its key."""
    rows = chart.given.series.get(part, ())
    names = list(dict.fromkeys(text(r, by) for r in rows if text(r, by)))
    if len(names) < 2:
        return []
    zones = list(dict.fromkeys(text(r, "zone") for r in rows))
    values = {(text(r, by), text(r, "zone")): number(r, "used") for r in rows}
    return [*heading(title, chart.width), *grid(chart, names, zones, values)]


# --- activity -----------------------------------------------------------------------------------------------


def _activity(chart: ChartSpace) -> list[TextBlock]:
    rows = [r for r in chart.given.series.get("rows", ()) if number(r, "share") is not None]
    blocks: list[TextBlock] = []
    if rows:
        top = rounded_up(max(max(number(r, "high") or 0, number(r, "share") or 0) for r in rows))
        lines = [
            IntervalLine((text(r, "behaviour"),), chart.label(text(r, "behaviour")), number(r, "low"),
                  number(r, "share"), number(r, "high"), percent(number(r, "share")))
            for r in rows
        ]  # fmt: skip
        blocks += [
            *heading("Share of the moments, with 95 % limits", chart.width),
            *intervals(chart, lines, 0.0, top, percents(top)),
        ]  # fmt: skip
    changes = [r for r in chart.given.series.get("against_baseline", ()) if number(r, "change") is not None]
    if changes and not _pictured(chart):
        lines = [
            points((text(r, "behaviour"),), chart.label(text(r, "behaviour")), number(r, "change_low"),
                    number(r, "change"), number(r, "change_high"))
            for r in changes
        ]  # fmt: skip
        blocks += [
            *heading("Recently against before, in points; ┊ is no change", chart.width),
            *around_zero(chart, lines),
        ]
    return [*blocks, *_by_hour(chart)]


def _by_hour(chart: ChartSpace) -> list[TextBlock]:
    rows = chart.given.series.get("by_hour", ())
    column = next((n for n in ("hour_since_lights_on", "hour") if rows and n in rows[0]), "")
    values = [number(r, "active") for r in rows]
    if not column or all(v is None for v in values):
        return []
    clock = "since lights-on" if column == "hour_since_lights_on" else "of the clock"
    return [
        *heading(f"Active share by hour {clock} (· not watched)", chart.width),
        plain_lines(strip(values, 1.0)),
        plain_lines("0     6     12    18   23"[: len(values) + 1], style="$muted"),
    ]


# --- conditions ---------------------------------------------------------------------------------------------


def _prefer(chart: ChartSpace) -> list[TextBlock]:
    from ....answers.quantities_said import in_unit, label, unit

    bins = chart.given.series.get("bins", ())
    blocks: list[TextBlock] = []
    for quantity in dict.fromkeys(text(r, "quantity") for r in bins):
        mine = [r for r in bins if text(r, "quantity") == quantity]
        top = max((max(number(r, "used") or 0, number(r, "offered") or 0) for r in mine), default=0)
        if not top:
            continue
        name = f"{label(quantity).capitalize()}, {unit(quantity, chart.fahrenheit)}"
        blocks += heading(f"{name}: share of use; │ is what was offered", chart.width)
        said = 5 if chart.narrow else 8
        room = max(6, chart.width - 13 - 2 * said)
        heads = f"{fit('used', said, True)}{fit('offered' if said > 6 else 'off.', said, True)}"
        blocks.append(plain_lines(" " * (room + 13) + heads, style="$muted"))
        for row in mine:
            ends = [in_unit(quantity, number(row, k) or 0.0, chart.fahrenheit) for k in ("low", "high")]
            used, offered = number(row, "used"), number(row, "offered")
            shares = "".join(fit(percent(v), said, True) for v in (used, offered))
            span = fit(f"{ends[0]:.1f}–{ends[1]:.1f}", 12)
            blocks.append(plain_lines(f"{span} {bar(used, top, room, offered)}{shares}"))
    return blocks


# --- changes ------------------------------------------------------------------------------------------------


def _shifts(chart: ChartSpace) -> list[TextBlock]:
    about = {f.about for f in chart.given.findings}
    rows = [
        r
        for r in chart.given.series.get("rows", ())
        if text(r, "what") in ("zone", "behaviour", "active")
        and (text(r, "adjustment"), text(r, "zone") or text(r, "name")) in about
    ]
    lines = [
        points((text(r, "adjustment"), place), f"{chart.label(text(r, 'adjustment'))} {chart.short(place)}",
                number(r, "change_low"), number(r, "change"), number(r, "change_high"))
        for r in rows
        if (place := text(r, "zone") or text(r, "name"))
    ]  # fmt: skip
    blocks: list[TextBlock] = []
    if lines and not _pictured(chart):
        blocks += [
            *heading("Change of the share, in points, 95 % limits; ┊ is none", chart.width), *around_zero(chart, lines)
        ]  # fmt: skip
    return [*blocks, *before_and_after(chart.given, chart.width, chart.narrow)]


# --- retreats -----------------------------------------------------------------------------------------------


def _retreats(chart: ChartSpace) -> list[TextBlock]:
    rows = chart.given.series.get("rows", ())
    names = list(dict.fromkeys(text(r, "animal") or text(r, "group") for r in rows))
    zones = list(dict.fromkeys(text(r, "zone") for r in rows))
    values = {(text(r, "animal") or text(r, "group"), text(r, "zone")): number(r, "share") for r in rows}
    blocks = (
        [
            *heading("Where each was found, in % of its checks", chart.width),
            *grid(chart, names, zones, values),
        ]
        if rows
        else []
    )
    pairs = chart.given.series.get("pairs", ())
    both = {(text(r, "other"), text(r, "animal")): number(r, "simple_ratio") for r in pairs}
    if any(both.values()):
        seconds = list(dict.fromkeys(text(r, "other") for r in pairs))
        firsts = list(dict.fromkeys(text(r, "animal") for r in pairs))
        blocks += [
            *heading("Found together, in % of the checks with either of the two", chart.width),
            *grid(chart, seconds, firsts, both, nothing=""),
        ]
    return blocks


# --- climate ------------------------------------------------------------------------------------------------


def _climate(chart: ChartSpace) -> list[TextBlock]:
    lines = [text(r, "line") for r in chart.given.series.get("narrow" if chart.narrow else "wide", ())]
    blocks = (
        [*heading("The last days, and what is ahead", chart.width), *(plain_lines(visible(x)) for x in lines)]
        if lines
        else []
    )
    rows = chart.given.series.get("zones", ())
    # What the answer's own picture shows is not drawn again.
    figure = chart.given.series.get("figure", ())
    shown = text(figure[0], "heading").casefold() if figure else ""
    # What crosses from the other process may name a quantity that this one does not know.
    for quantity in dict.fromkeys(q for r in rows if (q := text(r, "quantity")) in {**QUANTITIES, **DERIVED}):
        if quantity_of(quantity).label not in shown:
            blocks += _ranges(chart, quantity, [r for r in rows if text(r, "quantity") == quantity])
    return blocks


def _ranges(chart: ChartSpace, quantity: str, rows: Sequence[Mapping[str, object]]) -> list[TextBlock]:
    """Median and the middle 90 % of the time, zone by zone."""
    from ....answers.quantities_said import in_unit, label, unit

    def value(row: Mapping[str, object], name: str) -> float | None:
        found = number(row, name)
        return None if found is None else in_unit(quantity, found, chart.fahrenheit)

    digits = quantity_of(quantity).brief_digits
    lines = []
    for row in rows:
        middle = value(row, "median")
        zone = text(row, "zone")
        said = "–" if middle is None else f"{middle:.{digits}f}"
        lines.append(
            IntervalLine((zone,), chart.label(zone), value(row, "p05"), middle, value(row, "p95"), said)
        )
    known = [v for line in lines for v in (line.low, line.middle, line.high) if v is not None]
    if len(lines) < 2 or not known or max(known) <= min(known):
        return []
    low, high = min(known), max(known)
    at = [(v, f"{v:.{digits}f}") for v in (low, (low + high) / 2, high)]
    name = f"{label(quantity).capitalize()}, {unit(quantity, chart.fahrenheit)}"
    title = f"{name}: the middle 90 % of the time, and the median"
    return [*heading(title, chart.width), *intervals(chart, lines, low, high, at)]


# --- observers ----------------------------------------------------------------------------------------------


def _observers(chart: ChartSpace) -> list[TextBlock]:
    rows = [r for r in chart.given.series.get("rows", ()) if number(r, "kappa") is not None]
    alone = len({text(r, "pair") for r in rows}) == 1
    lines = []
    for row in rows:
        pair, what = text(row, "pair"), text(row, "what")
        low, kappa, high = (number(row, name) for name in ("kappa_low", "kappa", "kappa_high"))
        name = visible(what if alone else f"{what}, {pair}")
        lines.append(IntervalLine((pair,), name, low, kappa, high, f"{kappa:.2f}", 0.0))
    blocks: list[TextBlock] = []
    if lines and not _pictured(chart):
        at = [(-0.2, ""), (0.0, "0"), (0.5, "0.5"), (1.0, "1")]
        blocks += [
            *heading("Agreement beyond chance (kappa), 95 % limits; ┊ is chance", chart.width),
            *intervals(chart, lines, -0.2, 1.0, at),
        ]
    confused = chart.given.series.get("confusion", ())[:8]
    if confused:
        blocks += heading("Confused, the costliest first", chart.width)
        for row in confused:
            pair = f"{chart.label(text(row, 'one'))} / {chart.label(text(row, 'other'))}"
            times = number(row, "moments") or 0
            blocks.append(wrapped(f"{pair}: {times:.0f} times", chart.width, rest="  "))
    return blocks


_CHARTS: dict[str, Callable[[ChartSpace], list[TextBlock]]] = {
    "zones": _zones,
    "activity": _activity,
    "prefer": _prefer,
    "shifts": _shifts,
    "retreats": _retreats,
    "climate": _climate,
    "observers": _observers,
}
