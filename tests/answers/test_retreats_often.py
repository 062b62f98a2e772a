"""Retreats asked about again and again: what is fairly sure must stand where all its questions share one level."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.sim.calibrate_retreats import as_checks
from tests.sim.colony import colony
from zoneuse.answers.finding import Finding
from zoneuse.answers.retreats.company import company_of, finer_draws
from zoneuse.answers.retreats.judge import company, keeping, stands_always, unused
from zoneuse.answers.retreats.keeping import Own, fidelity_of, returns_of
from zoneuse.answers.retreats.use import use_table
from zoneuse.answers.retreats.words import sentence
from zoneuse.stats.intervals.any_time import APART_PART, COMPANY_PART, DRY_PART, KEEPING_PART, level_any_time


def test_the_questions_of_retreats_share_one_level() -> None:
    assert sum((COMPANY_PART, APART_PART, KEEPING_PART, DRY_PART)) == pytest.approx(1.0)
    assert float(level_any_time(60)) == pytest.approx(0.010)
    assert stands_always(0.003, 60, COMPANY_PART)
    assert not stands_always(0.006, 60, COMPANY_PART)  # under the whole level, over its part
    assert not stands_always(0.003, 60, COMPANY_PART, compared=2)


def test_a_close_company_is_fairly_sure_and_its_p_is_drawn_finely_enough_to_show_it() -> None:
    checks = as_checks(colony(np.random.default_rng(4), checks=40, animals=6, follows=0.9, pairs=2), 1)
    told = company_of(checks, 1000, 1, 1)
    assert told is not None
    assert told[0].p_together < 0.001
    assert finer_draws(checks, 1000) == 10_000
    (first, *_) = company(checks, *told, 1)
    assert (first.verdict, first.standing) == ("together", "fairly sure here")
    # Of very many animals time and memory allow no more draws than were asked for.
    crowd = as_checks(np.zeros((400, 200), np.int64), 1)
    assert finer_draws(crowd, 1000) == 1000


def test_company_just_past_a_single_look_looks_like_it_today() -> None:
    checks = as_checks(colony(np.random.default_rng(4), checks=60, animals=4, pairs=0), 1)
    told = company_of(checks, 200, 1, 1)
    assert told is not None
    found = replace(told[0], p_together=0.006)
    (first, *_) = company(checks, found, replace(told[1], together=True, apart=False), 1)
    assert (first.verdict, first.standing) == ("together", "looks like")


def test_a_retreat_is_surely_unused_only_after_more_checks_than_a_single_look_asks() -> None:
    where = np.tile(np.arange(7), 60)[:, None]  # one animal that goes round seven of eight
    short, long = as_checks(where[:70], 1), as_checks(where[:300], 1)
    assert [(f.verdict, f.standing) for f in unused(short, False)] == [("unused", "looks like")]
    assert [(f.verdict, f.standing) for f in unused(long, False)] == [("unused", "fairly sure here")]


def test_animals_that_stay_put_need_more_empty_checks_to_rule_a_retreat_out() -> None:
    """1 - .05 ** (1 / looks) falls to 5 % at 59 looks; an animal that never moved has given one so far."""
    mover = np.tile(np.arange(7), 10)[:, None]
    (moving,) = unused(as_checks(mover[:11], 1), False)
    assert moving["enough"] == 59
    (staying,) = unused(as_checks(np.zeros((11, 1), np.int64), 1), False)
    assert len(staying.about) > 1
    assert staying["enough"] == pytest.approx(11 * np.log(0.05) / np.log(0.95), abs=1)


def test_a_home_is_fairly_sure_only_where_it_stands_however_often_one_asks() -> None:
    random = np.random.default_rng(2)
    home = np.where(random.random(80) < 0.8, 0, random.integers(1, 8, 80))
    slight = np.random.default_rng(2).permutation([0] * 12 + [1, 2, 3, 4, 5, 1, 2, 3])
    for where, grade in ((home, "fairly sure here"), (slight, "looks like")):
        (row,) = use_table([as_checks(where[:, None], 1)])[1].to_dict("records")
        assert row["home_standing"] == grade


def test_who_keeps_to_its_own_is_drawn_finely_where_it_is_near() -> None:
    random = np.random.default_rng(3)
    where = np.stack(
        [np.where(random.random(40) < 0.9, a, random.integers(0, 8, 40)) for a in range(4)], axis=1
    )
    checks = as_checks(where, 1)
    kept = fidelity_of(checks, 1000, 1, 1)
    assert np.nanmax(kept.p) < 0.0005  # under what a thousand draws could show
    homes = dict.fromkeys(checks.animals, checks.retreats[0])
    own = Own(returns_of(checks, 1000, 1, 1), homes, frozenset(homes))
    (found,) = keeping(checks, kept, own, 1)
    assert (found.verdict, found.standing) == ("keeps to it", "fairly sure here")


def test_a_stay_that_lasts_is_no_home() -> None:
    """Four animals go round five retreats in turn, four checks in each: nobody comes back to a place of its own."""
    where = np.stack([(np.arange(60) // 4 + 2 * a) % 5 for a in range(4)], axis=1)
    (found,) = _kept(where)
    assert (found.verdict, found.standing) == ("stays on", "fairly sure here")
    labels = {a: a.upper() for a in found.about}
    assert "come back to places of their own" in sentence(found, labels)
    # Two that change between two places of their own every four checks come back to them.
    theirs = np.stack([2 * a + np.arange(60) // 4 % 2 for a in range(4)], axis=1)
    (found,) = _kept(theirs)
    assert (found.verdict, found.standing) == ("keeps to it", "fairly sure here")


def _kept(where: NDArray[np.int64]) -> list[Finding]:
    checks = as_checks(where, 1)
    return list(keeping(checks, fidelity_of(checks, 1000, 1, 1), Own(returns_of(checks, 1000, 1, 1)), 1))
