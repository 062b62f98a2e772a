"""Counts of moments agree with a second reader of the journals, written from the design alone.

By hand, thousands: ``python -m tests.differential.test_differential 3000``.
"""

from __future__ import annotations

import csv
import json
import random
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from tests.differential.reader import counts, spent
from tests.differential.studies import DECLARED, make
from tests.making import run
from zoneuse import open_study
from zoneuse.tables.moments import BUDGET

Counts = Counter[tuple[str, str | None, str]]


def product_counts(folder: Path) -> Counts:
    rows = open_study(folder).moments
    rows = rows[rows["out"] == ""]
    found: Counts = Counter()
    for animal, group, zone, session, weight in rows[
        ["animal", "group", "zone", "session", "weight"]
    ].itertuples(index=False):
        who = animal if isinstance(animal, str) else group if isinstance(group, str) else ""
        found[who, zone if isinstance(zone, str) else None, session] += int(weight)
    return found


def shares(moments: Counts, budgets: Counter[tuple[str, str, str]]) -> dict[str, float]:
    """Use of each zone: its share of each session's moments and time budgets, averaged over the sessions."""
    sessions: dict[str, Counter[str]] = {}
    for (_, zone, session), weight in [*moments.items(), *budgets.items()]:
        if zone is not None and weight:
            sessions.setdefault(session, Counter())[zone] += weight  # type: ignore[assignment]
    found: dict[str, float] = {}
    for own in sessions.values():
        for zone, weight in own.items():
            found[zone] = found.get(zone, 0.0) + weight / own.total() / len(sessions)
    return found


def compare(folder: Path) -> None:
    expected = counts(DECLARED, folder)
    assert product_counts(folder) == expected
    study = open_study(folder)
    answer: dict[str, Any] = study.zones(cuts=False).to_dict()
    by_zone: Counter[str] = Counter()
    budgets = spent(DECLARED, folder)
    told_of = study.moments[(study.moments["out"] == BUDGET) & study.moments["zone"].notna()]
    of_time: Counter[tuple[str, str, str]] = Counter()
    for animal, zone, session, share in told_of[["animal", "zone", "session", "weight"]].itertuples(
        index=False
    ):
        of_time[animal, zone, session] += share
    assert {k: round(v, 9) for k, v in of_time.items()} == {k: round(v, 9) for k, v in budgets.items()}
    unseen = 0
    for (_, zone, _), weight in expected.items():
        unseen += weight if zone is None else 0
        if zone is not None:
            by_zone[zone] += weight
    assert answer["effort"]["unseen"] == unseen
    assert answer["effort"]["moments"] == sum(by_zone.values())
    told = {row["zone"]: row["moments"] for row in answer["rows"] if row["moments"]}
    assert told == {zone: n for zone, n in by_zone.items() if n}
    effort = answer["effort"]
    if not any(budgets.values()):
        return
    used = {row["zone"]: row["used"] for row in study.zones(cuts=False, cluster="session").to_dict()["rows"]}
    by_hand = shares(expected, budgets)
    assert used == {zone: pytest.approx(by_hand.get(zone, 0.0), abs=1e-9) for zone in used}
    for other in (study.activity(), study.retreats()):
        assert other.effort["records"] == other.effort["counted"] + sum(other.effort["left_out"].values())
    assert effort["records"] == effort["counted"] + sum(effort["left_out"].values())


@settings(
    max_examples=15,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
    database=None,
)
@given(seed=st.integers(0, 2**32))
def test_random_journals_are_counted_as_a_second_reader_does(seed: int) -> None:
    with tempfile.TemporaryDirectory() as base:
        compare(make(Path(base) / "study", random.Random(seed)))


def test_the_command_line_and_the_export_say_the_same(tmp_path: Path) -> None:
    for seed in range(4):
        folder = make(tmp_path / f"study{seed}", random.Random(seed))
        expected = counts(DECLARED, folder)
        answer = json.loads(run("zones", "--json", "--study", folder).stdout)
        assert answer["effort"]["moments"] == sum(n for (_, zone, _), n in expected.items() if zone)
        out = tmp_path / f"tables{seed}"
        assert run("export", out, "--format", "csv", "--study", folder).exit_code == 0
        found: Counts = Counter()
        with (out / "moments.csv").open(encoding="utf-8") as stream:
            for row in csv.DictReader(stream):
                if not row["out"]:
                    who = row["animal"] or row["group"]
                    found[who, row["zone"] or None, row["session"]] += int(float(row["weight"]))
        assert found == expected


if __name__ == "__main__":
    start, many = int(sys.argv[2]) if len(sys.argv) > 2 else 0, int(sys.argv[1])
    with tempfile.TemporaryDirectory() as base:
        for seed in range(start, start + many):
            try:
                compare(make(Path(base) / "study", random.Random(seed)))
            except Exception:
                print("seed", seed)
                raise
    print(many, "studies agree")
