"""Eleven real layouts of logger exports, against what EXPECTED.csv says of each file (computed from the raw files).

The files are not part of the project: they lie at ``../shared/real`` or where ``ZONEUSE_REAL`` points.
"""

from __future__ import annotations

import csv
import os
from dataclasses import replace
from datetime import UTC, timedelta, timezone
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from zoneuse.readings.layout import Hints, UndecidedError
from zoneuse.readings.read.intake import Staged, stage
from zoneuse.readings.store.store import read
from zoneuse.study.problems import ProblemError

from .intaking import MADE

_HERE = Path(os.environ.get("ZONEUSE_REAL", Path(__file__).parents[2].parent / "shared" / "real"))
REAL = _HERE / "loggers"
pytestmark = pytest.mark.skipif(not (REAL / "EXPECTED.csv").is_file(), reason=f"no real exports at {REAL}")

# What a keeper has to say because the file does not: L03 only "CST", L05 no header, the others no unit.
HINTS: dict[str, dict[str, Any]] = {
    "L03": {"zone": timezone(timedelta(hours=-6))},
    "L05": {"columns": (("4", "temperature_c"),)},
    "L07/export_1": {"unit": "C"},
    "L08": {"unit": "C"},
    "L10": {"unit": "C"},
    "L11": {"unit": "C", "zone": UTC},
    # Several channels of one logger; which of them is meant only the keeper knows.
    "L13": {"columns": (("3", "temperature_c"),)},
    "L14/export_1.csv#3": {"columns": (("3", "temperature_f"),), "as_written": True},
    "L14/export_1.csv#4": {"columns": (("4", "temperature_f"),), "as_written": True},
}
# In L05/export_2 midnight is written as a date without a clock, one step after 23:45. EXPECTED.csv was
# computed without that row (and so counts a gap); zoneuse takes it for the midnight it is.
MIDNIGHT_MORE = {"L05/export_2.csv"}


def expected() -> list[dict[str, str]]:
    if not (REAL / "EXPECTED.csv").is_file():
        return []
    with (REAL / "EXPECTED.csv").open() as stream:
        return list(csv.DictReader(stream))


def hints_of(file: str) -> dict[str, Any]:
    return next((h for key, h in HINTS.items() if file.startswith(key)), {})


def take(folder: Path, file: str, **hints: Any) -> Staged:
    staged = stage(
        folder,
        REAL / file.partition("#")[0],
        ["La", "Lb"],
        ZoneInfo("UTC"),
        Hints(**{"logger": "La", **hints}),
        intaken=[],
    )
    staged.commit(MADE)
    return staged


@pytest.mark.parametrize("row", expected(), ids=lambda row: row["file"])
def test_reads_as_expected(tmp_path: Path, row: dict[str, str]) -> None:
    file = row["file"]
    if row["readings"] == "0":
        with pytest.raises(ProblemError, match="no readings"):
            take(tmp_path, file)
        return
    if file.startswith("L11"):
        pytest.skip("37 series in one file: see test_a_file_of_many_series")
    staged = take(tmp_path, file, **hints_of(file))
    found = read(tmp_path, "La")
    more = 1 if file in MIDNIGHT_MORE else 0
    assert len(found.times) == int(row["readings"]) + more
    zone = staged.layout.time.zone
    assert zone is not None
    local = [np.datetime64(int(t), "ms").astype(object).replace(tzinfo=UTC).astimezone(zone)
             for t in found.times[[0, -1]]]  # fmt: skip
    assert [str(t.replace(tzinfo=None))[:19] for t in local] == [row["first"], row["last"]]
    for quantity, name in (("temperature_c", "tempC"), ("humidity_pct", "rh")):
        if row[f"{name}_mean"]:
            v = found.values[quantity]
            said = [float(row[f"{name}_{what}"]) for what in ("min", "mean", "max")]
            # Means of L05/export_2 move by 0.005 with the midnight row.
            assert [np.nanmin(v), np.nanmean(v), np.nanmax(v)] == pytest.approx(said, abs=6e-4 + 5e-3 * more)
    if row["step_min"]:
        assert np.median(np.diff(found.times)) == pytest.approx(float(row["step_min"]) * 60_000, abs=1_000)
    assert staged.counts.refused_count == 0


@pytest.mark.parametrize(
    ("file", "hint"),
    [
        ("L03/export_1.csv", "zone"),
        ("L05/export_1.csv", "columns"),
        ("L07/export_1.csv", "unit"),
        ("L08/export_1.csv", "unit"),
        ("L10/export_1.txt", "unit"),
        ("L11/export_1.csv", "zone"),
        ("L13/export_1.csv", "columns"),
        ("L14/export_1.csv", "columns"),
    ],
)
def test_what_the_file_does_not_say_is_asked(tmp_path: Path, file: str, hint: str) -> None:
    with pytest.raises(UndecidedError) as error:
        take(tmp_path, file)
    assert hint in {q.hint for q in error.value.questions}


def test_the_headers_own_zone_is_used(tmp_path: Path) -> None:
    assert str(take(tmp_path, "L01/export_1.csv").layout.time.zone) == "UTC-04:00"
    assert str(take(tmp_path, "L06/export_2.txt").layout.time.zone) == "UTC+02:00"


def test_event_rows_become_marks(tmp_path: Path) -> None:
    marks = take(tmp_path, "L06/export_1.txt").marks
    assert [m.says for m in marks] == [
        "Coupler Detached", "Coupler Attached", "Host Connected", "Stopped", "End Of File",
    ]  # fmt: skip


def test_a_file_of_many_series_is_asked_about_and_parted(tmp_path: Path) -> None:
    file, hints = "L11/export_1.csv", hints_of("L11")
    with pytest.raises(UndecidedError) as error:
        take(tmp_path, file, **hints)
    assert {q.hint for q in error.value.questions} == {"by"}
    series = (("1/1", "La"), ("22/2", "Lb"))
    staged = take(tmp_path, file, **hints, by=("Colony", "TrialNumber"), series=series)
    assert staged.kept == 336 + 1600 - staged.doubles
    assert staged.counts.refused_count == 21165 - 336 - 1600
    assert len(read(tmp_path, "Lb").times) == staged.sinks["Lb"].rows


def test_a_summer_clock_that_never_went_back_is_noticed(tmp_path: Path) -> None:
    # L04 is on local wall clock in the United States, and runs through 2 November 2025 once.
    with pytest.raises(UndecidedError) as error:
        stage(tmp_path, REAL / "L04/export_1.csv", ["La"], ZoneInfo("America/New_York"), Hints(), intaken=[])
    assert {q.hint for q in error.value.questions} == {"doubled"}


def test_two_date_styles_in_one_column(tmp_path: Path) -> None:
    path = _HERE / "lizard_microclimate_stark2023" / "raw" / "Summer ground temperatures.csv"
    if not path.is_file():
        pytest.skip("the microclimate set is not there")
    hints = Hints(unit="C", by=("Object", "Size", "Location", "id"), series=(("Bush/Small/Mishmar/1", "La"),))
    with pytest.raises(UndecidedError, match="time goes back in 2 places, first at line 88"):
        stage(tmp_path, path, ["La"], ZoneInfo("Asia/Jerusalem"), hints, intaken=[])
    hints = replace(hints, as_written=True)
    staged = stage(tmp_path, path, ["La"], ZoneInfo("Asia/Jerusalem"), hints, intaken=[])
    assert staged.layout.time.order == "MDY"
    first, last = (
        np.datetime64(ms, "ms") for ms in (staged.sinks["La"].first_ms, staged.sinks["La"].last_ms)
    )
    assert first >= np.datetime64("2020-05-31") and last < np.datetime64("2020-10-01T12")
    staged.discard()


def test_the_same_recording_exported_in_another_zone_is_recognised(tmp_path: Path) -> None:
    """L06/export_3 is the recording of export_1, saved two hours later by the clock."""
    from zoneuse.readings.store.store import intakes

    take(tmp_path, "L06/export_1.txt")
    with pytest.raises(ProblemError, match="2 h earlier"):
        stage(
            tmp_path,
            REAL / "L06/export_3.csv",
            ["La"],
            ZoneInfo("UTC"),
            Hints(),
            intaken=intakes(tmp_path)[0],
        )
    zone = timezone(timedelta(hours=2))
    again = stage(
        tmp_path, REAL / "L06/export_3.csv", ["La"], UTC, Hints(zone=zone), intaken=intakes(tmp_path)[0]
    )
    assert (again.kept, again.doubles) == (0, 49)
    again.discard()
