"""How the pressure in a closed volume answers to mass and heat, refrigerant in equilibrium.

Wet: U = M a(p) + V φ(p) with φ = (u_g − u_f)/(v_g − v_f) and a = u_f − v_f φ, from the lever rule
(source: any thermodynamics text). Dry: u = u(p, ρ) of the vapour. Metal that follows the
refrigerant's temperature adds C T.
"""

import math
from functools import lru_cache
from typing import NamedTuple

from coldbench.refrigerant.properties import Properties

_NODES = 400
_NUDGE = 1e-4  # relative step of differences in the dry region


class Store(NamedTuple):
    """Refrigerant in one volume (SI): temperature, slopes of the energy stored."""

    temperature_K: float
    energy_per_pressure: float  # ∂U/∂p at constant mass [J/Pa]
    energy_per_mass: float  # ∂U/∂M at constant pressure [J/kg]
    dry: bool


class _Column(NamedTuple):
    """Wet storage at nodes even in ln p; slopes are against p."""

    start: float
    per_step: float
    mass_term: list[float]
    mass_slope: list[float]
    volume_slope: list[float]
    temperature_slope: list[float]


@lru_cache(maxsize=8)
def _wet_column(fluid: Properties) -> _Column:
    low, high = fluid.pressure_range_Pa
    start, end = math.log(low * 1.0001), math.log(high * 0.9999)
    step = (end - start) / (_NODES - 1)
    pressures = [math.exp(start + i * step) for i in range(_NODES)]
    terms = [_wet_terms(fluid, p) for p in pressures]
    columns = []
    for k in range(3):
        slope = [(terms[min(i + 1, _NODES - 1)][k] - terms[max(i - 1, 0)][k])
                 / (pressures[min(i + 1, _NODES - 1)] - pressures[max(i - 1, 0)])
                 for i in range(_NODES)]
        columns.append(slope)
    return _Column(start, 1.0 / step, [t[0] for t in terms], *columns)


def _wet_terms(fluid: Properties, p: float) -> tuple[float, float, float]:
    """a(p) [J/kg], φ(p) [J/m³], saturation temperature [K]."""
    liquid_v, vapour_v = 1.0 / fluid.liquid_density_sat(p), 1.0 / fluid.vapour_density_sat(p)
    liquid_u = fluid.liquid_enthalpy_sat(p) - p * liquid_v
    vapour_u = fluid.vapour_enthalpy_sat(p) - p * vapour_v
    phi = (vapour_u - liquid_u) / (vapour_v - liquid_v)
    return liquid_u - liquid_v * phi, phi, fluid.saturation_temperature(p)


def store(fluid: Properties, volume_m3: float, pressure_Pa: float, mass_kg: float,
          metal_J_per_K: float = 0.0) -> Store:
    """Return temperature and slopes of the energy of refrigerant shut into a volume.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    volume_m3 : float
        Volume [m³].
    pressure_Pa : float
        Its pressure [Pa].
    mass_kg : float
        Its mass [kg].
    metal_J_per_K : float
        Metal at the refrigerant's temperature [J/K].

    Returns
    -------
    Store

    Raises
    ------
    InputError
        If the pressure is outside the property tables.

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> wet, dry = store(r134a, 1e-3, 300e3, 0.1), store(r134a, 1e-3, 300e3, 0.0137)
    >>> round(wet.temperature_K, 2), wet.dry, round(dry.temperature_K, 1), dry.dry
    (273.82, False, 289.3, True)
    """
    density = mass_kg / volume_m3
    if density < fluid.vapour_density_sat(pressure_Pa):
        return _dry(fluid, pressure_Pa, density, volume_m3, metal_J_per_K)
    at = _wet_column(fluid)
    place = (math.log(pressure_Pa) - at.start) * at.per_step
    i = min(max(int(place), 0), _NODES - 2)
    share = place - i

    def between(values: list[float]) -> float:
        return values[i] + share * (values[i + 1] - values[i])

    rise = (mass_kg * between(at.mass_slope) + volume_m3 * between(at.volume_slope)
            + metal_J_per_K * between(at.temperature_slope))
    return Store(fluid.saturation_temperature(pressure_Pa), rise, between(at.mass_term), False)


def _dry(fluid: Properties, p: float, density: float, volume: float, metal: float) -> Store:
    temperature = dry_temperature(fluid, p, density)

    def energy(pressure: float, rho: float) -> float:
        T = dry_temperature(fluid, pressure, rho)
        inner = fluid.vapour_enthalpy(pressure, T) - pressure / rho
        return inner * rho * volume + metal * T

    here, less = energy(p, density), density * (1.0 - _NUDGE)
    per_pressure = (energy(p * (1.0 + _NUDGE), density) - here) / (p * _NUDGE)
    per_mass = (here - energy(p, less)) / (density * _NUDGE * volume)
    return Store(temperature, per_pressure, per_mass, True)


def dry_temperature(fluid: Properties, pressure_Pa: float, density: float) -> float:
    """Return the temperature of vapour of a pressure and density.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    pressure_Pa, density : float
        State [Pa], [kg/m³].

    Returns
    -------
    float
        Temperature [K], held within the tables of vapour.

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> round(dry_temperature(properties("R134a"), 140e3, 6.85), 1)
    263.0
    """
    cold, hot = fluid.saturation_temperature(pressure_Pa), fluid.temperature_range_K[1]
    return root(lambda T: 1.0 - fluid.vapour_density(pressure_Pa, T) / density, cold, hot, 1e-7)


def root(function, low: float, high: float, tolerance: float) -> float:
    """Return where a rising function is 0, by false position with halved weights (Illinois).

    Parameters
    ----------
    function : callable
        Rising function of one variable.
    low, high : float
        Search range; an end of it is returned if the function does not cross 0 inside.
    tolerance : float
        On the value of the function.

    Returns
    -------
    float

    Examples
    --------
    >>> round(root(lambda x: x**3 - 8.0, 0.0, 5.0, 1e-9), 6)
    2.0
    """
    below = function(low)
    if below >= 0.0:
        return low
    above = function(high)
    if above <= 0.0:
        return high
    side = 0
    for _ in range(80):
        x = (low * above - high * below) / (above - below)
        value = function(x)
        if abs(value) < tolerance:
            break
        if value < 0.0:
            low, below = x, value
            above *= 0.5 if side == -1 else 1.0
            side = -1
        else:
            high, above = x, value
            below *= 0.5 if side == 1 else 1.0
            side = 1
    return x
