"""Thermistors (negative temperature coefficient): resistance and temperature.

All forms in use are one cubic in x = ln(R / R_ref):  1/T = a0 + a1·x + a2·x² + a3·x³.

    beta             a0 = 1/T25, a1 = 1/B, R_ref = R25            IEC 60539-1, from memory
    Steinhart-Hart   a0 = A, a1 = B, a2 = 0, a3 = C, R_ref = 1 Ohm
                     Steinhart and Hart, Deep-Sea Research 15 (1968), from memory
    extended         all four, R_ref = R25                       makers' data sheets

T is in kelvin, R in ohm. A curve that is not monotone everywhere is refused, so each
temperature has one resistance and each resistance one temperature.
"""

from dataclasses import dataclass

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked, plain

T25_K = 298.15
"""Reference temperature of a thermistor's nominal resistance, 25 °C [K]."""


@dataclass(frozen=True)
class ThermistorCurve:
    """Resistance against temperature; make one with the functions of this module.

    Parameters
    ----------
    coefficients : tuple of 4 floats
        a0 … a3 of the module's cubic [1/K].
    reference_ohm : float
        R_ref [Ohm].
    lowest_temperature_K, highest_temperature_K : float
        Range in which the curve may be used [K].

    Raises
    ------
    InputError
        If the cubic is not monotone or the range is empty.
    """

    coefficients: tuple[float, float, float, float]
    reference_ohm: float = 1.0
    lowest_temperature_K: float = 213.15
    highest_temperature_K: float = 423.15

    def __post_init__(self) -> None:
        checked(self.coefficients, "thermistor coefficients")
        checked(self.reference_ohm, "reference resistance", 0.0, unit="Ohm", above=True)
        low, high = self.lowest_temperature_K, self.highest_temperature_K
        if not 0.0 < low < high:
            raise InputError(f"thermistor range {low:g} to {high:g} K must rise from above 0 K")
        _, a1, a2, a3 = self.coefficients
        straight = a2 == 0.0 and a3 == 0.0 and a1 > 0.0
        if not straight and not (a3 > 0.0 and a2 * a2 < 3.0 * a1 * a3):
            raise InputError("thermistor coefficients give no monotone curve: temperature must "
                             "fall wherever resistance rises")

    def temperature(self, resistance_ohm):
        """Return the temperature of a resistance: T = 1/(a0 + a1·x + a2·x² + a3·x³).

        Parameters
        ----------
        resistance_ohm : float or array_like
            Above 0 and within the curve's range [Ohm].

        Returns
        -------
        float or ndarray
            Temperature [K].

        Raises
        ------
        InputError
            Outside the range.

        Examples
        --------
        >>> curve = beta_curve(10e3, 3435.0)
        >>> round(curve.temperature(10e3) - 273.15, 6), round(curve.temperature(5e3), 2)
        (25.0, 317.24)
        """
        low, high = self.resistance_range_ohm
        resistance = checked(resistance_ohm, "thermistor resistance", low * (1 - 1e-9),
                             high * (1 + 1e-9), "Ohm")
        return plain(1.0 / self._inverse_temperature(np.log(resistance / self.reference_ohm)))

    def resistance(self, temperature_K):
        """Return the resistance at a temperature: the one real root of the cubic.

        Parameters
        ----------
        temperature_K : float or array_like
            Within the curve's range [K].

        Returns
        -------
        float or ndarray
            Resistance [Ohm].

        Raises
        ------
        InputError
            Outside the range.

        Examples
        --------
        >>> round(beta_curve(10e3, 3435.0).resistance(273.15))
        28704
        """
        temperature = checked(temperature_K, "thermistor temperature", self.lowest_temperature_K,
                              self.highest_temperature_K, "K")
        return plain(self.reference_ohm * np.exp(self._log_ratio(1.0 / temperature)))

    def local_beta(self, temperature_K):
        """Return B of the curve at one temperature: B = dlnR/d(1/T).

        Parameters
        ----------
        temperature_K : float or array_like
            Within the curve's range [K].

        Returns
        -------
        float or ndarray
            Local B [K].

        Examples
        --------
        >>> round(beta_curve(10e3, 3435.0).local_beta(320.0), 6)
        3435.0
        """
        x = np.log(self.resistance(temperature_K) / self.reference_ohm)
        _, a1, a2, a3 = self.coefficients
        return plain(1.0 / (a1 + 2.0 * a2 * x + 3.0 * a3 * x * x))

    def slope(self, temperature_K):
        """Return dR/dT = −R·B(T)/T².

        Parameters
        ----------
        temperature_K : float or array_like
            Within the curve's range [K].

        Returns
        -------
        float or ndarray
            Slope, always negative [Ohm/K].

        Examples
        --------
        >>> round(beta_curve(10e3, 3435.0).slope(298.15), 1)
        -386.4
        """
        temperature = checked(temperature_K, "thermistor temperature", 0.0, unit="K", above=True)
        return (-self.resistance(temperature) * self.local_beta(temperature)
                / (temperature * temperature))

    @property
    def resistance_range_ohm(self) -> tuple[float, float]:
        """Lowest and highest resistance of the range [Ohm]."""
        ends = [self.reference_ohm * float(np.exp(self._log_ratio(1.0 / t)))
                for t in (self.highest_temperature_K, self.lowest_temperature_K)]
        return ends[0], ends[1]

    def _inverse_temperature(self, x):
        a0, a1, a2, a3 = self.coefficients
        return a0 + x * (a1 + x * (a2 + x * a3))

    def _log_ratio(self, inverse_temperature):
        a0, a1, a2, a3 = self.coefficients
        if a3 == 0.0:
            return (inverse_temperature - a0) / a1
        x = _monotone_cubic_root(a3, a2, a1, a0 - inverse_temperature)
        # one Newton step takes out what rounding left
        slope = a1 + x * (2.0 * a2 + 3.0 * a3 * x)
        return x - (self._inverse_temperature(x) - inverse_temperature) / slope


def _monotone_cubic_root(a: float, b: float, c: float, d):
    """Root of a·x³ + b·x² + c·x + d with b² < 3ac, by the hyperbolic sine form."""
    shift = b / (3.0 * a)
    p = (3.0 * a * c - b * b) / (3.0 * a * a)
    q = (2.0 * b**3 - 9.0 * a * b * c) / (27.0 * a**3) + d / a
    half = np.sqrt(p / 3.0)
    return -2.0 * half * np.sinh(np.arcsinh(q / (2.0 * half**3)) / 3.0) - shift


def beta_curve(resistance_25_ohm: float, beta_K: float, lowest_temperature_K: float = 213.15,
               highest_temperature_K: float = 423.15) -> ThermistorCurve:
    """Return the plain beta curve: R = R25·exp(B·(1/T − 1/298.15)).

    Exact at the two temperatures B was taken from. Against a maker's table with B from 25 and
    85 °C it errs by up to 0.4 K in between, by 1.1 K at 0 °C and by 3.4 K at −30 °C.

    Parameters
    ----------
    resistance_25_ohm : float
        Resistance at 25 °C [Ohm].
    beta_K : float
        B [K].
    lowest_temperature_K, highest_temperature_K : float
        Range of use [K].

    Returns
    -------
    ThermistorCurve

    Raises
    ------
    InputError
        If R25 or B is not above 0.

    Examples
    --------
    >>> round(beta_curve(10e3, 3977.0).resistance(323.15))
    3563
    """
    beta = checked(beta_K, "B", 0.0, unit="K", above=True)
    return ThermistorCurve((1.0 / T25_K, 1.0 / beta, 0.0, 0.0), resistance_25_ohm,
                           lowest_temperature_K, highest_temperature_K)


def steinhart_hart_curve(A: float, B: float, C: float, lowest_temperature_K: float = 213.15,
                         highest_temperature_K: float = 423.15) -> ThermistorCurve:
    """Return the Steinhart–Hart curve: 1/T = A + B·ln R + C·(ln R)³.

    Parameters
    ----------
    A, B, C : float
        Coefficients for R in ohm [1/K].
    lowest_temperature_K, highest_temperature_K : float
        Range of use [K].

    Returns
    -------
    ThermistorCurve

    Raises
    ------
    InputError
        If the coefficients give no monotone curve.

    Examples
    --------
    >>> round(steinhart_hart_curve(1.12924e-3, 2.34108e-4, 0.87755e-7).resistance(273.15))
    32650
    """
    return ThermistorCurve((A, B, 0.0, C), 1.0, lowest_temperature_K, highest_temperature_K)


def extended_curve(A1: float, B1: float, C1: float, D1: float, resistance_25_ohm: float,
                   lowest_temperature_K: float = 213.15,
                   highest_temperature_K: float = 423.15) -> ThermistorCurve:
    """Return the four-term curve: 1/T = A1 + B1·x + C1·x² + D1·x³, x = ln(R/R25).

    Parameters
    ----------
    A1, B1, C1, D1 : float
        Coefficients [1/K].
    resistance_25_ohm : float
        Resistance at 25 °C [Ohm].
    lowest_temperature_K, highest_temperature_K : float
        Range of use [K].

    Returns
    -------
    ThermistorCurve

    Raises
    ------
    InputError
        If the coefficients give no monotone curve.

    Examples
    --------
    >>> curve = extended_curve(3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8, 10e3)
    >>> round(curve.resistance(373.15), 1)
    677.3
    """
    return ThermistorCurve((A1, B1, C1, D1), resistance_25_ohm, lowest_temperature_K,
                           highest_temperature_K)
