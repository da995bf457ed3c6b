"""Gauge and absolute pressure: gauge = absolute − atmosphere. 0 absolute is full vacuum."""

from coldbench.errors import InputError
from coldbench.quantity.convert import finite


def gauge_from_absolute(absolute_Pa: float, atmosphere_Pa: float) -> float:
    """Return the gauge pressure of an absolute pressure: p_g = p − p_atm.

    Parameters
    ----------
    absolute_Pa : float
        Absolute pressure, 0 or more [Pa].
    atmosphere_Pa : float
        Local atmospheric pressure, above 0 [Pa].

    Returns
    -------
    float
        Gauge pressure [Pa]; negative in a vacuum.

    Raises
    ------
    InputError
        If the absolute pressure is negative or the atmosphere is not above 0.

    Examples
    --------
    >>> gauge_from_absolute(300_000.0, 101_325.0)
    198675.0
    """
    atmosphere_Pa = _positive_atmosphere(atmosphere_Pa)
    if finite(absolute_Pa, "absolute pressure") < 0.0:
        raise InputError(f"absolute pressure {absolute_Pa / 1e3:g} kPa is impossible: "
                         "nothing below 0 kPa exists")
    return float(absolute_Pa) - atmosphere_Pa


def absolute_from_gauge(gauge_Pa: float, atmosphere_Pa: float) -> float:
    """Return the absolute pressure of a gauge reading: p = p_g + p_atm.

    Parameters
    ----------
    gauge_Pa : float
        Gauge pressure, not below full vacuum (−atmosphere) [Pa].
    atmosphere_Pa : float
        Local atmospheric pressure, above 0 [Pa].

    Returns
    -------
    float
        Absolute pressure [Pa].

    Raises
    ------
    InputError
        If the reading lies below full vacuum or the atmosphere is not above 0.

    Examples
    --------
    >>> absolute_from_gauge(200_000.0, 101_325.0)
    301325.0
    >>> absolute_from_gauge(-120_000.0, 101_325.0)
    Traceback (most recent call last):
    coldbench.errors.InputError: gauge pressure -120 kPa is below full vacuum, which is \
-101.325 kPa gauge here
    """
    atmosphere_Pa = _positive_atmosphere(atmosphere_Pa)
    absolute_Pa = finite(gauge_Pa, "gauge pressure") + atmosphere_Pa
    if absolute_Pa < 0.0:
        raise InputError(f"gauge pressure {gauge_Pa / 1e3:g} kPa is below full vacuum, "
                         f"which is {-atmosphere_Pa / 1e3:g} kPa gauge here")
    return absolute_Pa


def _positive_atmosphere(atmosphere_Pa: float) -> float:
    if finite(atmosphere_Pa, "atmospheric pressure") <= 0.0:
        raise InputError(f"atmospheric pressure {atmosphere_Pa / 1e3:g} kPa must be above 0 kPa")
    return float(atmosphere_Pa)
