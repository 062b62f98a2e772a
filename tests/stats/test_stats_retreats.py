"""Statistics of retreats: published and worked rows, and the swaps and permutations against slow ones."""

import numpy as np
import pytest
import scipy.stats
from hypothesis import given, settings
from hypothesis import strategies as st

from zoneuse.stats.association.association import association
from zoneuse.stats.association.crowding import crowding, crowding_of_each
from zoneuse.stats.association.fidelity import fidelity, fidelity_by
from zoneuse.stats.association.sharing import Sharing, company, sharing
from zoneuse.stats.drying.dry_moves import against_usual, clustered_mean, dry_spells, slope
from zoneuse.stats.resampling.related_samples import cochran, friedman, mcnemar
from zoneuse.stats.resampling.swaps import NOWHERE, moved, swap, swapped, together
from zoneuse.stats.space_use.dispersion import dispersion
from zoneuse.stats.space_use.stays import home, stays

# Value: frequency. Ludwig & Reynolds 1988 as printed in the FAO manual (mean .95, variance 2.897); Bortkiewicz
# 1898 and Student 1907 (Biometrika 5:351): the frequencies are from memory, the indices recomputed from them.
LARVAE = {0: 114, 1: 25, 2: 15, 3: 10, 4: 6, 5: 5, 6: 2, 7: 1, 8: 1, 10: 1}
KICKS = {0: 109, 1: 65, 2: 22, 3: 3, 4: 1}
YEAST = {0: 213, 1: 128, 2: 37, 3: 18, 4: 3, 5: 1}
CLUMPED, EVEN = [0, 0, 1, 7, 2, 0, 0, 8], [2, 2, 3, 2, 2, 3, 2, 2]


@pytest.mark.parametrize(
    ("counts", "mean", "ratio", "index", "degrees", "upper", "morisita", "standardised", "green", "lloyd"),
    [
        (LARVAE, 0.95, 3.0493972, 545.842105, 179, 9.725e-39, 3.1578947, 0.5053947, 0.0120553, 2.9993972),
        (KICKS, 0.61, 1.0015652, 199.311475, 199, 0.480450, 1.0025742, 0.0038022, 1.294e-5, 0.6115652),
        (YEAST, 0.6825, 1.1922756, 475.717949, 399, 0.0049084, 1.2820513, 0.5000898, 0.0007069, 0.8747756),
        # Green's index of these is (4.9206349 - 1) / 17; the table of check values has two digits changed (.2305826).
        (CLUMPED, 2.25, 4.9206349, 34.444444, 7, 1.422e-5, 2.6143791, 0.5837901, 0.2306256, 6.1706349),
        (EVEN, 2.25, 0.0952381, 0.666667, 7, 0.998579, 0.6274510, -0.5437645, -0.0532213, 1.3452381),
    ],
)  # fmt: skip
def test_indices_of_dispersion(
    counts: dict[int, int] | list[int], mean: float, ratio: float, index: float, degrees: int, upper: float,
    morisita: float, standardised: float, green: float, lloyd: float,
) -> None:  # fmt: skip
    each = np.repeat(list(counts), list(counts.values())) if isinstance(counts, dict) else np.array(counts)
    found = dispersion(each)
    assert (found.mean, found.ratio, found.index) == pytest.approx((mean, ratio, index), abs=1e-6)
    assert found.degrees == degrees
    assert found.p_crowded == pytest.approx(upper, rel=1e-3)
    assert found.p_crowded + found.p_even == pytest.approx(1)
    assert found.p_crowded == pytest.approx(scipy.stats.chi2.sf(found.index, degrees), rel=1e-6)
    assert (found.morisita, found.standardised) == pytest.approx((morisita, standardised), abs=2e-5)
    assert (found.green, found.company) == pytest.approx((green, lloyd), abs=1e-6)


def test_lower_tail_of_evenly_used_refuges() -> None:
    assert dispersion(EVEN).p_even == pytest.approx(0.001421, abs=1e-6)


def test_twelve_animals_in_six_hides_at_one_check() -> None:
    # TRADE 8.0 row 15: .364 against .167, dispersion 3.6, p about .004.
    found = crowding([[7, 3, 1, 1, 0, 0]], np.ones(6), draws=20_000)
    shared, crowded, even = crowding_of_each([[7, 3, 1, 1, 0, 0]], np.ones(6), draws=20_000)
    assert (found.shared, found.expected) == pytest.approx((0.364, 0.167), abs=5e-4)
    assert dispersion([7, 3, 1, 1, 0, 0]).ratio == pytest.approx(3.6)
    assert found.p_crowded == pytest.approx(0.004, abs=0.002)
    assert shared[0] == found.shared
    assert crowded[0] == pytest.approx(found.p_crowded, abs=0.002)
    assert even[0] > 0.99


def test_repeats_of_the_same_animals_add_nothing() -> None:
    once = crowding([[4, 1, 1, 0, 0, 0]], np.ones(6), draws=4000)
    often = crowding([[4, 1, 1, 0, 0, 0]] * 40, np.ones(6), draws=4000)
    assert often.looks < 2
    assert often.p_crowded > 0.3 * once.p_crowded
    # The same counts met anew each time, in other hides: those are looks of their own.
    anew = crowding([np.roll([4, 1, 1, 0, 0, 0], k * k) for k in range(40)], np.ones(6), draws=4000)
    assert anew.looks > 20
    assert anew.p_crowded < 0.01


def test_crowding_by_capacity() -> None:
    # All in the one hide that has nearly all the room is no crowding.
    assert crowding([[5, 0], [5, 0], [5, 0]], [95.0, 5.0]).p_crowded > 0.3
    with pytest.raises(ValueError, match="capacity"):
        crowding([[1, 2]], [1.0, 2.0, 3.0])
    with pytest.raises(ValueError, match="two animals"):
        crowding([[1, 0]], [1.0, 1.0])


def test_mcnemar() -> None:
    import statsmodels.stats.contingency_tables as tables

    assert mcnemar(1, 8).p_exact == pytest.approx(0.0390625)
    # Agresti's approval ratings (attribution from memory).
    found, table = mcnemar(150, 86), [[794, 150], [86, 570]]
    assert (found.chi_square, found.corrected) == pytest.approx((17.3559322, 16.8177966))
    assert found.p_exact == pytest.approx(3.7159e-5, rel=1e-4)
    assert found.p_exact == pytest.approx(float(tables.mcnemar(table).pvalue))
    assert found.corrected == pytest.approx(float(tables.mcnemar(table, exact=False).statistic))
    assert mcnemar(0, 0).p_exact == 1


def test_two_conditions_are_mcnemars_chi_square() -> None:
    # Cochran's Q of two conditions is McNemar's chi-square without correction: 17.3559322 for 150 and 86.
    rows = [[1, 1]] * 794 + [[1, 0]] * 150 + [[0, 1]] * 86 + [[0, 0]] * 570
    q, p = cochran(rows)
    assert q == pytest.approx(17.3559322)
    assert p == pytest.approx(3.0993e-5, rel=1e-4)


def test_cochrans_q() -> None:
    rows = [[int(c) for c in row] for row in ("111", "110", "100", "110", "000", "111", "100", "100")]
    q, p = cochran(rows)
    assert q == pytest.approx(7.6)
    assert p == pytest.approx(0.0223708, abs=1e-7)
    import statsmodels.stats.contingency_tables as tables

    assert p == pytest.approx(float(tables.cochrans_q(np.array(rows)).pvalue))
    assert np.isnan(cochran([[1, 1], [0, 0]])[1])


ROUNDING = """5.40 5.50 5.55 5.85 5.70 5.75 5.20 5.60 5.50 5.55 5.50 5.40 5.90 5.85 5.70 5.45 5.55 5.60 5.40 5.40 5.35
5.45 5.50 5.35 5.25 5.15 5.00 5.85 5.80 5.70 5.25 5.20 5.10 5.65 5.55 5.45 5.60 5.35 5.45 5.05 5.00 4.95 5.50 5.50
5.40 5.45 5.55 5.50 5.55 5.55 5.35 5.45 5.50 5.55 5.50 5.45 5.25 5.65 5.60 5.40 5.70 5.65 5.55 6.30 6.30 6.25"""


def test_friedman_rounding_times() -> None:
    # Hollander & Wolfe, 22 runners x 3 ways to round first base, as printed by R's friedman.test help page.
    times = np.array(ROUNDING.split(), float).reshape(22, 3)
    found = friedman(times)
    assert (found.chi_square, found.p) == pytest.approx((11.1428571, 0.0038050), abs=1e-7)
    assert found.rank_sums.tolist() == [53, 47, 32]
    assert found.concordance == pytest.approx(0.2532468, abs=1e-7)
    reference = scipy.stats.friedmanchisquare(*times.T)
    assert found.chi_square == pytest.approx(float(reference.statistic))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.lists(st.integers(0, 3), min_size=3, max_size=3), min_size=3, max_size=12))
def test_friedman_as_scipy_with_ties(rows: list[list[int]]) -> None:
    found = friedman(rows)
    if all(len(set(row)) == 1 for row in rows):
        assert np.isnan(found.p)
    else:
        assert found.p == pytest.approx(float(scipy.stats.friedmanchisquare(*np.array(rows).T).pvalue))


WHERE = st.integers(2, 6).flatmap(
    lambda animals: st.lists(
        st.lists(st.integers(-1, 3), min_size=animals, max_size=animals), min_size=2, max_size=14
    )
)


@settings(max_examples=60, deadline=None)
@given(WHERE, st.integers(0, 99))
def test_swaps_keep_each_animals_use_each_checks_numbers_and_every_stay(
    rows: list[list[int]], seed: int
) -> None:
    places = np.array(rows)
    cells = np.where(places >= 0, places, NOWHERE).astype(np.uint16).T.copy()
    before, arrived = cells.copy(), moved(places).T.copy()
    rng = np.random.default_rng(seed)
    for _ in range(5):
        swap(cells, arrived, 4, rng)
    assert (np.sort(cells, axis=0) == np.sort(before, axis=0)).all()
    assert (np.sort(cells, axis=1) == np.sort(before, axis=1)).all()
    assert (cells[~arrived] == before[~arrived]).all()


@settings(max_examples=60, deadline=None)
@given(WHERE)
def test_company_is_counted_as_by_hand(rows: list[list[int]]) -> None:
    places = np.array(rows)
    arrived = moved(places)
    observed, drawn = swapped(places, 20, 1)
    for i in range(places.shape[1]):
        for j in range(i + 1, places.shape[1]):
            same = (places[:, i] == places[:, j]) & (places[:, i] >= 0)
            assert observed[i, j] == (same & (arrived[:, i] | arrived[:, j])).sum()
            assert association(places).together[i, j] == same.sum()
    assert drawn.shape == (20, *observed.shape)


def test_many_retreats_and_animals_do_not_overflow() -> None:
    rng = np.random.default_rng(1)
    where = rng.integers(-1, 90, (40, 41))
    observed, drawn = swapped(where, 20, 1)
    upper = np.triu_indices(41, 1)
    assert (drawn[:, upper[0], upper[1]].sum(axis=1) == observed[upper].sum()).all()
    assert together(np.array([[400, 1], [400, 2]], np.uint16), 401)[0, 1] == 1


def test_swaps_reach_all_arrangements_alike() -> None:
    # Two animals change places at every check: of six moves each goes three times into retreat 0. A third stays
    # there for the first three of them and leaves, so how many of these fall to the first animal is hypergeometric.
    a = np.array([0, 1, 0, 1, 0, 1, 0])
    where = np.stack([a, 1 - a, np.array([0, 0, 0, 0, 2, 2, 2])], axis=1)
    _, drawn = swapped(where, 4000, 3)
    for k in range(4):
        chance = float(scipy.stats.hypergeom.pmf(k, 6, 3, 3))
        assert (drawn[:, 0, 2] == k).mean() == pytest.approx(chance, abs=0.04)


def _told(p_together: float, p_apart: float, pair: float) -> Sharing:
    square = np.full((2, 2), pair)
    return Sharing(p_together, p_apart, square, square, square, square, 5.0, 3.0, 0, 0, 0, 0, 0, 0, 1)


def test_no_pair_is_named_where_the_colony_is_not() -> None:
    assert company(_told(0.2, 0.5, 0.001)).pairs_together.sum() == 0
    assert company(_told(0.01, 0.5, 0.001)).pairs_together.sum() == 1
    both = company(_told(0.01, 0.005, 0.001))
    assert both.together and not both.apart and not both.pairs_apart.any()


def test_two_that_shun_each_other_are_apart() -> None:
    rng = np.random.default_rng(8)
    where = rng.integers(0, 3, (150, 4))
    where[:, 1] = (where[:, 0] + rng.integers(1, 3, 150)) % 3
    found = company(sharing(where, draws=400))
    assert found.apart and found.pairs_apart[0, 1]
    assert found.pairs_apart.sum() == 1


def test_fidelity_as_by_permuting_one_check_after_another() -> None:
    rng = np.random.default_rng(4)
    where = rng.integers(-1, 4, (25, 5))
    where[:, 0] = np.where(rng.random(25) < 0.7, 1, where[:, 0])
    found = fidelity(where, draws=4000)
    drawn = []
    for _ in range(4000):
        mixed = where.copy()
        for row in mixed:
            here = np.flatnonzero(row >= 0)
            row[here] = row[rng.permutation(here)]
        both = (where[1:] >= 0) & (where[:-1] >= 0)
        drawn.append(((mixed[1:] == mixed[:-1]) & both).sum(axis=0) / both.sum(axis=0))
    null = np.array(drawn)
    assert found.expected == pytest.approx(null.mean(axis=0), abs=0.01)
    z = (null - null.mean(axis=0)) / null.std(axis=0)
    seen = (found.same - null.mean(axis=0)) / null.std(axis=0)
    assert found.p == pytest.approx((z.max(axis=1)[:, None] >= seen).mean(axis=0), abs=0.03)


def test_fidelity_by_interval_adds_up() -> None:
    where = np.random.default_rng(2).integers(-1, 3, (30, 4))
    kind = np.arange(29) % 3
    by = fidelity_by(where, kind, 3)
    whole = fidelity_by(where, np.zeros(29, int), 1)
    assert by.checks.sum(axis=0) == pytest.approx(whole.checks[0])
    assert np.nansum(by.same * by.checks, axis=0) == pytest.approx(whole.same[0] * whole.checks[0])
    left_out = fidelity_by(where, np.full(29, -1), 1)
    assert np.isnan(left_out.same).all()


@pytest.mark.parametrize("stay", [0.0, 0.5, 0.8])
def test_limits_of_a_share_cover_animals_that_stay_put(stay: float) -> None:
    from zoneuse.stats.intervals.shares import wilson

    rng = np.random.default_rng(6)
    chance = np.array([0.4, 0.3, 0.2, 0.1])
    covered = []
    for _ in range(150):
        seen = np.empty(60, int)
        for t in range(60):
            seen[t] = seen[t - 1] if t and rng.random() < stay else rng.choice(4, p=chance)
        found = stays(seen, 4)
        low, high = wilson(found.share * found.looks, found.looks)
        covered.append((low <= chance) & (chance <= high))
    assert 0.91 <= np.mean(covered) <= 0.985


def test_homes() -> None:
    assert home(stays([0] * 12, 3))[:2] == (0, False)  # never moved: one look
    assert home(stays([0, 1, 0, 2, 0, 1, 0, 0, 2, 0, 0, 1, 0, 0, 0, 2, 0, 0] * 3, 3))[:2] == (0, True)
    assert home(stays([0, 1] * 20, 3))[:2] == (0, False)
    with pytest.raises(ValueError, match="at least one check"):
        stays([], 3)


def test_dry_spells_need_a_spell() -> None:
    assert dry_spells([80.0, 81, 80, 82, 79, 80])[1] == 0
    dry, spells = dry_spells([np.nan, 80, 60, np.nan, 61, 80, 81, 80, 62, 80, 80, 80])
    assert dry.sum() == 3
    assert spells == 2  # a gap in the readings does not part a spell
    assert not dry[0]


def test_clustered_mean_counts_checks_not_animals() -> None:
    one = clustered_mean(np.repeat([1.0, 3.0, 2.0], 1), [0, 1, 2])
    eight = clustered_mean(np.repeat([1.0, 3.0, 2.0], 8), np.repeat([0, 1, 2], 8))
    assert (eight.low, eight.high) == pytest.approx((one.low, one.high))
    assert np.isinf(clustered_mean([1.0, 2.0], [0, 0]).high)
    assert clustered_mean([], []).checks == 0


def test_one_check_has_no_limits_against_the_usual() -> None:
    dry = [[60.0, 80.0, 70.0]] * 2
    assert np.isinf(against_usual(dry, [1, 1], [0, 2], [1, 1], [0, 1, 2], usual_check=[2, 3, 4]).high)
    assert against_usual(dry, [1, 1], [0, 2], [1, 2], [], usual_check=[]).checks == 0
    # Who leaves the moistest retreat cannot be expected to go to it.
    assert against_usual(dry, [2, 0], [1, 1], [1, 2], [0, 1, 2], usual_check=[2, 3, 4]).value == 0


def test_slope_as_statsmodels_hc3() -> None:
    import statsmodels.api as sm

    rng = np.random.default_rng(9)
    moisture, days = rng.uniform(5, 9, 40), rng.integers(1, 6, 40).astype(float)
    share = 0.9 - 0.08 * moisture + 0.05 * np.log(days) + rng.normal(0, 0.05, 40)
    found = slope(share, moisture, days)
    design = sm.add_constant(np.column_stack([moisture, np.log(days)]))
    reference = sm.OLS(share, design).fit(cov_type="HC3", use_t=True)
    assert found.value == pytest.approx(reference.params[1])
    assert (found.low, found.high) == pytest.approx(tuple(reference.conf_int()[1]))
