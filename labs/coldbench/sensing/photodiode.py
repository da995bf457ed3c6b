"""Photodiode as sun-load sensor: its reverse current is in proportion to the light on it.

    I = S·E·cos θ + I_dark,   V_input = V_ref − I·R_pull-up       (reverse biased, pulled up)

So more sun means a lower voltage, and an open sensor looks like darkness. The dark current
doubles every 10 K (common practice). A lamp is not the sun: at distance d a small lamp gives
E = E_1m/d², good when d is five times the lamp's width or more (common practice).
"""

from dataclasses import dataclass

import numpy as np

from coldbench.sensing.checks import checked, plain


@dataclass(frozen=True)
class SunSensor:
    """A photodiode that measures sun load.

    Parameters
    ----------
    sensitivity_A_m2_W : float
        Current per irradiance S [A·m²/W].
    dark_current_A : float
        Current without light at 25 °C [A].

    Examples
    --------
    >>> sensor = SunSensor(0.8e-6)
    >>> round(sensor.current(1000.0) * 1e6, 3), round(sensor.irradiance(0.4e-3))
    (800.0, 500)
    """

    sensitivity_A_m2_W: float
    dark_current_A: float = 0.0

    def __post_init__(self) -> None:
        checked(self.sensitivity_A_m2_W, "sensitivity", 0.0, unit="A m2/W", above=True)
        checked(self.dark_current_A, "dark current", 0.0, unit="A")

    def current(self, irradiance_W_m2, angle_rad: float = 0.0, temperature_K: float = 298.15):
        """Return the current: I = S·E·cos θ + I_dark·2^((T − 298.15)/10).

        Parameters
        ----------
        irradiance_W_m2 : float or array_like
            Irradiance across the beam, 0 or more [W/m²].
        angle_rad : float
            Angle θ between beam and the sensor's axis; beyond 90° no beam arrives [rad].
        temperature_K : float
            Temperature of the diode [K].

        Returns
        -------
        float or ndarray
            Current [A].
        """
        light = checked(irradiance_W_m2, "irradiance", 0.0, unit="W/m2")
        cosine = max(float(np.cos(checked(angle_rad, "angle", unit="rad"))), 0.0)
        warmth = checked(temperature_K, "temperature", 0.0, unit="K", above=True) - 298.15
        return (self.sensitivity_A_m2_W * light * cosine
                + self.dark_current_A * 2.0 ** (warmth / 10.0))

    def irradiance(self, current_A):
        """Return the irradiance of a current, at 25 °C and along the axis; never below 0.

        Parameters
        ----------
        current_A : float or array_like
            Current [A].

        Returns
        -------
        float or ndarray
            Irradiance [W/m²].
        """
        current = checked(current_A, "current", unit="A")
        return plain(np.maximum(current - self.dark_current_A, 0.0) / self.sensitivity_A_m2_W)


def lamp_irradiance(irradiance_at_1_m_W_m2: float, distance_m):
    """Return the irradiance of a small lamp: E = E_1m·(1 m/d)².

    Parameters
    ----------
    irradiance_at_1_m_W_m2 : float
        At one metre [W/m²].
    distance_m : float or array_like
        Five times the lamp's width or more [m].

    Returns
    -------
    float or ndarray
        Irradiance [W/m²].

    Raises
    ------
    InputError
        If the distance is not above 0.

    Examples
    --------
    >>> lamp_irradiance(100.0, 0.5)
    400.0
    """
    distance = checked(distance_m, "distance", 0.0, unit="m", above=True)
    return checked(irradiance_at_1_m_W_m2, "irradiance", 0.0, unit="W/m2") / distance**2
