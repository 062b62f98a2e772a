"""An expectation is always answered: of a place that is new, gone or never entered, another question is asked."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.making import TWO_ZONES, run, session, study_folder, vienna

HIDE = '[zones.hide]\nlabel = "Cork hide"\nkey = "h"\namount = 200\n{present}\n[animals.a1]'
FROM, UNTIL = "present = [{from = 2026-03-20}]\n", "present = [{until = 2026-03-20}]\n"


def evenings(folder: Path, before: list[str], after: list[str], days: int = 15) -> None:
    """A scan session a day either side of 20 March: the zones of its four scans."""
    for k in range(2 * days):
        at = vienna("2026-03-05T20:00") + timedelta(days=k)
        journal = session(folder, at, every_s=60)
        zones = before if k < days else after
        for scan in range(4):
            zone = zones[(k * 3 + scan * 5 + k // 4) % len(zones)]
            journal.append("seen", at + timedelta(minutes=scan), animal="a1", zone=zone, scan=scan + 1)
        journal.close()


def shifts(folder: Path) -> dict[str, Any]:
    return json.loads(run("shifts", "--json", "--study", folder).stdout)


def made(
    tmp_path: Path, present: str, *expects: str, before: list[str], after: list[str], days: int = 15
) -> Path:
    folder = study_folder(tmp_path, TWO_ZONES.replace("[animals.a1]", HIDE.replace("{present}", present), 1))
    evenings(folder, before, after, days)
    words = ["adjust", "cover", "hide", "--at", "2026-03-20T00:00", "--settle", "0h"]
    for one in expects:
        words += ["--expects", one]
    done = run(*words, "--study", folder)
    assert done.exit_code == 0, done.stderr
    return folder


def test_a_new_hide_that_nobody_enters_is_answered(tmp_path: Path) -> None:
    folder = made(tmp_path, FROM, "hide:up", before=["moss", "bark"], after=["moss", "bark"])
    answer = shifts(folder)
    (finding,) = [f for f in answer["findings"] if f["about"][-1] == "hide"]
    assert "is new" in finding["says"] and "it has not been used so far" in finding["says"]
    assert finding["numbers"]["used"]["value"] == 0 and finding["numbers"]["used_high"]["value"] > 0
    (row,) = [r for r in answer["rows"] if r["zone"] == "hide"]
    assert row["before"] is None and row["after"] == 0 and row["p"] is None


def test_a_new_hide_that_is_sought_is_told_by_its_size(tmp_path: Path) -> None:
    folder = made(tmp_path, FROM, "hide:up", before=["moss", "bark"], after=["hide", "hide", "hide", "moss"])
    (finding,) = [f for f in shifts(folder)["findings"] if f["about"][-1] == "hide"]
    assert finding["numbers"]["ratio"]["value"] > 1.5
    assert "You expected more use: it is used" in finding["says"]


def test_a_place_that_was_taken_away_is_not_used_less(tmp_path: Path) -> None:
    folder = made(tmp_path, UNTIL, before=["hide", "moss", "hide", "bark"], after=["moss", "bark"])
    answer = shifts(folder)
    (finding,) = [f for f in answer["findings"] if f["about"][-1] == "hide"]
    assert finding["verdict"] == "too early" and finding["reason"] == "not_on_both_sides"
    assert "is no longer there" in finding["says"]


def test_what_could_not_move_is_not_compared(tmp_path: Path) -> None:
    """Two places remain, and one tells what the other does: one comparison."""
    folder = made(tmp_path, FROM, before=["moss", "moss", "bark"], after=["bark", "bark", "moss"])
    rows = [r for r in shifts(folder)["rows"] if r["zone"] in ("moss", "bark")]
    assert [r["p_holm"] for r in rows] == pytest.approx([r["p"] for r in rows])


@pytest.mark.parametrize("days", [1, 2])
def test_an_expectation_stays_in_sight_when_nothing_can_be_tested(tmp_path: Path, days: int) -> None:
    folder = made(tmp_path, "", "hide:up", before=["moss", "hide"], after=["hide", "moss"], days=days)
    says = " ".join(f["says"] for f in shifts(folder)["findings"])
    assert "You expected" in says and "Cork hide" in says


def test_no_change_did_not_go_the_other_way(tmp_path: Path) -> None:
    same = ["hide", "moss", "bark", "moss"]
    folder = made(tmp_path, "", "hide:up", before=same, after=same, days=16)
    (finding,) = [f for f in shifts(folder)["findings"] if f["about"][-1] == "hide"]
    assert finding["numbers"]["change"]["value"] == pytest.approx(0, abs=0.005)
    assert "not answered yet" in finding["says"]
