"""Curves of choice, the place itself, accounts and forecasts, on invented animals with known truth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.sim.climate import OFFERED, Seeker, conditions, watch
from zoneuse.answers.preference.shape import curve_shape
from zoneuse.stats.choice.place_or_climate import account, fit_places, forecast_shares
from zoneuse.stats.choice.preference import fit_preference, within_part

NAMES = ("temperature_c", "humidity_pct")
MANY = Seeker(sessions=80, animals=3, width_c=2.5, width_pct=8.0)


@pytest.fixture(scope="module")
def study() -> dict[str, np.ndarray]:
    """Eighty sessions of three restless animals with narrow preferences, for whom the model is exact.

    Sticky ones lag behind the conditions; how well the sets cover for them is measured by the calibration.
    """
    return watch(replace(MANY, stay=0.0), 11).table()


def test_peaks_are_found_inside_what_was_offered(study: dict[str, np.ndarray]) -> None:
    """Sought 25 °C and 72 %: claimed, near, and the sets hold them."""
    fit = fit_preference(**study, quantities=NAMES)
    for q, (truth, near) in enumerate(((25.0, 0.6), (72.0, 2.0))):
        shape = curve_shape(fit, q, compared=2)
        assert shape.shape == "peaked"
        assert shape.peak == pytest.approx(truth, abs=near)
        ((low, high),) = shape.peak_set
        assert fit.least[q] <= low <= truth <= high <= fit.most[q]
    assert fit.degrees() == 79
    assert (fit.within > 0).all()
    assert (fit.within < 1).all()


def test_a_rise_is_a_rise_and_no_peak() -> None:
    """The peak lies far above all that was offered: rising, no peak, nothing extrapolated."""
    table = watch(replace(MANY, peak_c=60.0, width_c=10.0, width_pct=None), 3).table()
    fit = fit_preference(**table, quantities=NAMES)
    shape = curve_shape(fit, 0)
    assert shape.shape == "rising"
    assert shape.peak is None
    assert all(high <= fit.most[0] for _, high in shape.peak_set)


def test_a_flat_curve_needs_much_evidence() -> None:
    """No preference: flat with very much watching, too early with little, never a peak here."""
    nothing = replace(MANY, width_c=None, width_pct=None, stay=0.0)
    few = fit_preference(**watch(replace(nothing, sessions=6, animals=1), 5).table(), quantities=NAMES)
    assert curve_shape(few, 0).shape == "too early"
    many = fit_preference(**watch(replace(nothing, sessions=150), 5).table(), quantities=NAMES)
    assert curve_shape(many, 0).shape == "flat"


def test_place_and_climate_that_never_part_are_not_told_apart(study: dict[str, np.ndarray]) -> None:
    """Each zone keeps its temperature for ever: no within part, no claim, and the reason."""
    lasting = np.array([19.0, 21, 23, 25, 27, 30])[study["zone"]]
    fit = fit_preference(**{**study, "x": lasting[:, None]}, quantities=("temperature_c",))
    assert fit.within[0] == pytest.approx(0, abs=1e-12)
    shape = curve_shape(fit, 0)
    assert (shape.shape, shape.reason) == ("too early", "never_moved")


def test_same_everywhere(study: dict[str, np.ndarray]) -> None:
    """A quantity that never differs between places tells nothing, and says so."""
    fit = fit_preference(
        **{**study, "x": np.full((study["zone"].size, 1), 20.0)}, quantities=("temperature_c",)
    )
    assert curve_shape(fit, 0).reason == "same_everywhere"


def test_within_part_by_hand() -> None:
    """Two zones that swap: all of the difference is change over time."""
    assert within_part([1.0, 2.0, 2.0, 1.0], [0, 0, 1, 1], [0, 1, 0, 1]) == pytest.approx(1)


def test_accounts_add_up_and_name_the_cause() -> None:
    """The hottest zone, for animals that mind heat only: temperature is the cause."""
    hot = watch(replace(MANY, peak_c=20.0, width_c=4.0, width_pct=None), 7)
    table = hot.table()
    fit = fit_places(**table, quantities=NAMES, zones=6)
    columns = {k: table[k] for k in ("x", "moment", "zone", "offset")}
    told = account(fit, **columns, avoided=5, best=0)
    assert told.total == pytest.approx(told.parts.sum())
    assert told.cause == "temperature_c"
    assert told.names == (*NAMES, "size", "place")
    assert told.parts[2] == pytest.approx(np.log(0.08 / 0.30))
    assert (told.low <= told.parts).all()
    assert (told.parts <= told.high).all()


def test_a_liked_place_is_seen_as_the_place() -> None:
    """No climate preference, one zone disliked by three log odds."""
    liking = np.array([0, 0, 0, -3.0, 0, 0])
    table = watch(replace(MANY, width_c=None, width_pct=None), 9, liking=liking).table()
    fit = fit_places(**table, quantities=NAMES, zones=6)
    columns = {k: table[k] for k in ("x", "moment", "zone", "offset")}
    assert fit.liking_spread >= 0.6
    assert account(fit, **columns, avoided=3, best=2).cause == "place"


def test_forecast_of_a_change() -> None:
    """Cooling the hottest zone to the sought temperature raises its share; limits narrow with sessions."""
    table = watch(replace(MANY, width_pct=None), 13).table()
    fit = fit_places(**table, quantities=NAMES, zones=6)
    columns = {k: table[k] for k in ("x", "moment", "zone", "offset")}
    now = forecast_shares(fit, **columns, clusters=12)
    x = table["x"].copy()
    x[table["zone"] == 5, 0] = 25.0
    then = forecast_shares(fit, **{**columns, "x": x}, clusters=12)
    assert then.expected[5] > 2 * now.expected[5]
    assert now.expected.sum() == pytest.approx(1)
    longer = forecast_shares(fit, **columns, clusters=200)
    assert (longer.high - longer.low < now.high - now.low).all()
    assert (now.low <= now.expected).all()
    assert (now.expected <= now.high).all()


def test_zones_come_and_go() -> None:
    """Choice sets of different size: a lamp zone that exists in half of the sessions."""
    study = watch(replace(MANY, sessions=40), 15)
    table = study.table()
    gone = (table["zone"] == 4) & (table["cluster"] % 2 == 1)
    lost = np.isin(table["moment"], table["moment"][gone & table["chosen"]])
    kept = {k: v[~gone & ~lost] for k, v in table.items()}
    fit = fit_places(**kept, quantities=NAMES, zones=6)
    told = forecast_shares(fit, kept["x"], kept["moment"], kept["zone"], kept["offset"], clusters=10)
    assert told.expected.sum() == pytest.approx(1)
    with pytest.raises(ValueError, match="never on offer"):
        other = kept["zone"] != 4
        rows = {k: kept[k][other] for k in ("x", "moment", "zone", "offset")}
        account(fit, **rows, avoided=4, best=0)


def test_the_simulated_climate_is_what_it_says() -> None:
    """Guard of the simulator itself: zones drawn by what is offered where nothing is preferred."""
    study = watch(Seeker(sessions=400, width_c=None, width_pct=None, stay=0.0), 1)
    shares = np.bincount(study.zone.ravel(), minlength=6) / study.zone.size
    np.testing.assert_allclose(shares, OFFERED, atol=0.02)
    warm, damp = conditions(5, 20, np.random.default_rng(1))
    assert warm.shape == damp.shape == (5, 20, 6)
