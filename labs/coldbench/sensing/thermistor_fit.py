"""Thermistor curves from measured or printed points: beta from two, Steinhart–Hart from more.

A fit speaks only for the range of its points; it says how far it misses them.
"""

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked
from coldbench.sensing.thermistor import T25_K, ThermistorCurve


def beta_from_points(temperature_1_K: float, resistance_1_ohm: float, temperature_2_K: float,
                     resistance_2_ohm: float) -> float:
    """Return B between two points: B = ln(R1/R2)/(1/T1 − 1/T2).

    Parameters
    ----------
    temperature_1_K, temperature_2_K : float
        Temperatures [K].
    resistance_1_ohm, resistance_2_ohm : float
        Resistances there [Ohm].

    Returns
    -------
    float
        B [K].

    Raises
    ------
    InputError
        If the resistance does not fall as the temperature rises.

    Examples
    --------
    >>> round(beta_from_points(298.15, 10e3, 358.15, 1451.0))
    3435
    """
    temperatures, resistances = _points([temperature_1_K, temperature_2_K],
                                        [resistance_1_ohm, resistance_2_ohm], 2)
    log_ratio = np.log(resistances[0] / resistances[1])
    return float(log_ratio / (1.0 / temperatures[0] - 1.0 / temperatures[1]))


def fit_beta(temperatures_K, resistances_ohm) -> ThermistorCurve:
    """Return the beta curve through two points, or the least-squares one (in 1/T) of more.

    Parameters
    ----------
    temperatures_K, resistances_ohm : array_like of n >= 2
        Points, all temperatures different [K], [Ohm].

    Returns
    -------
    ThermistorCurve
        Its range is that of the points; R_ref is the resistance at 25 °C.

    Raises
    ------
    InputError
        If the points are too few or not falling.

    Examples
    --------
    >>> curve = fit_beta([298.15, 358.15], [10e3, 1451.0])
    >>> round(curve.reference_ohm), round(curve.local_beta(300.0))
    (10000, 3435)
    """
    temperatures, resistances = _points(temperatures_K, resistances_ohm, 2)
    slope, offset = np.polyfit(np.log(resistances), 1.0 / temperatures, 1)
    resistance_25 = float(np.exp((1.0 / T25_K - offset) / slope))
    return ThermistorCurve((1.0 / T25_K, float(slope), 0.0, 0.0), resistance_25,
                           float(temperatures[0]), float(temperatures[-1]))


def fit_steinhart_hart(temperatures_K, resistances_ohm) -> ThermistorCurve:
    """Return the Steinhart–Hart curve through three points, or the least-squares one of more.

    Least squares of 1/T = A + B·ln R + C·(ln R)³ over A, B, C.

    Parameters
    ----------
    temperatures_K, resistances_ohm : array_like of n >= 3
        Points, all temperatures different [K], [Ohm].

    Returns
    -------
    ThermistorCurve
        Its range is that of the points; `coefficients` are (A, B, 0, C).

    Raises
    ------
    InputError
        If the points are too few, not falling, or give no monotone curve.

    Examples
    --------
    >>> curve = fit_steinhart_hart([253.15, 298.15, 343.15], [67.77e3, 10e3, 2.228e3])
    >>> [f"{a:.5e}" for a in curve.coefficients if a]
    ['8.89770e-04', '2.51042e-04', '1.94626e-07']
    """
    temperatures, resistances = _points(temperatures_K, resistances_ohm, 3)
    logs = np.log(resistances)
    columns = np.column_stack([np.ones_like(logs), logs, logs**3])
    A, B, C = np.linalg.lstsq(columns, 1.0 / temperatures, rcond=None)[0]
    return ThermistorCurve((float(A), float(B), 0.0, float(C)), 1.0, float(temperatures[0]),
                           float(temperatures[-1]))


def fit_errors_K(curve: ThermistorCurve, temperatures_K, resistances_ohm) -> np.ndarray:
    """Return by how much a curve misses points: T_curve(R) − T.

    Parameters
    ----------
    curve : ThermistorCurve
        Any curve; points outside its own range are judged too.
    temperatures_K, resistances_ohm : array_like of n >= 1
        Points [K], [Ohm].

    Returns
    -------
    ndarray of n
        Errors, in order of rising temperature [K].

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> fit_errors_K(beta_curve(10e3, 3435.0), [273.15], [27.28e3]).round(2).tolist()
    [1.11]
    """
    temperatures, resistances = _points(temperatures_K, resistances_ohm, 1)
    x = np.log(resistances / curve.reference_ohm)
    a0, a1, a2, a3 = curve.coefficients
    return 1.0 / (a0 + x * (a1 + x * (a2 + x * a3))) - temperatures


def _points(temperatures_K, resistances_ohm, fewest: int) -> tuple[np.ndarray, np.ndarray]:
    temperatures = np.atleast_1d(checked(temperatures_K, "temperature", 0.0, unit="K", above=True))
    resistances = np.atleast_1d(checked(resistances_ohm, "resistance", 0.0, unit="Ohm", above=True))
    if temperatures.shape != resistances.shape or temperatures.ndim != 1:
        raise InputError("a thermistor table needs one resistance for each temperature")
    if len(temperatures) < fewest:
        raise InputError(f"this curve needs {fewest} points or more, not {len(temperatures)}")
    order = np.argsort(temperatures)
    temperatures, resistances = temperatures[order], resistances[order]
    if (np.diff(temperatures) <= 0.0).any() or (np.diff(resistances) >= 0.0).any():
        raise InputError("in a thermistor table the resistance must fall from each temperature "
                         "to the next higher one, and no temperature may stand twice")
    return temperatures, resistances
