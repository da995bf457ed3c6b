"""Evaporator in moist air: one surface temperature, wetted share, superheating rest, condensate.

The wetted share of the coil boils refrigerant at one temperature; its surface temperature is
the root of (heat the air gives up = heat the tubes take), sensible and latent with a Lewis
number of 1. What is left of the coil superheats the vapour. Sources: bypass-factor model of a
cooling coil, as in ASHRAE texts (common practice).

Validity: the air leaves on the straight line from its inlet to the surface. Where it enters
humid and meets a cold coil, that line runs above saturation; the fog that forms is taken to stay
at the coil with the other condensate, and its heat warms the air (`leaving_air`). Ice counts as
water.
"""

import math
from typing import NamedTuple

from coldbench.air.moist import humidity_ratio
from coldbench.errors import ConvergenceError
from coldbench.refrigerant.loop.charge import two_phase_density
from coldbench.refrigerant.loop.condenser_air import AIR_GAS_CONSTANT, AIR_HEAT_CAPACITY
from coldbench.refrigerant.loop.hot_gas import gas_density
from coldbench.refrigerant.loop.parts import EvaporatorParts
from coldbench.refrigerant.properties import Properties

_VAPOUR_HEAT_CAPACITY = 1860.0  # J/(kg K), water vapour
_LATENT_J_PER_KG = 2.501e6  # water, at 0 °C
_LEAST_SUPERHEAT_K = 0.01  # where the air is not warmer than boiling refrigerant
REFERENCE_DENSITY = 14.0  # kg/m³, of the pressure drops
FREEZING_K = 273.15


class CoilAir(NamedTuple):
    """Air onto the coil (SI; flow of dry air)."""

    temperature_K: float
    humidity_ratio: float
    pressure_Pa: float
    dry_flow_kg_per_s: float
    capacity_W_per_K: float
    transfer_units: float


class LeavingAir(NamedTuple):
    """Air behind the coil, and what the coil took from it (SI)."""

    temperature_K: float
    humidity_ratio: float
    sensible_W: float
    condensate_kg_per_s: float


class Coil(NamedTuple):
    """Solution of the coil for given refrigerant flow and pressure (SI)."""

    inlet_Pa: float
    boiling_K: float
    surface_K: float
    wetted_share: float
    inlet_quality: float
    outlet_enthalpy: float
    outlet_K: float
    outlet_density: float
    outlet_quality: float
    heat_W: float
    sensible_W: float
    condensate_kg_per_s: float


def coil_air(parts: EvaporatorParts, temperature_K: float, humidity: float, pressure_Pa: float,
             blower: float, airflow_factor: float = 1.0) -> CoilAir:
    """Return the air that meets the coil.

    Parameters
    ----------
    parts : EvaporatorParts
        Sizes.
    temperature_K, humidity, pressure_Pa : float
        State of the air: temperature [K], relative humidity 0 to 1, pressure [Pa].
    blower : float
        Setting, 0 to 1.
    airflow_factor : float
        Factor on the airflow (clogged filter).

    Returns
    -------
    CoilAir

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> air = coil_air(blue_parts().evaporator, 300.15, 0.5, 101325.0, 1.0)
    >>> round(air.dry_flow_kg_per_s, 3), round(air.humidity_ratio, 4)
    (0.162, 0.0111)
    """
    ratio = humidity_ratio(temperature_K, humidity, pressure_Pa)
    least = parts.least_airflow_share
    share = max((least + (1.0 - least) * blower) * airflow_factor, least * 0.5)
    density = pressure_Pa / (AIR_GAS_CONSTANT * temperature_K * (1.0 + 1.608 * ratio))
    flow = parts.airflow_m3_per_s * share * density
    capacity = flow * (AIR_HEAT_CAPACITY + ratio * _VAPOUR_HEAT_CAPACITY)
    units = parts.air_transfer_units * share ** -parts.airflow_exponent
    return CoilAir(temperature_K, ratio, pressure_Pa, flow, capacity, units)


def surface_temperature(air: CoilAir, boiling_K: float, tube_W_per_K: float) -> float:
    """Return the temperature of a fully wetted coil's surface.

    Root of C ε (T_air − T_s) + ṁ ε (W − W_sat(T_s)) L = K (T_s − T_boiling), the latent term only
    where it is positive. Newton's iteration; the left side falls and curves down, so it cannot
    run away.

    Parameters
    ----------
    air : CoilAir
        Air onto the coil.
    boiling_K : float
        Temperature inside [K].
    tube_W_per_K : float
        Transfer K from surface to refrigerant [W/K].

    Returns
    -------
    float
        Temperature [K].

    Raises
    ------
    ConvergenceError
        If the iteration does not settle.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> air = coil_air(blue_parts().evaporator, 300.15, 0.5, 101325.0, 1.0)
    >>> round(surface_temperature(air, 275.15, 800.0) - 273.15, 1)
    7.4
    """
    effectiveness = -math.expm1(-air.transfer_units)
    dry = air.capacity_W_per_K * effectiveness
    surface = (dry * air.temperature_K + tube_W_per_K * boiling_K) / (dry + tube_W_per_K)
    wet = air.dry_flow_kg_per_s * effectiveness * _LATENT_J_PER_KG
    saturated = humidity_ratio(surface, 1.0, air.pressure_Pa)
    if saturated >= air.humidity_ratio:
        return surface
    for _ in range(30):
        excess = (dry * (air.temperature_K - surface) + wet * (air.humidity_ratio - saturated)
                  - tube_W_per_K * (surface - boiling_K))
        slope = _saturation_slope(saturated, surface)
        step = excess / (dry + tube_W_per_K + wet * slope)
        if abs(step) < 1e-9:
            return surface + step
        # the root is below the dew point; a long first step must not leave the range of air
        surface = min(surface + step, air.temperature_K)
        saturated = humidity_ratio(surface, 1.0, air.pressure_Pa)
    raise ConvergenceError("no surface temperature of the evaporator found")


def coil(parts: EvaporatorParts, fluid: Properties, air: CoilAir, outlet_Pa: float,
         mass_flow: float, inlet_enthalpy: float, reference_flow: float,
         transfer_factor: float = 1.0) -> Coil:
    """Return what the coil does with a flow of refrigerant.

    Parameters
    ----------
    parts : EvaporatorParts
        Sizes.
    fluid : Properties
        Refrigerant.
    air : CoilAir
        Air onto the coil.
    outlet_Pa : float
        Pressure at the outlet [Pa].
    mass_flow, inlet_enthalpy : float
        Refrigerant that enters [kg/s], [J/kg].
    reference_flow : float
        Flow of the transfer laws [kg/s].
    transfer_factor : float
        Factor on the tube side (oil, dirt).

    Returns
    -------
    Coil

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> from coldbench.refrigerant.properties import properties
    >>> air = coil_air(blue_parts().evaporator, 300.15, 0.5, 101325.0, 1.0)
    >>> got = coil(blue_parts().evaporator, properties("R134a"), air, 3.1e5, 0.028, 255e3, 0.03)
    >>> round(got.heat_W / 1e3, 1), round(got.wetted_share, 2)
    (4.1, 0.97)
    """
    relative = mass_flow / reference_flow
    dew_density = fluid.vapour_density_sat(outlet_Pa)
    drop = parts.drop_Pa * relative * relative * REFERENCE_DENSITY / dew_density
    boiling = fluid.saturation_temperature(outlet_Pa + 0.5 * drop)
    tubes = parts.boiling_transfer_W_per_K * relative**0.3 * transfer_factor
    surface = surface_temperature(air, boiling, tubes)
    full = tubes * (surface - boiling)  # heat if all of the coil were wetted
    dew, bubble = fluid.vapour_enthalpy_sat(outlet_Pa), fluid.liquid_enthalpy_sat(outlet_Pa)
    quality = (inlet_enthalpy - bubble) / (dew - bubble)
    duty = max(mass_flow * (dew - inlet_enthalpy), 0.0)
    # gas that arrives has nothing left to boil, whatever the coil could do
    state = _wet_outlet if duty >= full and inlet_enthalpy < dew else _superheated_outlet
    share, enthalpy, outlet_K, out_quality, vapour_W = state(
        parts, fluid, air, outlet_Pa, mass_flow, inlet_enthalpy, dew, bubble, full, relative)
    water = _water_taken(air, surface) * share
    heat = full * share + vapour_W
    density = gas_density(fluid, outlet_Pa, enthalpy, outlet_K)
    return Coil(outlet_Pa + drop, boiling, surface, share, quality, enthalpy, outlet_K,
                density, out_quality, heat, heat - water * _LATENT_J_PER_KG, water)


def _wet_outlet(parts, fluid, air, outlet_Pa, mass_flow, inlet_enthalpy, dew, bubble, full,
                relative) -> tuple[float, float, float, float, float]:
    """Share, enthalpy, temperature, quality, heat to vapour where liquid leaves the coil."""
    enthalpy = inlet_enthalpy + full / mass_flow
    return (1.0, enthalpy, fluid.saturation_temperature(outlet_Pa),
            (enthalpy - bubble) / (dew - bubble), 0.0)


def _superheated_outlet(parts, fluid, air, outlet_Pa, mass_flow, inlet_enthalpy, dew, bubble,
                        full, relative) -> tuple[float, float, float, float, float]:
    """The same where the vapour leaves superheated: T → T_air as exp(−C ε (1 − share)/(ṁ c))."""
    start = max(inlet_enthalpy, dew)
    share = mass_flow * (start - inlet_enthalpy) / full if start > inlet_enthalpy else 0.0
    saturation = fluid.saturation_temperature(outlet_Pa)
    last = max(air.temperature_K, saturation + _LEAST_SUPERHEAT_K)
    final = fluid.vapour_enthalpy(outlet_Pa, last)
    outside = air.capacity_W_per_K * air.transfer_units
    inside = parts.vapour_transfer_W_per_K * relative**0.8
    effective = air.capacity_W_per_K * -math.expm1(
        -outside * inside / ((outside + inside) * air.capacity_W_per_K))
    capacity = (final - dew) / (last - saturation)
    gain = (final - start) * -math.expm1(-effective * (1.0 - share) / (mass_flow * capacity))
    enthalpy = start + gain
    return share, enthalpy, fluid.temperature(outlet_Pa, enthalpy), 1.0, mass_flow * gain


def _water_taken(air: CoilAir, surface_K: float) -> float:
    """Water a fully wetted coil takes from the air [kg/s]."""
    saturated = humidity_ratio(surface_K, 1.0, air.pressure_Pa)
    taken = air.humidity_ratio - saturated
    return max(taken, 0.0) * air.dry_flow_kg_per_s * -math.expm1(-air.transfer_units)


def leaving_air(air: CoilAir, sensible_W: float, condensate_kg_per_s: float) -> LeavingAir:
    """Return the air behind the coil; fog in it falls out and gives its heat to the air.

    T = T_in − Q/C and W = W_in − ṁ_water/ṁ. Where W is above W_sat(T), more water m condenses, and
    L m less is taken as sensible heat, until W = W_sat(T): the whole heat stays as it is. Newton's
    iteration; the excess falls and curves down in m, so it cannot run away.

    Parameters
    ----------
    air : CoilAir
        Air onto the coil.
    sensible_W, condensate_kg_per_s : float
        Sensible heat [W] and water [kg/s] taken, before fog.

    Returns
    -------
    LeavingAir

    Raises
    ------
    ConvergenceError
        If the iteration does not settle.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> air = coil_air(blue_parts().evaporator, 298.15, 0.9, 101325.0, 0.2)
    >>> got = leaving_air(air, 650.0, 3e-4)
    >>> round(air.temperature_K - 650.0 / air.capacity_W_per_K - 273.15, 1)
    7.7
    >>> round(got.temperature_K - 273.15, 1), round(1e4 * got.condensate_kg_per_s, 2)
    (11.2, 3.52)
    """
    fog = 0.0
    for _ in range(30):
        sensible = sensible_W - fog * _LATENT_J_PER_KG
        water = condensate_kg_per_s + fog
        leaving = LeavingAir(air.temperature_K - sensible / air.capacity_W_per_K,
                             air.humidity_ratio - water / air.dry_flow_kg_per_s, sensible, water)
        saturated = humidity_ratio(leaving.temperature_K, 1.0, air.pressure_Pa)
        excess = leaving.humidity_ratio - saturated
        if abs(excess) < 1e-12 or fog == 0.0 and excess < 0.0:
            return leaving
        slope = _saturation_slope(saturated, leaving.temperature_K)
        fog += excess / (1.0 / air.dry_flow_kg_per_s
                         + slope * _LATENT_J_PER_KG / air.capacity_W_per_K)
    raise ConvergenceError("no state of the air behind the evaporator found")


def _saturation_slope(saturated: float, temperature_K: float) -> float:
    """Clausius–Clapeyron: d ln p / dT = L / (R T²), for the humidity ratio of saturated air [1/K]."""
    return saturated * (1.0 + saturated / 0.622) * 5419.0 / (temperature_K * temperature_K)


def coil_mass(parts: EvaporatorParts, fluid: Properties, outlet_Pa: float, got: Coil) -> float:
    """Return the mass of refrigerant in the coil.

    Parameters
    ----------
    parts : EvaporatorParts
        Sizes.
    fluid : Properties
        Refrigerant.
    outlet_Pa : float
        Pressure at the outlet [Pa].
    got : Coil
        Solution of the coil.

    Returns
    -------
    float
        Mass [kg].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> from coldbench.refrigerant.properties import properties
    >>> evaporator, r134a = blue_parts().evaporator, properties("R134a")
    >>> air = coil_air(evaporator, 300.15, 0.5, 101325.0, 1.0)
    >>> got = coil(evaporator, r134a, air, 3.1e5, 0.028, 255e3, 0.03)
    >>> round(coil_mass(evaporator, r134a, 3.1e5, got), 3)
    0.038
    """
    vapour, liquid = fluid.vapour_density_sat(outlet_Pa), fluid.liquid_density_sat(outlet_Pa)
    first = min(max(got.inlet_quality, 0.0), 1.0)
    last = min(max(got.outlet_quality, first), 1.0)
    boiling = two_phase_density(first, last, vapour, liquid)
    rest = 1.0 - got.wetted_share
    gas = 0.5 * (vapour + got.outlet_density)
    return parts.volume_m3 * (got.wetted_share * boiling + rest * gas)


def suction_gain(gain_W_per_K: float, fluid: Properties, pressure_Pa: float, enthalpy: float,
                 temperature_K: float, ambient_K: float, mass_flow: float) -> float:
    """Return the heat a kilogram picks up in the suction line.

    q = Δh (1 − exp(−UA ΔT/(ṁ Δh))) with Δh up to vapour at ambient temperature: right for wet
    and dry gas, and never beyond the air's temperature.

    Parameters
    ----------
    gain_W_per_K : float
        Transfer UA of the line [W/K].
    fluid : Properties
        Refrigerant.
    pressure_Pa, enthalpy, temperature_K : float
        Gas that enters the line [Pa], [J/kg], [K].
    ambient_K : float
        Air around [K].
    mass_flow : float
        Flow [kg/s].

    Returns
    -------
    float
        Heat [J/kg]; 0 where the gas is not colder than the air.

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> h = r134a.vapour_enthalpy(3e5, 280.0)
    >>> round(suction_gain(1.5, r134a, 3e5, h, 280.0, 303.0, 0.03) / 1e3, 1)
    1.1
    """
    colder = ambient_K - temperature_K
    if colder <= 0.0:
        return 0.0
    hottest = fluid.vapour_enthalpy(pressure_Pa, max(ambient_K, temperature_K))
    room = hottest - enthalpy
    if room <= 0.0:
        return 0.0
    return room * -math.expm1(-gain_W_per_K * colder / (mass_flow * room))
