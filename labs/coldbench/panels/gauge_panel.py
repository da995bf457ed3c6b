"""Two gauges and the pressure-temperature chart: from a pressure to a saturation temperature.

In a notebook:

    panel = GaugePanel("R134a", altitude_m=250)
    panel.set(low_side="30 psi", high_side="12 bar")
    panel.readings()
"""

from functools import lru_cache

from coldbench import quantity
from coldbench.panels import dial as dials
from coldbench.panels import saturation_chart as charts
from coldbench.panels.controls import Choice, Slider
from coldbench.panels.gauge_state import (
    PRESSURE_UNITS,
    TEMPERATURE_UNITS,
    GaugeState,
    PressureUnit,
    Side,
    _or_none,
    gauge_state,
    scale_top,
)
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.scales import round_step, round_up
from coldbench.refrigerant import FLUIDS
from coldbench.refrigerant import fluid as fluid_named

LOW_TOP_K, HIGH_TOP_K = 308.15, 358.15
_COLDEST_K = 223.15
_HEIGHT = 300
_CENTRE_Y = 140
_START = {
    "fluid": "R134a", "low_side": 200e3, "high_side": 1200e3, "altitude": 0.0,
    "pressure_unit": "kPa", "temperature_unit": "degC",
}  # fmt: skip


class GaugePanel(Panel):
    """Two round gauges and a pressure-temperature chart for a fluid at an altitude.

    Parameters
    ----------
    fluid : refrigerant, e.g. "R134a"
    altitude_m : altitude of the workshop, which sets the atmosphere [m]
    low_side, high_side : gauge pressures, a number [pressure_unit] or a text with its unit
    pressure_unit : "kPa", "bar" or "psi"
    temperature_unit : "degC" or "degF"

    Raises
    ------
    InputError : unknown fluid or unit, a value outside its range
    """

    title = "Two gauges and the pressure–temperature chart"

    def __init__(self, fluid="R134a", altitude_m=0.0, **changes):
        name = fluid_named(fluid).name
        super().__init__(_START, {"fluid": name, "altitude": altitude_m} | changes)

    def controls(self, settings):
        """Fluid, both pressures, altitude and units."""
        unit = PRESSURE_UNITS[settings["pressure_unit"]]
        fluid = fluid_named(settings["fluid"])
        low_top, high_top = (scale_top(fluid, t, unit) for t in (LOW_TOP_K, HIGH_TOP_K))
        gauge = "gauge pressure"
        return (
            Choice("fluid", "Refrigerant", _fluid_options(), menu=True),
            Slider("low_side", "Low side, gauge pressure", unit.lowest, low_top, unit.low_step,
                   unit.name, gauge),
            Slider("high_side", "High side, gauge pressure", unit.lowest, high_top,
                   unit.high_step, unit.name, gauge),
            Slider("altitude", "Altitude of the workshop", -400, 3000, 50, "m", "length"),
            Choice("pressure_unit", "Pressure unit", tuple((u, u) for u in PRESSURE_UNITS)),
            Choice("temperature_unit", "Temperature unit", tuple(TEMPERATURE_UNITS.items())),
        )  # fmt: skip

    def compute(self, settings) -> GaugeState:
        """Both gauges, from the settings."""
        return gauge_state(settings)

    def pictures(self, state: GaugeState):
        """The gauges and the chart."""
        return gauges_picture(state), _chart(state)

    def line(self, state: GaugeState) -> str:
        """Both sides in words."""
        return "\n".join(_sentence(state, side) for side in (state.low, state.high))

    def table(self, state: GaugeState) -> Table:
        """Both sides, with absolute pressures and saturation temperatures."""
        blend = state.fluid.has_glide
        columns = ("Bubble point", "Dew point") if blend else ("Saturation temperature",)
        atmosphere = quantity.format_quantity(state.atmosphere_Pa, "kPa", "absolute pressure")
        return Table(
            f"{state.fluid.designation}, atmosphere {atmosphere}",
            ("Side", "Gauge", "Absolute", *columns),
            tuple(_row(state, side, blend) for side in (state.low, state.high)),
        )

    def values(self, state: GaugeState):
        """Pressures [kPa] and temperatures [degC]."""
        found = {"fluid": state.fluid.name, "atmosphere_kPa": state.atmosphere_Pa / 1e3}
        for side in (state.low, state.high):
            name = side.name.replace(" ", "_")
            found[f"{name}_gauge_kPa"] = side.gauge_Pa / 1e3
            found[f"{name}_absolute_kPa"] = side.absolute_Pa / 1e3
            for point, kelvin in (("bubble", side.bubble_K), ("dew", side.dew_K)):
                found[f"{name}_{point}_degC"] = None if kelvin is None else kelvin - 273.15
        return found


def _fluid_options() -> tuple[tuple[str, str], ...]:
    return tuple((name, fluid_named(name).designation) for name in FLUIDS)


def _row(state: GaugeState, side: Side, blend: bool) -> tuple[str, ...]:
    points = (side.bubble_K, side.dew_K) if blend else (side.read_K,)
    absolute = state.pressure(side.absolute_Pa, "absolute pressure")
    temperatures = (state.temperature(kelvin) for kelvin in points)
    return side.name, state.pressure(side.gauge_Pa), absolute, *temperatures


def _sentence(state: GaugeState, side: Side) -> str:
    """One side in words; a number and its unit stay on one line."""
    gauge = state.pressure(side.gauge_Pa)
    absolute = state.pressure(side.absolute_Pa, "absolute pressure")
    gauge, absolute = (words.replace(" ", "\u00a0") for words in (gauge, absolute))
    return (f"{side.name.capitalize()} {gauge} gauge = {absolute} absolute → "
            f"{_temperature_words(state, side)}.")  # fmt: skip


def _temperature_words(state: GaugeState, side: Side) -> str:
    """The saturation temperature in words; says why where there is none."""
    if side.read_K is None:
        above = side.absolute_Pa >= state.fluid.critical_pressure_Pa
        end = "above its critical point" if above else "outside its saturation range"
        return f"no saturation temperature: {state.fluid.designation} is {end}"
    bubble, dew = (state.temperature(t).replace(" ", "\u00a0")
                   for t in (side.bubble_K, side.dew_K))  # fmt: skip
    if not state.fluid.has_glide:
        return dew
    return f"{bubble} bubble, {dew} dew"


def gauges_picture(state: GaugeState) -> Picture:
    """Both gauges as one drawing."""
    unit = state.pressure_unit
    drawn, dial_pair = faces(
        state.fluid.name, state.atmosphere_Pa, unit.name, state.temperature_unit
    )
    needles = [
        dials.needle(dial, quantity.from_si(side.gauge_Pa, unit.name, "gauge pressure"),
                     state.pressure(side.gauge_Pa), _under_needle(state, side))
        for dial, side in zip(dial_pair, (state.low, state.high), strict=True)
    ]  # fmt: skip
    shown = " ".join(_needle_words(state, side) for side in (state.low, state.high))
    return Picture("gauges", 540, _HEIGHT, "Low-side gauge and high-side gauge", shown,
                   drawn, "".join(needles))  # fmt: skip


def _under_needle(state: GaugeState, side: Side) -> str:
    if side.read_K is None:
        return "no saturation"
    point = {"low side": " dew", "high side": " bubble"}[side.name] if state.fluid.has_glide else ""
    return state.temperature(side.read_K) + point


def _needle_words(state: GaugeState, side: Side) -> str:
    return (f"The {side.name} needle stands at {state.pressure(side.gauge_Pa)} gauge; "
            f"the inner scale shows {_under_needle(state, side)}.")  # fmt: skip


@lru_cache(maxsize=32)
def faces(fluid_name: str, atmosphere_Pa: float, unit_name: str, temperature_unit: str):
    """The still parts of both gauges, and the gauges."""
    fluid, unit = fluid_named(fluid_name), PRESSURE_UNITS[unit_name]
    pair = tuple(
        dials.Dial(look, (x, _CENTRE_Y), _scale_bottom(unit), scale_top(fluid, top_K, unit),
                   unit_name)
        for look, x, top_K in (("low", 135, LOW_TOP_K), ("high", 405, HIGH_TOP_K))
    )  # fmt: skip
    relations = (fluid.dew_pressure, fluid.bubble_pressure)
    points = (" dew", " bubble") if fluid.has_glide else ("", "")
    drawn = [
        dials.face(
            dial,
            dials.temperature_marks(dial, atmosphere_Pa, lambda t, r=r: _or_none(r, t),
                                    temperature_unit),
            TEMPERATURE_UNITS[temperature_unit] + point,
        )
        for dial, r, point in zip(pair, relations, points, strict=True)
    ]  # fmt: skip
    return "".join(drawn), pair


def _scale_bottom(unit: PressureUnit) -> float:
    """Full vacuum at sea level, rounded [unit]."""
    return {"kPa": -100, "bar": -1, "psi": -15}[unit.name]


def _chart(state: GaugeState) -> Picture:
    unit = state.pressure_unit.name
    drawn, chart = _backdrop(state.fluid.name, state.atmosphere_Pa, unit, state.temperature_unit)
    sides = []
    for look, side in (("low", state.low), ("high", state.high)):
        shown = None if side.read_K is None else quantity.from_si(
            side.read_K, state.temperature_unit, "temperature")  # fmt: skip
        gauge = quantity.from_si(side.gauge_Pa, unit, "gauge pressure")
        sides.append((look, shown, gauge, _under_needle(state, side)))
    words = (f"Saturation pressure of {state.fluid.designation} against temperature. "
             f"Low-side point at {sides[0][3]}, high-side point at {sides[1][3]}.")  # fmt: skip
    title = f"Pressure–temperature chart of {state.fluid.designation}"
    return Picture("chart", charts.WIDTH, charts.HEIGHT, title, words, drawn,
                   charts.points(chart, sides))  # fmt: skip


@lru_cache(maxsize=32)
def _backdrop(fluid_name: str, atmosphere_Pa: float, unit_name: str, temperature_unit: str):
    """The still part of the chart, and the chart's axes."""
    fluid, unit = fluid_named(fluid_name), PRESSURE_UNITS[unit_name]
    coldest = quantity.from_si(_COLDEST_K, temperature_unit, "temperature")
    warmest_K = min(HIGH_TOP_K, fluid.critical_temperature_K) + 3.0
    warmest = quantity.from_si(warmest_K, temperature_unit, "temperature")
    step = round_step(warmest - coldest, 8)
    chart = charts.Chart(
        -round_up(-coldest, step), round_up(warmest, step), _scale_bottom(unit),
        scale_top(fluid, HIGH_TOP_K, unit), temperature_unit, unit_name,
    )  # fmt: skip
    relations = [("dew (last liquid boils)", fluid.dew_temperature)]
    if fluid.has_glide:
        relations.append(("bubble (first bubble)", fluid.bubble_temperature))
    lines = [
        (words, charts.saturation_line(chart, lambda p, r=r: _or_none(r, p), atmosphere_Pa))
        for words, r in relations
    ]
    return charts.backdrop(chart, lines, TEMPERATURE_UNITS[temperature_unit]), chart
