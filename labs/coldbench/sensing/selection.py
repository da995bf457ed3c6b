"""Choosing the pull-up of a thermistor and the thresholds of its input.

    greatest sensitivity at T    R_pull-up = R(T)
    straightest line around T    R_pull-up = R(T)·(B − 2T)/(B + 2T), the inflection of V(T)

The second follows from V/V_ref = 1/(1 + R_pull-up/R) with R ~ exp(B/T) and V'' = 0.
"""

from dataclasses import dataclass

from coldbench.errors import InputError
from coldbench.sensing.checks import checked
from coldbench.sensing.converter import Converter
from coldbench.sensing.divider import divider_resistance, divider_slope, divider_voltage
from coldbench.sensing.thermistor import ThermistorCurve
from coldbench.sensing.windows import Window


def most_sensitive_pull_up(curve: ThermistorCurve, temperature_K: float) -> float:
    """Return the pull-up with the greatest volts per kelvin at a temperature: R(T).

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    temperature_K : float
        Where it matters most [K].

    Returns
    -------
    float
        Pull-up [Ohm].

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> round(most_sensitive_pull_up(beta_curve(10e3, 3435.0), 298.15))
    10000
    """
    return curve.resistance(temperature_K)


def straightest_pull_up(curve: ThermistorCurve, temperature_K: float) -> float:
    """Return the pull-up that puts the inflection of V(T) at a temperature.

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    temperature_K : float
        Middle of the range of interest [K].

    Returns
    -------
    float
        Pull-up [Ohm].

    Raises
    ------
    InputError
        If B ≤ 2T there: such a curve has no inflection.

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> round(straightest_pull_up(beta_curve(10e3, 3435.0), 298.15))
    7042
    """
    beta = curve.local_beta(temperature_K)
    if beta <= 2.0 * temperature_K:
        raise InputError(f"B of {beta:.0f} K is not above twice {temperature_K:.0f} K: no pull-up "
                         "makes this curve straight there")
    return curve.resistance(temperature_K) * (beta - 2.0 * temperature_K) / (
        beta + 2.0 * temperature_K)


def weakest_sensitivity(curve: ThermistorCurve, pull_up_ohm: float, lowest_K: float,
                        highest_K: float, reference_V: float = 5.0) -> float:
    """Return the smallest |dV/dT| over a range: V(T) is S-shaped, so it lies at an end.

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    pull_up_ohm, reference_V : float
        The divider [Ohm], [V].
    lowest_K, highest_K : float
        Range [K].

    Returns
    -------
    float
        Sensitivity, above 0 [V/K].

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> curve = beta_curve(10e3, 3435.0)
    >>> round(weakest_sensitivity(curve, 2.2e3, 253.15, 333.15) * 1e3, 1)
    7.2
    """
    return min(-divider_slope(curve.resistance(t), curve.slope(t), pull_up_ohm, reference_V)
               for t in (lowest_K, highest_K))


@dataclass(frozen=True)
class Threshold:
    """A switching point as the control unit compares it.

    Parameters
    ----------
    temperature_K, resistance_ohm, voltage_V : float
        Switching point [K], [Ohm], [V].
    counts : int
        Counts there.
    kelvin_per_count : float
        Width of one count [K].
    """

    temperature_K: float
    resistance_ohm: float
    voltage_V: float
    counts: int
    kelvin_per_count: float


def threshold(curve: ThermistorCurve, temperature_K: float, pull_up_ohm: float,
              converter: Converter = Converter(), reference_V: float = 5.0) -> Threshold:
    """Return the counts at which a thermistor input reaches a temperature.

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    temperature_K : float
        Switching temperature [K].
    pull_up_ohm, reference_V : float
        The divider [Ohm], [V].
    converter : Converter
        The converter.

    Returns
    -------
    Threshold

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> point = threshold(beta_curve(10e3, 3435.0), 274.15, 10e3)
    >>> point.counts, round(point.kelvin_per_count, 3)
    (750, 0.109)
    """
    ohm = curve.resistance(temperature_K)
    volts = divider_voltage(ohm, pull_up_ohm, reference_V)
    slope = -divider_slope(ohm, curve.slope(temperature_K), pull_up_ohm, reference_V)
    return Threshold(temperature_K, ohm, volts, converter.counts(volts, reference_V),
                     converter.step_V(reference_V) / slope)


def window_range_K(curve: ThermistorCurve, pull_up_ohm: float,
                   window: Window = Window()) -> tuple[float, float]:
    """Return the temperatures at which a sound thermistor would leave its window.

    The sensor's real range must lie well inside, or a cold morning stores a code.

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    pull_up_ohm : float
        Pull-up [Ohm].
    window : Window
        The window.

    Returns
    -------
    tuple of 2 floats
        Lowest and highest temperature inside, held within the curve's own range [K].

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> low, high = window_range_K(beta_curve(10e3, 3435.0), 2.2e3, Window(0.03, 0.97))
    >>> round(low - 273.15, 1), round(high - 273.15, 1)
    (-18.4, 150.0)
    """
    checked(pull_up_ohm, "pull-up", 0.0, unit="Ohm", above=True)
    lowest_ohm, highest_ohm = curve.resistance_range_ohm
    ends = []
    for ratio, beyond in ((window.high_ratio, highest_ohm), (window.low_ratio, lowest_ohm)):
        ohm = divider_resistance(ratio, pull_up_ohm, 1.0) if ratio < 1.0 else beyond
        ends.append(curve.temperature(min(max(ohm, lowest_ohm), highest_ohm)))
    return ends[0], ends[1]
