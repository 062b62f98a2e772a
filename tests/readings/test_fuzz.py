"""A few hundred made-up exports in any layout, from a truth the generator knows: none goes in wrong without a word."""

from __future__ import annotations

import pytest

from .fuzz import judge, make


@pytest.mark.parametrize("first", range(0, 300, 50))
def test_no_layout_is_silently_wrong(first: int) -> None:
    fates = [judge(make(seed)) for seed in range(first, first + 50)]
    assert [more for fate, more in fates if fate == "silent"] == []
    # A reader that refused all would pass too: most are taken in, at once or after a true answer.
    assert sum(fate in ("taken", "answered") for fate, _ in fates) >= 25
