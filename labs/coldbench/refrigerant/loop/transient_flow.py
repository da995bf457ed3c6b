"""Flows that compressor and valves let pass at given pressures, before they agree.

The relations are those of the steady loop; here each is solved for its own flow.
"""

import math
from typing import NamedTuple

from coldbench.refrigerant.loop import balance, compressor, evaporator, hot_gas, valve
from coldbench.refrigerant.loop.balance import Problem
from coldbench.refrigerant.loop.transient_store import root
from coldbench.refrigerant.properties import Properties

_ROUNDING_Pa = 3.0e3  # below about this difference an orifice's flow becomes laminar
_NO_FLASHING = 0.002  # liquid's density between the valves changes by less
_CLOSE, _VERY_CLOSE = 1e-3, 1e-8  # a last secant leaves some millionths of the flow
_MOST_SECANTS, _MOST_GUESS = 8, 10.0
_TABLE_SHARE = 0.999  # of the highest pressure in the property tables


class Delivery(NamedTuple):
    """What the compressor delivers (SI); no flow where it stands still."""

    mass_flow: float
    suction_Pa: float
    suction_enthalpy: float
    discharge_Pa: float
    enthalpy: float
    temperature_K: float
    density: float
    work_J_per_kg: float


class ValveFlow(NamedTuple):
    """Flow through both valves (SI), negative where it runs backwards."""

    mass_flow: float
    after_valve_Pa: float
    liquid_density: float
    area_m2: float


def standing(problem: Problem, condensing_Pa: float, evaporator_Pa: float,
             coil: evaporator.Coil) -> Delivery:
    """Return the compressor at a standstill, saturated vapour behind it.

    Parameters
    ----------
    problem : Problem
        Loop.
    condensing_Pa, evaporator_Pa : float
        Pressures [Pa].
    coil : evaporator.Coil
        Gas before the compressor.

    Returns
    -------
    Delivery

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, coil = example()
    >>> standing(inputs.problem, 1e6, 3e5, coil).mass_flow
    0.0
    """
    fluid = problem.fluid
    return Delivery(0.0, evaporator_Pa, coil.outlet_enthalpy, condensing_Pa,
                    fluid.vapour_enthalpy_sat(condensing_Pa),
                    fluid.saturation_temperature(condensing_Pa),
                    fluid.vapour_density_sat(condensing_Pa), 0.0)


def delivery(problem: Problem, high_Pa: float, evaporator_Pa: float,
             coil: evaporator.Coil) -> Delivery:
    """Return flow and discharge state of the running compressor.

    Parameters
    ----------
    problem : Problem
        Loop.
    high_Pa, evaporator_Pa : float
        Pressures at condenser and coil outlet [Pa].
    coil : evaporator.Coil
        Gas that leaves the coil.

    Returns
    -------
    Delivery

    Raises
    ------
    InputError
        If a state is outside the property tables.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, coil = example()
    >>> 0.02 < delivery(inputs.problem, 1.1e6, 2.9e5, coil).mass_flow < 0.04
    True
    """
    fluid, parts, effects = problem.fluid, problem.parts, problem.effects
    lowest = fluid.pressure_range_Pa[0]
    full_drop = parts.compressor.discharge_drop_Pa / parts.limits.reference_flow_kg_per_s**2

    def flow(m: float) -> float:
        suction_Pa, h = balance._suction(problem, m, evaporator_Pa, coil)
        if suction_Pa < lowest:
            return 0.0
        density = fluid.density(suction_Pa, h)
        return compressor.delivered_flow(
            parts.compressor, density, (high_Pa + full_drop * m * m) / suction_Pa,
            problem.speed_rpm, effects.compressor_leak)

    m = _own_flow(flow, parts.limits.reference_flow_kg_per_s)
    suction_Pa, h = balance._suction(problem, m, evaporator_Pa, coil)
    entropy = hot_gas.gas_entropy(fluid, suction_Pa, h, fluid.temperature(suction_Pa, h))
    # a start when hot would for a moment pass more than the tables hold: the drop stops there
    out_Pa = max(min(high_Pa + full_drop * m * m, _TABLE_SHARE * fluid.pressure_range_Pa[1]),
                 high_Pa)
    gas = compressor.discharge(parts.compressor, fluid, suction_Pa, h, entropy, out_Pa, m,
                               problem.conditions.ambient_K, effects.compressor_leak)
    gas_h = gas.enthalpy_J_per_kg
    gas_K = hot_gas.gas_temperature(fluid, out_Pa, gas_h)
    return Delivery(m, suction_Pa, h, out_Pa, gas_h, gas_K,
                    hot_gas.gas_density(fluid, out_Pa, gas_h, gas_K), gas.work_J_per_kg)


def _own_flow(flow, first: float) -> float:
    """Flow m with flow(m) = m: along secants, as flow is nearly straight; if not, by bracketing."""
    before, excess_before = first, flow(first) - first
    m = before + excess_before
    for _ in range(_MOST_SECANTS):
        if not 0.0 < m < _MOST_GUESS * first:
            break
        excess = flow(m) - m
        slope = (excess - excess_before) / (m - before) if m != before else -1.0
        if slope >= 0.0:
            break
        before, excess_before, m = m, excess, m - excess / slope
        if abs(excess) < _CLOSE * before and m > 0.0:
            return m
    most = 2.0 * max(before, first)
    while flow(most) > most:
        most *= 2.0
    return root(lambda m: 1.0 - flow(m) / m, 1e-9, most, _VERY_CLOSE)


def valve_flow(problem: Problem, high_Pa: float, low_Pa: float, evaporator_Pa: float,
               bulb_K: float, enthalpy: float) -> ValveFlow:
    """Return the flow through hand valve and expansion valve in series.

    Parameters
    ----------
    problem : Problem
        Loop.
    high_Pa, low_Pa : float
        Total pressures before the valves and at the inlet of the coil [Pa].
    evaporator_Pa : float
        Pressure of the refrigerant in the coil [Pa].
    bulb_K : float
        Temperature of the bulb [K].
    enthalpy : float
        Of the liquid line [J/kg].

    Returns
    -------
    ValveFlow

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> problem = example()[0].problem
    >>> forward = valve_flow(problem, 1.1e6, 2.9e5, 2.9e5, 280.0, 250e3).mass_flow
    >>> 0.0 < forward, valve_flow(problem, 2.8e5, 2.9e5, 2.9e5, 280.0, 250e3).mass_flow < 0.0
    (True, True)
    """
    fluid, parts = problem.fluid, problem.parts
    area = valve.expansion_valve_area(parts.expansion_valve, fluid, bulb_K, evaporator_Pa,
                                      problem.effects)
    vapour = fluid.vapour_density_sat(evaporator_Pa)
    line, txv = (valve.orifice_drop(1.0, a, 1.0, p.discharge_coefficient) for a, p in (
        (problem.liquid_area_m2, parts.liquid_line), (area, parts.expansion_valve)))
    drop, density = high_Pa - low_Pa, fluid.density(high_Pa, enthalpy)
    rounded = (drop * drop / (drop * drop + _ROUNDING_Pa**2)) ** 0.25
    if drop <= 0.0:
        return ValveFlow(-math.sqrt(-drop / (line + txv) * vapour) * rounded, high_Pa, density,
                         area)
    after = _between(fluid, high_Pa, low_Pa, enthalpy, line / density, txv)
    return ValveFlow(rounded * math.sqrt((high_Pa - after) * density / line), after, density, area)


def _between(fluid: Properties, high_Pa: float, low_Pa: float, enthalpy: float, first: float,
             txv: float) -> float:
    """Pressure between the valves, at which both let the same flow pass [Pa]."""
    drop = high_Pa - low_Pa
    density = fluid.density(high_Pa, enthalpy)
    after = high_Pa - drop * first / (first + txv / density)
    there = fluid.density(after, enthalpy)
    if abs(there / density - 1.0) < _NO_FLASHING:
        return high_Pa - drop * first / (first + txv / there)

    def excess(p: float) -> float:
        second = txv / fluid.density(p, enthalpy)
        return math.sqrt((p - low_Pa) / second) / math.sqrt((high_Pa - p) / first) - 1.0

    return root(excess, low_Pa, high_Pa - 1e-9 * drop, _VERY_CLOSE)
