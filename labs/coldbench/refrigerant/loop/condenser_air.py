"""Air at the condenser: the air that cools it, and air that has got inside.

Source: overall transfer of two resistances in series, effectiveness for an isothermal
refrigerant ε = 1 − exp(−U/C) (any heat transfer text); exponents are common practice.
"""

import math
from typing import NamedTuple

from coldbench.refrigerant.loop.faults import HEALTHY, Effects
from coldbench.refrigerant.loop.parts import CondenserParts

AIR_HEAT_CAPACITY = 1006.0  # J/(kg K), dry air
AIR_GAS_CONSTANT = 287.05  # J/(kg K)
_REFERENCE_AIR_K, _REFERENCE_AIR_Pa = 303.15, 101_325.0
_LEAST_GAS_SHARE = 0.05  # of the condenser's volume: room left for air when all is flooded


class CondenserAir(NamedTuple):
    """Air through the condenser: temperature, heat capacity flow, what each zone exchanges."""

    temperature_K: float
    capacity_W_per_K: float
    desuperheating_W_per_K: float
    condensing_W_per_K: float
    subcooling_W_per_K: float


def air_pressure(parts: CondenserParts, air_kg: float, temperature_K: float, z: float) -> float:
    """Return the partial pressure of air trapped above the liquid: p = m R T / V.

    Parameters
    ----------
    parts : CondenserParts
        Sizes.
    air_kg : float
        Mass of air in the system [kg].
    temperature_K : float
        Condensing temperature [K].
    z : float
        Charge coordinate; liquid takes the air's room.

    Returns
    -------
    float
        Partial pressure [Pa].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> round(air_pressure(blue_parts().condenser, 2e-3, 318.0, 0.5) / 1e3)
    268
    """
    if air_kg <= 0.0:
        return 0.0
    receiver = parts.receiver_volume_m3 * (1.0 - min(max(z, 0.0), 1.0))
    pass_volume = parts.volume_m3 * (1.0 - parts.subcool_share)
    free = max(1.0 - max(z - 1.0, 0.0), _LEAST_GAS_SHARE)
    return air_kg * AIR_GAS_CONSTANT * temperature_K / (receiver + pass_volume * free)


def condenser_air(parts: CondenserParts, airflow: float, ambient_K: float, atmosphere_Pa: float,
                  mass_flow: float, reference_flow: float, air_share: float = 0.0,
                  transfer_factor: float = 1.0) -> CondenserAir:
    """Return what each zone would exchange per kelvin if it had the whole face.

    Parameters
    ----------
    parts : CondenserParts
        Sizes.
    airflow : float
        Airflow as a share of that at high fan speed.
    ambient_K, atmosphere_Pa : float
        Air onto the face [K], [Pa].
    mass_flow, reference_flow : float
        Refrigerant [kg/s].
    air_share : float
        Partial pressure of air inside over total pressure: it blankets the tubes.
    transfer_factor : float
        Factor on the air side (fouling).

    Returns
    -------
    CondenserAir

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> air = condenser_air(blue_parts().condenser, 1.0, 303.15, 101325.0, 0.03, 0.03)
    >>> round(air.capacity_W_per_K), round(air.condensing_W_per_K)
    (604, 404)
    """
    thin = atmosphere_Pa / _REFERENCE_AIR_Pa * _REFERENCE_AIR_K / ambient_K
    flow = airflow * thin
    capacity = parts.airflow_kg_per_s * flow * AIR_HEAT_CAPACITY
    outside = parts.air_transfer_W_per_K * flow**parts.airflow_exponent * transfer_factor
    relative = mass_flow / reference_flow
    turbulent = relative**0.8
    inside = (parts.vapour_transfer_W_per_K * turbulent,
              parts.condensing_transfer_W_per_K * relative**0.3 / (1.0 + parts.air_penalty
                                                                   * air_share),
              parts.liquid_transfer_W_per_K * turbulent)
    zones = (capacity * -math.expm1(-outside * h / ((outside + h) * capacity)) for h in inside)
    return CondenserAir(ambient_K, capacity, *zones)


def faulted_airflow(airflow: float, effects: Effects = HEALTHY) -> float:
    """Return the airflow with dirt on the face.

    Parameters
    ----------
    airflow : float
        Share of the airflow at high fan speed.
    effects : Effects
        Faults.

    Returns
    -------
    float

    Examples
    --------
    >>> faulted_airflow(0.55)
    0.55
    """
    return airflow * effects.condenser_airflow_factor
