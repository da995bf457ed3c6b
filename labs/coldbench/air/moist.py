"""Moist air: humidity, enthalpy, dew point and wet bulb for the evaporator and its condensate.

Glossary
    relative humidity   share of the saturation pressure of water, 0 to 1
    humidity ratio W    mass of water vapour to mass of dry air [kg/kg]

Source: ASHRAE Handbook—Fundamentals, chapter Psychrometrics (formulas of Hyland and Wexler,
1983; constants from memory, checked against independent libraries in the tests).
"""

import math
from collections.abc import Callable

from coldbench.errors import InputError

COLDEST_K, HOTTEST_K = 173.15, 373.15
TRIPLE_POINT_K = 273.16
ZERO_C_K = 273.15
MASS_RATIO = 0.621945
GAS_CONSTANT_DRY_AIR_J_kgK = 287.042
HEAT_OF_DRY_AIR_J_kgK = 1006.0
HEAT_OF_VAPOUR_J_kgK = 1860.0
HEAT_OF_EVAPORATION_J_kg = 2.501e6


def saturation_pressure_of_water(temperature_K: float) -> float:
    """Saturation pressure of water vapour over liquid water, or over ice below its triple point.

    temperature_K [K, 173.15 to 373.15]; returns [Pa]. Formula: ln p is a polynomial in T with
    terms 1/T and ln T. Raises InputError outside the range. Source: ASHRAE Handbook, as above.

    >>> round(saturation_pressure_of_water(293.15))
    2339
    """
    T = _checked_temperature(temperature_K)
    if T < TRIPLE_POINT_K:
        return math.exp(
            -5.6745359e3 / T + 6.3925247 + T * (-9.677843e-3 + T * (
                6.2215701e-7 + T * (2.0747825e-9 - 9.484024e-13 * T))) + 4.1635019 * math.log(T))
    return math.exp(
        -5.8002206e3 / T + 1.3914993 + T * (-4.8640239e-2 + T * (
            4.1764768e-5 - 1.4452093e-8 * T)) + 6.5459673 * math.log(T))


def _checked_temperature(temperature_K: float) -> float:
    if not COLDEST_K <= temperature_K <= HOTTEST_K:
        raise InputError(f"air temperature {temperature_K:g} K is outside {COLDEST_K:g} to "
                         f"{HOTTEST_K:g} K (−100 to 100 °C)")
    return temperature_K


def humidity_ratio_of_vapour(vapour_pressure_Pa: float, pressure_Pa: float) -> float:
    """Humidity ratio at a partial pressure of water vapour.

    vapour_pressure_Pa, pressure_Pa [Pa, absolute]; returns W [kg/kg] = 0.621945 p_w/(p − p_w).
    Raises InputError when the vapour pressure is negative or reaches the pressure.
    Source: ASHRAE Handbook, as above.

    >>> round(humidity_ratio_of_vapour(1000.0, 101325.0), 6)
    0.006199
    """
    if not 0 <= vapour_pressure_Pa < pressure_Pa:
        raise InputError(f"water vapour at {vapour_pressure_Pa:g} Pa does not fit into air at "
                         f"{pressure_Pa:g} Pa; it must be from 0 to below the pressure of the air")
    return MASS_RATIO * vapour_pressure_Pa / (pressure_Pa - vapour_pressure_Pa)


def humidity_ratio(temperature_K: float, relative_humidity: float, pressure_Pa: float) -> float:
    """Humidity ratio of air of a temperature and relative humidity.

    temperature_K [K]; relative_humidity [0 to 1]; pressure_Pa [Pa, absolute]; returns W [kg/kg].
    Raises InputError outside the ranges. Source: ASHRAE Handbook, as above.

    >>> round(humidity_ratio(300.15, 0.5, 101325.0), 5)
    0.01114
    """
    if not 0 <= relative_humidity <= 1:
        raise InputError(f"relative humidity {relative_humidity:g} is outside 0 to 1")
    return humidity_ratio_of_vapour(
        relative_humidity * saturation_pressure_of_water(temperature_K), pressure_Pa)


def saturated_humidity_ratio(temperature_K: float, pressure_Pa: float) -> float:
    """Humidity ratio of saturated air [K, Pa → kg/kg]; raises InputError outside the range.

    Source: ASHRAE Handbook, as above.

    >>> round(saturated_humidity_ratio(283.15, 101325.0), 5)
    0.00763
    """
    return humidity_ratio_of_vapour(saturation_pressure_of_water(temperature_K), pressure_Pa)


def vapour_pressure(humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Partial pressure of water vapour [kg/kg, Pa → Pa]: p·W/(0.621945 + W).

    Raises InputError for a negative humidity ratio. Source: ASHRAE Handbook, as above.

    >>> round(vapour_pressure(0.01, 101325.0), 1)
    1603.4
    """
    if not humidity_ratio_kg_kg >= 0:
        raise InputError(f"humidity ratio {humidity_ratio_kg_kg:g} kg/kg is negative")
    return pressure_Pa * humidity_ratio_kg_kg / (MASS_RATIO + humidity_ratio_kg_kg)


def relative_humidity(
    temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float
) -> float:
    """Relative humidity [K, kg/kg, Pa → 0 to 1; above 1 in fog].

    Raises InputError outside the ranges. Source: ASHRAE Handbook, as above.

    >>> round(relative_humidity(300.15, 0.01115, 101325.0), 3)
    0.5
    """
    return vapour_pressure(humidity_ratio_kg_kg, pressure_Pa) / saturation_pressure_of_water(
        temperature_K)


def moist_air_enthalpy(temperature_K: float, humidity_ratio_kg_kg: float) -> float:
    """Enthalpy of moist air for each kilogram of dry air [K, kg/kg → J/kg], zero at 0 °C dry.

    Formula: 1006 t + W (2 501 000 + 1860 t), t in °C. Valid −50 to 100 °C within 0.3 kJ/kg.
    Source: ASHRAE Handbook, as above.

    >>> round(moist_air_enthalpy(300.15, 0.01), 1)
    52674.2
    """
    t = temperature_K - ZERO_C_K
    return HEAT_OF_DRY_AIR_J_kgK * t + humidity_ratio_kg_kg * (
        HEAT_OF_EVAPORATION_J_kg + HEAT_OF_VAPOUR_J_kgK * t)


def temperature_from_enthalpy(enthalpy_J_kg: float, humidity_ratio_kg_kg: float) -> float:
    """Temperature of moist air from its enthalpy [J/kg dry air, kg/kg → K].

    The inverse of `moist_air_enthalpy`. Source: ASHRAE Handbook, as above.

    >>> round(temperature_from_enthalpy(moist_air_enthalpy(300.0, 0.012), 0.012), 9)
    300.0
    """
    heat = HEAT_OF_DRY_AIR_J_kgK + HEAT_OF_VAPOUR_J_kgK * humidity_ratio_kg_kg
    return ZERO_C_K + (enthalpy_J_kg - humidity_ratio_kg_kg * HEAT_OF_EVAPORATION_J_kg) / heat


def dew_point(humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Temperature at which air begins to give off water (or frost) [kg/kg, Pa → K].

    Raises InputError for air so dry that its dew point lies below 173.15 K, or wetter than
    saturated at 373.15 K. Source: ASHRAE Handbook, as above; bisection to 1 µK.

    >>> round(dew_point(0.01115, 101325.0) - 273.15, 1)
    15.7
    """
    wanted = vapour_pressure(humidity_ratio_kg_kg, pressure_Pa)
    return _bisect(lambda T: saturation_pressure_of_water(T) - wanted, COLDEST_K, HOTTEST_K,
                   "dew point")


def wet_bulb(temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float) -> float:
    """Thermodynamic wet-bulb temperature [K, kg/kg, Pa → K].

    Below freezing the wick is ice. Raises InputError outside the range. Source: ASHRAE
    Handbook, as above (its equations for W from dry and wet bulb), bisected to 1 µK.

    >>> round(wet_bulb(313.15, 0.00645, 101325.0) - 273.15, 1)
    20.0
    """
    def too_wet(wick_K: float) -> float:
        return _humidity_ratio_of_wick(temperature_K, wick_K, pressure_Pa) - humidity_ratio_kg_kg

    if too_wet(temperature_K) < 0:
        raise InputError(f"humidity ratio {humidity_ratio_kg_kg:g} kg/kg is above saturation at "
                         f"{temperature_K:g} K; the wet bulb is known up to saturation")
    return _bisect(too_wet, COLDEST_K, temperature_K, "wet bulb")


def _humidity_ratio_of_wick(air_K: float, wick_K: float, pressure_Pa: float) -> float:
    """Humidity ratio of air that reads `wick_K` at a wet wick."""
    t, wick = air_K - ZERO_C_K, wick_K - ZERO_C_K
    saturated = saturated_humidity_ratio(wick_K, pressure_Pa)
    if wick_K >= TRIPLE_POINT_K:
        return ((2501.0 - 2.326 * wick) * saturated - 1.006 * (t - wick)) / (
            2501.0 + 1.86 * t - 4.186 * wick)
    return ((2830.0 - 0.24 * wick) * saturated - 1.006 * (t - wick)) / (
        2830.0 + 1.86 * t - 2.1 * wick)


def _bisect(rising: Callable[[float], float], low: float, high: float, what: str) -> float:
    if rising(low) > 0 or rising(high) < 0:
        raise InputError(f"the {what} lies outside {COLDEST_K:g} to {HOTTEST_K:g} K")
    while high - low > 1e-6:
        middle = 0.5 * (low + high)
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return 0.5 * (low + high)


def specific_volume(
    temperature_K: float, humidity_ratio_kg_kg: float, pressure_Pa: float
) -> float:
    """Volume of moist air for each kilogram of dry air [K, kg/kg, Pa → m³/kg].

    Formula: R_a T (1 + 1.607858 W)/p. Source: ASHRAE Handbook, as above.

    >>> round(specific_volume(313.15, 0.00645, 101325.0), 3)
    0.896
    """
    return (GAS_CONSTANT_DRY_AIR_J_kgK * temperature_K * (1 + humidity_ratio_kg_kg / MASS_RATIO)
            / pressure_Pa)
