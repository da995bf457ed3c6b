"""A solved circuit for people: test points, what the parts do, relays, notes."""

from coldbench.electrical import Circuit, Solution

_MOST_OHM = 1e6  # from here on a point counts as floating


def circuit_text(circuit: Circuit, solution: Solution, state: str) -> str:
    """Return a solved circuit as a short table.

    Parameters
    ----------
    circuit : Circuit
        Loaded circuit.
    solution : Solution
        Its solution.
    state : str
        Name of the state, as asked for.

    Returns
    -------
    str
        Several lines.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> fans = load_circuit("three-relay-fans")
    >>> print(circuit_text(fans, solve(fans, "low"), "low").splitlines()[0])
    Two condenser fans on three relays, state low
    """
    lines = [f"{circuit.title}, state {state}"]
    lines += [f"  fault: {words}" for words in solution.effect.words]
    lines += ["", f"Volts against {circuit.ground}:", *_points(circuit, solution)]
    lines += ["", "Parts:", *_parts(circuit, solution)]
    if solution.notes:
        lines += ["", *(f"! {note}" for note in solution.notes)]
    return "\n".join(lines)


def _points(circuit: Circuit, solution: Solution) -> list[str]:
    named = [(f"{number:>3}", point.at, point.label)
             for number, point in sorted(circuit.test_points.items())]
    rows = named or [("", node, "") for node in circuit.nodes]
    return [f"{number} {node:<12} {_volts(solution, node):>10}  {label}".rstrip()
            for number, node, label in rows]


def _volts(solution: Solution, node: str) -> str:
    volts, ohms = solution.thevenin(node)
    return "floating" if ohms > _MOST_OHM else f"{volts + 0.0:.3f} V"


def _parts(circuit: Circuit, solution: Solution) -> list[str]:
    return [f"    {name:<12} {solution.currents[name] + 0.0:>8.3f} A  "
            f"{_state(solution, name):<24} {part.label}".rstrip()
            for name, part in circuit.parts.items()]


def _state(solution: Solution, name: str) -> str:
    """Position of a relay, speed of a motor, load of a fuse."""
    if name in solution.relays:
        coil = solution.currents.get(f"{name}.coil", 0.0)
        return f"{solution.relays[name]}, coil {coil:.3f} A"
    if name in solution.motors:
        motor = solution.motors[name]
        return f"{motor.rpm:.0f} rpm" if motor.state == "running" else motor.state
    if name in solution.fuses:
        return f"{100.0 * solution.fuses[name].load_share:.0f} % of rating"
    return ""
