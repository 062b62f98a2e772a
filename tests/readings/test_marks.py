"""Event marks that loggers kept, as the time of a change on record."""

from __future__ import annotations

from pathlib import Path

from tests.making import TWO_ZONES, VIENNA, run, study_folder
from zoneuse.journal.reader import read_journals
from zoneuse.tables.phases import adjustments


def test_an_event_mark_is_put_on_record_as_a_change(tmp_path: Path) -> None:
    folder = study_folder(tmp_path / "study", TWO_ZONES)
    rows = [f"2026-03-0{1 + n // 24} {n % 24:02d}:00:00,20.{n % 10},60.0," for n in range(48)]
    for hour, text in ((5, "Button"), (30, "Button")):
        rows[hour] += text
    export = tmp_path / "L1.csv"
    export.write_text("Date Time,Temperature (°C),Humidity (%),Event\n" + "\n".join(rows) + "\n")
    assert run("readings", "--study", folder, export, "--logger", "L1", "--yes").exit_code == 0
    shown = run("readings", "--study", folder).stdout
    assert "L1:1  2 Mar 2026 06:00  Button" in shown
    assert "L1:2  1 Mar 2026 05:00  Button" in shown
    done = run("adjust", "water", "moss", "2", "l", "--mark", "L1:2", "--study", folder)
    assert done.exit_code == 0, done.output
    (change,) = adjustments(read_journals(folder))
    assert change.at.astimezone(VIENNA).strftime("%Y-%m-%d %H:%M") == "2026-03-01 05:00"
    wrong = run("adjust", "water", "moss", "--mark", "L1:3", "--study", folder)
    assert wrong.exit_code == 2
    assert "L1:1" in wrong.output
