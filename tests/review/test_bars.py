"""Charts of text: never wider than their room, and what they show is where it should be."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len

from zoneuse.pictures.letters import strip
from zoneuse.screens.review.background.crossing import Heading, TableRow
from zoneuse.screens.review.drawing.bars import CellScale, bar, dots, fit, interval, ticks
from zoneuse.screens.review.drawing.blocks import broken, table, wrapped

SHARES = st.none() | st.floats(0, 1)
WORDS = st.text(st.sampled_from("ab –鼠é%1 "), max_size=60)


@given(SHARES, SHARES, SHARES, SHARES, st.integers(8, 60), st.floats(0.05, 1))
def test_an_interval_fills_its_room(
    low: float | None, middle: float | None, high: float | None, against: float | None, width: int, top: float
) -> None:
    row = interval(CellScale(0.0, top, width), low, middle, high, against)
    assert len(row) == width
    assert row.count("●") == (middle is not None)


def test_limits_beyond_the_edge_say_so() -> None:
    assert interval(CellScale(0, 10, 11), -5, 2, 20) == "‹─●───────›"
    # A ratio of nought has no place on a scale of ratios but the edge.
    assert interval(CellScale(0.1, 10, 11, log=True), 0.0, 0.0, 1.0, 1.0) == "0────┤     "


@given(SHARES, st.floats(0, 1), st.integers(0, 40), SHARES)
def test_a_bar_fills_its_room(value: float | None, most: float, width: int, mark: float | None) -> None:
    assert len(bar(value, most, width, mark)) == width


def test_a_little_is_not_nothing() -> None:
    assert bar(0.001, 1.0, 10).strip() and not bar(0.0, 1.0, 10).strip()


@given(WORDS, st.integers(1, 30))
def test_text_is_made_to_fit(words: str, width: int) -> None:
    assert cell_len(fit(words, width)) == width
    if cell_len(words) > width:
        assert fit(words, width).endswith("…")


@given(WORDS, st.integers(4, 30))
def test_nothing_is_lost_where_a_line_is_broken(words: str, width: int) -> None:
    lines = broken(words, width, "- ", "  ")
    assert all(cell_len(line) <= width for line in lines)
    kept = "".join([lines[0][2:], *(line[2:] for line in lines[1:])])
    assert kept.replace(" ", "") == words.replace(" ", "")


def test_a_value_keeps_its_unit_and_no_letter_steers_the_terminal() -> None:
    shown = [line.plain for line in wrapped("it is now at 35 % of \x1b[2J", 16).lines]
    assert "35 % of" in " ".join(shown) and "at 35\n" not in "\n".join(shown)
    assert "\\x1b[2J" in "".join(shown)


def test_dots_stand_by_their_share_and_a_gap_is_a_gap() -> None:
    assert dots([("o", 0.0), None, ("x", 0.5), ("x", 1.0)], 3, 1.0) == [" : x", " :x ", "o:  "]
    assert strip([None, 0.0, 0.5, 1.0], 1.0) == "·▁▅█"


def test_numbers_of_a_scale_do_not_run_together() -> None:
    assert ticks(CellScale(0, 1, 8), [0, 0.1, 1], ["0", "0.1", "1"]).split() == ["0", "1"]


def test_a_table_folds_words_and_keeps_numbers_whole() -> None:
    headings = [Heading("Zone", True, True), Heading("Used", False, True), Heading("Offered", False, False)]
    rows = [
        TableRow(("A rather long name of a place", "35 %", "15 %"), ("moss",)),
        TableRow(("Bark", "1 %", "2 %"), ()),
    ]
    wide = [line.plain for block in table(headings, rows, 60, False) for line in block.lines]
    assert wide[1].split() == ["A", "rather", "long", "name", "of", "a", "place", "35", "%", "15", "%"]
    blocks = table(headings, rows, 20, True)
    narrow = [line.plain for block in blocks for line in block.lines]
    assert all(len(line) <= 20 for line in narrow) and not any("Offered" in line for line in narrow)
    assert " ".join(line[:15].strip() for line in narrow[1:-1]) == "A rather long name of a place"
    # What is about nothing opens nothing.
    assert blocks[1].opens is not None and blocks[2].opens is None
