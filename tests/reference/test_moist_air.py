"""Moist air against independent libraries and published examples."""

import math

import psychrolib
import pytest

from coldbench.air import moist

P = 101325.0
CONDITIONS = [(t, rh, p) for t in (-15.0, -2.0, 5.0, 20.0, 27.0, 35.0, 45.0)
              for rh in (0.1, 0.5, 0.9) for p in (P, 80000.0)]


@pytest.fixture(autouse=True)
def si_units():
    psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize("t, rh, p", CONDITIONS)
def test_against_psychrolib(t, rh, p):
    # psychrolib (independent library, ASHRAE formulas): W 1 %, h 0.3 kJ/kg, wet bulb and dew
    # point 0.05 K, v 1e-3.
    T, W = t + 273.15, moist.humidity_ratio(t + 273.15, rh, p)
    assert math.isclose(W, psychrolib.GetHumRatioFromRelHum(t, rh, p), rel_tol=0.01)
    assert abs(moist.moist_air_enthalpy(T, W) - psychrolib.GetMoistAirEnthalpy(t, W)) < 300
    assert abs(moist.wet_bulb(T, W, p) - 273.15
               - psychrolib.GetTWetBulbFromHumRatio(t, W, p)) < 0.05
    assert abs(moist.dew_point(W, p) - 273.15 - psychrolib.GetTDewPointFromHumRatio(t, W, p)) < 0.05
    assert math.isclose(moist.specific_volume(T, W, p), psychrolib.GetMoistAirVolume(t, W, p),
                        rel_tol=1e-3)


@pytest.mark.parametrize("t, rh, p", [c for c in CONDITIONS if c[0] > 0])
def test_against_coolprop(t, rh, p):
    # CoolProp HumidAirProp (independent library, real-gas formulation): W 1 %, h 0.3 kJ/kg,
    # v 1e-3 (ideal gas here: the enhancement factor alone is 0.5 %).
    from CoolProp.HumidAirProp import HAPropsSI

    T, W = t + 273.15, moist.humidity_ratio(t + 273.15, rh, p)
    assert math.isclose(W, HAPropsSI("W", "T", T, "R", rh, "P", p), rel_tol=0.01)
    assert abs(moist.moist_air_enthalpy(T, W) - HAPropsSI("H", "T", T, "W", W, "P", p)) < 300
    assert math.isclose(moist.specific_volume(T, W, p), HAPropsSI("V", "T", T, "W", W, "P", p),
                        rel_tol=1e-3)


@pytest.mark.parametrize("t, W", [(0, .00379), (10, .00766), (20, .01476), (30, .02733),
                                  (40, .04914)])
def test_saturated_humidity_ratio(t, W):
    # CoolProp at 101.325 kPa, as tabulated; ASHRAE formulas without the enhancement factor lie
    # about 0.5 % lower.
    assert math.isclose(moist.saturated_humidity_ratio(t + 273.15, P), W, rel_tol=0.008)


def test_chart_example():
    # ASHRAE psychrometric chart example, from memory: 40 °C dry bulb, 20 °C wet bulb gives
    # W 6.45 g/kg, h 56.8 kJ/kg, RH 14 %, v 0.896 m³/kg.
    W = 0.00645
    assert abs(moist.wet_bulb(313.15, W, P) - 293.15) < 0.1
    assert abs(moist.moist_air_enthalpy(313.15, W) - 56.8e3) < 300
    assert abs(moist.relative_humidity(313.15, W, P) - 0.14) < 0.005
    assert abs(moist.specific_volume(313.15, W, P) - 0.896) < 0.001
