"""Superheat, subcooling, which refrigerant, how much air."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.refrigerant import (
    FLUIDS,
    fluid,
    identify,
    partial_pressure_of_air,
    subcooling,
    superheat,
)

TEMPERATURES_K = st.floats(233.15, 303.0)


@given(st.sampled_from(FLUIDS), TEMPERATURES_K, st.floats(0, 30))
def test_superheat_and_subcooling_are_distances_from_their_own_line(name, saturation_K, distance_K):
    substance = fluid(name)
    dew_Pa = substance.dew_pressure(saturation_K)
    bubble_Pa = substance.bubble_pressure(saturation_K)
    assert superheat(name, dew_Pa, saturation_K + distance_K) == pytest.approx(distance_K, abs=1e-8)
    assert subcooling(name, bubble_Pa, saturation_K - distance_K) == pytest.approx(
        distance_K, abs=1e-8)


def test_glide_makes_the_wrong_line_visible():
    pressure_Pa = fluid("R407C").dew_pressure(273.15)
    assert superheat("R407C", pressure_Pa, 273.15) == pytest.approx(0.0, abs=1e-8)
    assert subcooling("R407C", pressure_Pa, 273.15) < -5.0


@given(st.sampled_from(FLUIDS), TEMPERATURES_K)
def test_a_vessel_at_rest_is_recognised(name, temperature_K):
    found = identify(fluid(name).bubble_pressure(temperature_K), temperature_K, tolerance_K=0.01)
    assert name in [match.name for match in found]
    assert found[0].difference_K == pytest.approx(0.0, abs=1e-8)


def test_identify_keeps_to_candidates_order_and_tolerance():
    pressure_Pa = fluid("R134a").bubble_pressure(293.15)
    assert identify(pressure_Pa, 293.15, ["R-22", "CO2"]) == ()
    wide = identify(pressure_Pa, 293.15, tolerance_K=10.0)
    assert [match.name for match in wide] == ["R134a", "R12", "R1234yf", "R152a"]
    assert wide[1].difference_K == pytest.approx(
        293.15 - fluid("R12").bubble_temperature(pressure_Pa))
    with pytest.raises(InputError, match="tolerance"):
        identify(pressure_Pa, 293.15, tolerance_K=-1.0)
    with pytest.raises(InputError, match="no refrigerant"):
        identify(pressure_Pa, 293.15, ["R999"])


@given(st.sampled_from(FLUIDS), TEMPERATURES_K, st.floats(0, 1e6))
def test_air_adds_its_partial_pressure(name, temperature_K, air_Pa):
    total_Pa = fluid(name).bubble_pressure(temperature_K) + air_Pa
    assert partial_pressure_of_air(name, total_Pa, temperature_K) == pytest.approx(air_Pa, abs=1e-6)


def test_below_saturation_air_cannot_be_judged():
    low_Pa = fluid("R134a").bubble_pressure(293.15) - 5e3
    with pytest.raises(InputError, match="5.0 kPa below saturation at 20.0 degC"):
        partial_pressure_of_air("R134a", low_Pa, 293.15)
    assert partial_pressure_of_air("R134a", low_Pa, 293.15, tolerance_Pa=6e3) == 0.0
    with pytest.raises(InputError):
        partial_pressure_of_air("R134a", float("nan"), 293.15)
