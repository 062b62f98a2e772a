"""Company in retreats: published formulas, hand-made rows and what the swaps must leave alone."""

import numpy as np
import pytest

from zoneuse.stats.association.association import association, indices
from zoneuse.stats.association.crowding import crowding
from zoneuse.stats.association.fidelity import fidelity
from zoneuse.stats.association.sharing import moved, sharing
from zoneuse.stats.space_use.dispersion import dispersion

LARVAE = [114, 25, 15, 10, 6, 5, 2, 1, 1, 1]


@pytest.mark.parametrize(
    ("x", "only_a", "only_b", "apart", "simple", "half"),
    [
        (10, 5, 5, 0, 0.5, 0.6666667),
        (10, 5, 15, 0, 0.3333333, 0.5),
        (10, 5, 15, 4, 0.2941176, 0.4166667),
        (7, 3, 6, 2, 0.3888889, 0.5185185),
        (0, 5, 5, 2, 0, 0),
        (10, 0, 0, 0, 1, 1),
    ],
)
def test_the_indices_of_cairns_and_schwager(
    x: int, only_a: int, only_b: int, apart: int, simple: float, half: float
) -> None:
    # Formulas of Cairns & Schwager 1987, from memory; the rows are worked by hand.
    assert indices(x, only_a, only_b, apart) == pytest.approx((simple, half), abs=1e-7)


def test_an_animal_not_found_is_no_evidence_of_apartness() -> None:
    rows = ["1123", "1122", "1223", "1112", "2213", "1120"]
    found = association(np.array([[int(c) for c in row] for row in rows]) - 1)
    simple = found.simple_ratio
    assert [simple[0, 1], simple[0, 2], simple[0, 3], simple[1, 2], simple[1, 3], simple[2, 3]] == (
        pytest.approx([5 / 6, 1 / 6, 0, 1 / 3, 0, 1 / 6])
    )
    assert found.half_weight[2, 3] == pytest.approx(2 / 11)


@pytest.mark.parametrize(
    ("counts", "index", "upper", "lower", "morisita"),
    [
        ([0, 0, 1, 7, 2, 0, 0, 8], 34.444444, 1.422e-5, None, 2.6143791),
        ([2, 2, 3, 2, 2, 3, 2, 2], 0.666667, 0.998579, 0.001421, 0.6274510),
        # Ludwig & Reynolds 1988, larvae per stalk, as printed in the FAO manual.
        (np.repeat([0, 1, 2, 3, 4, 5, 6, 7, 8, 10], LARVAE), 545.842105, 9.725e-39, None, 3.1578947),
    ],
)  # fmt: skip
def test_dispersion_with_both_tails(
    counts: list[int], index: float, upper: float, lower: float | None, morisita: float
) -> None:
    found = dispersion(counts)
    assert (found.index, found.morisita) == pytest.approx((index, morisita), abs=1e-6)
    assert found.p_crowded == pytest.approx(upper, rel=1e-3)
    assert lower is None or found.p_even == pytest.approx(lower, rel=1e-3)


def test_twelve_animals_in_six_hides() -> None:
    found = crowding([[7, 3, 1, 1, 0, 0]], np.ones(6), draws=20_000)
    assert (found.shared, found.expected) == pytest.approx((0.364, 0.167), abs=5e-4)
    assert dispersion([7, 3, 1, 1, 0, 0]).ratio == pytest.approx(3.6)
    assert found.p_crowded == pytest.approx(0.004, abs=0.002)


def test_a_move_is_counted_over_checks_without_the_animal() -> None:
    assert moved([[0, 1], [-1, 1], [0, 2], [1, -1]]).tolist() == [
        [False, False], [False, False], [False, True], [True, False],
    ]  # fmt: skip


def test_an_animal_that_follows_another_is_named_and_no_other() -> None:
    rng = np.random.default_rng(5)
    where = rng.integers(0, 6, (80, 5))
    follows = rng.random(80) < 0.6
    where[follows, 1] = where[follows, 0]
    found = sharing(where, draws=400)
    assert found.p_together <= 0.05
    assert found.pair_p_together[0, 1] <= 0.05
    assert (found.pair_p_together[2:, 2:] > 0.05).all()
    assert found.pair_p_apart[0, 1] > 0.5


def test_one_seed_gives_one_answer() -> None:
    where = np.random.default_rng(2).integers(0, 4, (30, 4))
    assert sharing(where, draws=40).p_together == sharing(where, draws=40).p_together


def test_animals_with_homes_keep_to_them_and_wanderers_do_not() -> None:
    rng = np.random.default_rng(3)
    where = rng.integers(0, 5, (40, 6))
    where[:, 0] = np.where(rng.random(40) < 0.9, 2, where[:, 0])
    found = fidelity(where)
    assert found.p[0] <= 0.05
    assert (found.p[1:] > 0.05).all()
    assert found.checks.tolist() == [39] * 6
