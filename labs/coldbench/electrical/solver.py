"""Solve a circuit: one case, a sequence of states, or many cases at once.

Ground is at 0 V; every other node has 1 TΩ to it. Inputs left out are off. Without a previous
solution all relays start released.
"""

from collections.abc import Iterable, Sequence

import numpy as np

from coldbench.electrical.branches import circuit_branches, part_branches
from coldbench.electrical.circuit import Circuit
from coldbench.electrical.faults import Effect, effect_of
from coldbench.electrical.loader import check_parameter
from coldbench.electrical.network import Network, System, network_of
from coldbench.electrical.relays import settle
from coldbench.electrical.solution import Solution
from coldbench.errors import InputError

_KEPT_STATES = 64


def solve(circuit: Circuit, settings, faults: Iterable = (), previous: Solution | None = None,
          inputs: dict[str, float] | None = None, after_fuses: bool = False) -> Solution:
    """The operating point of a circuit.

    Parameters: settings, a state's name or {input: true, false or duty}; faults, `Fault`s or
    texts; previous, the solution before, whose relay positions are the start; inputs,
    {"part.parameter": value} in place of the file's values (SI); after_fuses, solve again with
    the fuse blown that opens first under its load, until none does.
    Returns: Solution.
    Raises: InputError for what the circuit does not have; ConvergenceError.

    >>> from coldbench.electrical import load_circuit
    >>> low = solve(load_circuit("three-relay-fans"), "low")
    >>> round(low.currents["M1"], 1), low.relays["K1"], low.relays["K3"]
    (6.3, 'energised', 'released')
    """
    case = Case(circuit, settings, faults, previous, inputs)
    solution = _solve_case(case)
    while after_fuses and (fuse := solution.opens_first):
        case = Case(circuit, settings, (*case.effect.faults, f"{fuse}:blown"), solution, inputs)
        solution = _solve_case(case)
    return solution


def solve_sequence(circuit: Circuit, states: Sequence, faults: Iterable = (),
                   inputs: dict[str, float] | None = None) -> list[Solution]:
    """Solutions of states one after the other, each starting from the relays of the last.

    >>> from coldbench.electrical import load_circuit
    >>> [s.relays["K2"] for s in solve_sequence(load_circuit("three-relay-fans"),
    ...                                         ["off", "high", "off"])]
    ['released', 'energised', 'released']
    """
    found: list[Solution] = []
    faults = tuple(faults)
    for state in states:
        found.append(solve(circuit, state, faults, found[-1] if found else None, inputs))
    return found


class Case:
    """One case, checked: settings, inputs by part, effect of the faults, relays before."""

    def __init__(self, circuit: Circuit, settings, faults=(), previous=None, inputs=None) -> None:
        self.circuit = circuit
        self.settings = circuit.settings(settings)
        self.inputs = check_inputs(circuit, inputs or {})
        self.effect = effect_of(circuit, faults, self.settings, self.inputs)
        self.previous = previous

    def values(self, network: Network) -> list[tuple[float, ...]]:
        """Values of every branch of a network; extra branches the case has not are 0."""
        values = _healthy_values(self.circuit, network, self.settings, self.inputs)
        for part, branches in self.effect.branches.items():
            for n, branch in zip(network.places[part], branches, strict=False):
                values[n] = branch.values
        own = {(b.part, b.name, b.a, b.b): b.values for b in self.effect.extra}
        return values + [own.get((b.part, b.name, b.a, b.b), (0.0, 0.0))
                         for b in network.branches[len(values):]]


def start_positions(network: Network, previous: Solution | None) -> np.ndarray:
    """Armatures energised before [relays]; none without a previous solution."""
    before = previous.energised if previous else {}
    return np.array([before.get(relay, False) for relay in network.coils], dtype=bool)


def start_across(network: Network, previous: Solution | None) -> list | None:
    """Voltages across the curved branches before [V]; None without a solution of that network.

    The voltages do not depend on where Newton's method starts, only the way there does.
    """
    if previous is None or previous.network is not network:
        return None
    return [previous.across(n) for n in network.bent]


def check_inputs(circuit: Circuit, inputs: dict[str, float]) -> dict[str, dict]:
    """{"part.parameter": value} as part → parameters. Raises: InputError."""
    found: dict[str, dict] = {}
    for name, value in inputs.items():
        part, _, key = name.partition(".")
        if part not in circuit.parts:
            raise InputError(f"{circuit.name}: input {name!r}: there is no part {part!r}")
        rules = circuit.parts[part].definition.parameters
        rule = rules.get(key)
        if rule is None or rule.internal or rule.choices:
            known = ", ".join(k for k, r in rules.items() if not r.internal and not r.choices)
            raise InputError(f"{circuit.name}: input {name!r}: {part} has {known}")
        found.setdefault(part, {})[key] = check_parameter(key, value, rule,
                                                          f"{circuit.name}: input {name}")
    return found


def _healthy_values(circuit: Circuit, network: Network, settings: dict, inputs: dict) -> list:
    """Values of every branch without faults: those of the file, but for parts that are driven."""
    kept = circuit.memory.setdefault("values", {})
    key = tuple(settings.items())
    if key not in kept:
        if len(kept) >= _KEPT_STATES:
            kept.clear()
        driven = [part.id for part in circuit.parts.values() if part.input in settings]
        kept[key] = tuple(_overlaid(circuit, network, _values_at_rest(circuit), driven, settings,
                                    {}))
    return _overlaid(circuit, network, kept[key], inputs, settings, inputs)


def _values_at_rest(circuit: Circuit) -> tuple:
    """Values of every branch with nothing driven, worked out once."""
    if "values at rest" not in circuit.memory:
        table = circuit_branches(circuit, {}, {})
        circuit.memory["values at rest"] = tuple(
            branch.values for group in table.values() for branch in group)
    return circuit.memory["values at rest"]


def _overlaid(circuit: Circuit, network: Network, values: tuple, parts: Iterable, settings: dict,
              inputs: dict) -> list:
    """Values with those of some parts worked out anew."""
    found = list(values)
    for name in parts:
        part = circuit.parts[name]
        branches = part_branches(part, part.parameters | inputs.get(name, {}),
                                 settings.get(part.input))
        for n, branch in zip(network.places[name], branches, strict=False):
            found[n] = branch.values
    return found


def relay_thresholds(circuit: Circuit, effect: Effect, network: Network) -> tuple[list, list]:
    """Coil currents at which each relay operates and releases [A]; endless if it cannot pull.

    The levels stay those of the healthy coil: what acts is the current, whatever its circuit.
    """
    operate, release = [], []
    for relay in network.coils:
        own = circuit.parts[relay].parameters
        pulls = effect.parameters.get(relay, {}).get("pull", 1.0)
        for levels, key in ((operate, "operate_V"), (release, "release_V")):
            levels.append(own[key] / own["coil_ohm"] if pulls else float("inf"))
    return operate, release


def welded_relays(effect: Effect, network: Network) -> list[bool]:
    """For each relay, whether a fault keeps its contacts in the operated position."""
    return [effect.parameters.get(relay, {}).get("welded", 0.0) > 0.0 for relay in network.coils]


def _solve_case(case: Case) -> Solution:
    """Solve one case."""
    network = network_of(case.circuit, case.effect.extra)
    values = case.values(network)
    system = System(
        network, [own[0] for own in values], [own[1] for own in values],
        {law: np.array([values[n] for n in places]).T
         for law, places in network.curved.items()},
        *map(np.array, relay_thresholds(case.circuit, case.effect, network)),
        np.array(welded_relays(case.effect, network), dtype=bool))
    volts, energised, buzzing = settle(system, start_positions(network, case.previous),
                                       start_across(network, case.previous))
    return make_solution(case, network, values, volts.tolist(), energised, buzzing,
                         system.welded)


def make_solution(case: Case, network: Network, values: list, volts: list, energised, buzzing,
                  welded) -> Solution:
    """The solution of a case from the numbers of its network."""
    relays = list(network.coils)
    for n, relay, when_released in network.switched:
        if (energised[relay] or welded[relay]) == when_released:
            values[n] = (0.0, 0.0)
    return Solution(
        case.circuit, case.settings, case.inputs, case.effect, network, tuple(volts),
        tuple(values), dict(zip(relays, map(bool, energised), strict=True)),
        frozenset(relay for relay, buzz in zip(relays, buzzing, strict=True) if buzz))
