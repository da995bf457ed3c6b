"""A sensor at a control head's input: what it gives, what the input reads, what is believed."""

from dataclasses import dataclass
from functools import lru_cache

from coldbench.sensing import (
    Converter,
    Response,
    Sensor,
    Window,
    load_control_head,
    load_sensors,
    sensor_response,
)
from coldbench.sensing.sensors import PULLED_UP

REFERENCE_V = 5.0
WIRES = (("sound", "as it should be"), ("open", "signal wire open"),
         ("to_ground", "signal shorted to ground"), ("to_5V", "signal shorted to 5 V"))  # fmt: skip
VALUE_NAMES = {"temperature": "temperature", "gauge pressure": "pressure",
               "irradiance": "irradiance", "position": "position"}  # fmt: skip


@dataclass(frozen=True)
class SensorState:
    """What is shown.

    value : physical value [SI]; parameter : resistance [Ohm], ratio, current [A] or position
    volts, counts : at the input; believed : value by the head's table [SI], None outside the
    window; place : "below", "inside" or "above" the window
    volts_per_unit, unit_per_count : sensitivity at the value, for a sound wire
    """

    sensor: Sensor
    value: float
    pull_up_ohm: float | None
    wire: str
    curve: Response
    window: Window
    converter: Converter
    parameter: float
    volts: float
    counts: int
    believed: float | None
    place: str
    volts_per_unit: float
    unit_per_count: float


def sensor_state(settings) -> SensorState:
    """The state for a panel's settings [SI]: sensor, value, pull-up, wire, bits."""
    sensor = load_sensors()[settings["sensor"]]
    value = settings[VALUE_NAMES[sensor.quantity]]
    pulled = sensor.kind in PULLED_UP
    pull_up = float(settings["pull_up"]) if pulled else None
    converter, window = Converter(int(settings["bits"])), window_of(sensor.name)
    curve = curve_of(sensor.name, pull_up, converter.bits)
    here = _here(sensor, value, pull_up, converter)
    volts = {"sound": float(here.volts[0]), "open": REFERENCE_V if pulled else 0.0,
             "to_ground": 0.0, "to_5V": REFERENCE_V}[settings["wire"]]  # fmt: skip
    counts = converter.counts(volts, REFERENCE_V)
    ratio = converter.ratio(counts)
    place = window.place(ratio)
    believed = float(sensor.value(ratio, pull_up, REFERENCE_V)) if place == "inside" else None
    return SensorState(sensor, value, pull_up, settings["wire"], curve, window, converter,
                       float(here.parameter[0]), volts, counts, believed, place,
                       float(here.volts_per_unit[0]), float(here.unit_per_count[0]))  # fmt: skip


@lru_cache(maxsize=64)
def curve_of(name: str, pull_up_ohm: float | None, bits: int) -> Response:
    """The whole curve of a sensor."""
    return sensor_response(load_sensors()[name], pull_up_ohm, REFERENCE_V, Converter(bits))


def _here(sensor: Sensor, value: float, pull_up, converter) -> Response:
    """The curve at one value: its first point, or its last at the end of the range."""
    low, high = range_of(sensor.name)
    step = (high - low) * 1e-6
    if value + step > high:
        back = sensor_response(sensor, pull_up, REFERENCE_V, converter, value - step, value, 2)
        return Response(*(part if isinstance(part, str) else part[::-1]
                          for part in vars(back).values()))  # fmt: skip
    return sensor_response(sensor, pull_up, REFERENCE_V, converter, value, value + step, 2)


@lru_cache(maxsize=64)
def range_of(name: str) -> tuple[float, float]:
    """Range of a sensor's values [SI]."""
    from coldbench.sensing import usual_range

    return usual_range(load_sensors()[name])


def window_of(name: str) -> Window:
    """The window the head judges this sensor by; of another sensor of its kind if it has none."""
    kind = load_sensors()[name].kind
    inputs = load_control_head().inputs.values()
    fitting = [one for one in inputs if one.sensor.name == name] or [
        one for one in inputs if one.sensor.kind == kind]  # fmt: skip
    return (fitting or list(inputs))[0].window
