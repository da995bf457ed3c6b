"""A solved loop for people: gauges in three units, temperatures, what it does, warnings."""

from coldbench.quantity import format_quantity
from coldbench.refrigerant.loop import FLAGS, LoopResult

_GAUGE_UNITS = (("kPa", 0), ("bar", 2), ("psig", 0))


def loop_text(result: LoopResult) -> str:
    """Return a short table of a solved loop.

    Parameters
    ----------
    result : LoopResult
        Solved loop.

    Returns
    -------
    str
        Several lines.

    Examples
    --------
    >>> from coldbench.refrigerant.loop import solve_loop
    >>> loop_text(solve_loop()).splitlines()[0]
    'R134a loop, running'
    """
    lines = [f"{result.conditions.fluid} loop, {'running' if result.running else 'at rest'}"]
    lines += [f"  fault: {f.name}, severity {f.severity:g}" for f in result.faults]
    lines += ["", *_gauges(result), "", *_temperatures(result), "", *_work(result)]
    if result.flags:
        lines += ["", *(f"! {flag}: {FLAGS[flag]}" for flag in result.flags)]
    return "\n".join(lines)


def _gauges(result: LoopResult) -> list[str]:
    rows = (("high side", result.high_side_gauge_Pa), ("low side", result.low_side_gauge_Pa))
    return [f"{name + ' gauge':<24}" + "".join(
        f"{format_quantity(value, unit, 'gauge pressure', digits):>12}"
        for unit, digits in _GAUGE_UNITS) for name, value in rows]


def _temperatures(result: LoopResult) -> list[str]:
    rows = (
        ("discharge", result.discharge_temperature_K),
        ("liquid line", result.liquid_line_temperature_K),
        ("after the hand valve", result.after_valve_temperature_K),
        ("evaporator inlet", result.evaporator_inlet_temperature_K),
        ("suction line", result.suction_temperature_K),
        ("vent", result.vent_temperature_K))
    lines = [f"{name:<24}{format_quantity(value, 'degC', 'temperature', 1):>12}"
             for name, value in rows]
    differences = (("superheat", result.superheat_K), ("subcooling", result.subcooling_K))
    return lines + [f"{name:<24}{format_quantity(value, 'K', 'temperature difference', 1):>12}"
                    for name, value in differences]


def _work(result: LoopResult) -> list[str]:
    rows = (
        ("mass flow", f"{result.mass_flow_kg_per_s * 1e3:.1f} g/s"),
        ("capacity", f"{result.capacity_W / 1e3:.2f} kW"),
        ("compressor power", f"{result.compressor_power_W / 1e3:.2f} kW"),
        ("COP", f"{result.cop:.2f}"),
        ("condensate", f"{result.condensate_kg_per_s * 3.6e6:.0f} g/h"),
        ("receiver level", f"{result.receiver_level * 100:.0f} %"))
    return [f"{name:<24}{value:>12}" for name, value in rows]
