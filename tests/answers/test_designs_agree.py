"""Over random designs: a difference is claimed exactly where its printed limits leave out none, and p says the same."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.sim.calibrate_compared import EXPECTED, one_study, sessions_of
from zoneuse.answers.shifts.compared.design import GROUPS, PAIRS
from zoneuse.answers.shifts.compared.judge import Comparison, judged, order_matters, other_way, stands_out
from zoneuse.answers.shifts.compared.levels import Levels, levels

CLAIMS = ("rose", "fell")


def design(seed: int) -> Comparison:
    """Pairs, groups or sessions of any number; an effect or none; expected, the other way, or not at all."""
    random = np.random.default_rng(seed)
    effect = float(random.choice([0.0, 0.7, 2.0]))
    kind = ("pairs", "groups", "sessions")[seed % 3]
    if kind == "sessions":
        study = sessions_of(random, int(random.integers(6, 30)), float(random.choice([0, 0.5, 0.8])), effect)
    else:
        units, each = int(random.integers(3, 30)), int(random.choice([1, 3]))
        study = one_study(random, PAIRS if kind == "pairs" else GROUPS, units, effect=effect, each=each)
    way = str(random.choice(["", "up", "down"]))
    return replace(study, expected={("zone", f"z{EXPECTED}"): way} if way else {})


@pytest.mark.parametrize("first", range(0, 60, 15))
def test_limits_leave_out_no_difference_exactly_where_one_is_claimed(first: int) -> None:
    for seed in range(first, first + 15):
        # Two comparisons of one question stand or fall together.
        asked = [design(seed)] if seed % 5 else [design(seed), design(seed + 1_000)]
        for study, rows in zip(asked, judged(asked), strict=True):
            for j in rows:
                low, high = j.limits
                level = 0.05 if not study.expected and len(asked) == 1 else None
                change = j.held.test.change
                assert low <= change <= high, seed
                outside = low > 0 or high < 0
                assert outside == (j.held.test.p <= j.level + 1e-12), (
                    seed,
                    j.held.name,
                    j.held.test.p,
                    j.level,
                    j.limits,
                )
                if level is not None:
                    assert outside == (j.adjusted <= level), seed
                if j.verdict in CLAIMS:
                    assert outside and (j.verdict == "rose") == (change > 0)
                elif outside:
                    assert j.reason == "too_few_units" and sum(study.design.counts) < 10
                if j.verdict == "held":
                    # No "held" beside limits from end to end.
                    assert not outside and max(-low, high) < 1


def test_a_level_that_nothing_could_use_is_not_kept_back() -> None:
    """What was expected has .05 where no test of the rest could pass .005, and the rest .05 where it came."""
    rows = 5
    main, once = np.arange(rows) == 0, np.arange(rows)

    def found(p: float, least: float) -> Levels:
        return levels(np.full(rows, p), np.full(rows, least), main, once)

    # 6 against 6: least 2/924 for each of four others, more than .005 / 4.
    assert found(0.5, 2 / 924).own == pytest.approx([0.05] + [0.005 / 4] * 4)
    assert found(0.5, 2 / 184_756).own == pytest.approx([0.045] + [0.005 / 4] * 4)
    came = found(0.045, 2 / 184_756)
    assert came.whole == pytest.approx([0.045] + [0.05] * 4) and came.own[1:] == pytest.approx(0.05 / 4)
    # Nothing expected, or everything: one family at .05.
    for every in (np.zeros(rows, bool), np.ones(rows, bool)):
        assert levels(np.full(rows, 0.5), np.full(rows, 0.001), every, once).own == pytest.approx(0.01)


def test_six_against_six_finds_what_the_exact_test_of_what_was_expected_finds() -> None:
    claimed, exact = 0, 0
    for seed in range(40):
        study = one_study(np.random.default_rng(910_000 + seed), GROUPS, 12, effect=1.8, each=1)
        (rows,) = judged([study])
        claimed += any(j.held.name == f"z{EXPECTED}" and j.verdict in CLAIMS for j in rows)
        exact += study.held[EXPECTED].test.p <= 0.05
    assert 10 < exact == claimed


def test_units_that_go_the_other_way_and_one_that_differs_are_named() -> None:
    study = one_study(np.random.default_rng(4), PAIRS, 8, effect=0.0, each=1)
    held = study.held[0]
    change = np.array([0.1, 0.11, 0.09, 0.1, 0.12, 0.08, 0.1, -0.6])
    one = replace(held, first=np.full(8, 0.5), second=0.5 + change)
    one = replace(one, test=replace(one.test, before=0.5, after=0.5 + float(change.mean())))
    assert stands_out(study.design, one) == ("7", pytest.approx(-0.6), pytest.approx(0.1))
    # Its mean goes up (.0125), so the one that fell is the one that went the other way.
    assert other_way(study.design, one) == ("7",)
    even = replace(one, second=0.5 + np.array([0.1, 0.3, 0.0, 0.2, -0.1, 0.15, 0.05, 0.25]))
    assert stands_out(study.design, even) is None
    assert order_matters(study, one) is None
