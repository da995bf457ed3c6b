"""Atmospheric pressure at a place, from its altitude or a barometer.

Source: ISO 2533:1975, Standard atmosphere, layer from -2 to 11 km geopotential altitude.
"""

from coldbench.errors import InputError

SEA_LEVEL_PRESSURE_PA = 101_325.0
SEA_LEVEL_TEMPERATURE_K = 288.15
LAPSE_RATE_K_PER_M = 0.0065
GRAVITY_M_PER_S2 = 9.80665
AIR_GAS_CONSTANT_J_PER_KG_K = 287.05287
LOWEST_ALTITUDE_M, HIGHEST_ALTITUDE_M = -2_000.0, 11_000.0
LOWEST_BAROMETER_PA, HIGHEST_BAROMETER_PA = 22_000.0, 128_000.0


def standard_atmosphere_pressure(altitude_m: float) -> float:
    """Return the pressure of the standard atmosphere: p = p0 · (1 − L·H/T0)^(g/(R·L)).

    Parameters
    ----------
    altitude_m : float
        Geopotential altitude H, -2000 to 11000 [m]. Altitude on a map is higher by less
        than 0.1 % below 6 km, which changes the pressure by less than 0.1 %.

    Returns
    -------
    float
        Pressure [Pa].

    Raises
    ------
    InputError
        Outside that range.

    Notes
    -----
    The real atmosphere differs with the weather by some percent: a barometer reading is better.
    Source: ISO 2533:1975.

    Examples
    --------
    >>> round(standard_atmosphere_pressure(2250.0), 1)
    77058.4
    """
    if not LOWEST_ALTITUDE_M <= altitude_m <= HIGHEST_ALTITUDE_M:
        raise InputError(f"altitude {altitude_m:g} m is outside -2000 to 11000 m")
    exponent = GRAVITY_M_PER_S2 / (AIR_GAS_CONSTANT_J_PER_KG_K * LAPSE_RATE_K_PER_M)
    ratio = 1.0 - LAPSE_RATE_K_PER_M * altitude_m / SEA_LEVEL_TEMPERATURE_K
    return SEA_LEVEL_PRESSURE_PA * ratio**exponent


def barometer_pressure(reading_Pa: float) -> float:
    """Return a barometer reading if it can be an atmosphere.

    Parameters
    ----------
    reading_Pa : float
        Pressure at the place itself, not reduced to sea level, 22 to 128 kPa absolute [Pa].

    Returns
    -------
    float
        The same pressure [Pa].

    Raises
    ------
    InputError
        Outside that range (about that of ISO 2533 from 11 km up to 2 km below the sea).

    Examples
    --------
    >>> barometer_pressure(84_000.0)
    84000.0
    """
    if not LOWEST_BAROMETER_PA <= reading_Pa <= HIGHEST_BAROMETER_PA:
        raise InputError(f"barometer reading {reading_Pa / 1e3:g} kPa is outside 22 to 128 kPa; "
                         "give the absolute pressure at the place, not reduced to sea level")
    return float(reading_Pa)
