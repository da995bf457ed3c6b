"""A sensor at a control head's input: its curve, the divider, volts, counts, and the window.

In a notebook:

    panel = SensorPanel("ntc-10k-3435", pull_up="10000")
    panel.set(temperature="60 degC", wire="open")
    panel.readings()
"""

from coldbench import quantity
from coldbench.errors import InputError
from coldbench.panels import sensor_picture
from coldbench.panels.controls import Choice, Slider
from coldbench.panels.gauge_state import PRESSURE_UNITS, TEMPERATURE_UNITS
from coldbench.panels.panel import Panel, Table
from coldbench.panels.picture import Picture
from coldbench.panels.scales import round_step
from coldbench.panels.sensor_picture import ohms
from coldbench.panels.sensor_state import (
    REFERENCE_V,
    WIRES,
    SensorState,
    range_of,
    sensor_state,
    window_of,
)
from coldbench.panels.units import Units, chosen_units, temperature_slider, unit_choices
from coldbench.sensing import load_sensors
from coldbench.sensing.sensors import PULLED_UP

_PULL_UPS = ("1000", "1500", "2200", "3300", "4700", "6800", "10000", "15000", "22000", "33000",
             "47000", "100000")  # fmt: skip
_START = {
    "sensor": "ntc-10k-3435", "temperature": 298.15, "pressure": 1.2e6, "irradiance": 500.0,
    "position": 0.5, "pull_up": "10000", "wire": "sound", "bits": "10", "pressure_unit": "kPa",
    "temperature_unit": "degC",
}  # fmt: skip


class SensorPanel(Panel):
    """Curve, divider and counts of one sensor, sound or with a fault in its signal wire.

    Parameters
    ----------
    sensor : name in the list of sensors
    changes : starting settings, named as the controls: temperature, pressure, irradiance
        [W/m²] or position [%] as the sensor asks for, pull_up [Ω, one of the list], wire
        ["sound", "open", "to_ground", "to_5V"], bits, pressure_unit, temperature_unit

    Raises
    ------
    InputError : no such sensor or control, a value outside its range
    """

    title = "A sensor and the input that reads it"

    def __init__(self, sensor: str = "ntc-10k-3435", **changes):
        if sensor not in load_sensors():
            raise InputError(f"no sensor {sensor!r}; accepted: {', '.join(load_sensors())}")
        super().__init__(_START | {"sensor": sensor}, changes)

    def controls(self, settings):
        """Sensor, its value, pull-up, converter, wire, units."""
        sensors = load_sensors()
        pulled = sensors[settings["sensor"]].kind in PULLED_UP
        names = tuple((name, one.label) for name, one in sensors.items())
        pull_ups = tuple((value, ohms(float(value))) for value in _PULL_UPS)
        return (
            Choice("sensor", "Sensor", names, menu=True),
            _value_slider(settings),
            *((Choice("pull_up", "Pull-up", pull_ups, menu=True),) if pulled else ()),
            Choice("wire", "Signal wire", WIRES, menu=True),
            Choice("bits", "Converter", tuple((b, f"{b} bits") for b in ("8", "10", "12"))),
            *unit_choices(),
        )  # fmt: skip

    def compute(self, settings):
        """The sensor's state, with the units it is shown in."""
        return sensor_state(settings), chosen_units(settings)

    def pictures(self, state):
        """The chart and the circuit."""
        found, units = state
        values = [_shown(found, float(value), units) for value in found.curve.values]
        label = f"{found.sensor.quantity}, {_unit(found, units)}"
        shown = _shown(found, found.value, units)
        chart = Picture("chart", sensor_picture.WIDTH, sensor_picture.HEIGHT,
                        f"Input voltage over {found.sensor.quantity}", _chart_words(found, units),
                        sensor_picture.backdrop(found, values, label),
                        sensor_picture.foreground(found, values, shown))  # fmt: skip
        moving = sensor_picture.circuit_values(found, _parameter_words(found))
        circuit = Picture("circuit", sensor_picture.CIRCUIT_WIDTH, sensor_picture.CIRCUIT_HEIGHT,
                          "The input's circuit", _circuit_words(found),
                          sensor_picture.circuit(found), moving)  # fmt: skip
        return chart, circuit

    def line(self, state) -> str:
        """Value, volts, counts and what the head makes of it."""
        found, units = state
        return (f"{_value_words(found, found.value, units)} gives {found.volts:.3f} V, "
                f"{found.counts} counts.\n{_verdict(found, units)}")  # fmt: skip

    def table(self, state) -> Table:
        """Everything in words."""
        found, units = state
        low, high = (REFERENCE_V * r for r in (found.window.low_ratio, found.window.high_ratio))
        rows = (
            ("Sensor", _parameter_words(found)),
            ("Input", f"{found.volts:.3f} V of {REFERENCE_V:g} V"),
            ("Counts", f"{found.counts} of 0 to {found.converter.steps - 1}"),
            ("Sensitivity, sound wire", _sensitivity(found, units)),
            ("One count is", _per_count(found, units)),
            ("Window", f"{low:.2f} V to {high:.2f} V, outside for {found.window.fail_s:g} s"),
        )  # fmt: skip
        return Table(found.sensor.label, ("Quantity", "Value"), rows)

    def values(self, state):
        """Readings as plain values; names carry the unit, SI where nothing is said."""
        found, _ = state
        return {
            "sensor": found.sensor.name, "value_SI": found.value,
            found.curve.parameter_name: found.parameter, "volts_V": found.volts,
            "counts": found.counts, "believed_SI": found.believed, "place": found.place,
            "sensitivity_V_per_SI": found.volts_per_unit,
        }  # fmt: skip


def _value_slider(settings) -> Slider:
    sensor, units = load_sensors()[settings["sensor"]], chosen_units(settings)
    low, high = range_of(sensor.name)
    if sensor.quantity == "temperature":
        return temperature_slider("temperature", "Temperature at the sensor", low, high, units)
    if sensor.quantity == "gauge pressure":
        unit = units.pressure_unit
        most = quantity.from_si(high, unit, "gauge pressure")
        step = max(PRESSURE_UNITS[unit].high_step, round_step(most, 400))
        return Slider("pressure", "Gauge pressure at the sensor", 0, round(most, 1), step, unit,
                      "gauge pressure")  # fmt: skip
    if sensor.quantity == "irradiance":
        return Slider("irradiance", "Sun on the sensor", 0, round(high), 10, "W/m²")
    return Slider("position", "Position of the door", 0, 100, 1, "%", "ratio")


def _shown(found: SensorState, value: float, units: Units) -> float:
    """A value [SI] in the unit shown."""
    if found.sensor.quantity == "temperature":
        return quantity.from_si(value, units.temperature_unit, "temperature")
    if found.sensor.quantity == "gauge pressure":
        return quantity.from_si(value, units.pressure_unit, "gauge pressure")
    return 100 * value if found.sensor.quantity == "position" else value


def _unit(found: SensorState, units: Units) -> str:
    return {"temperature": TEMPERATURE_UNITS[units.temperature_unit],
            "gauge pressure": units.pressure_unit, "irradiance": "W/m²",
            "position": "%"}[found.sensor.quantity]  # fmt: skip


def _value_words(found: SensorState, value: float, units: Units) -> str:
    if found.sensor.quantity == "temperature":
        return units.temperature(value)
    if found.sensor.quantity == "gauge pressure":
        return units.pressure(value)
    return f"{_shown(found, value, units):.0f} {_unit(found, units)}"


def _parameter_words(found: SensorState) -> str:
    name, value = found.curve.parameter_name, found.parameter
    if name == "resistance_ohm":
        return ohms(value)
    if name == "current_A":
        return f"{1e6 * value:.1f} µA"
    return f"{100 * value:.1f} %"


def _per_unit(found: SensorState, units: Units) -> float:
    """How many shown units one SI unit makes, for differences."""
    return abs(_shown(found, found.curve.values[-1], units)
               - _shown(found, found.curve.values[0], units)) / float(
        found.curve.values[-1] - found.curve.values[0])  # fmt: skip


def _difference_unit(found: SensorState, units: Units) -> str:
    return units.difference_unit if found.sensor.quantity == "temperature" else _unit(found, units)


def _sensitivity(found: SensorState, units: Units) -> str:
    slope = 1e3 * found.volts_per_unit / _per_unit(found, units)
    return f"{slope:.3g} mV per {_difference_unit(found, units)}".replace("-", "−")


def _per_count(found: SensorState, units: Units) -> str:
    width = found.unit_per_count * _per_unit(found, units)
    if width == float("inf"):
        return "no change at all here"
    return f"{width:.2g} {_difference_unit(found, units)}"


def _verdict(found: SensorState, units: Units) -> str:
    if found.believed is not None:
        return f"The head reads {_value_words(found, found.believed, units)}."
    likely = {("above", True): "open, or shorted to the supply",
              ("above", False): "shorted to the supply, or its ground lost",
              ("below", True): "shorted to ground",
              ("below", False): "open, without supply, or shorted to ground"}  # fmt: skip
    cause = likely[found.place, found.pull_up_ohm is not None]
    return (f"{found.place.capitalize()} the window: {cause}. After {found.window.fail_s:g} s "
            "the head stores a code and uses a substitute.")  # fmt: skip


def _chart_words(found: SensorState, units: Units) -> str:
    low, high = found.curve.volts[0], found.curve.volts[-1]
    ends = [_value_words(found, float(found.curve.values[k]), units) for k in (0, -1)]
    window = window_of(found.sensor.name)
    limits = [f"{REFERENCE_V * ratio:.2f}" for ratio in (window.low_ratio, window.high_ratio)]
    return (f"The voltage goes from {low:.2f} V at {ends[0]} to {high:.2f} V at {ends[1]}; now "
            f"{found.volts:.2f} V, {found.counts} counts, {found.place} the window of "
            f"{' to '.join(limits)} V.")  # fmt: skip


def _circuit_words(found: SensorState) -> str:
    feed = (f"a pull-up of {ohms(found.pull_up_ohm)} from 5 V to the input, the sensor from there "
            "to sensor ground" if found.pull_up_ohm is not None else
            "the sensor between 5 V and sensor ground, its signal to the input")  # fmt: skip
    return f"{feed[0].upper()}{feed[1:]}. Signal wire: {dict(WIRES)[found.wire]}."
