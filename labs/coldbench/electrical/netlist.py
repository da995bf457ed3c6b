"""The same case as a SPICE deck, to be solved by another program.

Nodes keep their names ("K1.30"; SPICE takes no notice of case), and ground is tied to node 0 by
a source of 0 V. Relays stand in their solved positions. Curved laws are behavioural current
sources written from the laws' own formulas and constants (see `laws`); SPICE starts at a
limited regulator's solved voltage, since it can swing between the two limits for ever. The deck
runs an operating point in batch mode and prints all voltages with 15 digits.
"""

from collections.abc import Callable, Iterable

from coldbench.electrical.branches import Branch
from coldbench.electrical.circuit import Circuit
from coldbench.electrical.laws import LIMIT_SLOPE
from coldbench.electrical.network import LEAK
from coldbench.electrical.solution import Solution
from coldbench.electrical.solver import solve

# SPICE stops when voltages change by less than this between two iterations. At floating nodes
# rounding alone (1e-13 A through 1 TOhm) moves them by more than a tight limit allows.
TIGHT = ".options reltol=1e-6 vntol=1e-6 abstol=1e-9 itl1=1000"
LOOSE = ".options reltol=1e-3 vntol=1e-2 abstol=1e-9 itl1=1000"
FLOATING_OHM = 1e6
_PAIRS = ("pwm_driver", "ratio_output")  # kinds whose output shares the supply's current


def netlist(circuit: Circuit, settings, faults: Iterable = (), previous: Solution | None = None,
            inputs: dict[str, float] | None = None) -> str:
    """A SPICE deck of one case, arguments as in `solve`.

    Raises: InputError, ConvergenceError as `solve` does.

    >>> from coldbench.electrical import load_circuit
    >>> deck = netlist(load_circuit("three-relay-fans"), "low")
    >>> ".op" in deck and "M1.plus" in deck
    True
    """
    return deck_of(solve(circuit, settings, faults, previous, inputs))


def deck_of(solution: Solution) -> str:
    """The SPICE deck of a solved case."""
    return "\n".join([*_heading(solution), *element_lines(solution), _options(solution), ".op", ".control",
                      "set numdgt=15", "op", "print all", ".endc", ".end", ""])


def _options(solution: Solution) -> str:
    """Stopping rule: loose if a curved branch hangs on a floating node."""
    ohms, branches = solution.source_ohms, solution.network.branches
    ends = (node for n in solution.network.bent for node in (branches[n].a, branches[n].b))
    return LOOSE if any(ohms[node] > FLOATING_OHM for node in ends) else TIGHT


def _heading(solution: Solution) -> list[str]:
    circuit = solution.circuit
    settings = ", ".join(f"{name}={value}" for name, value in solution.settings.items())
    lines = [f"* {circuit.name}: {circuit.title}", f"* settings: {settings or 'none'}"]
    lines += [f"* fault {words}" for words in solution.effect.words]
    lines += [f"* relay {relay} {state}" for relay, state in solution.relays.items()]
    return [line.encode("ascii", "replace").decode() for line in lines]


def element_lines(solution: Solution) -> list[str]:
    """Lines of all elements: branches, leaks, and the tie of ground to node 0."""
    lines = [f"Vground {solution.circuit.ground} 0 0"]
    shared: dict[str, list] = {}
    for branch, values in zip(solution.network.branches, solution.values, strict=True):
        part = solution.circuit.parts.get(branch.part)
        if part and part.kind in _PAIRS and branch.name in ("", "low", "across"):
            shared.setdefault(part.id, []).append((branch, values))
        elif branch.law == "linear":
            lines += _linear_lines(branch, values)
        else:
            lines.append(_curved_line(branch, values))
    for part, pair in shared.items():
        lines += _shared_lines(part, pair)
    lines += [f".nodeset V({node})={number(solution.voltages[node])}"
              for branch in solution.network.branches if branch.law == "regulator"
              for node in (branch.a, branch.b)]
    lines += [f"Rfloat{n} {node} 0 {number(1.0 / LEAK)}"
              for n, node in enumerate(solution.network.nodes)]
    return lines


def number(value: float) -> str:
    """A number with all its digits, for SPICE."""
    return f"{float(value):.17g}"


def _name(branch: Branch) -> str:
    return branch.key.replace(".", "_")


def _linear_lines(branch: Branch, values: tuple) -> list[str]:
    siemens, emf = values
    if not siemens:
        return [f"* {branch.key} does not conduct"]
    ohm = number(1.0 / siemens)
    if not emf:
        return [f"R{_name(branch)} {branch.a} {branch.b} {ohm}"]
    inner = f"{branch.key}.emf"
    return [f"V{_name(branch)} {inner} {branch.b} {number(emf)}",
            f"R{_name(branch)} {branch.a} {inner} {ohm}"]


def _shared_lines(part: str, pair: list) -> list[str]:
    """Output at a share of the supply: i = (D·v_supply + (1 − D)·v_ground − v_out)/R."""
    (high, (high_S, _)), (low, (low_S, _)) = pair[:2]
    total = high_S + low_S
    if not total:
        return [f"* {part} does not conduct"]
    share = high_S / total
    output = (f"({number(share)}*V({high.a})+{number(1.0 - share)}*V({low.a})-V({high.b}))"
              f"*{number(total)}")
    return [f"B{part}_high {high.a} {high.b} I={number(share)}*{output}",
            f"B{part}_low {low.a} {low.b} I={number(1.0 - share)}*{output}"]


def _curved_line(branch: Branch, values: tuple) -> str:
    gate, shunt, *own = values
    volts = f"V({branch.a},{branch.b})"
    terms = [_EXPRESSIONS[branch.law](volts, *own)] if gate else []
    terms += [f"{number(shunt)}*{volts}"] if shunt else []
    if not terms:
        return f"* {branch.key} does not conduct"
    return f"B{_name(branch)} {branch.a} {branch.b} I={'+'.join(terms)}"


def _diode(v: str, saturation: float, slope_V: float, straight_V: float) -> str:
    curve = f"exp(min({v},{number(straight_V)})/{number(slope_V)})"
    rest = f"max({v}-{number(straight_V)},0)/{number(slope_V)}"
    return f"{number(saturation)}*({curve}*(1+{rest})-1)"


def _lamp(v: str, cold_squared: float, rise: float) -> str:
    return f"{v}/sqrt({number(cold_squared)}+{number(rise)}*abs({v}))"


def _motor(v: str, winding: float, k: float, friction: float, viscous: float,
           drag: float) -> str:
    if not k:
        return f"{v}/{number(winding)}"
    surplus = f"max(abs({v})-{number(winding * friction / k)},0)"
    b = k + winding * viscous / k
    root = f"sqrt({number(b * b)}+{number(4.0 * drag * winding / k)}*{surplus})"
    speed = f"sgn({v})*2*{surplus}/({number(b)}+{root})"
    return f"({v}-{number(k)}*{speed})/{number(winding)}"


def _regulator(v: str, emf: float, resistance: float, source_A: float, sink_A: float) -> str:
    over = f"({v}-{number(emf)})"
    limited = f"min(max({over}/{number(resistance)},{number(-source_A)}),{number(sink_A)})"
    return f"{limited}+{number(LIMIT_SLOPE)}*{over}"


def _photo(v: str, light_A: float, shunt_S: float, saturation: float, slope_V: float,
           straight_V: float) -> str:
    forward = _diode(f"(0-{v})", saturation, slope_V, straight_V)
    return f"{number(light_A)}+{number(shunt_S)}*{v}-{forward}"


_EXPRESSIONS: dict[str, Callable[..., str]] = {
    "diode": _diode, "lamp": _lamp, "motor": _motor, "regulator": _regulator, "photo": _photo,
}
