"""Storms of keys against the model: no traceback, and the journal holds what the model says.

``python -m tests.recorder.storms 10000`` runs many more; docs/recorder.md has its results.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.recorder.storm_screens import through_the_screens
from tests.recorder.storms import WAYS, storm, through_the_core, through_the_lines

SEEDS = st.integers(0, 10**9)


@pytest.mark.parametrize("way", sorted(WAYS))
def test_the_journal_is_what_the_model_says(way: str) -> None:
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(SEEDS)
    def holds(seed: int) -> None:
        through_the_core(way, storm(way, seed))

    holds()


@pytest.mark.parametrize("way", sorted(WAYS))
def test_line_by_line(way: str) -> None:
    @settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
    @given(SEEDS)
    def holds(seed: int) -> None:
        through_the_lines(way, storm(way, seed), seed)

    holds()


@pytest.mark.parametrize("way", sorted(WAYS))
def test_through_the_screens_in_bundles(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("zoneuse.screens.recorder.watch._TICK_S", 1e6)
    monkeypatch.setattr("zoneuse.screens.recorder.watch._RETRY_S", 1e6)
    monkeypatch.setattr("zoneuse.screens.recorder.watch._READINGS_S", 1e6)
    monkeypatch.setenv("XDG_STATE_HOME", "/nowhere")
    for seed in (11, 12):
        through_the_screens(way, storm(way, seed), seed)
