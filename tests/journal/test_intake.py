"""Tables of past sightings: good rows in, bad ones named, none twice, and what came in can go out again."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.making import TWO_ZONES, run, session, study_folder, tree
from zoneuse.journal.past.intake import take_in
from zoneuse.journal.past.table import read_table
from zoneuse.journal.reader import read_journals
from zoneuse.study.toml.file import load_declaration

NOW = datetime(2026, 5, 1, 12, 0, tzinfo=UTC)
HEADER = "at,session,animal,zone,behaviour,observer,group,count,method\n"


def table(folder: Path, text: str, name: str = "old.csv") -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def zones_seen(folder: Path) -> list[tuple[str | None, str | None]]:
    return [
        (e.record.get("animal") or e.record.get("group"), e.record.get("zone"))
        for e in read_journals(folder).entries("seen", "unseen")
    ]


def test_rows_become_sessions_scans_and_events(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    text = HEADER + (
        "2026-03-01 20:00,1,a1,moss,resting,jo,,,\n"
        "2026-03-01 20:00,1,a2,,,jo,,,\n"
        "2026-03-01 20:01,1,1,b,w,jo,,,\n"
        "2026-03-01 20:01,1,a1,b,strike,jo,,,\n"
        "2026-03-02 20:00,2,,m,,jo,young,4,\n"
        "2026-03-02 20:00,2,,b,,jo,young,2,\n"
    )
    result = run("sightings", table(tmp_path, text), "--study", folder, "--yes")
    assert result.exit_code == 0, result.stderr
    assert "6 rows taken in as 2 sessions, 0 refused" in result.stdout
    first, second = read_journals(folder).sessions.values()
    kinds = [(e.record.kind, e.record.get("zone"), e.record.get("scan")) for e in first.entries[1:-1]]
    assert kinds == [
        ("seen", "moss", 1),
        ("unseen", None, 1),
        ("seen", "bark", 2),
        ("happened", "bark", None),
    ]
    assert [(e.record.get("zone"), e.record.get("count")) for e in second.entries[1:-1]] == [
        ("moss", 4),
        ("bark", 2),
    ]
    assert first.source["session"] == "1"
    assert first.observer == "jo"


def test_bad_rows_are_named_with_line_column_and_reason_and_the_good_ones_come_in(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    text = HEADER + (
        "2026-03-01 20:00,1,a1,moss,,,,,\n"
        "soon,1,a1,moss,,,,,\n"
        "2026-03-01 20:02,1,a9,moss,,,,,\n"
        "2026-03-01 20:03,1,a1,mos,,,,,\n"
        "2026-03-01 20:04,,a1,moss,,,,,\n"
        "2026-03-01 20:05,1,a1,moss,sleeping,,,,\n"
        "2026-03-01 20:06,1,,moss,,,young,many,\n"
        "2026-03-01 20:07,1,a1,moss,,,,,sweep\n"
        "2026-03-01 20:00,1,a1,bark,,,,,\n"
        "2026-03-01 20:00,1,a1,moss,,,,,\n"
    )
    result = run("sightings", table(tmp_path, text), "--study", folder, "--yes")
    assert result.exit_code == 0
    assert "1 row taken in as 1 session, 1 already here, 8 refused" in result.stdout
    for place in (
        "line 3, column at", "line 4, column animal", "line 5, column zone", "line 6, column session",
        "line 7, column behaviour", "line 8, column count", "line 9, column method", "line 10, column zone",
    ):  # fmt: skip
        assert place in result.stderr
    assert "the nearest name is 'moss'" in result.stderr


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"at,session,zone,animal\n", "no row"),
        (b"at,session,animal\n2026-03-01,1,a1\n", "no column 'zone'"),
        (bytes(range(256)) * 20, "not a text file"),
        (b'at,session,animal,zone\n"2026-03-01,1,a1,moss\n', "cannot be read"),
    ],
)
def test_what_is_no_table_is_refused_with_place_and_nothing_changed(
    tmp_path: Path, data: bytes, says: str
) -> None:
    folder = study_folder(tmp_path / "s")
    path = tmp_path / "odd.csv"
    path.write_bytes(data)
    before = tree(folder)
    result = run("sightings", path, "--study", folder, "--yes")
    assert result.exit_code == 1
    assert says in result.stderr
    assert str(path) in result.stderr
    assert tree(folder) == before


def test_a_folder_and_a_missing_file_are_refused(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    assert "this is a folder" in run("sightings", folder, "--study", folder).stderr
    assert "cannot be read" in run("sightings", tmp_path / "none.csv", "--study", folder).stderr


def test_a_table_that_has_grown_adds_only_what_is_new_to_the_same_session(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    old = HEADER + "2026-03-01 20:00,1,a1,moss,,,,,\n2026-03-01 20:01,1,a1,moss,,,,,\n"
    run("sightings", table(tmp_path, old), "--study", folder, "--yes")
    grown = old + "2026-03-01 20:02,1,a1,bark,,,,,\n"
    result = run("sightings", table(tmp_path, grown, "new.csv"), "--study", folder, "--yes")
    assert "1 row taken in as 1 session, 2 already here" in result.stdout
    (only,) = read_journals(folder).sessions.values()
    assert only.parts == 2
    assert [e.record.get("scan") for e in only.entries if e.record.kind == "seen"] == [1, 2, 3]


def test_two_tables_that_both_number_from_one_stay_two_sessions(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    for month in ("03", "04"):
        path = table(tmp_path, HEADER + f"2026-{month}-01 20:00,1,a1,moss,,,,,\n", f"{month}.csv")
        run("sightings", path, "--study", folder, "--yes")
    assert len(read_journals(folder).sessions) == 2


def test_what_was_taken_in_can_be_taken_out_and_in_again(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    path = table(tmp_path, HEADER + "2026-03-01 20:00,1,a1,moss,,,,,\n2026-03-01 20:01,1,a1,bark,,,,,\n")
    run("sightings", path, "--study", folder, "--yes")
    again = run("sightings", path, "--study", folder, "--yes")
    assert "0 rows taken in as 0 sessions, 2 already here" in again.stdout
    before = tree(folder)
    out = run("sightings", path, "--study", folder, "--undo")
    assert "1 session taken back out" in out.stdout
    assert zones_seen(folder) == []
    assert {k: v for k, v in tree(folder).items() if k in before} == before
    assert run("sightings", path, "--study", folder, "--undo").exit_code == 1
    assert "2 rows taken in" in run("sightings", path, "--study", folder, "--yes").stdout
    assert zones_seen(folder) == [("a1", "moss"), ("a1", "bark")]


def test_columns_may_have_other_names_and_the_table_another_delimiter_and_encoding(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s", TWO_ZONES.replace('label = "Dot"', 'label = "Größte"'))
    path = tmp_path / "alt.csv"
    path.write_bytes("Zeit;Abend;Tier;Ort\n04.03.2026 19:05;1;Größte;Moss\n".encode("cp1252"))
    names = (
        "--column",
        "at=Zeit",
        "--column",
        "session=Abend",
        "--column",
        "animal=Tier",
        "--column",
        "zone=Ort",
    )
    result = run("sightings", path, "--study", folder, "--yes", *names)
    assert result.exit_code == 0, result.stderr
    assert zones_seen(folder) == [("a1", "moss")]
    (entry,) = read_journals(folder).entries("seen")
    assert entry.record.at == datetime(2026, 3, 4, 18, 5, tzinfo=UTC)
    assert run("sightings", path, "--study", folder, "--column", "when=Zeit").exit_code == 2


@pytest.mark.parametrize(
    ("clocks", "utc"),
    [
        (["01:50", "02:10", "02:50", "02:10", "03:10"], ["23:50", "00:10", "00:50", "01:10", "02:10"]),
        (["01:50", "02:10", "02:30"], ["23:50", "00:10", "00:30"]),
        (["02:30", "02:50", "03:10"], ["01:30", "01:50", "02:10"]),
        (["02:30+01:00"], ["01:30"]),
        (["02:10", "02:30"], []),
    ],
)  # fmt: skip
def test_the_hour_that_comes_twice_is_told_by_the_order_of_rows_or_refused(
    tmp_path: Path, clocks: list[str], utc: list[str]
) -> None:
    folder = study_folder(tmp_path / "s")
    text = HEADER + "".join(f"2026-10-25T{clock},1,a1,moss,,,,,\n" for clock in clocks)
    result = run("sightings", table(tmp_path, text), "--study", folder, "--yes")
    assert [f"{e.record.at.astimezone(UTC):%H:%M}" for e in read_journals(folder).entries("seen")] == utc
    assert ("came twice" in result.stderr) == (not utc)


def test_the_hour_that_is_skipped_is_reported(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    result = run(
        "sightings", table(tmp_path, HEADER + "2026-03-29T02:30,1,a1,moss,,,,,\n"), "--study", folder, "--yes"
    )
    assert result.exit_code == 1
    assert "did not exist" in result.stderr


def test_an_animal_is_looked_for_where_it_lived_then(tmp_path: Path) -> None:
    text = TWO_ZONES.replace('key = "2"', 'key = "2"\npresent = [{from = 2026-03-10}]')
    folder = study_folder(tmp_path / "s", text)
    rows = HEADER + "2026-03-01 20:00,1,a2,moss,,,,,\n2026-03-11 20:00,2,a2,moss,,,,,\n"
    result = run("sightings", table(tmp_path, rows), "--study", folder, "--yes")
    assert zones_seen(folder) == [("a2", "moss")]
    assert "lived in no enclosure at that time" in result.stderr


ROWS = st.lists(
    st.tuples(
        st.integers(0, 30), st.sampled_from(["1", "2"]), st.sampled_from(["a1", "a2"]),
        st.sampled_from(["moss", "bark", "", "nowhere"]), st.sampled_from(["", "resting", "strike"]),
    ),
    min_size=1,
    max_size=25,
)  # fmt: skip


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(first=ROWS, second=ROWS)
def test_taking_in_twice_and_in_pieces_adds_nothing_and_loses_nothing(
    first: list[tuple[int, str, str, str, str]],
    second: list[tuple[int, str, str, str, str]],
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    base = tmp_path_factory.mktemp("pieces")
    folder = study_folder(base / "s")
    declared = load_declaration(folder)

    def write(rows: list[tuple[int, str, str, str, str]], name: str) -> Path:
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow(["at", "session", "animal", "zone", "behaviour"])
        start = datetime(2026, 3, 1, 20, 0)
        writer.writerows([(start + timedelta(minutes=m)).isoformat(), s, a, z, b] for m, s, a, z, b in rows)
        return table(base, out.getvalue(), name)

    taken = []
    for rows, name in (
        (first, "a.csv"),
        (first + second, "b.csv"),
        (first + second, "c.csv"),
        (second, "d.csv"),
    ):
        done = take_in(declared, read_table(write(rows, name)), read_journals(folder), NOW)
        assert done.rows + done.skipped + len(done.changed) + len(done.refused) == len(rows)
        taken.append(done)
    assert taken[2].rows == taken[3].rows == 0
    # One record for each animal and time of a session's states, whatever was repeated or contradicted.
    entries = list(read_journals(folder).entries("seen", "unseen"))
    assert len(entries) == len({(e.session, e.record.at, e.record.get("animal")) for e in entries})
    good = {(m, s, a) for m, s, a, z, b in first + second if z != "nowhere" and b != "strike"}
    assert len(entries) == len(good)


def test_a_sighting_in_the_recorder_is_no_row_of_a_table(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "s")
    journal = session(folder, "2026-03-01T20:00")
    journal.append("seen", datetime(2026, 3, 1, 19, 0, tzinfo=UTC), animal="a1", zone="moss", scan=1)
    journal.close()
    result = run(
        "sightings", table(tmp_path, HEADER + "2026-03-01 20:00,1,a1,bark,,,,,\n"), "--study", folder, "--yes"
    )
    assert "1 row taken in" in result.stdout
