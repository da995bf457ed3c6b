"""Test lamp: a bulb with its leads, really put into the circuit, which is then solved again."""

from dataclasses import replace

from coldbench.electrical.circuit import Circuit, Part, Wire
from coldbench.electrical.instruments.case import flat_inputs
from coldbench.electrical.instruments.data import bulb as bulb_ratings
from coldbench.electrical.instruments.data import instrument
from coldbench.electrical.instruments.reading import Reading, read_display, rounded_text
from coldbench.electrical.kinds import KINDS
from coldbench.electrical.solution import Solution
from coldbench.electrical.solver import solve

Place = str | int
LAMP = "TEST_LAMP"
LEAD_MM2, LEAD_M, CLIP_OHM = 0.75, 1.0, 0.005  # common practice


def lamp(solution: Solution, red: Place, black: Place, bulb: str = "5W") -> Reading:
    """Return what a test lamp between two points does.

    Parameters
    ----------
    solution : Solution
        Solved circuit; its relays, faults and settings stay.
    red, black : str or int
        Test-point numbers or nodes.
    bulb : str
        "5W" or "21W", 12 V.

    Returns
    -------
    Reading
        value: voltage across the bulb [V], with the circuit loaded by it; the note says
        bright, dim or dark and what it draws.

    Raises
    ------
    InputError
        Unknown place or bulb.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> off = solve(load_circuit("three-relay-fans"), "off")
    >>> lamp(off, "K1.30", "B.minus").note
    'The lamp is bright: 0.45 A.'
    >>> lamp(off, "K1.87", "B.minus").note
    'The lamp is dark: 0.00 A.'
    """
    loaded = with_lamp(solution, red, black, bulb)
    value = loaded.voltage(f"{LAMP}.a") - loaded.voltage(f"{LAMP}.b")
    amps = loaded.currents[LAMP]
    note = f"The lamp is {brightness(value * amps, bulb)}: {rounded_text(abs(amps), 0.01)} A."
    changed = [relay for relay, position in loaded.relays.items()
               if position != solution.relays[relay]]
    if changed:
        note += f" Its current moves {', '.join(changed)}."
    return read_display(instrument("lamp"), value, note)


def with_lamp(solution: Solution, red: Place, black: Place, bulb: str = "5W") -> Solution:
    """Return the circuit solved again with the test lamp in it.

    Parameters
    ----------
    solution, red, black, bulb
        As in `lamp`.

    Returns
    -------
    Solution
        Relays start where they were.

    Examples
    --------
    >>> from coldbench.electrical import load_circuit, solve
    >>> off = solve(load_circuit("three-relay-fans"), "off")
    >>> round(with_lamp(off, 3, 2).voltage("TEST_LAMP.a"), 2)
    13.79
    """
    circuit = solution.circuit
    ends = circuit.node(red), circuit.node(black)
    key = ("test lamp", *ends, bulb)
    if key not in circuit.memory:
        circuit.memory[key] = lamp_circuit(circuit, *ends, bulb)
    return solve(circuit.memory[key], solution.settings, solution.effect.faults,
                 previous=solution, inputs=flat_inputs(solution))


def lamp_circuit(circuit: Circuit, red: str, black: str, bulb: str) -> Circuit:
    """Return a circuit with a test lamp and its two leads between two nodes.

    Parameters
    ----------
    circuit : Circuit
        Stays as it is.
    red, black : str
        Nodes.
    bulb : str
        "5W" or "21W".

    Returns
    -------
    Circuit

    Examples
    --------
    >>> from coldbench.electrical import load_circuit
    >>> "TEST_LAMP" in lamp_circuit(load_circuit("clutch"), "CL.a", "CL.b", "21W").parts
    True
    """
    volts, watts = bulb_ratings(bulb)
    defaults = {key: rule.default for key, rule in KINDS["lamp"].parameters.items()}
    part = Part(LAMP, "lamp", "Test lamp",
                defaults | {"rated_V": volts, "rated_W": watts})
    leads = [Wire(f"{LAMP}_{name}", None, node, f"{LAMP}.{end}", LEAD_MM2, LEAD_M, CLIP_OHM)
             for name, node, end in (("red", red, "a"), ("black", black, "b"))]
    return replace(circuit, parts=circuit.parts | {LAMP: part}, memory={},
                   wires=circuit.wires | {lead.id: lead for lead in leads})


def brightness(watts: float, bulb: str) -> str:
    """Return how a bulb looks at a power.

    Parameters
    ----------
    watts : float
        Power it takes [W].
    bulb : str
        "5W" or "21W".

    Returns
    -------
    str
        bright, dim or dark.

    Examples
    --------
    >>> brightness(5.2, "5W"), brightness(1.0, "5W"), brightness(0.1, "5W")
    ('bright', 'dim', 'dark')
    """
    extra, share = instrument("lamp").extra, watts / bulb_ratings(bulb)[1]
    if share < extra["dark_share"]:
        return "dark"
    return "dim" if share < extra["dim_share"] else "bright"
