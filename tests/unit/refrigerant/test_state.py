"""States: the constructors agree, regions have their words, impossible states are refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import LOOP_FLUIDS
from coldbench.refrigerant.state import saturated, state_ph, state_ps, state_pT

names = st.sampled_from(LOOP_FLUIDS)
pressures = st.floats(2e4, 2.8e6)


@given(names, pressures, st.floats(0.001, 60.0))
def test_constructors_agree_in_vapour(name, p, superheat):
    dew = saturated(name, p, 1.0)
    by_T = state_pT(name, p, dew.temperature_K + superheat)
    assert (by_T.region, by_T.quality) == ("superheated vapour", None)
    assert by_T.superheat_K == pytest.approx(superheat, abs=1e-6)
    assert state_ps(name, p, by_T.entropy_J_kgK).enthalpy_J_kg == pytest.approx(
        by_T.enthalpy_J_kg, abs=1e-3)
    assert state_ph(name, p, by_T.enthalpy_J_kg) == by_T
    assert by_T.density_kg_m3 < dew.density_kg_m3


@given(names, pressures, st.floats(0.001, 30.0))
def test_constructors_agree_in_liquid(name, p, subcooling):
    bubble = saturated(name, p, 0.0)
    by_T = state_pT(name, p, bubble.temperature_K - subcooling)
    assert (by_T.region, by_T.quality) == ("subcooled liquid", None)
    assert by_T.subcooling_K == pytest.approx(subcooling, abs=1e-6)
    assert state_ps(name, p, by_T.entropy_J_kgK).enthalpy_J_kg == pytest.approx(
        by_T.enthalpy_J_kg, abs=1e-3)
    assert by_T.density_kg_m3 > bubble.density_kg_m3


@given(names, pressures, st.floats(0.0, 1.0))
def test_wet_states(name, p, quality):
    point = saturated(name, p, quality)
    assert point.quality == quality
    assert point.region == {0.0: "saturated liquid", 1.0: "saturated vapour"}.get(
        quality, "wet vapour")
    assert point.superheat_K == pytest.approx(0.0, abs=1e-9)
    again = state_ps(name, p, point.entropy_J_kgK)
    assert again.enthalpy_J_kg == pytest.approx(point.enthalpy_J_kg, abs=1e-3)


def test_pressure_and_temperature_on_the_line_do_not_fix_the_state():
    dew = saturated("R134a", 300e3, 1.0)
    with pytest.raises(InputError, match="is saturated: .* give a quality or an enthalpy"):
        state_pT("R134a", 300e3, dew.temperature_K)


@pytest.mark.parametrize("quality", [-0.1, 1.1, float("nan")])
def test_impossible_quality(quality):
    with pytest.raises(InputError, match="must be from 0 to 1"):
        saturated("R134a", 300e3, quality)


def test_a_state_cannot_be_changed():
    with pytest.raises(AttributeError):
        saturated("R134a", 300e3, 1.0).pressure_Pa = 1.0
