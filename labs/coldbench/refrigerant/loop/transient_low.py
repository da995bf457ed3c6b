"""Low side while it is not steady: evaporator and suction line with their own mass.

Coil relations are those of `evaporator`; but how much of the coil is wet follows from the mass
of refrigerant in it, and its surface is a store of heat. A coordinate y runs through both
regimes: up to 1 it is the wetted share, beyond 1 the coil is wet throughout and vapour of
quality 1 − (y − 1) leaves it.
"""

import math
from typing import NamedTuple

from coldbench.air.moist import HEAT_OF_EVAPORATION_J_kg, humidity_ratio
from coldbench.refrigerant.loop import evaporator
from coldbench.refrigerant.loop.balance import Problem
from coldbench.refrigerant.loop.charge import flowing_density, two_phase_density
from coldbench.refrigerant.loop.hot_gas import gas_density, gas_temperature
from coldbench.refrigerant.loop.transient_parts import Stores
from coldbench.refrigerant.loop.transient_store import Store, root

_LEAST_OUTLET_QUALITY = 0.3  # a fuller coil keeps its liquid instead of giving more
_LEAST_FLOW_SHARE = 1e-4  # of the reference flow, so that outlets exist at rest
_LEAST_DIFFERENCE_K = 0.01  # air warmer than the boiling refrigerant, else vapour stays saturated
_DRY_SHARE = 0.01  # wetted share below which a resting coil counts as dry


class LowSide(NamedTuple):
    """Heat and outlet of the low side (SI)."""

    outlet_enthalpy: float  # the gas makes for this
    heat_W: float  # from coil to refrigerant
    energy_W: float  # net, with the flows
    surface_K_per_s: float
    sensible_W: float  # from the air
    condensate_kg_per_s: float


def coil_now(problem: Problem, evaporator_Pa: float, mass_kg: float, outlet_enthalpy: float,
             surface_K: float, inlet_enthalpy: float) -> evaporator.Coil:
    """Return the coil as it stands, its wetted share from the mass in the low side.

    Parameters
    ----------
    problem : Problem
        Loop.
    evaporator_Pa, mass_kg : float
        Pressure [Pa] and mass [kg] in the low side.
    outlet_enthalpy, surface_K : float
        Gas that leaves [J/kg], surface [K].
    inlet_enthalpy : float
        Of what enters [J/kg].

    Returns
    -------
    evaporator.Coil
        Without pressure drop, see `with_drop`, and heat, see `low_side`.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, state, coil = example()
    >>> 0.85 < coil.wetted_share < 0.95
    True
    """
    fluid, parts = problem.fluid, problem.parts
    vapour = fluid.vapour_density_sat(evaporator_Pa)
    liquid = fluid.liquid_density_sat(evaporator_Pa)
    outlet_K = gas_temperature(fluid, evaporator_Pa, outlet_enthalpy)
    outlet_density = gas_density(fluid, evaporator_Pa, outlet_enthalpy, outlet_K)
    first = min(max(fluid.quality(evaporator_Pa, inlet_enthalpy), 0.0), 1.0)
    in_coil = mass_kg - parts.suction_line.volume_m3 * flowing_density(
        fluid, evaporator_Pa, outlet_enthalpy, outlet_density)
    mean = in_coil / parts.evaporator.volume_m3
    wet, quality = _wetness(mean, first, vapour, liquid, 0.5 * (vapour + outlet_density))
    return evaporator.Coil(evaporator_Pa, fluid.saturation_temperature(evaporator_Pa), surface_K,
                           wet, first, outlet_enthalpy, outlet_K, outlet_density, quality, 0.0,
                           0.0, 0.0)


def with_drop(problem: Problem, coil: evaporator.Coil, suction_flow: float) -> evaporator.Coil:
    """Return the coil with the pressure drop that the vapour leaving it makes.

    Parameters
    ----------
    problem : Problem
        Loop.
    coil : evaporator.Coil
        Without drop.
    suction_flow : float
        Flow [kg/s].

    Returns
    -------
    evaporator.Coil

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example
    >>> inputs, _, coil = example()
    >>> round((with_drop(inputs.problem, coil, 0.03).inlet_Pa - coil.inlet_Pa) / 1e3)
    23
    """
    fluid, parts = problem.fluid, problem.parts
    relative = suction_flow / parts.limits.reference_flow_kg_per_s
    drop = (parts.evaporator.drop_Pa * relative * relative * evaporator.REFERENCE_DENSITY
            / fluid.vapour_density_sat(coil.inlet_Pa))
    boiling = fluid.saturation_temperature(coil.inlet_Pa + 0.5 * drop)
    return coil._replace(inlet_Pa=coil.inlet_Pa + drop, boiling_K=boiling)


def _wetness(mean: float, first: float, vapour: float, liquid: float,
             gas: float) -> tuple[float, float]:
    """Wetted share and outlet quality of a coil of this mean density."""
    full = two_phase_density(first, 1.0, vapour, liquid)
    if mean <= full:
        return min(max((mean - gas) / (full - gas), 0.0), 1.0), 1.0
    least = max(first, _LEAST_OUTLET_QUALITY)
    dryness = root(lambda x: 1.0 - two_phase_density(first, x, vapour, liquid) / mean,
                   min(least, 1.0), 1.0, 1e-7)
    return 1.0, dryness


def low_side(problem: Problem, stores: Stores, air: evaporator.CoilAir, evaporator_Pa: float,
             coil: evaporator.Coil, store: Store, valve_flow: float, suction_flow: float,
             inlet_enthalpy: float) -> LowSide:
    """Return heat to refrigerant and surface, and what the outlet makes for.

    Parameters
    ----------
    problem : Problem
        Loop.
    stores : Stores
        Metal.
    air : evaporator.CoilAir
        Air onto the coil.
    evaporator_Pa : float
        Pressure [Pa].
    coil : evaporator.Coil
        The coil as it stands.
    store : Store
        Refrigerant of the low side as a whole.
    valve_flow, suction_flow : float
        In and out [kg/s].
    inlet_enthalpy : float
        Of what enters [J/kg].

    Returns
    -------
    LowSide

    Examples
    --------
    >>> from coldbench.refrigerant.loop.transient_balance import example, moment
    >>> inputs, state, _ = example()
    >>> 3e3 < moment(inputs, state).low.heat_W < 5e3
    True
    """
    parts, fluid = problem.parts, problem.fluid
    reference = parts.limits.reference_flow_kg_per_s
    relative = max(0.5 * (max(valve_flow, 0.0) + suction_flow) / reference,
                   stores.still_flow_share)
    still = math.exp(-suction_flow / (stores.still_flow_share * reference))
    wet = coil.wetted_share
    dry_rest = still * max(1.0 - wet / _DRY_SHARE, 0.0)
    tubes = (parts.evaporator.boiling_transfer_W_per_K * relative**0.3
             * problem.effects.evaporator_transfer_factor * (1.0 - dry_rest))
    boiling_W = tubes * (coil.surface_K - coil.boiling_K)
    aim, vapour_W = _outlet(problem, air, evaporator_Pa, coil, suction_flow,
                            max(suction_flow / reference, _LEAST_FLOW_SHARE))
    dry_W, water = surface_heat(air, coil.surface_K)
    standing_W = (stores.still_gas_W_per_K * dry_rest
                  * (coil.surface_K - store.temperature_K))
    back = valve_flow if valve_flow < 0.0 else 0.0
    entering = valve_flow if valve_flow > 0.0 else 0.0
    energy = (entering * inlet_enthalpy + back * fluid.vapour_enthalpy_sat(evaporator_Pa)
              - suction_flow * aim + wet * boiling_W + vapour_W + standing_W)
    surface = (dry_W + water * HEAT_OF_EVAPORATION_J_kg - boiling_W - standing_W)
    return LowSide(aim, wet * boiling_W + vapour_W, energy,
                   surface / stores.evaporator_metal_J_per_K, wet * dry_W + vapour_W, wet * water)


def surface_heat(air: evaporator.CoilAir, surface_K: float) -> tuple[float, float]:
    """Return what air gives to a wholly wetted coil of a surface temperature.

    C ε (T_air − T_s) and ṁ ε (W − W_sat(T_s)), the latter never below 0.

    Parameters
    ----------
    air : evaporator.CoilAir
        Air onto the coil.
    surface_K : float
        Surface [K].

    Returns
    -------
    tuple of 2 floats
        Sensible heat [W], water [kg/s].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> air = evaporator.coil_air(blue_parts().evaporator, 300.15, 0.5, 101325.0, 1.0)
    >>> [round(v, 5) for v in surface_heat(air, 300.15)]
    [0.0, 0.0]
    """
    effectiveness = -math.expm1(-air.transfer_units)
    taken = air.humidity_ratio - humidity_ratio(surface_K, 1.0, air.pressure_Pa)
    return (air.capacity_W_per_K * effectiveness * (air.temperature_K - surface_K),
            max(taken, 0.0) * air.dry_flow_kg_per_s * effectiveness)


def _outlet(problem: Problem, air: evaporator.CoilAir, evaporator_Pa: float,
            coil: evaporator.Coil, suction_flow: float, relative: float) -> tuple[float, float]:
    """Enthalpy behind the coil at this flow [J/kg], heat to the vapour [W]."""
    fluid, parts = problem.fluid, problem.parts
    dew, bubble = (fluid.vapour_enthalpy_sat(evaporator_Pa),
                   fluid.liquid_enthalpy_sat(evaporator_Pa))
    if coil.outlet_quality < 1.0:
        return bubble + coil.outlet_quality * (dew - bubble), 0.0
    if air.temperature_K < fluid.saturation_temperature(evaporator_Pa) + _LEAST_DIFFERENCE_K:
        return dew, 0.0
    flow = relative * parts.limits.reference_flow_kg_per_s
    # as if vapour entered: the share it finds is then the one given
    _, enthalpy, _, _, _ = evaporator._superheated_outlet(
        parts.evaporator, fluid, air, evaporator_Pa, flow, dew - 1.0, dew, bubble,
        flow / max(coil.wetted_share, 1e-9), relative)
    return enthalpy, suction_flow * (enthalpy - dew)
