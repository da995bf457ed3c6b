"""The whole path of a signal: physical value → sensor → circuit with its faults → counts → value.

    sensor_inputs   what the sensors are to the circuit at these physical values
    read_sensors    what the control head makes of a solved circuit
    solve_sensors   both, with the heat that the measuring current leaves in the sensors

The head knows the resistors printed in its circuit file, not the faults.
"""

from dataclasses import dataclass

from coldbench.electrical import Circuit, Solution, solve
from coldbench.errors import ConvergenceError, InputError
from coldbench.sensing.checks import checked
from coldbench.sensing.control_inputs import (
    REFERENCE_SCALE_V, ControlHead, ControlInput, check_head, load_control_head)
from coldbench.sensing.sensors import PULLED_UP

HEAT_PASSES = 30
HEAT_TOLERANCE_K = 1e-6

_WORDS = {
    ("above", True): "above the window: open, or short to supply",
    ("above", False): "above the window: ground lost, or short to supply",
    ("below", True): "below the window: short to ground",
    ("below", False): "below the window: open, supply lost, or short to ground",
}


@dataclass(frozen=True)
class SensorReading:
    """What a control head sees at one input.

    Parameters
    ----------
    name, label, quantity, unit : str
        The input; unit is SI.
    volts : float
        At the head's pin against the head's ground [V].
    counts : int
        Of the converter.
    ratio : float
        V/V_ref by the counts.
    value : float or None
        Value by the head's table [SI]; None outside the window.
    place : str
        "below", "inside" or "above" the window, or "no reference".
    status : str
        The same in words, with what it can mean.
    reference_V : float
        Reference against the head's ground [V].
    """

    name: str
    label: str
    quantity: str
    unit: str
    volts: float
    counts: int
    ratio: float
    value: float | None
    place: str
    status: str
    reference_V: float


def sensor_inputs(circuit: Circuit, physical: dict[str, float],
                  instead: dict[str, float] | None = None,
                  head: ControlHead | None = None) -> dict[str, float]:
    """Return the circuit inputs at physical values.

    Parameters
    ----------
    circuit : Circuit
        The circuit the head belongs to.
    physical : dict[str, float]
        Input name → value [SI]; sensors left out keep the circuit file's value.
    instead : dict[str, float], optional
        Input name → resistance of a resistor put in the place of a resistive sensor [Ohm].
    head : ControlHead, optional
        By default the blue bench's.

    Returns
    -------
    dict[str, float]
        "part.parameter" → value, for `electrical.solve(..., inputs=…)`.

    Raises
    ------
    InputError
        For an unknown name, a value out of the sensor's range, or a resistor in the place of
        a sensor that is none.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> circuit = load_circuit("sensor-splice")
    >>> sensor_inputs(circuit, {"pressure": 1.6e6}, {"ambient": 4700.0})
    {'PT1.ratio': 0.5, 'RT1.resistance_ohm': 4700.0}
    """
    head = head or load_control_head()
    check_head(head, circuit)
    found = {}
    for name, value in physical.items():
        one = head.input(name)
        try:
            found[one.parameter] = one.sensor.parameter(value)
        except InputError as error:
            raise InputError(f"input {name!r}: {error}") from None
    for name, ohm in (instead or {}).items():
        one = head.input(name)
        if not one.parameter.endswith(".resistance_ohm"):
            raise InputError(f"input {name!r}: a resistor cannot stand in for a "
                             f"{one.sensor.kind}; it can for a thermistor")
        found[one.parameter] = checked(ohm, f"resistor for {name!r}", 0.0, unit="Ohm", above=True)
    return found


def read_sensors(solution: Solution, head: ControlHead | None = None) -> dict[str, SensorReading]:
    """Return what the control head reads in a solved circuit.

    Parameters
    ----------
    solution : Solution
        Of `electrical.solve`.
    head : ControlHead, optional
        By default the blue bench's.

    Returns
    -------
    dict[str, SensorReading]
        By input name.

    Raises
    ------
    InputError
        If the head does not belong to that circuit.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> circuit = load_circuit("sensor-splice")
    >>> warm = solve(circuit, "on", inputs=sensor_inputs(circuit, {"cabin": 298.15}))
    >>> reading = read_sensors(warm)["cabin"]
    >>> round(reading.volts, 2), reading.counts, round(reading.value - 273.15, 1)
    (2.97, 609, 25.0)
    >>> reading.status
    'inside the window'
    """
    head = head or load_control_head()
    check_head(head, solution.circuit)
    ground = solution.voltage(head.ground)
    reference = solution.voltage(head.reference) - ground
    return {name: _reading(one, head, solution.circuit, solution.voltage(one.signal) - ground, reference)
            for name, one in head.inputs.items()}


def _reading(one: ControlInput, head: ControlHead, circuit: Circuit, volts: float,
             reference_V: float) -> SensorReading:
    usable = head.reference_window.place(reference_V / REFERENCE_SCALE_V) == "inside"
    counts = head.converter.counts(volts, reference_V) if usable else 0
    ratio = head.converter.ratio(counts)
    place = one.window.place(ratio) if usable else "no reference"
    pull_up = circuit.parts[one.pull_up].parameters["resistance_ohm"] if one.pull_up else None
    nominal_V = circuit.parts[head.reference.split(".")[0]].parameters.get("emf_V", 5.0)
    value = one.sensor.value(ratio, pull_up, nominal_V) if place == "inside" else None
    status = _WORDS.get((place, one.sensor.kind in PULLED_UP), f"{place} the window")
    if not usable:
        status = f"no reading: the reference stands at {reference_V:.2f} V"
    return SensorReading(one.name, one.label, one.sensor.quantity, one.sensor.unit, volts, counts,
                         ratio, value, place, status, reference_V)


def solve_sensors(circuit: Circuit, physical: dict[str, float], faults=(), settings="on",
                  instead: dict[str, float] | None = None,
                  head: ControlHead | None = None) -> Solution:
    """Return the solved circuit at physical values, thermistors warmed by their own current.

    Each thermistor sits at T = T_medium + P/δ; circuit and temperatures are solved in turn
    until no temperature moves by more than 1 µK.

    Parameters
    ----------
    circuit : Circuit
        The circuit the head belongs to.
    physical : dict[str, float]
        Input name → value [SI].
    faults : sequence, optional
        As `electrical.solve` takes them.
    settings : str or dict
        State of the circuit.
    instead : dict[str, float], optional
        As in `sensor_inputs`.
    head : ControlHead, optional
        By default the blue bench's.

    Returns
    -------
    Solution

    Raises
    ------
    InputError
        For a value out of range, also when the heat drives a sensor out of its range.
    ConvergenceError
        If the temperatures do not settle.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> circuit = load_circuit("sensor-splice")
    >>> bad = solve_sensors(circuit, {"ambient": 303.15}, faults=["W31:open"])
    >>> read_sensors(bad)["ambient"].status
    'above the window: open, or short to supply'
    """
    head = head or load_control_head()
    medium = {name: value for name, value in physical.items()
              if head.input(name).sensor.dissipation_W_K and name not in (instead or {})}
    felt = dict(physical)
    for _ in range(HEAT_PASSES):
        inputs = sensor_inputs(circuit, felt, instead, head)
        solution = solve(circuit, settings, faults=faults, inputs=inputs)
        heated = {name: value + _heat_W(solution, head.input(name)) /
                  head.input(name).sensor.dissipation_W_K for name, value in medium.items()}
        moved = max((abs(heated[name] - felt[name]) for name in medium), default=0.0)
        felt |= heated
        if moved <= HEAT_TOLERANCE_K:
            return solution
    raise ConvergenceError("the temperatures of the self-heated sensors do not settle")


def _heat_W(solution: Solution, one: ControlInput) -> float:
    volts = solution.voltage(f"{one.part}.a") - solution.voltage(f"{one.part}.b")
    return abs(volts * solution.currents[one.part])
