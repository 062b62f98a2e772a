"""Studies answered once for all tests of the review; the cache is never the user's own."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.making import demo_study
from tests.review.showing import answer_all, small_study

DEMO_ANSWERS = ("sessions", "zones", "activity", "prefer", "shifts", "retreats", "climate")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    before = os.environ.get("XDG_CACHE_HOME")
    folder = tmp_path_factory.mktemp("cache")
    os.environ["XDG_CACHE_HOME"] = str(folder)
    yield folder
    if before is None:
        del os.environ["XDG_CACHE_HOME"]
    else:
        os.environ["XDG_CACHE_HOME"] = before


@pytest.fixture(scope="session")
def small(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:
    folder = small_study(tmp_path_factory.mktemp("small") / "study")
    answer_all(folder)
    return folder


@pytest.fixture(scope="session")
def cellar(tmp_path_factory: pytest.TempPathFactory, own_cache: Path) -> Path:
    folder = demo_study(tmp_path_factory.mktemp("demo") / "cellar")
    answer_all(folder, DEMO_ANSWERS)
    return folder
