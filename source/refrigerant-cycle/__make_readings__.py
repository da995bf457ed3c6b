"""Fill `readings.json`: what the blue bench shows on sixty days, solved once and for all.

A case draws its readings from this file, so opening a worksheet solves nothing, and a case
stays the same when the loop's relations are refined later. Run it again after such a change,
between two terms and never within one:

    python __make_readings__.py

Its name keeps it out of `release/`: it knows which condition is which.

Every day has its own weather. For each day the file holds, rounded as the instruments round:
the healthy bench and a sister of it that is adjusted otherwise, a series of hand-valve steps, a
series of fills, three states of the condenser's air, humid air through the coil, and ten
conditions of the bench. The conditions stand in the order of their high-side reading, not of
their names: which is which, only the readings tell.
"""

import json
from dataclasses import replace
from pathlib import Path

from coldbench.air.moist import relative_humidity
from coldbench.refrigerant.loop import Conditions, blue_parts, solve_loop
from coldbench.refrigerant.properties import properties

FILE = Path(__file__).with_name("readings.json")
DAYS = 60
AIR_Pa = 101_325.0  # the workshop lies by the sea
RIGHT_FILL_g = 1e3 * dict(blue_parts().charge_kg)["R134a"]
SWEPT_m3 = blue_parts().compressor.displacement_m3
VALVE_ANGLES_deg = (0, 15, 30, 45, 60, 65, 70, 75, 80, 90)
FILL_STEP = 0.10
BLOCKED = ("condenser-blocked", 0.6)
CONDITIONS = {  # words of the lab → (fault, least and most severity), none for the healthy bench
    "nothing is wrong": None,
    "receiver empty, refrigerant is missing": ("undercharge", 0.86, 0.96),
    "receiver full, too much refrigerant": ("overcharge", 0.85, 1.0),
    "air in the system": ("air-in-system", 0.5, 0.8),
    "too little air through the condenser": ("condenser-blocked", 0.45, 0.65),
    "liquid line restricted": ("liquid-line-restriction", 0.68, 0.8),
    "expansion valve stuck open": ("txv-stuck-open", 0.9, 1.0),
    "expansion valve stuck nearly closed": ("txv-stuck-closed", 0.72, 0.9),
    "compressor worn": ("compressor-worn", 0.6, 0.85),
    "too little air over the evaporator": ("evaporator-airflow-low", 0.64, 0.8),
}


def spread(day: int, step: int) -> float:
    """A number in 0 to 1 for a day; each step (no divisor in common with 60) orders days anew."""
    return (day * step % DAYS) / (DAYS - 1)


def weather(day: int) -> dict:
    """Settings of a day: hotter, damper and busier from day to day, with a little scatter."""
    warmth = day / (DAYS - 1)
    return {
        "ambient_C": round(22 + 14 * warmth + 0.3 * spread(day, 7), 1),
        "intake_C": round(20 + 13 * warmth + 0.3 * spread(day, 11), 1),
        "humidity_percent": round(40 + 14 * warmth + 2 * spread(day, 23)),
        "speed_rpm": 10 * round(138 + 24 * warmth + 2 * spread(day, 17)),
    }


def conditions(day: dict, **changes) -> Conditions:
    """Conditions of the loop on a day."""
    return Conditions(**{
        "ambient_K": day["ambient_C"] + 273.15, "intake_K": day["intake_C"] + 273.15,
        "intake_humidity": day["humidity_percent"] / 100, "speed_rpm": day["speed_rpm"],
        "atmosphere_Pa": AIR_Pa, **changes})


def adjusted(day: int):
    """The parts of a sister bench: its valve's spring and the condenser's last pass differ."""
    parts, warmth = blue_parts(), day / (DAYS - 1)
    return replace(
        parts,
        expansion_valve=replace(parts.expansion_valve, spring_K=7.5 - 5.5 * warmth),
        condenser=replace(parts.condenser, subcool_share=0.06 + 0.14 * warmth))


def celsius(temperature_K: float) -> float:
    """A thermometer's reading, to 0.1 °C."""
    return round(temperature_K - 273.15, 1) + 0.0


def readings(result) -> dict:
    """Gauges to 1 kPa (low side) and 5 kPa (high side), thermometers to 0.1 °C."""
    return {
        "low_gauge_kPa": round(result.low_side_gauge_Pa / 1e3),
        "high_gauge_kPa": 5 * round(result.high_side_gauge_Pa / 5e3),
        "suction_pipe_C": celsius(result.suction_temperature_K),
        "discharge_pipe_C": celsius(result.discharge_temperature_K),
        "liquid_line_C": celsius(result.liquid_line_temperature_K),
        "after_valve_C": celsius(result.after_valve_temperature_K),
        "vent_C": celsius(result.vent_temperature_K),
    }


def compressor(day: dict, result) -> dict:
    """Its data sheet for this day, and the drive's display to 10 W.

    The share of the swept volume that is filled refers to the gas at the suction port.
    """
    port_density = properties("R134a").vapour_density(
        result.low_side_Pa, result.suction_temperature_K)
    swept_m3_s = SWEPT_m3 * day["speed_rpm"] / 60
    return {
        "filled_percent": round(100 * result.mass_flow_kg_per_s / (port_density * swept_m3_s), 1),
        "shaft_power_W": 10 * round(result.compressor_power_W / 10),
    }


def fills(day: int) -> tuple[list[float], list[dict]]:
    """Eleven fills of a day [share of the right one] and their readings.

    Each day begins a little elsewhere, where the ends of the plateau are plain to see.
    """
    for attempt in range(10):
        first = 0.36 + 0.01 * ((3 * day + attempt) % 10)
        shares = [first + FILL_STEP * step for step in range(11)]
        shown = [readings(solve_loop(conditions(weather(day), charge=share))) for share in shares]
        if plain_plateau(shown):
            return shares, shown
    raise RuntimeError(f"day {day} has no series of fills with a plain plateau")


def plain_plateau(shown: list[dict]) -> bool:
    """Whether each fill's subcooling is within 0.4 K of the middle one's, or beyond 1.8 K."""
    saturation_K = properties("R134a").saturation_temperature
    subcooling = [saturation_K(one["high_gauge_kPa"] * 1e3 + AIR_Pa) - one["liquid_line_C"]
                  for one in shown]
    off = [abs(one - subcooling[5]) for one in subcooling]
    return all(one < 0.4 or one > 1.8 for one in off) and off[2] > 1.8 and off[-2] > 1.8


def humid(day: int) -> dict:
    """Moist air through the coil: thermometers, humidity to 1 %, airflow to 5 m³/h.

    The air is dry enough to leave without fog, which no instrument would read.
    """
    intake_C = round(24 + 9 * day / (DAYS - 1) + 0.3 * spread(day, 11), 1)
    blower = 0.5 + 0.5 * day / (DAYS - 1)
    coil = blue_parts().evaporator
    share = coil.least_airflow_share + (1.0 - coil.least_airflow_share) * blower
    for percent in range(52, 30, -1):
        result = solve_loop(conditions(weather(day), intake_K=intake_C + 273.15,
                                       intake_humidity=percent / 100, blower=blower))
        leaving = relative_humidity(result.vent_temperature_K, result.vent_humidity_ratio, AIR_Pa)
        if leaving <= 0.97:
            return {
                "intake_C": intake_C, "intake_percent": percent,
                "airflow_m3_h": 5 * round(3600 * coil.airflow_m3_per_s * share / 5),
                "vent_C": celsius(result.vent_temperature_K),
                "vent_percent": round(100 * leaving),
            }
    raise RuntimeError(f"day {day} has no air that leaves without fog")


def severity(day: int, condition: tuple, index: int) -> float:
    """How bad a condition is on a day."""
    _, least, most = condition
    return least + (most - least) * spread(day, (7, 11, 13, 17, 19, 23, 29, 31, 37, 41)[index])


def conditioned(day: int) -> list[dict]:
    """Readings of the bench in each condition, running and at rest, in the order of readings."""
    shown = []
    for index, condition in enumerate(CONDITIONS.values()):
        faults = [] if condition is None else [(condition[0], severity(day, condition, index))]
        running = solve_loop(conditions(weather(day)), faults=faults)
        resting = solve_loop(conditions(weather(day), clutch_engaged=False), faults=faults)
        rest_kPa = 5 * round(resting.high_side_gauge_Pa / 5e3)
        shown.append({**readings(running), "rest_gauge_kPa": rest_kPa})
    return sorted(shown, key=lambda one: (one["high_gauge_kPa"], one["low_gauge_kPa"]))


def one_day(day: int) -> dict:
    """Everything a case may draw of a day."""
    setting = weather(day)
    healthy, sister = (solve_loop(conditions(setting), parts)
                       for parts in (blue_parts(), adjusted(day)))
    shares, filled = fills(day)
    return {
        **setting,
        "sister": {**readings(sister), **compressor(setting, sister)},
        "healthy": readings(healthy),
        "valve": [readings(solve_loop(conditions(setting, valve_angle_deg=float(angle))))
                  for angle in VALVE_ANGLES_deg],
        "fills_g": [round(share * RIGHT_FILL_g) for share in shares],
        "fills": filled,
        "fan": [readings(healthy),
                readings(solve_loop(conditions(setting, condenser_fan="low"))),
                readings(solve_loop(conditions(setting), faults=[BLOCKED]))],
        "humid": humid(day),
        "conditions": conditioned(day),
    }


def columns(rows: list[dict]) -> dict:
    """Turn rows of readings into columns, which are shorter to write."""
    return {name: [row[name] for row in rows] for name in rows[0]}


def compact(day: dict) -> dict:
    """A day with its series as columns."""
    return {name: columns(value) if isinstance(value, list) and isinstance(value[0], dict)
            else value for name, value in day.items()}


def main() -> None:
    """Solve all days and write the file, one day on a line."""
    lines = [json.dumps(compact(one_day(day)), separators=(",", ":")) for day in range(DAYS)]
    FILE.write_text("[\n" + ",\n".join(lines) + "\n]\n", encoding="utf-8")


if __name__ == "__main__":
    main()
