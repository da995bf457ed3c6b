"""A first guess of the unknowns, so that Newton's iteration starts near the answer.

Scan the evaporating temperature downwards until the compressor takes no more than coil and
valves give; then the condenser's temperature follows from its heat.
"""

import math

from coldbench.refrigerant.loop import compressor
from coldbench.refrigerant.loop.balance import Problem, Vector
from coldbench.refrigerant.loop.condenser_air import air_pressure

_SCAN_STEP_K, _COLDEST_K = 3.0, 215.0
_WETNESS = 1.35  # total over sensible heat of the coil, about
_HEAT_SHARE = 1.2  # condenser heat over evaporator heat, about
_PLATEAU = (0.7, 1.2)  # shares of the right charge between empty and full receiver, about


def estimate(problem: Problem, at_trip: bool = False) -> Vector:
    """Return a rough solution.

    Parameters
    ----------
    problem : Problem
        Loop to be solved.
    at_trip : bool
        True for the state at the trip pressure.

    Returns
    -------
    tuple of 4 floats
        Unknowns as in `balance`.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.balance import make_problem
    >>> from coldbench.refrigerant.loop.conditions import Conditions
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> guess = estimate(make_problem(Conditions(), blue_parts()))
    >>> 0.02 < math.exp(guess[2]) < 0.04
    True
    """
    fluid, ambient = problem.fluid, problem.conditions.ambient_K
    right = problem.parts.right_charge_kg(problem.conditions.fluid)
    z = (problem.charge_kg / right - _PLATEAU[0]) / (_PLATEAU[1] - _PLATEAU[0])
    z = max(min(z, 1.5), 0.6 * z, -0.5)
    air = air_pressure(problem.parts.condenser, problem.effects.air_kg, ambient + 30.0, z)
    most = max(0.97 * problem.trip_Pa - air, 0.5 * problem.trip_Pa)
    hottest = max(fluid.saturation_temperature(most) - ambient, 1.0)
    high = fluid.saturation_pressure(ambient + (hottest if at_trip else min(15.0, hottest)))
    low, flow = _low_side(problem, high)
    latent = fluid.vapour_enthalpy_sat(low) - fluid.liquid_enthalpy_sat(high)
    face = problem.parts.condenser.airflow_kg_per_s * problem.condenser_airflow * 1006.0
    face = face * -math.expm1(-0.9 / problem.condenser_airflow**0.5)
    warmer = _HEAT_SHARE * flow * latent / (0.8 * face)
    warmer = hottest if at_trip else min(max(warmer, 0.05), hottest)
    return math.log(warmer), math.log(low), math.log(flow), z


def _low_side(problem: Problem, high: float) -> tuple[float, float]:
    """Evaporating pressure [Pa] and flow [kg/s] that compressor, coil and valves agree on."""
    fluid, air, parts = problem.fluid, problem.air, problem.parts
    coil = air.capacity_W_per_K * -math.expm1(-air.transfer_units) * _WETNESS
    tubes = parts.evaporator.boiling_transfer_W_per_K * problem.effects.evaporator_transfer_factor
    coil = coil * tubes / (coil + tubes)
    orifice = _orifice(problem)
    bubble, liquid = fluid.liquid_enthalpy_sat(high), fluid.liquid_density_sat(high)
    temperature = air.temperature_K - 6.0
    while True:
        low = fluid.saturation_pressure(temperature)
        flow = compressor.delivered_flow(
            parts.compressor, 0.97 * fluid.vapour_density_sat(low), max(high / low, 1.1),
            problem.speed_rpm, problem.effects.compressor_leak)
        given = coil * (air.temperature_K - temperature)
        needed = flow * (fluid.vapour_enthalpy_sat(low) - bubble)
        valves = orifice * math.sqrt(2.0 * liquid * max(high - low, 0.05 * high))
        if temperature <= _COLDEST_K or (needed <= given and flow <= valves):
            return low, min(flow, valves)
        temperature -= _SCAN_STEP_K


def _orifice(problem: Problem) -> float:
    """Flow area times coefficient of both valves in series, expansion valve wide open [m²]."""
    line, txv, effects = (problem.parts.liquid_line, problem.parts.expansion_valve,
                          problem.effects)
    first = line.discharge_coefficient * problem.liquid_area_m2
    opening = max(effects.txv_most_opening, txv.seat_leak_share)
    if effects.bulb_pressure_factor < 0.35:
        opening = txv.seat_leak_share
    second = txv.discharge_coefficient * txv.full_area_m2 * opening * effects.txv_inlet_area_factor
    return 1.0 / math.sqrt(1.0 / first**2 + 1.0 / second**2)
