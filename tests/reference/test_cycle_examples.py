"""Cycles against worked examples of textbooks; all R-134a, figures quoted from memory."""

import pytest

from coldbench.refrigerant.cycle import CycleParts, solve_cycle
from coldbench.refrigerant.properties import properties
from coldbench.refrigerant.state import state_ps, state_pT

R134A = properties("R134a")
# The books' tables put zero at saturated liquid of -40 degC, so only differences compare.


def test_ideal_cycle_of_cengel_and_boles():
    # Cengel and Boles, "Thermodynamics: An Engineering Approach", ideal vapour-compression
    # refrigeration cycle, 0.14 to 0.8 MPa, 0.05 kg/s: h1 239.16, h2 275.39, h3 95.47 kJ/kg;
    # 7.18 kW, 1.81 kW, COP 3.97 (from memory).
    cycle = solve_cycle("R134a", 140e3, 800e3, CycleParts(mass_flow_kg_s=0.05))
    assert cycle.refrigerating_effect_J_kg == pytest.approx(239.16e3 - 95.47e3, rel=1e-3)
    assert cycle.work_J_kg == pytest.approx(275.39e3 - 239.16e3, rel=1e-3)
    assert cycle.condenser_heat_J_kg == pytest.approx(275.39e3 - 95.47e3, rel=1e-3)
    assert cycle.capacity_W == pytest.approx(7180.0, rel=1e-3)
    assert cycle.power_W == pytest.approx(1810.0, rel=2e-3)
    assert cycle.cop == pytest.approx(3.97, abs=0.005)


def test_actual_cycle_of_cengel_and_boles():
    # The same book, actual cycle: compressor inlet 0.14 MPa, -10 degC, outlet 0.8 MPa, 50 degC,
    # liquid 0.72 MPa, 26 degC: 246.36, 286.69, 87.83 kJ/kg; 7.93 kW, 2.02 kW, isentropic
    # efficiency 0.94, COP 3.93 (from memory; the book takes the liquid as saturated at 26 degC).
    inlet, outlet = state_pT("R134a", 140e3, 263.15), state_pT("R134a", 800e3, 323.15)
    ideal = state_ps("R134a", 800e3, inlet.entropy_J_kgK)
    work = outlet.enthalpy_J_kg - inlet.enthalpy_J_kg
    efficiency = (ideal.enthalpy_J_kg - inlet.enthalpy_J_kg) / work
    assert efficiency == pytest.approx(0.94, abs=0.005)
    cycle = solve_cycle("R134a", 140e3, 720e3, CycleParts(
        mass_flow_kg_s=0.05, superheat_K=inlet.superheat_K, isentropic_efficiency=efficiency,
        subcooling_K=R134A.saturation_temperature(720e3) - 299.15, discharge_line_drop_Pa=80e3))
    assert cycle.discharge_temperature_K == pytest.approx(323.15, abs=1e-4)
    assert cycle.refrigerating_effect_J_kg == pytest.approx(246.36e3 - 87.83e3, rel=1e-3)
    assert cycle.work_J_kg == pytest.approx(286.69e3 - 246.36e3, rel=1e-3)
    assert cycle.capacity_W == pytest.approx(7930.0, rel=1e-3)
    assert cycle.power_W == pytest.approx(2020.0, rel=2e-3)
    assert cycle.cop == pytest.approx(3.93, abs=0.005)


@pytest.mark.parametrize(("evaporating_degC", "condenser_Pa", "efficiency", "liquid_degC", "cop",
                          "power_W"), [
    # Moran and Shapiro, "Fundamentals of Engineering Thermodynamics", vapour-compression
    # examples at 0.08 kg/s (from memory). Their tables use an older property formulation, so
    # COP is held to 0.5 % and power to 1 %, no enthalpy.
    (0.0, None, 1.0, None, 9.24, 1400.0),
    (-10.0, 9e5, 1.0, None, 4.57, 2480.0),
    (-10.0, 9e5, 0.8, 30.0, 3.86, 3100.0),
])
def test_examples_of_moran_and_shapiro(evaporating_degC, condenser_Pa, efficiency, liquid_degC,
                                       cop, power_W):
    pressure = R134A.saturation_pressure
    condenser_Pa = condenser_Pa or pressure(273.15 + 26.0)
    saturation_K = R134A.saturation_temperature(condenser_Pa)
    subcooling_K = 0.0 if liquid_degC is None else saturation_K - 273.15 - liquid_degC
    cycle = solve_cycle("R134a", pressure(273.15 + evaporating_degC), condenser_Pa, CycleParts(
        mass_flow_kg_s=0.08, isentropic_efficiency=efficiency, subcooling_K=subcooling_K))
    assert cycle.cop == pytest.approx(cop, rel=5e-3)
    assert cycle.power_W == pytest.approx(power_W, rel=1e-2)


def test_carnot_limit_of_moran_and_shapiro():
    # The same book: 0 and 26 degC give a largest COP of 10.5 (from memory).
    cycle = solve_cycle("R134a", R134A.saturation_pressure(273.15),
                        R134A.saturation_pressure(299.15), CycleParts(mass_flow_kg_s=0.08))
    assert cycle.carnot_cop == pytest.approx(10.5, abs=0.05)


def test_cycle_against_the_equation_of_state_itself():
    # CoolProp (Tillner-Roth and Baehr 1994), a real cycle computed without the tables.
    from CoolProp import CoolProp

    def ask(what, *given):
        return CoolProp.PropsSI(what, *given, "R134a")

    shift = 200e3 - ask("H", "T", 273.15, "Q", 0)
    cycle = solve_cycle("R134a", 280e3, 1.4e6, CycleParts(
        mass_flow_kg_s=0.03, superheat_K=7.0, subcooling_K=5.0, isentropic_efficiency=0.68,
        shell_loss_share=0.1, suction_line_drop_Pa=20e3, discharge_line_drop_Pa=30e3))
    h5 = ask("H", "P", 280e3, "T", ask("T", "P", 280e3, "Q", 1) + 7.0)
    h3 = ask("H", "P", 1.4e6, "T", ask("T", "P", 1.4e6, "Q", 0) - 5.0)
    work = (ask("H", "P", 1.43e6, "S", ask("S", "P", 260e3, "H", h5)) - h5) / 0.68
    assert cycle.work_J_kg == pytest.approx(work, abs=1.0)
    assert cycle.refrigerating_effect_J_kg == pytest.approx(h5 - h3, abs=1.0)
    assert cycle.condenser_outlet.enthalpy_J_kg == pytest.approx(h3 + shift, abs=1.0)
    assert cycle.discharge_temperature_K == pytest.approx(
        ask("T", "P", 1.43e6, "H", h5 + 0.9 * work), abs=2e-3)
