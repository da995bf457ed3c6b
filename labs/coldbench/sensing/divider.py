"""Pull-up divider: a resistance between an input and ground, pulled up to the reference.

    reference ──[pull-up]──┬── input
                           [sensor]
                           ground
"""

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked


def divider_voltage(sensor_ohm, pull_up_ohm: float, reference_V: float = 5.0):
    """Return the voltage at the input: V = V_ref·R/(R + R_pull-up).

    Parameters
    ----------
    sensor_ohm : float or array_like
        Resistance from input to ground, 0 or more [Ohm].
    pull_up_ohm : float
        Pull-up resistance [Ohm].
    reference_V : float
        Reference voltage [V].

    Returns
    -------
    float or ndarray
        Voltage [V].

    Raises
    ------
    InputError
        If a resistance is negative or the pull-up or reference is not above 0.

    Examples
    --------
    >>> divider_voltage(10e3, 10e3)
    2.5
    """
    sensor = checked(sensor_ohm, "sensor resistance", 0.0, unit="Ohm")
    pull_up = checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
    return checked(reference_V, "reference", 0.0, unit="V", above=True) * sensor / (
        sensor + pull_up)


def divider_resistance(voltage_V, pull_up_ohm: float, reference_V: float = 5.0):
    """Return the resistance behind a voltage: R = R_pull-up·V/(V_ref − V).

    Parameters
    ----------
    voltage_V : float or array_like
        From 0 to below the reference [V].
    pull_up_ohm, reference_V : float
        As in `divider_voltage` [Ohm], [V].

    Returns
    -------
    float or ndarray
        Sensor resistance [Ohm].

    Raises
    ------
    InputError
        If the voltage is not from 0 to below the reference.

    Examples
    --------
    >>> divider_resistance(2.5, 10e3)
    10000.0
    >>> divider_resistance(5.0, 10e3)
    Traceback (most recent call last):
    coldbench.errors.InputError: 5 V at the reference of 5 V means no current: an open circuit \
has no resistance value
    """
    reference = checked(reference_V, "reference", 0.0, unit="V", above=True)
    voltage = checked(voltage_V, "input voltage", 0.0, reference, "V")
    if np.any(np.asarray(voltage) >= reference):
        raise InputError(f"{reference:g} V at the reference of {reference:g} V means no current: "
                         "an open circuit has no resistance value")
    return checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True) * voltage / (
        reference - voltage)


def divider_slope(sensor_ohm, sensor_slope_ohm_K, pull_up_ohm: float, reference_V: float = 5.0):
    """Return the sensitivity: dV/dT = V_ref·R_pull-up/(R + R_pull-up)²·dR/dT.

    Parameters
    ----------
    sensor_ohm, sensor_slope_ohm_K : float or array_like
        Sensor resistance and its slope [Ohm], [Ohm/K].
    pull_up_ohm, reference_V : float
        As in `divider_voltage` [Ohm], [V].

    Returns
    -------
    float or ndarray
        Sensitivity [V/K].

    Examples
    --------
    >>> round(divider_slope(10e3, -386.4, 10e3) * 1e3, 1)
    -48.3
    """
    sensor = checked(sensor_ohm, "sensor resistance", 0.0, unit="Ohm")
    slope = checked(sensor_slope_ohm_K, "sensor slope", unit="Ohm/K")
    pull_up = checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
    return reference_V * pull_up / (sensor + pull_up) ** 2 * slope


def divider_power(sensor_ohm, pull_up_ohm: float, reference_V: float = 5.0):
    """Return the heat in the sensor: P = V_ref²·R/(R + R_pull-up)².

    Greatest where R equals the pull-up.

    Parameters
    ----------
    sensor_ohm : float or array_like
        Sensor resistance [Ohm].
    pull_up_ohm, reference_V : float
        As in `divider_voltage` [Ohm], [V].

    Returns
    -------
    float or ndarray
        Power [W].

    Examples
    --------
    >>> divider_power(10e3, 10e3)
    0.000625
    """
    sensor = checked(sensor_ohm, "sensor resistance", 0.0, unit="Ohm")
    pull_up = checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
    return reference_V**2 * sensor / (sensor + pull_up) ** 2
