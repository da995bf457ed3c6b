"""Compressor and the hot line behind it: flow delivered, work, heat to the air around.

Sources: volumetric efficiency of a piston compressor with dead space,
η_v = η_0 − c (r^(1/n) − 1), and isentropic efficiency as in any refrigeration text (common
practice); the shape of the efficiency curve against pressure ratio is ours.
"""

import math
from typing import NamedTuple

from coldbench.refrigerant.loop.hot_gas import gas_temperature, isentropic_enthalpy
from coldbench.refrigerant.loop.parts import CompressorParts
from coldbench.refrigerant.loop.smooth import soft_positive
from coldbench.refrigerant.properties import Properties

REFERENCE_SPEED_RPM = 1500.0
_SMOOTHING = 0.01  # width over which the flow fades out instead of reaching 0 with a corner


class Discharge(NamedTuple):
    """What leaves the compressor for each kilogram delivered."""

    enthalpy_J_per_kg: float
    work_J_per_kg: float
    shell_loss_J_per_kg: float


def volumetric_efficiency(parts: CompressorParts, pressure_ratio: float, speed_rpm: float,
                          leak: float = 0.0) -> float:
    """Return η_v = (η_0 − c (r^(1/n) − 1)) (1 − k (N − N_ref)) (1 − leak), never below 0.

    Parameters
    ----------
    parts : CompressorParts
        Sizes.
    pressure_ratio : float
        Discharge over suction pressure.
    speed_rpm : float
        Speed [1/min].
    leak : float
        Share of the swept gas that leaks back inside, 0 to 1.

    Returns
    -------
    float
        Delivered over swept volume.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> round(volumetric_efficiency(blue_parts().compressor, 4.0, 1500.0), 2)
    0.78
    """
    expanded = parts.clearance_share * (pressure_ratio ** (1.0 / parts.expansion_exponent) - 1.0)
    filled = soft_positive(parts.volumetric_efficiency - expanded, _SMOOTHING)
    slowed = 1.0 - parts.speed_loss_per_rpm * (speed_rpm - REFERENCE_SPEED_RPM)
    return filled * slowed * (1.0 - leak)


def isentropic_efficiency(parts: CompressorParts, pressure_ratio: float,
                          leak: float = 0.0) -> float:
    """Return η_s, best at one pressure ratio and falling on both sides of it.

    η_s = (η_least + (η_best − η_least) exp(−((r − r_best)/w)²)) (1 − leak): gas that leaks
    back is compressed again, so each delivered kilogram costs 1/(1 − leak) as much.

    Parameters
    ----------
    parts : CompressorParts
        Sizes.
    pressure_ratio : float
        Discharge over suction pressure.
    leak : float
        Share of the swept gas that leaks back inside, 0 to 1.

    Returns
    -------
    float
        Isentropic over shaft work.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> round(isentropic_efficiency(blue_parts().compressor, 3.5), 2)
    0.7
    """
    off = (pressure_ratio - parts.best_pressure_ratio) / parts.pressure_ratio_width
    least = parts.least_isentropic_efficiency
    shape = least + (parts.best_isentropic_efficiency - least) * math.exp(-off * off)
    return shape * (1.0 - leak)


def delivered_flow(parts: CompressorParts, suction_density: float, pressure_ratio: float,
                   speed_rpm: float, leak: float = 0.0) -> float:
    """Return the mass flow ṁ = η_v V N ρ_suction.

    Parameters
    ----------
    parts : CompressorParts
        Sizes.
    suction_density : float
        Density at the suction port [kg/m³].
    pressure_ratio : float
        Discharge over suction pressure.
    speed_rpm : float
        Speed [1/min].
    leak : float
        Share that leaks back, 0 to 1.

    Returns
    -------
    float
        Mass flow [kg/s].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> round(delivered_flow(blue_parts().compressor, 14.0, 4.0, 1500.0), 4)
    0.0299
    """
    efficiency = volumetric_efficiency(parts, pressure_ratio, speed_rpm, leak)
    return efficiency * parts.displacement_m3 * speed_rpm / 60.0 * suction_density


def discharge(parts: CompressorParts, fluid: Properties, suction_Pa: float,
              suction_enthalpy: float, suction_entropy: float, discharge_Pa: float,
              mass_flow: float, ambient_K: float, leak: float = 0.0) -> Discharge:
    """Return work and state of the gas behind the compressor.

    Work is (h_s − h_1)/η_s. The shell gives UA (T − T_ambient) to the air, but never more than
    the superheat: q = Δh (1 − exp(−UA ΔT / (ṁ Δh))) with Δh above saturated vapour. A fixed
    share instead would be far off at the small flows of a pumped-down loop.

    Parameters
    ----------
    parts : CompressorParts
        Sizes.
    fluid : Properties
        Refrigerant.
    suction_Pa, suction_enthalpy, suction_entropy : float
        State at the suction port [Pa], [J/kg], [J/(kg K)]; it may be wet.
    discharge_Pa : float
        Pressure behind the compressor [Pa].
    mass_flow : float
        Flow [kg/s].
    ambient_K : float
        Air around [K].
    leak : float
        Share that leaks back, 0 to 1.

    Returns
    -------
    Discharge

    Raises
    ------
    InputError
        If a pressure is outside the property tables.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> out = discharge(blue_parts().compressor, r134a, 3e5, 405e3, r134a.entropy(3e5, 405e3),
    ...                 12e5, 0.03, 303.0)
    >>> round(out.work_J_per_kg / 1e3), round(out.enthalpy_J_per_kg / 1e3)
    (43, 443)
    """
    isentropic = isentropic_enthalpy(fluid, discharge_Pa, suction_entropy) - suction_enthalpy
    work = isentropic / isentropic_efficiency(parts, discharge_Pa / suction_Pa, leak)
    adiabatic = suction_enthalpy + work
    above_dew = adiabatic - fluid.vapour_enthalpy_sat(discharge_Pa)
    if above_dew <= 0.0:
        return Discharge(adiabatic, work, 0.0)
    warmer = soft_positive(gas_temperature(fluid, discharge_Pa, adiabatic) - ambient_K, 0.5)
    transfer = parts.shell_loss_W_per_K * warmer / (mass_flow * above_dew)
    loss = above_dew * -math.expm1(-transfer)
    return Discharge(adiabatic - loss, work, loss)
