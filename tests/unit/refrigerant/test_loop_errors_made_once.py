"""Errors made once in working out this loop; each keeps its test."""

import dataclasses
import math
import runpy
from pathlib import Path

import pytest

from coldbench.refrigerant.loop import Conditions, blue_parts, solve_loop
from coldbench.refrigerant.loop.balance import evaluate, make_problem
from coldbench.refrigerant.loop.compressor import discharge
from coldbench.refrigerant.loop.condenser import CondenserAir, PassOutlet, desuperheating_share
from coldbench.refrigerant.loop.faults import effects
from coldbench.refrigerant.properties import properties

coolprop_properties = runpy.run_path(
    str(Path(__file__).parents[2] / "reference" / "coolprop_properties.py"))["coolprop_properties"]
AIR = CondenserAir(303.15, 600.0, 300.0, 400.0, 300.0)


@pytest.mark.parametrize("hot_K", [360.0, 380.0, 400.0])
def test_the_hot_zone_uses_the_mean_heat_capacity_not_that_at_saturation(hot_K):
    fluid = properties("R134a")
    p = fluid.saturation_pressure(333.15)
    dew, gas = fluid.vapour_enthalpy_sat(p), fluid.vapour_enthalpy(p, hot_K)
    share = desuperheating_share(PassOutlet(333.15, dew), AIR, 0.03, gas, hot_K)
    # small slices of the face, each with the true enthalpy curve
    fine, temperatures = 0.0, [333.15 + (hot_K - 333.15) * i / 400 for i in range(401)]
    for cool, warm in zip(temperatures, temperatures[1:], strict=False):
        heat = 0.03 * (fluid.vapour_enthalpy(p, warm)
                       - (fluid.vapour_enthalpy(p, cool) if cool > 333.15 else dew))
        fine += heat / (AIR.desuperheating_W_per_K * (0.5 * (cool + warm) - 303.15))
    assert share == pytest.approx(fine, rel=0.06)
    at_saturation = (fluid.vapour_enthalpy(p, 333.25) - dew) / 0.1
    wrong = (0.03 * at_saturation / AIR.desuperheating_W_per_K
             * math.log((hot_K - 303.15) / (333.15 - 303.15)))
    assert wrong > 1.08 * share  # what the error would have given


@pytest.mark.parametrize("fluid", ["R134a", "R1234yf", "R152a"])
@pytest.mark.parametrize("ambient_K", [288.15, 303.15, 318.15])
def test_the_charge_rises_with_its_coordinate_through_all_regimes(fluid, ambient_K):
    problem = make_problem(Conditions(fluid=fluid, ambient_K=ambient_K), blue_parts())
    low = math.log(problem.fluid.saturation_pressure(275.0))
    steps = [-1.9 + 0.02 * i for i in range(195)]
    masses = [evaluate(problem, (math.log(15.0), low, math.log(0.025), z)).charge_kg
              for z in steps]
    assert all(b > a for a, b in zip(masses, masses[1:], strict=False))


@pytest.mark.parametrize("valve_angle_deg", [0.0, 75.0, 90.0])
@pytest.mark.parametrize("fluid", ["R134a", "R1234yf", "R152a"])
@pytest.mark.parametrize("fault", [(), ("txv-stuck-closed=0.7",), ("compressor-worn=0.7",)])
def test_discharge_temperatures_hold_with_coolprop_itself(fluid, fault, valve_angle_deg):
    conditions = Conditions(fluid=fluid, valve_angle_deg=valve_angle_deg)
    result = solve_loop(conditions, faults=fault)
    problem = make_problem(conditions, blue_parts(), effects(fault))
    plain = dataclasses.replace(problem, fluid=coolprop_properties(fluid))
    point = evaluate(plain, result.unknowns)
    # CoolProp 8 (independent of the shipped tables, same equations of state)
    assert result.discharge_temperature_K == pytest.approx(point.gas_K, abs=0.3)
    assert max(map(abs, point.residuals)) < 1e-3
    assert result.capacity_W == pytest.approx(point.coil.heat_W, rel=1e-4)


def test_the_shell_takes_no_fixed_share_of_the_work():
    """In a pumped-down loop the gas has time to cool: a fixed share would leave it far too hot."""
    compressor, fluid = blue_parts().compressor, properties("R134a")
    h = fluid.vapour_enthalpy(40e3, 300.0)
    out = [discharge(compressor, fluid, 40e3, h, fluid.entropy(40e3, h), 8e5, m, 303.15)
           for m in (0.0003, 0.003, 0.03)]
    shares = [o.shell_loss_J_per_kg / o.work_J_per_kg for o in out]
    assert shares[0] > 0.8 > 0.3 > shares[2] and shares == sorted(shares, reverse=True)
    temperatures = [fluid.temperature(8e5, o.enthalpy_J_per_kg) for o in out]
    assert temperatures[0] < 320.0 and temperatures[2] - temperatures[0] > 60.0
    dew = fluid.vapour_enthalpy_sat(8e5)
    assert all(o.enthalpy_J_per_kg >= dew for o in out)


def test_the_last_iterate_of_a_failed_search_never_escapes(monkeypatch):
    from coldbench.errors import ConvergenceError
    from coldbench.refrigerant.loop import newton

    stuck = newton.Iterate((2.5, 12.5, -3.5, 0.5), (0.1, 0.2, -0.1, 0.3), False)
    monkeypatch.setattr(newton, "solve", lambda *_: stuck)
    with pytest.raises(ConvergenceError, match=r"the search ended with residuals 0\.1, 0\.2"):
        solve_loop()


def test_a_trip_is_certified_by_a_condenser_that_is_too_small():
    conditions = Conditions(condenser_fan="off")
    result = solve_loop(conditions)
    assert "high-pressure trip" in result.flags
    point = evaluate(make_problem(conditions, blue_parts()), result.unknowns)
    compressor, valves, area, charge = point.residuals
    assert max(abs(compressor), abs(valves), abs(charge)) < 1e-7
    assert area > 0.0 and result.residuals.energy > 0.0


def test_of_several_steady_states_the_one_a_cool_start_reaches_is_given():
    # with the fan off this bench has three steady states; only the lowest is reached
    conditions = Conditions(
        fluid="R1234yf", ambient_K=306.694, intake_K=281.494, intake_humidity=0.88, blower=0.0,
        condenser_fan="off", speed_rpm=2987.0, charge=0.43)
    plain = solve_loop(conditions)
    hot = solve_loop(conditions, start=(3.748, 12.19, -3.769, -0.607))
    assert plain.high_side_Pa == pytest.approx(hot.high_side_Pa, rel=1e-6)
    assert "high-pressure trip" not in plain.flags
