"""A sheet for paper, and what was ticked on it typed in: the same records as the recorder makes."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.recorder.studies import STUDY, make_study
from zoneuse.cli import cli
from zoneuse.export.paper import sheets
from zoneuse.journal.reader import read_journals
from zoneuse.study.problems import ProblemError
from zoneuse.study.toml.file import load_declaration

AT = datetime(2026, 3, 4, 20, tzinfo=UTC)


def typed(folder: Path, *lines: str) -> tuple[int, str]:
    result = CliRunner().invoke(
        cli, ["watch", "--from-paper", "--study", str(folder), "--every", "60"], input="\n".join(lines)
    )
    return result.exit_code, " ".join(result.output.split())


def session_of(folder: Path):
    (one,) = read_journals(folder).sessions.values()
    return one


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return make_study(tmp_path / "study", STUDY)


def order(folder: Path) -> list[str]:
    found = re.search(r"Order: (.*?) Scan 1", typed(folder, "2026-03-04 21:00")[1])
    assert found
    return [part.split()[0] for part in found[1].split(", ")]


def test_what_is_typed_is_on_record_at_the_papers_times_and_entered_now(folder: Path) -> None:
    declared = load_declaration(folder)
    who = order(folder)
    zone, other = list(declared.zones.values())[:2]
    state = next(b for b in declared.behaviours.values() if b.lasts)
    groups = {g.key: g for g in declared.groups.values()}
    size = {k: g.size[0].value for k, g in groups.items()}
    one = [f"{zone.key}{size[k]}" if k in groups else f"{zone.key}{state.key}" for k in who]
    two = ["=" if k in groups else "-" for k in who]
    wrong = ["??"] * len(who)
    status, said = typed(
        folder, "2026-03-04 21:00", " ".join(one), " ".join(wrong), " ".join([f"{other.key}", *one[1:]]), "<",
        " ".join(two), " ".join(["."] * len(who)), "",
    )  # fmt: skip
    assert status == 0, said
    assert "Saved:" in said and "3 scans" in said
    journal = next(iter((folder / "journal").glob("*.jsonl"))).read_text().splitlines()
    assert '"every_s":60' in journal[0].replace(" ", "") and '"method":"scan"' in journal[0]
    assert all('"entered":"' in line for line in journal)
    entries = [e for e in session_of(folder).entries if e.record.kind in ("seen", "unseen", "missed")]
    scans = [e.record.fields["scan"] for e in entries]
    assert scans == [1] * len(who) + [2] * len(who) + [3] * len(who)
    clock = {e.record.fields["scan"]: e.record.at.astimezone(UTC).strftime("%H:%M:%S") for e in entries}
    assert clock == {1: "20:00:00", 2: "20:01:00", 3: "20:02:00"}
    animals = [e.record for e in entries if e.record.fields.get("animal")]
    assert {r.kind for r in animals if r.fields["scan"] == 1} == {"seen"}
    assert {r.fields["behaviour"] for r in animals if r.kind == "seen"} == {state.id}
    assert {r.fields["zone"] for r in animals if r.kind == "seen"} == {zone.id}
    assert {r.kind for r in animals if r.fields["scan"] == 3} == {"missed"}


def test_the_input_ending_saves_what_was_entered_and_a_paper_of_tomorrow_is_none(folder: Path) -> None:
    who = order(folder)
    assert not list((folder / "journal").glob("*.jsonl"))
    assert "is in the future" in typed(folder, "2199-01-01 21:00")[1]
    status, _ = typed(folder, "2026-03-04 21:00", " ".join(["."] * len(who)))
    assert status == 0 and len(session_of(folder).entries) >= len(who)


@pytest.mark.parametrize("kind", ["pdf", "svg"])
def test_a_sheet_has_a_box_for_each_zone_of_each_animal_in_each_scan(folder: Path, kind: str) -> None:
    declared = load_declaration(folder)
    made = dict(sheets(declared, AT, Path(f"sheet.{kind}")))
    again = dict(sheets(declared, AT, Path(f"sheet.{kind}")))
    assert made == again, "the same study gives the same bytes"
    first = made[Path(f"sheet.{kind}")]
    assert first.startswith(b"%PDF" if kind == "pdf" else b"<?xml")
    with pytest.raises(ProblemError, match="neither a PDF nor an SVG"):
        list(sheets(declared, AT, Path("sheet.docx")))


def test_every_animal_and_scan_is_on_some_page(folder: Path) -> None:
    from zoneuse.export.paper import _pages

    declared = load_declaration(folder)
    pages = list(_pages(declared, AT))
    watching = declared.watching
    scans = round(watching.minutes * 60 / watching.every_s)
    met = {(one.id, scan) for page in pages for one in page.who for scan in page.scans}
    everyone = [*declared.animals, *declared.groups]
    assert met == {(one, scan) for one in everyone for scan in range(1, scans + 1)}
