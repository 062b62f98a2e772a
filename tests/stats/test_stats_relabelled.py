"""Labels exchanged as the design allows: against enumeration by hand, scipy, and the limits against the test."""

from __future__ import annotations

from itertools import combinations, product

import numpy as np
import pytest
from scipy import stats

from zoneuse.stats.resampling import exchanged, least_exchanged, least_paired, relabel_pairs

# Darwin's plants, heights crossed less self-fertilised, in eighths of an inch (Fisher 1935, from memory: of 32,768
# ways of signs 1,726 are as extreme: p .05267).
DARWIN = np.array([49, -67, 8, 16, 6, 23, 28, 41, 14, 29, 56, 24, 75, 60, -48], float)


def test_fishers_pairs() -> None:
    found = relabel_pairs(np.zeros(15), DARWIN, draws=60_000)
    assert found.p == pytest.approx(1726 / 32768, abs=0.004)
    # Exactly, with the fourteen pairs that are enumerated.
    fourteen = relabel_pairs(np.zeros(14), DARWIN[:14])
    theirs = stats.permutation_test(
        (DARWIN[:14], np.zeros(14)), lambda a, b, axis: (a - b).mean(axis=axis), permutation_type="samples",
        n_resamples=np.inf, vectorized=True,
    )  # fmt: skip
    assert fourteen.p == pytest.approx(theirs.pvalue) and fourteen.arrangements == 2**14


def test_blocks_by_hand() -> None:
    """Two blocks of two against two: 36 arrangements, worked out one by one."""
    random = np.random.default_rng(5)
    for _ in range(20):
        values, late = random.normal(size=8).round(1), np.array([0, 0, 1, 1] * 2, bool)
        block = np.repeat([0, 1], 4)

        def change(marks: tuple[tuple[int, ...], ...], values: np.ndarray = values) -> float:
            found = []
            for first, own in zip((0, 4), marks, strict=True):
                rest = [i for i in range(first, first + 4) if i not in own]
                found.append(values[list(own)].mean() - values[rest].mean())
            return float(np.mean(found))

        every = [
            change((one, two))
            for one, two in product(combinations(range(4), 2), combinations(range(4, 8), 2))
        ]
        seen = change(((2, 3), (6, 7)))
        by_hand = np.mean(np.abs(every) >= abs(seen) - 1e-9)
        found = exchanged(values, late, block)
        assert (found.change, found.p) == pytest.approx((seen, by_hand))


def test_two_groups_as_scipy() -> None:
    random = np.random.default_rng(8)
    for first, second in ((4, 4), (3, 6), (5, 4)):
        values, late = random.normal(size=first + second), np.arange(first + second) >= first
        theirs = stats.permutation_test(
            (values[late], values[~late]), lambda a, b, axis: abs(a.mean(axis=axis) - b.mean(axis=axis)),
            n_resamples=np.inf, alternative="greater", vectorized=True,
        )  # fmt: skip
        assert exchanged(values, late).p == pytest.approx(theirs.pvalue)


def _any_design(random: np.random.Generator) -> object:
    """A comparison of a random design, with shares that tie as shares do."""
    kind, n = random.integers(3), int(random.integers(2, 9))
    shift = random.choice([0.0, 0.2, 0.5])
    if kind == 0:
        before = random.integers(0, 11, n) / 10
        return relabel_pairs(
            before, np.clip(before + shift + random.integers(-3, 4, n) / 10, 0, 1), draws=999
        )
    values = random.integers(0, 11, 2 * n) / 10
    late = random.permutation(np.arange(2 * n) < max(1, int(random.integers(1, 2 * n))))
    late[:2] = False, True
    block = np.repeat([0, 1], n) if kind == 1 and n > 3 else None
    if block is not None:
        late[n : n + 2] = False, True
    return exchanged(values + shift * late, late, block, draws=999)


def test_a_difference_is_claimed_exactly_where_its_limits_leave_out_none() -> None:
    random = np.random.default_rng(21)
    claimed = 0
    for _ in range(150):
        found = _any_design(random)
        for level in (0.2, 0.05, 0.05 / 7):
            low, high = found.limits(level)
            assert (found.p <= level) == (low > 0 or high < 0)
            assert low <= found.change <= high
            claimed += found.p <= level
    assert claimed > 40


def test_limits_are_the_shifts_the_test_does_not_reject() -> None:
    random = np.random.default_rng(3)
    values, late = random.normal(size=9), np.arange(9) >= 4
    low, high = exchanged(values, late).limits(0.1)
    for end, inward in ((low, 1), (high, -1)):
        for step, kept in ((0.01, True), (-0.01, False)):
            shifted = exchanged(values - (end + inward * step) * late, late)
            assert (shifted.p > 0.1) == kept


def test_what_a_design_can_come_to() -> None:
    assert (least_paired(9), least_exchanged(5, 5), least_exchanged(4, 5)) == (2 / 512, 2 / 252, 1 / 126)
    assert relabel_pairs(np.zeros(9), np.arange(1.0, 10)).p == least_paired(9)
    assert relabel_pairs(np.zeros(3), np.ones(3)).limits(0.05) == (-np.inf, np.inf)
    for bad in (
        lambda: relabel_pairs(np.zeros(0), np.zeros(0)),
        lambda: exchanged(np.ones(3), np.ones(3, bool)),
    ):
        with pytest.raises(ValueError, match="unit"):
            bad()
