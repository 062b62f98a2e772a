"""A study from a stranger is safe to open: it ends in words, harmless ones, and nothing outside it is touched."""

from __future__ import annotations

import csv
import re
import socket
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder, tree
from tests.trust.strangers import COMMANDS, HOSTILE, ask, harmless, line, make_stranger, toml_text
from zoneuse.cli import COMMANDS as ALL_COMMANDS
from zoneuse.journal.reader import read_journals
from zoneuse.journal.writer import file_name
from zoneuse.readings.store.sealing import sealed
from zoneuse.readings.store.store import intakes


@pytest.fixture(autouse=True)
def no_network(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[object]]:
    """Every connection is refused and noted."""
    tried: list[object] = []

    def refuse(self: object, address: object, *more: object) -> None:
        tried.append(address)
        raise OSError("no network here")

    for name in ("connect", "connect_ex", "sendto"):
        monkeypatch.setattr(socket.socket, name, refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    yield tried
    assert tried == []


@pytest.mark.parametrize("seed", range(3))
def test_any_study_ends_in_harmless_words_and_is_left_alone(
    tmp_path: Path, seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = make_stranger(tmp_path / "in" / "study", seed)
    monkeypatch.chdir(tmp_path)
    before = tree(tmp_path)
    for words in COMMANDS:
        if words[0] in ALL_COMMANDS:
            ask(folder, words)
    assert tree(tmp_path) == before


@pytest.mark.calibration
def test_four_hundred_studies(tmp_path: Path) -> None:
    for seed in range(1000, 1400):
        folder = make_stranger(tmp_path / str(seed), seed)
        for words in COMMANDS:
            ask(folder, words)


@pytest.mark.parametrize("text", [t for t in HOSTILE if "\ud800" not in t and "\x00" not in t and t.strip()])
def test_what_is_typed_is_kept_and_shown_harmlessly(tmp_path: Path, text: str) -> None:
    study = study_folder(tmp_path / "study")
    for words in (
        ("note", f"x{text}"),
        ("seen", "a1", "moss", "--observer", f"x{text}"),
        ("adjust", "water", "moss", "--why", text),
    ):
        assert ask(study, words).exit_code == 0
    for words in (
        ("mend", "last"),
        ("mend",),
        ("shifts",),
        ("shifts", "--json"),
        ("shifts", "--csv", tmp_path / "t.csv"),
    ):
        ask(study, words)
    kept = {e.record.get("text") for e in read_journals(study).entries("noted")}
    assert kept == {f"x{text}"} or kept == {f"x{text}".strip()}
    for row in (tmp_path / "t.csv").read_text("utf-8").splitlines():
        assert harmless(row) and not any(cell.startswith(("=", "+", "@")) for cell in row.split(","))


def test_a_text_of_a_megabyte(tmp_path: Path) -> None:
    study = study_folder(tmp_path / "study", TWO_ZONES.replace('"Moss"', toml_text("M" * 1_000_000)))
    assert ask(study, ("note", "n" * 1_000_000)).exit_code == 0
    for words in (("seen", "a1", "moss"), ("mend", "last"), ("zones",), ("check",)):
        assert ask(study, words).exit_code == 0


@pytest.mark.parametrize(
    "name", ["../../out", "/tmp/out", "a/b", "..", "x\x00y", "a\nb", ".hidden", "n" * 300]
)
def test_no_session_id_leads_out_of_the_study(tmp_path: Path, name: str) -> None:
    study = study_folder(tmp_path / "in" / "study")
    (study / "journal").mkdir()
    opened = {"format": 1, "study": "x", "session": name, "part": 1, "observer": "mk", "method": "scan",
              "timezone": "Europe/Vienna", "source": {"name": "old.csv", "sha256": "0", "session": "1"}}  # fmt: skip
    seen = {"animal": "a1", "zone": "moss", "scan": 1}
    (study / "journal" / "innocent.jsonl").write_bytes(line(1, "opened", opened) + line(2, "seen", seen))
    table = tmp_path / "old.csv"
    table.write_text(
        "at,session,animal,zone,observer\n2026-03-03T19:00+01:00,1,a2,bark,mk\n2026-03-03T19:01,1,a1,moss,mk\n"
    )
    before = {*tree(tmp_path)}
    assert run("sightings", table, "--yes", "--study", study).exit_code == 0
    assert {Path(p).parent for p in {*tree(tmp_path)} - before} == {Path("in/study/journal")}
    done = run("check", "--study", study)
    assert done.exit_code == 1 and "innocent.jsonl" in done.stderr and harmless(done.stderr)


@pytest.mark.parametrize(
    "wrong", [('"id": "0badcafe"', '"id": "../../out"'), ('"logger": "L1"', '"logger": "../../x"')]
)
def test_no_intake_leads_out_of_the_study(tmp_path: Path, wrong: tuple[str, str]) -> None:
    study = study_folder(tmp_path / "in" / "study")
    text = (
        '{"format": 1, "id": "0badcafe", "file": "a.csv", "sha256": "0", "size": 1, "made": "2026", "kept": 0, '
        '"doubles": 0, "refused": 0, "parts": [{"logger": "L1", "rows": 0, "first_ms": 0, "last_ms": 0, '
        '"quantities": []}], "marks": [], "layout": {}}'
    )
    path = study / "readings" / "taken-in" / "0badcafe.json"
    path.parent.mkdir(parents=True)
    path.write_bytes(sealed(text.replace(*wrong)))
    before = {*tree(tmp_path)}
    found, problems = intakes(study)
    assert not found and len(problems) == 1
    assert run("readings", "--undo", "a.csv", "--study", study).exit_code == 1
    assert {*tree(tmp_path)} == before


@pytest.mark.parametrize(
    "name", ["a\x1b[2Jb.csv", "\u202egpj.csv", "=1+1.csv", "<b>.csv", "-rf.csv", "L1 \x07.csv"]
)
def test_file_names_are_shown_harmlessly(tmp_path: Path, name: str) -> None:
    study = study_folder(tmp_path / "study")
    table, export = tmp_path / name, tmp_path / f"x{name}"
    table.write_text("at,session,animal,zone\n2026-03-03T19:00,A,a2,bark\n")
    export.write_text("Time,Temp (C)\n2026-04-03 14:05,23.5\n2026-04-03 14:15,23.6\n")
    for words in (
        ("sightings", "--yes", "--", table), ("readings", "--yes", "--logger", "L1", "--", export),
        ("readings", "--yes", "--", export), ("readings",), ("mend",), ("check",),
        ("sightings", "--undo", "--", table), ("readings", "--undo", export), ("readings", "--undo", export),
        ("sightings", "--", tmp_path / f"no{name}"), ("readings", "--", tmp_path / f"no{name}"),
        ("zones", "--csv", tmp_path / f"out{name}"),
    ):  # fmt: skip
        done = run(*words[:1], "--study", study, *words[1:])
        assert harmless(done.stdout) and harmless(done.stderr), words


def test_every_part_name_is_a_plain_file_name() -> None:
    assert file_name("2026-03-04T180211Z-mk-7f3a", 2) == "2026-03-04T180211Z-mk-7f3a.part2.jsonl"


class _Page(HTMLParser):
    """What a browser would load or run: tags, attributes, text shown."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))


@pytest.mark.parametrize("seed", [0, 5])
def test_the_page_and_the_tables_of_a_strangers_study(tmp_path: Path, seed: int) -> None:
    study = make_stranger(tmp_path / "study", seed)
    sound = study_folder(tmp_path / "sound")
    page = _Page()
    plain = _Page()
    for folder, into in ((study, page), (sound, plain)):
        out = tmp_path / f"{folder.name}.html"
        assert ask(folder, ("report", "--vet", "-o", out)).exit_code == 0
        text = out.read_text("utf-8")
        assert harmless(text)
        into.feed(text)
    # No label made a tag: it holds the kinds of tags the page of a sound study may hold, and loads nothing.
    scripts = [a for t, a in page.tags if t == "script"]
    assert len(scripts) == len([a for t, a in plain.tags if t == "script"])
    for tag, attributes in page.tags:
        assert not any(name.startswith("on") for name in attributes), (tag, attributes)
        for name in ("src", "href", "action", "data", "xlink:href"):
            assert (attributes.get(name) or "#").startswith(("#", "data:image/")), (tag, attributes)
        assert tag not in ("iframe", "object", "embed", "link", "base", "form")
    assert ask(study, ("export", tmp_path / "tables", "--format", "csv")).exit_code == 0
    for path in (tmp_path / "tables").glob("*.csv"):
        for cells in csv.reader(path.read_text("utf-8").splitlines()):
            for cell in cells:
                assert harmless(cell), (path.name, cell)
                assert not re.match(r"[=@\t\r]|[+-](?![\d.])", cell), (path.name, cell)


def quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


@pytest.mark.parametrize(
    "text", [*(t for t in HOSTILE if "\ud800" not in t), "M" * 1_000_000], ids=str.__len__
)
def test_cells_of_tables_and_exports_are_shown_harmlessly(tmp_path: Path, text: str) -> None:
    study = study_folder(tmp_path / "study")
    cell, table, export = quoted(text), tmp_path / "old.csv", tmp_path / "L1.csv"
    head = "at,session,animal,zone,behaviour,observer\n2026-03-03T19:00,1,a1,moss,resting,mk\n"
    rows = [
        f"{cell},1,a1,moss,resting,mk", f"2026-03-03T19:01,{cell},a1,moss,resting,mk",
        f"2026-03-03T19:02,1,{cell},moss,resting,mk", f"2026-03-03T19:03,1,a1,{cell},resting,mk",
        f"2026-03-03T19:04,1,a1,moss,{cell},mk", f"2026-03-03T19:05,2,a1,moss,resting,{cell}",
    ]  # fmt: skip
    table.write_bytes((head + "\n".join(rows)).encode())
    export.write_bytes(
        f"Time,Temp (C),{cell}\n2026-04-03 14:05,23.5,{cell}\n2026-04-03 14:15,{cell},1\n{cell}\n"
        "2026-04-03 14:25,23.5,x\n2026-04-03 14:35,23.6,x\n".encode()
    )
    for words in (
        ("sightings", table, "--yes"), ("readings", export, "--yes"), ("readings",), ("mend", "--all"), ("check",),
        ("zones", "--csv", tmp_path / "t.csv"),
    ):  # fmt: skip
        done = run(*words[:1], "--study", study, *words[1:])
        assert done.exit_code in (0, 1) and harmless(done.stdout) and harmless(done.stderr), words
        assert len(done.stderr) < 100_000
    assert {p.parent.name for p in tmp_path.rglob("*") if p.is_file()} <= {
        tmp_path.name, "study", "journal", "readings", "taken-in", "logger=L1",
    }  # fmt: skip
