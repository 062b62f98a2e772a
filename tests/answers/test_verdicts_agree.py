"""What is claimed, the limits printed with it and p say the same: activity, differences by the hour, company."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.sim.calibrate_retreats import as_checks
from tests.sim.calibrate_shifts import Design, simulate, verdicts
from tests.sim.colony import colony
from zoneuse.answers.activity.beside import Beside
from zoneuse.answers.activity.judge import LESS, MORE, USUAL, against_baseline
from zoneuse.answers.preference.judge import slot_findings
from zoneuse.answers.retreats.company import company_of
from zoneuse.answers.retreats.judge import company
from zoneuse.answers.retreats.words import sentence
from zoneuse.answers.shifts.around.unseen import watched_alike
from zoneuse.answers.shifts.judge import more_to_show
from zoneuse.stats.association.sharing import LEVEL_APART, LEVEL_TOGETHER

NAMES = ["resting", "walking", "basking"]
FIRST = datetime(2026, 3, 1, 20, tzinfo=UTC)


def question(**more: Any) -> Any:
    return SimpleNamespace(unit="session", **more)


@pytest.mark.parametrize("seed", range(120))
def test_activity_claims_exactly_where_its_limits_leave_out_no_change(seed: int) -> None:
    """Random numbers of sessions, mixtures, shifts and likeness of one session to the next."""
    random = np.random.default_rng(seed)
    before, after = int(random.integers(10, 40)), int(random.integers(4, 25))
    level = np.cumsum(random.normal(0, random.choice([0.0, 0.3]), (before + after, 3)), axis=0)
    level[before:, 0] += random.choice([0.0, 1.0, 2.5])
    shares = np.exp(level + random.normal(0, 0.4, level.shape))
    shares /= shares.sum(axis=1, keepdims=True)
    opened = [FIRST + timedelta(days=d) for d in range(before + after)]
    known = pd.DataFrame(
        {
            "session": range(before + after),
            "day": [o.date() for o in opened],
            "at": opened,
            "enclosure": "tank",
        }
    )
    findings, table = against_baseline(
        question(),
        Beside(known, shares),
        NAMES,
        since=opened[before],
        within=float(random.uniform(0.05, 0.3)),
    )
    rows = table.set_index("behaviour")
    for f in findings:
        row = rows.loc[f.about[0]]
        outside = row["change_low"] > 0 or row["change_high"] < 0
        assert outside == (f.verdict in (MORE, LESS)) or not f.standing
        assert row["change_low"] <= row["change"] <= row["change_high"]
        if f.verdict in (MORE, LESS):
            assert (f.verdict == MORE) == (row["change"] > 0) == (f["change_low"] > 0)
        if f.verdict == USUAL:
            assert f["change_low"] <= f["change"] <= f["change_high"]


@pytest.mark.parametrize("days", [8, 40])
def test_a_difference_by_the_hour_is_told_exactly_where_its_limits_leave_out_none(days: int) -> None:
    """And fairly sure only where they would still do so at the level that holds however often one asks."""
    random = np.random.default_rng(days)
    one = question(
        effort=SimpleNamespace(sessions=days, days=days), rows=pd.DataFrame({"enclosure": ["tank"]})
    )
    sure = looks = 0
    for _ in range(300):
        middle, half = random.normal(0, 1), abs(random.normal(0, 1)) + 0.05
        row = {
            "quantity": "temperature_c", "slot": "day", "other": "night", "difference": middle,
            "difference_low": middle - half, "difference_high": middle + half, "units": int(random.integers(2, 30)),
            "unit": "animal",
        }  # fmt: skip
        found = slot_findings(one, pd.DataFrame([row]))
        assert bool(found) == (abs(middle) > half)
        for f in found:
            looks += f.standing == "looks like"
            sure += f.standing == "fairly sure here"
            assert f.standing == "looks like" or abs(middle) > 1.2 * half
    assert looks and bool(sure) == (days == 40)


def test_company_is_told_with_the_chance_it_rests_on_and_with_no_range_of_luck_that_holds_it() -> None:
    """The test weighs pairs; the arrivals over all pairs may lie within what luck gives while it stands."""
    claimed = within = 0
    for seed in range(24):
        random = np.random.default_rng(seed)
        checks = as_checks(
            colony(random, checks=40, animals=6, follows=float(random.choice([0.0, 0.4])), pairs=1), 1
        )
        told = company_of(checks, 200, seed, 1)
        assert told is not None
        f = next(iter(company(checks, *told, 1)))
        p = told[0].p_together, told[0].p_apart
        assert (f.verdict == "together") <= (p[0] <= LEVEL_TOGETHER)
        assert (f.verdict == "apart") <= (p[1] <= LEVEL_APART)
        assert (f.verdict == "too early") <= (p[0] > LEVEL_TOGETHER and p[1] > LEVEL_APART)
        if f.verdict == "together":
            claimed += 1
            within += f["beyond"] <= f["beyond_high"]
            says = sentence(f, {a: a for a in checks.animals})
            assert "of 1,000 swaps" in says and f"{f['beyond_low']:.0f} to" not in says
    assert claimed > 4 and within


def test_an_observer_who_watched_most_of_one_side_only_is_named() -> None:
    """Nine of ten sessions by one before the change, two of ten after it: the sides are in other hands."""
    late = np.arange(20) >= 10
    name = "Heat on 15 Mar 2026 12:00"
    for after, told in ((2, True), (8, False)):
        who = ["ann"] * 9 + ["bo"] + ["ann"] * after + ["bo"] * (10 - after)
        found: Any = SimpleNamespace(
            late=late, unit=np.arange(20), rows=pd.DataFrame({"observer": who, "method": "scan"})
        )
        said = [c.says for c in watched_alike(name, found, None)]
        assert said == ([f"{name}: mostly watched by ann before it and mostly bo after."] if told else [])


def test_a_change_is_forecast_by_what_stands_however_often_one_asks() -> None:
    """Neither more nor fewer days than a change as large needs at a fifth of its level, with a chance of .8."""
    _, moved, _ = verdicts(simulate(Design(12, after=0.25), np.random.default_rng(3)), 3, True)
    m = next(one for one in moved if one.name == "z3")
    told = more_to_show(m, 0.04, (12, 12))
    assert told is not None and told.more is not None

    def chance(more: int) -> float:
        error = m.se * np.sqrt(12 / (12 + more))
        return NormalDist().cdf(abs(m.after - m.before) / error - NormalDist().inv_cdf(1 - 0.2 * 0.04 / 2))

    assert chance(told.more - 1) < 0.8 <= chance(told.more) == pytest.approx(told.chance or 0)
