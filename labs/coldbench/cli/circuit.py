"""`coldbench circuit`: volts, currents and relays of a circuit, with or without faults."""

import json
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.electrical import Circuit, Solution

Texts = list[str] | None
_ROUNDING = 9


def command(
    circuit: Annotated[str, typer.Argument(
        help="Name of a shipped circuit, or a circuit file ending in .toml.")],
    state: Annotated[str | None, typer.Option(
        help='Name of a state, or inputs like "low_request=true"; the first state of the '
             "file if left out.")] = None,
    after: Annotated[Texts, typer.Option(
        help="A state the circuit was in before; may be given several times, in order.")] = None,
    fault: Annotated[Texts, typer.Option(
        help="PART:MODE or PART:MODE=VALUE; may be given several times.")] = None,
    faults: Annotated[bool, typer.Option(
        "--faults", help="List the faults this circuit can have.")] = False,
    netlist: Annotated[bool, typer.Option(
        "--netlist", help="Print the case as a SPICE deck with the same nodes.")] = False,
    draw: Annotated[str | None, typer.Option(
        help="Write the wiring diagram to this file, .svg or .pdf; with --state or --fault it "
             "shows the values of that case.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
) -> None:
    """Show volts, currents and relays of a circuit in one of its states."""
    from coldbench.electrical import load_circuit

    loaded = load_circuit(circuit)
    if faults:
        say(json.dumps(fault_list(loaded)) if as_json else fault_text(loaded))
        return
    if netlist:
        say(deck(loaded, state, after or [], fault or []).rstrip("\n"))
        return
    solution = solved(loaded, state, after or [], fault or [])
    if draw:
        from coldbench.panels.wiring_file import write_diagram, write_live_diagram

        case = state or fault or after
        made = (write_live_diagram(loaded, draw, solution, state_name(loaded, state))
                if case else write_diagram(loaded, draw))
        say(f"Wrote {made}")
        return
    if as_json:
        say(json.dumps(answer(loaded, solution), allow_nan=False))
    else:
        from coldbench.cli.circuit_text import circuit_text

        say(circuit_text(loaded, solution, state_name(loaded, state)))


def state_name(circuit: "Circuit", state: str | None) -> str:
    """Return the state that is meant: the given one, or the file's first.

    Parameters
    ----------
    circuit : Circuit
        Where the states are.
    state : str or None
        As given.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> state_name(load_circuit("three-relay-fans"), None)
    'off'
    """
    return state if state is not None else next(iter(circuit.states))


def read_state(circuit: "Circuit", state: str | None) -> str | dict:
    """Return settings from a state's name or from "input=value,input=value".

    Parameters
    ----------
    circuit : Circuit
        Where the states and inputs are.
    state : str or None
        As given; None is the first state of the file.

    Returns
    -------
    str or dict
        What the solver takes.

    Raises
    ------
    InputError
        The words fit neither.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> read_state(load_circuit("blower"), "blower_request=true,blower_duty=0.5")
    {'blower_request': True, 'blower_duty': 0.5}
    """
    state = state_name(circuit, state)
    if "=" not in state:
        circuit.settings(state)
        return state
    pairs = [pair.partition("=") for pair in state.split(",")]
    settings = {name.strip(): _setting(name.strip(), value.strip()) for name, _, value in pairs}
    return circuit.settings(settings)


def _setting(name: str, value: str) -> bool | float:
    if value.lower() in ("true", "on", "false", "off"):
        return value.lower() in ("true", "on")
    try:
        return float(value)
    except ValueError:
        raise InputError(f"{name}={value}: true, false or a number is accepted") from None


def solved(circuit: "Circuit", state: str | None, after: list[str],
           faults: list[str]) -> "Solution":
    """Return the solution of a state after earlier ones, with faults.

    Parameters
    ----------
    circuit : Circuit
        Loaded circuit.
    state : str or None
        As given.
    after : list of str
        Earlier states, first one first.
    faults : list of str
        PART:MODE or PART:MODE=VALUE.

    Returns
    -------
    Solution
    """
    from coldbench.electrical import solve_sequence

    states = [read_state(circuit, name) for name in (*after, state)]
    return solve_sequence(circuit, states, read_faults(faults))[-1]


def deck(circuit: "Circuit", state: str | None, after: list[str], faults: list[str]) -> str:
    """Return the SPICE deck of a case, relays in the position they come to.

    Parameters
    ----------
    circuit, state, after, faults
        As in `solved`.

    Returns
    -------
    str
    """
    from coldbench.electrical import netlist, solve_sequence

    given = read_faults(faults)
    states = [read_state(circuit, name) for name in after]
    previous = solve_sequence(circuit, states, given)[-1] if states else None
    return netlist(circuit, read_state(circuit, state), given, previous)


def read_faults(faults: list[str]) -> tuple:
    """Return faults from their words.

    Parameters
    ----------
    faults : list of str
        PART:MODE or PART:MODE=VALUE.

    Returns
    -------
    tuple of Fault

    Examples
    --------
    >>> read_faults(["K1:coil_open"])[0].mode
    'coil_open'
    """
    from coldbench.electrical import parse_fault

    return tuple(parse_fault(words) for words in faults)


def answer(circuit: "Circuit", solution: "Solution") -> dict:
    """Return a solved circuit as plain data, with the keys the command promises.

    Parameters
    ----------
    circuit : Circuit
        Loaded circuit.
    solution : Solution
        Its solution.

    Returns
    -------
    dict
        circuit, settings, faults; nodes: name → volts, thevenin_ohm (both against the
        reference node) and test points; parts: id of part or wire → current_A and
        what its kind adds; relays; notes.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> fans = load_circuit("three-relay-fans")
    >>> data = answer(fans, solved(fans, "low", [], []))
    >>> data["relays"]
    {'K1': 'energised', 'K2': 'released', 'K3': 'released'}
    """
    points: dict[str, list[int]] = {}
    for number, point in circuit.test_points.items():
        points.setdefault(point.at, []).append(number)
    nodes = {node: {"volts": _round(solution.voltage(node)),
                    "thevenin_ohm": _round(solution.source_ohms[node]),
                    "test_points": points.get(node, [])} for node in circuit.nodes}
    parts = {name: {"current_A": _round(amps), **_particulars(solution, name)}
             for name, amps in solution.currents.items()}
    return {"circuit": circuit.name, "settings": dict(solution.settings),
            "faults": [str(fault) for fault in solution.effect.faults], "nodes": nodes,
            "parts": parts, "relays": dict(solution.relays), "notes": list(solution.notes)}


def _particulars(solution: "Solution", part: str) -> dict:
    """What the kind of a part adds: position, speed, fuse load."""
    extra = {}
    if part in solution.relays:
        extra["position"] = solution.relays[part]
    if part in solution.motors:
        extra["motor"] = solution.motors[part]
    if part in solution.fuses:
        share, words = solution.fuses[part]
        extra |= {"load_share": _round(share), "fuse": words}
    return extra


def _round(value: float) -> float:
    return round(float(value), _ROUNDING) + 0.0


def fault_list(circuit: "Circuit") -> list[dict]:
    """Return the faults a circuit can have as plain data; `id` is what --fault takes.

    Parameters
    ----------
    circuit : Circuit
        Loaded circuit.

    Returns
    -------
    list of dict
        id, part, mode, family, description.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> sorted(fault_list(load_circuit("clutch"))[0])
    ['description', 'family', 'id', 'mode', 'part']
    """
    from coldbench.electrical import catalogue

    return [{"id": one.id, "part": one.part, "mode": one.mode, "family": one.family,
             "description": one.description} for one in catalogue(circuit)]


def fault_text(circuit: "Circuit") -> str:
    """Return the faults a circuit can have, for people.

    Parameters
    ----------
    circuit : Circuit
        Loaded circuit.

    Returns
    -------
    str

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> fault_text(load_circuit("clutch")).splitlines()[0]
    'Faults of clutch: --fault ID, or ID=VALUE where a value belongs to it.'
    """
    rows = fault_list(circuit)
    wide = max(len(row["id"]) for row in rows)
    return "\n".join([
        f"Faults of {circuit.name}: --fault ID, or ID=VALUE where a value belongs to it.", "",
        *(f"{row['id']:<{wide}}  {row['family']:<16}  {row['description']}" for row in rows)])
