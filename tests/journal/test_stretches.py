"""Tables that say from when until when: states where they leave no gap, else time budgets; no scan is invented."""

from __future__ import annotations

import csv
import json
from collections import defaultdict
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from tests.making import TWO_ZONES, run, study_folder
from zoneuse import open_study
from zoneuse.journal.past.stretches import lasted_s


def _took(tmp_path: Path, table: str, *flags: str) -> tuple[Path, str]:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    (tmp_path / "t.csv").write_text(table, "utf-8")
    done = run("sightings", tmp_path / "t.csv", "--yes", "--study", folder, *flags)
    return folder, done.stdout + done.stderr


FOLLOWED = """session,animal,from,until,zone,behaviour
s1,a1,2026-03-01 20:00:00,2026-03-01 20:05:30,moss,resting
s1,a1,2026-03-01 20:05:30,2026-03-01 20:07:00,bark,walking
s1,a1,2026-03-01 20:07:00,2026-03-01 20:20:00,moss,resting
"""


@pytest.mark.parametrize(
    "table",
    [
        FOLLOWED,
        FOLLOWED.replace("from,until", "Start,End"),
        # A day and clock times.
        "session,animal,date,von,bis,zone,behaviour\n"
        "s1,a1,2026-03-01,20:00:00,20:05:30,moss,resting\ns1,a1,2026-03-01,20:05:30,20:07:00,bark,walking\n"
        "s1,a1,2026-03-01,20:07:00,20:20:00,moss,resting\n",
        # How long it lasted.
        "session,animal,start,duration,zone,behaviour\n"
        "s1,a1,2026-03-01 20:00:00,5:30,moss,resting\ns1,a1,2026-03-01 20:05:30,90 s,bark,walking\n"
        "s1,a1,2026-03-01 20:07:00,0:13:00,moss,resting\n",
    ],
)
def test_states_that_follow_each_other_are_states(tmp_path: Path, table: str) -> None:
    folder, said = _took(tmp_path, table)
    assert "3 rows taken in as 1 session" in said, said
    study = open_study(folder)
    assert [e.record.kind for e in study.journals.sessions[next(iter(study.journals.sessions))].entries] == [
        "opened", "seen", "seen", "seen", "closed",
    ]  # fmt: skip
    moments = study.moments
    # Twenty minutes, a state read off each minute: 20:06 is the only one in the bark.
    assert len(moments) == 20 and list(moments["at"][moments["place"] == "bark"].dt.minute) == [6]
    told = json.loads(run("activity", "--json", "--study", folder).stdout)
    bouts = {b["behaviour"]: b for b in told["parts"]["bouts"]}
    assert bouts["walking"]["median_s"] == 90 and bouts["walking"]["whole"] == 1
    assert bouts["resting"]["bouts"] == 2 and bouts["resting"]["longest_s"] == 780
    assert bouts["resting"]["minutes_per_hour"] == pytest.approx(60 * 18.5 / 20)
    plain = " ".join(run("activity", "--study", folder).stdout.split())
    assert "Walking: 1 bout of followed animals; median 90 s" in plain or "median 1.5 min" in plain
    assert "min an hour" in plain
    assert "3 already here" in run("sightings", tmp_path / "t.csv", "--yes", "--study", folder).stdout


def test_gaps_make_time_budgets_and_a_plain_reader_finds_the_same(tmp_path: Path) -> None:
    """Four thousand rows with gaps; the shares are worked out from the file by hand."""
    random = np.random.default_rng(7)
    lines = ["session,animal,from,until,zone"]
    start = datetime(2026, 3, 1, 20)
    for s in range(50):
        for animal in ("a1", "a2"):
            at = start + timedelta(days=s)
            for _ in range(40):
                at += timedelta(seconds=int(random.integers(1, 120)))
                end = at + timedelta(seconds=int(random.integers(5, 300)))
                lines.append(f"s{s},{animal},{at},{end},{('moss', 'bark')[int(random.integers(2))]}")
                at = end
    folder, said = _took(tmp_path, "\n".join(lines) + "\n")
    assert "4,000 rows taken in as 50 sessions" in said and " 0 refused" in said, said
    study = open_study(folder)
    kinds = [e.record.kind for s in study.journals.sessions.values() for e in s.entries]
    assert set(kinds) == {"opened", "spent", "closed"}
    spent: dict[tuple[str, str], dict[str, float]] = defaultdict(lambda: defaultdict(float))
    spans: dict[tuple[str, str], list[datetime]] = defaultdict(list)
    with (tmp_path / "t.csv").open(encoding="utf-8") as stream:
        for row in csv.DictReader(stream):
            a, b = datetime.fromisoformat(row["from"]), datetime.fromisoformat(row["until"])
            spent[row["session"], row["animal"]][row["zone"]] += (b - a).total_seconds()
            spans[row["session"], row["animal"]] += [a, b]
    by_session: dict[str, list[tuple[float, float, float]]] = defaultdict(list)
    for (session, animal), zones in spent.items():
        whole = (max(spans[session, animal]) - min(spans[session, animal])).total_seconds()
        by_session[session].append((zones["moss"], zones["bark"], whole))
    shares = [
        sum(m / w for m, _, w in own) / sum((m + b) / w for m, b, w in own) for own in by_session.values()
    ]
    answer = json.loads(run("zones", "--json", "--study", folder).stdout)
    used = {row["zone"]: row["used"] for row in answer["rows"]}
    assert used["moss"] == pytest.approx(float(np.mean(shares)), abs=2e-5)
    # The time between two rows is nobody's: it bounds, and is no moment.
    low = [sum(m / w for m, _, w in own) / len(own) for own in by_session.values()]
    assert next(r for r in answer["rows"] if r["zone"] == "moss")["unseen_low"] == pytest.approx(
        float(np.mean(low)), abs=2e-5
    )
    assert answer["effort"]["moments"] == 0


def test_what_cannot_be_is_refused_by_its_line(tmp_path: Path) -> None:
    table = FOLLOWED + (
        "s1,a1,2026-03-01 20:19:00,2026-03-01 20:21:00,bark,walking\n"
        "s1,a1,2026-03-01 20:30:00,2026-03-01 20:29:00,bark,walking\n"
        "s1,a1,2026-03-01 20:31:00,soon,bark,walking\n"
    )
    _, said = _took(tmp_path, table)
    assert "3 rows taken in" in said and "3 refused" in said
    for told in ("begins before line 4 ends", "not after it began", "line 7, column until"):
        assert told in said, said


def test_a_table_that_only_has_a_column_so_called_is_read_as_before(tmp_path: Path) -> None:
    folder, said = _took(tmp_path, "session,at,animal,zone,end\ns1,2026-03-01 20:00,a1,moss,21:00\n")
    assert "1 row taken in" in said and set(open_study(folder).moments["method"]) == {"scan"}


def test_bare_numbers_need_a_unit() -> None:
    with pytest.raises(ValueError, match="--cells seconds"):
        lasted_s("90", "")


def test_a_time_budget_is_mended(tmp_path: Path) -> None:
    folder, _ = _took(
        tmp_path,
        "session,at,animal,zone,minutes,of\n"
        "s1,2026-03-01 20:00,a1,moss,45,60\ns1,2026-03-01 20:00,a1,bark,6,60\n",
    )  # fmt: skip
    assert "Moss, 45 of 60 min" in run("mend", "--study", folder).stdout
    number = next(
        line.split()[0].strip(".")
        for line in run("mend", "--study", folder).stdout.splitlines()
        if "Moss, 45" in line
    )
    done = run("mend", number, "--minutes", "30", "--study", folder)
    assert done.exit_code == 0, done.stderr
    rows = {
        r["zone"]: r["used"] for r in json.loads(run("zones", "--json", "--study", folder).stdout)["rows"]
    }
    assert rows["moss"] == pytest.approx(30 / 36)
    assert run("mend", number, "--minutes", "61", "--study", folder).exit_code != 0
    assert run("mend", number, "--zone", "bark", "--study", folder).exit_code == 0
