"""`coldbench meter`: one reading between two test points of a circuit."""

import json
from typing import TYPE_CHECKING, Annotated

import typer

from coldbench.cli.circuit import Texts, read_state, solved, state_name
from coldbench.cli.say import say
from coldbench.errors import InputError

if TYPE_CHECKING:
    from coldbench.electrical import Solution
    from coldbench.electrical.instruments import Reading

MODES = {"dcv": "volts, 10 megohm meter", "ohm": "resistance, dead circuits only",
         "lamp": "test lamp between the leads", "amps": "clamp around what lies between the leads",
         "drop": "volts along the path from red to black"}
BULBS = ("5W", "21W")


def command(
    circuit: Annotated[str, typer.Argument(
        help="Name of a shipped circuit, or a circuit file ending in .toml.")],
    red: Annotated[str, typer.Option(help="Red lead: test point number or terminal.")],
    black: Annotated[str, typer.Option(help="Black lead: test point number or terminal.")],
    mode: Annotated[str, typer.Option(
        help="; ".join(f"{mode}: {words}" for mode, words in MODES.items()) + ".")] = "dcv",
    state: Annotated[str | None, typer.Option(
        help='Name of a state, or inputs like "low_request=true"; the first state of the '
             "file if left out.")] = None,
    after: Annotated[Texts, typer.Option(
        help="A state the circuit was in before; may be given several times, in order.")] = None,
    fault: Annotated[Texts, typer.Option(
        help="PART:MODE or PART:MODE=VALUE; may be given several times.")] = None,
    bulb: Annotated[str, typer.Option(help="Bulb of the test lamp: 5W or 21W.")] = "5W",
    power_off: Annotated[bool, typer.Option(
        "--power-off", help="Ohmmeter: disconnect the battery first.")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Write JSON.")] = False,
) -> None:
    """Measure between two test points, as an instrument of the workshop would."""
    from coldbench.electrical import load_circuit

    check_options(mode, bulb, power_off)
    loaded = load_circuit(circuit)
    read_state(loaded, state)
    solution = solved(loaded, state, after or [], fault or [])
    reading = measured(solution, red, black, mode, bulb, power_off)
    if as_json:
        told = {"circuit": loaded.name, "state": state_name(loaded, state), "mode": mode,
                "red": red, "black": black}
        say(json.dumps(told | reading.as_data(), allow_nan=False))
    else:
        say(reading_text(reading))


def check_options(mode: str, bulb: str, power_off: bool) -> None:
    """Refuse options that mean nothing.

    Parameters
    ----------
    mode, bulb : str
        As given.
    power_off : bool
        As given.

    Raises
    ------
    InputError
        Unknown mode or bulb; power off for an instrument that needs power.

    Examples
    --------
    >>> check_options("ohm", "5W", True)
    """
    if mode not in MODES:
        raise InputError(f"--mode: {mode!r} is unknown; {', '.join(MODES)} are accepted")
    if bulb not in BULBS:
        raise InputError(f"--bulb: {bulb!r} is unknown; {', '.join(BULBS)} are accepted")
    if power_off and mode != "ohm":
        raise InputError(f"--power-off belongs to --mode ohm; mode {mode} needs the battery")


def measured(solution: "Solution", red: str, black: str, mode: str, bulb: str,
             power_off: bool) -> "Reading":
    """Return the reading of a mode.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str
        Places.
    mode : str
        A key of `MODES`.
    bulb : str
        Bulb of the test lamp.
    power_off : bool
        Whether the battery is disconnected for the ohmmeter.

    Returns
    -------
    Reading

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> low = solve(load_circuit("three-relay-fans"), "low")
    >>> measured(low, "5", "6", "amps", "5W", False).shown
    '6.3 A'
    """
    from coldbench.electrical import instruments

    if mode == "dcv":
        return instruments.voltmeter(solution, red, black)
    if mode == "drop":
        return instruments.drop(solution, red, black)
    if mode == "lamp":
        return instruments.lamp(solution, red, black, bulb)
    if mode == "amps":
        return instruments.clamp_between(solution, red, black)
    return _ohms(solution, red, black, "disconnected" if power_off else "connected")


def _ohms(solution: "Solution", red: str, black: str, battery: str) -> "Reading":
    from coldbench.electrical.instruments import Refusal, ohmmeter

    try:
        return ohmmeter(solution, red, black, battery)
    except Refusal as refusal:
        raise Refusal(f"{refusal} (--power-off)") from None


def reading_text(reading: "Reading") -> str:
    """Return a reading for people.

    Parameters
    ----------
    reading : Reading
        What the instrument shows.

    Returns
    -------
    str
        One or two lines.

    Examples
    --------
    >>> from coldbench.electrical.instruments import Reading
    >>> print(reading_text(Reading("Voltmeter", 6.72, "V", "6.72 V", 0.05, note="Steady.")))
    Voltmeter: 6.72 V (± 0.05 V)
    Steady.
    """
    first = f"{reading.instrument}: {reading.shown}"
    if not (reading.floating or reading.overload):
        first += f" (± {reading.uncertainty:.1g} {reading.unit})"
    return f"{first}\n{reading.note}" if reading.note else first
