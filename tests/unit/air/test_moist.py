"""Laws of moist air and its limits."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.air import moist
from coldbench.errors import InputError

temperatures = st.floats(250.0, 330.0)
humidities = st.floats(0.01, 1.0)
pressures = st.floats(60e3, 110e3)


@given(temperatures, humidities, pressures)
def test_humidity_round_trip(T, rh, p):
    assert moist.relative_humidity(T, moist.humidity_ratio(T, rh, p), p) == pytest.approx(rh)


@given(temperatures, humidities, pressures)
def test_dew_point_wet_bulb_and_dry_bulb_stand_in_order(T, rh, p):
    W = moist.humidity_ratio(T, rh, p)
    dew, wet = moist.dew_point(W, p), moist.wet_bulb(T, W, p)
    assert dew <= T + 1e-5 and wet <= T + 1e-5
    if wet > 273.16:
        assert dew <= wet + 0.2


@given(temperatures, st.floats(0.1, 5.0), humidities, pressures)
def test_warmer_saturated_air_holds_more_water(T, step, rh, p):
    assert moist.saturated_humidity_ratio(T + step, p) > moist.saturated_humidity_ratio(T, p)
    W = moist.humidity_ratio(T, rh, p)
    assert moist.moist_air_enthalpy(T + step, W) > moist.moist_air_enthalpy(T, W)


def test_no_step_at_the_triple_point():
    below, above = (moist.saturation_pressure_of_water(273.16 + d) for d in (-1e-6, 1e-6))
    assert below == pytest.approx(above, rel=2e-4)


@pytest.mark.parametrize("call", [
    lambda: moist.saturation_pressure_of_water(100.0),
    lambda: moist.saturation_pressure_of_water(float("nan")),
    lambda: moist.humidity_ratio(300.0, 1.3, 101325.0),
    lambda: moist.humidity_ratio(300.0, -0.1, 101325.0),
    lambda: moist.humidity_ratio(372.0, 1.0, 60e3),
    lambda: moist.vapour_pressure(-0.001, 101325.0),
    lambda: moist.wet_bulb(290.0, 0.05, 101325.0),
    lambda: moist.dew_point(0.0, 101325.0),
])
def test_what_cannot_be_is_refused(call):
    with pytest.raises(InputError):
        call()
