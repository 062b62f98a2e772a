"""Where the real data lies; it is not part of the project, and tests that need it skip without it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

REAL = Path(os.environ.get("ZONEUSE_REAL") or Path(__file__).parents[3] / "shared" / "real")


def real(*parts: str) -> Path:
    """A path in the real data. Skips the test where it is absent."""
    path = REAL.joinpath(*parts)
    if not path.exists():
        pytest.skip(f"real data not here: {path} (set ZONEUSE_REAL)")
    return path
