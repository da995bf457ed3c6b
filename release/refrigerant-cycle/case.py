"""A learner's numbers for the lab on the refrigerant cycle: what gauges and thermometers show.

Every given is a reading, rounded as its instrument rounds, or a question's wording; no answer
is kept. Readings come from `readings.json`: sixty days of the blue bench, each with its own
weather, solved once by `__make_readings__.py`. Each part of the lab has a day of its own, and the
days stand from cool to hot, so learners whose days lie apart have readings that lie apart.

Glossary
    sister bench   a bench of the same build, adjusted a little differently
    fill           mass of refrigerant in the bench [g]
    condition      what is or is not wrong with a bench; its name is not in the case
"""

import json
from functools import cache
from pathlib import Path

from coldbench.worksheet import Draw, Given

VALVE_ANGLES_deg = (0, 15, 30, 45, 60, 65, 70, 75, 80, 90)
NOTICED_AT = (6, 7, 8)  # step at which the low side has first fallen by more than is asked
UNKNOWNS = 4
LOOP = (
    "cool vapour at low pressure", "compressor", "hot vapour at high pressure", "condenser",
    "liquid at high pressure", "expansion valve", "cold mixture at low pressure", "evaporator",
)
PARTS = ("compressor", "condenser", "expansion valve", "evaporator")
VALVE_WORDS = (
    ("Up to 45° hardly anything changes: the hole in the ball is still far larger than the "
     "opening of the expansion valve.",
     "Up to 45° hardly anything changes: until then all the liquid runs through the bleed hole."),
    ("The low side falls because a valve that closes makes the compressor pump more.",
     "The low side falls because the compressor goes on pumping while less refrigerant follows."),
    ("The high side falls: less gas reaches the condenser, and the liquid waits in the receiver.",
     "The high side rises at every step: the liquid is dammed up before the hand valve."),
    ("Without its bleed hole the valve would show the same readings at 90°.",
     "At 90° the bleed hole alone keeps some refrigerant, and the oil in it, on the move."),
    ("The superheat grows because the expansion valve closes more and more.",
     "The superheat grows although the expansion valve opens as far as it can."),
    ("In the last steps the pipe behind the hand valve is cold: liquid already boils there.",
     "In the last steps the pipe behind the hand valve is cold: its liquid is more subcooled."),
)
CHARGE_WORDS = (
    ("On the plateau the needles stand still because the receiver takes up the difference.",
     "On the plateau the needles stand still because the expansion valve measures the fill."),
    ("A normal low side proves that the fill is right.",
     "On the plateau no gauge tells how many grams the bench holds."),
    ("As the receiver runs empty, the low side is the first reading to fall.",
     "As the receiver runs empty, the subcooling is the first reading to go."),
    ("At the first fill below the plateau the low side stands no lower than on it.",
     "At the first fill below the plateau the high side stands higher than on it."),
    ("Above the plateau more liquid reaches the evaporator, and the superheat vanishes.",
     "Above the plateau liquid backs up into the condenser: high side and subcooling rise."),
    ("High side and subcooling both high: that may be too much refrigerant, or air in it.",
     "High side and subcooling both high: that proves too much refrigerant."),
)
WORDINGS = ("101010", "111110", "000100", "001101", "010011", "101100", "111000", "001000",
            "100000", "000010", "001110", "000111", "001111", "010101", "110011", "110100")


@cache
def all_days() -> tuple[dict, ...]:
    """What the benches show on each day, from cool to hot."""
    return tuple(json.loads(Path(__file__).with_name("readings.json").read_text("utf-8")))


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's readings."""
    days = all_days()
    return [
        *places(draw),
        *bench(draw.choice("bench day", days)),
        *hand_valve(draw, draw.choice("valve day", days)),
        *statements(draw, "valve", VALVE_WORDS),
        *fills(draw.choice("fill day", days)),
        *statements(draw, "fill", CHARGE_WORDS),
        *condenser_air(draw.choice("fan day", days)),
        *humid_air(draw.choice("humid day", days)["humid"]),
        *unknowns(draw, draw.choice("unknown day", days)),
        *reading_sheet(draw, draw.choice("sheet day", days)),
    ]


def thermometer(name: str, temperature_C: float, label: str) -> Given:
    """A thermometer, shown to 0.1 °C."""
    return Given(name, temperature_C, label, "°C", digits=1)


def gauge(name: str, gauge_kPa: float, label: str) -> Given:
    """A gauge, shown to 1 kPa."""
    return Given(name, gauge_kPa, label, "kPa", digits=0)


def series(name: str, values: list, label: str, unit: str, digits: int) -> Given:
    """One reading for each step of a series."""
    return Given(name, tuple(values), label, unit, digits)


def places(draw: Draw) -> list[Given]:
    """Where the walk around the loop begins, and two parts to find on the chart."""
    first, second = draw.shuffled("parts", PARTS)[:2]
    return [
        Given("start_place", draw.choice("start", LOOP), "loop: begin your list with"),
        Given("first_part", first, "loop: first part"),
        Given("second_part", second, "loop: second part"),
    ]


def bench(day: dict) -> list[Given]:
    """Your own bench, running well."""
    shown, label = day["sister"], "bench: "
    return [
        gauge("low_gauge_kPa", shown["low_gauge_kPa"], label + "low-side gauge"),
        thermometer("suction_pipe_C", shown["suction_pipe_C"], label + "suction pipe"),
        thermometer("discharge_pipe_C", shown["discharge_pipe_C"], label + "discharge pipe"),
        gauge("high_gauge_kPa", shown["high_gauge_kPa"], label + "high-side gauge"),
        thermometer("liquid_line_C", shown["liquid_line_C"], label + "liquid line"),
        Given("speed_rpm", day["speed_rpm"], label + "compressor speed", "rpm"),
        Given("swept_cm3", 110.0, label + "swept volume of one turn", "cm³"),
        Given("filled_percent", shown["filled_percent"], label + "share of it that is filled",
              "%", digits=1),
        Given("shaft_power_W", shown["shaft_power_W"], label + "power at the shaft", "W"),
    ]


def hand_valve(draw: Draw, day: dict) -> list[Given]:
    """The hand valve closed step by step; the fall to look for lies midway between two steps."""
    shown, label = day["valve"], "hand valve: "
    low = shown["low_gauge_kPa"]
    step = draw.choice("noticed", NOTICED_AT)
    fall_kPa = round(low[0] - (low[step] + low[step - 1]) / 2)
    return [
        series("valve_angles_deg", VALVE_ANGLES_deg, label + "angle", "°", 0),
        series("valve_low_gauge_kPa", low, label + "low-side gauge", "kPa", 0),
        series("valve_high_gauge_kPa", shown["high_gauge_kPa"], label + "high-side gauge",
               "kPa", 0),
        series("valve_suction_pipe_C", shown["suction_pipe_C"], label + "suction pipe", "°C", 1),
        series("valve_liquid_line_C", shown["liquid_line_C"], label + "liquid line before it",
               "°C", 1),
        series("valve_after_pipe_C", shown["after_valve_C"], label + "pipe behind it", "°C", 1),
        Given("valve_fall_kPa", fall_kPa, label + "fall of the low side to look for", "kPa"),
    ]


def statements(draw: Draw, topic: str, words: tuple) -> list[Given]:
    """Six statements, each in one of its two wordings, in an order of your own."""
    wording = draw.choice(f"{topic} wording", WORDINGS)
    chosen = [pair[int(which)] for pair, which in zip(words, wording, strict=True)]
    return [Given(f"{topic}_statement_{letter}", text, f"{topic} statement {letter}")
            for letter, text in zip("ABCDEF", draw.shuffled(f"{topic} order", chosen),
                                    strict=True)]


def fills(day: dict) -> list[Given]:
    """A bench filled step by step."""
    shown, label = day["fills"], "fill: "
    return [
        series("fills_g", day["fills_g"], label + "refrigerant in the bench", "g", 0),
        series("fill_low_gauge_kPa", shown["low_gauge_kPa"], label + "low-side gauge", "kPa", 0),
        series("fill_high_gauge_kPa", shown["high_gauge_kPa"], label + "high-side gauge",
               "kPa", 0),
        series("fill_suction_pipe_C", shown["suction_pipe_C"], label + "suction pipe", "°C", 1),
        series("fill_liquid_line_C", shown["liquid_line_C"], label + "liquid line", "°C", 1),
    ]


def condenser_air(day: dict) -> list[Given]:
    """Three amounts of air through the condenser."""
    shown, label = day["fan"], "fan: "
    high, low, blocked = shown["high_gauge_kPa"]
    return [
        thermometer("fan_ambient_C", day["ambient_C"], label + "air in front of the condenser"),
        gauge("fan_high_high_gauge_kPa", high, label + "high-side gauge, fan on high"),
        gauge("fan_low_high_gauge_kPa", low, label + "high-side gauge, fan on low"),
        gauge("fan_blocked_high_gauge_kPa", blocked,
              label + "high-side gauge, fan on high, face blocked by dirt"),
        series("fan_low_gauge_kPa", shown["low_gauge_kPa"],
               label + "low-side gauge in the same order", "kPa", 0),
    ]


def humid_air(shown: dict) -> list[Given]:
    """Air through the evaporator."""
    label = "humid air: "
    return [
        thermometer("humid_intake_C", shown["intake_C"], label + "air into the evaporator"),
        Given("humid_intake_percent", shown["intake_percent"], label + "its relative humidity",
              "%"),
        Given("humid_airflow_m3_h", shown["airflow_m3_h"], label + "airflow there", "m³/h"),
        thermometer("humid_vent_C", shown["vent_C"], label + "air at the vent"),
        Given("humid_vent_percent", shown["vent_percent"], label + "its relative humidity there",
              "%"),
    ]


def unknowns(draw: Draw, day: dict) -> list[Given]:
    """Four benches A to D on one day, each in a condition of its own, and a sound bench.

    Bench A always has a fault, so "overlooked the fault" can be seeded there in every course.
    """
    shown, normal, label = day["conditions"], day["healthy"], "unknown: "
    order = list(draw.shuffled("unknown order", range(len(shown["low_gauge_kPa"]))))[:UNKNOWNS]
    if all(shown[name][order[0]] == reading for name, reading in normal.items()):
        order = order[::-1]
    words = {
        "low_gauge_kPa": ("low-side gauge", "kPa", 0),
        "high_gauge_kPa": ("high-side gauge", "kPa", 0),
        "suction_pipe_C": ("suction pipe", "°C", 1),
        "discharge_pipe_C": ("discharge pipe", "°C", 1),
        "liquid_line_C": ("liquid line", "°C", 1),
        "after_valve_C": ("end of the liquid line", "°C", 1),
        "vent_C": ("air at the vent", "°C", 1),
        "rest_gauge_kPa": ("both gauges at rest", "kPa", 0),
    }
    rest_kPa = sorted(shown["rest_gauge_kPa"])[0]
    sound = {**normal, "rest_gauge_kPa": rest_kPa}
    return [
        thermometer("unknown_ambient_C", day["ambient_C"],
                    label + "air around the benches, and every part of them at rest"),
        *(series(f"unknown_{name}", [sound[name], *(shown[name][i] for i in order)],
                 label + f"{text}: sound bench, A, B, C, D", unit, digits)
          for name, (text, unit, digits) in words.items()),
    ]


def reading_sheet(draw: Draw, day: dict) -> list[Given]:
    """Readings of a bench, R-134a, for learners who have none."""
    shown, label = day["sister"], "reading sheet: "
    return [
        thermometer("sheet_air_C", day["ambient_C"], label + "air at the condenser"),
        gauge("sheet_low_gauge_kPa", shown["low_gauge_kPa"], label + "low-side gauge"),
        thermometer("sheet_suction_pipe_C", shown["suction_pipe_C"], label + "suction pipe"),
        thermometer("sheet_discharge_pipe_C", shown["discharge_pipe_C"],
                    label + "discharge pipe"),
        gauge("sheet_high_gauge_kPa", shown["high_gauge_kPa"], label + "high-side gauge"),
        thermometer("sheet_liquid_line_C", shown["liquid_line_C"], label + "liquid line"),
        Given("sheet_thermometer_limit_K", draw.choice("sheet thermometer", (0.5, 0.8, 1.0, 1.2)),
              label + "thermometer, limit of error ±", "K"),
    ]
