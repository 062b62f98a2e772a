"""Clocks that jump, are set, differ or move: durations right, nothing reordered, said where it is doubtful."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from tests.making import TWO_ZONES, run, scans, session, study_folder, vienna
from zoneuse import open_study
from zoneuse.journal.reader import read_journals

ZONES = ["moss", "moss", "bark", "moss", "bark", "bark", "moss", "bark"]


def watch(
    folder: Path, at: datetime, step: timedelta = timedelta(), method: str = "scan", observer: str = "mk"
) -> None:
    """Eight records a minute apart; after the fourth the wall clock is set by ``step``."""
    journal = session(folder, at, method=method, observer=observer)
    start = journal._started
    for number, zone in enumerate(ZONES):
        shown = at + timedelta(minutes=number) + (step if number >= 4 else timedelta())
        more = {} if method == "focal" else {"scan": number + 1}
        journal.append(
            "seen", shown, mono=start + 60 * number, animal="a1", zone=zone, behaviour="resting", **more
        )
    end = at + timedelta(minutes=8) + step
    journal.append("closed", end, mono=start + 480, reason="finished")
    journal.close()


STEPS = [
    timedelta(),
    timedelta(hours=1),
    timedelta(hours=-1),
    timedelta(days=1),
    timedelta(days=-1),
    timedelta(minutes=-2),
]


@pytest.mark.parametrize("method", ["scan", "focal"])
@pytest.mark.parametrize("step", STEPS, ids=str)
def test_a_clock_set_while_watching_reorders_nothing(tmp_path: Path, step: timedelta, method: str) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-10T20:00")
    watch(folder, at, step, method)
    table = open_study(folder).moments
    assert table["zone"].tolist() == ZONES
    assert table["at"].is_monotonic_increasing
    assert table["day"].nunique() == 1 and table["out"].eq("").all()
    if step <= timedelta() or method == "focal":
        gaps = table["at"].diff().dropna().dt.total_seconds()
        forward = method == "focal" and step > timedelta()
        # What the computer slept, or was set forward by, is no time anybody watched: the clock counts.
        assert gaps.tolist() == [60.0 + (step.total_seconds() if forward and i == 3 else 0) for i in range(7)]
    done = run("check", "--study", folder)
    assert ("own seconds" in done.stderr) == bool(step)
    assert done.exit_code == 0


@pytest.mark.parametrize(
    "when", ["2026-03-29T01:30", "2026-10-25T01:30", "2028-02-29T23:57", "2026-12-31T23:57"]
)
@pytest.mark.parametrize("method", ["scan", "focal"])
def test_summer_time_leap_day_and_the_end_of_the_year(tmp_path: Path, when: str, method: str) -> None:
    """Ninety minutes over the change of the clocks are ninety minutes, and one evening."""
    folder = study_folder(tmp_path)
    journal = session(folder, when, method=method)
    start, at = journal._started, vienna(when)
    for minute in range(90):
        journal.append(
            "seen", datetime.fromtimestamp(at.timestamp() + 60 * minute, at.tzinfo), mono=start + 60 * minute,
            animal="a1", zone="moss" if minute < 45 else "bark", **({} if method == "focal" else {"scan": minute + 1}),
        )  # fmt: skip
    journal.append(
        "closed",
        datetime.fromtimestamp(at.timestamp() + 5400, at.tzinfo),
        mono=start + 5400,
        reason="finished",
    )
    journal.close()
    table = open_study(folder).moments
    assert len(table) == 90
    assert table["at"].diff().dropna().dt.total_seconds().eq(60).all()
    assert table["zone"].tolist() == ["moss"] * 45 + ["bark"] * 45
    assert table["day"].nunique() == 1
    assert "Hint: session" not in run("check", "--study", folder).stderr
    for words in (("zones",), ("activity",), ("shifts",), ("mend", "last")):
        assert run(*words, "--study", folder).exit_code == 0


def test_records_from_the_shell_on_a_leap_day(tmp_path: Path) -> None:
    folder = study_folder(tmp_path)
    assert run("seen", "a1", "moss", "--at", "2024-02-29T10:00", "--study", folder).exit_code == 0
    assert run("seen", "a1", "moss", "--at", "2026-02-29T10:00", "--study", folder).exit_code == 2


@pytest.mark.parametrize("apart", [90, -90])
def test_two_devices_ninety_seconds_apart_count_once(tmp_path: Path, apart: int) -> None:
    folder = study_folder(tmp_path)
    at = vienna("2026-03-10T20:00")
    watch(folder, at)
    watch(folder, at + timedelta(seconds=apart), observer="jo")
    table = open_study(folder).moments
    both = table[table["out"] == ""].groupby("observer").size()
    # What both saw counts once; before and after, whoever was there counts.
    assert both.sum() <= 8 + 2 and both.max() == 8
    effort = open_study(folder).zones().effort
    assert effort["moments"] == both.sum()


def test_a_study_moved_to_another_zone_keeps_its_times_and_says_so(tmp_path: Path) -> None:
    folder = study_folder(tmp_path, TWO_ZONES)
    for day in (1, 2, 3):
        scans(folder, f"2026-03-0{day}T20:00", [["moss"], ["bark"]])
    before = open_study(folder)
    assert "recorded in" not in run("check", "--study", folder).stderr
    study_folder(folder, TWO_ZONES.replace("Europe/Vienna", "Pacific/Auckland"))
    after = open_study(folder)
    assert after.moments["at"].tolist() == before.moments["at"].tolist()
    assert after.zones().table.equals(before.zones().table)
    hours = (after.moments["hour"] - before.moments["hour"]) % 24
    assert hours.tolist() == pytest.approx([12.0] * len(hours))
    assert "6 sessions" not in (said := run("check", "--study", folder).stderr)
    assert "3 sessions or notes were recorded in Europe/Vienna" in said


def test_every_duration_of_a_session_over_two_parts_is_its_own(tmp_path: Path) -> None:
    """A part that goes on after a crash counts its seconds anew."""
    from zoneuse.journal.writer import continue_session

    folder = study_folder(tmp_path)
    at = vienna("2026-03-10T20:00")
    journal = session(folder, at, method="focal")
    journal.append("seen", at, mono=journal._started, animal="a1", zone="moss")
    journal.append("noted", at + timedelta(minutes=3), mono=journal._started + 180, text="x")
    journal.close()
    later = at + timedelta(minutes=10)
    second = continue_session(folder, journal.session, 2, at=later, zone=at.tzinfo, study="Two zones", observer="mk",
                              method="focal", every_s=60)  # fmt: skip
    second.append("seen", later, mono=second._started, animal="a1", zone="bark")
    second.append("closed", later + timedelta(minutes=2), mono=second._started + 120, reason="finished")
    second.close()
    assert read_journals(folder).sessions[journal.session].parts == 2
    assert open_study(folder).moments["zone"].tolist() == ["moss"] * 3 + ["bark"] * 2
