"""study.toml: sound ones are read, unsound ones are explained, every fault at once."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.making import FIXTURES, TWO_ZONES, study_folder, vienna
from zoneuse.study.clock import hours_since_lights_on, parse_when, slot_at, study_day, zone_offered
from zoneuse.study.keys import free_key
from zoneuse.study.problems import ProblemError
from zoneuse.study.toml.file import load_declaration, read_declaration
from zoneuse.study.toml.starter import Beginning, starter_text


def problems(folder: Path, text: str) -> list[str]:
    declared, found = read_declaration(study_folder(folder, text))
    assert (declared is None) == any(not p.hint for p in found)
    return [f"{p.place}: {p.code}" for p in found if not p.hint]


def test_the_example_of_the_design_passes_without_a_hint(tmp_path: Path) -> None:
    text = (FIXTURES / "design_example.toml").read_text(encoding="utf-8")
    declared, found = read_declaration(study_folder(tmp_path, text))
    assert declared is not None
    assert found == ()
    assert declared.zones["moss_end"].cover[0].value == 0.9
    assert declared.loggers["L1"].placed[0].start == datetime(2026, 3, 1, 9, 0, tzinfo=UTC)
    assert declared.limits["moss_end"]["humidity_pct"][0].value.low == 75
    assert declared.day_starts.hour == 12


def test_every_fault_is_said_at_once_with_its_place_and_a_remedy(tmp_path: Path) -> None:
    text = """
format = 1
title = ""
timezone = "Europe/Wien"
[enclosure]
measured_in = "floor_cm"
[zones.moss]
label = "Moss"
key = "mmm"
amount = -3
role = "retreet"
[animals.a1]
label = "Dot"
key = "q"
[behaviours.resting]
label = "Resting"
key = "r"
"""
    declared, found = read_declaration(study_folder(tmp_path, text))
    assert declared is None
    places = {p.place for p in found if not p.hint}
    assert places == {
        "title", "timezone", "enclosure.measured_in", "zones.moss.key", "zones.moss.amount", "zones.moss.role",
        "animals.a1.key", "behaviours.resting.lasts",
    }  # fmt: skip
    role = next(p for p in found if p.place == "zones.moss.role")
    assert "retreet" in role.found
    assert "retreat" in role.remedy
    assert all(p.remedy and p.expected for p in found if not p.hint)


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ('key = "b"', 'key = "m"', "zones.bark.key: key-twice"),
        ('key = "2"', 'key = "1"', "animals.a2.key: key-twice"),
        ('key = "m"\namount', 'key = "Y"\namount', "groups.young.key: key-collision"),
        ('placed = [{zone = "bark"}]', 'placed = [{zone = "barks"}]', "loggers.L2.placed[1].zone: unknown-id"),
        ('placed = [{zone = "bark"}]', 'placed = [{zone = "bark"}, {zone = "moss"}]', "loggers.L2.placed[2]: overlap"),
        ("amount = 100", "amount = [{from = 2026-01-01, is = 3}, {is = 4}]", "zones.bark.amount: overlap"),
        (
            "amount = 100",
            "amount = 100\npresent = [{from = 2026-03-02, until = 2026-03-01}]",
            "zones.bark.present[1].until: value",
        ),
        ("[loggers.L1]", '[loggers."../L1"]', "loggers.'../L1': id"),
        ('key = "b"', 'key = "mb"', "zones.bark.key: key-begins"),
        ('key = "2"', 'key = "1A"', "animals.a2.key: key-begins"),
        ('key = "r"', 'key = "br"', "behaviours.resting.key: key-begins"),
        ('key = "b"', 'key = "山"', "zones.bark.key: value"),
        ('measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nsketch = ["mmq"]', "enclosure.sketch: sketch"),
    ],
)  # fmt: skip
def test_one_fault_is_named_where_it_stands(tmp_path: Path, old: str, new: str, place: str) -> None:
    assert TWO_ZONES.count(old) == 1
    assert problems(tmp_path, TWO_ZONES.replace(old, new)) == [place]


def test_keys_are_optional_of_two_characters_and_of_any_alphabet(tmp_path: Path) -> None:
    text = TWO_ZONES.replace('key = "b"', 'key = "a\u0308"').replace('key = "m"', 'key = "ж1"')
    text = text.replace('key = "2"\n', "").replace('key = "r"\n', "")
    text = text.replace("measured_in", 'sketch = ["ж1 ж1 ä", ". ж1 ä"]\nmeasured_in', 1)
    declared, found = read_declaration(study_folder(tmp_path, text))
    assert declared is not None, found
    assert [z.key for z in declared.zones.values()] == ["ж1", "ä"]
    assert declared.enclosures["enclosure"].sketch == (("ж1", "ж1", "ä"), (".", "ж1", "ä"))
    assert declared.animals["a2"].key == "" and declared.behaviours["resting"].key == ""
    hints = [p.code for p in found if p.code == "no-key"]
    assert hints == ["no-key", "no-key"]


def test_a_key_of_two_is_proposed_where_no_letter_is_left() -> None:
    assert free_key(list("abcdefghijklmnopqrstuvwxy"), "bark") == "z"
    assert free_key([*"bcdefghijklmnopqrstuvwxyz", "aa"], "bark") == "ab"
    assert free_key(list("abcdefghijklmnopqrstuvwxyz"), "bark") == ""


def test_keys_that_collide_when_one_animal_is_followed_are_a_fault_only_then(tmp_path: Path) -> None:
    clash = TWO_ZONES.replace('key = "r"', 'key = "m"')
    assert problems(tmp_path / "scan", clash) == []
    focal = clash + '\n[watching]\nmethod = "focal"\n'
    assert problems(tmp_path / "focal", focal) == ["behaviours.resting.key: key-collision"]


def test_a_newer_format_is_refused_untouched(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TWO_ZONES.replace("format = 1", "format = 2"))
    before = (folder / "study.toml").read_bytes()
    with pytest.raises(ProblemError, match="newer"):
        read_declaration(folder)
    assert (folder / "study.toml").read_bytes() == before


@pytest.mark.parametrize("data", [b"", b"\xff\xfe\x00\x01\x80" * 50, b"format = ", b"[[[[", b"\x00" * 10])
def test_what_is_no_study_gets_one_clear_message(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "study.toml").write_bytes(data)
    try:
        declared, found = read_declaration(tmp_path)
    except ProblemError as error:
        found = error.problems
    else:
        assert declared is None
    assert found
    assert all("study.toml" in str(p) for p in found)


@pytest.mark.parametrize(
    "name", ["../../etc/passwd", "/etc/localtime", "Europe", "", "Mars/Olympus", "\x00", "a" * 5000]
)
def test_a_time_zone_is_a_name_and_never_a_path(tmp_path: Path, name: str) -> None:
    text = TWO_ZONES.replace('"Europe/Vienna"', json.dumps(name))
    assert problems(tmp_path, text)[0].startswith("timezone: ")


@settings(max_examples=300, deadline=None)
@given(data=st.data())
def test_a_mangled_study_is_explained_or_sound(
    data: st.DataObject, tmp_path_factory: pytest.TempPathFactory
) -> None:
    text = (FIXTURES / "design_example.toml").read_text(encoding="utf-8")
    for _ in range(data.draw(st.integers(1, 3))):
        start = data.draw(st.integers(0, len(text)))
        length = data.draw(st.integers(0, 12))
        text = (
            text[:start]
            + data.draw(st.sampled_from(["", "=", "[", "]", '"', "0", "-1", "nan", "true", "{}", "\n", "é"]))
            + text[start + length :]
        )
    folder = study_folder(tmp_path_factory.mktemp("mangled"), text)
    try:
        declared, found = read_declaration(folder)
    except ProblemError as error:
        assert error.problems
    else:
        assert declared is not None or any(not p.hint for p in found)


def test_a_started_study_passes_check_whatever_its_names(tmp_path: Path) -> None:
    odd = Beginning(
        title='A "quoted" \\ title',
        zones=tuple((f"Zone {c}", 1.5) for c in "ababzzä!"),
        animals=("Ä", "Ä", ""),
    )
    declared, found = read_declaration(study_folder(tmp_path, starter_text(odd)))
    assert declared is not None, found
    assert declared.title == 'A "quoted" \\ title'


def test_slots_follow_the_lights_and_a_timer_may_ignore_summer_time(tmp_path: Path) -> None:
    lit = TWO_ZONES.replace(
        'measured_in = "floor_cm2"', 'measured_in = "floor_cm2"\nlights = {on = "07:30", off = "19:00"}'
    )
    declared = load_declaration(study_folder(tmp_path / "a", lit))
    cases = {
        "06:59": "night",
        "07:00": "dawn",
        "07:59": "dawn",
        "08:00": "day",
        "18:29": "day",
        "18:30": "dusk",
        "19:30": "night",
    }
    assert {at: slot_at(declared, "enclosure", vienna(f"2026-06-10T{at}")) for at in cases} == cases
    assert hours_since_lights_on(declared, "enclosure", vienna("2026-06-10T06:30")) == 23.0
    timer = lit.replace('off = "19:00"}', 'off = "19:00", clock = "standard"}')
    standard = load_declaration(study_folder(tmp_path / "b", timer))
    # In summer a timer on standard time turns an hour later by the local clock.
    assert slot_at(standard, "enclosure", vienna("2026-06-10T08:30")) == "dawn"
    assert slot_at(standard, "enclosure", vienna("2026-01-10T07:30")) == "dawn"


def test_a_lit_zone_is_there_only_while_its_lamp_is_on(tmp_path: Path) -> None:
    lit = TWO_ZONES.replace(
        "amount = 100", 'amount = 100\ndaily = ["08:00", "18:00"]\npresent = [{from = 2026-03-01}]'
    )
    declared = load_declaration(study_folder(tmp_path, lit))
    there = [zone_offered(declared, declared.zones["bark"], vienna(t)) for t in (
        "2026-02-28T12:00", "2026-03-01T07:59", "2026-03-01T08:00", "2026-03-01T18:00")]  # fmt: skip
    assert there == [False, False, True, False]


def test_a_night_is_one_day_for_a_nocturnal_animal(tmp_path: Path) -> None:
    declared = load_declaration(
        study_folder(tmp_path, TWO_ZONES.replace('timezone = "', 'day_starts = "12:00"\ntimezone = "'))
    )
    days = {
        study_day(declared, vienna(t)).isoformat()
        for t in ("2026-03-01T23:50", "2026-03-02T00:10", "2026-03-02T11:59")
    }
    assert days == {"2026-03-01"}


@pytest.mark.parametrize(
    ("text", "utc"),
    [
        ("now", "2026-03-29T10:00:00"),
        ("2h ago", "2026-03-29T08:00:00"),
        ("90 min ago", "2026-03-29T08:30:00"),
        ("yesterday 21:30", "2026-03-28T20:30:00"),
        ("07:15", "2026-03-29T05:15:00"),
        ("2026-03-28", "2026-03-27T23:00:00"),
        ("2026-03-28T21:30", "2026-03-28T20:30:00"),
        ("2026-03-28T21:30:00+00:00", "2026-03-28T21:30:00"),
    ],
)
def test_times_on_the_command_line_across_the_change_to_summer_time(text: str, utc: str) -> None:
    now = datetime(2026, 3, 29, 10, 0, tzinfo=UTC)
    assert parse_when(text, now, vienna("2026-03-01T00:00").tzinfo).replace(tzinfo=None).isoformat() == utc  # type: ignore[arg-type]


@pytest.mark.parametrize("text", ["", "soon", "25:00", "2026-13-01", "-2h ago", "9" * 400])
def test_what_is_no_time_says_what_would_be(text: str) -> None:
    with pytest.raises(ValueError, match="yesterday 21:30"):
        parse_when(text, datetime(2026, 3, 29, tzinfo=UTC), UTC)
