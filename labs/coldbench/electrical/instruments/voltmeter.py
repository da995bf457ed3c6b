"""Voltmeter: a real one, that loads the circuit with 10 MΩ and wanders where nothing drives it."""

from coldbench.electrical.instruments.clamp import path_between
from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.reading import Reading, read_display, rounded_text
from coldbench.electrical.solution import Solution

Place = str | int


def voltmeter(solution: Solution, red: Place, black: Place) -> Reading:
    """Return the voltage from the black to the red lead.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str or int
        Test-point numbers or nodes.

    Returns
    -------
    Reading
        value = V_oc·R_m/(R_m + R_th) [V]. Floating where R_th > 1 MΩ: shown in words, never
        as 0.000.

    Raises
    ------
    InputError
        Unknown place.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> fans = solve(load_circuit("three-relay-fans"), "low")
    >>> voltmeter(fans, "M1.plus", "M1.minus").shown
    '6.77 V'
    >>> voltmeter(solve(fans.circuit, "low", ["W14:open"]), "K2.87", "B.minus").shown
    'unsteady, a few millivolts: nothing drives this point'
    """
    meter = instrument("voltmeter")
    open_V, source_ohm = solution.thevenin(red, black)
    value = loaded_voltage(open_V, source_ohm, meter.extra["resistance_ohm"])
    shown = read_display(meter, value)
    if source_ohm <= meter.extra["floating_ohm"]:
        return shown
    return Reading(meter.title, value, meter.unit, _wandering(value), abs(value) + 0.1,
                   floating=True, note="The reading wanders: nothing drives this point. "
                   "Load it with a test lamp before you believe it.")


def _wandering(value: float) -> str:
    if abs(value) < 0.05:
        return "unsteady, a few millivolts: nothing drives this point"
    return f"unsteady, about {rounded_text(value, 0.1)} V: nothing drives this point"


def loaded_voltage(open_V: float, source_ohm: float, meter_ohm: float) -> float:
    """Return what a meter of a given resistance leaves of an open-circuit voltage.

    V = V_oc·R_m/(R_m + R_th)

    Parameters
    ----------
    open_V : float
        Open-circuit voltage V_oc [V].
    source_ohm, meter_ohm : float
        Source resistance R_th and meter resistance R_m [Ω].

    Returns
    -------
    float
        Voltage across the meter [V].

    Examples
    --------
    >>> loaded_voltage(12.0, 5e6, 10e6)
    8.0
    """
    return open_V / (1.0 + source_ohm / meter_ohm)


def drop(solution: Solution, red: Place, black: Place) -> Reading:
    """Return the voltage drop between two points, with what lies between them.

    Parameters
    ----------
    solution : Solution
        Solved circuit, with its current flowing.
    red, black : str or int
        Test-point numbers or nodes; red on the side of the supply.

    Returns
    -------
    Reading
        As `voltmeter`; the note names wires and parts between the leads and their current,
        where only one way leads from one to the other.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> fans = solve(load_circuit("three-relay-fans"), "low")
    >>> reading = drop(fans, "K1.87", "M1.plus")
    >>> reading.shown, reading.note
    ('0.0313 V', 'Across W9: 6.3 A.')
    """
    reading = voltmeter(solution, red, black)
    found = path_between(solution, red, black)
    if reading.floating or found is None:
        return reading
    names, amps = found
    note = f"Across {', '.join(names)}: {rounded_text(amps, 0.1)} A."
    return Reading(reading.instrument, reading.value, reading.unit, reading.shown,
                   reading.uncertainty, overload=reading.overload, note=note)
