"""Every record is accounted for: counted, or left out by a reason that is named, and the two add up."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.making import TWO_ZONES, run, scans, session, study_folder, vienna
from zoneuse import open_study

WATER = TWO_ZONES.replace(
    "[animals.a1]",
    '[zones.water]\nlabel = "Water"\nkey = "w"\namount = 200\nrole = "water"\n\n[animals.a1]',
    1,
)


def effort(folder: Path, *words: Any) -> dict[str, Any]:
    return json.loads(run(*(words or ("zones",)), "--json", "--study", folder).stdout)["effort"]


def sightings_on_disk(folder: Path) -> int:
    lines = (line for path in (folder / "journal").glob("*.jsonl") for line in path.read_text().splitlines())
    return sum(json.loads(line)["is"] in ("seen", "unseen") for line in lines)


def test_records_and_reasons_add_up_to_the_files(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    scans(folder, "2026-03-01T20:00", [("moss",), ("bark",), ("moss",)])
    run("seen", "a1", "bark", "--at", "2026-03-02T10:00", "--study", folder)
    run("look", "a1=moss", "a2=-", "--study", folder)
    run("mend", "last", "2", "--take-back", "--study", folder)
    found = effort(folder)
    assert found["records"] == sightings_on_disk(folder) == found["counted"] + sum(found["left_out"].values())
    assert found["left_out"] == {"ad libitum": 1, "taken back": 1}


def test_who_watches_in_a_pause_of_a_long_session_counts(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    table = tmp_path / "t.csv"
    rows = [
        ("08:00", "day", "mk", "moss"),
        ("21:00", "day", "mk", "bark"),
        ("12:00", "noon", "jo", "bark"),
        ("21:00", "late", "jo", "moss"),
    ]
    table.write_text(
        "at,session,animal,zone,observer\n"
        + "".join(f"2026-03-01T{t},{s},a1,{z},{o}\n" for t, s, o, z in rows)
    )
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    found = effort(folder)
    assert (found["moments"], found["left_out"]) == (3, {"second observer": 1})


def test_a_look_in_the_pause_of_a_session_counts(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, every_s=60)
    journal.append("seen", at, animal="a1", zone="moss", scan=1)
    run("look", "a1=bark", "--at", "2026-03-01T20:05", "--observer", "mk", "--study", folder)
    journal.append("seen", at + timedelta(minutes=9), animal="a1", zone="moss", scan=2)
    journal.close()
    assert open_study(folder).moments["out"].tolist() == ["", "", ""]


def test_a_session_that_lasts_for_weeks_is_refused_until_it_is_confirmed(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study")
    lines = [
        f"2026-0{4 if k == 77 else 3}-{1 + k // 30:02d}T20:{k % 30:02d},s{k // 30},a1,{'moss' if k % 3 else 'bark'}"
        for k in range(360)
    ]
    table = tmp_path / "t.csv"
    table.write_text("at,session,animal,zone\n" + "\n".join(lines) + "\n")
    taken = run("sightings", table, "--yes", "--study", folder)
    assert "--long-session s2" in taken.stderr and "line 79" in taken.stderr
    assert effort(folder)["sessions"] == 11
    assert run("sightings", table, "--yes", "--long-session", "s2", "--study", folder).exit_code == 0
    assert effort(folder)["sessions"] == 12 and effort(folder)["moments"] == 360


def test_what_a_round_did_not_look_into_is_not_judged(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, WATER)
    for day in range(1, 41):
        at = vienna(f"2026-{3 + day // 29:02d}-{1 + day % 28:02d}T12:00") + timedelta(minutes=day)
        journal = session(folder, at, method="retreat-round")
        for zone in ("moss", "bark"):
            journal.append("checked", at, zone=zone, lifted=True)
        journal.append("seen", at, animal="a1", zone="moss" if day % 3 else "bark")
        journal.close()
    answer = json.loads(run("zones", "--json", "--study", folder).stdout)
    assert {row["zone"] for row in answer["rows"]} == {"moss", "bark"}
    assert not any("water" in f["about"] for f in answer["findings"])
    assert "Water was not looked into" in " ".join(c["says"] for c in answer["cautions"])
    # a2 is known alive and stands in no record; the young as well: not found, so elsewhere.
    assert answer["effort"]["unseen"] == 40 * 7


def test_a_zone_a_session_did_not_know_was_not_offered_then(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in range(1, 9):
        run(
            "look", "a1=moss" if day % 2 else "a1=bark", "--at", f"2026-03-{day:02d}T20:00", "--study", folder
        )
    before = open_study(folder).zones().table.set_index("zone")["available"].to_dict()
    (folder / "study.toml").write_text(WATER)
    after = open_study(folder).zones().table.set_index("zone")["available"].to_dict()
    assert after == pytest.approx(before)
    told = run("check", "--study", folder).stderr
    assert "zones.water" in told and "present" in told


@pytest.mark.parametrize(
    ("old", "new", "missing"),
    [
        ("[animals.a2]", "[animals.b2]", "animal a2"),
        ("[zones.bark]", "[zones.cork]", "zone bark"),
        ("[behaviours.resting]", "[behaviours.dozing]", "behaviour resting"),
    ],
)
def test_ids_that_are_gone_are_named_by_every_answer(
    tmp_path: Path, old: str, new: str, missing: str
) -> None:
    folder = study_folder(tmp_path)
    for day in range(1, 8):
        run("look", "a1=m,r", "a2=b,w", "--at", f"2026-03-{day:02d}T20:00", "--study", folder)
    text = (folder / "study.toml").read_text().replace(old, new).replace('{zone = "bark"}', '{zone = "moss"}')
    (folder / "study.toml").write_text(text)
    for command in ("zones", "activity", "plan", "shifts", "retreats", "prefer"):
        done = run(command, "--full", "--study", folder)
        assert done.exit_code == 0, (command, done.stderr, done.exception)
        if command == "activity" or "behaviour" not in missing:
            assert f"not declared: {missing} (7)" in " ".join(done.stdout.split()), command
    assert run("report", tmp_path / "page.html", "--study", folder).exit_code in (0, 1, 2)
    check = run("check", "--study", folder)
    assert check.exit_code == 1 and missing.split()[1] in check.stderr


def test_a_behaviour_that_became_an_event_stops_nothing(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    for day in range(1, 8):
        run("look", "a1=m,r", "--at", f"2026-03-{day:02d}T20:00", "--study", folder)
        run("seen", "a1", "m", "strike", "--at", f"2026-03-{day:02d}T20:05", "--study", folder)
    text = (folder / "study.toml").read_text()
    text = text.replace("lasts = true\nactive = false", "lasts = false").replace(
        'key = "x"\nlasts = false', 'key = "x"\nlasts = true'
    )
    (folder / "study.toml").write_text(text)
    for command in ("activity", "plan", "zones"):
        done = run(command, "--study", folder)
        assert done.exit_code == 0, (command, done.exception)
    assert effort(folder, "activity")["left_out"]["another kind of behaviour"] == 14
    assert run("check", "--study", folder).exit_code == 1


def test_time_the_computer_slept_is_not_watched(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-01T20:00")
    journal = session(folder, at, method="focal", every_s=60)
    began = journal._started
    journal.append("seen", at, animal="a1", zone="moss", mono=began)
    slept = timedelta(hours=3)
    journal.append("seen", at + slept + timedelta(minutes=5), animal="a1", zone="bark", mono=began + 300)
    journal.append("closed", at + slept + timedelta(minutes=10), reason="finished", mono=began + 600)
    journal.close()
    rows = open_study(folder).moments
    assert rows["zone"].tolist() == ["moss"] * 5 + ["bark"] * 5
    assert rows["at"].iloc[5].to_pydatetime() == at + slept + timedelta(minutes=5)
    assert "slept" in run("check", "--study", folder).stderr


@pytest.mark.parametrize(
    ("when", "why"),
    [
        ("2999-01-01T10:00", "outside the years 1900 to 2199"),
        ("2099-01-01T10:00", "in the future"),
        ("2026-03-29T02:30", "did not exist"),
        ("2025-10-26T02:30", "came twice"),
    ],
)
@pytest.mark.parametrize(
    "words", [("look", "a1=moss"), ("seen", "a1", "moss"), ("adjust", "water", "moss"), ("note", "fed", "a1")]
)
def test_times_that_cannot_be_are_refused(
    tmp_path: Path, words: tuple[str, ...], when: str, why: str
) -> None:
    folder = study_folder(tmp_path)
    done = run(*words, "--at", when, "--study", folder)
    assert done.exit_code == 2 and why in done.stderr
    assert not list((folder / "journal").glob("*")) if (folder / "journal").exists() else True


def test_a_zone_outside_its_presence_is_refused(tmp_path: Path) -> None:
    folder = study_folder(
        tmp_path, TWO_ZONES.replace("amount = 100", "amount = 100\npresent = [{from = 2026-03-10}]")
    )
    for words in (("look", "a1=bark"), ("seen", "a1", "bark"), ("adjust", "cover", "bark")):
        early = run(*words, "--at", "2026-03-05T20:00", "--study", folder)
        assert early.exit_code == 2 and "was not there" in early.stderr
        assert run(*words, "--at", "2026-03-11T20:00", "--study", folder).exit_code == 0


def test_a_table_of_rounds_says_where_nobody_was(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", WATER)
    rows = ["at,session,animal,zone,method"]
    for day in range(1, 9):
        rows.append(f"2026-03-{day:02d}T12:00,r{day},a1,moss,retreat-round")
        if day < 5:
            rows.append(f"2026-03-{day:02d}T12:02,r{day},,bark,retreat-round")
    table = tmp_path / "rounds.csv"
    table.write_text("\n".join(rows) + "\n")
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    looked = open_study(folder).moments.groupby("session")["looked_into"].first().tolist()
    assert looked == [("moss", "bark")] * 4 + [("moss",)] * 4
    # Taken in again, nothing comes twice.
    assert run("sightings", table, "--yes", "--study", folder).exit_code == 0
    assert effort(folder)["moments"] == 8
