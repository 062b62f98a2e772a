"""What is recorded from the shell later belongs to the day it was done."""

from __future__ import annotations

from pathlib import Path

from tests.making import run, study_folder
from zoneuse import open_study


def test_a_spot_check_written_down_later_counts_for_its_own_day(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    result = run("look", "a1=m", "a2=-", "--at", "2026-03-04 21:30", "--study", folder)
    assert result.exit_code == 0, result.stderr
    moments = open_study(folder).moments
    assert {str(d) for d in moments["day"]} == {"2026-03-04"}
    assert moments["zone"].notna().tolist() == [True, False]
    (session,) = open_study(folder).journals.sessions.values()
    assert session.closed == "finished"
