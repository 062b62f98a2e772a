"""Other people's tables: workbooks, two columns of time, D/M/Y, no sessions, wide, unknown names, later versions."""

from __future__ import annotations

import csv
import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from openpyxl import Workbook

from tests.making import VIENNA, run, study_folder, tree
from zoneuse.journal.reader import read_journals
from zoneuse.readings.times.written import read_written

Row = tuple[str, str | None, str | None, int | None]


def records(folder: Path) -> list[Row]:
    """What counts: local time, who, zone, count."""
    return sorted(
        (
            f"{e.record.at.astimezone(VIENNA):%Y-%m-%d %H:%M}",
            e.record.get("animal") or e.record.get("group"),
            e.record.get("zone"),
            e.record.get("count"),
        )
        for e in read_journals(folder).entries("seen", "unseen")
    )


def write(path: Path, rows: Sequence[Sequence[str]], delimiter: str = ";") -> Path:
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, delimiter=delimiter).writerows(rows)
    return path


@pytest.fixture
def study(tmp_path: Path) -> Path:
    return study_folder(tmp_path / "s")


def test_german_headers_two_columns_of_time_and_no_sessions(study: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "heft.csv", [
        ["Mein Heft", "", "", "", ""],
        ["Datum", "Uhrzeit", "Tier", "Ort", "Gewicht"],
        ["1.12.2025", "19:02", "Dot", "Moss", "12,4"],
        ["1.12.2025", "19:02", "Line", "-", "11,0"],
        ["1.12.2025", "19:12", "Dot", "Bark", ""],
        ["2.12.2025", "7:05 PM", "Dot", "Bark", ""],
    ])  # fmt: skip
    done = run("sightings", path, "--study", study, "--yes")
    assert done.exit_code == 0, done.stderr
    assert records(study) == [
        ("2025-12-01 19:02", "a1", "moss", None),
        ("2025-12-01 19:02", "a2", None, None),
        ("2025-12-01 19:12", "a1", "bark", None),
        ("2025-12-02 19:05", "a1", "bark", None),
    ]
    sessions = read_journals(study).sessions.values()
    assert [len([e for e in s.entries if e.record.kind in ("seen", "unseen")]) for s in sessions] == [3, 1]
    assert "Columns not read: Gewicht" in done.stderr
    assert "one ends where nothing was noted for 30 min" in done.stderr


def test_day_and_month_are_decided_by_the_file_or_refused_with_the_flag(study: Path, tmp_path: Path) -> None:
    either = [["date", "time", "animal", "zone"], ["1/12/2025", "19:02", "a1", "moss"]]
    open_ = run("sightings", write(tmp_path / "either.csv", either), "--study", study, "--yes")
    assert open_.exit_code == 1
    assert "--dates DMY" in open_.stderr
    assert records(study) == []
    said = run(
        "sightings", tmp_path / "either.csv", "--study", study, "--yes", "--dates", "MDY"
    )  # fmt: skip
    assert said.exit_code == 0
    decided = [*either, ["25/12/2025", "19:02", "a2", "moss"]]
    run("sightings", write(tmp_path / "decided.csv", decided), "--study", study, "--yes", "--dates", "DMY")
    assert [r[0] for r in records(study)] == ["2025-01-12 19:02", "2025-12-01 19:02", "2025-12-25 19:02"]


def test_a_workbook_is_read_by_its_sheet(study: Path, tmp_path: Path) -> None:
    book = Workbook()
    book.active.title = "Weights"  # type: ignore[union-attr]
    book.active.append(["date", "grams"])  # type: ignore[union-attr]
    book.active.append([datetime(2026, 3, 1), 12.5])  # type: ignore[union-attr]
    sheet = book.create_sheet("Evenings")
    sheet.append(["Date", "Time", "Animal", "Zone"])
    at = datetime(2026, 3, 1, 19, 2)
    sheet.append([datetime(2026, 3, 1), at.time(), "Dot", "Moss"])
    sheet.append([datetime(2026, 3, 2), at.time(), "Dot", None])
    path = tmp_path / "book.xlsx"
    book.save(path)
    asked = run("sightings", path, "--study", study, "--yes")
    assert asked.exit_code == 1
    assert "--sheet" in asked.stderr
    done = run("sightings", path, "--sheet", "Evenings", "--study", study, "--yes")
    assert done.exit_code == 0, done.stderr
    assert records(study) == [
        ("2026-03-01 19:02", "a1", "moss", None),
        ("2026-03-02 19:02", "a1", None, None),
    ]


def test_one_column_for_each_animal(study: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "wide.csv", [
        ["when", "Dot", "Line", "weather"],
        ["2026-03-01 19:00", "Moss", "", "wet"],
        ["2026-03-01 19:10", "b", "-", "dry"],
    ], ",")  # fmt: skip
    done = run("sightings", path, "--wide", "animal", "--study", study, "--yes")
    assert done.exit_code == 0, done.stderr
    assert records(study) == [
        ("2026-03-01 19:00", "a1", "moss", None),
        ("2026-03-01 19:10", "a1", "bark", None),
        ("2026-03-01 19:10", "a2", None, None),
    ]


def test_one_column_for_each_zone_with_counts(study: Path, tmp_path: Path) -> None:
    path = write(tmp_path / "wide.csv", [
        ["date", "time", "group", "n_moss", "n_bark"],
        ["2026-03-01", "19:00", "young", "4,0", "2"],
        ["2026-03-01", "20:00", "young", "0", "0"],
        ["2026-03-01", "21:00", "young", "2,5", "3"],
    ])  # fmt: skip
    maps = ("--map", "n_moss=moss", "--map", "n_bark=bark")
    done = run("sightings", path, "--wide", "zone", *maps, "--study", study, "--yes")
    assert done.exit_code == 0, done.stderr
    assert records(study) == [
        ("2026-03-01 19:00", "young", "bark", 2),
        ("2026-03-01 19:00", "young", "moss", 4),
        ("2026-03-01 20:00", "young", None, 6),
        ("2026-03-01 21:00", "young", "bark", 3),
    ]
    assert "a mean of several counts is no sighting" in done.stderr


def test_hours_without_their_dates_are_one_fault_whose_remedy_works(study: Path, tmp_path: Path) -> None:
    """Each of sixty rows was a fault of its own, and none said that the dates stood in another column."""
    path = write(tmp_path / "nights.csv", [
        ["Night", "Hour", "animal", "zone"], ["01.03.26", "22.28", "a1", "moss"], ["02.03.26", "21.05", "a1", "bark"],
    ])  # fmt: skip
    refused = run("sightings", path, "--study", study, "--yes")
    assert refused.exit_code == 1 and refused.stderr.count("Fault") == 1
    assert "--column date=HEADER --column 'time=Hour'" in refused.stderr and "Night" in refused.stderr
    done = run(
        "sightings", path, "--study", study, "--yes", "--column", "date=Night", "--column", "time=Hour"
    )
    assert done.exit_code == 0, done.stderr
    assert [at for at, *_ in records(study)] == ["2026-03-01 22:28", "2026-03-02 21:05"]


def test_a_column_of_those_not_found_is_counted(study: Path, tmp_path: Path) -> None:
    """It was left out, and named among the columns not read, though the keeper had said what it is."""
    path = write(tmp_path / "wide.csv", [
        ["at", "group", "moss", "bark", "Not seen"],
        ["2026-03-01 19:00", "young", "3", "1", "2"],
        ["2026-03-01 20:00", "young", "4", "2", "0"],
    ])  # fmt: skip
    done = run("sightings", path, "--wide", "zone", "--map", "Not seen=-", "--study", study, "--yes")
    assert done.exit_code == 0, done.stderr
    assert "not read" not in done.stderr
    entries = read_journals(study).entries("seen", "unseen")
    held = [(e.record.get("zone"), e.record.get("count")) for e in entries]
    assert sorted(held, key=str) == sorted(
        [("moss", 3), ("bark", 1), (None, 2), ("moss", 4), ("bark", 2)], key=str
    )
    only = run(
        "sightings", path, "--wide", "zone", "--map", "moss=-", "--map", "bark=-", "--study", study, "--yes"
    )
    assert only.exit_code == 1


def test_unknown_names_are_told_once_mapped_and_kept_for_the_next_file(study: Path, tmp_path: Path) -> None:
    rows = [["at", "session", "animal", "zone"]]
    rows += [[f"2026-03-01 19:{m:02}", "1", "a1", "Höhle"] for m in range(9)]
    path = write(tmp_path / "mar.csv", rows)
    first = run("sightings", path, "--study", study, "--yes")
    assert first.exit_code == 1
    assert "9 rows" in first.stderr
    assert "--map 'Höhle=ZONE'" in first.stderr
    done = run("sightings", path, "--study", study, "--yes", "--map", "Höhle=bark")
    assert done.exit_code == 0
    assert {r[2] for r in records(study)} == {"bark"}
    april = [rows[0], *([at.replace("-03-", "-04-"), "1", who, zone] for at, _, who, zone in rows[1:])]
    again = run("sightings", write(tmp_path / "apr.csv", april), "--study", study, "--yes")
    assert again.exit_code == 0, again.stderr
    assert "Read as mar.csv was" in again.stderr
    assert len(records(study)) == 18


V1 = [
    ["at", "animal", "zone"],
    ["2026-03-01 19:00", "a1", "moss"],
    ["2026-03-01 19:10", "a1", "moss"],
    ["2026-03-01 19:20", "a1", "bark"],
    ["2026-03-02 19:00", "a1", "moss"],
]


def test_a_later_version_adds_what_is_new_and_changed_rows_wait_to_be_replaced(
    study: Path, tmp_path: Path
) -> None:
    run("sightings", write(tmp_path / "notes.csv", V1), "--study", study, "--yes")
    v2 = [list(row) for row in V1]
    v2[2][2] = "bark"  # another zone
    v2[3][0] = "2026-03-01 19:21"  # another time
    v2.append(["2026-03-03 19:00", "a1", "bark"])
    path = write(tmp_path / "notes.csv", v2)
    waits = run("sightings", path, "--study", study, "--yes")
    assert "1 session as before, 1 new, 2 rows changed" in waits.stderr
    old = [(at, a, z, None) for at, a, z in V1[1:]]
    assert records(study) == [*old, ("2026-03-03 19:00", "a1", "bark", None)]
    done = run("sightings", path, "--study", study, "--yes", "--replace")
    assert "2 replaced" in done.stdout
    assert records(study) == [(at, a, z, None) for at, a, z in v2[1:]]
    # The same again changes nothing, nor does the replaced version count beside it.
    before = tree(study)
    run("sightings", path, "--study", study, "--yes", "--replace")
    assert tree(study) == before
    # A third version replaces the second.
    v2[2][2] = "moss"
    run("sightings", write(tmp_path / "notes.csv", v2), "--study", study, "--yes", "--replace")
    assert records(study) == [(at, a, z, None) for at, a, z in v2[1:]]


def test_what_mend_changed_wins_over_a_later_version(study: Path, tmp_path: Path) -> None:
    run("sightings", write(tmp_path / "notes.csv", V1), "--study", study, "--yes")
    (first, *_) = read_journals(study).sessions
    run("mend", first, "2", "--zone", "bark", "--study", study)
    v2 = [list(row) for row in V1]
    v2[1][2] = ""
    done = run("sightings", write(tmp_path / "notes.csv", v2), "--study", study, "--yes", "--replace")
    assert "1 corrected since, which stay corrected" in done.stdout
    assert records(study)[0] == ("2026-03-01 19:00", "a1", "bark", None)


def test_undo_needs_the_name_only_and_brings_back_what_was_replaced(study: Path, tmp_path: Path) -> None:
    one = write(tmp_path / "one.csv", V1)
    run("sightings", one, "--study", study, "--yes")
    v2 = [list(row) for row in V1]
    v2[2][2] = "bark"
    v2.append(["2026-03-02 19:05", "a1", "bark"])
    two = write(tmp_path / "two.csv", v2)
    run("sightings", two, "--study", study, "--yes", "--replace")
    assert len(records(study)) == 5
    two.unlink()
    out = run("sightings", "two.csv", "--undo", "--study", study)
    assert out.exit_code == 0, out.stderr
    assert "Restored: 1 row it had replaced" in out.stdout
    assert "of the same sessions, from one.csv" in out.stdout
    assert records(study) == [(at, a, z, None) for at, a, z in V1[1:]]
    one.unlink()
    assert run("sightings", "one.csv", "--undo", "--study", study).exit_code == 0
    assert records(study) == []
    nothing = run("sightings", "one.csv", "--undo", "--study", study)
    assert nothing.exit_code == 1


def test_a_row_added_before_a_sitting_does_not_make_it_another(study: Path, tmp_path: Path) -> None:
    run("sightings", write(tmp_path / "notes.csv", V1), "--study", study, "--yes")
    v2 = [V1[0], ["2026-03-01 18:50", "a1", "moss"], *V1[1:]]
    run("sightings", write(tmp_path / "notes.csv", v2), "--study", study, "--yes")
    assert len(records(study)) == 5
    assert len(read_journals(study).sessions) == 2


def test_any_versions_in_any_order_never_count_a_row_twice(tmp_path: Path) -> None:
    rng = random.Random(7)
    for case in range(25):
        folder = study_folder(tmp_path / f"s{case}")
        rows: dict[datetime, str] = {}
        for version in range(4):
            start = datetime(2026, 3, 1, 19, tzinfo=UTC)
            for _ in range(rng.randrange(1, 6)):
                rows[start + timedelta(minutes=10 * rng.randrange(40))] = rng.choice(["moss", "bark", ""])
            for at in rng.sample(sorted(rows), rng.randrange(0, min(3, len(rows)))):
                del rows[at]
            table = [["at", "animal", "zone"]]
            table += [[f"{at.astimezone(VIENNA):%Y-%m-%d %H:%M}", "a1", zone] for at, zone in rows.items()]
            if len(table) == 1:
                continue
            path = write(folder.parent / "notes.csv", table)
            run("sightings", path, "--study", folder, "--yes", "--replace")
            wanted = {at: zone or None for at, zone in ((r[0], r[2]) for r in table[1:])}
            here = {r[0]: r[2] for r in records(folder)}
            assert len(here) == len(records(folder)), (case, version)
            # Whole sessions that left the file stay; every row of the file counts as it says.
            assert {at: here.get(at, "?") for at in wanted} == wanted, (case, version)


def test_written_times_meet_a_plain_reader_on_random_files() -> None:
    rng = random.Random(3)
    for _ in range(300):
        day_first, half, seconds = rng.random() < 0.5, rng.random() < 0.5, rng.random() < 0.5
        truth = [
            datetime(2025, 1, 1) + timedelta(minutes=rng.randrange(500_000))
            for _ in range(rng.randrange(2, 30))
        ]
        clock = ("%I:%M:%S %p" if seconds else "%I:%M %p") if half else ("%H:%M:%S" if seconds else "%H:%M")
        dates = [f"{t:%d/%m/%Y}" if day_first else f"{t:%m/%d/%Y}" for t in truth]
        found = read_written(dates, [t.strftime(clock) for t in truth])
        if found.orders:
            assert all(t.day <= 12 for t in truth)
        else:
            assert list(found.times) == truth
