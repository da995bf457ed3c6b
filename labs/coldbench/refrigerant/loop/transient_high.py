"""High side while it is not steady: condenser and receiver with their own mass.

Zones and relations are those of `condenser`; the charge coordinate z follows from the mass in
the high side, and heat that the air cannot take raises the pressure.
"""

import math
from typing import NamedTuple

from coldbench.refrigerant.loop import condenser, condenser_air
from coldbench.refrigerant.loop.balance import Problem
from coldbench.refrigerant.loop.transient_flow import Delivery
from coldbench.refrigerant.loop.transient_parts import Stores
from coldbench.refrigerant.loop.transient_store import Store, root

LEAST_Z, MOST_Z = -1.0, 1.98
_LEAST_FLOW_SHARE = 1e-4  # of the reference flow, so that outlets exist at rest
_CLOSE = 1e-7
_FULL_DIFFERENCE_K = 0.5
_LEAST_DIFFERENCE_K = 1e-3  # to the air, for zones whose share it divides


class HighSide(NamedTuple):
    """Zones and heat of the high side (SI)."""

    z: float
    outlet: condenser.Outlet
    heat_W: float  # to the air
    energy_W: float  # net, with the flows


class Pass(NamedTuple):
    """Condenser before its charge coordinate is known."""

    sat: condenser.Saturated
    high_Pa: float
    gas: Delivery
    air: condenser_air.CondenserAir
    hot_air: condenser_air.CondenserAir
    liquid_air: condenser_air.CondenserAir
    liquid_flow: float


def saturated_at(problem: Problem, pressure_Pa: float) -> condenser.Saturated:
    """Return the saturated phases at a pressure.

    Parameters
    ----------
    problem : Problem
        Loop.
    pressure_Pa : float
        Pressure of the refrigerant [Pa].

    Returns
    -------
    condenser.Saturated

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> round(saturated_at(example()[0].problem, 1.16e6).temperature_K)
    318
    """
    f, p = problem.fluid, pressure_Pa
    return condenser.Saturated(p, f.saturation_temperature(p), f.liquid_enthalpy_sat(p),
                               f.vapour_enthalpy_sat(p), f.liquid_density_sat(p),
                               f.vapour_density_sat(p))


def condenser_pass(problem: Problem, stores: Stores, sat: condenser.Saturated, air_Pa: float,
                   gas: Delivery, valve_flow: float) -> Pass:
    """Return the condenser's air side at the flows of this moment.

    Parameters
    ----------
    problem : Problem
        Loop.
    stores : Stores
        What heat transfer keeps at rest.
    sat : condenser.Saturated
        Phases.
    air_Pa : float
        Partial pressure of air [Pa].
    gas : Delivery
        Gas that enters.
    valve_flow : float
        Flow that leaves [kg/s].

    Returns
    -------
    Pass

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example, moment
    >>> inputs, state, _ = example()
    >>> 0.3 < moment(inputs, state).high.z < 0.8
    True
    """
    c, parts = problem.conditions, problem.parts
    reference, high_Pa = parts.limits.reference_flow_kg_per_s, sat.pressure_Pa + air_Pa

    coldest = min(c.ambient_K, sat.temperature_K - _LEAST_DIFFERENCE_K)

    def air(flow: float) -> condenser_air.CondenserAir:
        return condenser_air.condenser_air(
            parts.condenser, problem.condenser_airflow, c.ambient_K, c.atmosphere_Pa,
            max(flow, stores.still_flow_share * reference), reference, air_Pa / high_Pa,
            problem.effects.condenser_transfer_factor)

    over_pass = air(gas.mass_flow)
    return Pass(sat, high_Pa, gas, over_pass, over_pass._replace(temperature_K=coldest),
                air(valve_flow)._replace(temperature_K=coldest),
                max(valve_flow, _LEAST_FLOW_SHARE * reference))


def charge_coordinate(problem: Problem, at: Pass, mass_kg: float) -> float:
    """Return z, so that condenser, receiver and hot line hold this mass.

    Parameters
    ----------
    problem : Problem
        Loop.
    at : Pass
        Condenser.
    mass_kg : float
        Mass without that of the liquid line [kg].

    Returns
    -------
    float
        From −1 to 1.98.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example, moment
    >>> inputs, state, _ = example()
    >>> fuller = state._replace(high_side_kg=state.high_side_kg + 0.05)
    >>> moment(inputs, fuller).high.z > moment(inputs, state).high.z
    True
    """
    parts = problem.parts
    hot = _hot_share(problem, at, 0.0)
    held = mass_kg - parts.compressor.discharge_volume_m3 * at.gas.density

    def short(z: float) -> float:
        outlet = _outlet(problem, at, z)
        return condenser.condenser_mass(parts.condenser, at.sat, outlet, z, hot,
                                        at.gas.density) - held

    if (empty := short(0.0)) >= 0.0:
        return root(short, LEAST_Z, 0.0, _CLOSE)
    span = parts.condenser.receiver_volume_m3 * (at.sat.liquid_density - at.sat.vapour_density)
    return -empty / span if empty + span >= 0.0 else root(short, 1.0, MOST_Z, _CLOSE)


def _outlet(problem: Problem, at: Pass, z: float) -> condenser.Outlet:
    # liquid's enthalpy rises a little with pressure: near the air's temperature that would look
    # like cooling below it, so the pressure of trapped air counts only as far as liquid can cool
    counted = min((at.sat.temperature_K - at.liquid_air.temperature_K) / _FULL_DIFFERENCE_K, 1.0)
    pressure = at.sat.pressure_Pa + counted * (at.high_Pa - at.sat.pressure_Pa)
    return condenser.condenser_outlet(problem.parts.condenser, problem.fluid, at.sat, pressure,
                                      at.liquid_air, at.liquid_flow, z)


def _hot_share(problem: Problem, at: Pass, z: float) -> float:
    end = condenser.pass_outlet(problem.fluid, at.sat, z)
    return condenser.desuperheating_share(end, at.hot_air, at.gas.mass_flow, at.gas.enthalpy,
                                          at.gas.temperature_K)


def high_side(problem: Problem, stores: Stores, at: Pass, z: float, store: Store,
              valve_flow: float, back_enthalpy: float) -> HighSide:
    """Return what the air takes and what the refrigerant keeps.

    Parameters
    ----------
    problem : Problem
        Loop.
    stores : Stores
        What heat transfer keeps at rest.
    at : Pass
        Condenser.
    z : float
        Charge coordinate.
    store : Store
        Refrigerant of the high side as a whole.
    valve_flow : float
        Flow out [kg/s].
    back_enthalpy : float
        Of what comes back if the flow is negative [J/kg].

    Returns
    -------
    HighSide

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example, moment
    >>> inputs, state, _ = example()
    >>> 4e3 < moment(inputs, state).high.heat_W < 6e3
    True
    """
    sat, air, gas = at.sat, at.air, at.gas
    room = condenser.available_share(problem.parts.condenser, z)
    hot = min(_hot_share(problem, at, z), room)
    reference = problem.parts.limits.reference_flow_kg_per_s
    still = math.exp(-gas.mass_flow / (stores.still_flow_share * reference))
    # gas that stands still is as warm as the energy in it says
    inside = sat.temperature_K + still * (store.temperature_K - sat.temperature_K)
    outlet = _outlet(problem, at, z)
    leaving = max(valve_flow, 0.0)
    heat = (_desuperheating_W(at, hot, room)
            + air.condensing_W_per_K * (inside - air.temperature_K) * (room - hot)
            + leaving * outlet.heat_J_per_kg)
    energy = (gas.mass_flow * gas.enthalpy - leaving * outlet.enthalpy_J_per_kg
              - min(valve_flow, 0.0) * back_enthalpy - heat)
    return HighSide(z, outlet, heat, energy)


def _desuperheating_W(at: Pass, hot: float, room: float) -> float:
    """Heat of the hot gas [W]; where it fills the whole pass, as much as that can take."""
    excess = at.gas.enthalpy - at.sat.vapour_enthalpy
    hotter = at.gas.temperature_K - at.sat.temperature_K
    if hot <= 0.0 or excess <= 0.0 or hotter <= 0.0:
        return max(excess, 0.0) * at.gas.mass_flow
    capacity = at.gas.mass_flow * excess / hotter
    if hot < room:
        return at.gas.mass_flow * excess
    taken = -math.expm1(-room * at.hot_air.desuperheating_W_per_K / capacity)
    return capacity * (at.gas.temperature_K - at.hot_air.temperature_K) * taken
