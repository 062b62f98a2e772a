"""When the keeper could watch, as people write it, and what `check` says where it cannot be read."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.making import TWO_ZONES, run, study_folder
from zoneuse.study.watching_times import Window, parse_window

WEEK = frozenset(range(7))
VIENNA = ZoneInfo("Europe/Vienna")


@pytest.mark.parametrize(
    ("text", "days", "opens", "closes"),
    [
        ("weekdays 19:00-23:00", {0, 1, 2, 3, 4}, 1140, 1380),
        ("sat 08:00-12:00", {5}, 480, 720),
        ("daily 09:00-18:00", WEEK, 540, 1080),
        ("Mon-Fri 19-23", {0, 1, 2, 3, 4}, 1140, 1380),
        ("Mondays, Wednesdays: 7:00 – 8:30", {0, 2}, 420, 510),
        ("tue and thu 7.30-9.00", {1, 3}, 450, 540),
        ("weekends 9pm to 1am", {5, 6}, 1260, 1500),
        ("fri-mon 22:00-24:00", {4, 5, 6, 0}, 1320, 1440),
        ("every day 6-7", WEEK, 360, 420),
        ("20:30-23:00", WEEK, 1230, 1380),
        ("0:00-24:00", WEEK, 0, 1440),
        ("on Tuesday from 18:00 until 19:00", {1}, 1080, 1140),
    ],
)
def test_what_people_write(text: str, days: set[int], opens: int, closes: int) -> None:
    assert parse_window(text) == Window(frozenset(days), opens, closes)


@pytest.mark.parametrize(
    "text", ["", "evenings", "mon", "t 7-8", "someday 7-8", "mon 25:00-26:00", "mon 7-7", "mon 19:70-20", "mon 13pm-2"]
)  # fmt: skip
def test_what_cannot_be_understood(text: str) -> None:
    assert parse_window(text) is None


@given(st.text(max_size=30))
def test_no_text_breaks_it(text: str) -> None:
    window = parse_window(text)
    assert window is None or (window.days and 0 <= window.opens < window.closes <= window.opens + 1440)


def test_a_window_past_midnight_on_the_day_it_opens() -> None:
    window = parse_window("fri 22:00-01:00")
    assert window is not None
    assert window.on(date(2026, 3, 5), VIENNA) is None
    assert window.on(date(2026, 3, 6), VIENNA) == (
        datetime(2026, 3, 6, 21, tzinfo=UTC),
        datetime(2026, 3, 7, 0, tzinfo=UTC),
    )


def test_check_names_the_bad_one_with_a_remedy(tmp_path: Path) -> None:
    can = '\n[watching]\ncan = ["weekdays 19-23", "some evenings"]\n'
    result = run("check", "--study", study_folder(tmp_path, TWO_ZONES + can))
    assert result.exit_code == 1
    assert "watching.can" in result.stderr
    assert "some evenings" in result.stderr
    assert "weekdays 19:00-23:00" in result.stderr
