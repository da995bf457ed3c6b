"""Platinum resistance thermometer: the reference a thermistor is compared with.

Source: IEC 60751. R = R0·(1 + A·t + B·t² + C·(t − 100)·t³), t in °C, C only below 0 °C.
"""

import numpy as np

from coldbench.sensing.checks import checked, plain

A, B, C = 3.9083e-3, -5.775e-7, -4.183e-12
"""Coefficients of IEC 60751 [1/°C], [1/°C²], [1/°C⁴]."""
LOWEST_TEMPERATURE_K, HIGHEST_TEMPERATURE_K = 73.15, 1123.15
"""Range of IEC 60751, −200 to 850 °C [K]."""


def platinum_resistance(temperature_K, resistance_0_ohm: float = 100.0):
    """Return the resistance of a platinum thermometer (formula at the top of the module).

    Parameters
    ----------
    temperature_K : float or array_like
        73.15 to 1123.15 K [K].
    resistance_0_ohm : float
        Resistance at 0 °C [Ohm].

    Returns
    -------
    float or ndarray
        Resistance [Ohm].

    Raises
    ------
    InputError
        Outside that range.

    Examples
    --------
    >>> round(platinum_resistance(373.15), 4)
    138.5055
    """
    kelvin = checked(temperature_K, "platinum temperature", LOWEST_TEMPERATURE_K,
                     HIGHEST_TEMPERATURE_K, "K")
    base = checked(resistance_0_ohm, "resistance at 0 degC", 0.0, unit="Ohm", above=True)
    return plain(base * _ratio(np.asarray(kelvin) - 273.15))


def platinum_temperature(resistance_ohm, resistance_0_ohm: float = 100.0):
    """Return the temperature of a platinum thermometer: inverse of `platinum_resistance`.

    Closed form at and above 0 °C, Newton's method below (to rounding within four steps).

    Parameters
    ----------
    resistance_ohm : float or array_like
        Resistance within the range of IEC 60751 [Ohm].
    resistance_0_ohm : float
        Resistance at 0 °C [Ohm].

    Returns
    -------
    float or ndarray
        Temperature [K].

    Raises
    ------
    InputError
        Outside that range.

    Examples
    --------
    >>> round(platinum_temperature(80.3063) - 273.15, 3)
    -50.0
    """
    base = checked(resistance_0_ohm, "resistance at 0 degC", 0.0, unit="Ohm", above=True)
    low, high = (base * float(_ratio(np.asarray(t))) for t in (-200.0, 850.0))
    ohm = checked(resistance_ohm, "platinum resistance", low * (1 - 1e-12), high * (1 + 1e-12),
                  "Ohm")
    ratio = np.asarray(ohm) / base
    celsius = (-A + np.sqrt(A * A - 4.0 * B * (1.0 - ratio))) / (2.0 * B)
    for _ in range(6):
        celsius = celsius - (_ratio(celsius) - ratio) / _slope(celsius)
    return plain(celsius + 273.15)


def _ratio(celsius):
    cold = np.minimum(celsius, 0.0)
    return 1.0 + celsius * (A + B * celsius) + C * (cold - 100.0) * cold**3


def _slope(celsius):
    cold = np.minimum(celsius, 0.0)
    return A + 2.0 * B * celsius + C * (4.0 * cold - 300.0) * cold**2


def platinum_slope(temperature_K, resistance_0_ohm: float = 100.0):
    """Return dR/dT of a platinum thermometer.

    Parameters
    ----------
    temperature_K : float or array_like
        73.15 to 1123.15 K [K].
    resistance_0_ohm : float
        Resistance at 0 °C [Ohm].

    Returns
    -------
    float or ndarray
        Slope [Ohm/K].

    Examples
    --------
    >>> round(platinum_slope(273.15), 5)
    0.39083
    """
    kelvin = checked(temperature_K, "platinum temperature", LOWEST_TEMPERATURE_K,
                     HIGHEST_TEMPERATURE_K, "K")
    return plain(resistance_0_ohm * _slope(np.asarray(kelvin) - 273.15))
