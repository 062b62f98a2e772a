"""A standard method beside the answers: right by hand, loaded only when asked, and it says where and why it differs."""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from tests.answers.test_preference_bodies import still
from tests.making import run, session, study_folder, vienna
from tests.tables.test_conditions import put_readings
from zoneuse import open_study
from zoneuse.answers.finding import Note
from zoneuse.answers.second_opinion.judge import FEW_CLUSTERS, WEIGHED, Ours, compare
from zoneuse.answers.showing.brief import brief
from zoneuse.stats.intervals.quantiles import t_quantile
from zoneuse.stats.second_opinion import (
    BINOMIAL,
    Opinion,
    lead_by_bootstrap,
    level_change,
    mean_by_mixed_model,
    rate,
    share,
    share_by_bootstrap,
)


@pytest.fixture(scope="module")
def static(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return still(tmp_path_factory.mktemp("second") / "s")


@pytest.mark.parametrize("seed", range(5))
def test_the_clustered_binomial_is_the_sandwich_worked_by_hand(seed: int) -> None:
    """Liang & Zeger: sums of residuals by cluster, on the logit, with G/(G-1) (N-1)/(N-1)."""
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(12), rng.integers(3, 9, 12))
    hit = (rng.random(group.size) < rng.beta(2, 3, 12)[group]).astype(float)
    found = share(hit, np.ones(hit.size), group)
    p, n = hit.mean(), hit.size
    pulled = np.bincount(group, hit - p)
    error = np.sqrt((pulled**2).sum() * 12 / 11) / (n * p * (1 - p))
    middle = np.log(p / (1 - p)) + t_quantile(0.975, 11) * error * np.array([-1, 1])
    assert found.estimate == pytest.approx(p)
    assert (found.low, found.high) == pytest.approx(tuple(1 / (1 + np.exp(-middle))), rel=1e-6)
    drawn = share_by_bootstrap(hit, np.ones(hit.size), group)
    assert drawn.estimate == pytest.approx(p)
    assert (drawn.low, drawn.high) == pytest.approx((found.low, found.high), abs=0.08)


@pytest.mark.parametrize("seed", range(3))
def test_the_robust_poisson_is_the_sandwich_worked_by_hand(seed: int) -> None:
    """On the log: the root of the sum of squared residuals by unit, over all events, with G/(G-1) and t."""
    rng = np.random.default_rng(seed)
    hours = rng.uniform(0.5, 2.0, 15)
    count = rng.poisson(rng.gamma(2, 2, 15) * hours)
    found, an_hour = rate(np.r_[count, 3.0], np.r_[hours, 0.0]), count.sum() / hours.sum()
    error = np.sqrt(((count - an_hour * hours) ** 2).sum() * 15 / 14) / count.sum()
    ends = an_hour * np.exp(t_quantile(0.975, 14) * error * np.array([-1, 1]))
    assert (found.estimate, found.clusters) == (pytest.approx(an_hour), 15)
    assert (found.low, found.high) == pytest.approx(tuple(ends), rel=1e-6)
    assert np.isnan(rate([0, 0], [1, 1]).low)


def test_momentary_behaviours_have_their_second_opinion_too(tmp_path: Path) -> None:
    """Half an hour a day of one animal: two strikes each day before a change, five after it; it was said of none."""
    folder = study_folder(tmp_path)
    for day in range(1, 25):
        at = vienna(f"2026-03-{day:02}T20:00")
        if day == 13:
            changed = session(folder, at - timedelta(hours=6), method="notes")
            changed.append(
                "adjusted",
                at - timedelta(hours=6),
                adjustment="heat-1",
                what="heat",
                zones=["moss"],
                settle_h=0.0,
            )
            changed.close()
        journal = session(folder, at, every_s=60.0)
        for minute in range(30):
            then = at + timedelta(minutes=minute)
            journal.append("seen", then, animal="a1", zone="moss", scan=minute + 1)
            if minute in ((3, 20) if day < 13 else (3, 9, 12, 20, 21)):
                journal.append("happened", then, animal="a1", behaviour="strike", zone="moss")
        journal.append("closed", at + timedelta(minutes=30), reason="finished")
        journal.close()
    study = open_study(folder)
    told = study.answer("activity", second_opinion=True).parts["second_opinion"].set_index("about")
    assert told.loc["strike", "estimate"] == pytest.approx(told.loc["strike", "ours"]) == pytest.approx(7.0)
    assert (
        "7 an hour (" in told.loc["strike", "says"]
        and "over 24 sessions; agrees" in told.loc["strike", "says"]
    )
    moved = study.answer("shifts", second_opinion=True).parts["second_opinion"].set_index("about")
    assert moved.loc["heat-1 strike", "estimate"] == pytest.approx(6.0)
    assert "+6 an hour" in moved.loc["heat-1 strike", "says"]


def test_levels_of_days_and_means_of_animals() -> None:
    """A step of 2 among alternating days; balanced animals, whose mean the mixed model keeps."""
    day = np.arange(20)
    found = level_change(2.0 * (day >= 10) + 0.1 * (-1.0) ** day, day >= 10)
    assert found.estimate == pytest.approx(2.0)
    assert found.low < 2.0 < found.high
    values = np.array([1.0, 2.0, 3.0, 5.0, 6.0, 7.0, 3.0, 4.0, 5.0])
    mixed = mean_by_mixed_model(values, np.repeat([0, 1, 2], 3))
    assert (mixed.estimate, mixed.clusters) == (pytest.approx(4.0), 3)
    assert mixed.low < 2.5 < 5.5 < mixed.high


@pytest.mark.parametrize("name", ["zones", "activity", "prefer", "shifts", "retreats"])
def test_every_answer_takes_a_second_opinion_as_a_part(static: Path, name: str) -> None:
    answer = open_study(static).answer(name, second_opinion=True)
    part = answer.parts["second_opinion"]
    assert any(n.says.startswith("Second opinion") for n in answer.notes)
    if name == "zones":
        assert part["about"].tolist() == answer.table["zone"].tolist()
        assert part["estimate"].tolist() == pytest.approx(answer.table["used"].tolist())
        assert part["says"].str.contains("agrees|differs").all()
        assert (part["why"].isna() == part["agrees"]).all()


def test_the_lead_of_a_home_is_that_over_the_largest_other_one_as_drawn() -> None:
    """Twenty days in one place, ten and ten in two others: the lead is a quarter, its limits those of redrawn days."""
    place = np.repeat([0, 0, 1, 2], 10)
    found = (place[:, None] == np.arange(3)).astype(float)
    told = lead_by_bootstrap(found, np.ones(40), np.arange(40), 0)
    assert (told.estimate, told.clusters) == (pytest.approx(0.25), 40)
    assert -0.1 < told.low < 0.05 < 0.4 < told.high < 0.55


def test_where_weights_are_why_it_says_so_and_else_what_its_theory_lacks() -> None:
    ours = Ours(("moss",), 0.30, 0.22, 0.40, 0.25, "share", "day")
    other, evened = Opinion(BINOMIAL, 0.34, 0.27, 0.42, 20), Opinion(BINOMIAL, 0.30, 0.23, 0.38, 20)
    assert compare(ours, other, evened) == (False, WEIGHED)
    assert compare(ours, other, other) == (False, FEW_CLUSTERS)
    assert compare(ours, evened, evened) == (True, "")


def test_animals_of_a_group_count_by_their_number(tmp_path: Path) -> None:
    """Five of six in the warm place at every scan: both say that what is used lies .83 of the way, and not halfway."""
    folder = study_folder(tmp_path)
    for day in range(1, 9):
        at = vienna(f"2026-03-{day:02}T20:00")
        journal = session(folder, at)
        for zone, count in (("moss", 5), ("bark", 1)):
            journal.append("seen", at, group="young", zone=zone, count=count, scan=1)
        journal.append("closed", at, reason="finished")
        journal.close()
    hours = [60.0 * k for k in range(24 * 14)]
    for logger, base in (("L1", 28.0), ("L2", 22.0)):
        put_readings(
            folder, logger, hours, {"temperature_c": [base + 0.1 * (k % 7) for k in range(len(hours))]}
        )
    answer = open_study(folder).preference(second_opinion=True)
    told = answer.parts["second_opinion"].iloc[0]
    assert told["estimate"] == pytest.approx(told["ours"]) == pytest.approx(2.0)


def test_what_was_asked_for_stands_on_the_first_screen(static: Path) -> None:
    """However much else there is to say."""
    answer = open_study(static).zones(second_opinion=True)
    full = replace(answer, notes=(*(Note("Much else. " * 30) for _ in range(9)), *answer.notes))
    console = Console(width=80)
    with console.capture() as printed:
        console.print(*brief(full, 80))
    assert "Second opinion (cluster-robust binomial): agrees on" in " ".join(printed.get().split())


def test_it_is_loaded_only_when_asked_and_stands_in_json(static: Path) -> None:
    code = (
        f"import sys; from zoneuse import open_study; s = open_study({str(static)!r}); s.zones(); "
        "print('statsmodels' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "False"
    told = json.loads(run("zones", "--study", static, "--second-opinion", "--json").stdout)
    assert len(told["parts"]["second_opinion"]) == 4
    assert "second_opinion" not in json.loads(run("zones", "--study", static, "--json").stdout)["parts"]
