"""Damage in the journals is said when a session starts: on the first screen, and by lines."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from tests.making import TWO_ZONES, scans, study_folder
from zoneuse.journal.reader import read_journals
from zoneuse.recording.session.instant import read_clocks
from zoneuse.recording.session.plan import make_plan
from zoneuse.recording.session.recall import recall
from zoneuse.recording.telling.plain import run_plain
from zoneuse.screens.recorder.app import RecorderApp
from zoneuse.study.toml.file import load_declaration


def damaged(tmp_path: Path) -> Path:
    folder = study_folder(tmp_path, TWO_ZONES)
    scans(folder, "2026-03-04T20:00", [("moss",), ("bark",), ("moss",)])
    (path,) = (folder / "journal").glob("*.jsonl")
    lines = path.read_bytes().split(b"\n")
    lines[1] = lines[1].replace(b"moss", b"mosz")
    path.write_bytes(b"\n".join(lines))
    return folder


def test_lines_say_it_before_the_first_question(tmp_path: Path) -> None:
    folder = damaged(tmp_path)
    plan = make_plan(load_declaration(folder), read_clocks().at, quiet_min=0.0)
    said: list[str] = []
    run_plain(plan, folder, ["leave"], out=said.append)
    assert any("Damaged records in" in line and "zoneuse check" in line for line in said)


async def test_the_first_screen_says_it(tmp_path: Path) -> None:
    declared = load_declaration(damaged(tmp_path))
    known = recall(declared, read_journals(declared.folder), datetime.now(UTC))
    assert known.unread > 0
    app = RecorderApp(make_plan(declared, read_clocks().at, quiet_min=0.0), lambda: known)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.pause(0.3)
        assert "Damaged records in" in str(app.screen.query_one("#first-lines").render())
