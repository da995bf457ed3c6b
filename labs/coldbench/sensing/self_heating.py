"""Self-heating: the measuring current warms the sensor above what it measures.

    T_sensor = T_medium + P/δ,   δ the dissipation constant [W/K]   IEC 60539-1, from memory

δ in still air is a few mW/K; in water ten times that. A pull-up limits the power, so one
steady temperature exists; the solution is bracketed and checked.
"""

from coldbench.sensing.checks import checked
from coldbench.sensing.divider import divider_power
from coldbench.sensing.thermistor import ThermistorCurve


def self_heated_temperature(curve: ThermistorCurve, medium_temperature_K: float,
                            dissipation_W_K: float, pull_up_ohm: float,
                            reference_V: float = 5.0) -> float:
    """Return the temperature a thermistor in a divider reaches: T = T_medium + P(R(T))/δ.

    Parameters
    ----------
    curve : ThermistorCurve
        The thermistor.
    medium_temperature_K : float
        What it should measure, within the curve's range [K].
    dissipation_W_K : float
        Dissipation constant δ [W/K].
    pull_up_ohm, reference_V : float
        The divider [Ohm], [V].

    Returns
    -------
    float
        Coolest steady temperature of the sensor [K].

    Raises
    ------
    InputError
        If the heated sensor leaves the curve's range.

    Examples
    --------
    >>> from coldbench.sensing.thermistor import beta_curve
    >>> hot = self_heated_temperature(beta_curve(10e3, 3435.0), 298.15, 2e-3, 2.2e3)
    >>> round(hot - 298.15, 3)
    0.858
    """
    from scipy.optimize import brentq  # a third of a second to import, so only when needed

    dissipation = checked(dissipation_W_K, "dissipation constant", 0.0, unit="W/K", above=True)
    medium = checked(medium_temperature_K, "medium temperature", curve.lowest_temperature_K,
                     curve.highest_temperature_K, "K")

    def excess(temperature_K: float) -> float:
        power = divider_power(curve.resistance(temperature_K), pull_up_ohm, reference_V)
        return temperature_K - medium - power / dissipation

    # P(R) is greatest at R = R_pull-up, so no solution lies above this
    hottest = medium + reference_V**2 / (4.0 * pull_up_ohm) / dissipation
    checked(hottest, "self-heated temperature", 0.0, curve.highest_temperature_K, "K")
    return float(brentq(excess, medium, hottest + 1e-9, xtol=1e-10))
