"""Shares held against one level by their own rearrangements: no more false claims than that, and none kept back."""

from __future__ import annotations

import numpy as np
import pytest

from zoneuse.stats.resampling.permutation import holm, permute_phases
from zoneuse.stats.resampling.together import Rearranged, Together, chances, held_together

LATE = np.arange(10) >= 5


def made(seed: int, units: int = 10, shares: int = 6) -> np.ndarray:
    """Shares of one whole, and one nobody but two units ever used."""
    random = np.random.default_rng(seed)
    weight = random.dirichlet(np.ones(shares), units)
    weight[:, -1] *= np.arange(units) % 5 == 0
    return weight / weight.sum(axis=1, keepdims=True)


def drawn(found: np.ndarray, units: bytes = b"") -> list[Rearranged]:
    return [Rearranged(column, units) for column in found.T]


def test_the_chances_of_the_arrangement_at_hand_are_those_of_the_test() -> None:
    for late in (LATE, np.arange(10) >= 7):
        found = permute_phases(made(1), late)
        assert (chances(found.reach) == found.p).all(axis=1).any()
    many = permute_phases(made(2, 30), np.arange(30) >= 15, draws=500)
    np.testing.assert_array_equal(chances(many.reach)[0], many.p)


@pytest.mark.parametrize("expected", [(), (2,), (2, 4)])
def test_among_all_arrangements_of_a_study_at_most_a_twentieth_claims_anything(
    expected: tuple[int, ...],
) -> None:
    """Each of the 252 in turn is the one at hand, and nothing is going on; Holm claims no more."""
    for seed in range(3):
        every = chances(permute_phases(made(seed), LATE).reach)
        main = np.isin(np.arange(6), expected)
        claimed, by_holm = [], []
        for p in every:
            told = held_together(p, main, drawn(every))
            claimed.append(bool((told.adjusted <= told.level).any()))
            by_holm.append(bool((holm(p) <= 0.05).any()))
        assert np.mean(claimed) <= 0.05
        assert expected or np.mean(by_holm) <= np.mean(claimed) > 0.02


def test_what_was_not_expected_can_be_claimed_of_six_against_six() -> None:
    """All days of one side lie above all of the other: .0022, where .01 shared by five would ask .002. The other places
    only make room for it, which is no other test."""
    random = np.random.default_rng(4)
    share = np.empty((12, 6))
    share[:, 0], share[:, 3] = random.uniform(0, 0.1, 12), random.uniform(0.1, 0.2, 12)
    share[6:, 3] += 0.6
    share[:, [1, 2, 4, 5]] = (1 - share[:, 0] - share[:, 3])[:, None] * np.array([0.1, 0.2, 0.3, 0.4])
    found = permute_phases(share, np.arange(12) >= 6)
    told = held_together(found.p, np.arange(6) == 0, drawn(chances(found.reach)))
    assert found.p[3] == pytest.approx(2 / 924)
    assert told.adjusted[3] <= told.level[3] < 0.05 and found.p[3] <= told.itself[3]


def test_the_rest_has_all_once_what_was_expected_came_and_else_what_it_leaves() -> None:
    found = permute_phases(made(5, 30), np.arange(30) >= 15, draws=999)
    each, main = drawn(chances(found.reach)), np.arange(6) == 2

    def told(p: float) -> Together:
        return held_together(np.where(main, p, 0.004), main, each)

    came, stayed = told(0.04), told(0.051)
    assert came.adjusted[2] <= came.level[2] and came.level[0] == 0.05
    assert stayed.adjusted[2] > stayed.level[2] and 0.04 < stayed.level[2] < 0.05
    assert 0.002 <= stayed.itself[0] < came.itself[0]


def test_shares_over_other_units_add_up() -> None:
    """As by Bonferroni: nothing is known of how they hang together."""
    one = np.arange(1, 1001) / 1000
    told = held_together([0.02, 0.02], [False, False], [Rearranged(one, b"a"), Rearranged(one, b"b")])
    assert told.adjusted[0] == pytest.approx(0.04) and told.itself[0] == pytest.approx(0.025)
    alike = held_together([0.02, 0.02], [False, False], [Rearranged(one, b"a"), Rearranged(one, b"a")])
    assert alike.adjusted[0] == pytest.approx(0.02)


def test_where_the_rest_can_never_pass_what_was_expected_has_all_of_the_level() -> None:
    """Four against four: the least p there is, 2 of 70, is more than .01."""
    found = permute_phases(made(6, 8, 3), np.arange(8) >= 4)
    told = held_together(found.p, np.arange(3) == 0, drawn(chances(found.reach)))
    assert told.level[0] == 0.05


@pytest.mark.parametrize("units", [14, 24, 40])
def test_neither_side_is_ever_held_stricter_than_by_even_parts(units: int) -> None:
    """.04 for what was expected and .01 over five for the rest (Bonferroni) is the least both have."""
    for seed in range(3):
        found = permute_phases(made(seed, units), np.arange(units) >= units // 2, draws=1999)
        each, main = drawn(chances(found.reach)), np.arange(6) == 1
        for p in (np.where(main, 0.04, 1.0), np.where(np.arange(6) == 4, 0.002, 1.0)):
            told = held_together(p, main, each)
            assert told.adjusted[p.argmin()] <= told.level[p.argmin()]


def test_lists_that_do_not_fit_are_refused_and_nothing_is_no_fault() -> None:
    with pytest.raises(ValueError, match="one of each"):
        held_together([0.1], [True, False], [])
    assert held_together([], [], []).adjusted.size == 0
