"""The enclosure from above: every cell is drawn as dark as it is, in its zone, at any width."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len

from zoneuse.figures.drawn.ground import ground_drawn
from zoneuse.figures.drawn.shapes import Area
from zoneuse.pictures import Ground, by_hour, grounds
from zoneuse.pictures.letters import panel_lines
from zoneuse.pictures.letters_ground import SHADES

PLACES = {"m": "Moss", "h": "Cork hide by the door", "": ""}


@st.composite
def plans(draw: st.DrawFn) -> Ground:
    rows, columns = draw(st.integers(1, 24)), draw(st.integers(1, 24))
    many = rows * columns
    grid = draw(st.lists(st.sampled_from(list(PLACES)), min_size=many, max_size=many))
    dark = draw(st.lists(st.integers(0, 4), min_size=many, max_size=many))
    cut = [slice(r * columns, (r + 1) * columns) for r in range(rows)]
    return Ground(tuple(tuple(grid[c]) for c in cut), tuple(tuple(dark[c]) for c in cut), PLACES, "Where")


@settings(max_examples=60, deadline=None)
@given(plans(), st.sampled_from([36, 76, 200]))
def test_letters_fit_and_every_zone_is_named(ground: Ground, width: int) -> None:
    said = [line.says for line in panel_lines(ground, width)]
    assert max(map(cell_len, said)) <= width
    text = "\n".join(said)
    for place in {p for row in ground.grid for p in row if p}:
        # In full or cut on its wall, or by a number below; merged into larger cells a small one may be gone.
        assert PLACES[place][:4] in text.replace("\n", " ") or width < 200


def test_cells_stand_between_walls_as_they_are() -> None:
    ground = Ground(
        (("m", "m", "h"), ("m", "m", "h")), ((4, 0, 1), (2, 3, 0)), {"m": "Moss", "h": "Hide"}, "Where"
    )
    said = [line.says for line in panel_lines(ground, 80)]
    assert said == [
        "Where", "┌Moss┬1─┐", "│██  │░░│", "│▒▒▓▓│  │", "└────┴──┘",
        "█ half of the time  ▓ to 80 %  ▒ to 95 %  ░ the rest  1 Hide",
    ]  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(plans())
def test_letters_and_shapes_show_the_same_cells(ground: Ground) -> None:
    area = Counter[float]()
    for shape in ground_drawn(ground, 0.0, 736.0):
        if isinstance(shape, Area) and shape.fill == "blue":
            (x0, y0), _, (x1, y1), _ = shape.rings[0]
            area[shape.see_through] += (x1 - x0) * (y1 - y0)
    side = min(736.0 / len(ground.grid[0]), 22.0, 420.0 / len(ground.grid))
    for level, shade in enumerate((0.16, 0.36, 0.62, 1.0), 1):
        cells = sum(row.count(level) for row in ground.dark)
        sample = 18 * 12  # in the key
        assert area[shade] == pytest.approx(cells * side * side + sample)
    # With letters: a whole cell is two of a kind; a wall's gap may continue the lighter of its sides.
    text = "".join(line.says for line in list(panel_lines(ground, 500))[1:-1])
    for level in range(1, 5):
        assert text.count(SHADES[level]) >= 2 * sum(row.count(level) for row in ground.dark)


def test_the_fewest_cells_that_hold_half_of_the_time_are_darkest() -> None:
    moments = [60, 25, 10, 4, 1, 0]
    busier = [0.0, 0.6, 0.85, 0.95, 0.99, 1.0]
    cells = [
        {"camera": "", "row": 0, "column": k, "rows": 1, "columns": 6, "zone": "m", "moments": n, "busier": b}
        for k, (n, b) in enumerate(zip(moments, busier, strict=True))
    ]
    (ground,) = grounds(cells)
    assert ground.dark == ((4, 3, 2, 1, 1, 0),)
    assert list(grounds([{"rows": 1e9, "columns": 2}, {"camera": 3}])) == []


def test_hours_are_a_letter_each_and_an_hour_without_anyone_is_a_dot() -> None:
    panel = by_hour([{"zone": "m", "hour": 20, "share": 1.0}, {"zone": "h", "hour": 20, "share": 0.0}])
    assert panel is not None and by_hour([{"zone": "m", "hour": 99, "share": 1.0}]) is None
    said = [line.says for line in panel_lines(panel, 40)]
    assert said[2:] == [
        "m " + "·" * 20 + "█···", "h " + "·" * 20 + "▁···", "  0  3  6  9  12 15 18 21"
    ]  # fmt: skip
