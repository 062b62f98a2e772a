"""What a person reads in the recorder: whole words, keys that need no Shift, and lines marked by a sign."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.recorder.driver import drive
from tests.recorder.studies import ROUND, STUDY
from tests.recorder.test_screens import SIZES, begin, dump, make_app, own_state
from zoneuse.recording.modes.retreats.rounds import Rounding
from zoneuse.recording.practice.scored_round import scored_round
from zoneuse.recording.practice.script import ROUND_STUDY, Practice, make_round_script
from zoneuse.recording.session.actions import ACTIONS
from zoneuse.recording.session.recall import Recall
from zoneuse.recording.telling.plain import PlainSession

__all__ = ["own_state"]


@pytest.mark.parametrize("size", SIZES)
async def test_the_line_that_enter_takes_has_a_mark(tmp_path: Path, size: tuple[int, int]) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert dump(app).count("▸") == 1 and "▸ Begin" in dump(app)
        await pilot.press("down")
        assert "▸ Watching: mk" in dump(app)
        await pilot.press("up")
        await begin(pilot)
        await pilot.press("c", "r", "f3", "enter")
        await pilot.pause()
        assert "▸" not in dump(app)  # what it was is never guessed
        await pilot.press("m")
        await pilot.pause()
        assert dump(app).count("▸") == 1 and "▸ m  it was walking" in dump(app)


async def test_one_record_is_one(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        await pilot.press("c", "r", "f3")
        await pilot.pause()
        assert "1 record. Enter" in dump(app) and "1 records" not in dump(app)


async def test_the_cautions_stay_on_the_screen_and_the_list_scrolls_to_its_mark(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    folder = app.plan.declared.folder
    for number, what in enumerate(("shedding", "gravid", "ill")):
        fields = {"what": what, "animal": f"a{number + 1}"}
        _note(folder, fields)
    async with app.run_test(size=(40, 20)) as pilot:
        await app.workers.wait_for_complete()
        await pilot.pause()
        assert "Local law comes first." in dump(app)
        await pilot.press("end")
        await pilot.pause()
        assert "▸ Cautions read" in dump(app) and "Local law comes first." in dump(app)


def _note(folder: Path, fields: dict[str, str]) -> None:
    from tests.recorder.driver import START
    from zoneuse.journal.rows import RecordToWrite, write_rows
    from zoneuse.study.toml.file import load_declaration

    write_rows(
        load_declaration(folder),
        START,
        [RecordToWrite("context", fields, START)],
        method="record",
        observer="mk",
    )


@pytest.mark.parametrize("size", SIZES)
async def test_words_are_whole(tmp_path: Path, size: tuple[int, int]) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        shown = dump(app)
    labels = ("Moss end", "Water dish", "Bark stack", "Leaf litter", "Drain tube", "Open ground", "Fern root")
    words = {word for label in labels for word in label.split()}
    rooms = [row for row in shown.splitlines() if row.startswith("│")]
    read = {
        word for row in rooms for word in row.replace("│", " ").split() if word[:1].isupper() or "…" in word
    }
    assert read <= words, read - words


async def test_words_go_before_any_is_cut(tmp_path: Path) -> None:
    text = STUDY.replace(
        "[groups.young]", '[animals.a4]\nlabel = "The fourth, of a long name"\nkey = "4"\n[groups.young]'
    )
    app, _ = make_app(tmp_path, text, method="focal", animals=("a1", "a2", "a3", "a4"))
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        shown = dump(app)
    assert "r Resting  m Walking  s Soaking" in shown and "x Strike!  1 Broad  2 Two  3 Old  4 The" in shown


async def test_what_is_said_on_leaving_is_broken_between_words(tmp_path: Path) -> None:
    app, _ = make_app(tmp_path)
    async with app.run_test(size=(40, 20)) as pilot:
        await begin(pilot)
        await pilot.press("ctrl+c")
        await pilot.pause()
    said = app.return_value or ""
    assert max(map(len, said.splitlines())) <= 39
    assert (
        said.replace("\n", " ")
        == "Left without finishing: zoneuse watch will offer to continue this session."
    )


# Signs that need Shift on one of the three keyboards.
_SHIFTED = set('":;<>!?_*#%+=')


@pytest.mark.parametrize("method", ["scan", "focal", "several", "retreat-round"])
def test_the_screen_names_keys_without_shift_and_the_lines_what_they_take(
    tmp_path: Path, method: str
) -> None:
    asked = {"method": method, "minutes": 1.0, "quiet_min": 1.0}
    if method in ("focal", "several"):
        asked |= {"method": "focal", "animals": ("a1",) if method == "focal" else ("a1", "a2")}
    if method == "retreat-round":
        asked = {}
    d = drive(tmp_path, ROUND if method == "retreat-round" else STUDY, **asked)
    said: list[str] = []

    def read() -> None:
        said.append(d.core.prompt(d.now).ask)
        said.append(d.core.notice)

    for keys in ("c", ":", ":", "q", "=", "⏎"):
        d.keys(keys)
        read()
    d.wait(200)
    read()
    if method == "retreat-round":
        d.wait(1).keys("→→→→")
        read()
    bare = [word for text in said for word in text.split() if len(word) == 1 and word in _SHIFTED]
    assert not bare, said
    shown = {action.hand for action in ACTIONS} - {"Ctrl+C"}
    assert not any(set(key) & _SHIFTED for key in shown)
    assert any("F4 goes on" in text for text in said) and any("F10 ends it" in text for text in said), said


def test_the_lines_name_words_and_signs(tmp_path: Path) -> None:
    d = drive(tmp_path, minutes=1.0, quiet_min=1.0)
    said: list[str] = []
    session = PlainSession(d.core, Recall(), said.append)
    session.answer("", d.now)
    assert "> starts now." in said[-1]
    session.answer("pause", d.now)
    assert "Paused; : goes on." in said[-1]
    session.answer(":", d.now)
    d.wait(200)
    session.answer("", d.now)
    assert "finish ends it." in said[-1] and "F10" not in said[-1]


def test_an_event_is_said_with_one_stop(tmp_path: Path) -> None:
    d = drive(tmp_path)
    said: list[str] = []
    PlainSession(d.core, Recall(), said.append).answer("!2x", d.now)
    assert "Saved: Two dots: Strike! scan 1" in said[-1]


def test_a_pasted_page_is_no_line_of_keys(tmp_path: Path) -> None:
    d = drive(tmp_path)
    said: list[str] = []
    session = PlainSession(d.core, Recall(), said.append)
    session.answer("cr wm 1x" * 1250, d.now)
    assert not d.records("seen", "unseen", "happened")
    assert "10000 characters are not a line of keys" in said[-1]
    session.answer("note " + "moss " * 100, d.now)
    assert len(d.records("noted")[0]["text"]) > 400


def test_a_practice_that_is_left_keeps_nothing_and_says_so(tmp_path: Path) -> None:
    d = drive(tmp_path)
    said: list[str] = []
    session = PlainSession(d.core, Recall(), said.append, ends=lambda core: [])
    assert not session.answer("leave", d.now)
    assert said[-1] == "The practice was left; none of it is kept."


def test_what_is_half_typed_stands_with_the_animal_it_is_about(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1", "a2"))
    d.keys("1r")
    prompt = d.core.prompt(d.now)
    assert prompt.ask == "▸1 resting: where?\n 2 Two dots: where?" and not prompt.typed


def test_a_wrong_round_names_zones_as_they_are_called(tmp_path: Path) -> None:
    d = drive(tmp_path, ROUND_STUDY, method="retreat-round")
    d.keys("1r")
    mode = d.core.mode
    assert isinstance(mode, Rounding)
    told = [" ".join(scored_round(mode, Practice(make_round_script(seed), "again"))) for seed in range(12)]
    wrong = [text for text in told if "recorded as" in text]
    assert wrong and all("recorded as Hide, resting" in text for text in wrong), told
