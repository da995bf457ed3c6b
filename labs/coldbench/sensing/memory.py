"""What a control head remembers of its inputs from moment to moment and cycle to cycle.

Pure functions: each takes a memory and returns the next one. Each input has two codes, for
below and for above its window; while one fails the other's test passes, for the input plainly
is not on that side.
"""

from dataclasses import dataclass, field, replace

from coldbench.errors import InputError
from coldbench.sensing.codes import CodePolicy, CodeState, status_meaning, step_code
from coldbench.sensing.control_inputs import REFERENCE_SCALE_V, ControlHead, ControlInput
from coldbench.sensing.path import SensorReading
from coldbench.sensing.substitute import Belief, believe
from coldbench.sensing.windows import Window, WindowState, step_window


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
    reference : InputMemory
        Of the head's own 5 V reference.
    policy : CodePolicy
        Cycles until codes confirm and age.
    """

    inputs: dict[str, InputMemory] = field(default_factory=dict)
    reference: InputMemory = InputMemory()
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
    reference_V = next(iter(readings.values())).reference_V if readings else 0.0
    reference = _judge(head.reference_window, memory.reference, reference_V / REFERENCE_SCALE_V,
                       elapsed_s, memory.policy)
    return replace(memory, inputs=inputs, reference=reference), beliefs


def _step_input(one: ControlInput, before: InputMemory, reading: SensorReading,
                elapsed_s: float, policy: CodePolicy) -> tuple[InputMemory, Belief]:
    # without a reference nothing is judged; the last judgement and the last good value stand
    after = before if reading.place == "no reference" else _judge(
        one.window, before, reading.ratio, elapsed_s, policy)
    belief = believe(reading.value, after.window.verdict, before.last_good, one.substitute)
    if belief.source == "measured":
        after = replace(after, last_good=belief.value)
    return after, belief


def _judge(window: Window, before: InputMemory, ratio: float, elapsed_s: float,
           policy: CodePolicy) -> InputMemory:
    state = step_window(window, before.window, ratio, elapsed_s)
    return replace(before, window=state, low=_judged(before.low, state.verdict, "below", policy),
                   high=_judged(before.high, state.verdict, "above", policy))


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
    def afresh(one: InputMemory) -> InputMemory:
        return InputMemory(low=step_code(one.low, "new cycle", memory.policy),
                           high=step_code(one.high, "new cycle", memory.policy))

    return replace(memory, inputs={name: afresh(one) for name, one in memory.inputs.items()},
                   reference=afresh(memory.reference))


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
    def cleared(one: InputMemory) -> InputMemory:
        return replace(one, low=CodeState(), high=CodeState())

    return replace(memory, inputs={name: cleared(one) for name, one in memory.inputs.items()},
                   reference=cleared(memory.reference))


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
        In the order of the inputs, those of the reference last.

    Examples
    --------
    >>> from coldbench.sensing.control_inputs import load_control_head
    >>> memory = HeadMemory({"pressure": InputMemory(low=CodeState(0x28))})
    >>> [(c.code, c.meaning) for c in stored_codes(load_control_head(), memory)]
    [('P0532', 'not failing now, confirmed earlier')]
    """
    found = []
    watched = [(name, one.low_code, one.high_code, memory.inputs.get(name, InputMemory()))
               for name, one in head.inputs.items()]
    watched.append(("reference", head.reference_low_code, head.reference_high_code,
                    memory.reference))
    for name, low_code, high_code, known in watched:
        for side, code, state in (("below", low_code, known.low), ("above", high_code, known.high)):
            if code and state.status & 0x0D:  # failing now, pending or confirmed
                found.append(StoredCode(code, name, side, state.status,
                                        status_meaning(state.status)))
    return tuple(found)
