"""The loop at rest: compressor still, pressures equal, everything at ambient temperature."""

from coldbench.refrigerant.loop.balance import Problem
from coldbench.refrigerant.loop.condenser_air import AIR_GAS_CONSTANT
from coldbench.refrigerant.loop.faults import Fault
from coldbench.refrigerant.loop.parts import LoopParts
from coldbench.refrigerant.loop.result import LoopResult, Residuals, ServicePoint
from coldbench.refrigerant.properties import Properties

_PLACES = ("compressor inlet", "compressor outlet", "liquid line", "after hand valve",
           "evaporator inlet", "suction line")
_HALVINGS = 60


def loop_volume(parts: LoopParts) -> float:
    """Return the room for refrigerant in the whole loop.

    Parameters
    ----------
    parts : LoopParts
        Sizes.

    Returns
    -------
    float
        Volume [m³].

    Examples
    --------
    >>> from coldbench.refrigerant.loop.parts import blue_parts
    >>> 1e-3 < loop_volume(blue_parts()) < 4e-3
    True
    """
    return (parts.compressor.discharge_volume_m3 + parts.condenser.volume_m3
            + parts.condenser.receiver_volume_m3 + parts.liquid_line.volume_m3
            + parts.evaporator.volume_m3 + parts.suction_line.volume_m3)


def resting_pressure(fluid: Properties, density: float, temperature_K: float) -> float:
    """Return the pressure of refrigerant shut into a volume.

    Parameters
    ----------
    fluid : Properties
        Refrigerant.
    density : float
        Mass over volume [kg/m³].
    temperature_K : float
        Temperature [K].

    Returns
    -------
    float
        Saturation pressure while liquid is left, else the pressure of that vapour [Pa].

    Examples
    --------
    >>> from coldbench.refrigerant.properties import properties
    >>> r134a = properties("R134a")
    >>> [round(resting_pressure(r134a, rho, 303.15) / 1e3) for rho in (300.0, 20.0)]
    [770, 449]
    """
    saturation = fluid.saturation_pressure(temperature_K)
    if density >= fluid.vapour_density_sat(saturation):
        return saturation
    low, high = fluid.pressure_range_Pa[0], saturation * (1.0 - 1e-9)
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if fluid.vapour_density(middle, temperature_K) < density:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)


def at_rest(problem: Problem, faults: tuple[Fault, ...]) -> LoopResult:
    """Return the loop long after the compressor has stopped.

    Air in the system adds its own pressure, so both gauges stand above saturation.

    Parameters
    ----------
    problem : Problem
        Settings, parts and faults.
    faults : tuple of Fault
        What is wrong.

    Returns
    -------
    LoopResult
        With the flag "at rest" and no flow.

    Examples
    --------
    >>> from coldbench.refrigerant.loop.conditions import Conditions
    >>> from coldbench.refrigerant.loop.solver import solve_loop
    >>> rest = solve_loop(Conditions(speed_rpm=0.0, ambient_K=303.15))
    >>> round(rest.high_side_gauge_Pa / 1e3), rest.high_side_Pa == rest.low_side_Pa
    (669, True)
    """
    fluid, parts = problem.fluid, problem.parts
    temperature, volume = problem.conditions.ambient_K, loop_volume(parts)
    refrigerant_Pa = resting_pressure(fluid, problem.charge_kg / volume, temperature)
    liquid_m3 = _liquid_volume(fluid, problem.charge_kg, volume, refrigerant_Pa, temperature)
    air_Pa = (problem.effects.air_kg * AIR_GAS_CONSTANT * temperature / (volume - liquid_m3))
    both = refrigerant_Pa + air_Pa
    saturation = fluid.saturation_temperature(both)
    wet = liquid_m3 > 0.0
    enthalpy = _enthalpy(fluid, problem.charge_kg / volume, refrigerant_Pa, temperature)
    return LoopResult(
        conditions=problem.conditions, faults=faults, flags=("at rest",),
        residuals=Residuals(0.0, 0.0), high_side_Pa=both, low_side_Pa=both,
        condensing_temperature_K=fluid.saturation_temperature(refrigerant_Pa),
        evaporating_temperature_K=saturation,
        superheat_K=0.0 if wet else max(temperature - saturation, 0.0),
        subcooling_K=max(saturation - temperature, 0.0) if wet else 0.0,
        **dict.fromkeys(_TEMPERATURES, temperature), **dict.fromkeys(_PRESSURES, both),
        **dict.fromkeys(_NOTHING, 0.0), air_partial_pressure_Pa=air_Pa,
        vent_temperature_K=problem.air.temperature_K,
        vent_humidity_ratio=problem.air.humidity_ratio,
        coil_surface_temperature_K=problem.air.temperature_K,
        receiver_level=min(liquid_m3 / parts.condenser.receiver_volume_m3, 1.0),
        liquid_line_quality=0.0 if wet else 1.0, evaporator_outlet_quality=1.0,
        charge_kg=problem.charge_kg, unknowns=None,
        points=tuple(ServicePoint(name, refrigerant_Pa, enthalpy, temperature)
                     for name in _PLACES))


_TEMPERATURES = ("discharge_temperature_K", "liquid_line_temperature_K",
                 "after_valve_temperature_K", "evaporator_inlet_temperature_K",
                 "suction_temperature_K", "compressor_inlet_temperature_K")
_PRESSURES = ("after_valve_Pa", "evaporator_inlet_Pa", "compressor_inlet_Pa", "discharge_Pa")
_NOTHING = ("coil_wetted_share", "condensate_kg_per_s", "mass_flow_kg_per_s", "capacity_W",
            "sensible_capacity_W", "compressor_power_W", "condenser_heat_W", "shell_loss_W",
            "cop", "flooded_share", "expansion_valve_area_m2")


def _liquid_volume(fluid: Properties, mass: float, volume: float, pressure_Pa: float,
                   temperature_K: float) -> float:
    """Room taken by liquid [m³]: m = ρ_f V_f + ρ_g (V − V_f)."""
    if pressure_Pa < fluid.saturation_pressure(temperature_K):
        return 0.0
    vapour, liquid = fluid.vapour_density_sat(pressure_Pa), fluid.liquid_density_sat(pressure_Pa)
    return (mass - vapour * volume) / (liquid - vapour)


def _enthalpy(fluid: Properties, density: float, pressure_Pa: float, temperature_K: float) -> float:
    """Mean enthalpy of the shut-in refrigerant [J/kg]."""
    if pressure_Pa < fluid.saturation_pressure(temperature_K):
        return fluid.vapour_enthalpy(pressure_Pa, temperature_K)
    vapour, liquid = fluid.vapour_density_sat(pressure_Pa), fluid.liquid_density_sat(pressure_Pa)
    quality = (1.0 / density - 1.0 / liquid) / (1.0 / vapour - 1.0 / liquid)
    bubble = fluid.liquid_enthalpy_sat(pressure_Pa)
    return bubble + quality * (fluid.vapour_enthalpy_sat(pressure_Pa) - bubble)
