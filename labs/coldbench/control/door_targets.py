"""Where each door should stand: blend doors from the required temperature, the others by table.

Mixing cold air at T_evaporator with air from the heater at T_heater gives

    T_discharge = (1 − b)·T_evaporator + b·T_heater,
    T_heater    = T_evaporator + ε·(T_coolant − T_evaporator)
    b           = (T_required − T_evaporator) / (ε·(T_coolant − T_evaporator))

with b = 0 full cold and b = 1 full hot. The denominator is never taken below `least_span`, so a
cold engine gives full hot or full cold without a jump. The duct sensor corrects the result in
proportion: b += gain·(T_required − T_duct), limited.
"""

from collections.abc import Mapping

from coldbench.control.calibration import Blend, Calibration
from coldbench.control.records import Demand
from coldbench.control.sensors import Believed
from coldbench.control.words import DEGC, KELVIN, PERCENT

Target = tuple[float, str]


def blend_position(blend: Blend, required_K: float, evaporator_K: float,
                   coolant_K: float) -> float:
    """Return the blend position by calculation alone, not yet limited to 0…1.

    Parameters
    ----------
    blend : Blend
        Effectiveness of the heater, least span.
    required_K, evaporator_K, coolant_K : float
        Temperatures [K].

    Returns
    -------
    float

    Examples
    --------
    Required 20 °C, evaporator 5 °C, coolant 85 °C: 15 / (0.75·80) = 0.25.

    >>> from coldbench.control import load_calibration
    >>> blend_position(load_calibration("blue_head").blend, 293.15, 278.15, 358.15)
    0.25
    """
    span = max(blend.heater_effectiveness * (coolant_K - evaporator_K), blend.least_span_K)
    return (required_K - evaporator_K) / span


def blend_target(demand: Demand, believed: Mapping[str, Believed], blend: Blend,
                 air_moves: bool) -> Target:
    """Return the position wanted of one zone's blend door, and why.

    Parameters
    ----------
    demand : Demand
        Of the zone.
    believed : mapping of str to Believed
        Sensors.
    blend : Blend
        Calibration.
    air_moves : bool
        The blower runs; in still air the duct sensor says nothing.

    Returns
    -------
    tuple of float and str
    """
    if demand.end_stop:
        position = 0.0 if demand.end_stop == "full cold" else 1.0
        return position, f"end stop, {demand.end_stop}"
    evaporator_K, coolant_K = believed["evaporator"].value, believed["coolant"].value
    calculated = blend_position(blend, demand.required_K, evaporator_K, coolant_K)
    correction, note = _correction(demand, believed[f"discharge {demand.zone}"], blend, air_moves)
    position = min(max(calculated + correction, 0.0), 1.0)
    span = max(blend.heater_effectiveness * (coolant_K - evaporator_K), blend.least_span_K)
    return position, (f"({DEGC(demand.required_K)} − {DEGC(evaporator_K)}) / {KELVIN(span)} = "
                      f"{PERCENT(calculated)}{note}")


def _correction(demand: Demand, duct: Believed, blend: Blend, air_moves: bool) -> Target:
    if not (duct.measured and air_moves):
        return 0.0, ", no correction: " + ("no duct sensor" if air_moves else "no air moves")
    most = blend.most_correction
    raw = blend.correction_per_K * (demand.required_K - duct.value)
    correction = min(max(raw, -most), most)
    sign = "+" if correction >= 0.0 else "−"
    return correction, f" {sign} {PERCENT(abs(correction))} for {DEGC(duct.value)} in the duct"


def door_targets(demands: tuple[Demand, ...], distribution: str, recirculates: bool,
                 believed: Mapping[str, Believed], air_moves: bool,
                 calibration: Calibration) -> dict[str, Target]:
    """Return the position wanted of every door, and why.

    Parameters
    ----------
    demands : tuple of Demand
        Zones.
    distribution : str
        Where the air goes.
    recirculates : bool
        True for recirculated air.
    believed : mapping of str to Believed
        Sensors.
    air_moves : bool
        The blower runs.
    calibration : Calibration
        Positions and blend constants.

    Returns
    -------
    dict of str to (float, str)
        By door name.
    """
    targets = {f"blend {d.zone}": blend_target(d, believed, calibration.blend, air_moves)
               for d in demands}
    targets["distribution"] = (calibration.distribution.positions[distribution],
                               f"air to {distribution}")
    targets["recirculation"] = ((1.0, "recirculated air") if recirculates else
                                (0.0, "fresh air"))
    return targets
