"""Hand valve in the liquid line and thermostatic expansion valve, both as orifices.

Orifice: ṁ = C A √(2 ρ Δp), with the density of what enters it, so flash gas in the liquid line
throttles the expansion valve (source: any fluid mechanics text; homogeneous inlet density is
our simplification).
"""

import math
from functools import lru_cache

from coldbench.refrigerant.loop.faults import HEALTHY, Effects
from coldbench.refrigerant.loop.parts import ExpansionValveParts, LiquidLineParts
from coldbench.refrigerant.loop.smooth import soft_between, soft_positive
from coldbench.refrigerant.properties import Properties

_CORNER = 0.004  # rounding of the valve's end stops, as a share of full opening
_PRESSURE_CORNER_Pa = 5.0e3  # rounding of the bulb's pressure limit


def orifice_drop(mass_flow: float, area_m2: float, density: float, coefficient: float) -> float:
    """Return the pressure an orifice needs: Δp = (ṁ / (C A))² / (2 ρ).

    Parameters
    ----------
    mass_flow : float
        Flow [kg/s].
    area_m2 : float
        Flow area [m²].
    density : float
        Density at the inlet [kg/m³].
    coefficient : float
        Discharge coefficient C.

    Returns
    -------
    float
        Pressure drop [Pa].

    Examples
    --------
    >>> round(orifice_drop(0.03, 2e-6, 1150.0, 0.7) / 1e3)
    200
    """
    velocity = mass_flow / (coefficient * area_m2)
    return velocity * velocity / (2.0 * density)


def hand_valve_area(parts: LiquidLineParts, angle_deg: float, area_factor: float = 1.0) -> float:
    """Return the flow area of hand valve and liquid line in series.

    The ball has a shaped opening: A = A_bleed + A_bore cos²(angle), so the lever acts over its
    last third and the bleed hole stays open at 90 degrees. In series 1/A² adds up.

    Parameters
    ----------
    parts : LiquidLineParts
        Sizes.
    angle_deg : float
        0 (open) to 90 (shut).
    area_factor : float
        Factor on the area of the line (a restriction).

    Returns
    -------
    float
        Area [m²].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> [round(hand_valve_area(blue_parts().liquid_line, a) * 1e6, 2) for a in (0, 45, 75, 90)]
    [5.86, 3.42, 0.57, 0.1]
    """
    bleed, bore, line = (math.pi / 4.0 * d * d for d in (parts.bleed_bore_m, parts.valve_bore_m,
                                                         parts.line_bore_m))
    valve = bleed + bore * math.cos(math.radians(angle_deg)) ** 2
    line *= area_factor
    return 1.0 / math.sqrt(1.0 / valve**2 + 1.0 / line**2)


def expansion_valve_area(parts: ExpansionValveParts, fluid: Properties, bulb_K: float,
                         evaporator_Pa: float, effects: Effects = HEALTHY) -> float:
    """Return the flow area of the expansion valve.

    The bulb's pressure (that of the refrigerant at its temperature, limited by its filling)
    opens; evaporator pressure and spring close.

    Parameters
    ----------
    parts : ExpansionValveParts
        Sizes.
    fluid : Properties
        Refrigerant; the bulb is filled with the same.
    bulb_K : float
        Temperature of the bulb [K].
    evaporator_Pa : float
        Pressure below the diaphragm [Pa].
    effects : Effects
        Faults.

    Returns
    -------
    float
        Area [m²], never quite 0: the seat leaks a little.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> from coldbench.refrigerant.properties import properties
    >>> valve, r134a = blue_parts().expansion_valve, properties("R134a")
    >>> cold, warm = (expansion_valve_area(valve, r134a, T, 3e5) * 1e6 for T in (275.0, 281.0))
    >>> round(cold, 3), round(warm, 1)
    (0.008, 1.4)
    """
    lift = _lift(parts, fluid, bulb_K, evaporator_Pa, effects.bulb_pressure_factor)
    most = effects.txv_most_opening
    least = min(max(parts.seat_leak_share, effects.txv_least_opening), most)
    opening = most if most - least < 1e-9 else soft_between(lift, least, most, _CORNER)
    return parts.full_area_m2 * opening * effects.txv_inlet_area_factor


def _lift(parts: ExpansionValveParts, fluid: Properties, bulb_K: float, evaporator_Pa: float,
          bulb_pressure_factor: float) -> float:
    """Opening the forces ask for, as a share of full; below 0 shut, above 1 beyond the stop."""
    rise = _slope(fluid, parts.spring_reference_K)
    ceiling = parts.most_operating_pressure_Pa
    hottest = fluid.saturation_temperature(2.0 * ceiling)
    bulb_Pa = fluid.saturation_pressure(min(bulb_K, hottest)) * bulb_pressure_factor
    bulb_Pa = ceiling - soft_positive(ceiling - bulb_Pa, _PRESSURE_CORNER_Pa)
    net_Pa = bulb_Pa - evaporator_Pa - rise * parts.spring_K
    return net_Pa / (rise * parts.opening_span_K)


@lru_cache(maxsize=64)
def _slope(fluid: Properties, temperature_K: float) -> float:
    """Slope of the saturation curve [Pa/K]."""
    return 0.5 * (fluid.saturation_pressure(temperature_K + 1.0)
                  - fluid.saturation_pressure(temperature_K - 1.0))
