"""What is kept between openings: found again while nothing changed, never trusted, never in the study."""

from __future__ import annotations

import contextlib
import json
import os
import pickle
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.making import scans, study_folder, tree
from tests.review.showing import NOW, SKETCHED, answer_all
from zoneuse.screens.review.background.asked import ReviewFilters
from zoneuse.screens.review.background.crossing import CROSSING, read_given
from zoneuse.screens.review.background.kept import cache_folder, keep, keys, recall, stamp

RAW: dict[str, Any] = {
    "crossing": CROSSING, "name": "zones", "headline": "Said.", "notes": [], "cautions": ["Careful."],
    "findings": [{"about": ["moss"], "verdict": "too early", "standing": "", "says": "Moss."}],
    "headings": [{"text": "Zone", "left": True, "narrow": True}],
    "rows": [{"cells": ["Moss"], "about": ["moss"]}], "hidden": 0, "labels": {"moss": "Moss"},
    "series": {"rows": [{"zone": "moss", "used": 0.5, "hours": [1, 2]}]},
}  # fmt: skip


@pytest.fixture
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    return cache_folder()


def test_what_was_kept_is_found_again(own: Path) -> None:
    keep("abc", RAW)
    assert recall("abc") == read_given(RAW)
    assert own.stat().st_mode & 0o077 == 0
    assert recall("other") is None


class Trap:
    """Unpickled, it would leave a mark."""

    def __init__(self, mark: Path) -> None:
        self.mark = mark

    def __reduce__(self) -> tuple[Any, ...]:
        return os.mkdir, (str(self.mark),)


def test_a_damaged_or_foreign_file_is_ignored_and_runs_nothing(own: Path, tmp_path: Path) -> None:
    keep("abc", RAW)
    path = own / "abc.json"
    whole = path.read_bytes()
    trap = pickle.dumps(Trap(tmp_path / "mark"))
    changed = whole.replace(b"Careful.", b"Careless")
    for data in (
        whole[:-20],
        changed,
        b"",
        b"\xff\xfe\x00",
        trap,
        b"[" * 100_000,
        b"null",
        b"[]",
        b'{"crossing": 1}',
    ):
        path.write_bytes(data)
        assert recall("abc") is None
    assert not (tmp_path / "mark").exists()
    keep("abc", RAW)
    assert recall("abc") is not None


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_whatever_stands_in_a_file_is_an_answer_or_refused(data: st.DataObject) -> None:
    anything = st.recursive(
        st.none() | st.booleans() | st.integers() | st.text(max_size=3),
        lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
        max_leaves=6,
    )
    raw = json.loads(json.dumps(RAW))
    raw[data.draw(st.sampled_from(sorted(raw)))] = data.draw(anything)
    with contextlib.suppress(ValueError):
        read_given(raw)


def test_a_disk_that_refuses_stops_nothing(own: Path) -> None:
    own.parent.parent.mkdir(parents=True, exist_ok=True)
    own.parent.write_text("a file where the folder should be")
    keep("abc", RAW)
    assert recall("abc") is None


def test_the_longest_unused_go_first(own: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("zoneuse.screens.review.background.kept._MOST_FILES", 3)
    for number, name in enumerate("abcde"):
        keep(name, RAW)
        os.utime(own / f"{name}.json", (number, number))
    keep("f", RAW)
    assert sorted(p.stem for p in own.iterdir()) == ["d", "e", "f"]
    # Their size counts as well: the newest stay as far as there is room.
    monkeypatch.setattr(
        "zoneuse.screens.review.background.kept._MOST_TOGETHER", 2 * (own / "f.json").stat().st_size
    )
    keep("g", RAW)
    assert sorted(p.stem for p in own.iterdir()) == ["f", "g"]


def test_the_key_changes_with_all_it_depends_on_and_nothing_else(tmp_path: Path, own: Path) -> None:
    folder = study_folder(tmp_path / "study", SKETCHED)
    scans(folder, "2026-03-01T20:00", [("moss",)])
    asked = ReviewFilters()

    def now(asked: ReviewFilters = asked, later: timedelta = timedelta()) -> dict[str, str]:
        return keys(stamp(folder), asked, ("zones", "climate"), NOW + later)

    first = now()
    assert now() == first and first["zones"] != first["climate"]
    assert now(ReviewFilters(period="in other words")) == first
    for other in (
        ReviewFilters(animals=("a1",)),
        ReviewFilters(slot="night"),
        ReviewFilters(since="2026-03-01T00:00:00+01:00"),
    ):
        assert now(other)["zones"] != first["zones"]
    # How old a reading is depends on the hour; what was seen does not.
    later = now(later=timedelta(hours=2))
    assert later["zones"] == first["zones"] and later["climate"] != first["climate"]
    known = [first["zones"]]
    (folder / "readings" / "logger=L1").mkdir(parents=True)
    for path in (
        folder / "study.toml",
        next((folder / "journal").iterdir()),
        folder / "readings" / "logger=L1" / "x.parquet",
    ):
        path.write_bytes((path.read_bytes() if path.exists() else b"") + b"\n")
        known.append(now()["zones"])
    (folder / "readings" / "newest.json").write_text("{}")
    known.append(now()["zones"])
    assert len(set(known)) == 4 and known[-1] == known[-2]


def test_nothing_is_kept_inside_a_study(tmp_path: Path, own: Path) -> None:
    folder = study_folder(tmp_path / "study", SKETCHED)
    scans(folder, "2026-03-01T20:00", [("moss",)])
    before = tree(folder)
    assert answer_all(folder, ("sessions", "zones")) == {}
    assert tree(folder) == before
    assert len(list(own.iterdir())) == 2


def test_without_a_cache_folder_of_ones_own_it_is_in_the_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", "/somewhere")
    assert cache_folder() == Path("/somewhere/.cache/zoneuse/review")
    # A relative one is to be ignored (XDG base directories): the folder may be a stranger's study.
    monkeypatch.setenv("XDG_CACHE_HOME", "here")
    assert cache_folder() == Path("/somewhere/.cache/zoneuse/review")
