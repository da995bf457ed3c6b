"""Air behind the evaporator: heat and water are kept, and no fog is left in it."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.air.moist import HEAT_OF_EVAPORATION_J_kg, moist_air_enthalpy, relative_humidity
from coldbench.refrigerant.loop.evaporator import coil_air, leaving_air
from coldbench.refrigerant.loop.parts import blue_parts

PARTS = blue_parts().evaporator


@given(st.floats(275.0, 320.0), st.floats(0.05, 1.0), st.floats(70e3, 105e3), st.floats(0.0, 1.0),
       st.floats(0.0, 0.9), st.floats(0.0, 1.0))
def test_heat_and_water_are_kept_and_no_fog_is_left(intake_K, humidity, pressure_Pa, blower,
                                                    cooled, dried):
    air = coil_air(PARTS, intake_K, humidity, pressure_Pa, blower)
    sensible = cooled * air.capacity_W_per_K * (intake_K - 265.0)
    water = 0.9 * dried * air.dry_flow_kg_per_s * air.humidity_ratio
    got = leaving_air(air, sensible, water)
    assert got.condensate_kg_per_s >= water and got.sensible_W <= sensible
    assert got.sensible_W + HEAT_OF_EVAPORATION_J_kg * got.condensate_kg_per_s == pytest.approx(
        sensible + HEAT_OF_EVAPORATION_J_kg * water, rel=1e-12, abs=1e-9)
    filled = relative_humidity(got.temperature_K, got.humidity_ratio, pressure_Pa)
    assert filled <= 1.0 + 1e-8
    if got.condensate_kg_per_s > water:
        assert filled == pytest.approx(1.0, abs=1e-8)


def test_air_that_carries_no_fog_leaves_on_the_straight_line():
    air = coil_air(PARTS, 300.15, 0.3, 101_325.0, 1.0)
    got = leaving_air(air, 1000.0, 0.0)
    assert got == (300.15 - 1000.0 / air.capacity_W_per_K, air.humidity_ratio, 1000.0, 0.0)


def test_fog_falls_out_at_the_enthalpy_of_the_air():
    """Enthalpy by the ASHRAE formula. The coil's heat capacity counts all vapour that enters,
    although about half of it is left: worth up to 100 J/kg, or 0.1 K."""
    air = coil_air(PARTS, 298.15, 0.9, 101_325.0, 0.2)
    foggy_K = 298.15 - 650.0 / air.capacity_W_per_K
    before = moist_air_enthalpy(foggy_K, air.humidity_ratio - 3e-4 / air.dry_flow_kg_per_s)
    got = leaving_air(air, 650.0, 3e-4)
    assert got.temperature_K > foggy_K + 3.0
    assert moist_air_enthalpy(got.temperature_K, got.humidity_ratio) == pytest.approx(
        before, abs=100.0)
