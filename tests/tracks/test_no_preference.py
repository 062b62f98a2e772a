"""Tracked animals without a preference: a small part of `python -m tests.sim.calibrate_tracks 200`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.sim.calibrate_tracks import claims


@pytest.mark.parametrize(("step_s", "border"), [(60.0, 1.0), (60.0, 0.0)])
def test_hardly_any_study_claims_one_though_some_rest_on_borders(
    tmp_path: Path, step_s: float, border: float
) -> None:
    wrong = sum(claims(seed, step_s, 0.1, border, tmp_path / str(seed)) for seed in range(1000, 1006))
    assert wrong <= 1
