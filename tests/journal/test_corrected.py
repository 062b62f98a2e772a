"""A correction counts where the record stood, whoever made it, wherever it was written, however often."""

from __future__ import annotations

import json
import secrets
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.making import VIENNA, run, scans, session, study_folder, vienna
from zoneuse import open_study
from zoneuse.journal.reader import read_journals
from zoneuse.journal.writer import continue_session

TABLE = "at,session,animal,zone\n2026-03-01T20:00,one,a1,moss\n2026-03-01T20:01,one,a1,bark\n"


def counts(folder: Path) -> list[tuple[str, Any]]:
    """Who was counted where, from the moments that enter shares."""
    rows = open_study(folder).moments
    rows = rows[rows["out"] == ""]
    zones = rows["zone"].astype(object).where(rows["zone"].notna(), None)
    return sorted(zip(rows["animal"].fillna(rows["group"]), zones, strict=True), key=str)


def zones_json(folder: Path) -> dict[str, Any]:
    return json.loads(run("zones", "--json", "--study", folder).stdout)


def test_a_mended_look_is_in_every_answer(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    assert run("look", "a1=moss", "a2=moss", "--study", folder).exit_code == 0
    assert run("mend", "last", "2", "--zone", "bark", "--study", folder).exit_code == 0
    assert counts(folder) == [("a1", "bark"), ("a2", "moss")]
    effort = zones_json(folder)["effort"]
    assert (effort["moments"], effort["records"], effort["left_out"]) == (2, 3, {"corrected": 1})
    out = tmp_path / "tables"
    assert run("export", out, "--format", "csv", "--study", folder).exit_code == 0
    assert "bark" in (out / "moments.csv").read_text()
    assert "corrected" in (out / "records.csv").read_text()


def test_it_keeps_session_scan_and_moment_also_over_a_chain(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    scans(folder, "2026-03-01T20:00", [("moss",), ("moss",), ("bark",)])
    before = open_study(folder).moments
    for zone in ("bark", "moss", "bark"):
        assert run("mend", "last", "2", "--zone", zone, "--study", folder).exit_code == 0
    after = open_study(folder).moments
    assert after["zone"].tolist() == ["bark", "moss", "bark"]
    for column in ("at", "session", "scan", "animal"):
        assert after[column].tolist() == before[column].tolist()
    assert run("mend", "last", "2", "--take-back", "--study", folder).exit_code == 0
    assert len(open_study(folder).moments) == 2
    assert run("mend", "last", "2", "--put-back", "--study", folder).exit_code == 0
    assert open_study(folder).moments["zone"].tolist() == ["moss", "moss", "bark"]
    assert run("mend", "last", "2", "--zone", "bark", "--study", folder).exit_code == 0
    assert open_study(folder).moments["zone"].tolist() == ["bark", "moss", "bark"]


def test_corrected_on_two_devices_one_counts_and_both_are_shown(tmp_path: Path) -> None:
    one, other = study_folder(tmp_path / "one"), tmp_path / "other"
    scans(one, "2026-03-01T20:00", [("moss",)])
    shutil.copytree(one, other)
    assert run("mend", "last", "2", "--zone", "bark", "--study", one).exit_code == 0
    assert run("mend", "last", "2", "--guess", "--study", other).exit_code == 0
    for path in (other / "journal").iterdir():
        shutil.copy(path, one / "journal" / path.name)
    assert len(counts(one)) == 1
    assert "2 times independently" in run("check", "--study", one).stderr
    listed = run("mend", "last", "--study", one).stdout
    assert "corrected; was" in listed and "also corrected" in listed
    # Taken back, nothing counts; put back, what was written first does.
    assert run("mend", "last", "2", "--take-back", "--study", one).exit_code == 0
    assert counts(one) == []
    assert run("mend", "last", "2", "--put-back", "--study", one).exit_code == 0
    assert counts(one) == [("a1", "moss")]


def test_groups_guesses_and_events_are_corrected_alike(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    assert run("look", "young=m3,b2,-1", "a1=m?", "--study", folder).exit_code == 0
    assert run("seen", "a2", "moss", "strike", "--study", folder).exit_code == 0
    assert (
        run("mend", "last", "2", "--behaviour", "strike", "--animal", "a1", "--study", folder).exit_code == 0
    )
    events = [e.record.get("animal") for e in read_journals(folder).entries("happened")]
    assert events == ["a1"]
    look = next(s.id for s in read_journals(folder).sessions.values() if s.method == "scan")
    assert run("mend", look, "2", "--count", "4", "--study", folder).exit_code == 0
    assert run("mend", look, "5", "--sure", "--study", folder).exit_code == 0
    rows = open_study(folder).moments
    assert rows[rows["group"] == "young"]["weight"].tolist() == [4.0, 2.0, 1.0]
    assert rows[rows["animal"] == "a1"]["sure"].tolist() == [True]
    refused = run("mend", look, "5", "--count", "2", "--study", folder)
    assert refused.exit_code == 2 and "a single animal" in refused.stderr


def test_a_focal_record_corrected_later_keeps_its_ticks(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="focal", every_s=60)
    started = journal._started
    for minute, zone in ((0, "moss"), (5, "bark")):
        when = at + timedelta(minutes=minute)
        journal.append("seen", when, animal="a1", zone=zone, mono=started + 60 * minute)
    journal.append("closed", at + timedelta(minutes=10), reason="finished", mono=started + 600)
    journal.close()
    assert open_study(folder).moments["zone"].tolist() == ["moss"] * 5 + ["bark"] * 5
    assert run("mend", "last", "2", "--zone", "bark", "--study", folder).exit_code == 0
    assert open_study(folder).moments["zone"].tolist() == ["bark"] * 10
    assert (
        run("mend", "last", "3", "--at", "2026-03-01T20:02", "--zone", "moss", "--study", folder).exit_code
        == 0
    )
    assert open_study(folder).moments["zone"].tolist() == ["bark"] * 2 + ["moss"] * 8


def test_a_table_taken_in_again_leaves_what_was_corrected_and_taken_back(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    table = tmp_path / "evening.csv"
    table.write_text(TABLE)
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    assert run("mend", "last", "2", "--zone", "bark", "--study", folder).exit_code == 0
    assert run("mend", "last", "3", "--take-back", "--study", folder).exit_code == 0
    table.write_text(TABLE + "2026-03-01T20:02,one,a1,moss\n")
    again = run("sightings", table, "--yes", "--study", folder)
    assert "1 corrected since" in again.stdout and "1 taken back since" in again.stdout
    assert counts(folder) == [("a1", "bark"), ("a1", "moss")]


def test_a_table_undone_may_be_taken_in_again(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    table = tmp_path / "evening.csv"
    table.write_text(TABLE)
    for _ in range(2):
        assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
        assert counts(folder) == [("a1", "bark"), ("a1", "moss")]
        assert run("sightings", "--undo", table, "--study", folder).exit_code == 0
        assert counts(folder) == []


def test_a_table_taken_in_again_never_draws_an_id_that_stands_already(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A thousand sessions taken back and in again draw one of 65,536 endings twice in about one of sixty intakes."""
    drawn = iter(["0000"] * 8 + ["0001"] * 8)
    real = secrets.token_hex
    monkeypatch.setattr(secrets, "token_hex", lambda size: next(drawn) if size == 2 else real(size))
    folder = study_folder(tmp_path / "study")
    table = tmp_path / "evening.csv"
    table.write_text(TABLE)
    for arguments in (("--yes",), ("--undo",), ("--yes",)):
        done = run("sightings", table, *arguments, "--study", folder)
        assert done.exit_code == 0, done.stderr
    assert counts(folder) == [("a1", "bark"), ("a1", "moss")]


def test_two_devices_that_continue_one_session_do_not_mix(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    first = session(folder, at)
    first.append("seen", at, animal="a1", zone="moss", scan=1)
    first.close()
    parts = []
    for minute, zone in ((5, "moss"), (7, "bark")):
        when = at + timedelta(minutes=minute)
        part = continue_session(
            folder,
            first.session,
            2,
            at=when,
            zone=VIENNA,
            study="x",
            observer="mk",
            method="scan",
            every_s=60,
        )
        part.append("seen", when, animal="a2", zone=zone, scan=minute)
        parts.append(part)
    assert len({p.path for p in parts}) == 2
    # One takes its own record back; the other's of the same number stays.
    own = parts[0]
    of = {"session": own.session, "part": 2, "n": 2, "file": own.file}
    own.append("took-back", at + timedelta(minutes=8), of=of)
    for part in parts:
        part.close()
    assert counts(folder) == [("a1", "moss"), ("a2", "bark")]
    assert "2-" in run("mend", "last", "--study", folder).stdout


def test_a_record_that_replaces_two_counts_once(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="retreat-round")
    old = [journal.append("seen", at, animal=animal, zone="moss").n for animal in ("a1", "a2")]
    new = journal.append("seen", at, zone="moss", count=2).n
    for n in old:
        of, by = ({"session": journal.session, "part": 1, "n": k} for k in (n, new))
        journal.append("took-back", at, of=of, replaces=by)
    journal.close()
    found = list(read_journals(folder).entries("seen"))
    assert [e.record.get("count") for e in found] == [2]


@pytest.mark.parametrize("links", [3000])
def test_thousands_of_take_backs_fold_at_once(tmp_path: Path, links: int) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at)
    n = journal.append("seen", at, animal="a1", zone="moss", scan=1).n
    lines = []
    from zoneuse.journal.records import Record, encode

    for k in range(links):
        of = {"session": journal.session, "part": 1, "n": n + k}
        lines.append(encode(Record(n + k + 1, at, "took-back", {"of": of})))
    journal.close()
    with journal.path.open("ab") as stream:
        stream.write(b"".join(lines))
    assert (len(counts(folder)) == 1) == (links % 2 == 0)
