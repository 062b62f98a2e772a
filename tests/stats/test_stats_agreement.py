"""Agreement against published tables, statsmodels, and what it promises on invented observers.

The tables' digits were recomputed with general-purpose libraries (statsmodels, scikit-learn, R vcd, irrCAC); that the
publications print exactly these is from memory.
"""

from __future__ import annotations

import krippendorff
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import stats
from statsmodels.stats import inter_rater
from statsmodels.stats.tests.test_inter_rater import diagnoses, table1

from zoneuse.stats.agreement.agreement import agreement, category_agreement, confusion
from zoneuse.stats.agreement.several_observers import Several, agreement_of_several

Codes = NDArray[np.int64]
Table = list[list[int]]

# Rows are the first observer, columns the second.
COHEN_1960 = [[50, 26, 24], [24, 4, 32], [6, 30, 4]]  # Educ. Psychol. Meas. 20:37-46
COHEN_1968 = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]  # Psychol. Bull. 70:213-220
FLEISS_LEVIN_PAIK = [[75, 1, 4], [5, 4, 1], [0, 0, 10]]  # 2003, table 18.1: prints .68, .087, .076
HALF = [[20, 5], [10, 15]]
PREVALENT = [[118, 5], [2, 0]]  # nearly all of one category: kappa below zero at 94 % agreed


def told_apart(table: Table) -> tuple[Codes, Codes]:
    """The moments a table counts."""
    counts = np.array(table)
    i, j = np.indices(counts.shape)
    return np.repeat(i.ravel(), counts.ravel()), np.repeat(j.ravel(), counts.ravel())


@pytest.mark.parametrize(
    ("table", "agreed", "by_chance", "kappa", "error", "error0"),
    [
        (COHEN_1960, 0.29, 0.35, -0.0923077, 0.0400515, 0.0496735),
        (COHEN_1968, 0.70, 0.41, 0.4915254, 0.0510018, 0.0519789),
        (FLEISS_LEVIN_PAIK, 0.89, 0.66, 0.6764706, 0.0877030, 0.0761873),
        (HALF, 0.70, 0.50, 0.4, 0.1269961, 0.1385641),
    ],
)
def test_kappa_of_published_tables(
    table: Table, agreed: float, by_chance: float, kappa: float, error: float, error0: float
) -> None:
    found = agreement(*told_apart(table))
    assert (found.agreement, found.expected) == pytest.approx((agreed, by_chance))
    assert (found.kappa, found.kappa_se, found.kappa_se0) == pytest.approx((kappa, error, error0), abs=5e-8)


def test_the_same_agreement_can_go_with_different_kappas() -> None:
    one, other = (agreement(*told_apart(table)) for table in ([[45, 15], [25, 15]], [[25, 35], [5, 35]]))
    assert one.agreement == other.agreement == 0.6
    assert (one.kappa, other.kappa) == pytest.approx((0.1304348, 0.2592593), abs=5e-8)


def test_where_nearly_all_is_one_category_kappa_misleads_and_ac1_does_not() -> None:
    found = agreement(*told_apart(PREVALENT))
    assert (found.agreement, found.expected) == pytest.approx((0.944, 0.94528))
    assert (found.kappa, found.ac1) == pytest.approx((-0.0233918, 0.9407763), abs=5e-8)
    assert found.common > 0.97


@pytest.mark.parametrize(
    ("table", "scott", "ac1", "alpha"),
    [
        (FLEISS_LEVIN_PAIK, 0.6752768, 0.8675696, 0.6769004),
        (HALF, 0.3939394, 0.4059406, 0.4),
        (PREVALENT, -0.0288066, 0.9407763, -0.0246914),
    ],
)
def test_other_coefficients_of_two_observers(table: Table, scott: float, ac1: float, alpha: float) -> None:
    pair = told_apart(table)
    several = agreement_of_several(np.vstack(pair))
    # Fleiss's kappa of two observers is Scott's pi.
    assert (several.kappa, several.ac1, several.alpha) == pytest.approx((scott, ac1, alpha), abs=5e-8)
    assert agreement(*pair).ac1 == pytest.approx(several.ac1)


def with_gaps(*observers: str) -> Codes:
    names = sorted({c for row in observers for c in row.split()} - {"."})
    return np.array([[names.index(c) if c != "." else -1 for c in row.split()] for row in observers])


KRIPPENDORFF = (
    with_gaps(  # Krippendorff 2011, Computing Krippendorff's Alpha-Reliability; also Gwet's 4 raters
        "1 2 3 3 2 1 4 1 2 . . .",
        "1 2 3 3 2 2 4 1 2 5 . 3",
        ". 3 3 3 2 3 4 2 2 5 1 .",
        "1 2 3 3 2 4 4 1 2 5 1 .",
    )
)


def test_four_observers_with_gaps() -> None:
    found = agreement_of_several(KRIPPENDORFF)
    assert found.alpha == pytest.approx(0.7434211, abs=5e-8)
    assert (found.ac1, found.kappa, found.agreement) == pytest.approx((0.77544, 0.76117, 0.81818), abs=5e-6)


@pytest.mark.parametrize(
    ("observers", "alpha"),
    [
        (("0 1 0 0 0 0 0 0 1 0", "1 1 1 0 0 1 0 0 0 0"), 0.0952381),
        (("a a b b d c c c e d d a", "b a b b b c c c e d d d"), 0.6919643),
        (
            (
                ". . . . . 3 4 1 2 1 1 3 3 . 3",
                "1 . 2 1 3 3 4 3 . . . . . . .",
                ". . 2 1 3 4 4 . 2 1 1 3 3 . 4",
            ),
            0.6913580,
        ),
    ],
)
def test_alpha_of_textbook_examples(observers: tuple[str, ...], alpha: float) -> None:
    assert agreement_of_several(with_gaps(*observers)).alpha == pytest.approx(alpha, abs=5e-8)


def ratings(counts: NDArray[np.int64]) -> Codes:
    """Observers x moments from moments x categories (how many chose each)."""
    return np.array([np.repeat(np.arange(row.size), row) for row in counts]).T


def test_many_raters_of_fleiss() -> None:
    # Data shipped with statsmodels; Fleiss 1971, Psychol. Bull. 76:378-382, and its other example.
    table = np.asarray(inter_rater.aggregate_raters(np.asarray(diagnoses))[0], np.int64)
    found = agreement_of_several(ratings(table))
    assert (found.kappa, found.agreement, found.n) == pytest.approx((0.4302445, 0.5555556, 30), abs=5e-8)
    other = np.asarray(table1, np.int64)
    assert agreement_of_several(ratings(other)).kappa == pytest.approx(0.2099307, abs=5e-8)


tables = st.lists(st.lists(st.integers(0, 12), min_size=3, max_size=3), min_size=3, max_size=3)


@settings(max_examples=60, deadline=None)
@given(tables)
def test_any_table_as_statsmodels_has_it(table: Table) -> None:
    counts = np.array(table)
    found = agreement(*told_apart(table))
    if counts.sum() == 0 or not found.expected < 1:
        assert np.isnan(found.kappa)
        return
    with np.errstate(all="ignore"):
        expected = inter_rater.cohens_kappa(counts)
    assert found.kappa == pytest.approx(float(expected.kappa))
    assert found.kappa_se == pytest.approx(float(np.sqrt(max(expected.var_kappa, 0.0))), abs=1e-7)
    assert found.kappa_se0 == pytest.approx(float(np.sqrt(max(expected.var_kappa0, 0.0))), abs=1e-7)
    if not np.isnan(found.kappa_low):
        assert found.kappa_low <= found.kappa + 1e-12 <= found.kappa_high + 2e-12
    assert confusion(*told_apart(table), 3).tolist() == table


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(-1, 3), st.integers(-1, 3), st.integers(0, 4)), min_size=1, max_size=60)
)
def test_neither_the_order_of_observers_nor_the_names_of_categories_matter(
    moments: list[tuple[int, int, int]],
) -> None:
    a, b, session = (np.array(column) for column in zip(*moments, strict=True))
    one, other = agreement(a, b, session), agreement(b, a, session)
    renamed = np.array([2, 0, 3, 1, -1])
    third = agreement(renamed[a], renamed[b], session)
    for name in ("n", "agreement", "kappa", "kappa_se", "kappa_low", "kappa_high", "ac1", "ac1_low"):
        assert getattr(other, name) == pytest.approx(getattr(one, name), nan_ok=True)
        assert getattr(third, name) == pytest.approx(getattr(one, name), nan_ok=True)


def test_moments_that_repeat_each_other_count_less() -> None:
    """Each moment written down five times in its session says nothing more than once."""
    rng = np.random.default_rng(7)
    a = rng.integers(0, 3, 40)
    b = np.where(rng.random(40) < 0.8, a, rng.integers(0, 3, 40))
    session = np.arange(40) // 4
    once, often = (agreement(*(np.repeat(v, k) for v in (a, b, session))) for k in (1, 5))
    assert often.kappa == pytest.approx(once.kappa)
    assert (often.kappa_low, often.ac1_high) == pytest.approx((once.kappa_low, once.ac1_high))
    pooled = agreement(np.repeat(a, 5), np.repeat(b, 5))
    assert pooled.kappa_high - pooled.kappa_low < 0.6 * (often.kappa_high - often.kappa_low)


def test_agreement_on_one_category_is_not_that_on_another() -> None:
    a, b = told_apart(PREVALENT)
    found = category_agreement(a, b, 3, np.arange(125) % 9)
    assert found.agreement[:2] == pytest.approx([236 / 243, 0.0])
    assert (found.examples.tolist(), found.both.tolist()) == ([125, 7, 0], [118, 0, 0])
    assert np.isnan(found.agreement[2])
    assert found.low[0] < found.agreement[0] < found.high[0] < 1
    wider = category_agreement(a, b, 3, np.arange(125) % 9, compared=3)
    assert wider.low[0] < found.low[0]


def test_one_session_has_no_limits_and_no_fault_is_not_certainty() -> None:
    a = np.arange(30) % 3
    assert np.isnan(agreement(a, a, np.zeros(30)).kappa_low)
    alone = agreement(a, a)
    assert alone.kappa == alone.kappa_high == 1
    assert alone.agreement_low == pytest.approx(0.025 ** (1 / 30))
    # Six sessions: as if one of the 30 had been a fault.
    flawless = agreement(a, a, np.arange(30) // 5)
    assert flawless.kappa == flawless.kappa_high == 1
    assert flawless.agreement_low == pytest.approx(1 - np.exp(stats.t.ppf(0.975, 5)) / 30)
    assert flawless.kappa_low < flawless.agreement_low


def test_a_category_never_agreed_on_is_bounded_from_above() -> None:
    a, b = np.zeros(100, np.int64), np.zeros(100, np.int64)
    a[::10] = 1
    found = category_agreement(a, b, 2, np.arange(100) // 10)
    assert (found.agreement[1], found.low[1]) == (0, 0)
    assert found.high[1] == pytest.approx(1 - 0.025 ** (1 / 10))


def test_nothing_in_common_and_one_category_have_no_kappa() -> None:
    nothing = agreement([-1, 0], [0, -1])
    assert nothing.n == 0
    assert np.isnan(nothing.kappa)
    alike = agreement([1, 1, 1], [1, 1, 1])
    assert alike.agreement == 1
    assert np.isnan(alike.kappa)
    empty: Several = agreement_of_several([[0, -1], [-1, 1]])
    assert empty.n == 0
    assert np.isnan(empty.alpha)


def test_codes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(ValueError, match="for every moment"):
        agreement([0, 1], [0])
    with pytest.raises(ValueError, match="expected 0 to 1"):
        confusion([0, 2], [0, 1], 2)
    with pytest.raises(ValueError, match="observers x moments"):
        agreement_of_several([0, 1])


def test_alphas_limits_are_those_of_leaving_out_each_session_by_the_package() -> None:
    session = np.arange(12) // 2
    found = agreement_of_several(KRIPPENDORFF, session)
    known = np.where(KRIPPENDORFF >= 0, KRIPPENDORFF, np.nan)
    left = np.array(
        [
            krippendorff.alpha(reliability_data=known[:, session != s], level_of_measurement="nominal")
            for s in range(6)
        ]
    )
    error = np.sqrt(5 / 6 * ((left - found.alpha) ** 2).sum())
    reach = np.exp(stats.t.ppf(0.975, 5) * error / (1 - found.alpha))
    assert found.alpha_low == pytest.approx(1 - (1 - found.alpha) * reach)
    assert found.alpha_high == pytest.approx(1 - (1 - found.alpha) / reach)
