"""Storms of keys against the model: no traceback, and the journal holds what the model says.

``python -m tests.recorder.storms 10000`` runs many more; docs/recorder.md has its results.
"""

from __future__ import annotations

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.recorder.model import Token
from tests.recorder.storm_screens import through_the_screens
from tests.recorder.storms import WAYS, storms_of, through_the_core, through_the_lines

SEEDS = st.integers(0, 10**9)


@pytest.mark.parametrize("way", sorted(WAYS))
def test_the_journal_is_what_the_model_says(way: str) -> None:
    @settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
    @given(storms_of(way))
    def holds(tokens: list[Token]) -> None:
        through_the_core(way, tokens)

    holds()


@pytest.mark.parametrize("way", sorted(WAYS))
def test_line_by_line(way: str) -> None:
    @settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck))
    @given(storms_of(way), SEEDS)
    def holds(tokens: list[Token], seed: int) -> None:
        through_the_lines(way, tokens, seed)

    holds()


@pytest.mark.parametrize("way", sorted(WAYS))
def test_through_the_screens_in_bundles(way: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("zoneuse.screens.recorder.watch._TICK_S", 1e6)
    monkeypatch.setattr("zoneuse.screens.recorder.watch._RETRY_S", 1e6)
    monkeypatch.setattr("zoneuse.screens.recorder.watch._READINGS_S", 1e6)
    monkeypatch.setenv("XDG_STATE_HOME", "/nowhere")

    @settings(max_examples=2, deadline=None, suppress_health_check=list(HealthCheck))
    @given(storms_of(way), SEEDS)
    def holds(tokens: list[Token], seed: int) -> None:
        through_the_screens(way, tokens, seed)

    holds()
