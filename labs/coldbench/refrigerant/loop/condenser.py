"""Condenser with a receiver between its condensing pass and its subcooling pass.

Refrigerant passes the face slice by slice and every slice meets fresh air, so one zone of face
share f takes C ε (T − T_air) per unit of share, with ε = 1 − exp(−U/C) (effectiveness for an
isothermal refrigerant; source: any heat transfer text). Zones: desuperheating, two-phase,
liquid.

The charge coordinate z runs through all regimes: below 0 the receiver is empty and the
condensing pass ends at quality −z, or below −1 as gas that much still to be cooled; 0 to 1 is
the receiver's level; above 1 it is full and the share z − 1 of the condensing pass is flooded
with liquid.
"""

import math
from typing import NamedTuple

from coldbench.refrigerant.loop.charge import two_phase_density
from coldbench.refrigerant.loop.condenser_air import (
    AIR_GAS_CONSTANT,
    AIR_HEAT_CAPACITY,
    CondenserAir,
    air_pressure,
    condenser_air,
    faulted_airflow,
)
from coldbench.refrigerant.loop.parts import CondenserParts
from coldbench.refrigerant.properties import Properties

__all__ = [
    "AIR_GAS_CONSTANT", "AIR_HEAT_CAPACITY", "SUPERHEAT_SPAN_K", "CondenserAir", "Outlet",
    "PassOutlet", "Saturated", "air_pressure", "available_share", "condenser_air",
    "condenser_mass", "condenser_outlet", "condensing_share", "desuperheating_share",
    "faulted_airflow", "pass_outlet", "saturated",
]

SUPERHEAT_SPAN_K = 150.0  # gas leaving the condensing pass at z = −2 is this much superheated


class Saturated(NamedTuple):
    """Saturated phases at the condensing pressure (SI)."""

    pressure_Pa: float
    temperature_K: float
    liquid_enthalpy: float
    vapour_enthalpy: float
    liquid_density: float
    vapour_density: float


class PassOutlet(NamedTuple):
    """Gas or mixture where no more gas is to be cooled: end of the desuperheating zone."""

    temperature_K: float
    enthalpy: float


class Outlet(NamedTuple):
    """What leaves the subcooling pass."""

    enthalpy_J_per_kg: float
    quality: float
    two_phase_share: float
    heat_J_per_kg: float


def saturated(fluid: Properties, temperature_K: float) -> Saturated:
    """Return the saturated phases at a temperature.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    temperature_K : float
        Condensing temperature [K].

    Returns
    -------
    Saturated

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(saturated(properties("R134a"), 318.15).pressure_Pa / 1e3)
    1160
    """
    p = fluid.saturation_pressure(temperature_K)
    return Saturated(p, temperature_K, fluid.liquid_enthalpy_sat(p), fluid.vapour_enthalpy_sat(p),
                     fluid.liquid_density_sat(p), fluid.vapour_density_sat(p))


def pass_outlet(fluid: Properties, sat: Saturated, z: float) -> PassOutlet:
    """Return the gas at the end of the desuperheating zone.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    sat : Saturated
        Phases at the condensing temperature.
    z : float
        Charge coordinate; saturated vapour unless it is below −1.

    Returns
    -------
    PassOutlet

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> round(pass_outlet(r134a, saturated(r134a, 318.15), -1.25).temperature_K, 2)
    355.65
    """
    if z >= -1.0:
        return PassOutlet(sat.temperature_K, sat.vapour_enthalpy)
    temperature = sat.temperature_K + SUPERHEAT_SPAN_K * (-1.0 - z)
    return PassOutlet(temperature, fluid.vapour_enthalpy(sat.pressure_Pa, temperature))


def condenser_outlet(parts: CondenserParts, fluid: Properties, sat: Saturated, high_Pa: float,
                     air: CondenserAir, mass_flow: float, z: float) -> Outlet:
    """Return the state behind the subcooling pass.

    Parameters
    ----------
    parts : CondenserParts
        Sizes.
    fluid : Properties
        Refrigerant.
    sat : Saturated
        Phases at the condensing temperature.
    high_Pa : float
        Total pressure, with air [Pa].
    air : CondenserAir
        Air side.
    mass_flow : float
        Flow [kg/s].
    z : float
        Charge coordinate.

    Returns
    -------
    Outlet

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> from coldbench.refrigerant.properties import properties
    >>> parts, r134a = blue_parts().condenser, properties("R134a")
    >>> sat = saturated(r134a, 318.15)
    >>> air = condenser_air(parts, 1.0, 303.15, 101325.0, 0.03, 0.03)
    >>> out = condenser_outlet(parts, r134a, sat, sat.pressure_Pa, air, 0.03, 0.5)
    >>> round(318.15 - r134a.liquid_temperature(sat.pressure_Pa, out.enthalpy_J_per_kg), 1)
    7.5
    """
    if z < -1.0:
        return _gas_outlet(parts, fluid, sat, air, mass_flow, pass_outlet(fluid, sat, z))
    quality = max(-z, 0.0)
    share = parts.subcool_share + (1.0 - parts.subcool_share) * max(z - 1.0, 0.0)
    return _wet_outlet(fluid, sat, high_Pa, air, mass_flow, quality, share)


def _gas_outlet(parts: CondenserParts, fluid: Properties, sat: Saturated, air: CondenserAir,
                mass_flow: float, gas: PassOutlet) -> Outlet:
    """Outlet where the last pass still receives gas: it cools, and condenses what it can."""
    share, warmer = parts.subcool_share, sat.temperature_K - air.temperature_K
    capacity = (gas.enthalpy - sat.vapour_enthalpy) / (gas.temperature_K - sat.temperature_K)
    per_share = air.desuperheating_W_per_K / (mass_flow * capacity)
    needed = math.log((gas.temperature_K - air.temperature_K) / warmer) / per_share
    if needed < share:
        rest = _wet_outlet(fluid, sat, sat.pressure_Pa, air, mass_flow, 1.0, share - needed)
        heat = gas.enthalpy - sat.vapour_enthalpy + rest.heat_J_per_kg
        return rest._replace(two_phase_share=needed + rest.two_phase_share, heat_J_per_kg=heat)
    cooled = (gas.temperature_K - air.temperature_K) * -math.expm1(-per_share * share)
    enthalpy = gas.enthalpy - capacity * cooled
    latent = sat.vapour_enthalpy - sat.liquid_enthalpy
    return Outlet(enthalpy, (enthalpy - sat.liquid_enthalpy) / latent, share, capacity * cooled)


def _wet_outlet(fluid: Properties, sat: Saturated, high_Pa: float, air: CondenserAir,
                mass_flow: float, quality: float, share: float) -> Outlet:
    """Outlet where a mixture or liquid enters the last pass of a face share."""
    warmer = sat.temperature_K - air.temperature_K
    latent = sat.vapour_enthalpy - sat.liquid_enthalpy
    per_share = air.condensing_W_per_K * warmer / (mass_flow * latent)
    if quality >= per_share * share:
        left = quality - per_share * share
        enthalpy = sat.liquid_enthalpy + left * latent
        return Outlet(enthalpy, left, share, per_share * share * latent)
    two_phase = quality / per_share
    coldest = sat.liquid_enthalpy - fluid.liquid_enthalpy(high_Pa, air.temperature_K)
    capacity = coldest / warmer
    kept = math.exp(-air.subcooling_W_per_K * (share - two_phase) / (mass_flow * capacity))
    enthalpy = sat.liquid_enthalpy - coldest * (1.0 - kept)
    heat = coldest * (1.0 - kept) + quality * latent
    return Outlet(enthalpy, 0.0, two_phase, heat)


def desuperheating_share(end: PassOutlet, air: CondenserAir, mass_flow: float,
                         gas_enthalpy: float, gas_K: float) -> float:
    """Return the face share that cools the hot gas down to condensing.

    f = ṁ c / (C ε) ln((T_gas − T_air)/(T_end − T_air)), with c = Δh/ΔT over the whole zone; the
    heat capacity at saturation would be too large and invents second solutions.

    Parameters
    ----------
    end : PassOutlet
        State at the end of the zone.
    air : CondenserAir
        Air side.
    mass_flow : float
        Flow [kg/s].
    gas_enthalpy, gas_K : float
        Gas that enters [J/kg], [K].

    Returns
    -------
    float
        Share of the face; 0 if the gas enters wet.

    Examples
    --------
    >>> air = CondenserAir(303.15, 805.0, 320.0, 505.0, 360.0)
    >>> round(desuperheating_share(PassOutlet(318.15, 421e3), air, 0.03, 441e3, 335.0), 3)
    0.084
    """
    excess, hotter = gas_enthalpy - end.enthalpy, gas_K - end.temperature_K
    if excess <= 0.0 or hotter <= 1e-9:
        return 0.0
    ratio = hotter / (end.temperature_K - air.temperature_K)
    return mass_flow * excess / hotter / air.desuperheating_W_per_K * math.log1p(ratio)


def condensing_share(sat: Saturated, air: CondenserAir, mass_flow: float, gas_enthalpy: float,
                     z: float) -> float:
    """Return the face share that condenses down to the quality of the charge coordinate.

    Parameters
    ----------
    sat : Saturated
        Phases at the condensing temperature.
    air : CondenserAir
        Air side.
    mass_flow : float
        Flow [kg/s].
    gas_enthalpy : float
        Gas that enters the condenser [J/kg].
    z : float
        Charge coordinate.

    Returns
    -------
    float
        Share of the face.

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> sat = saturated(properties("R134a"), 318.15)
    >>> air = CondenserAir(303.15, 805.0, 320.0, 505.0, 360.0)
    >>> round(condensing_share(sat, air, 0.03, sat.vapour_enthalpy + 20e3, 0.5), 3)
    0.624
    """
    quality = min(max(-z, 0.0), 1.0)
    last = sat.liquid_enthalpy + quality * (sat.vapour_enthalpy - sat.liquid_enthalpy)
    drop = min(gas_enthalpy, sat.vapour_enthalpy) - last
    warmer = sat.temperature_K - air.temperature_K
    return mass_flow * drop / (air.condensing_W_per_K * warmer)


def available_share(parts: CondenserParts, z: float) -> float:
    """Return the face share of the condensing pass that is not flooded.

    Parameters
    ----------
    parts : CondenserParts
        Sizes.
    z : float
        Charge coordinate.

    Returns
    -------
    float

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> round(available_share(blue_parts().condenser, 1.25), 3)
    0.675
    """
    return (1.0 - parts.subcool_share) * (1.0 - max(z - 1.0, 0.0))


def condenser_mass(parts: CondenserParts, sat: Saturated, outlet: Outlet, z: float,
                   desuperheating: float, gas_density: float) -> float:
    """Return the mass of refrigerant in condenser and receiver.

    Parameters
    ----------
    parts : CondenserParts
        Sizes.
    sat : Saturated
        Phases at the condensing temperature.
    outlet : Outlet
        State behind the subcooling pass.
    z : float
        Charge coordinate.
    desuperheating : float
        Face share that holds hot gas only.
    gas_density : float
        Density of the gas that enters [kg/m³].

    Returns
    -------
    float
        Mass [kg].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> sat = Saturated(1.16e6, 318.15, 263e3, 421e3, 1124.0, 57.0)
    >>> out = Outlet(250e3, 0.0, 0.0, 13e3)
    >>> round(condenser_mass(blue_parts().condenser, sat, out, 0.5, 0.1, 50.0), 2)
    0.37
    """
    quality, level = min(max(-z, 0.0), 1.0), min(max(z, 0.0), 1.0)
    available = available_share(parts, z)
    hot = min(desuperheating, available)
    dew, bubble = sat.vapour_density, sat.liquid_density
    share_mass = hot * 0.5 * (gas_density + dew)
    share_mass += (available - hot) * two_phase_density(1.0, quality, dew, bubble)
    flooded = 1.0 - available
    last = min(outlet.quality, 1.0)
    share_mass += outlet.two_phase_share * two_phase_density(quality, last, dew, bubble)
    share_mass += (flooded - outlet.two_phase_share) * bubble
    receiver = level * bubble + (1.0 - level) * dew
    return parts.volume_m3 * share_mass + parts.receiver_volume_m3 * receiver
