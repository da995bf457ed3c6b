"""What a control head remembers of its inputs from moment to moment and cycle to cycle.

Pure functions: each takes a memory and returns the next one. Each input has two codes, for
below and for above its window; while one fails the other's test passes, for the input plainly
is not on that side.
"""

from dataclasses import dataclass, field, replace

from coldbench.errors import InputError
from coldbench.sensing.codes import CodePolicy, CodeState, status_meaning, step_code
from coldbench.sensing.control_inputs import ControlHead, ControlInput
from coldbench.sensing.path import SensorReading
from coldbench.sensing.substitute import Belief, believe
from coldbench.sensing.windows import WindowState, step_window


@dataclass(frozen=True)
class InputMemory:
    """Memory of one input: window, codes for below and above it, last good value [SI]."""

    window: WindowState = WindowState()
    low: CodeState = CodeState()
    high: CodeState = CodeState()
    last_good: float | None = None


@dataclass(frozen=True)
class HeadMemory:
    """Memory of a control head.

    Parameters
    ----------
    inputs : dict[str, InputMemory]
        By input name; an input not in it has just been cleared.
    policy : CodePolicy
        Cycles until codes confirm and age.
    """

    inputs: dict[str, InputMemory] = field(default_factory=dict)
    policy: CodePolicy = CodePolicy()


@dataclass(frozen=True)
class StoredCode:
    """One code as a tester shows it.

    Parameters
    ----------
    code : str
        Its number, for example "P0532".
    input : str
        Name of the input.
    side : str
        "below" or "above" the window.
    status : int
        Status byte.
    meaning : str
        What the status says.
    """

    code: str
    input: str
    side: str
    status: int
    meaning: str


def step_head(head: ControlHead, memory: HeadMemory, readings: dict[str, SensorReading],
              elapsed_s: float) -> tuple[HeadMemory, dict[str, Belief]]:
    """Return memory and beliefs after readings have stood for a time.

    Parameters
    ----------
    head : ControlHead
        The inputs.
    memory : HeadMemory
        Before.
    readings : dict[str, SensorReading]
        Of `read_sensors`, for every input.
    elapsed_s : float
        How long they stood [s].

    Returns
    -------
    tuple of HeadMemory and dict[str, Belief]
        After, and what the head works with.

    Raises
    ------
    InputError
        If a reading is missing or the time is negative.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> from coldbench.sensing.control_inputs import load_control_head
    >>> from coldbench.sensing.path import read_sensors, solve_sensors
    >>> head, circuit = load_control_head(), load_circuit("sensor-splice")
    >>> readings = read_sensors(solve_sensors(circuit, {}, faults=["W31:open"]))
    >>> memory, beliefs = step_head(head, HeadMemory(), readings, 3.0)
    >>> beliefs["ambient"].source, [hex(c.status) for c in stored_codes(head, memory)]
    ('substitute', ['0x27'])
    """
    if missing := head.inputs.keys() - readings.keys():
        raise InputError(f"no reading for the inputs {', '.join(sorted(missing))}")
    inputs, beliefs = {}, {}
    for name, one in head.inputs.items():
        before = memory.inputs.get(name, InputMemory())
        inputs[name], beliefs[name] = _step_input(one, before, readings[name], elapsed_s,
                                                  memory.policy)
    return replace(memory, inputs=inputs), beliefs


def _step_input(one: ControlInput, before: InputMemory, reading: SensorReading,
                elapsed_s: float, policy: CodePolicy) -> tuple[InputMemory, Belief]:
    window = step_window(one.window, before.window, reading.ratio, elapsed_s)
    belief = believe(reading.value, window.verdict, before.last_good, one.substitute)
    last_good = belief.value if belief.source == "measured" else before.last_good
    return InputMemory(window, _judged(before.low, window.verdict, "below", policy),
                       _judged(before.high, window.verdict, "above", policy), last_good), belief


def _judged(code: CodeState, verdict: str, side: str, policy: CodePolicy) -> CodeState:
    if verdict == "untested":
        return code
    return step_code(code, "failed" if verdict == side else "passed", policy)


def new_cycle(memory: HeadMemory) -> HeadMemory:
    """Return the memory after the ignition was switched off and on again.

    Codes go into their next operation cycle; windows and last good values start afresh.

    Parameters
    ----------
    memory : HeadMemory
        Before.

    Returns
    -------
    HeadMemory

    Examples
    --------
    >>> new_cycle(HeadMemory({"a": InputMemory(last_good=1.0)})).inputs["a"].last_good
    """
    inputs = {name: InputMemory(low=step_code(one.low, "new cycle", memory.policy),
                                high=step_code(one.high, "new cycle", memory.policy))
              for name, one in memory.inputs.items()}
    return replace(memory, inputs=inputs)


def clear_codes(memory: HeadMemory) -> HeadMemory:
    """Return the memory after a tester cleared the codes; a fault still there comes back.

    Parameters
    ----------
    memory : HeadMemory
        Before.

    Returns
    -------
    HeadMemory

    Examples
    --------
    >>> clear_codes(HeadMemory({"a": InputMemory(low=CodeState(0x2F, 2))})).inputs["a"].low.status
    80
    """
    inputs = {name: replace(one, low=CodeState(), high=CodeState())
              for name, one in memory.inputs.items()}
    return replace(memory, inputs=inputs)


def stored_codes(head: ControlHead, memory: HeadMemory) -> tuple[StoredCode, ...]:
    """Return the codes a tester shows: those pending, confirmed or failing now.

    Parameters
    ----------
    head : ControlHead
        The inputs.
    memory : HeadMemory
        Memory.

    Returns
    -------
    tuple of StoredCode
        In the order of the inputs.

    Examples
    --------
    >>> from coldbench.sensing.control_inputs import load_control_head
    >>> memory = HeadMemory({"pressure": InputMemory(low=CodeState(0x28))})
    >>> [(c.code, c.meaning) for c in stored_codes(load_control_head(), memory)]
    [('P0532', 'not failing now, confirmed earlier')]
    """
    found = []
    for name, one in head.inputs.items():
        known = memory.inputs.get(name, InputMemory())
        for side, code, state in (("below", one.low_code, known.low),
                                  ("above", one.high_code, known.high)):
            if code and state.status & 0x0D:  # failing now, pending or confirmed
                found.append(StoredCode(code, name, side, state.status,
                                        status_meaning(state.status)))
    return tuple(found)
