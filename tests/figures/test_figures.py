"""One description, drawn as SVG, text, PNG and PDF: the same numbers in each, nothing out of its sheet."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

from tests.making import run, scans, study_folder
from zoneuse import open_study
from zoneuse.figures.drawn.shapes import Area, Disc, Drawing, Stroke, Words, width_of
from zoneuse.figures.drawn.sheet import card, laid_out
from zoneuse.figures.files import drawn_as
from zoneuse.pictures import (
    Chart,
    EstimateRow,
    EstimateRows,
    Figure,
    Ground,
    Key,
    Matrix,
    MatrixRow,
    RoomShown,
    RoomsShown,
)
from zoneuse.pictures.description import Panel
from zoneuse.pictures.letters import interval, lines
from zoneuse.pictures.plot import Band, Bars, Blocks, Dots, EventMark, Level, Mean, Rug, Stretch, Strip, Trace
from zoneuse.pictures.scales import Scale, changes, numbers, ratios, shares

HOSTILE = '<script>"&\u202e$x^2$'
ROWS = EstimateRows(
    ratios([0.0, 0.4, 3.2, 0.2]),
    (
        EstimateRow("Open ground", 0.4, 0.2, 0.7, said="0.4 (0.2 to 0.7)", verdict="avoided", claims=True),
        EstimateRow("Clay pipe", 0.0, 0.0, 0.9, said="0 (0 to 0.9)", verdict="too early", beside="the unseen decide"),
        EstimateRow(HOSTILE, 3.2, 1.5, 400.0, said="3.2", offered=1.2, before=0.5),
    ),
    "Times its share", 1.0, (Key("interval", "use"), Key("reference", "in proportion")),
)  # fmt: skip
CHART = Chart(
    Scale(0, 10, ((0, "1 Mar"), (10, "10 Mar"))), shares([0.5]),
    (
        Stretch(0, 2), Stretch(4, 5, "settling"), Band((1, 2, 3), (0.1, 0.1, math.nan), (0.3, 0.4, 0.5)),
        Trace((1, 2, 3), (0.2, math.nan, 0.3)), Trace((3, 4), (0.3, 0.2), ahead=True),
        Dots((1, 2), (0.1, 0.5), "before"),
        Bars((5,), (0.2,), (0.1,), (0.4,)), Level(0.25, "limit"), Mean(1, 3, 0.2, 0.1, 0.3), EventMark(4, HOSTILE),
        EventMark(6, kind="found"), EventMark(7, "dry", "felt"), Rug((1, 9), (0.5, 1.0)), Blocks(((1, 2, 0.1, 0.4),)),
    ),
    "A chart", strips=(Strip("fed", (2, 8), ((3, 4),)),), key=(Key("line", "median"), Key("found", "water")),
)  # fmt: skip
ROOMS = RoomsShown((("a", "a", "b"), ("a", "a", "")), {"a": RoomShown("Moss", 0.4, 0.2, 0.6, 0.1, "4 times its share"),
                                                 "b": RoomShown("Bark")})  # fmt: skip
MATRIX = Matrix(
    ("Moss", "Bark"), (MatrixRow("Dot", (0.4, None), (0,)), MatrixRow("Line", (0.0, 1.0))), "Shares, %"
)
GROUND = Ground(
    (("a", "a", "", "b"), ("a", "h", "b", "b")), ((0, 4, 1, 2), (3, 4, 0, 1)),
    {"a": "Moss", "h": HOSTILE, "b": "Bark by the door"}, "Where the tracks were",
)  # fmt: skip
PANELS: tuple[Panel, ...] = (ROWS, CHART, ROOMS, MATRIX, replace(MATRIX, squares=True), GROUND)
WHOLE = Figure("whole", f"What was found {HOSTILE}", "share, n = 3", "a study", PANELS, "says 3")


def points_of(drawing: Drawing) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for shape in drawing.shapes:
        match shape:
            case Stroke():
                found += shape.points
            case Area():
                found += [p for ring in shape.rings for p in ring]
            case Disc():
                found += [(shape.x - shape.radius, shape.y), (shape.x + shape.radius, shape.y)]
            case Words() if not shape.upright:
                wide = width_of(shape.says, shape.size, shape.bold)
                left = {"start": 0.0, "middle": wide / 2, "end": wide}[shape.anchor]
                found += [(shape.x - left, shape.y), (shape.x - left + wide, shape.y)]
    return found


@pytest.mark.parametrize("width", [321.0, 358.0, 680.0, 736.0])
def test_nothing_leaves_its_sheet(width: float) -> None:
    for panel in PANELS:
        drawing = laid_out(replace(WHOLE, panels=(panel,)), width)
        out = [
            p
            for p in points_of(drawing)
            if not (-9 <= p[0] <= width + 9 and -1 <= p[1] <= drawing.height + 1)
        ]
        assert out == [], type(panel).__name__


def test_a_card_is_filled_without_being_left() -> None:
    drawing, scale = card(replace(WHOLE, panels=(ROWS,)))
    assert (round(drawing.width * scale), round(drawing.height * scale)) == (1200, 630)
    assert all(y <= drawing.height for _, y in points_of(drawing))


def test_files_hold_what_they_say_they_are() -> None:
    svg = drawn_as(WHOLE, ".svg", "85").decode()
    assert 'width="85.00mm"' in svg
    assert "&lt;script&gt;" in svg
    assert "\u202e" not in svg
    assert "0.4 (0.2 to 0.7)" in svg
    assert "share, n = 3" in svg
    assert not re.search(r"href|url\(|<script", svg)
    small = replace(WHOLE, panels=(ROWS,))
    assert drawn_as(small, ".PNG", "85")[:4] == b"\x89PNG"
    assert drawn_as(small, ".pdf")[:5] == b"%PDF-"
    assert int.from_bytes(drawn_as(small, ".png", "card")[16:20], "big") == 1200
    for ending, width in ((".jpg", "180"), (".svg", "12"), (".svg", "wide")):
        with pytest.raises(ValueError):
            drawn_as(small, ending, width)


@pytest.mark.parametrize("width", [40, 80])
def test_the_same_in_letters_fits_and_keeps_number_and_verdict(width: int) -> None:
    told = [line.says for line in lines(WHOLE, width)]
    assert max(map(len, told)) <= width
    whole = "\n".join(told)
    for said in ("0.4 (0.2 to 0.7)", "avoided", "0 (0 to 0.9)", "too early", "●", "├", "┊", "○"):
        assert said in whole


def test_a_ratio_of_nothing_and_limits_beyond_the_scale_are_marked() -> None:
    scale = Scale(0.1, 10, log=True)
    assert interval(scale, 9, EstimateRow("", 0.0, 0.0, 0.9)).startswith("0")
    assert interval(scale, 9, EstimateRow("", 1.0, 0.0, 400.0), 1.0) == "‹───●───›"


def test_scales_hold_their_values() -> None:
    for scale, values in (
        (shares([0.63, None]), [0.0, 0.63]), (ratios([0.3, 7.0]), [0.3, 1.0, 7.0]),
        (changes([-0.43, 0.2]), [-0.43, 0.43]),
        (numbers([11.6, 15.2], "°C"), [11.6, 15.2]), (numbers([5.0]), [5.0]),
    ):  # fmt: skip
        assert all(-1e-9 <= scale.part(v) <= 1 + 1e-9 for v in values)
        assert all(0 <= scale.inside(v) <= 1 for v, _ in scale.ticks)
        assert len(scale.ticks) >= 2


# --- the command and Python -----------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = study_folder(tmp_path_factory.mktemp("figures") / "s")
    for day in range(1, 8):
        scans(made, f"2026-03-{day:02d}T20:00", [["moss"], ["bark"], ["moss"]])
    return made


def test_a_picture_is_written_where_asked_and_nothing_replaced_unasked(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "zones.svg"
    done = run("zones", "--study", folder, "--plot", out, "--width", "85")
    assert done.exit_code == 0, done.stderr
    assert f"Drawn: {out}" in done.stderr
    drawn = out.read_text(encoding="utf-8")
    answer = open_study(folder).zones()
    assert answer.headline.rstrip(".").split(";")[0][:20] in drawn
    refused = run("zones", "--study", folder, "--plot", out)
    assert refused.exit_code == 1
    assert "--force" in refused.stderr
    assert run("zones", "--study", folder, "--plot", tmp_path / "zones.gif").exit_code == 2
    assert run("zones", "--study", folder, "--plot", out, "--force").exit_code == 0


def test_every_answer_can_be_drawn_or_says_why_not(folder: Path) -> None:
    study = open_study(folder)
    for name in ("zones", "activity", "preference", "shifts", "retreats", "climate", "observers", "plan"):
        answer = getattr(study, name)()
        drawn = answer.figure()
        assert answer.headline, name
        assert drawn.title == answer.headline.rstrip(".")
        for width in (40, 80):
            assert all(len(line.says) <= width for line in lines(drawn, width)), name
        if drawn.panels:
            assert drawn_as(drawn, ".svg", "85").startswith(b"<svg")


def test_a_screen_holds_the_answer_and_full_gives_every_sentence(folder: Path) -> None:
    short, whole = run("zones", "--study", folder), run("zones", "--study", folder, "--full")
    assert len(short.stdout.splitlines()) <= 25
    answer = open_study(folder).zones(cuts=False)
    assert short.stdout.startswith(answer.headline[:40])
    words = " ".join(whole.stdout.split())
    for said in (*(f.says for f in answer.findings), *(c.says for c in answer.cautions)):
        assert " ".join(said.split()) in words
    assert "--full" in short.stdout


def test_numbers_are_never_clipped_and_long_headings_are_broken() -> None:
    said = "14.2 (12.8 to 15.7) °C"
    heading = (
        "Recent sessions against earlier ones, change in share (points) "
        "(12 sessions against 36), as far as it was watched"
    )
    rows = EstimateRows(
        numbers([11, 16], "°C"), (EstimateRow("Slate stack", 14.2, 12.8, 15.7, said=said),), heading, None
    )
    figure = Figure("x", "Title", "", "", (rows,), "")
    for width in (60, 77, 80):
        assert any(line.says.endswith(said) for line in lines(figure, width)), width
    words = [s.says for s in laid_out(figure, 358.0).shapes if isinstance(s, Words)]
    assert not any("…" in w for w in words)
    assert heading in " ".join(words)


def test_a_card_shows_the_first_picture_alone() -> None:
    one = Figure("x", "t", "", "", (ROWS,), "")
    two = replace(one, panels=(ROWS, replace(ROWS, heading="a second")))
    assert card(two)[1] == card(one)[1]
    assert not any("a second" in s.says for s in card(two)[0].shapes if isinstance(s, Words))


def test_names_of_rooms_are_broken_and_not_cut_in_a_column_of_a_paper() -> None:
    rooms = {
        "a": RoomShown("Moss"),
        "b": RoomShown("Sandstone ledge", 0.1, 0.05, 0.2, 0.1, "2.0 times", "favoured"),
    }
    panel = RoomsShown((("a", "a", "a", "b"),) * 3, rooms)
    shapes = laid_out(Figure("x", "Title", "", "", (panel,), ""), 85 * 96 / 25.4).shapes
    said = [s.says for s in shapes if isinstance(s, Words)]
    assert "Sandstone" in said and "ledge" in said
    assert not any("…" in s for s in said)
