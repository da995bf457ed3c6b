"""Laws and limits of the standard atmosphere."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.air import barometer_pressure, standard_atmosphere_pressure
from coldbench.errors import InputError


@given(st.floats(-2000, 10990), st.floats(1, 10))
def test_pressure_falls_with_altitude(altitude_m, step_m):
    upper = standard_atmosphere_pressure(altitude_m + step_m)
    assert upper < standard_atmosphere_pressure(altitude_m)


@pytest.mark.parametrize("altitude_m", [-2000.1, 11000.1, float("nan"), float("inf")])
def test_outside_the_layer_is_refused(altitude_m):
    with pytest.raises(InputError, match="outside -2000 to 11000 m"):
        standard_atmosphere_pressure(altitude_m)


@pytest.mark.parametrize("reading_Pa", [0.0, 21e3, 129e3, 101.325, float("nan")])
def test_an_impossible_barometer_reading_is_refused(reading_Pa):
    with pytest.raises(InputError, match="outside 22 to 128 kPa"):
        barometer_pressure(reading_Pa)
