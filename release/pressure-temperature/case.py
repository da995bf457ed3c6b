"""A learner's numbers for the lab on pressure-temperature charts: what the instruments show.

Every given is a reading, rounded as its instrument rounds; no answer is kept. Readings are
made from a refrigerant state that is drawn, so a case is solvable by construction.
`accepted` checks once more with the readings alone.

Glossary
    dew, bubble   saturation temperature [°C] of vapour (superheat) and liquid (subcooling)
    atmosphere    local atmospheric pressure [kPa], ISO 2533 standard atmosphere
"""

from coldbench.air import standard_atmosphere_pressure
from coldbench.refrigerant import fluid
from coldbench.worksheet import Draw, Given

PSI_kPa = 6.894757293168361
BOTTLES = ("R-134a", "R-152a", "R-22")
CHART_ROWS = (("A", -12, -2), ("B", 0, 8), ("C", 12, 20), ("D", 26, 34), ("E", 42, 54))


def dew_kPa(name: str, temperature_C: float) -> float:
    """Dew pressure [kPa absolute] at a temperature [°C]."""
    return fluid(name).dew_pressure(temperature_C + 273.15) / 1e3


def bubble_kPa(name: str, temperature_C: float) -> float:
    """Bubble pressure [kPa absolute] at a temperature [°C]."""
    return fluid(name).bubble_pressure(temperature_C + 273.15) / 1e3


def dew_C(name: str, absolute_kPa: float) -> float:
    """Dew temperature [°C] at a pressure [kPa absolute]."""
    return fluid(name).dew_temperature(absolute_kPa * 1e3) - 273.15


def bubble_C(name: str, absolute_kPa: float) -> float:
    """Bubble temperature [°C] at a pressure [kPa absolute]."""
    return fluid(name).bubble_temperature(absolute_kPa * 1e3) - 273.15


def shown(value: float, step: float) -> float:
    """Round a value to what an instrument with this step shows.

    >>> shown(153.4, 2.0), shown(12.349, 0.1)
    (154.0, 12.3)
    """
    return round(round(value / step) * step, 6)


def thermometer(name: str, temperature_C: float, label: str) -> Given:
    """A pipe thermometer, shown to 0.1 °C."""
    return Given(name, shown(temperature_C, 0.1), label, "°C", digits=1)


def bar_gauge(name: str, gauge_kPa: float, label: str) -> Given:
    """A gauge marked in bar, read to 0.1 bar."""
    return Given(name, shown(gauge_kPa / 100, 0.1), label, "bar", digits=1)


def draw(draw: Draw) -> list[Given] | None:
    """Draw a learner's readings; None when they do not make a fair question."""
    altitude_m = draw.grid("altitude", 1500, 2500, 10)
    atmosphere_kPa = standard_atmosphere_pressure(altitude_m) / 1e3
    givens = [
        Given("altitude_m", altitude_m, "all: altitude of the hill garage", "m"),
        *van(draw, atmosphere_kPa),
        *charts(draw),
        *imported_van(draw, atmosphere_kPa),
        *bus(draw),
        *bench_at_rest(draw, atmosphere_kPa),
        *bottle(draw, atmosphere_kPa),
        *visitor(draw, atmosphere_kPa),
        *reading_sheet(draw),
    ]
    values = {given.name: given.value for given in givens}
    return givens if accepted(values, atmosphere_kPa) else None


def van(draw: Draw, atmosphere_kPa: float) -> list[Given]:
    """The shuttle van, R-134a, running well."""
    evaporating_C = draw.grid("van evaporating", -6, 4, 0.1)
    condensing_C = draw.grid("van condensing", 42, 60, 0.1)
    suction_C = evaporating_C + draw.grid("van suction", 4, 13, 0.1)
    liquid_C = condensing_C - draw.grid("van liquid", 3, 11, 0.1)
    low_kPa = dew_kPa("R-134a", evaporating_C) - atmosphere_kPa
    high_kPa = bubble_kPa("R-134a", condensing_C) - atmosphere_kPa
    discharge_C = condensing_C + draw.grid("van discharge", 18, 32, 1)
    return [
        Given("low_side_gauge_kPa", shown(low_kPa, 2), "van: low-side gauge", "kPa"),
        thermometer("suction_pipe_C", suction_C, "van: suction pipe"),
        bar_gauge("high_side_gauge_bar", high_kPa, "van: high-side gauge"),
        thermometer("liquid_line_C", liquid_C, "van: liquid line"),
        Given("discharge_pipe_C", shown(discharge_C, 1), "van: discharge pipe", "°C"),
    ]


def charts(draw: Draw) -> list[Given]:
    """A temperature to look up, and the rows of the learner's own chart."""
    rows = tuple(draw.grid(f"chart {row}", low, high, 1) for row, low, high in CHART_ROWS)
    return [
        Given("wanted_evaporating_C", draw.grid("wanted", -4, 8, 0.5),
              "van: evaporating temperature wanted", "°C", digits=1),
        Given("chart_temperatures_C", rows, "chart: temperatures of rows A to E", "°C"),
    ]


def imported_van(draw: Draw, atmosphere_kPa: float) -> list[Given]:
    """A van with psi and °F instruments, R-134a."""
    evaporating_C = draw.grid("imported evaporating", -6, -2, 0.1)
    suction_C = evaporating_C + draw.grid("imported suction", 3, 9, 0.1)
    low_psi = (dew_kPa("R-134a", evaporating_C) - atmosphere_kPa) / PSI_kPa
    return [
        Given("imported_low_gauge_psi", shown(low_psi, 0.5), "imported van: low-side gauge",
              "psi", digits=1),
        Given("imported_suction_pipe_F", shown(suction_C * 1.8 + 32, 0.1),
              "imported van: suction pipe", "°F", digits=1),
    ]


def bus(draw: Draw) -> list[Given]:
    """An old bus with R-407C, a blend with glide, on digital gauges that show absolute kPa."""
    dew, bubble = draw.grid("bus dew", -4, 6, 0.1), draw.grid("bus bubble", 40, 52, 0.1)
    suction_C = dew + draw.grid("bus suction", 4, 10, 0.1)
    liquid_C = bubble - draw.grid("bus liquid", 3, 9, 0.1)
    return [
        Given("bus_low_absolute_kPa", shown(dew_kPa("R-407C", dew), 2),
              "bus, R-407C: low side, absolute", "kPa"),
        thermometer("bus_suction_pipe_C", suction_C, "bus, R-407C: suction pipe"),
        Given("bus_high_absolute_kPa", shown(bubble_kPa("R-407C", bubble), 5),
              "bus, R-407C: high side, absolute", "kPa"),
        thermometer("bus_liquid_line_C", liquid_C, "bus, R-407C: liquid line"),
    ]


def bench_at_rest(draw: Draw, atmosphere_kPa: float) -> list[Given]:
    """A bench at rest, R-134a: clean, with air in it, or without liquid."""
    rest_C = draw.grid("rest temperature", 14, 30, 0.5)
    offsets = (draw.grid("rest clean", -4, 4, 1), draw.grid("rest air", 60, 140, 5),
               draw.grid("rest vapour", -220, -90, 10))
    rest_kPa = bubble_kPa("R-134a", rest_C) - atmosphere_kPa + draw.choice("rest", offsets)
    return [
        Given("rest_temperature_C", rest_C, "bench at rest: every part of it", "°C", digits=1),
        Given("rest_gauge_kPa", shown(rest_kPa, 5), "bench at rest: both gauges", "kPa"),
    ]


def bottle(draw: Draw, atmosphere_kPa: float) -> list[Given]:
    """A bottle without a label, liquid and vapour in it."""
    bottle_C = draw.grid("bottle temperature", 14, 30, 0.5)
    gauge_kPa = bubble_kPa(draw.choice("bottle", BOTTLES), bottle_C) - atmosphere_kPa
    return [
        Given("bottle_temperature_C", bottle_C, "bottle: temperature", "°C", digits=1),
        Given("bottle_gauge_kPa", shown(gauge_kPa, 5), "bottle: gauge", "kPa"),
    ]


def visitor(draw: Draw, atmosphere_kPa: float) -> list[Given]:
    """A visitor's van, R-134a, with or without superheat and subcooling."""
    evaporating_C = draw.grid("visitor evaporating", -4, 6, 0.1)
    condensing_C = draw.grid("visitor condensing", 44, 58, 0.1)
    dry, solid = draw.choice("visitor", ((True, False), (False, True), (False, False),
                                         (True, True)))
    superheat_K = draw.grid("visitor suction", 5, 12, 0.1) if dry else 0.0
    subcooling_K = draw.grid("visitor liquid", 4, 9, 0.1) if solid else 0.0
    low_kPa = dew_kPa("R-134a", evaporating_C) - atmosphere_kPa
    high_kPa = bubble_kPa("R-134a", condensing_C) - atmosphere_kPa
    return [
        Given("visitor_low_gauge_kPa", shown(low_kPa, 2), "visitor: low-side gauge", "kPa"),
        thermometer("visitor_suction_pipe_C", evaporating_C + superheat_K, "visitor: suction pipe"),
        bar_gauge("visitor_high_gauge_bar", high_kPa, "visitor: high-side gauge"),
        thermometer("visitor_liquid_line_C", condensing_C - subcooling_K, "visitor: liquid line"),
    ]


def reading_sheet(draw: Draw) -> list[Given]:
    """Readings of the blue bench, R-134a, for learners who have no bench."""
    air_C = draw.grid("sheet air", 22, 32, 0.5)
    barometer_hPa = draw.grid("sheet barometer", 985, 1030, 1)
    evaporating_C = draw.grid("sheet evaporating", -2, 6, 0.1)
    condensing_C = air_C + draw.grid("sheet condensing", 15, 22, 0.1)
    suction_C = evaporating_C + draw.grid("sheet suction", 4, 12, 0.1)
    liquid_C = condensing_C - draw.grid("sheet liquid", 4, 10, 0.1)
    low_kPa = dew_kPa("R-134a", evaporating_C) - barometer_hPa / 10
    high_kPa = bubble_kPa("R-134a", condensing_C) - barometer_hPa / 10
    return [
        Given("sheet_air_C", air_C, "reading sheet: air at the condenser", "°C", digits=1),
        Given("sheet_barometer_hPa", barometer_hPa, "reading sheet: barometer", "hPa"),
        Given("sheet_low_gauge_kPa", shown(low_kPa, 2), "reading sheet: low-side gauge", "kPa"),
        thermometer("sheet_suction_pipe_C", suction_C, "reading sheet: suction pipe"),
        Given("sheet_high_gauge_kPa", shown(high_kPa, 10), "reading sheet: high-side gauge",
              "kPa"),
        thermometer("sheet_liquid_line_C", liquid_C, "reading sheet: liquid line"),
        Given("sheet_gauge_class", draw.choice("sheet class", (1.6, 2.5)),
              "reading sheet: class of the low-side gauge", ""),
        Given("sheet_gauge_span_kPa", 1000.0, "reading sheet: span of the low-side gauge", "kPa"),
        Given("sheet_thermometer_limit_K", draw.choice("sheet thermometer", (0.5, 0.8, 1.0)),
              "reading sheet: thermometer, limit of error ±", "K"),
    ]


def accepted(case: dict, atmosphere_kPa: float) -> bool:
    """Say whether the readings alone make a fair question."""
    return (running_well(case, atmosphere_kPa) and rest_is_clear(case, atmosphere_kPa)
            and bottle_is_clear(case, atmosphere_kPa) and visitor_is_clear(case, atmosphere_kPa))


def running_well(case: dict, atmosphere_kPa: float) -> bool:
    """Superheat 3 to 15 K and subcooling 2 to 12 K wherever a system runs well."""
    sheet_kPa = case["sheet_barometer_hPa"] / 10
    low_sides = (
        ("R-134a", case["low_side_gauge_kPa"] + atmosphere_kPa, case["suction_pipe_C"]),
        ("R-134a", case["imported_low_gauge_psi"] * PSI_kPa + atmosphere_kPa,
         (case["imported_suction_pipe_F"] - 32) / 1.8),
        ("R-407C", case["bus_low_absolute_kPa"], case["bus_suction_pipe_C"]),
        ("R-134a", case["sheet_low_gauge_kPa"] + sheet_kPa, case["sheet_suction_pipe_C"]),
    )
    high_sides = (
        ("R-134a", case["high_side_gauge_bar"] * 100 + atmosphere_kPa, case["liquid_line_C"]),
        ("R-407C", case["bus_high_absolute_kPa"], case["bus_liquid_line_C"]),
        ("R-134a", case["sheet_high_gauge_kPa"] + sheet_kPa, case["sheet_liquid_line_C"]),
    )
    return (all(2.5 <= pipe - dew_C(name, p) <= 15 for name, p, pipe in low_sides)
            and all(2 <= bubble_C(name, p) - pipe <= 12 for name, p, pipe in high_sides))


def rest_is_clear(case: dict, atmosphere_kPa: float) -> bool:
    """The bench at rest lies within 10 kPa of saturation or more than 50 kPa from it."""
    expected_kPa = bubble_kPa("R-134a", case["rest_temperature_C"]) - atmosphere_kPa
    distance_kPa = abs(case["rest_gauge_kPa"] - expected_kPa)
    return distance_kPa <= 10 or distance_kPa >= 50


def bottle_is_clear(case: dict, atmosphere_kPa: float) -> bool:
    """One refrigerant fits the bottle within 10 kPa; the next is more than 20 kPa away."""
    absolute_kPa = case["bottle_gauge_kPa"] + atmosphere_kPa
    first, second = sorted(abs(bubble_kPa(name, case["bottle_temperature_C"]) - absolute_kPa)
                           for name in (*BOTTLES, "R-410A"))[:2]
    return first <= 10 and second > 20


def visitor_is_clear(case: dict, atmosphere_kPa: float) -> bool:
    """The visitor's superheat and subcooling are each under 0.5 K or above 3.5 K."""
    low_kPa = case["visitor_low_gauge_kPa"] + atmosphere_kPa
    high_kPa = case["visitor_high_gauge_bar"] * 100 + atmosphere_kPa
    superheat_K = case["visitor_suction_pipe_C"] - dew_C("R-134a", low_kPa)
    subcooling_K = bubble_C("R-134a", high_kPa) - case["visitor_liquid_line_C"]
    return all(abs(k) < 0.5 or k > 3.5 for k in (superheat_K, subcooling_K))
