"""Air through the bench: what turning fans and standing doors make of it.

    condenser   share = Σ fan share · n / n_full
    coil        share = n / n_full of the blower
    intake      fresh and cabin air mixed by the recirculation door, heat and moisture by mass
    vent        T = T_coil + b·ε·(T_coolant − T_coil), b the position of the zone's blend door
"""

from typing import NamedTuple

from coldbench.air.moist import humidity_ratio, moist_air_enthalpy, relative_humidity
from coldbench.air.moist import temperature_from_enthalpy
from coldbench.bench.model import Bench
from coldbench.bench.tables import Settings
from coldbench.electrical import Solution

BACKWARDS = 0.4  # share of its airflow that an axial fan moves backwards (common practice)
LEAST_RH, MOST_FAN_SHARE = 0.0, 1.5


class Intake(NamedTuple):
    """Air into the coil: temperature [K] and relative humidity."""

    temperature_K: float
    humidity: float


def fan_share(bench: Bench, solution: Solution) -> float:
    """Return the airflow that the condenser fans drive.

    Parameters
    ----------
    bench : Bench
        Which motors are fans.
    solution : Solution
        Their speeds.

    Returns
    -------
    float
        Share of full airflow, 0 to 1.5.
    """
    total = 0.0
    for fan in bench.fans:
        share = solution.motors[fan.motor].rpm / fan.full_rpm
        total += fan.share * (share if share >= 0.0 else -BACKWARDS * share)
    return min(total, MOST_FAN_SHARE)


def blower_share(bench: Bench, solution: Solution) -> float:
    """Return the airflow of the cabin blower, 0 to 1 [float]; turned backwards it moves little."""
    share = solution.motors[bench.blower.motor].rpm / bench.blower.full_rpm
    return min(abs(share) if share >= 0.0 else -BACKWARDS * share, 1.0)  # -0.0 is 0


def intake(bench: Bench, settings: Settings, door: float) -> Intake:
    """Return the air into the coil.

    Parameters
    ----------
    bench : Bench
        Share of cabin air with the door fully at recirculation.
    settings : Settings
        Fresh and cabin air.
    door : float
        Recirculation door, 0 fresh to 1 recirculated.

    Returns
    -------
    Intake
    """
    inside = bench.loop.recirculation_share * door
    if inside == 0.0:
        return Intake(settings.ambient_K, settings.humidity)
    pressure = settings.atmosphere_Pa
    airs = ((1.0 - inside, settings.ambient_K, settings.humidity),
            (inside, settings.cabin_K, settings.cabin_humidity))
    ratios = [humidity_ratio(T, rh, pressure) for _, T, rh in airs]
    mixed = sum(share * w for (share, *_), w in zip(airs, ratios, strict=True))
    enthalpy = sum(share * moist_air_enthalpy(T, w)
                   for (share, T, _), w in zip(airs, ratios, strict=True))
    temperature_K = temperature_from_enthalpy(enthalpy, mixed)
    return Intake(temperature_K, min(relative_humidity(temperature_K, mixed, pressure), 1.0))


def vent_temperature(coil_air_K: float, blend: float, coolant_K: float,
                     effectiveness: float) -> float:
    """Return the temperature of the air out of a vent.

    Parameters
    ----------
    coil_air_K : float
        Air behind the evaporator [K].
    blend : float
        Blend door, 0 full cold to 1 full hot.
    coolant_K : float
        Coolant in the heater [K].
    effectiveness : float
        Of the heater, 0 to 1.

    Returns
    -------
    float
        Temperature [K].

    Examples
    --------
    Air of 5 °C, a quarter of it through a heater of 0.75 at 85 °C: 5 + 0.25·0.75·80 = 20 °C.

    >>> vent_temperature(278.15, 0.25, 358.15, 0.75) - 273.15
    20.0
    """
    return coil_air_K + blend * effectiveness * (coolant_K - coil_air_K)
