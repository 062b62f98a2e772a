"""What conditions do across enclosures: terms that count from different middles, taken around one."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from statsmodels.stats.meta_analysis import combine_effects

from tests.making import run
from zoneuse.across.pool import CONDITION, Pooled, pool
from zoneuse.across.shared import Shared, SharedTerm, read_shared
from zoneuse.stats.pooling import effects

DEMO = Path(__file__).parents[2] / "demo_sessions"
# Between studies with these centres, log odds per °C and per °C², and the covariance of the two.
SLOPE, BEND = 0.30, -0.02


def a_shared(
    i: int, centre: float, slope: float, bend: float, cov: np.ndarray, keeper: int | None = None
) -> Shared:
    club = read_shared(DEMO / "club" / "tub_01.zoneuse.json")
    terms = (
        SharedTerm("temperature_c", slope, math.sqrt(cov[0, 0]), centre, (cov[0, 0],), 20.0),
        SharedTerm("temperature_c^2", bend, math.sqrt(cov[1, 1]), centre, (cov[0, 1], cov[1, 1]), 20.0),
    )
    token = f"{i:016x}"
    enclosure = replace(club.enclosure, token=token, terms=terms, zones=(), animals_used=(), changes=())
    return replace(club, keeper=f"{i if keeper is None else keeper:016x}", enclosure=enclosure)


def some(seed: int, k: int, tau: float = 0.1) -> list[Shared]:
    """Enclosures whose curves are one curve, told from middles of their own, with a spread of the slope at 25 °C."""
    chance = np.random.default_rng(seed)
    found = []
    for i in range(k):
        centre = float(chance.uniform(20, 30))
        root = chance.normal(0, [[0.08, 0.0], [0.004, 0.006]])
        cov = root @ root.T + np.diag([1e-3, 1e-6])
        at_25 = SLOPE + chance.normal(0, tau)
        truth = np.array([at_25 + 2 * BEND * (centre - 25), BEND])
        told = chance.multivariate_normal(truth, cov)
        found.append(a_shared(i, centre, float(told[0]), float(told[1]), cov))
    return found


def rows(shared: list[Shared]) -> dict[str, Pooled]:
    return {row.name: row for row in pool(shared) if row.what == CONDITION}


def moved(one: Shared, to: float) -> Shared:
    """The same curve, told from another middle."""
    slope, bend = one.enclosure.terms
    assert slope.centre is not None and slope.covariance and bend.covariance
    d = to - slope.centre
    turn = np.array([[1, 2 * d], [0, 1]])
    cov = np.array([[slope.covariance[0], bend.covariance[0]], [bend.covariance[0], bend.covariance[1]]])
    b = turn @ np.array([slope.coefficient, bend.coefficient])
    return a_shared(int(one.enclosure.token, 16), to, float(b[0]), float(b[1]), turn @ cov @ turn.T)


@pytest.mark.parametrize("seed", range(2))
def test_the_middle_from_which_a_study_counts_changes_nothing(seed: int) -> None:
    shared = some(seed, 7)
    around = rows(shared)["temperature_c"].around
    chance = np.random.default_rng(seed)
    # The median stays: half are told from further up, half from further down.
    others = []
    for one in shared:
        centre = one.enclosure.terms[0].centre
        assert centre is not None and around is not None
        others.append(moved(one, centre + float(np.sign(centre - around)) * float(chance.uniform(0, 4))))
    for name, row in rows(others).items():
        before = rows(shared)[name]
        assert row.around == pytest.approx(before.around)
        assert (row.mean, row.low, row.high) == pytest.approx((before.mean, before.low, before.high))
        assert row.tau == pytest.approx(before.tau, abs=1e-9)


@pytest.mark.filterwarnings("ignore:`use_t=True` requires")
def test_the_pool_is_that_of_a_library_on_numbers_worked_out_by_hand() -> None:
    shared = some(3, 8)
    row = rows(shared)["temperature_c"]
    y, v = [], []
    for one in shared:
        slope, bend = one.enclosure.terms
        assert slope.centre is not None and slope.covariance and bend.covariance and row.around is not None
        d = row.around - slope.centre
        y.append(slope.coefficient + 2 * d * bend.coefficient)
        v.append(slope.covariance[0] + 4 * d * bend.covariance[0] + 4 * d * d * bend.covariance[1])
    library = combine_effects(np.array(y), np.array(v), method_re="pm", use_t=True)
    frame = library.summary_frame()
    mean, low, high = frame.loc["random effect wls", ["eff", "ci_low", "ci_upp"]]
    assert (row.mean, row.low, row.high) == pytest.approx(
        (math.exp(mean), math.exp(low), math.exp(high)), rel=1e-6
    )


@pytest.mark.parametrize("runs", [20, pytest.param(1000, marks=pytest.mark.calibration)])
def test_limits_hold_the_truth(runs: int, monkeypatch: pytest.MonkeyPatch) -> None:
    # The interval of the next enclosure is not asked for here, and is the slow part.
    monkeypatch.setattr(effects, "_DRAWS", 100)
    held = []
    for seed in range(runs):
        row = rows(some(1000 + seed, 6))["temperature_c"]
        assert row.around is not None and row.low is not None and row.high is not None
        truth = SLOPE + 2 * BEND * (row.around - 25)
        held.append(math.log(row.low) <= truth <= math.log(row.high))
    assert (0.75 if runs < 100 else 0.91) <= np.mean(held) <= (1.0 if runs < 100 else 0.98)


def test_enclosures_of_one_keeper_count_once() -> None:
    shared = [replace(one, keeper="0" * 16) for one in some(5, 6)]
    row = rows(shared)["temperature_c"]
    assert (row.keepers, row.enclosures, row.mean) == (1, 6, None)


def test_a_file_without_covariance_is_read_and_left_out_of_conditions(tmp_path: Path) -> None:
    out = tmp_path / "mine.zoneuse.json"
    assert run("share", "-o", out, "--study", DEMO / "cellar").exit_code == 0
    raw = json.loads(out.read_text())
    terms = raw["enclosure"]["terms"]
    assert [len(term["covariance"]) for term in terms] == list(range(1, len(terms) + 1))
    assert [math.sqrt(t["covariance"][-1]) for t in terms] == pytest.approx([t["se"] for t in terms])
    # As this tool wrote it before.
    for term in terms:
        del term["centre"], term["covariance"], term["df"]
    out.write_text(json.dumps(raw))
    assert rows([read_shared(out)]) == {}


@pytest.mark.parametrize(
    ("slope_cov", "bend_cov"),
    [
        ((-1.0,), None),
        ((), None),
        (None, (9.0, 1e-6)),
        (None, (1e-6,)),
        (None, (0.0, -1.0)),
        (None, (0.0, 0.0)),
    ],
)
def test_nonsense_in_a_covariance_is_left_out(
    slope_cov: tuple[float, ...] | None, bend_cov: tuple[float, ...] | None
) -> None:
    good = some(1, 5)
    slope, bend = good[0].enclosure.terms
    terms = (
        slope if slope_cov is None else replace(slope, covariance=slope_cov),
        bend if bend_cov is None else replace(bend, covariance=bend_cov),
    )
    odd = replace(good[0], enclosure=replace(good[0].enclosure, terms=terms))
    assert rows([odd, *good[1:]])["temperature_c"].enclosures == 4
