"""Storms of keys against the model: no traceback, and the journal holds what the model says.

``python -m tests.recorder.storms 10000`` runs many more; docs/recorder.md has its results.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.recorder.model import Token
from tests.recorder.storms import WAYS, storm, through_the_core


@pytest.mark.parametrize("way", sorted(WAYS))
def test_the_journal_is_what_the_model_says(way: str, tmp_path: Path) -> None:
    @settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
    @given(st.integers(0, 10**9))
    def holds(seed: int) -> None:
        tokens: list[Token] = storm(way, seed)
        through_the_core(way, tokens)

    holds()
