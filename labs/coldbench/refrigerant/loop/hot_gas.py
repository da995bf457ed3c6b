"""Discharge gas, also hotter than the property tables: there continued as an ideal gas.

Only the solver's way to an answer and a few ruinous conditions (a pumped-down loop at full
speed) come there; a result that ends there carries the flag "extrapolated vapour".
"""

import math
from functools import lru_cache
from typing import NamedTuple

from coldbench.errors import InputError
from coldbench.refrigerant.properties import Properties

_STEP_K = 10.0
_ROUNDS = 6  # of the search for a temperature of given entropy; it gains two digits each time


class TableEnd(NamedTuple):
    """Vapour at the hot end of the tables (SI); its heat capacity rises evenly from there."""

    temperature_K: float
    enthalpy: float
    entropy: float
    density: float
    heat_capacity: float
    rise_of_capacity: float

    def temperature_at(self, enthalpy: float) -> float:
        """Temperature beyond the end: h = h_e + c ΔT + a ΔT²/2 [K]."""
        excess, c, a = enthalpy - self.enthalpy, self.heat_capacity, self.rise_of_capacity
        return self.temperature_K + 2.0 * excess / (c + math.sqrt(c * c + 2.0 * a * excess))

    def entropy_at(self, temperature_K: float) -> float:
        """Entropy beyond the end: s = s_e + (c − a T_e) ln(T/T_e) + a ΔT [J/(kg K)]."""
        c, a, end = self.heat_capacity, self.rise_of_capacity, self.temperature_K
        return (self.entropy + (c - a * end) * math.log(temperature_K / end)
                + a * (temperature_K - end))

    def enthalpy_of(self, entropy: float) -> float:
        """Enthalpy beyond the end at an entropy [J/kg]."""
        c, a, hotter = self.heat_capacity, self.rise_of_capacity, self.temperature_K
        for _ in range(_ROUNDS):
            slope = (c + a * (hotter - self.temperature_K)) / hotter
            hotter += (entropy - self.entropy_at(hotter)) / slope
        excess = hotter - self.temperature_K
        return self.enthalpy + excess * (c + 0.5 * a * excess)


@lru_cache(maxsize=256)
def table_end(fluid: Properties, pressure_Pa: float) -> TableEnd:
    """Return the hottest vapour of the tables at a pressure.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa : float
        Pressure [Pa].

    Returns
    -------
    TableEnd
        Heat capacity and its rise from Δh/ΔT over the last 20 K.

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(table_end(properties("R134a"), 1e6).heat_capacity)
    1156
    """
    hottest = fluid.temperature_range_K[1]
    last, middle, first = (fluid.vapour_enthalpy(pressure_Pa, hottest - back * _STEP_K)
                           for back in range(3))
    rise = (last - 2.0 * middle + first) / _STEP_K**2
    return TableEnd(hottest, last, fluid.vapour_entropy(pressure_Pa, hottest),
                    fluid.vapour_density(pressure_Pa, hottest),
                    (last - middle) / _STEP_K + 0.5 * rise * _STEP_K, rise)


def gas_temperature(fluid: Properties, pressure_Pa: float, enthalpy: float) -> float:
    """Return the temperature of wet or superheated gas.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa, enthalpy : float
        State [Pa], [J/kg].

    Returns
    -------
    float
        Temperature [K].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> [round(gas_temperature(properties("R134a"), 1e6, h)) for h in (450e3, 700e3)]
    [341, 563]
    """
    try:
        return fluid.temperature(pressure_Pa, enthalpy)
    except InputError:
        return table_end(fluid, pressure_Pa).temperature_at(enthalpy)


def gas_density(fluid: Properties, pressure_Pa: float, enthalpy: float,
                temperature_K: float) -> float:
    """Return the density of wet or superheated gas whose temperature is known.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa, enthalpy, temperature_K : float
        State [Pa], [J/kg], [K].

    Returns
    -------
    float
        Density [kg/m³].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(gas_density(properties("R134a"), 1e6, 450e3, 341.14), 1)
    41.6
    """
    if enthalpy <= fluid.vapour_enthalpy_sat(pressure_Pa):
        return fluid.density(pressure_Pa, enthalpy)
    if temperature_K <= fluid.temperature_range_K[1]:
        return fluid.vapour_density(pressure_Pa, temperature_K)
    end = table_end(fluid, pressure_Pa)
    return end.density * end.temperature_K / temperature_K


def gas_entropy(fluid: Properties, pressure_Pa: float, enthalpy: float,
                temperature_K: float) -> float:
    """Return the entropy of wet or superheated gas whose temperature is known.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa, enthalpy, temperature_K : float
        State [Pa], [J/kg], [K].

    Returns
    -------
    float
        Entropy [J/(kg K)].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(gas_entropy(properties("R134a"), 3e5, 405e3, 280.9))
    1750
    """
    if enthalpy <= fluid.vapour_enthalpy_sat(pressure_Pa):
        return fluid.entropy(pressure_Pa, enthalpy)
    if temperature_K <= fluid.temperature_range_K[1]:
        return fluid.vapour_entropy(pressure_Pa, temperature_K)
    return table_end(fluid, pressure_Pa).entropy_at(temperature_K)


def isentropic_enthalpy(fluid: Properties, pressure_Pa: float, entropy: float) -> float:
    """Return the enthalpy after compression without loss.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa, entropy : float
        Pressure behind [Pa], entropy before [J/(kg K)].

    Returns
    -------
    float
        Enthalpy [J/kg].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(isentropic_enthalpy(properties("R134a"), 8e5, 1766.0) / 1e3, 1)
    431.7
    """
    try:
        return fluid.vapour_enthalpy_ps(pressure_Pa, entropy)
    except InputError:
        return table_end(fluid, pressure_Pa).enthalpy_of(entropy)
