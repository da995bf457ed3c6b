"""The cycle keeps energy and the second law, and refuses what cannot be."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.errors import InputError
from coldbench.refrigerant.build_property_tables import LOOP_FLUIDS
from coldbench.refrigerant.cycle import CycleParts, mass_flow, solve_cycle
from coldbench.refrigerant.properties import properties

# Entropy is read from float32 nodes of about 1e-4 J/(kg K); a process cannot be judged finer.
ROUNDING_J_kgK = 1e-3


@st.composite
def cycles(draw):
    """A cycle as a vehicle might run it, with real parts."""
    known = properties(draw(st.sampled_from(LOOP_FLUIDS)))
    evaporating_Pa = known.saturation_pressure(draw(st.floats(250.0, 290.0)))
    condensing_K = draw(st.floats(300.0, 345.0))
    parts = CycleParts(
        superheat_K=draw(st.floats(0.0, 25.0)), subcooling_K=draw(st.floats(0.0, 8.0)),
        isentropic_efficiency=draw(st.floats(0.5, 1.0)), mass_flow_kg_s=0.03,
        shell_loss_share=draw(st.floats(0.0, 0.5)),
        suction_line_drop_Pa=draw(st.floats(0.0, 0.2)) * evaporating_Pa,
        discharge_line_drop_Pa=draw(st.floats(0.0, 8e4)),
        liquid_line_drop_Pa=draw(st.floats(0.0, 8e4)),
        evaporator_drop_Pa=draw(st.floats(0.0, 3e4)))
    return solve_cycle(known.name, evaporating_Pa, known.saturation_pressure(condensing_K), parts)


@settings(max_examples=200)
@given(cycles())
def test_energy_is_kept(cycle):
    assert abs(cycle.energy_residual_W) < 1e-6
    assert cycle.capacity_W > 0.0 and cycle.power_W > 0.0
    assert cycle.condenser_heat_W == pytest.approx(
        cycle.capacity_W + cycle.power_W - cycle.mass_flow_kg_s * cycle.shell_heat_J_kg)


@settings(max_examples=200)
@given(cycles())
def test_no_process_destroys_entropy(cycle):
    made = cycle.entropy_generation_J_kgK
    assert min(made.values()) > -ROUNDING_J_kgK
    # The whole cycle makes what its surroundings gain: the refrigerant comes back to its state.
    out = (cycle.condenser_heat_J_kg + cycle.shell_heat_J_kg) / cycle.sink_temperature_K
    taken = cycle.refrigerating_effect_J_kg / cycle.source_temperature_K
    assert sum(made.values()) == pytest.approx(out - taken, abs=1e-9)


@settings(max_examples=200)
@given(cycles())
def test_never_better_than_carnot(cycle):
    assert cycle.cop < cycle.carnot_cop * (1.0 + 1e-6)


@settings(max_examples=100)
@given(cycles())
def test_pressure_falls_along_the_flow_and_lines_keep_the_enthalpy(cycle):
    pressures = [point.pressure_Pa for point in cycle.points[1:]] + [
        cycle.compressor_inlet.pressure_Pa]
    assert pressures == sorted(pressures, reverse=True)
    assert cycle.valve_inlet.enthalpy_J_kg == cycle.condenser_outlet.enthalpy_J_kg
    assert cycle.evaporator_inlet.enthalpy_J_kg == cycle.condenser_outlet.enthalpy_J_kg
    assert cycle.compressor_inlet.enthalpy_J_kg == cycle.evaporator_outlet.enthalpy_J_kg
    assert cycle.evaporator_outlet.superheat_K == pytest.approx(cycle.parts.superheat_K, abs=2e-5)
    assert cycle.condenser_outlet.subcooling_K == pytest.approx(cycle.parts.subcooling_K,
                                                                abs=2e-5)


@given(st.floats(0.5, 0.95), st.floats(0.001, 0.05))
def test_a_worse_compressor_takes_more_power_and_gets_hotter(efficiency, worse):
    good, bad = (solve_cycle("R134a", 250e3, 1.2e6, CycleParts(
        superheat_K=6.0, isentropic_efficiency=e, mass_flow_kg_s=0.03))
        for e in (efficiency, efficiency - worse))
    assert bad.power_W > good.power_W and bad.capacity_W == good.capacity_W
    assert bad.discharge_temperature_K > good.discharge_temperature_K


@given(st.floats(0.0, 30.0), st.floats(0.1, 5.0))
def test_subcooling_adds_capacity_at_no_power(subcooling, more):
    less, much = (solve_cycle("R1234yf", 300e3, 1.4e6, CycleParts(
        subcooling_K=K, mass_flow_kg_s=0.03)) for K in (subcooling, subcooling + more))
    assert much.capacity_W > less.capacity_W and much.power_W == less.power_W


def test_flash_gas_shows_at_the_valve():
    cycle = solve_cycle("R134a", 250e3, 1.2e6, CycleParts(
        subcooling_K=1.0, liquid_line_drop_Pa=2e5, mass_flow_kg_s=0.03))
    assert cycle.condenser_outlet.region == "subcooled liquid"
    assert cycle.valve_inlet.region == "wet vapour"


def test_mass_flow_is_swept():
    parts = CycleParts(displacement_m3=1.2e-4, speed_rev_s=25.0, volumetric_efficiency=0.7)
    cycle = solve_cycle("R134a", 250e3, 1.2e6, parts)
    assert cycle.mass_flow_kg_s == pytest.approx(
        0.7 * 1.2e-4 * 25.0 * cycle.compressor_inlet.density_kg_m3)
    assert cycle.mass_flow_kg_s == mass_flow(parts, cycle.compressor_inlet.density_kg_m3)


def test_air_temperatures_count_the_exchange_of_heat():
    without = CycleParts(mass_flow_kg_s=0.03)
    given_air = CycleParts(mass_flow_kg_s=0.03, source_temperature_K=298.15,
                           sink_temperature_K=305.15)
    small, large = (solve_cycle("R134a", 250e3, 1.2e6, p) for p in (without, given_air))
    for process in ("condenser", "evaporator"):
        assert (large.entropy_generation_J_kgK[process]
                > small.entropy_generation_J_kgK[process] + 1.0)
    assert large.cop == small.cop < large.carnot_cop


def test_a_source_warmer_than_the_sink_has_no_limit():
    cycle = solve_cycle("R134a", 250e3, 1.2e6, CycleParts(
        mass_flow_kg_s=0.03, source_temperature_K=318.0, sink_temperature_K=310.0))
    assert cycle.carnot_cop == float("inf")


FLOW = {"mass_flow_kg_s": 0.03}


@pytest.mark.parametrize(("evaporator_Pa", "condenser_Pa", "parts", "words"), [
    (1.2e6, 1.2e6, FLOW, "condenser at 1200 kPa must be above the evaporator at 1200 kPa"),
    (1.3e6, 1.2e6, FLOW, "must be above"),
    (float("nan"), 1.2e6, FLOW, "must be above"),
    (1e3, 1.2e6, FLOW, "outside the tables"),
    (250e3, 5e6, FLOW, "outside the tables"),
    (250e3, 1.2e6, {**FLOW, "suction_line_drop_Pa": 250e3}, "cannot drop more than the 250 kPa"),
    (250e3, 1.2e6, {**FLOW, "suction_line_drop_Pa": 247e3}, "outside the tables"),
    (250e3, 1.2e6, {**FLOW, "liquid_line_drop_Pa": 950e3}, "nothing would flow"),
    (250e3, 1.2e6, {**FLOW, "evaporator_drop_Pa": 950e3}, "nothing would flow"),
    (250e3, 1.2e6, {**FLOW, "subcooling_K": 60.0}, "would cool the liquid to -13.7 degC, below"),
    (250e3, 1.2e6, {**FLOW, "subcooling_K": 150.0}, "outside the tables of subcooled liquid"),
    (250e3, 1.2e6, {**FLOW, "sink_temperature_K": 330.0}, "no heat would flow out"),
    (250e3, 1.2e6, {**FLOW, "source_temperature_K": 260.0}, "no heat would flow in"),
])
def test_impossible_cycles_are_refused(evaporator_Pa, condenser_Pa, parts, words):
    with pytest.raises(InputError) as caught:
        solve_cycle("R134a", evaporator_Pa, condenser_Pa, CycleParts(**parts))
    assert words in str(caught.value)


@pytest.mark.parametrize(("parts", "words"), [
    ({}, "give either mass_flow_kg_s, or displacement_m3 and speed_rev_s"),
    ({**FLOW, "speed_rev_s": 20.0}, "give either"),
    ({"speed_rev_s": 20.0}, "give either"),
    ({"displacement_m3": 1e-4}, "give either"),
    ({**FLOW, "displacement_m3": 1e-4, "speed_rev_s": 20.0}, "give either"),
    ({"mass_flow_kg_s": 0.0}, "mass_flow_kg_s = 0.0 is not accepted: above 0 to 10"),
    ({**FLOW, "superheat_K": -1.0}, "superheat_K = -1.0 is not accepted: 0 to 150"),
    ({**FLOW, "subcooling_K": float("nan")}, "subcooling_K = nan"),
    ({**FLOW, "isentropic_efficiency": 0.0}, "isentropic_efficiency = 0.0"),
    ({**FLOW, "isentropic_efficiency": 1.2}, "above 0 to 1"),
    ({**FLOW, "volumetric_efficiency": True}, "volumetric_efficiency = True"),
    ({**FLOW, "shell_loss_share": 0.6}, "shell_loss_share = 0.6 is not accepted: 0 to 0.5"),
    ({**FLOW, "shell_loss_share": None}, "shell_loss_share = None"),
    ({**FLOW, "superheat_K": "5 K"}, "superheat_K = '5 K'"),
])
def test_parts_outside_their_range_are_refused(parts, words):
    with pytest.raises(InputError) as caught:
        CycleParts(**parts)
    assert words in str(caught.value)


def test_other_fluids_are_refused():
    with pytest.raises(InputError, match="R-744 has no property tables"):
        solve_cycle("R744", 3e6, 6e6, CycleParts(**FLOW))
