"""A sensor's whole curve for a picture or a table: parameter, volts, counts, sensitivity."""

from dataclasses import dataclass

import numpy as np

from coldbench.errors import InputError
from coldbench.sensing.checks import checked
from coldbench.sensing.converter import Converter
from coldbench.sensing.divider import divider_slope, divider_voltage
from coldbench.sensing.sensors import PARAMETERS, PULLED_UP, Sensor


@dataclass(frozen=True)
class Response:
    """Arrays of one length n along a sensor's range.

    Parameters
    ----------
    values : ndarray
        Physical values, rising [SI].
    parameter : ndarray
        Resistance [Ohm], output ratio, current [A] or wiper fraction.
    parameter_name : str
        "resistance_ohm", "ratio", "current_A" or "position".
    volts : ndarray
        At the input [V].
    counts : ndarray of int
        Of the converter.
    volts_per_unit : ndarray
        Sensitivity dV/dvalue [V per SI unit].
    unit_per_count : ndarray
        Width of one count, infinite where the curve is flat [SI unit].
    """

    values: np.ndarray
    parameter: np.ndarray
    parameter_name: str
    volts: np.ndarray
    counts: np.ndarray
    volts_per_unit: np.ndarray
    unit_per_count: np.ndarray


def usual_range(sensor: Sensor) -> tuple[float, float]:
    """Return the range of values worth drawing [SI].

    Parameters
    ----------
    sensor : Sensor
        Any sensor.

    Returns
    -------
    tuple of 2 floats

    Examples
    --------
    >>> from coldbench.sensing.sensors import load_sensors
    >>> usual_range(load_sensors()["door"])
    (0.0, 1.0)
    """
    if sensor.kind == "thermistor":
        return sensor.model.lowest_temperature_K, sensor.model.highest_temperature_K
    if sensor.kind == "platinum":
        return 223.15, 423.15
    if sensor.kind == "transducer":
        return 0.0, sensor.model.full_scale_Pa
    return (0.0, 1200.0) if sensor.kind == "photodiode" else (0.0, 1.0)


def sensor_response(sensor: Sensor, pull_up_ohm: float | None = None, reference_V: float = 5.0,
                    converter: Converter = Converter(), lowest: float | None = None,
                    highest: float | None = None, points: int = 121) -> Response:
    """Return a sensor's curve at an ideal input.

    Parameters
    ----------
    sensor : Sensor
        Any sensor of the list.
    pull_up_ohm : float, optional
        Pull-up, for kinds in `sensors.PULLED_UP` [Ohm].
    reference_V : float
        Reference [V].
    converter : Converter
        The converter.
    lowest, highest : float, optional
        Range [SI]; by default `usual_range`.
    points : int
        Number n of points, 2 or more.

    Returns
    -------
    Response

    Raises
    ------
    InputError
        If the range is empty or outside the sensor's, or the pull-up is missing.

    Examples
    --------
    >>> from coldbench.sensing.sensors import load_sensors
    >>> sensor = load_sensors()["ntc-10k-3435"]
    >>> curve = sensor_response(sensor, 10e3, lowest=273.15, highest=323.15, points=3)
    >>> curve.volts.round(2).tolist(), curve.counts.tolist()
    ([3.66, 2.5, 1.47], [749, 512, 301])
    """
    low, high = usual_range(sensor)
    low, high = low if lowest is None else lowest, high if highest is None else highest
    if type(points) is not int or points < 2 or not low < high:
        raise InputError(f"a curve needs 2 points or more and a rising range, not {points!r} "
                         f"points from {low:g} to {high:g}")
    values = np.linspace(low, high, points)
    parameter = sensor.parameter(values)
    volts, slopes = _volts(sensor, values, parameter, pull_up_ohm, reference_V)
    with np.errstate(divide="ignore"):
        widths = converter.step_V(reference_V) / np.abs(slopes)
    return Response(values, parameter, PARAMETERS[sensor.kind], volts,
                    converter.counts(volts, reference_V), slopes, widths)


def _volts(sensor: Sensor, values, parameter, pull_up_ohm, reference_V):
    if sensor.kind in PULLED_UP:
        pull_up_ohm = checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
    if sensor.kind in ("thermistor", "platinum"):
        return (divider_voltage(parameter, pull_up_ohm, reference_V),
                divider_slope(parameter, sensor.model.slope(values), pull_up_ohm, reference_V))
    if sensor.kind == "photodiode":
        volts = reference_V - parameter * pull_up_ohm
        slope = -sensor.model.sensitivity_A_m2_W * pull_up_ohm
        return np.maximum(volts, 0.0), np.where(volts > 0.0, slope, 0.0)
    model = sensor.model
    if sensor.kind == "potentiometer":
        slope = model.end_fraction - model.start_fraction
        return parameter * reference_V, np.full_like(values, slope * reference_V)
    slope = (model.full_ratio - model.zero_ratio) / model.full_scale_Pa
    free = (parameter > model.lowest_ratio) & (parameter < model.highest_ratio)
    return parameter * reference_V, np.where(free, slope * reference_V, 0.0)
