"""The screen on which a study is declared: driven by keys and touches, held as plain text at both sizes."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.study.test_draft import BEHIND_VALUES, COMMENTS, KEPT, folder_with
from zoneuse.screens.build.desk import PAGES, Desk
from zoneuse.screens.build.face import lines
from zoneuse.screens.build.keys import KEYS, paste, press, touch
from zoneuse.screens.build.moves import open_page
from zoneuse.screens.build.sketching import drag, release
from zoneuse.study.draft.draft import open_draft
from zoneuse.study.toml.file import load_declaration, read_declaration
from zoneuse.study.toml.starter import blank_text

NOW = datetime(2026, 4, 1, 18, tzinfo=UTC)
SIZES = [(80, 24), (40, 20)]


def desk_of(folder: Path, sessions: Callable[[], int] = lambda: 0, blank: str | None = None) -> Desk:
    desk = Desk(open_draft(folder, blank), lambda: NOW, sessions)
    open_page(desk, desk.page)
    return desk


def keys(desk: Desk, *presses: str) -> None:
    """``<enter>`` is a key by its name, all else is typed."""
    for one in presses:
        if one.startswith("<"):
            press(desk, one[1:-1])
        else:
            for character in one:
                press(desk, {" ": "space"}.get(character, character), character)


def shown(desk: Desk, width: int, height: int) -> list[str]:
    drawn = lines(desk, width, height)
    assert len(drawn) == height
    text = ["".join(piece.text for piece in line) for line in drawn]
    assert all(len(row) <= width for row in text), text
    return text


def study_of(folder: Path) -> dict:
    return tomllib.loads((folder / "study.toml").read_text("utf-8"))


def test_a_study_of_ones_own_in_a_hundred_keys_and_no_editor(tmp_path: Path) -> None:
    folder = tmp_path / "my-geckos"
    desk = desk_of(folder, blank=blank_text(folder))
    typed = ["Warm branch", "<enter>", "900", "<enter>", "Cool end", "<enter>", "1200", "<enter>", "Moist hide",
             "<enter>", "300,5", "<enter>", "<pagedown>", "Ida", "<enter>", "Bo", "<enter>", "<pagedown>", "<pagedown>",
             "L1", "<enter>", "Moist", "<enter>"]  # fmt: skip
    keys(desk, *typed)
    assert sum(len(t) if t[0] != "<" else 1 for t in typed) < 75
    declared = load_declaration(folder)
    assert declared.title == "My geckos" and len(declared.behaviours) == 5
    assert {z.label: z.amount[0].value for z in declared.zones.values()} == {
        "Warm branch": 900, "Cool end": 1200, "Moist hide": 300.5}  # fmt: skip
    assert [a.key for a in declared.animals.values()] == ["1", "2"]
    assert declared.loggers["L1"].placed[0].zone == "moist_hide"
    every = [z.key for z in declared.zones.values()] + [b.key for b in declared.behaviours.values()]
    assert len(set(every)) == len(every) and all(key.islower() for key in every)
    assert (folder / "journal").is_dir()


def test_a_name_of_a_logger_stays_as_its_files_have_it(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path))
    open_page(desk, "Loggers")
    keys(desk, "<f2>", "TH-07", "<enter>", "w", "<enter>")
    assert study_of(tmp_path)["loggers"]["TH-07"] == {"placed": [{"zone": "dish"}]}


def test_rooms_are_painted_by_keys_and_by_a_finger(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path))
    keys(desk, "<f3>", "b", "<right>", "<right>", "<right>", "<enter>", "<down>", "<right>", "<enter>")
    assert study_of(tmp_path)["enclosure"]["sketch"] == ["ccwbb", "ccwbb"]
    keys(desk, "<backspace>")
    assert study_of(tmp_path)["enclosure"]["sketch"] == ["ccwbb", "ccwb."]
    # A touch on another room's cell paints it, and the drag goes on painting; on its own it rubs out.
    touch(desk, ("cell", 0, 0))
    drag(desk, ("cell", 1, 0))
    release(desk)
    drag(desk, ("cell", 1, 1))
    assert study_of(tmp_path)["enclosure"]["sketch"] == ["bcwbb", "bcwb."]
    touch(desk, ("cell", 0, 0))
    assert study_of(tmp_path)["enclosure"]["sketch"] == [".cwbb", "bcwb."]
    for _ in range(4):
        keys(desk, "<ctrl+z>")
    assert study_of(tmp_path)["enclosure"]["sketch"] == ["ccwbb", "ccwbb"]


def test_what_is_touched_on_the_drawn_sketch_is_the_cell_under_the_finger(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path))
    for size in SIZES:
        for line in lines(desk, *size):
            for piece in line:
                if piece.target[:1] == ("cell",) and piece.text.strip() in ("w", "b"):
                    assert desk.cells[piece.target[1]][piece.target[2]] == piece.text.strip()


def test_in_a_study_with_records_it_asks_since_when(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path), lambda: 3)
    keys(desk, "<f2>", "Stone", "<enter>")
    assert "Since when has Stone been there?" in " ".join(shown(desk, 80, 24))
    keys(desk, "2026-03-25", "<enter>", "80", "<enter>")
    stone = study_of(tmp_path)["zones"]["stone"]
    assert stone["present"] == [{"from": date(2026, 3, 25)}] and stone["amount"] == 80
    # A new amount is asked about; a slip is mended with "always".
    desk = desk_of(tmp_path, lambda: 3)
    keys(desk, "w", "<enter>", "<down>", "<down>", "<ctrl+u>", "250", "<enter>", "gestern", "<enter>")
    assert desk.asking is not None and "is not a time" in desk.asking.wrong
    keys(desk, "<ctrl+u>", "2026-03-26", "<enter>", "<up>", "<ctrl+u>", "260", "<enter>", "always", "<enter>")
    assert study_of(tmp_path)["zones"]["dish"]["amount"] == [
        {"until": date(2026, 3, 26), "is": 300}, {"from": date(2026, 3, 26), "is": 260}
    ]  # fmt: skip
    # What goes keeps its past; behaviours have no dates, and stay.
    keys(desk, "<escape>", "<f4>", "2026-03-30", "<enter>")
    assert study_of(tmp_path)["zones"]["dish"]["present"] == [{"until": date(2026, 3, 30)}]
    open_page(desk, "Behaviours")
    keys(desk, "<f4>")
    assert "it stays" in desk.told and "resting" in study_of(tmp_path)["behaviours"]


def test_another_enclosure_of_the_same_rooms_and_who_lives_where(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path))
    before = study_of(tmp_path)
    open_page(desk, "Study")
    keys(desk, "<f2>", "Tub 2", "<enter>", "<enter>")
    assert desk.asking is not None and "It needs a name" in desk.asking.wrong
    keys(desk, "Tub 1", "<enter>", "<enter>")
    after = study_of(tmp_path)
    assert "enclosure" not in after and list(after["enclosures"]) == ["tub_1", "tub_2"]
    assert after["enclosures"]["tub_1"] == before["enclosure"]
    assert after["enclosures"]["tub_2"]["sketch"] == before["enclosure"]["sketch"]
    mine = {n: z for n, z in after["zones"].items() if z["enclosure"] == "tub_2"}
    assert len(after["zones"]) == 2 * len(before["zones"]) == 2 * len(mine)
    assert {(z["place"], z["key"], z["label"]) for z in mine.values()} == {
        (n, z["key"], z["label"]) for n, z in before["zones"].items()
    }
    assert all(a["lives"] == [{"enclosure": "tub_1"}] for a in after["animals"].values())
    # Nothing of the keeper's own words is lost, and it is one change to take back.
    text = (tmp_path / "study.toml").read_text("utf-8")
    assert all(comment in text for comment in COMMENTS)
    declared = load_declaration(tmp_path)
    assert declared.several and len({z.place for z in declared.zones.values()}) == len(before["zones"])
    # A third is asked for its rooms only, and may have none yet; an animal moves there.
    open_page(desk, "Study")
    keys(desk, "<f2>", "Quarantine", "<enter>", "no", "<enter>")
    assert study_of(tmp_path) == after, "an enclosure without rooms waits beside the file"
    open_page(desk, "Rooms")
    keys(desk, "<f2>", "Floor", "<enter>", "100", "<enter>", "Pot", "<enter>", "50", "<enter>")
    rooms = study_of(tmp_path)["zones"]
    assert rooms["floor"]["enclosure"] == rooms["pot"]["enclosure"] == "quarantine"
    open_page(desk, "Animals")
    name = next(iter(after["animals"]))
    keys(desk, "<enter>", "<down>", "<down>", "<ctrl+u>", "quarantine", "<enter>")
    assert study_of(tmp_path)["animals"][name]["lives"][-1]["enclosure"] == "quarantine"
    for size in SIZES:
        shown(desk, *size)
    for _ in range(7):
        keys(desk, "<ctrl+z>")
    assert study_of(tmp_path) == before


def test_treatments_and_phases_are_declared_with_their_dates(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path), lambda: 3)
    open_page(desk, "Compare")
    keys(
        desk,
        "<f2>",
        "Spider model",
        "<enter>",
        "<f2>",
        "<down>",
        "Lamp out",
        "<enter>",
        "2026-03-10",
        "<enter>",
    )
    study = study_of(tmp_path)
    assert study["treatments"] == {"spider_model": {"label": "Spider model"}}
    assert study["phases"] == {"lamp_out": {"label": "Lamp out", "from": date(2026, 3, 10)}}
    keys(desk, "<up>", "<up>", "<enter>", "<down>", "<down>", "2026-03-20", "<enter>")
    assert study_of(tmp_path)["phases"]["lamp_out"]["until"] == date(2026, 3, 20)
    # A treatment that records may name stays; a phase is only a way of looking at them.
    keys(desk, "<escape>", "<f4>")
    assert "phases" not in study_of(tmp_path)


def test_a_phase_has_dates_of_its_own_in_each_enclosure(tmp_path: Path) -> None:
    from tests.recorder.studies import TWO_TUBS

    (tmp_path / "study.toml").write_text(
        TWO_TUBS + '[phases.dim]\nlabel = "Dim"\nfrom = 2026-03-01\n', "utf-8"
    )
    desk = desk_of(tmp_path)
    open_page(desk, "Compare")
    keys(desk, "<enter>")
    labels = [f.label for f in desk.fields()]
    assert labels == ["Name", "From", "Until", "tub_1 from", "tub_1 until", "tub_2 from", "tub_2 until"]
    keys(desk, "<down>", "<ctrl+u>", "<enter>", "<enter>", "2026-03-01", "<enter>", "2026-03-09", "<enter>",
         "2026-03-09", "<enter>", "<enter>")  # fmt: skip
    assert study_of(tmp_path)["phases"]["dim"]["spans"] == [
        {"enclosure": "tub_1", "from": date(2026, 3, 1), "until": date(2026, 3, 9)},
        {"enclosure": "tub_2", "from": date(2026, 3, 9)},
    ]
    assert load_declaration(tmp_path).phases["dim"].spans[1].enclosure == "tub_2"


def test_faults_stand_beside_in_the_words_of_check(tmp_path: Path) -> None:
    desk = desk_of(folder_with(tmp_path))
    keys(desk, "w", "<enter>", "<down>", "<ctrl+u>", "c")
    below = " ".join(" ".join(shown(desk, 80, 24)[-4:]).split())
    assert (
        "! zones.dish.key: 'c' is also the key of moss; expected a key of its own in its enclosure" in below
    )
    open_page(desk, "Study")
    keys(desk, "<enter>", "<down>", "<down>", "<ctrl+u>", "Europe/Vinna")
    assert "Nearest: Europe/Vienna" in " ".join(" ".join(shown(desk, 80, 24)[-4:]).split())


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("size", SIZES)
def test_every_page_fits(tmp_path: Path, page: str, size: tuple[int, int]) -> None:
    desk = desk_of(folder_with(tmp_path))
    open_page(desk, page)
    first = shown(desk, *size)
    assert page in first[0] and first[0].endswith("written")
    keys(desk, "<enter>")
    shown(desk, *size)
    press(desk, "f1")
    assert "Page Down" in " ".join(shown(desk, *size))


_PRESSES = st.one_of(
    st.sampled_from([*KEYS, "up", "down", "left", "right", "enter", "enter", "enter", "tab", "escape", "space",
                     "backspace", "delete", "home", "end", "ctrl+u", "f9"]).map(lambda k: ("key", k)),
    st.text("abcmnwrz019 .,:-äÄ\"'\\#[]{}=\n", min_size=1, max_size=6).map(lambda t: ("text", t)),
    st.tuples(st.sampled_from(["touch", "drag"]), st.integers(0, 79), st.integers(0, 23)),
)  # fmt: skip


@settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(_PRESSES, max_size=25), st.booleans())
def test_no_keys_or_touches_break_it_or_the_file(
    tmp_path_factory: pytest.TempPathFactory, storm: list, records: bool
) -> None:
    folder = folder_with(tmp_path_factory.mktemp("storm"))
    desk = desk_of(folder, lambda: 3 * records)
    for one in storm:
        if one[0] == "key":
            press(desk, one[1])
        elif one[0] == "text":
            paste(desk, one[1]) if len(one[1]) > 4 else keys(desk, one[1])
        else:
            row = lines(desk, 80, 24)[one[2]]
            target = next((p.target for p in row if p.target), ())
            if target:
                touch(desk, target) if one[0] == "touch" else drag(desk, target)
        shown(desk, *SIZES[len(storm) % 2])
    assert read_declaration(folder)[0] is not None
    text = (folder / "study.toml").read_text("utf-8")
    kept = [c for line in text.splitlines() for c in COMMENTS if line.rstrip().endswith(c)]
    gone = {"# cleaned on Sundays"} if not records else set()
    assert set(COMMENTS) - set(kept) <= BEHIND_VALUES | gone | (
        {"# dug out in March"} if not records else set()
    )
    if records:
        now, before = tomllib.loads(text), tomllib.loads(KEPT)
        assert all(set(before[k]) <= set(now[k]) for k in ("zones", "animals", "behaviours", "loggers"))


async def test_the_real_screen_takes_keys_touches_drags_and_pastes(tmp_path: Path) -> None:
    from textual import events

    from zoneuse.screens.build.app import BuildApp

    app = BuildApp(desk_of(folder_with(tmp_path)))
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("f2", *"Stone", "enter", *"80", "enter")
        assert study_of(tmp_path)["zones"]["stone"]["amount"] == 80
        app.post_message(events.Paste("Under the\nroot"))
        await pilot.pause()
        assert app.desk.line.value == "Under the root"
        await pilot.press("escape", "up")
        where = next(
            (x, y)
            for y, line in enumerate(app.face._targets)
            for x, t in enumerate(line)
            if t == ("cell", 4, 6)
        )
        await pilot.mouse_down(app.face, offset=where)
        await pilot.hover(app.face, offset=(where[0] + 4, where[1]))
        await pilot.mouse_up(app.face, offset=where)
        assert study_of(tmp_path)["enclosure"]["sketch"][4].startswith("......s")
        await pilot.resize_terminal(40, 20)
        await pilot.press("f10", "x", "f10")
    assert app.return_code == 0
