"""A learner's numbers for the lab on sensor circuits: what instruments and tester show.

Every given is a reading, rounded as its instrument rounds; no answer is kept. Readings are made
from a temperature, pressure or position that is drawn, so a case is solvable by construction.

Glossary
    box sensor   a thermistor without a sheet; its curve is the bench's, steeper or flatter
    counts       what a 10-bit converter makes of a voltage
"""

import math

from coldbench.refrigerant import fluid
from coldbench.sensing import Converter, divider_voltage, load_sensors, nearest_preferred
from coldbench.worksheet import Draw, Given

ZERO_C = 273.15
PULL_UPS_ohm = (4700.0, 5600.0, 6800.0, 8200.0, 12000.0, 15000.0)
DECADE_ohm = (3300.0, 3900.0, 4700.0, 6800.0, 8200.0, 12000.0, 15000.0, 18000.0)
AMBIENT_PULL_UP_ohm = 10000.0
# Wires that serve one sensor alone: supply, ground and signal ones.
SINGLE_WIRES = ("W11", "W12", "W13", "W14", "W21", "W22", "W23", "W24", "W25", "W26", "W28",
                "W29", "W30", "W31", "W32", "W33", "W34", "W35", "W37", "W38", "W39", "W40")
CODES = (("P0532", "pressure, below"), ("P0533", "pressure, above"), ("P0073", "ambient, above"),
         ("B1703", "cabin, above"), ("B1704", "left outlet, below"), ("B1709", "evaporator, above"),
         ("B1712", "left door, below"), ("B1715", "right door, above"),
         ("B1716", "mode door, below"))
# Status bytes by what they say: failing now and confirmed, failing now and not confirmed,
# confirmed and not failing now, neither.
STATUSES = ((0x2F,), (0x27,), (0x28, 0x2C, 0x2E, 0x68, 0x6C), (0x24, 0x26, 0x64))


def curve():
    """Curve of the bench's air temperature sensors."""
    return load_sensors()["ntc-10k-3435"].model


def shown(value: float, step: float) -> float:
    """Round a value to what an instrument with this step shows.

    >>> shown(12.349, 0.1)
    12.3
    """
    return round(round(value / step) * step, 6)


def four_digits(value: float) -> float:
    """Round a value to four figures, as a meter shows a resistance.

    >>> four_digits(27316.2), four_digits(973.14)
    (27320.0, 973.1)
    """
    step = 10.0 ** (math.floor(math.log10(value)) - 3)
    return shown(value, step)


def draw(draw: Draw) -> list[Given]:
    """Draw a learner's readings."""
    return [
        *box_sensor(draw), *dividers(draw), *thermostat(draw), *transducer(draw), *lamp(draw),
        *door(draw), *bench(draw), *stand_in(draw), *codes(draw), *reading_sheet(draw),
    ]


def box_sensor(draw: Draw) -> list[Given]:
    """A thermistor from the box, measured in four places."""
    steeper = draw.grid("box steepness", 0.95, 1.2, 0.005)
    nominal_ohm = draw.grid("box nominal", 4000, 16000, 100)

    def ohm(celsius: float) -> float:
        ratio = curve().resistance(celsius + ZERO_C) / curve().resistance(25 + ZERO_C)
        return four_digits(nominal_ohm * ratio**steeper)

    places = {"cool": draw.grid("box cool", 20, 28, 0.1), "warm": draw.grid("box warm", 70, 84, 0.1),
              "freezer": draw.grid("box freezer", -28, -16, 0.1)}
    givens = []
    for place, celsius in places.items():
        givens += [Given(f"box_{place}_C", celsius, f"box sensor, {place} bath", "°C", digits=1),
                   Given(f"box_{place}_ohm", ohm(celsius), f"box sensor, {place} bath", "Ω")]
    pipe_C = draw.grid("box pipe", 38, 58, 0.1)
    return [*givens, Given("box_pipe_ohm", ohm(pipe_C), "box sensor, on the pipe", "Ω")]


def dividers(draw: Draw) -> list[Given]:
    """Three resistances at one input; counts at another."""
    sensors = (draw.grid("divider cold", 18000, 36000, 100), draw.grid("divider mild", 7000, 14000, 50),
               draw.grid("divider hot", 1500, 4500, 10))
    outside_C = draw.grid("outside", -18, 8, 0.1)
    volts = divider_voltage(curve().resistance(outside_C + ZERO_C), AMBIENT_PULL_UP_ohm)
    return [
        Given("divider_pull_up_ohm", draw.choice("divider pull-up", PULL_UPS_ohm),
              "divider: pull-up", "Ω"),
        Given("divider_sensor_ohm", sensors, "divider: sensor in rows A, B, C", "Ω"),
        Given("outside_counts", Converter(10).counts(volts), "tester: counts of the outside air input",
              ""),
    ]


def clear_frosts() -> list[float]:
    """Temperatures [°C] whose resistance lies clearly nearest to one value of the drawer.

    It is not that very value: at half the reference, sensor and pull-up could not be told apart.
    """
    fins = load_sensors()["ntc-10k-3977"].model
    grid = [shown(-6 + step / 10, 0.1) for step in range(161)]
    ohms = [fins.resistance(celsius + ZERO_C) for celsius in grid]
    return [celsius for celsius, ohm in zip(grid, ohms, strict=True)
            if 0.03 < abs(math.log(ohm / nearest_preferred(ohm))) < 0.07]


def thermostat(draw: Draw) -> list[Given]:
    """An evaporator thermostat to lay out."""
    return [
        Given("frost_C", draw.choice("frost", clear_frosts()), "thermostat: compressor off at", "°C",
              digits=1),
        Given("frost_rise_K", draw.grid("frost rise", 2, 4, 0.1), "thermostat: on again, warmer by",
              "K", digits=1),
        Given("hot_fin_C", draw.grid("hot fin", 55, 75, 1), "thermostat: hot fins after a stop", "°C"),
    ]


def transducer(draw: Draw) -> list[Given]:
    """Pressure transducer and sun sensor on a reference that stands low."""
    reference_V = draw.grid("reference", 4.1, 4.4, 0.01)
    pressure_kPa = draw.grid("pressure", 1000, 2400, 5)
    signal_V = reference_V * (0.1 + 0.8 * pressure_kPa / 3200)
    return [
        Given("low_reference_V", reference_V, "low reference: head pin of the reference", "V", digits=2),
        Given("pressure_signal_V", shown(signal_V, 0.01), "low reference: pressure signal", "V",
              digits=2),
        Given("sun_on_roof_W_m2", draw.grid("sun on roof", 350, 850, 10), "low reference: sun load",
              "W/m²"),
    ]


def lamp(draw: Draw) -> list[Given]:
    """A lamp over the sun sensor; its pin does not stand near half the reference."""
    strong = [*range(320, 601, 4), *range(730, 1011, 4)]
    near_m = draw.grid("lamp near", 0.5, 0.8, 0.01)
    at_1_m = draw.choice("lamp", strong) * near_m**2
    return [
        Given("lamp_at_1_m_W_m2", shown(at_1_m, 1), "lamp: irradiance at 1 m", "W/m²"),
        Given("lamp_distance_m", near_m, "lamp: distance to the sun sensor", "m", digits=2),
    ]


def door(draw: Draw) -> list[Given]:
    """An actuator that learned its ends, in either sense."""
    low, high = draw.grid("door low", 85, 150, 1), draw.grid("door high", 860, 935, 1)
    closed, opened = draw.choice("door sense", ((low, high), (high, low)))
    position = draw.grid("door position", 0.12, 0.3, 0.01)
    return [
        Given("door_closed_counts", closed, "door: counts when closed (0 %)", ""),
        Given("door_open_counts", opened, "door: counts when open (100 %)", ""),
        Given("door_now_counts", round(closed + position * (opened - closed)), "door: counts now", ""),
        Given("door_wanted_percent", draw.grid("door wanted", 58, 92, 1), "door: wanted position",
              "%"),
    ]


def bench(draw: Draw) -> list[Given]:
    """The blue bench at rest with one bad joint: what instruments beside the head show."""
    air_C = draw.grid("bench air", 18, 32, 0.5)
    rest_kPa = fluid("R-134a").bubble_pressure(air_C + ZERO_C) / 1e3 - 101.325
    return [
        Given("cut_wire", draw.choice("cut wire", SINGLE_WIRES), "diagram: a wire that is cut", ""),
        Given("bench_air_C", air_C, "bench: thermometer in the room",
              "°C", digits=1),
        Given("bench_gauge_kPa", shown(rest_kPa, 10), "bench: high-side gauge",
              "kPa"),
        Given("bench_left_door_percent", draw.grid("bench left", 20, 80, 5),
              "bench: left door, by eye", "%"),
        Given("bench_right_door_percent", draw.grid("bench right", 20, 80, 5),
              "bench: right door, by eye", "%"),
        Given("bench_mode_door_percent", draw.grid("bench mode", 20, 80, 5),
              "bench: mode door, by eye", "%"),
    ]


def stand_in(draw: Draw) -> list[Given]:
    """A resistor in the place of the outside air sensor: at its plug, then at the head."""
    plug_ohm = draw.choice("decade", DECADE_ohm)
    wire_ohm, pull_up_ohm = draw.choice("at fault", (
        (0.0, AMBIENT_PULL_UP_ohm),
        (plug_ohm * draw.grid("bad wire", 0.35, 0.7, 0.01), AMBIENT_PULL_UP_ohm),
        (0.0, AMBIENT_PULL_UP_ohm * draw.grid("bad head", 1.5, 2.0, 0.01))))
    converter = Converter(10)

    def head_C(ohm: float) -> float:
        ratio = converter.ratio(converter.counts(divider_voltage(ohm, pull_up_ohm)))
        return shown(curve().temperature(AMBIENT_PULL_UP_ohm * ratio / (1 - ratio)) - ZERO_C, 0.1)

    return [
        Given("wanted_display_C", draw.grid("wanted display", -10, 40, 0.5),
              "resistor: the head is to show", "°C", digits=1),
        Given("resistor_ohm", plug_ohm, "resistor: put in the sensor's place", "Ω"),
        Given("shown_at_plug_C", head_C(plug_ohm + wire_ohm),
              "resistor: head shows, resistor at the sensor's plug", "°C", digits=1),
        Given("shown_at_head_C", head_C(plug_ohm), "resistor: head shows, resistor at the head's pins",
              "°C", digits=1),
    ]


def codes(draw: Draw) -> list[Given]:
    """Four stored codes with their status bytes, one of each kind, in a drawn order."""
    kinds = draw.shuffled("code order", range(len(STATUSES)))
    names = draw.shuffled("code names", CODES)
    givens = []
    for letter, kind, (code, words) in zip("ABCD", kinds, names, strict=False):
        status = draw.choice(f"status {letter}", STATUSES[kind])
        givens.append(Given(f"code_{letter}", f"{code} ({words}), status 0x{status:02X}",
                            f"codes: line {letter}"))
    return givens


def reading_sheet(draw: Draw) -> list[Given]:
    """Readings at the blue bench's outside air sensor, for learners who have no bench."""
    air_C = draw.grid("sheet air", 4, 18, 0.1)
    ohm = curve().resistance(air_C + draw.grid("sheet error", -1.5, 1.5, 0.1) + ZERO_C)
    pull_up_ohm = draw.grid("sheet pull-up", 9500, 10500, 10)
    reference_V = draw.grid("sheet reference", 4.95, 5.05, 0.01)
    signal_V = divider_voltage(ohm, pull_up_ohm, reference_V)
    return [
        Given("sheet_air_C", air_C, "reading sheet: thermometer at the sensor", "°C", digits=1),
        Given("sheet_sensor_ohm", four_digits(ohm), "reading sheet: sensor, unplugged", "Ω"),
        Given("sheet_reference_V", reference_V, "reading sheet: signal wire, sensor unplugged", "V",
              digits=2),
        Given("sheet_signal_V", shown(signal_V, 0.001), "reading sheet: signal wire, sensor plugged in",
              "V", digits=3),
    ]
