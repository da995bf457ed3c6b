"""The control head's inputs (`data/control_inputs.toml`), checked on load.

An input joins a sensor of the list, its part and pull-up in a circuit, the window it is judged
by, its codes and its substitute value.
"""

from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from coldbench.electrical import Circuit
from coldbench.errors import Gather, InputError
from coldbench.sensing.converter import Converter
from coldbench.sensing.schema import Field, parse_toml, read_table
from coldbench.sensing.sensors import PARAMETERS, PULLED_UP, Sensor, load_sensors
from coldbench.sensing.windows import Window

FILE = "control_inputs.toml"
SUBSTITUTES = {
    "temperature": ("substitute_degC", 1.0, 273.15),
    "gauge pressure": ("substitute_kPa", 1e3, 0.0),
    "irradiance": ("substitute_W_m2", 1.0, 0.0),
    "position": ("substitute_position", 1.0, 0.0),
}
"""Quantity → key of the file, factor and offset to SI."""
REFERENCE_SCALE_V = 10.0
"""Full scale at which the head watches its own reference [V]."""
PART_KINDS = {"thermistor": "variable_resistor", "platinum": "variable_resistor",
              "transducer": "ratio_output", "photodiode": "current_source",
              "potentiometer": "potentiometer"}
"""Kind of sensor → kind of part in the circuit."""


@dataclass(frozen=True)
class ControlInput:
    """One input of a control head; keys as in the file, substitute in SI."""

    name: str
    label: str
    sensor: Sensor
    part: str
    signal: str
    pull_up: str
    window: Window
    low_code: str
    high_code: str
    substitute: float

    @property
    def parameter(self) -> str:
        """Name of the circuit input that carries the sensor's value, "RT1.resistance_ohm"."""
        return f"{self.part}.{PARAMETERS[self.sensor.kind]}"


@dataclass(frozen=True)
class ControlHead:
    """All inputs of a control head and its converter.

    Parameters
    ----------
    circuit : str
        Name of the circuit the inputs belong to.
    converter : Converter
        The converter all inputs share.
    reference, ground : str
        Nodes the converter compares with.
    reference_window : Window
        Limits of the reference as fractions of `REFERENCE_SCALE_V`; outside no input is used.
    reference_low_code, reference_high_code : str
        Codes for a reference below and above.
    inputs : dict[str, ControlInput]
        By name, in the order of the file.
    """

    circuit: str
    converter: Converter
    reference: str
    ground: str
    reference_window: Window
    reference_low_code: str
    reference_high_code: str
    inputs: dict[str, ControlInput]

    def input(self, name: str) -> ControlInput:
        """Return an input by name; InputError lists the names if there is none."""
        if name not in self.inputs:
            raise InputError(f"the control head has no input {name!r}; inputs are "
                             f"{', '.join(self.inputs)}")
        return self.inputs[name]


_TOP = {"circuit", "converter", "input"}
CONVERTER_FIELDS = {
    "bits": Field(int, 4, 16), "reference": Field(str), "ground": Field(str),
    "reference_low_V": Field(float, 0.1, REFERENCE_SCALE_V),
    "reference_high_V": Field(float, 0.1, REFERENCE_SCALE_V),
    "fail_s": Field(float, 0.0, 600.0), "heal_s": Field(float, 0.0, 600.0),
    "reference_low_code": Field(str, default=""), "reference_high_code": Field(str, default=""),
}
INPUT_FIELDS = {
    "name": Field(str), "label": Field(str), "sensor": Field(str), "part": Field(str),
    "signal": Field(str), "pull_up": Field(str, default=""),
    "low_ratio": Field(float, 0.0, 1.0), "high_ratio": Field(float, 0.0, 1.0),
    "fail_s": Field(float, 0.0, 600.0), "heal_s": Field(float, 0.0, 600.0),
    "low_code": Field(str, default=""), "high_code": Field(str, default=""),
}


def read_control_inputs(text: str, sensors: dict[str, Sensor], file: str = FILE) -> ControlHead:
    """Read and check a control head's inputs.

    Parameters
    ----------
    text : str
        TOML text in the form described at the top of `control_inputs.toml`.
    sensors : dict[str, Sensor]
        Sensors the inputs may name.
    file : str
        Name for messages.

    Returns
    -------
    ControlHead

    Raises
    ------
    InputError
        Naming file, key and reason.

    Examples
    --------
    >>> read_control_inputs("circuit = 'x'", {})
    Traceback (most recent call last):
    coldbench.errors.InputError: control_inputs.toml: wants circuit, [converter] and [[input]]
    """
    return control_head_from_tables(parse_toml(text, file), sensors, file)


def control_head_from_tables(tables: dict, sensors: dict[str, Sensor], file: str) -> ControlHead:
    """Check a control head's inputs that were read before, such as a part of a bench file.

    Parameters
    ----------
    tables : dict
        circuit, converter and input, as `tomllib` gives them.
    sensors : dict[str, Sensor]
        Sensors the inputs may name.
    file : str
        Name for messages.

    Returns
    -------
    ControlHead

    Raises
    ------
    InputError
        Naming file, key and reason.
    """
    if set(tables) != _TOP or not isinstance(tables["input"], list):
        raise InputError(f"{file}: wants circuit, [converter] and [[input]]")
    if not isinstance(tables["circuit"], str):
        raise InputError(f"{file}: circuit must be text, not {tables['circuit']!r}")
    c = read_table(tables["converter"], CONVERTER_FIELDS, f"{file}: converter")
    gather = Gather()
    inputs = [gather.of(_input, table, sensors, f"{file}: input {number}")
              for number, table in enumerate(tables["input"], 1)]
    gather.stop()
    codes = (c["reference_low_code"], c["reference_high_code"])
    _check_unique(inputs, codes, file)
    window = _window(c["reference_low_V"] / REFERENCE_SCALE_V,
                     c["reference_high_V"] / REFERENCE_SCALE_V, c, f"{file}: converter")
    return ControlHead(tables["circuit"], Converter(c["bits"]), c["reference"], c["ground"],
                       window, *codes, {i.name: i for i in inputs})


def _window(low: float, high: float, values: dict, where: str) -> Window:
    try:
        return Window(low, high, values["fail_s"], values["heal_s"])
    except InputError as error:
        raise InputError(f"{where}: {error}") from None


def _input(table: object, sensors: dict[str, Sensor], where: str) -> ControlInput:
    name = table.get("sensor") if isinstance(table, dict) else None
    if not isinstance(name, str) or name not in sensors:
        raise InputError(f"{where}: sensor {name!r} is not in the list of sensors; accepted: "
                         f"{', '.join(sensors)}")
    sensor = sensors[name]
    key, factor, offset = SUBSTITUTES[sensor.quantity]
    v = read_table(table, {**INPUT_FIELDS, key: Field(float)}, where)
    if (sensor.kind in PULLED_UP) != bool(v["pull_up"]):
        need = "needs" if sensor.kind in PULLED_UP else "has no"
        raise InputError(f"{where}: pull_up: a {sensor.kind} {need} pull-up")
    window = _window(v["low_ratio"], v["high_ratio"], v, where)
    return ControlInput(v["name"], v["label"], sensor, v["part"], v["signal"], v["pull_up"],
                        window, v["low_code"], v["high_code"], v[key] * factor + offset)


def _check_unique(inputs: list[ControlInput], others: tuple[str, ...], file: str) -> None:
    for key in ("name", "part", "signal"):
        values = [getattr(i, key) for i in inputs]
        for value in values:
            if values.count(value) > 1:
                raise InputError(f"{file}: input: {key} {value!r} is used twice")
    codes = [code for i in inputs for code in (i.low_code, i.high_code) if code]
    codes += [code for code in others if code]
    for code in codes:
        if codes.count(code) > 1:
            raise InputError(f"{file}: code {code!r} is used twice")


def check_head(head: ControlHead, circuit: Circuit) -> None:
    """Refuse a head whose inputs do not fit a circuit.

    Parameters
    ----------
    head : ControlHead
        Inputs.
    circuit : Circuit
        Circuit they should belong to.

    Raises
    ------
    InputError
        Naming input, key and reason.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> check_head(load_control_head(), load_circuit("sensor-splice"))
    """
    gather, nodes = Gather(), set(circuit.nodes)
    for place in (head.reference, head.ground):
        if place not in nodes:
            gather.refuse(f"{circuit.name} has no node {place!r} for the head's converter")
    for i in head.inputs.values():
        wanted = {i.part: PART_KINDS[i.sensor.kind]} | ({i.pull_up: "resistor"} if i.pull_up
                                                         else {})
        for part, kind in wanted.items():
            found = circuit.parts.get(part)
            if found is None or found.kind != kind:
                gather.refuse(f"input {i.name!r}: {circuit.name} has no {kind} {part!r}")
        if i.signal not in nodes:
            gather.refuse(f"input {i.name!r}: {circuit.name} has no node {i.signal!r}")
    gather.stop()


@lru_cache(maxsize=1)
def load_control_head() -> ControlHead:
    """Return the blue bench's control head, the same object each time.

    Returns
    -------
    ControlHead

    Examples
    --------
    >>> load_control_head().input("pressure").low_code
    'P0532'
    """
    text = resources.files("coldbench.sensing").joinpath("data", FILE).read_text("utf-8")
    return read_control_inputs(text, load_sensors())
