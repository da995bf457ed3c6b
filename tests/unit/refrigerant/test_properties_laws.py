"""Laws that the fast properties keep, and what they refuse."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import LOOP_FLUIDS
from coldbench.refrigerant.properties import Properties, properties

names = st.sampled_from(LOOP_FLUIDS)
shares = st.floats(0.0, 1.0)


def pressure(known: Properties, share: float) -> float:
    """Pressure within the tables, evenly in ln p [Pa]."""
    low, high = known.pressure_range_Pa
    return min(max(low * (high / low) ** share, low), high)


def hot(known: Properties, p: float, share: float) -> float:
    """Temperature between saturation and the hottest vapour [K]."""
    saturation_K = known.saturation_temperature(p)
    return saturation_K + share * (known.temperature_range_K[1] - saturation_K)


def cold(known: Properties, p: float, share: float) -> float:
    """Temperature between saturation and the coldest liquid [K]."""
    saturation_K = known.saturation_temperature(p)
    return saturation_K - share * (saturation_K - known.temperature_range_K[0])


@given(names, shares, shares)
def test_vapour_round_trips(name, p_share, T_share):
    known = properties(name)
    p = pressure(known, p_share)
    T = hot(known, p, T_share)
    h, s = known.vapour_enthalpy(p, T), known.vapour_entropy(p, T)
    assert known.vapour_temperature(p, h) == pytest.approx(T, abs=1e-6)
    assert known.temperature(p, h) == pytest.approx(T, abs=1e-6)
    assert known.vapour_enthalpy_ps(p, s) == pytest.approx(h, abs=1e-3)
    assert known.density(p, h) == pytest.approx(known.vapour_density(p, T), rel=1e-8)


@given(names, shares, shares)
def test_liquid_round_trips(name, p_share, T_share):
    known = properties(name)
    p = pressure(known, p_share)
    T = cold(known, p, T_share)
    h, s = known.liquid_enthalpy(p, T), known.liquid_entropy(p, T)
    assert known.liquid_temperature(p, h) == pytest.approx(T, abs=1e-6)
    assert known.temperature(p, h) == pytest.approx(T, abs=1e-6)
    assert known.enthalpy_ps(p, s) == pytest.approx(h, abs=1e-3)
    assert known.density(p, h) == pytest.approx(known.liquid_density(p, T), rel=1e-8)


@given(names, shares)
def test_saturation_round_trips(name, p_share):
    known = properties(name)
    p = pressure(known, p_share)
    T = known.saturation_temperature(p)
    low, high = known.pressure_range_Pa
    if low * 1.000001 < p < high * 0.999999:
        assert known.saturation_pressure(T) == pytest.approx(p, rel=1e-9)


@given(names, shares, shares)
def test_wet_region_is_a_lever(name, p_share, quality):
    known = properties(name)
    p = pressure(known, p_share)
    bubble, dew = known.liquid_enthalpy_sat(p), known.vapour_enthalpy_sat(p)
    h = bubble + quality * (dew - bubble)
    assert known.quality(p, h) == pytest.approx(quality, abs=1e-9)
    assert known.temperature(p, h) == pytest.approx(known.saturation_temperature(p), abs=1e-6)
    volume = quality / known.vapour_density_sat(p) + (1 - quality) / known.liquid_density_sat(p)
    assert known.density(p, h) * volume == pytest.approx(1.0, rel=1e-7)
    assert known.enthalpy_ps(p, known.entropy(p, h)) == pytest.approx(h, abs=1e-3)


@given(names, shares)
def test_phases_meet_the_saturation_lines(name, p_share):
    known = properties(name)
    p = pressure(known, p_share)
    T = known.saturation_temperature(p)
    assert known.vapour_enthalpy(p, T) == pytest.approx(known.vapour_enthalpy_sat(p), abs=1e-4)
    assert known.liquid_enthalpy(p, T) == pytest.approx(known.liquid_enthalpy_sat(p), abs=1e-4)
    assert known.vapour_density(p, T) == pytest.approx(known.vapour_density_sat(p), rel=1e-9)
    assert known.liquid_density(p, T) == pytest.approx(known.liquid_density_sat(p), rel=1e-9)
    assert known.vapour_entropy(p, T) == pytest.approx(known.vapour_entropy_sat(p), abs=1e-6)
    assert known.liquid_entropy(p, T) == pytest.approx(known.liquid_entropy_sat(p), abs=1e-6)


@given(names, shares, shares, st.floats(1e-4, 0.2))
def test_hotter_means_more_enthalpy_and_entropy_and_less_density(name, p_share, T_share, more):
    known = properties(name)
    p = pressure(known, p_share)
    T = hot(known, p, T_share * (1 - more)), hot(known, p, T_share * (1 - more) + more)
    assert known.vapour_enthalpy(p, T[0]) < known.vapour_enthalpy(p, T[1])
    assert known.vapour_entropy(p, T[0]) < known.vapour_entropy(p, T[1])
    assert known.vapour_density(p, T[0]) > known.vapour_density(p, T[1])
    T = cold(known, p, T_share * (1 - more)), cold(known, p, T_share * (1 - more) + more)
    assert known.liquid_enthalpy(p, T[0]) > known.liquid_enthalpy(p, T[1])
    assert known.liquid_entropy(p, T[0]) > known.liquid_entropy(p, T[1])
    assert known.liquid_density(p, T[0]) < known.liquid_density(p, T[1])


@given(names, shares, st.floats(0.01, 0.99))
def test_enthalpy_and_entropy_belong_together(name, p_share, T_share):
    # Gibbs at constant pressure: dh = T ds. The tables hold h and s apart.
    known = properties(name)
    p = pressure(known, 0.97 * p_share)
    for side, enthalpy, entropy in ((hot, known.vapour_enthalpy, known.vapour_entropy),
                                    (cold, known.liquid_enthalpy, known.liquid_entropy)):
        T = side(known, p, T_share)
        rise_h = enthalpy(p, T + 0.01) - enthalpy(p, T - 0.01)
        rise_s = entropy(p, T + 0.01) - entropy(p, T - 0.01)
        assert rise_h / rise_s == pytest.approx(T, rel=2e-3)


@pytest.mark.parametrize("name", LOOP_FLUIDS)
def test_first_derivatives_are_continuous_across_the_nodes(name):
    known = properties(name)
    start, step, d = known.stamp["start"], known.stamp["step"], 1e-6
    for node in range(3, 170, 7):
        p = math.exp(start + node * step)
        if not p * 1.2 < known.pressure_range_Pa[1]:
            continue
        T = known.saturation_temperature(p) + 12.0
        for function in (known.saturation_temperature, known.vapour_enthalpy_sat,
                         lambda x: known.vapour_enthalpy(x, T),
                         lambda x: known.vapour_temperature(x, known.vapour_enthalpy(p, T))):
            before = (function(p) - function(p * (1 - d))) / d
            after = (function(p * (1 + d)) - function(p)) / d
            assert before == pytest.approx(after, rel=1e-4, abs=1e-2)


@pytest.mark.parametrize("name", LOOP_FLUIDS)
def test_reference_state(name):
    # IIR: saturated liquid at 0 degC has 200 kJ/kg and 1 kJ/(kg K).
    known = properties(name)
    p = known.saturation_pressure(273.15)
    assert known.liquid_enthalpy_sat(p) == pytest.approx(200e3, abs=0.2)
    assert known.liquid_entropy_sat(p) == pytest.approx(1000.0, abs=1e-3)


@pytest.mark.parametrize(("method", "arguments", "words"), [
    ("saturation_temperature", (4e3,), "accepted 5 to 3856.3 kPa"),
    ("saturation_temperature", (4e6,), "outside the tables"),
    ("saturation_temperature", (math.nan,), "outside the tables"),
    ("saturation_pressure", (math.nan,), "has no saturation"),
    ("saturation_pressure", (500.0,), "has no saturation at 500 K"),
    ("saturation_pressure", (171.0,), "outside the tables"),
    ("vapour_enthalpy", (1e6, 300.0), "outside the tables of superheated vapour"),
    ("vapour_enthalpy", (1e6, 481.0), "312.54 to 480.00 K"),
    ("vapour_enthalpy", (1e6, math.nan), "superheated vapour"),
    ("vapour_density", (1e6, math.inf), "superheated vapour"),
    ("liquid_enthalpy", (1e6, 320.0), "outside the tables of subcooled liquid"),
    ("liquid_density", (1e6, 169.0), "170.00 to 312.54 K"),
    ("temperature", (1e6, 9e5), "enthalpy 900000 is outside"),
    ("temperature", (1e6, 0.0), "subcooled liquid"),
    ("temperature", (1e6, math.nan), "enthalpy nan"),
    ("density", (1e6, math.nan), "enthalpy nan"),
    ("entropy", (1e6, math.nan), "enthalpy nan"),
    ("enthalpy_ps", (1e6, 0.0), "subcooled liquid"),
    ("liquid_temperature", (1e6, 400e3), "subcooled liquid"),
    ("vapour_temperature", (1e6, 300e3), "superheated vapour"),
    ("vapour_enthalpy_ps", (1e6, 1000.0), "is liquid; vapour starts at"),
    ("vapour_enthalpy_ps", (1e6, math.nan), "is liquid"),
    ("vapour_enthalpy_ps", (1e6, 3000.0), "entropy 3000 is outside"),
])
def test_states_outside_the_tables_are_refused(method, arguments, words):
    with pytest.raises(InputError) as caught:
        getattr(properties("R134a"), method)(*arguments)
    assert words in str(caught.value) and "R-134a" in str(caught.value)


@pytest.mark.parametrize(("name", "words"), [
    ("R22", "R-22 has no property tables; accepted: R-134a, R-1234yf, R-152a"),
    ("R999", "no refrigerant 'R999'"),
])
def test_other_fluids_are_refused(name, words):
    with pytest.raises(InputError, match=words):
        properties(name)


def test_every_spelling_gives_the_same_object():
    assert properties("R-134a") is properties("hfc 134a") is properties("R134a")
