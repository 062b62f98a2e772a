"""Shares, electivity and their intervals against published and recomputed numbers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import multinomial_proportions_confint

from zoneuse.stats.intervals import shares
from zoneuse.stats.space_use import electivity

# Neu, Byers & Peek 1974, JWM 38:541 (inputs seen in a public file citing Manly et al.; digits recomputed).
MOOSE = np.array([25, 22, 30, 40])
BURN = np.array([0.340, 0.101, 0.104, 0.455])


def verdicts(low: np.ndarray, high: np.ndarray) -> list[str]:
    """The published reading of an interval against availability."""
    return [
        "avoided" if h < a else "preferred" if lo > a else "in proportion"
        for lo, h, a in zip(low, high, BURN, strict=True)
    ]


def test_neu_byers_peek_at_90_percent() -> None:
    """Expected counts, chi-square, Bonferroni intervals and ratios of CHECK 1.1."""
    found = shares.counts_against_offer(MOOSE, BURN, confidence=0.90)
    np.testing.assert_allclose(found.expected, [39.780, 11.817, 12.168, 53.235], atol=5e-4)
    assert found.chi_square == pytest.approx(43.689266, abs=5e-7)
    assert found.p == pytest.approx(1.756886e-9, rel=1e-6)
    np.testing.assert_allclose(found.low, [0.128737, 0.107066, 0.165928, 0.243589], atol=6e-7)
    np.testing.assert_allclose(found.high, [0.298614, 0.269002, 0.346892, 0.440172], atol=6e-7)
    assert verdicts(found.low, found.high) == ["avoided", "preferred", "preferred", "avoided"]
    np.testing.assert_allclose(found.ratio, [0.628457, 1.861725, 2.465483, 0.751385], atol=6e-7)
    np.testing.assert_allclose(found.ratio_se, [0.111457, 0.357662, 0.388158, 0.096380], atol=6e-7)
    np.testing.assert_allclose(found.ratio_low, [0.378637, 1.060060, 1.595466, 0.535360], atol=6e-7)
    np.testing.assert_allclose(found.ratio_high, [0.878276, 2.663390, 3.335501, 0.967411], atol=6e-7)


def test_neu_byers_peek_at_95_percent_depends_on_the_method() -> None:
    """The verdict of two of four classes changes with the interval (CHECK 1.1)."""
    wald = shares.counts_against_offer(MOOSE, BURN)
    np.testing.assert_allclose(wald.low, [0.119024, 0.097807, 0.155582, 0.232349], atol=6e-7)
    assert verdicts(wald.low, wald.high) == ["avoided", "in proportion", "preferred", "avoided"]
    score = shares.counts_against_offer(MOOSE, BURN, interval="wilson")
    np.testing.assert_allclose(score.low, [0.134813, 0.114506, 0.169727, 0.242862], atol=6e-7)
    np.testing.assert_allclose(score.high, [0.321526, 0.293147, 0.367755, 0.456907], atol=6e-7)
    assert verdicts(score.low, score.high) == ["avoided", "preferred", "preferred", "in proportion"]
    goodman = multinomial_proportions_confint(MOOSE, 0.05, method="goodman")
    np.testing.assert_allclose(np.column_stack([score.low, score.high]), goodman, atol=1e-12)


def test_clustered_records_scale_chi_square() -> None:
    """117 scans worth 39: chi-square falls to a third (CHECK 1.1, constructed)."""
    assert shares.counts_against_offer(MOOSE / 3, BURN).chi_square == pytest.approx(14.563089, abs=5e-7)


@pytest.mark.parametrize(
    ("count", "looks", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.0, 0.161125),
        (1, 29, 0.006113, 0.171755),
        (29, 29, 0.883030, 1.0),
        (0, 10, 0.0, 0.277533),
    ],
)
def test_newcombe_table_1_wilson(count: int, looks: int, low: float, high: float) -> None:
    """Newcombe 1998, Stat. Med. 17:857, Table I, method 3 (CHECK 6.1)."""
    found = shares.wilson(count, looks)
    assert float(found[0]) == pytest.approx(low, abs=6e-7)
    assert float(found[1]) == pytest.approx(high, abs=6e-7)


@pytest.mark.parametrize(
    ("count", "looks", "low", "high"),
    [(81, 263, 0.2527, 0.3676), (0, 20, 0, 0.1684), (1, 29, 0.0009, 0.1776), (29, 29, 0.880555, 1)],
)
def test_newcombe_table_1_clopper_pearson(count: int, looks: int, low: float, high: float) -> None:
    """Newcombe 1998, Table I, method 5 (CHECK 6.1)."""
    found = shares.exact_binomial(count, looks)
    assert float(found[0]) == pytest.approx(low, abs=6e-5)
    assert float(found[1]) == pytest.approx(high, abs=6e-5)


def test_electivity_of_the_moose() -> None:
    """The electivity family of CHECK 1.1 (recomputed)."""
    np.testing.assert_allclose(
        electivity.ivlev(MOOSE, BURN), [-0.228157, 0.301121, 0.422880, -0.141953], atol=6e-7
    )
    np.testing.assert_allclose(
        electivity.jacobs_d(MOOSE, BURN), [-0.309334, 0.346679, 0.496326, -0.232867], atol=6e-7
    )
    np.testing.assert_allclose(
        electivity.zone_electivity(MOOSE, BURN), [-0.388429, 0.132268, 0.266869, -0.310069], atol=6e-7
    )


@pytest.mark.parametrize(
    ("used", "offered", "e", "d"),
    [
        (0.6, 0.2, 0.5, 0.7142857143),
        (0.1, 0.2, -1 / 3, -0.3846153846),
        (0, 0.2, -1, -1),
        (0.2, 0.2, 0, 0),
        (1, 0.5, 1 / 3, 1),
    ],
)
def test_electivity_formulas(used: float, offered: float, e: float, d: float) -> None:
    """CHECK 1.2 (Ivlev 1961, Jacobs 1974; constructed)."""
    both = ([used, 1 - used], [offered, 1 - offered])
    assert electivity.ivlev(*both)[0] == pytest.approx(e, abs=1e-9)
    assert electivity.jacobs_d(*both)[0] == pytest.approx(d, abs=1e-9)


def test_three_zones() -> None:
    """CHECK 1.2's three zones."""
    use, offer = [0.5, 0.3, 0.2], [0.25, 0.25, 0.5]
    np.testing.assert_allclose(electivity.selection_ratio(use, offer), [2, 1.2, 0.4])
    np.testing.assert_allclose(electivity.zone_electivity(use, offer), [0.25, 0, -0.5], atol=1e-12)


def test_a_zone_not_offered() -> None:
    """Not offered and not used has no index; not offered yet used is wrong input."""
    ratio = electivity.selection_ratio([5, 5, 0], [0.5, 0.5, 0])
    assert np.isnan(ratio[2])
    assert np.isnan(electivity.jacobs_d([5, 5, 0], [0.5, 0.5, 0])[2])
    with pytest.raises(ValueError, match="not on offer"):
        electivity.selection_ratio([5, 5, 1], [0.5, 0.5, 0])


@pytest.mark.parametrize(
    ("counts", "areas", "expected"),
    [
        ([25, 25, 25, 25], [1, 1, 1, 1], 0),
        ([100, 0, 0, 0], [1, 1, 1, 1], 1),
        ([50, 30, 15, 5], [1, 1, 1, 1], 0.4),
        ([40, 30, 20, 10], [1, 1, 1, 1], 0.2666667),
        ([60, 20, 10, 10], [1, 1, 1, 1], 0.4666667),
        ([10, 20, 30, 40, 50], [1] * 5, 0.25),
        ([50, 30, 20], [0.5, 0.3, 0.2], 0),
        ([20, 30, 50], [0.5, 0.3, 0.2], 0.375),
        ([100, 0, 0], [0.5, 0.3, 0.2], 0.625),
        ([0, 0, 100], [0.5, 0.3, 0.2], 1),
        (MOOSE, BURN, 0.2663453),
        ([60, 25, 10, 5], [0.1, 0.2, 0.3, 0.4], 0.6111111),
        ([10, 20, 70], [0.7, 0.2, 0.1], 0.6666667),
        ([100, 0, 0, 0, 0], [50, 20, 15, 10, 5], 0.5263158),
    ],
)
def test_modified_spread_of_participation(counts: list[int], areas: list[float], expected: float) -> None:
    """Plowman 2003's modified index (CHECK 2.1; formula from memory, rows constructed)."""
    assert float(electivity.spread_of_participation(counts, areas)) == pytest.approx(expected, abs=5e-8)


def test_zone_electivity_and_its_trap() -> None:
    """CHECK 2.2: a zone used 1.25 times its share has an E* below zero."""
    use, offer = [60, 25, 10, 5], [0.1, 0.2, 0.3, 0.4]
    expected = [0.513798, -0.213115, -0.705069, -0.878173]
    np.testing.assert_allclose(electivity.zone_electivity(use, offer), expected, atol=6e-7)
    assert electivity.selection_ratio(use, offer)[1] == pytest.approx(1.25)
    np.testing.assert_allclose(
        electivity.zone_electivity([0, 50, 50], [0.5, 0.3, 0.2]), [-1, 0.090909, 0.285714], atol=6e-7
    )


@pytest.mark.parametrize(
    ("counts", "expected"),
    [([5, 5, 5, 5], 1), ([1, 1, 1, 17], 0.4237923), ([50, 30, 15, 5], 0.8238655), (MOOSE, 0.9809612)],
)
def test_evenness(counts: list[int], expected: float) -> None:
    """Pielou's J (CHECK 2.3; Zar's example, attribution from memory)."""
    assert float(electivity.evenness(counts)) == pytest.approx(expected, abs=5e-8)
    assert float(electivity.evenness([*counts, 0])) < float(electivity.evenness(counts)) + 1e-12


POSITIVE = st.lists(st.tuples(st.integers(0, 50), st.integers(1, 50)), min_size=2, max_size=9)


@given(POSITIVE)
def test_ratios_average_to_one_over_what_is_offered(pairs: list[tuple[int, int]]) -> None:
    """sum(a w) = 1, the ratio's limits are the share's over a, and zones have no order."""
    counts, areas = np.array(pairs, float).T
    if counts.sum() == 0:
        counts[0] = 1
    found = shares.counts_against_offer(counts, areas)
    offer = areas / areas.sum()
    assert float(offer @ found.ratio) == pytest.approx(1)
    np.testing.assert_allclose(found.ratio_high * offer, found.high)
    order = np.argsort(counts, kind="stable")
    turned = shares.counts_against_offer(counts[order], areas[order])
    np.testing.assert_allclose(turned.ratio_low, found.ratio_low[order])
    assert turned.chi_square == pytest.approx(found.chi_square)
    index = electivity.spread_of_participation(counts, areas)
    assert float(electivity.spread_of_participation(counts[order], areas[order])) == pytest.approx(
        float(index)
    )
    assert -1e-12 <= float(index) <= 1 + 1e-12


@given(st.integers(2, 40), st.integers(2, 7), st.integers(0, 2**32 - 1))
def test_mean_shares_are_ordered_and_blind_to_order(units: int, zones: int, seed: int) -> None:
    """Limits enclose the mean, a zone never used has an upper limit above zero, order plays no part."""
    random = np.random.default_rng(seed)
    each = random.multinomial(3, np.full(zones, 1 / zones), size=units) / 3
    found = shares.mean_shares(each, most_looks=3 * units)
    assert (found.low <= found.mean + 1e-12).all()
    assert (found.mean <= found.high + 1e-12).all()
    assert (found.high > 0).all()
    order = random.permutation(zones)
    turned = shares.mean_shares(random.permutation(each)[:, order], most_looks=3 * units)
    np.testing.assert_allclose(turned.high, found.high[order], atol=1e-9)


def test_one_unit_says_nothing() -> None:
    """A single session has a mean, and limits 0 to 1."""
    found = shares.mean_shares([[0.2, 0.8]])
    np.testing.assert_allclose(found.low, 0)
    np.testing.assert_allclose(found.high, 1)


def test_zero_bound_is_the_exact_one_with_many_units() -> None:
    """Units of one look each: the upper limit of a zone never used is 1 - .025^(1/n)."""
    each = np.zeros((100_000, 2))
    each[:50_000, 0] = 1
    each[50_000:, 1] = 1
    found = shares.mean_shares(np.column_stack([each, np.zeros(100_000)]), compared=1)
    assert found.high[2] == pytest.approx(1 - 0.025 ** (1 / 100_000), rel=1e-3)


@pytest.mark.parametrize("bad", [[[0.5, np.nan]], [[1.5, -0.5]], [0.2, 0.8]])
def test_bad_shares(bad: list[list[float]]) -> None:
    """Missing values, numbers outside 0-1 and a flat list are refused."""
    with pytest.raises(ValueError, match="shares"):
        shares.mean_shares(bad)
