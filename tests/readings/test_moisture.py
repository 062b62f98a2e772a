"""Moisture against published tables and two independent libraries (CHECK_VALUES 7.1-7.3)."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from zoneuse.readings.trust.moisture import (
    absolute_humidity_g_m3,
    dew_point_c,
    saturation_vapour_pressure_hpa,
    vapour_pressure_hpa,
    vpd_kpa,
)
from zoneuse.study.quantities import fahrenheit_to_celsius

# WMO-No. 8 (2008) column of CHECK_VALUES 7.1, computed there (status b) from the published formula.
WMO = {5: 8.7174, 10: 12.2603, 15: 17.0167, 20: 23.3260, 25: 31.6006, 30: 42.3372, 35: 56.1284, 40: 73.6746}

# CHECK_VALUES 7.3 (status b): t, RH, e hPa, dew point WMO, VPD kPa WMO, absolute humidity g/m3.
ROWS = [
    (20, 60, 13.9956, 11.9955, 0.93304, 10.3450),
    (25, 50, 15.8003, 13.8516, 1.58003, 11.4831),
    (26, 85, 28.5034, 23.2801, 0.50300, 20.6460),
    (28, 70, 26.3980, 22.0149, 1.13134, 18.9940),
    (30, 80, 33.8698, 26.1688, 0.84674, 24.2094),
    (35, 20, 11.2257, 8.6882, 4.49027, 7.8937),
    (22, 100, 26.3742, 22.0, 0.0, 19.3626),
]


@pytest.mark.parametrize(("t", "hpa"), WMO.items())
def test_saturation_pressure_is_the_wmo_formula(t: int, hpa: float) -> None:
    assert float(saturation_vapour_pressure_hpa(t)) == pytest.approx(hpa, abs=6e-5)


@pytest.mark.parametrize(("t", "rh", "e", "dew", "vpd", "ah"), ROWS)
def test_derived_values(t: float, rh: float, e: float, dew: float, vpd: float, ah: float) -> None:
    assert float(vapour_pressure_hpa(t, rh)) == pytest.approx(e, abs=6e-5)
    assert float(dew_point_c(t, rh)) == pytest.approx(dew, abs=6e-5)
    assert float(vpd_kpa(t, rh)) == pytest.approx(vpd, abs=6e-6)
    assert float(absolute_humidity_g_m3(t, rh)) == pytest.approx(ah, abs=6e-5)


# Allen, Pereira, Raes & Smith 1998 (FAO-56), chapter 3 (digits from memory, status c). It uses other
# constants, so it agrees within the 0.5 % by which all formulas differ between 5 and 40 C.
@pytest.mark.parametrize(
    ("t", "kpa"),
    [(10, 1.228), (15, 1.705), (20, 2.338), (24.5, 3.075), (25, 3.168), (30, 4.243), (35, 5.623)],
)
def test_fao56_annex_agrees_within_half_a_percent(t: float, kpa: float) -> None:
    assert float(saturation_vapour_pressure_hpa(t)) / 10 == pytest.approx(kpa, rel=5e-3)


def test_against_psychrolib() -> None:
    psychrolib = pytest.importorskip("psychrolib")
    psychrolib.SetUnitSystem(psychrolib.SI)
    for t in (5.0, 15.0, 25.0, 35.0):
        assert float(saturation_vapour_pressure_hpa(t)) * 100 == pytest.approx(
            psychrolib.GetSatVapPres(t), rel=5e-3
        )
        for rh in (20.0, 60.0, 95.0):
            # psychrolib follows ASHRAE: dew points above 0 C differ by at most 0.02 C (7.3). Below 0 C it
            # gives the frost point over ice, another quantity.
            theirs = psychrolib.GetTDewPointFromRelHum(t, rh / 100)
            if theirs > 0:
                assert float(dew_point_c(t, rh)) == pytest.approx(theirs, abs=0.05)
            assert float(vpd_kpa(t, rh)) * 1000 == pytest.approx(
                psychrolib.GetVaporPressureDeficit(
                    t, psychrolib.GetHumRatioFromRelHum(t, rh / 100, 101325), 101325
                ),
                rel=6e-3,
            )


def test_against_metpy() -> None:
    calc = pytest.importorskip("metpy.calc")
    units = pytest.importorskip("metpy.units").units
    for t in (10.0, 20.0, 30.0, 40.0):
        theirs = calc.saturation_vapor_pressure(units.Quantity(t, "degC")).to("hPa").magnitude
        assert float(saturation_vapour_pressure_hpa(t)) == pytest.approx(theirs, rel=5e-3)
        dew = calc.dewpoint_from_relative_humidity(units.Quantity(t, "degC"), 0.7).to("degC").magnitude
        assert float(dew_point_c(t, 70.0)) == pytest.approx(dew, abs=0.1)


@given(st.floats(-20, 70))
def test_saturated_air_is_at_its_dew_point_and_draws_nothing(t: float) -> None:
    assert float(dew_point_c(t, 100.0)) == pytest.approx(t, abs=1e-9)
    assert float(vpd_kpa(t, 100.0)) == 0.0


@given(st.floats(-20, 70), st.floats(1, 100))
def test_the_dew_point_round_trips(t: float, rh: float) -> None:
    dew = dew_point_c(t, rh)
    assert float(saturation_vapour_pressure_hpa(dew)) == pytest.approx(
        float(vapour_pressure_hpa(t, rh)), rel=1e-9
    )


def test_dry_air_has_no_dew_point() -> None:
    assert np.isnan(dew_point_c([20.0, np.nan], [0.0, 50.0])).all()


# Exact by definition of the Fahrenheit scale.
@pytest.mark.parametrize(
    ("f", "c"), [(-40, -40), (32, 0), (68, 20), (77, 25), (82.4, 28), (88.7, 31.5), (98.6, 37), (212, 100)]
)
def test_fahrenheit(f: float, c: float) -> None:
    assert fahrenheit_to_celsius(f) == pytest.approx(c, abs=1e-9)
