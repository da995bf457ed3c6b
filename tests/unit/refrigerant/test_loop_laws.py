"""Laws of the solved loop: mass, energy, second law, monotone answers, one answer only."""

import dataclasses

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldbench.air.moist import relative_humidity
from coldbench.errors import InputError
from coldbench.refrigerant.loop import Conditions, blue_parts, fault_kinds, solve_loop

FLUIDS = ("R134a", "R1234yf", "R152a")
quick = settings(max_examples=60, deadline=None, derandomize=True)

weather = {
    "fluid": st.sampled_from(FLUIDS),
    "ambient_K": st.floats(283.15, 318.15), "intake_K": st.floats(283.15, 318.15),
    "intake_humidity": st.floats(0.0, 1.0), "blower": st.floats(0.0, 1.0),
    "condenser_fan": st.sampled_from(("low", "high")), "speed_rpm": st.floats(600.0, 4500.0),
    "valve_angle_deg": st.floats(0.0, 90.0), "charge": st.floats(0.35, 1.3),
    "atmosphere_Pa": st.floats(70e3, 105e3),
}
settled = st.builds(Conditions, **weather)
faults = st.lists(st.tuples(st.sampled_from(sorted(set(fault_kinds()) - {
    "undercharge", "overcharge", "clutch-open"})), st.floats(0.0, 1.0)),
    max_size=2, unique_by=lambda f: f[0])


@quick
@given(settled, faults)
def test_mass_and_energy_close(conditions, wrong):
    got = solve_loop(conditions, faults=wrong)
    assert got.residuals.mass < 1e-7
    if "high-pressure trip" in got.flags:
        assert got.residuals.energy > 0.0
        return
    assert got.residuals.energy < 1e-7
    # the same from outside: heat and work in equal heat out, suction line by its states
    gained = got.mass_flow_kg_per_s * (got.states["compressor inlet"].enthalpy_J_kg
                                       - got.states["suction line"].enthalpy_J_kg)
    into = got.capacity_W + got.compressor_power_W + gained
    assert into == pytest.approx(got.condenser_heat_W + got.shell_loss_W, rel=1e-6)


@quick
@given(settled, faults)
def test_no_part_destroys_entropy(conditions, wrong):
    got = solve_loop(conditions, faults=wrong)
    m, ambient = got.mass_flow_kg_per_s, conditions.ambient_K
    at = got.states
    step = {name: state.entropy_J_kgK for name, state in at.items()}
    # compressor: its shell gives heat to air at ambient temperature
    assert (step["compressor outlet"] - step["compressor inlet"]
            + got.shell_loss_W / m / ambient) > -1e-6
    assert step["after hand valve"] >= step["liquid line"] - 1e-6
    assert step["evaporator inlet"] >= step["after hand valve"] - 1e-6
    # condenser and discharge line: heat to the air, which is colder
    lost = at["compressor outlet"].enthalpy_J_kg - at["liquid line"].enthalpy_J_kg
    assert step["liquid line"] - step["compressor outlet"] + lost / ambient > -1e-3
    # evaporator: heat from air that is nowhere warmer than at the intake
    if got.capacity_W > 0.0:
        taken = at["suction line"].enthalpy_J_kg - at["evaporator inlet"].enthalpy_J_kg
        made = step["suction line"] - step["evaporator inlet"] - taken / conditions.intake_K
        assert made > -1e-3


@quick
@given(settled, faults)
def test_readings_agree_with_each_other(conditions, wrong):
    got = solve_loop(conditions, faults=wrong)
    assert got.discharge_Pa >= got.high_side_Pa >= got.after_valve_Pa
    assert got.after_valve_Pa >= got.evaporator_inlet_Pa >= got.low_side_Pa
    assert got.low_side_Pa >= got.compressor_inlet_Pa
    assert got.suction_temperature_K == pytest.approx(
        got.evaporating_temperature_K + got.superheat_K, abs=1e-6)
    assert 0.0 <= got.receiver_level <= 1.0 and 0.0 <= got.coil_wetted_share <= 1.0
    assert got.condensate_kg_per_s >= 0.0 and got.vent_humidity_ratio >= 0.0
    assert relative_humidity(got.vent_temperature_K, got.vent_humidity_ratio,
                             conditions.atmosphere_Pa) < 1.0 + 1e-6
    assert got.mass_flow_kg_per_s > 0.0 and got.compressor_power_W > 0.0


@quick
@given(settled, faults, st.tuples(*[st.floats(-0.5, 0.5)] * 4))
def test_the_start_never_changes_the_answer(conditions, wrong, shift):
    first = solve_loop(conditions, faults=wrong)
    start = tuple(a + b for a, b in zip(first.unknowns, shift, strict=True))
    again = solve_loop(conditions, faults=wrong, start=start)
    assert again.high_side_Pa == pytest.approx(first.high_side_Pa, rel=1e-6)
    assert again.low_side_Pa == pytest.approx(first.low_side_Pa, rel=1e-6)
    assert again.flags == first.flags


@quick
@given(st.sampled_from(FLUIDS), st.floats(288.0, 308.0), st.floats(0.1, 0.9),
       st.floats(800.0, 3000.0))
def test_capacity_falls_and_the_high_side_rises_with_ambient(fluid, intake_K, humidity, speed):
    got = [solve_loop(Conditions(fluid=fluid, ambient_K=T, intake_K=intake_K, speed_rpm=speed,
                                 intake_humidity=humidity))
           for T in (293.15, 298.15, 303.15, 308.15, 313.15)]
    capacities = [r.capacity_W for r in got]
    highs = [r.high_side_Pa for r in got]
    assert capacities == sorted(capacities, reverse=True) and highs == sorted(highs)


@quick
@given(st.sampled_from(FLUIDS), st.floats(288.0, 313.0), st.floats(288.0, 308.0),
       st.floats(0.75, 1.1))
def test_closing_the_hand_valve_is_monotone(fluid, ambient_K, intake_K, charge):
    got = [solve_loop(Conditions(fluid=fluid, ambient_K=ambient_K, intake_K=intake_K,
                                 charge=charge, valve_angle_deg=a))
           for a in (0.0, 30.0, 50.0, 65.0, 75.0, 82.0, 90.0)]
    for name in ("mass_flow_kg_per_s", "low_side_Pa", "high_side_Pa", "capacity_W"):
        values = [getattr(r, name) for r in got]
        assert all(b <= a * (1.0 + 1e-6) for a, b in zip(values, values[1:], strict=False)), name


@quick
@given(st.sampled_from(FLUIDS), st.floats(288.0, 313.0), st.lists(
    st.floats(0.25, 1.4), min_size=2, max_size=2, unique=True).map(sorted))
def test_more_charge_never_means_less_liquid(fluid, ambient_K, charges):
    less, more = (solve_loop(Conditions(fluid=fluid, ambient_K=ambient_K, charge=c))
                  for c in charges)
    assert more.unknowns[3] >= less.unknowns[3] - 1e-9
    assert more.receiver_level >= less.receiver_level - 1e-9


def test_inputs_and_results_cannot_be_changed():
    conditions = Conditions()
    result = solve_loop(conditions, faults=["overcharge=0.5"])
    for frozen, name in ((conditions, "charge"), (result, "cop"), (result.faults[0], "severity"),
                         (blue_parts(), "charge_kg"), (blue_parts().condenser, "volume_m3")):
        with pytest.raises(dataclasses.FrozenInstanceError):
            setattr(frozen, name, 0.0)
    assert isinstance(result.flags, tuple) and isinstance(result.faults, tuple)


@given(st.floats(0.0, 1.0))
def test_severity_0_is_healthy_and_grows_from_there(severity):
    for kind in fault_kinds().values():
        healthy, worst, here = kind.value(0.0), kind.value(1.0), kind.value(severity)
        assert min(healthy, worst) - 1e-12 <= here <= max(healthy, worst) + 1e-12
        assert worst == pytest.approx(kind.at_full)


def test_a_fault_without_severity_is_no_fault():
    healthy = solve_loop()
    for name in fault_kinds():
        got = solve_loop(faults=[(name, 0.0)])
        assert got.high_side_Pa == pytest.approx(healthy.high_side_Pa, rel=1e-7)


def test_a_loop_outside_its_charge_is_refused():
    with pytest.raises(InputError, match="charge 40 % with these faults makes 12 %"):
        solve_loop(Conditions(charge=0.4), faults=["undercharge=1"])
