"""Moments: what was recorded becomes one row per animal and moment, and nothing that is no sample is counted."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.making import TWO_ZONES, VIENNA, run, scans, session, study_folder, vienna
from zoneuse import open_study
from zoneuse.journal.records import Record
from zoneuse.journal.writer import continue_session, write_journal
from zoneuse.tables.moments import COLUMNS


def moments(folder: Path) -> pd.DataFrame:
    return open_study(folder).moments


def test_the_table_has_the_documented_columns_even_when_empty(tmp_path: Path) -> None:
    empty = moments(study_folder(tmp_path))
    assert list(empty.columns) == list(COLUMNS)
    assert len(empty) == 0


def test_a_scan_counts_its_last_answer_and_says_when_it_came_late(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at)
    journal.append("seen", at, animal="a1", zone="moss", behaviour="resting", scan=1)
    journal.append("seen", at, animal="a1", zone="bark", scan=1)
    journal.append("missed", at + timedelta(minutes=1), animal="a2", scan=1)
    journal.append("seen", at + timedelta(seconds=75), animal="a2", zone="moss", scan=1)
    journal.append("missed", at + timedelta(minutes=2), animal="a1", scan=2)
    journal.append("unseen", at + timedelta(seconds=70), animal="a2", scan=2)
    journal.close()
    table = moments(folder)
    rows = (
        table[["scan", "animal", "zone", "late"]]
        .astype(object)
        .where(table[["scan", "animal", "zone", "late"]].notna(), None)
    )
    assert sorted(map(tuple, rows.values.tolist()), key=str) == sorted(
        [(1, "a1", "bark", False), (1, "a2", "moss", True), (2, "a2", None, False)], key=str
    )


def test_groups_count_by_zone_and_their_last_set_of_counts_stands(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at)
    for seconds, counts in ((0, {"moss": 4, "bark": 1}), (20, {"moss": 3, "bark": 2})):
        for zone, count in counts.items():
            journal.append(
                "seen", at + timedelta(seconds=seconds), group="young", zone=zone, count=count, scan=1
            )
    journal.append("unseen", at + timedelta(seconds=20), group="young", count=1, scan=1)
    journal.close()
    table = moments(folder)
    assert dict(zip(table["zone"].fillna("?"), table["weight"], strict=True)) == {
        "moss": 3.0,
        "bark": 2.0,
        "?": 1.0,
    }


def test_focal_records_become_the_state_at_each_tick(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="focal", every_s=60)
    start = journal._started

    def note(kind: str, second: float, **fields: object) -> None:
        journal.append(kind, at + timedelta(seconds=second), mono=start + second, **fields)

    note("seen", 30, animal="a1", zone="moss", behaviour="resting")
    note("seen", 130, animal="a1", zone="bark")
    note("paused", 200)
    note("resumed", 310)
    note("unseen", 370, animal="a1")
    note("closed", 430, reason="finished")
    journal.close()
    table = moments(folder)
    minutes = [round((t - at).total_seconds() / 60) for t in table["at"]]
    told = list(zip(minutes, table["zone"].fillna("?"), table["behaviour"].fillna("?"), strict=True))
    # A record repeats what it leaves unchanged; a pause gives no moments; unseen ends zone and behaviour.
    assert told == [
        (1, "moss", "resting"), (2, "moss", "resting"), (3, "bark", "resting"), (6, "bark", "resting"), (7, "?", "?"),
    ]  # fmt: skip


def test_a_clock_set_back_during_a_focal_session_moves_no_tick(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="focal", every_s=60)
    start = journal._started
    journal.append("seen", at, mono=start, animal="a1", zone="moss")
    journal.append("seen", at - timedelta(hours=1), mono=start + 150, animal="a1", zone="bark")
    journal.append("closed", at - timedelta(minutes=55), mono=start + 290, reason="finished")
    journal.close()
    assert (
        moments(folder)["zone"].tolist() == ["moss", "moss", "moss", "bark", "bark"][: len(moments(folder))]
    )
    assert len(moments(folder)) == 5


def test_sightings_in_passing_are_shown_and_never_counted(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="ad-libitum")
    journal.append("seen", at, animal="a1", zone="moss")
    journal.close()
    assert moments(folder)["out"].tolist() == ["ad libitum"]
    assert open_study(folder).zones().effort["moments"] == 0


def test_a_handled_animal_stays_out_until_it_has_moved_itself(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    handled = vienna("2026-03-01T19:50")
    journal = session(folder, handled, method="record")
    journal.append("context", handled, what="handled", animal="a1")
    journal.close()
    scans(folder, "2026-03-01T20:00", [("moss", "moss"), ("bark", "moss")], ("a1", "a2"))
    scans(folder, "2026-03-01T21:00", [("bark", "moss")], ("a1", "a2"))
    scans(folder, "2026-03-02T22:00", [("moss", "moss")], ("a1", "a2"))
    table = moments(folder)
    a1 = table[table["animal"] == "a1"]["out"].tolist()
    # In the first hour always; afterwards only while it has not changed its zone.
    assert a1 == ["handled", "handled", "", ""]
    assert set(table[table["animal"] == "a2"]["out"]) == {""}


def test_two_observers_at_once_the_earlier_opened_counts(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    for observer, delay in (("mk", 0), ("jo", 30)):
        journal = session(folder, at + timedelta(seconds=delay), observer=observer)
        for scan in range(1, 4):
            when = at + timedelta(seconds=delay + 60 * scan)
            journal.append("seen", when, animal="a1", zone="moss", scan=scan)
        journal.close()
    table = moments(folder)
    assert set(table[(table["observer"] == "jo") & (table["at"] <= at + timedelta(seconds=180))]["out"]) == {
        "second observer"
    }
    assert set(table[table["observer"] == "mk"]["out"]) == {""}


def test_a_session_recorded_again_counts_once_as_first_entered(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    scans(folder, "2026-03-01T20:00", [("moss",), ("moss",), ("bark",)])
    # From a film, three weeks later; its first row lies before the session itself was opened.
    table = tmp_path / "film.csv"
    lines = [f"2026-03-01T{clock},film,a1,bark,mk" for clock in ("19:58:58", "20:01:03", "20:02:04")]
    table.write_text("at,session,animal,zone,observer\n" + "\n".join(lines) + "\n", encoding="utf-8")
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    found = moments(folder)
    live = found["session"] == found[found["zone"] == "moss"]["session"].iloc[0]
    assert set(found[live]["out"]) == {""}
    # The look before the session began is not a second look at anything.
    assert found[~live]["out"].tolist() == ["", "recorded again", "recorded again"]


def test_all_moments_of_a_night_carry_the_day_it_began(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TWO_ZONES.replace('timezone = "', 'day_starts = "12:00"\ntimezone = "'))
    scans(folder, "2026-03-01T23:59", [("moss",), ("bark",), ("bark",)])
    table = moments(folder)
    assert {str(d) for d in table["day"]} == {"2026-03-01"}
    assert table["hour"].round(2).tolist()[1] < 1


def test_phases_say_what_had_settled(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-05T20:00")
    journal = session(folder, at, method="record")
    journal.append("adjusted", at, adjustment="water-1", what="water", zones=["moss"], settle_h=48)
    journal.close()
    for day in ("04", "06", "08"):
        scans(folder, f"2026-03-{day}T20:00", [("moss",)])
    assert moments(folder)["phase"].tolist() == ["start", "water-1 settling", "water-1"]


@settings(max_examples=40, deadline=None)
@given(
    steps=st.lists(
        st.tuples(
            st.sampled_from(["seen", "unseen", "missed"]),
            st.sampled_from(["moss", "bark"]),
            st.integers(1, 4),
        ),
        max_size=20,
    ),
    cut=st.integers(0, 19),
)
def test_it_does_not_matter_where_a_crash_split_a_session(
    steps: list[tuple[str, str, int]], cut: int, tmp_path_factory: pytest.TempPathFactory
) -> None:
    base = tmp_path_factory.mktemp("split")
    at = vienna("2026-03-01T20:00")
    header = {"study": "x", "observer": "mk", "method": "scan", "every_s": 60}
    tables = []
    for name, split in (("whole", len(steps)), ("parts", min(cut, len(steps)))):
        folder = study_folder(base / name)
        for part, piece in ((1, steps[:split]), (2, steps[split:])):
            if part == 1 or piece:
                journal = continue_session(folder, "2026-s", part, at=at, zone=VIENNA, **header)
                for i, (kind, zone, scan) in enumerate(piece, 0 if part == 1 else split):
                    fields = {"zone": zone} if kind == "seen" else {}
                    journal.append(kind, at + timedelta(seconds=i), animal="a1", scan=scan, **fields)
                journal.close()
        tables.append(moments(folder))
    pd.testing.assert_frame_equal(*tables)


def test_a_record_of_an_id_that_is_gone_is_left_out_and_named_by_check(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    header = {
        "format": 1,
        "study": "x",
        "session": "s",
        "part": 1,
        "file": "0a",
        "observer": "mk",
        "method": "scan",
        "timezone": "UTC",
    }
    gone = Record(2, at, "seen", {"animal": "a1", "zone": "cave", "scan": 1})
    write_journal(folder, [Record(1, at, "opened", header), gone])
    assert len(moments(folder)) == 0
    result = run("check", "--study", folder)
    assert result.exit_code == 1
    assert "zones.cave" in result.stderr


def test_a_retreat_round_is_one_check_where_each_animal_counts_once(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="retreat-round")
    journal.append("seen", at, animal="a1", zone="moss")
    journal.append("seen", at + timedelta(minutes=1), group="young", zone="moss", count=3)
    journal.append("checked", at + timedelta(minutes=2), zone="moss", lifted=True)
    # Written by other hands: the recorder takes the first back.
    journal.append("seen", at + timedelta(minutes=3), animal="a1", zone="bark")
    journal.append("seen", at + timedelta(minutes=4), group="young", zone="bark", count=2)
    journal.append("seen", at + timedelta(minutes=4), zone="bark", count=1)
    journal.append("checked", at + timedelta(minutes=5), zone="bark", lifted=False)
    journal.append("unseen", at + timedelta(minutes=6), animal="a2")
    journal.append("unseen", at + timedelta(minutes=6), group="young", count=1)
    journal.close()
    table = moments(folder)
    rows = table[["animal", "group", "zone", "weight"]].astype(object)
    assert sorted(map(str, rows.where(rows.notna(), None).values.tolist())) == sorted(
        map(
            str,
            [
                ["a1", None, "bark", 1.0], ["a2", None, None, 1.0], [None, "young", "moss", 3.0],
                [None, "young", "bark", 2.0], [None, "young", None, 1.0], [None, None, "bark", 1.0],
            ],
        )
    )  # fmt: skip
    assert set(table["scan"]) == {1} and not table["late"].any()


def test_nobody_of_a_group_in_a_zone_is_no_moment(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TWO_ZONES)
    done = run("look", "young=m3,b0", "--study", folder)
    if done.exit_code:  # the shell refuses a count of nobody; a table of sightings may hold one
        journal = session(folder, vienna("2026-03-04T20:00"))
        for zone, count in (("moss", 3), ("bark", 0)):
            journal.append("seen", vienna("2026-03-04T20:01"), group="young", count=count, zone=zone, scan=1)
        journal.close()
    rows = open_study(folder).moments
    assert rows["weight"][rows["zone"].notna()].tolist() == [3.0]
    assert set(rows["zone"].dropna()) == {"moss"}


@pytest.mark.parametrize("minutes", [0, 2], ids=["at one time", "each at its own minute"])
def test_what_a_groups_counts_fall_short_by_was_not_found(tmp_path: Path, minutes: int) -> None:
    """Six are declared and four stand in the counts: nobody knows where the other two were."""
    folder = study_folder(tmp_path, TWO_ZONES)
    table = tmp_path / "counts.csv"
    rows = [
        f"2026-03-0{d} 19:0{i * minutes},young,{zone},2"
        for d in (1, 2)
        for i, zone in enumerate(("moss", "bark"))
    ]
    table.write_text("\n".join(["at,group,zone,count", *rows]))
    assert run("sightings", table, "--study", folder, "--yes").exit_code == 0
    held = moments(folder)
    assert held["weight"][held["zone"].notna()].tolist() == [2.0] * 4
    assert held["weight"][held["zone"].isna()].tolist() == [2.0] * 2


def test_an_answered_scan_beside_a_short_one_falls_short_by_nothing(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at)
    for scan, counts in ((1, (4, 2)), (2, (1, 2))):
        when = at + timedelta(minutes=scan)
        for zone, count in zip(("moss", "bark"), counts, strict=True):
            journal.append("seen", when, group="young", zone=zone, count=count, scan=scan)
    journal.close()
    held = moments(folder)
    assert held[held["zone"].isna()][["scan", "weight"]].to_numpy().tolist() == [[2, 3.0]]
