"""Many at once on one study, and many devices after one another: nothing lost, nothing twice, one answer."""

from __future__ import annotations

import json
import random
import re
import shutil
import subprocess
import sys
from datetime import datetime
from pathlib import Path

import pytest

from tests.making import VIENNA, run, session, study_folder, vienna
from tests.trust.commands import EXPORT, SIGHTINGS, WATCHED
from zoneuse.journal.reader import read_journals
from zoneuse.readings.store.store import intakes, read


def answers(folder: Path) -> dict[str, object]:
    found = {
        name: json.loads(run(name, "--json", "--study", folder).stdout) for name in ("zones", "activity")
    }
    return found | {"check": run("check", "--study", folder).exit_code}


def begin(*words: object, fed: str = "") -> subprocess.Popen[str]:
    process = subprocess.Popen(
        [sys.executable, "-m", "zoneuse", *map(str, words)], stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True,
    )  # fmt: skip
    assert process.stdin is not None
    process.stdin.write(fed)
    process.stdin.close()
    process.stdin = None
    return process


def test_two_recorders_imports_and_answers_at_once(tmp_path: Path) -> None:
    study = study_folder(tmp_path / "study")
    (tmp_path / "old.csv").write_text(SIGHTINGS)
    (tmp_path / "L1.csv").write_text(EXPORT)
    at = ("--study", study)
    running = {
        "one": begin("watch", "--plain", "--quiet", "0", "--observer", "mk", *at, fed=WATCHED),
        "other": begin("watch", "--plain", "--quiet", "0", "--observer", "jo", *at, fed=WATCHED),
        "sightings": begin("sightings", tmp_path / "old.csv", "--yes", *at),
        "readings": begin("readings", tmp_path / "L1.csv", "--yes", *at),
        "report": begin("report", "-o", tmp_path / "page.html", *at),
        "zones": begin("zones", "--json", *at),
        "seen": begin("seen", "a2", "bark", *at),
    }
    said = {
        name: (*process.communicate(timeout=120), process.returncode) for name, process in running.items()
    }
    assert {name: (out, err) for name, (out, err, status) in said.items() if status} == {}
    assert "Traceback" not in "".join(err for _, err, _ in said.values())
    json.loads(said["zones"][0])
    assert (tmp_path / "page.html").read_text("utf-8").rstrip().endswith("</html>")
    journals = read_journals(study)
    assert not [p for p in journals.problems if not p.hint]
    for observer, name in (("mk", "one"), ("jo", "other")):
        saved = len(re.findall("^Saved:", said[name][0], re.MULTILINE))
        mine = [
            s
            for s in journals.sessions.values()
            if s.observer == observer and s.method == "scan" and not s.source
        ]
        kinds = ("seen", "unseen", "happened", "context", "took-back")
        assert saved and sum(e.record.kind in kinds for s in mine for e in (*s.entries, *s.void)) >= saved
    taken = [s for s in journals.sessions.values() if s.source]
    assert sum(e.record.kind == "seen" for s in taken for e in s.entries) == 18
    assert len(read(study, "L1", intaken=intakes(study)[0]).times) == 48


def make_devices(folder: Path, sessions: int) -> list[Path]:
    """Sessions of two devices, one of them 90 s behind: journals as each device holds them."""
    chance = random.Random(9)
    for number in range(sessions):
        device = ("mk", "jo")[number % 2]
        home = study_folder(folder / device)
        start = vienna(f"2026-0{3 + number // 28}-{1 + number % 28:02d}T{17 + number % 4}:00")
        journal = session(home, start, observer=device)
        for scan in range(1, 9):
            when = start.timestamp() + 60 * scan - 90 * (device == "jo")
            for animal in ("a1", "a2"):
                zone = chance.choice(("moss", "moss", "bark"))
                journal.append(
                    "seen", _at(when), mono=journal._started + 60 * scan, animal=animal, zone=zone, scan=scan
                )
        journal.append("closed", _at(start.timestamp() + 600), mono=journal._started + 600, reason="finished")
        journal.close()
    return sorted(folder.glob("*/journal/*.jsonl"))


def _at(when: float) -> datetime:
    return datetime.fromtimestamp(when, VIENNA)


def test_a_hundred_sessions_synchronised_in_any_order_give_one_answer(tmp_path: Path) -> None:
    journals = make_devices(tmp_path, 100)
    assert len(journals) == 100
    whole = study_folder(tmp_path / "whole")
    (whole / "journal").mkdir()
    for path in journals:
        shutil.copy(path, whole / "journal")
    expected = answers(whole)
    for seed in range(1):
        chance, order = random.Random(seed), journals.copy()
        chance.shuffle(order)
        target = study_folder(tmp_path / f"target {seed}")
        (target / "journal").mkdir()
        for number, path in enumerate(order):
            data, final = path.read_bytes(), target / "journal" / path.name
            if chance.random() < 0.3:
                # Half a file first, and an older state of it as a conflict copy that stays.
                final.write_bytes(data[: chance.randrange(len(data))])
                lines = data.splitlines(keepends=True)
                older = b"".join(lines[: chance.randrange(1, len(lines))])
                final.with_name(f"{path.stem}.sync-conflict-{number}.jsonl").write_bytes(older)
            if number == 50:
                assert run("zones", "--study", target).exit_code == 0
            final.write_bytes(data)
        assert answers(target) == expected


@pytest.mark.parametrize("times", [2])
def test_the_same_table_and_export_taken_in_at_the_same_time(tmp_path: Path, times: int) -> None:
    """Two devices take the same files in before they synchronise: readings and sightings count once."""
    homes = []
    for device in range(times):
        study = study_folder(tmp_path / f"device {device}")
        (tmp_path / "L1.csv").write_text(EXPORT)
        (tmp_path / "old.csv").write_text(SIGHTINGS)
        assert run("readings", tmp_path / "L1.csv", "--yes", "--study", study).exit_code == 0
        assert run("sightings", tmp_path / "old.csv", "--yes", "--study", study).exit_code == 0
        homes.append(study)
    joined = study_folder(tmp_path / "joined")
    for study in homes:
        for part in ("readings", "journal"):
            shutil.copytree(study / part, joined / part, dirs_exist_ok=True)
    assert len(intakes(joined)[0]) == times
    assert len(read(joined, "L1").times) == 48
    one, both = (json.loads(run("zones", "--json", "--study", s).stdout) for s in (homes[0], joined))
    assert len(read_journals(joined).sessions) == 3 * times
    assert both["rows"] == one["rows"]
    twice = (times - 1) * one["effort"]["records"]
    assert both["effort"].pop("left_out") == ({"recorded again": twice} if twice else {})
    assert both["effort"].pop("records") == twice + one["effort"].pop("records")
    assert one["effort"].pop("left_out") == {} and both["effort"] == one["effort"]
