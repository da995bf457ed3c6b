"""A solved loop in words: what instruments show, and what only the computation knows."""

from coldbench.panels.loop_picture import LoopView
from coldbench.panels.units import Units, unbroken
from coldbench.refrigerant.loop import FLAGS, LoopResult

VISIBLE_FLAGS = ("at rest", "high-pressure trip")
"""Flags anybody at the bench sees; the others need an explanation."""

_TEMPERATURES = {  # field of LoopResult: words of the row
    "discharge_temperature_K": "discharge pipe",
    "liquid_line_temperature_K": "liquid line",
    "after_valve_temperature_K": "after the hand valve",
    "evaporator_inlet_temperature_K": "evaporator inlet",
    "suction_temperature_K": "suction pipe",
    "vent_temperature_K": "air at the vent",
}


def view(result: LoopResult, units: Units, explain: bool) -> LoopView:
    """The drawing's words of a solved loop."""
    at, conditions = units.temperature, result.conditions
    humidity = f"{100 * conditions.intake_humidity:.0f} % humidity"
    return LoopView(
        discharge=at(result.discharge_temperature_K),
        liquid_line=at(result.liquid_line_temperature_K),
        after_valve=at(result.after_valve_temperature_K),
        evaporator_inlet=at(result.evaporator_inlet_temperature_K),
        suction=at(result.suction_temperature_K), vent=at(result.vent_temperature_K),
        condenser_air=f"air {at(conditions.ambient_K)}, fan {conditions.condenser_fan}",
        cabin_air=f"{at(conditions.intake_K)}, {humidity}",
        speed=f"{conditions.speed_rpm:.0f} rpm" if result.running else "at rest",
        valve_angle_deg=conditions.valve_angle_deg,
        receiver_level=result.receiver_level if explain else None,
        bubbles=result.liquid_line_quality if result.running else 0.0,
        iced="icing" in result.flags, running=result.running)  # fmt: skip


def sentence(result: LoopResult, units: Units, explain: bool) -> str:
    """Gauges, vent, and what is to be noted, in words."""
    lines = [f"High side {units.pressure(result.high_side_gauge_Pa)}, "
             f"low side {units.pressure(result.low_side_gauge_Pa)} gauge; "
             f"vent {units.temperature(result.vent_temperature_K)}."]  # fmt: skip
    if explain and result.running:
        lines.append(f"Superheat {units.difference(result.superheat_K)}, "
                     f"subcooling {units.difference(result.subcooling_K)}.")  # fmt: skip
    known = [flag for flag in result.flags if explain or flag in VISIBLE_FLAGS]
    if known:
        lines.append("Note: " + "; ".join(FLAGS[flag] for flag in known) + ".")
    return unbroken(*lines)


def rows(result: LoopResult, units: Units, explain: bool) -> tuple[tuple[str, str], ...]:
    """Thermometers, and with `explain` what the computation adds."""
    found = [(words, units.temperature(getattr(result, name)))
             for name, words in _TEMPERATURES.items()]  # fmt: skip
    if not result.running:
        return tuple(found)
    found.append(("water from the coil", f"{result.condensate_kg_per_s * 3.6e6:.0f} g/h"))
    if explain:
        found += [
            ("superheat", units.difference(result.superheat_K)),
            ("subcooling", units.difference(result.subcooling_K)),
            ("mass flow", f"{result.mass_flow_kg_per_s * 1e3:.1f} g/s"),
            ("cooling capacity", f"{result.capacity_W / 1e3:.2f} kW"),
            ("compressor power", f"{result.compressor_power_W / 1e3:.2f} kW"),
            ("COP", f"{result.cop:.2f}"),
        ]
    return tuple(found)


def values(result: LoopResult, explain: bool) -> dict:
    """Plain numbers in the units the names say."""
    found = {"fluid": result.conditions.fluid,
             "high_side_gauge_kPa": result.high_side_gauge_Pa / 1e3,
             "low_side_gauge_kPa": result.low_side_gauge_Pa / 1e3}  # fmt: skip
    for name in _TEMPERATURES:
        found[name.removesuffix("_K") + "_degC"] = getattr(result, name) - 273.15
    found["condensate_g_h"] = result.condensate_kg_per_s * 3.6e6
    found["sight_glass"] = "bubbles" if result.liquid_line_quality > 0.0 else "clear"
    if not result.running:
        found["sight_glass"] = "still"
    if explain:
        found |= {
            "superheat_K": result.superheat_K, "subcooling_K": result.subcooling_K,
            "mass_flow_g_s": result.mass_flow_kg_per_s * 1e3, "capacity_W": result.capacity_W,
            "compressor_power_W": result.compressor_power_W, "cop": result.cop,
            "receiver_level": result.receiver_level, "flags": "; ".join(result.flags),
        }  # fmt: skip
    return found
