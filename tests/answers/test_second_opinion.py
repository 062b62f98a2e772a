"""A standard method beside the answers: right by hand, loaded only when asked, and it says where and why it differs."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.answers.test_preference_bodies import still
from tests.making import run
from zoneuse import open_study
from zoneuse.stats.intervals.quantiles import t_quantile
from zoneuse.stats.second_opinion import level_change, mean_by_mixed_model, share, share_by_bootstrap


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
