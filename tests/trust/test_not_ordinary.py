"""A stranger's study: pipes, devices, depths, links and sizes. Each is one problem, named; the rest is answered."""

from __future__ import annotations

import os
import re
import unicodedata
from pathlib import Path

import pytest
from click.testing import Result

from tests.making import TWO_ZONES, demo_study, run, scans, study_folder
from zoneuse.journal.reader import MOST_NAMED, read_journals
from zoneuse.readings.store import intakes
from zoneuse.study.durable import write_whole
from zoneuse.study.toml.file import read_declaration


def at(study: Path, *words: str) -> Result:
    return run(*words, "--study", study)


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = study_folder(tmp_path / "study")
    scans(folder, "2026-02-01T19:00", [("moss", "bark"), ("moss", None)], animals=("a1", "a2"))
    return folder


def records(study: Path) -> int:
    return sum(len(s.entries) for s in read_journals(study).sessions.values())


def test_a_pipe_and_a_device_among_the_journals_are_named_and_the_rest_counts(study: Path) -> None:
    before = records(study)
    os.mkfifo(study / "journal" / "pipe.jsonl")
    (study / "journal" / "zero.jsonl").symlink_to("/dev/zero")
    assert records(study) == before
    assert [p.code for p in read_journals(study).problems] == ["unreadable", "unreadable"]
    assert at(study, "zones").exit_code == 0


@pytest.mark.parametrize("kind", ["pipe", "device"])
def test_study_toml_is_an_ordinary_file(study: Path, kind: str) -> None:
    (study / "study.toml").unlink()
    if kind == "pipe":
        os.mkfifo(study / "study.toml")
    else:
        (study / "study.toml").symlink_to("/dev/zero")
    assert at(study, "check").exit_code == 1


@pytest.mark.parametrize(
    ("code", "text"),
    [
        ("too-deep", TWO_ZONES + "\n" + "a." * 200_000 + "a = 1\n"),
        ("too-deep", TWO_ZONES + "\n[x]\ny = {" + "a." * 200_000 + "a = 1}\n"),
        ("wrong", TWO_ZONES.replace("amount = 300", f"amount = {'9' * 400}")),
        ("not-toml", TWO_ZONES.replace("amount = 300", f"amount = {'9' * 5000}")),
        ("wrong", TWO_ZONES + "\n[watching]\ncan = [" + '"weekdays 19:00-23:00",' * 100_000 + "]\n"),
    ],
    ids=["deep key", "deep inline key", "400 digits", "5000 digits", "100,000 windows"],
)  # fmt: skip
def test_depths_and_sizes_of_study_toml_are_bounded(tmp_path: Path, code: str, text: str) -> None:
    done = at(study_folder(tmp_path, text), "check")
    assert done.exit_code == 1
    assert len(done.stderr) < 2000
    assert code in ("too-deep", "not-toml") or "amount" in done.stderr or "can" in done.stderr


def test_dots_in_texts_sketches_and_dates_are_no_depth(tmp_path: Path) -> None:
    row = "m" + "." * 60 + "b"
    text = TWO_ZONES.replace('"floor_cm2"', f'"floor_cm2"\nsketch = ["{row}"] # {row}')
    amounts = ", ".join(f"{{from = 2026-01-{d:02d}, is = {d}.5}}" for d in range(1, 32))
    text = text.replace("amount = 300", f"amount = [{amounts}]")
    problems = read_declaration(study_folder(tmp_path, text))[1]
    assert not any(p.code == "too-deep" for p in problems)


def test_nothing_is_written_through_a_link_out_of_the_study(tmp_path: Path) -> None:
    folder, outside = study_folder(tmp_path / "study"), tmp_path / "outside"
    outside.mkdir()
    (folder / "journal").symlink_to(outside)
    for words in (("seen", "a1", "moss"), ("look", "a1=m"), ("note", "fed", "a1")):
        done = at(folder, *words)
        assert done.exit_code == 1
        assert "leads out of the study" in done.stderr
    assert list(outside.iterdir()) == []


def test_a_study_that_is_itself_a_link_is_written_as_any(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    (tmp_path / "link").symlink_to(folder)
    assert at(tmp_path / "link", "seen", "a1", "moss").exit_code == 0
    assert len(list((folder / "journal").iterdir())) == 1


def test_line_ends_of_windows_change_no_record(study: Path) -> None:
    before = read_journals(study)
    for path in (study / "journal").glob("*.jsonl"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    after = read_journals(study)
    assert not after.problems
    assert [e.record for e in after.entries()] == [e.record for e in before.entries()]


def test_line_ends_of_windows_change_no_reading(tmp_path: Path) -> None:
    study = demo_study(tmp_path / "study", "skink")
    for path in (study / "readings" / "taken-in").glob("*.json"):
        path.write_bytes(path.read_bytes().replace(b"\n", b"\r\n"))
    found, problems = intakes(study)
    assert not problems and len(found) == 5 and all(i.parts for i in found)


def test_a_file_damaged_throughout_is_said_shortly_and_counted_whole(study: Path) -> None:
    path = next((study / "journal").glob("*.jsonl"))
    lines = path.read_bytes().splitlines(keepends=True)
    path.write_bytes(lines[0] + b'{"n":9,"crc":"00000000"}\n' * 500)
    damaged = [p for p in read_journals(study).problems if p.code == "damaged"]
    assert len(damaged) == MOST_NAMED + 1
    assert re.search(r"\b490 more", damaged[-1].found)


def test_one_observer_in_two_unicode_forms_is_one(study: Path) -> None:
    for form in ("NFC", "NFD"):
        name = unicodedata.normalize(form, "Zoé")
        assert at(study, "look", "a1=m", "--observer", name).exit_code == 0
    seen = {s.observer for s in read_journals(study).sessions.values()}
    assert seen == {"mk", "Zoé"} or len(seen) == 2


def test_a_label_is_found_in_either_unicode_form(tmp_path: Path) -> None:
    study = study_folder(tmp_path, TWO_ZONES.replace('"Bark"', f'"{unicodedata.normalize("NFD", "Höhle")}"'))
    assert at(study, "seen", "a1", unicodedata.normalize("NFC", "Höhle")).exit_code == 0


@pytest.mark.parametrize(
    ("label", "code"), [("\u200b", "label-unseen"), ("Mоss", "label-twice"), ("MOSS\u200b", "label-twice")]
)
def test_labels_nobody_can_tell_apart_are_a_hint(tmp_path: Path, label: str, code: str) -> None:
    study = study_folder(tmp_path, TWO_ZONES.replace('"Bark"', f'"{label}"'))
    declared, problems = read_declaration(study)
    assert declared is not None
    assert code in [p.code for p in problems if p.hint]


def test_a_folder_named_like_an_address_is_a_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    study_folder(Path("s3:x"))
    Path("L1.csv").write_text(
        "Time,Temp (C)\n" + "".join(f"2026-03-01 {h:02d}:00,{20 + h / 2}\n" for h in range(24))
    )
    assert run("readings", "L1.csv", "--yes", "--study", "s3:x").exit_code == 0
    assert '"temperature_c"' in run("climate", "--json", "--study", "s3:x").stdout
    assert "left out" not in run("climate", "--study", "s3:x").stderr
    assert run("export", "a:b", "--study", "s3:x").exit_code == 0


def test_a_pipe_asked_for_is_written_to_and_stays_one(tmp_path: Path) -> None:
    # `report -o /dev/null --force`, as root, once made /dev/null a file.
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    write_whole(pipe, b"page")
    assert os.read(reader, 10) == b"page"
    os.close(reader)
    assert pipe.is_fifo()
