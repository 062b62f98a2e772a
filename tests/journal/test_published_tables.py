"""Tables as they are published: numbered days, lone hours, zeros in every row, counts that go on day and night."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, study_folder
from zoneuse import open_study

SAID = ("--column", "date=Day", "--column", "time=ZT", "--column", "group=Tank", "--map", "group:1=young")


def took(folder: Path, table: str, *flags: str) -> tuple[str, str]:
    if not (folder / "study.toml").exists():
        study_folder(folder, TWO_ZONES)
    (folder / "t.csv").write_text(table, "utf-8")
    done = run("sightings", folder / "t.csv", "--yes", "--study", folder, *flags)
    return done.stdout, done.stderr


def test_numbered_days_are_dated_from_the_first_and_lone_hours_are_clock_times(tmp_path: Path) -> None:
    table = "Day,ZT,Tank,zone,count\n1,7,1,moss,4\n1,16.5,1,bark,2\n3,0,1,moss,6\n"
    out, err = took(tmp_path, table, *SAID)
    assert "taken in" not in out and "--day-1 2026-03-01" in err
    out, err = took(tmp_path, table, *SAID, "--day-1", "2026-05-30")
    assert "3 rows taken in" in out, err
    at = open_study(tmp_path).moments["at"].dt.tz_convert("Europe/Vienna")
    assert sorted({f"{t:%Y-%m-%d %H:%M}" for t in at}) == [
        "2026-05-30 07:00",
        "2026-05-30 16:30",
        "2026-06-01 00:00",
    ]
    assert "give a date" in took(tmp_path, table, *SAID, "--day-1", "May")[1]
    # A later file of the same shape is read as the first was.
    out, _ = took(tmp_path, table + "4,1,1,moss,3\n", *SAID)
    assert "1 row taken in" in out and "3 already here" in out


def test_counts_day_and_night_without_a_break_are_a_session_a_day(tmp_path: Path) -> None:
    rows = [f"{day},{hour},1,moss,{1 + hour % 5}" for day in range(1, 5) for hour in range(24)]
    table = "Day,ZT,Tank,zone,count\n" + "\n".join(rows) + "\n"
    out, err = took(tmp_path, table, *SAID, "--day-1", "2026-05-01", "--session-gap", "2h")
    assert "96 rows taken in as 4 sessions, 0 refused" in out, err
    assert (
        "96 already here" in took(tmp_path, table, *SAID, "--day-1", "2026-05-01", "--session-gap", "2h")[0]
    )


def test_a_session_refused_whole_counts_all_its_rows_and_is_said_once(tmp_path: Path) -> None:
    rows = [f"{day},{hour},1,moss,{1 + hour % 5},all" for day in range(1, 5) for hour in range(24)]
    table = "Day,ZT,Tank,zone,count,session\n" + "\n".join(rows) + "\n"
    out, err = took(tmp_path, table, *SAID, "--day-1", "2026-05-01")
    assert "taken in as" not in out and "none of its 96 rows" in err and err.count("would last") == 1
    one_more = table + "9,1,1,moss,2,last\n"
    assert (
        "1 row taken in as 1 session, 96 refused"
        in took(tmp_path, one_more, *SAID, "--day-1", "2026-05-01")[0]
    )


@pytest.mark.parametrize("wide", [False, True])
def test_zeros_say_nobody_was_there_long_as_wide(wide: bool, tmp_path: Path) -> None:
    counts = {("10:00", "moss"): 4, ("10:00", "bark"): 0, ("10:10", "moss"): 0, ("10:10", "bark"): 0}
    if wide:
        table = "date,time,group,moss,bark\n2026-03-01,10:00,young,4,0\n2026-03-01,10:10,young,0,0\n"
    else:
        table = "date,time,group,zone,count\n" + "".join(
            f"2026-03-01,{t},young,{z},{n}\n" for (t, z), n in counts.items()
        )
    out, err = took(tmp_path, table, *(("--wide", "zone") if wide else ()))
    assert "2 rows taken in as 1 session, 0 refused" in out, err
    moments = open_study(tmp_path).moments
    seen = moments[moments["zone"].notna()]
    assert [(z, w) for z, w in zip(seen["zone"], seen["weight"], strict=True)] == [("moss", 4)]
    # Where nobody was anywhere, the group was looked for and not found.
    assert (moments[moments["at"].dt.minute == 10]["zone"].isna()).all() and len(moments) > 1


def test_a_fault_of_many_rows_is_said_once_and_hides_no_other(tmp_path: Path) -> None:
    rows = [f"2026-03-01,10:{m:02d},young,moss,-1" for m in range(40)] + ["2026-03-01,11:00,young,cellar,2"]
    out, err = took(
        tmp_path, "date,time,group,zone,count\n" + "\n".join([*rows, "2026-03-01,11:00,young,bark,3"]) + "\n"
    )
    assert "1 row taken in as 1 session, 41 refused" in out
    assert err.count("found '-1'") == 1 and "and so in 39 more rows" in err and "'cellar' is no zone" in err


def test_a_place_of_several_enclosures_is_known_as_a_header_spells_it(tmp_path: Path) -> None:
    text = 'format = 1\ntitle = "Tubs"\ntimezone = "Europe/Vienna"\n'
    for tub in ("one", "two"):
        text += f'[enclosures.{tub}]\nmeasured_in = "floor_cm2"\n'
        for zone in ("hide", "open"):
            text += f'[zones.{zone}_{tub}]\nlabel = "{zone} of {tub}"\nplace = "{zone}"\n'
            text += f'enclosure = "{tub}"\namount = 1\n'
        text += f'[groups.{tub}s]\nlabel = "{tub}s"\nsize = 4\nlives = [{{enclosure = "{tub}"}}]\n'
    study_folder(tmp_path, text)
    table = "date,time,group,Hide,OPEN\n2026-03-01,10:00,ones,3,1\n2026-03-01,10:00,twos,1,3\n"
    out, err = took(tmp_path, table, "--wide", "zone")
    assert "4 rows taken in" in out, err
    assert {r.zone: r.weight for r in open_study(tmp_path).moments.itertuples()} == {
        "hide_one": 3, "open_one": 1, "hide_two": 1, "open_two": 3,
    }  # fmt: skip


def test_a_zone_is_asked_about_only_where_others_of_its_enclosure_were_used_before(tmp_path: Path) -> None:
    head = 'format = 1\ntitle = "Two tanks"\ntimezone = "UTC"\n\n'
    tanks = "".join(
        f'[enclosures.{e}]\nmeasured_in = "places"\n\n[animals.{e}]\nlabel = "{e}"\nlives = [{{enclosure = "{e}"}}]\n\n'
        + "".join(
            f'[zones.{z}_{e}]\nlabel = "{z}"\nenclosure = "{e}"\namount = 1\n\n' for z in ("bed", "open")
        )
        for e in ("early", "late")
    )
    # One tank is watched for twelve days before the other; in the first, the bed is used on its last day only.
    rows = [f"2026-03-{d:02}T20:00,{d},early,{'bed' if d == 12 else 'open'}_early" for d in range(1, 13)]
    rows += [f"2026-03-{d:02}T20:00,{d},late,{z}_late" for d, z in ((14, "open"), (15, "bed"))]
    study_folder(tmp_path, head + tanks)
    table = tmp_path / "t.csv"
    table.write_text("at,session,animal,zone\n" + "\n".join(rows) + "\n")
    taken = run("sightings", table, "--yes", "--study", tmp_path)
    assert "14 rows taken in" in taken.stdout, taken.stderr
    told = run("check", "--study", tmp_path)
    assert "zones.bed_early: nothing was found in it in 11 sessions before 2026-03-12" in told.stderr
    assert "_late: nothing was found" not in told.stderr


def test_what_is_alike_in_many_entries_is_told_once(tmp_path: Path) -> None:
    zones = "".join(f'[zones.z{n}]\nlabel = "Zone {n}"\nkey = "{chr(97 + n)}"\n\n' for n in range(9))
    head = 'format = 1\ntitle = "Nine"\ntimezone = "UTC"\n\n[enclosure]\nmeasured_in = "floor_cm2"\n\n'
    (tmp_path / "study.toml").write_text(head + zones)
    told = run("check", "--study", tmp_path)
    assert told.exit_code == 1 and "9 faults to mend" in told.stderr
    faults = [line for line in told.stderr.splitlines() if line.startswith("Fault")]
    assert len(faults) == 1 and "zones.z0.amount" in faults[0] and "z1, z2, z3 and 5 more" in faults[0]


def test_a_column_of_treatments_is_never_left_out_in_silence(tmp_path: Path) -> None:
    table = "at,session,animal,zone,treatment\n2026-03-01T20:00,1,a1,moss,spider\n"
    said = took(tmp_path, table, "--column", "treatment=treatment")
    assert "taken in" not in said[0] and "the study declares no treatment" in said[1]
    out, err = took(tmp_path, table)
    assert "1 row taken in" in out and "Columns not read: treatment (study.toml declares none)" in err
