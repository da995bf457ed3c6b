"""One pass around the loop: from four unknowns to four residuals, everything else explicit.

Unknowns x: ln(T_cond − T_ambient), ln p_evaporator, ln ṁ, and the charge coordinate z of
`condenser`. Residuals, all relative: compressor flow, valve flow, condenser area, charge. In
logarithms all but the last are nearly straight lines, which is what makes Newton's iteration
reliable here.
"""

import math
from dataclasses import dataclass
from typing import NamedTuple

from coldbench.errors import InputError
from coldbench.refrigerant.loop import (
    compressor,
    condenser,
    condenser_air,
    evaporator,
    hot_gas,
    valve,
)
from coldbench.refrigerant.loop.charge import flowing_density
from coldbench.refrigerant.loop.conditions import Conditions
from coldbench.refrigerant.loop.faults import HEALTHY, Effects
from coldbench.refrigerant.loop.parts import LoopParts
from coldbench.refrigerant.properties import Properties, properties

LEAST_CHARGE, MOST_CHARGE = 0.2, 1.5
_LEAST_SHARE = 1e-6  # of the condenser's face, so that its logarithm exists
_LEAST_DROP = 0.02  # of the high pressure: below it the available drop fades out smoothly

Vector = tuple[float, float, float, float]


@dataclass(frozen=True)
class Problem:
    """A loop to be solved: settings, parts, what is wrong, and what follows from them."""

    conditions: Conditions
    parts: LoopParts
    effects: Effects
    fluid: Properties
    air: evaporator.CoilAir
    charge_kg: float
    speed_rpm: float
    condenser_airflow: float
    liquid_area_m2: float
    trip_Pa: float


class Point(NamedTuple):
    """Everything known at one vector of unknowns (SI)."""

    x: Vector
    residuals: Vector
    mass_flow: float
    condensing: condenser.Saturated
    air_Pa: float
    high_Pa: float
    cooling: condenser_air.CondenserAir
    liquid: condenser.Outlet
    after_valve_Pa: float
    txv_density: float
    txv_area_m2: float
    evaporator_Pa: float
    coil: evaporator.Coil
    bulb_K: float
    suction_Pa: float
    suction_enthalpy: float
    discharge_Pa: float
    gas: compressor.Discharge
    gas_K: float
    gas_density: float
    pass_end: condenser.PassOutlet
    delivered_flow: float
    desuperheating_share: float
    condensing_share: float
    charge_kg: float


def make_problem(conditions: Conditions, parts: LoopParts, effects: Effects = HEALTHY) -> Problem:
    """Gather what does not change while a loop is solved.

    Parameters
    ----------
    conditions : Conditions
        Settings.
    parts : LoopParts
        Sizes.
    effects : Effects
        What the faults change.

    Returns
    -------
    Problem

    Raises
    ------
    InputError
        If charge and faults together leave less or more refrigerant than the model covers.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> make_problem(Conditions(charge=1.1), blue_parts()).charge_kg > 0.6
    True
    """
    c = conditions
    share = c.charge * effects.charge_factor
    if not LEAST_CHARGE - 1e-9 <= share <= MOST_CHARGE + 1e-9:
        raise InputError(
            f"charge {c.charge * 100:g} % with these faults makes {share * 100:.3g} % of the right "
            f"charge, which is outside {LEAST_CHARGE * 100:g} to {MOST_CHARGE * 100:g} %")
    air = evaporator.coil_air(parts.evaporator, c.intake_K, c.intake_humidity, c.atmosphere_Pa,
                              c.blower, effects.evaporator_airflow_factor)
    return Problem(
        conditions=c, parts=parts, effects=effects, fluid=properties(c.fluid), air=air,
        charge_kg=share * parts.right_charge_kg(c.fluid),
        speed_rpm=c.speed_rpm * effects.speed_factor,
        condenser_airflow=condenser_air.faulted_airflow(c.condenser_airflow, effects),
        liquid_area_m2=valve.hand_valve_area(parts.liquid_line, c.valve_angle_deg,
                                             effects.liquid_line_area_factor),
        trip_Pa=parts.limits.high_pressure_trip_gauge_Pa + c.atmosphere_Pa)


def evaluate(problem: Problem, x: Vector) -> Point:
    """Walk once around the loop.

    Parameters
    ----------
    problem : Problem
        Loop to be solved.
    x : tuple of 4 floats
        ln((T_cond − T_ambient)/K), ln(p_evaporator/Pa), ln(ṁ/(kg/s)), z.

    Returns
    -------
    Point
        With its residuals; all four 0 at the solution.

    Raises
    ------
    InputError
        Where a state leaves the property tables.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> problem = make_problem(Conditions(), blue_parts())
    >>> point = evaluate(problem, (2.6, 12.57, -3.58, 0.6))
    >>> [round(r) for r in point.residuals]
    [0, 0, 0, 0]
    """
    c, parts, fluid, effects = problem.conditions, problem.parts, problem.fluid, problem.effects
    reference = parts.limits.reference_flow_kg_per_s
    m, p_e, z = math.exp(x[2]), math.exp(x[1]), x[3]
    sat = condenser.saturated(fluid, c.ambient_K + math.exp(x[0]))
    air_Pa = condenser_air.air_pressure(parts.condenser, effects.air_kg, sat.temperature_K, z)
    high_Pa = sat.pressure_Pa + air_Pa
    cooling = condenser_air.condenser_air(
        parts.condenser, problem.condenser_airflow, c.ambient_K, c.atmosphere_Pa, m, reference,
        air_Pa / high_Pa, effects.condenser_transfer_factor)
    liquid = condenser.condenser_outlet(parts.condenser, fluid, sat, high_Pa, cooling, m, z)
    h = liquid.enthalpy_J_per_kg
    coil = evaporator.coil(parts.evaporator, fluid, problem.air, p_e, m, h, reference,
                           effects.evaporator_transfer_factor)
    liquid_density = fluid.density(high_Pa, h)
    needed_drop, after_Pa, txv_density, area, bulb_K = _valves(problem, m, p_e, high_Pa, h, coil,
                                                               liquid_density)
    suction_Pa, suction_h = _suction(problem, m, p_e, coil)
    relative = m / reference
    drop = parts.compressor.discharge_drop_Pa * relative * relative
    discharge_Pa = high_Pa + drop
    suction_K = fluid.temperature(suction_Pa, suction_h)
    delivered = compressor.delivered_flow(
        parts.compressor, hot_gas.gas_density(fluid, suction_Pa, suction_h, suction_K),
        discharge_Pa / suction_Pa, problem.speed_rpm, effects.compressor_leak)
    gas = compressor.discharge(
        parts.compressor, fluid, suction_Pa, suction_h,
        hot_gas.gas_entropy(fluid, suction_Pa, suction_h, suction_K), discharge_Pa, m,
        c.ambient_K, effects.compressor_leak)
    gas_h = gas.enthalpy_J_per_kg
    gas_K = hot_gas.gas_temperature(fluid, discharge_Pa, gas_h)
    gas_density = hot_gas.gas_density(fluid, discharge_Pa, gas_h, gas_K)
    end = condenser.pass_outlet(fluid, sat, z)
    hot = condenser.desuperheating_share(end, cooling, m, gas_h, gas_K)
    wet = condenser.condensing_share(sat, cooling, m, gas_h, z)
    mass = condenser.condenser_mass(parts.condenser, sat, liquid, z, hot, gas_density)
    mass += _line_mass(problem, high_Pa, h, liquid_density, p_e, coil, gas_density)
    residuals = (
        math.log(delivered) - x[2],
        0.5 * math.log(_available_drop(high_Pa, coil.inlet_Pa) / needed_drop),
        math.log(max(hot + wet, _LEAST_SHARE) / condenser.available_share(parts.condenser, z)),
        mass / problem.charge_kg - 1.0)
    return Point(x, residuals, m, sat, air_Pa, high_Pa, cooling, liquid, after_Pa, txv_density,
                 area, p_e, coil, bulb_K, suction_Pa, suction_h, discharge_Pa, gas, gas_K,
                 gas_density, end, delivered, hot, wet, mass)


def _valves(problem: Problem, m: float, p_e: float, high_Pa: float, h: float,
            coil: evaporator.Coil, liquid_density: float) -> tuple[float, ...]:
    """Pressure both valves need, pressure and density between them, area and bulb of the TXV."""
    parts, fluid = problem.parts, problem.fluid
    first = valve.orifice_drop(m, problem.liquid_area_m2, liquid_density,
                               parts.liquid_line.discharge_coefficient)
    after_Pa = max(high_Pa - first, coil.inlet_Pa)
    density = fluid.density(after_Pa, h)
    contact = problem.effects.bulb_contact
    bulb_K = contact * coil.outlet_K + (1.0 - contact) * problem.conditions.ambient_K
    area = valve.expansion_valve_area(parts.expansion_valve, fluid, bulb_K, p_e, problem.effects)
    second = valve.orifice_drop(m, area, density, parts.expansion_valve.discharge_coefficient)
    return first + second, after_Pa, density, area, bulb_K


def _available_drop(high_Pa: float, low_Pa: float) -> float:
    """Pressure difference over both valves; fades towards 0 instead of going negative."""
    drop, least = high_Pa - low_Pa, _LEAST_DROP * high_Pa
    return drop if drop > least else least * math.exp(drop / least - 1.0)


def _suction(problem: Problem, m: float, p_e: float, coil: evaporator.Coil) -> tuple[float, float]:
    """State at the compressor's suction port: pressure [Pa], enthalpy [J/kg]."""
    parts, fluid = problem.parts, problem.fluid
    relative = m / parts.limits.reference_flow_kg_per_s
    drop = (parts.suction_line.drop_Pa * problem.effects.suction_drop_factor * relative * relative
            * evaporator.REFERENCE_DENSITY / coil.outlet_density)
    # the gas thins out on its way, so the pressure stays above 0 however large the drop
    pressure = p_e / (1.0 + drop / p_e)
    gain = evaporator.suction_gain(parts.suction_line.heat_gain_W_per_K, fluid, p_e,
                                   coil.outlet_enthalpy, coil.outlet_K,
                                   problem.conditions.ambient_K, m)
    return pressure, coil.outlet_enthalpy + gain


def _line_mass(problem: Problem, high_Pa: float, h: float, liquid_density: float, p_e: float,
               coil: evaporator.Coil, gas_density: float) -> float:
    """Mass in evaporator and lines [kg]."""
    parts, fluid = problem.parts, problem.fluid
    return (evaporator.coil_mass(parts.evaporator, fluid, p_e, coil)
            + parts.liquid_line.volume_m3 * flowing_density(fluid, high_Pa, h, liquid_density)
            + parts.suction_line.volume_m3 * flowing_density(
                fluid, p_e, coil.outlet_enthalpy, coil.outlet_density)
            + parts.compressor.discharge_volume_m3 * gas_density)
