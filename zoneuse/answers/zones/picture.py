"""The zones as a picture: the enclosure as it is built, and a row for each zone."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from ...pictures import (
    EstimateRow,
    EstimateRows,
    Figure,
    Ground,
    Key,
    Matrix,
    RoomShown,
    RoomsShown,
    boxes,
    by_hour,
    grounds,
    ratios,
)
from ...study import Declaration
from ...tables import places_of
from ..answer import Answer
from ..finding import TOO_EARLY, Finding
from ..phrases import counted
from ..showing.plain import rows
from ..showing.said import beside, percent_with, source, times, times_with, verdicts_said
from .judge import AVOIDED, FAVOURED, IN_PROPORTION

_ORDER = {AVOIDED: 0, FAVOURED: 0, IN_PROPORTION: 1, TOO_EARLY: 2}
Grid = tuple[tuple[str, ...], ...]


def headline(answer: Answer) -> str:
    """Which zones are avoided and which favoured, in one sentence."""
    found = [(r, f) for r, f in _sorted(answer) if f is not None]
    if not found:
        return answer.findings[0].says if answer.findings else "Nothing was seen yet."
    if len(found) == 1:
        return found[0][1].says
    named = {word: [str(r["zone_label"]) for r, f in found if f.verdict == word] for word in _ORDER}
    grouped = [
        (AVOIDED, named[AVOIDED]),
        (FAVOURED, named[FAVOURED]),
        ("used in proportion", named[IN_PROPORTION]),
    ]
    return verdicts_said(grouped, len(named[TOO_EARLY]), "zone")


def figure(answer: Answer) -> Figure:
    """Rooms where a sketch is declared, then the zones by verdict and size of effect."""
    did = answer.effort
    listed = _sorted(answer)
    lines = tuple(_row(r, f) for r, f in listed)
    scale = ratios(v for line in lines for v in (line.low, line.middle, line.high))
    panel = EstimateRows(
        scale, lines, "Times its share of what is offered", 1.0,
        (Key("interval", "use, 95 % limits for all zones at once"), Key("reference", "in proportion")),
    )  # fmt: skip
    rooms = _rooms(answer, listed)
    says = ". ".join(_described(r, f) for r, f in listed)
    return Figure(
        "zones", answer.headline.rstrip("."),
        f"Use of each zone as a multiple of its share; {counted(did.get('sessions', 0), 'session')} on "
        f"{counted(did.get('days', 0), 'day')}",
        source(answer.study), (*([rooms] if rooms else ()), panel, *_tracked(answer)), f"{says}.",
    )  # fmt: skip


def _tracked(answer: Answer) -> list[Ground | Matrix]:
    """Of animals that were followed: where their tracks were, seen from above, and the hours of the day by zone."""
    cells, hourly = (
        rows(answer.parts[name]) if name in answer.parts else [] for name in ("density", "by_hour")
    )
    panel = by_hour(hourly)
    return [*grounds(cells), *([panel] if panel is not None else [])]


def _sorted(answer: Answer) -> list[tuple[dict[str, Any], Finding | None]]:
    """Rows with their findings: claims first, then by the size of the effect."""
    by_zone = {f.about[0]: f for f in answer.findings if f.about}

    def place(pair: tuple[dict[str, Any], Finding | None]) -> tuple[int, float]:
        row, finding = pair
        ratio = row["ratio"]
        far = math.inf if not ratio else abs(math.log(ratio))
        return _ORDER.get(finding.verdict if finding else TOO_EARLY, 3), -far

    return sorted(((r, by_zone.get(r["zone"])) for r in rows(answer.table)), key=place)


def _row(row: dict[str, Any], finding: Finding | None) -> EstimateRow:
    verdict = finding.verdict if finding else ""
    return EstimateRow(
        str(row["zone_label"]), row["ratio"], row["ratio_low"], row["ratio_high"],
        said=times_with(row["ratio"], row["ratio_low"], row["ratio_high"]), verdict=verdict,
        beside=beside(finding) if finding else "", claims=verdict in (AVOIDED, FAVOURED, IN_PROPORTION),
        about=(str(row["zone"]),),
    )  # fmt: skip


def _described(row: dict[str, Any], finding: Finding | None) -> str:
    low, high = _limits_of_use(row)
    return (
        f"{row['zone_label']}: {percent_with(row['used'], low, high)} of the time against "
        f"{100 * row['available']:.0f} % offered, {times_with(row['ratio'], row['ratio_low'], row['ratio_high'])} "
        f"times its share, {finding.verdict if finding else 'no verdict'}"
    )


def _limits_of_use(row: Mapping[str, Any]) -> tuple[float | None, float | None]:
    """Those of the ratio, which the verdict goes by, as shares of the time: a room shows what its row shows."""
    if row["ratio_low"] is None or not row["available"]:
        return row["used_low"], row["used_high"]
    return row["ratio_low"] * row["available"], min(row["ratio_high"] * row["available"], 1.0)


def _rooms(answer: Answer, listed: Iterable[tuple[dict[str, Any], Finding | None]]) -> RoomsShown | None:
    declared = answer.declared
    if declared is None:
        return None
    known = {str(r["zone"]): (r, f) for r, f in listed}
    places = places_of(declared)
    rooms = {}
    for place in places:
        label = answer.labels.get(place, place)
        row, finding = known.get(place, (None, None))
        if row is None:
            rooms[place] = RoomShown(label)
            continue
        verdict = finding.verdict if finding else ""
        said = f"{times(row['ratio'])} times its share"
        low, high = _limits_of_use(row)
        rooms[place] = RoomShown(
            label, row["used"], low, high, row["available"], said, verdict,
            verdict in (AVOIDED, FAVOURED, IN_PROPORTION), f"{times(row['ratio'])} ×",
        )  # fmt: skip
    key = (
        Key("bar", "share of the time"), Key("interval", "95 % limits for all zones at once"),
        Key("offered", "share of what is offered"),
    )  # fmt: skip
    return RoomsShown(sketch_of(declared) or boxes(list(places), 4), rooms, key=key)


def sketch_of(declared: Declaration) -> Grid | None:
    """The keeper's sketch as rows of place ids; None without one, or where enclosures of a study differ in theirs."""
    sketches = {tuple(e.sketch) for e in declared.enclosures.values()}
    sketch = next(iter(sketches)) if len(sketches) == 1 else ()
    if not sketch:
        return None
    place = {z.key: z.place for z in declared.zones.values() if z.key}
    width = max(map(len, sketch))
    grid = tuple((*(place.get(key, "") for key in row), *[""] * (width - len(row))) for row in sketch)
    return _with_missing(grid, places_of(declared))


def _with_missing(grid: Grid, places: Iterable[str]) -> Grid:
    """The grid with a row below it of the places that are drawn nowhere, each as wide as the others."""
    drawn = {p for row in grid for p in row}
    missing = [p for p in places if p not in drawn]
    if not missing:
        return grid
    wide = len(grid[0]) * len(missing)
    below = tuple(missing[i * len(missing) // wide] for i in range(wide))
    return (*(tuple(p for p in row for _ in missing) for row in grid), below)
