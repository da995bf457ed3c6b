"""Mass of refrigerant in tubes: void fraction of a two-phase flow, integrated along a tube.

Source: Zivi 1964, void fraction by minimum entropy production (from memory):
α = 1 / (1 + (1 − x)/x (ρ_g/ρ_f)^(2/3)).
"""

import math

from coldbench.refrigerant.properties import Properties


def mean_void_fraction(first_quality: float, last_quality: float, density_ratio: float) -> float:
    """Return Zivi's void fraction averaged over a tube whose quality changes evenly.

    With k = (ρ_g/ρ_f)^(2/3), α = x / (k + (1 − k) x); its integral is
    (x − k/(1 − k) ln(k + (1 − k) x)) / (1 − k).

    Parameters
    ----------
    first_quality, last_quality : float
        Quality at both ends, 0 to 1, in either order.
    density_ratio : float
        ρ_g/ρ_f, between 0 and 1.

    Returns
    -------
    float
        Share of the tube's volume that is vapour.

    Examples
    --------
    >>> round(mean_void_fraction(0.0, 1.0, 0.05), 3)
    0.794
    """
    k = density_ratio ** (2.0 / 3.0)
    span = last_quality - first_quality
    if abs(span) < 1e-6:
        return _void(0.5 * (first_quality + last_quality), k)
    rest = 1.0 - k
    first, last = k + rest * first_quality, k + rest * last_quality
    return (1.0 - k / rest * math.log(last / first) / span) / rest


def _void(quality: float, k: float) -> float:
    return quality / (k + (1.0 - k) * quality)


def two_phase_density(first_quality: float, last_quality: float, vapour: float,
                      liquid: float) -> float:
    """Return the mean density of a two-phase tube.

    Parameters
    ----------
    first_quality, last_quality : float
        Quality at both ends, 0 to 1.
    vapour, liquid : float
        Densities of the saturated phases [kg/m³].

    Returns
    -------
    float
        Mass over volume [kg/m³].

    Examples
    --------
    >>> round(two_phase_density(0.0, 1.0, 50.0, 1100.0))
    259
    """
    void = mean_void_fraction(first_quality, last_quality, vapour / liquid)
    return void * vapour + (1.0 - void) * liquid


def flowing_density(fluid: Properties, pressure_Pa: float, enthalpy: float,
                    homogeneous: float) -> float:
    """Return the mean density in a line: one phase, or Zivi's share of both.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa : float
        Pressure [Pa].
    enthalpy : float
        Specific enthalpy of the flow [J/kg].
    homogeneous : float
        Density of the unslipped flow there [kg/m³]; right as it is where one phase flows.

    Returns
    -------
    float
        Mass over volume [kg/m³].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> [round(flowing_density(r134a, 1e6, h, r134a.density(1e6, h))) for h in (240e3, 280e3)]
    [1194, 500]
    """
    quality = fluid.quality(pressure_Pa, enthalpy)
    if not 0.0 < quality < 1.0:
        return homogeneous
    return two_phase_density(quality, quality, fluid.vapour_density_sat(pressure_Pa),
                             fluid.liquid_density_sat(pressure_Pa))
