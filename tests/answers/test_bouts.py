"""Bouts of a followed animal: runs of one behaviour, some of which only lasted at least so long."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.recorder.driver import drive
from zoneuse import open_study
from zoneuse.stats.time_series.lasting import median_lasting


def test_the_median_is_that_of_a_library() -> None:
    duration = pytest.importorskip("statsmodels.duration.survfunc")
    rng, met = np.random.default_rng(3), 0
    for _ in range(60):
        many = rng.integers(4, 30)
        times, ended = rng.exponential(20, many), rng.random(many) < 0.7
        if not ended.any():
            continue
        known = duration.SurvfuncRight(times, ended.astype(int))
        mine, limits = median_lasting(times, ended), known.quantile_ci(0.5, method="cloglog")
        if not np.isclose(known.surv_prob, 0.5).any():  # at one half exactly, conventions differ
            assert mine.median == pytest.approx(known.quantile(0.5), nan_ok=True)
        assert mine.low == pytest.approx(limits[0], nan_ok=True)
        met += 1
    assert met > 50


def test_what_runs_at_the_end_is_not_whole(tmp_path: Path) -> None:
    d = drive(tmp_path, method="focal", animals=("a1",), minutes=10.0)
    d.keys("or").wait(60).keys("m").wait(30).keys("r").wait(40).keys("m").wait(20)
    d.core.finish(d.now)
    d.core.ledger.close()
    part = open_study(tmp_path / "study").activity().parts["bouts"].set_index("behaviour")
    assert part.loc["moving", ["bouts", "whole"]].tolist() == [2, 1]
    assert part.loc["resting", ["bouts", "whole"]].tolist() == [2, 1]
    assert part.loc["resting", "longest_s"] == pytest.approx(60.2, abs=0.3)
    assert part["minutes_per_hour"].sum() == pytest.approx(60)
    assert part.loc["resting", "minutes_per_hour"] == pytest.approx(60 * 100.1 / 150.3, abs=0.2)
