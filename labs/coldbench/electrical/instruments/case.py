"""A solved case taken apart again, so that an instrument can solve it with a change."""

from coldbench.electrical.circuit import Circuit
from coldbench.electrical.fault_model import Fault
from coldbench.electrical.solution import Solution
from coldbench.electrical.solver import solve

DISCONNECTED_OHM = 1e12


def flat_inputs(solution: Solution) -> dict[str, float]:
    """Return the inputs of a solution as `solve` takes them.

    Parameters
    ----------
    solution : Solution
        Solved case.

    Returns
    -------
    dict of str to float
        "part.parameter" → value.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> flat_inputs(solve(load_circuit("clutch"), "off", inputs={"B.emf_V": 12.5}))
    {'B.emf_V': 12.5}
    """
    return {f"{part}.{key}": value for part, changed in solution.inputs.items()
            for key, value in changed.items()}


def power_off(solution: Solution) -> Solution:
    """Return the same circuit with its battery disconnected.

    Sources and references are open, pull-ups unpowered, drivers off, relays released; switches
    and faults stay as they are.

    Parameters
    ----------
    solution : Solution
        Solved case.

    Returns
    -------
    Solution

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> low = solve(load_circuit("three-relay-fans"), "low")
    >>> round(low.thevenin("B.plus")[1], 3), power_off(low).thevenin("B.plus")[1] > 1e5
    (0.008, True)
    """
    circuit = solution.circuit
    dead = {f"{part.id}.resistance_ohm": DISCONNECTED_OHM for part in _kind(circuit, "source")}
    dead |= {f"{part.id}.reference_V": 0.0 for part in _kind(circuit, "logic_input")}
    faults = [*solution.effect.faults]
    given = {(one.part, one.mode) for one in faults}
    faults += [Fault(part.id, "dead") for part in _kind(circuit, "reference")
               if (part.id, "dead") not in given]
    by_hand = {part.input for part in _kind(circuit, "switch")}
    settings = {name: value for name, value in solution.settings.items() if name in by_hand}
    return solve(circuit, settings, faults, inputs=flat_inputs(solution) | dead)


def _kind(circuit: Circuit, kind: str) -> list:
    return [part for part in circuit.parts.values() if part.kind == kind]
