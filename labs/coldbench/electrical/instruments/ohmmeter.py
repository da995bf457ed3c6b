"""Ohmmeter: for dead circuits only; what else lies between the leads is measured too.

The test voltage is small: motors stand still, filaments are cold and diodes do not conduct.
"""

from coldbench.electrical.instruments.case import power_off
from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.reading import Reading, Refusal, read_display
from coldbench.electrical.solution import Solution

Place = str | int
CAUTION = ("the circuit is live, {volts:.2f} V at {place}; an ohmmeter on a live circuit gives a "
           "wrong number and may be damaged, so disconnect the battery first")


def ohmmeter(solution: Solution, red: Place, black: Place,
             battery: str = "connected") -> Reading:
    """Return the resistance between two points.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str or int
        Test-point numbers or nodes.
    battery : str
        "connected": measured as the circuit stands, refused where a lead is live;
        "disconnected": supplies off, drivers off, relays released.

    Returns
    -------
    Reading
        Resistance [Ω] of everything between the leads; "OL" beyond 50 MΩ.

    Raises
    ------
    Refusal
        A lead touches a live point.
    InputError
        Unknown place.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> off = solve(load_circuit("three-relay-fans"), "off")
    >>> ohmmeter(off, "M1.plus", "M1.minus").shown
    '0.2 Ω'
    >>> ohmmeter(off, "K1.86", "K1.85", battery="disconnected").shown
    '77.9 Ω'
    """
    if battery == "disconnected":
        solution = power_off(solution)
    else:
        refuse_if_live(solution, red, black)
    return resistance(solution, red, black)


def resistance(dead: Solution, red: Place, black: Place) -> Reading:
    """Return what the ohmmeter shows at a circuit whose battery is off.

    Parameters
    ----------
    dead : Solution
        From `power_off`, or anything that has its `thevenin`.
    red, black : str or int
        Test-point numbers or nodes.

    Returns
    -------
    Reading
        As `ohmmeter`.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> from coldbench.electrical.instruments.case import power_off
    >>> resistance(power_off(solve(load_circuit("clutch"), "off")), "CL.a", "CL.b").shown
    '3.6 Ω'
    """
    meter = instrument("ohmmeter")
    return read_display(meter, dead.thevenin(red, black)[1] + meter.extra["lead_ohm"])


def refuse_if_live(solution: Solution, red: Place, black: Place) -> None:
    """Raise a `Refusal` where a lead of the ohmmeter would touch a live point.

    Parameters
    ----------
    solution : Solution
        Solved circuit.
    red, black : str or int
        Test-point numbers or nodes.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> refuse_if_live(solve(load_circuit("three-relay-fans"), "low"), 13, 14)
    ... # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    coldbench.electrical.instruments.reading.Refusal: the circuit is live, 0.05 V at 13; ...
    """
    limit = instrument("ohmmeter").extra["live_V"]
    for place in (red, black):
        if abs(solution.voltage(place)) > limit:
            raise Refusal(CAUTION.format(volts=solution.voltage(place), place=place))
