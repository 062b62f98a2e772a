"""Charts are drawn of whatever crosses, within their width; and what they show is what was found."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from zoneuse.screens.review.background.crossing import CROSSING, read_given
from zoneuse.screens.review.drawing.blocks import TextBlock
from zoneuse.screens.review.drawing.charts import charts
from zoneuse.screens.review.drawing.intervals import ChartSpace

NUMBERS = st.none() | st.floats(-2, 2) | st.sampled_from([0.0, 1.0, 1e-9, 1e9, -1e9])
NAMES = st.sampled_from(["moss", "bark", "鼠鼠鼠鼠鼠鼠鼠鼠鼠鼠", "[red]x[/]", "a" * 60, ""])
COLUMNS: dict[str, dict[str, tuple[str, ...]]] = {
    "zones": {
        "rows": ("zone", "used", "used_low", "used_high", "available", "ratio", "ratio_low", "ratio_high"),
        "by_animal": ("animal", "zone", "used"),
        "by_slot": ("slot", "zone", "used"),
        "density": ("camera", "row", "column", "rows", "columns", "zone", "zone_label", "moments", "busier"),
        "by_hour": ("zone", "hour", "share"),
    },
    "activity": {
        "rows": ("behaviour", "share", "low", "high"),
        "against_baseline": ("behaviour", "change", "change_low", "change_high"),
        "by_hour": ("hour_since_lights_on", "active"),
    },
    "prefer": {"bins": ("quantity", "low", "high", "used", "offered")},
    "shifts": {
        "rows": ("adjustment", "what", "zone", "change", "change_low", "change_high"),
        "units": ("adjustment", "place", "side", "slot", "share"),
    },
    "retreats": {"rows": ("animal", "zone", "share"), "pairs": ("animal", "other", "simple_ratio")},
    "climate": {
        "zones": ("zone", "quantity", "median", "p05", "p95"),
        "wide": ("line",),
        "narrow": ("line",),
    },
    "observers": {
        "rows": ("pair", "what", "kappa", "kappa_low", "kappa_high"),
        "confusion": ("one", "other", "moments"),
    },
}
_FIGURES = {
    "used",
    "available",
    "ratio",
    "share",
    "change",
    "active",
    "offered",
    "median",
    "kappa",
    "moments",
}


def row(columns: tuple[str, ...]) -> st.SearchStrategy[dict[str, Any]]:
    def values(column: str) -> st.SearchStrategy[Any]:
        if column == "side":
            return st.sampled_from(["before", "settling", "after", "outside"])
        figure = (
            column in _FIGURES
            or column.startswith(("hour", "p0", "p9", "simple", "row", "column", "busier"))
            or column.endswith(("low", "high"))
        )
        return NUMBERS if figure else NAMES | st.none()

    return st.fixed_dictionaries({}, optional={c: values(c) for c in columns})


def drawn(name: str, series: dict[str, Any], width: int) -> list[TextBlock]:
    raw = {
        "crossing": CROSSING, "name": name, "headline": "", "notes": [], "cautions": [], "headings": [], "rows": [],
        "findings": [{"about": ["moss", "bark"], "verdict": "too early", "standing": "", "says": ""}],
        "hidden": 0, "labels": {}, "series": series,
    }  # fmt: skip
    return charts(ChartSpace(read_given(raw), width, width < 57, {"moss": "m", "bark": "b"}))


@pytest.mark.parametrize("name", COLUMNS)
@settings(max_examples=60, deadline=None)
@given(st.data())
def test_whatever_crosses_is_drawn_within_the_width(name: str, data: st.DataObject) -> None:
    series = {part: data.draw(st.lists(row(columns), max_size=5)) for part, columns in COLUMNS[name].items()}
    width = data.draw(st.sampled_from([29, 37, 77]))
    if name == "climate":
        series["wide"] = series["narrow"] = []  # these are drawn by the answer, for its own two widths
    for block in drawn(name, series, width):
        for line in block.lines:
            assert cell_len(line.plain) <= width, line.plain


def lines(blocks: list[TextBlock]) -> list[str]:
    return [line.plain for block in blocks for line in block.lines]


def test_sessions_before_and_after_stand_on_their_sides() -> None:
    units = [
        {"adjustment": "moss", "place": "bark", "side": side, "slot": "night", "share": share}
        for side, share in [("before", 0.0), ("before", 0.25), ("settling", 0.5), ("after", 0.5), ("outside", 1.0)]
    ]  # fmt: skip
    shown = lines(drawn("shifts", {"rows": [], "units": units}, 77))
    assert "moss: bark, night: 2 before, 1 settling, 1 after" in shown
    top, bottom = shown[-6], shown[-1]
    assert top.split() == ["50", "%", ":", ".", ":", "x"] and bottom.split() == ["0", "%", "o", ":", ":"]


def test_without_both_sides_there_is_nothing_to_compare() -> None:
    units = [{"adjustment": "moss", "place": "bark", "side": "before", "slot": "night", "share": 0.5}]
    assert drawn("shifts", {"rows": [], "units": units}, 77) == []


def test_a_ratio_stands_on_its_side_of_in_proportion() -> None:
    rows = [
        {"zone": zone, "used": 0.5, "used_low": 0.4, "used_high": 0.6, "available": 0.5, "ratio": ratio,
         "ratio_low": ratio / 1.2, "ratio_high": ratio * 1.2}
        for zone, ratio in (("moss", 4.0), ("bark", 0.25))
    ]  # fmt: skip
    shown = lines(drawn("zones", {"rows": rows}, 77))
    moss, bark = shown[-2], shown[-1]
    assert moss.index("●") > moss.index("┊") and bark.index("●") < bark.index("┊")
    assert moss.endswith("4.00 ×") and bark.endswith("0.25 ×")
